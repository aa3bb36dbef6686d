"""Which places are judged: candidates, and where filling is done already."""

from __future__ import annotations

from collections import Counter
from typing import Final

from shapely import Geometry

from pathways.errors import FeatureError
from pathways.features import Candidate, Features, Source
from pathways.rules import Use
from pathways.siting.site import Place

_CANDIDATE_USES: Final[tuple[Use, ...]] = ("filling", "pad", "bed")
_EXISTING_USES: Final[tuple[Use, ...]] = ("filling",)
_EXISTING_KINDS: Final = ("filling_point", "washdown")


def places_of(features: Features, footprint_radius_m: float) -> tuple[Place, ...]:
    """Return the places to be judged.

    A candidate drawn as a point takes a disc of ground, so that its distances hold
    whichever way a pad is turned. An existing place drawn as a point is measured from
    that point: nobody is told that they break a rule because of an assumed size.

    Parameters
    ----------
    features : Features
        Candidates and sources count.
    footprint_radius_m : float
        Radius of that disc [m].

    Returns
    -------
    tuple of Place
        Candidates first, each with an id of its own.

    Raises
    ------
    FeatureError
        If two of them share an id.
    """
    places = [_candidate(one, footprint_radius_m) for one in features.candidates]
    places += [
        _existing(one, footprint_radius_m)
        for one in features.sources
        if one.kind in _EXISTING_KINDS
    ]
    for site_id, times in Counter(place.site_id for place in places).items():
        if times > 1:
            msg = (
                f"{times} candidates or filling and washdown sources share the id "
                f"{site_id!r}; give each its own, so that results can name it"
            )
            raise FeatureError(msg)
    return tuple(places)


def _candidate(candidate: Candidate, radius_m: float) -> Place:
    ground = _ground(candidate.geometry, radius_m)
    return Place(
        site_id=candidate.id,
        name=candidate.title,
        existing=False,
        uses=_CANDIDATE_USES,
        footprint=ground,
        ground=ground,
        is_nominal=ground is not candidate.geometry,
        depth_to_water_m=candidate.depth_to_water_m,
    )


def _existing(source: Source, radius_m: float) -> Place:
    ground = _ground(source.geometry, radius_m)
    return Place(
        site_id=source.id,
        name=source.title,
        existing=True,
        uses=_EXISTING_USES,
        footprint=source.geometry,
        ground=ground,
        is_nominal=ground is not source.geometry,
    )


def _ground(geometry: Geometry, radius_m: float) -> Geometry:
    return geometry.buffer(radius_m) if geometry.area == 0 else geometry
