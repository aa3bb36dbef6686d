"""Sites that nobody drew: the best places of the search area."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from pathways.features import Features
from pathways.rules import Rulebook, Use
from pathways.siting.layout import Layout, Tried, on_known_ground, try_places
from pathways.siting.quick import quick_scores
from pathways.siting.receptors import Surroundings
from pathways.siting.setbacks import LEAST_POSITION_ERROR_M, binds, concerns
from pathways.siting.site import Place
from pathways.siting.weights import Weights
from pathways.siting.whereabouts import whereabouts
from pathways.terrain.landscape import Terrain

Shapes = NDArray[Any]

_USES: Final[tuple[Use, ...]] = ("filling", "pad", "bed")
#: Zones in which no place is looked for.
_BARRED: Final = frozenset(
    {"flood_zone", "spz1", "habitat", "archaeology", "services", "other"}
)
#: How many sites are told, from how many that are measured in full, and how far apart
#: they lie at least [m].
MOST_FOUND: Final = 5
_SHORTLIST: Final = 12
_APART_M: Final = 10.0
#: Differences of coordinates are rounded to less than this [m].
_SAME_PLACE_M: Final = 1e-6


def search(
    terrain: Terrain,
    surroundings: Surroundings,
    rulebook: Rulebook,
    weights: Weights,
    layout: Layout,
) -> tuple[Place, ...]:
    """Find the best places of the search area by what can be told of all of them.

    Parameters
    ----------
    terrain : Terrain
        Ground, water and drains; its features have the search area.
    surroundings : Surroundings
        What rules ask distance to.
    rulebook : Rulebook
        With the farm's own distances.
    weights : Weights
        With the farm's own weights.
    layout : Layout
        Sizes and step.

    Returns
    -------
    tuple of Place
        The best first, at most twelve, none nearer than 10 m to another: they are to be
        measured in full. All keep every binding distance; where none does, these are
        the best of those that do not.
    """
    features = terrain.features
    if not features.search_area:
        return ()
    area = shapely.union_all([one.geometry for one in features.search_area])
    tried = try_places(area, blocked_ground(terrain), layout, hard_ground(terrain))
    if tried.pads.size:
        tried = tried.only(on_known_ground(tried, terrain.grid))
    if not tried.pads.size:
        return ()
    keeps = keeps_rules(tried, surroundings, rulebook, layout.position_error_m)
    if keeps.any():
        tried = tried.only(keeps)
    scores = quick_scores(terrain, tried, surroundings, weights)
    order = np.argsort(-scores, kind="stable")
    both = tried.both
    return tuple(
        Place(
            site_id=f"found-{number}",
            name=f"Place {number} of the search",
            existing=False,
            uses=_USES,
            footprint=both[chosen],
            ground=tried.pads[chosen],
            is_nominal=False,
            pad=tried.pads[chosen],
            bed=tried.beds[chosen],
        )
        for number, chosen in enumerate(_apart(both, order), start=1)
    )


def numbered(
    found: Sequence[Place],
    order: Sequence[str],
    features: Features,
    taken: Collection[str] = (),
) -> tuple[Place, ...]:
    """Return places that were found with ids by their order, named by where they lie.

    Parameters
    ----------
    found : sequence of Place
        From `search`.
    order : sequence of str
        Their ids, the best first; the others are left out.
    features : Features
        What they are named by.
    taken : collection of str
        Ids that something drawn bears already.

    Returns
    -------
    tuple of Place
        In that order.
    """
    by_id = {one.site_id: one for one in found}
    places = [by_id[one] for one in order]
    names = [whereabouts(one.footprint, features) for one in places]
    ids = (f"found-{number}" for number in itertools.count(1))
    free = (one for one in ids if one not in taken)
    return tuple(
        replace(
            one,
            site_id=id_,
            name=f"Place {name}"
            if name and names.count(name) == 1
            else f"Place {number} of the search",
        )
        for number, (one, name, id_) in enumerate(
            zip(places, names, free, strict=False), start=1
        )
    )


def _apart(both: Shapes, order: NDArray[np.int64]) -> Iterable[int]:
    """Yield the first few of an order that lie apart from each other."""
    chosen: list[int] = []
    for number in order:
        if chosen and shapely.distance(both[chosen], both[number]).min() < _APART_M:
            continue
        chosen.append(int(number))
        if len(chosen) == _SHORTLIST:
            break
    return chosen


def blocked_ground(terrain: Terrain, *, zones: bool = True) -> Geometry:
    """Return the ground that no pad may touch.

    Parameters
    ----------
    terrain : Terrain
        Buildings, waters, walls and tracks as drawn.
    zones : bool
        Whether ground that is drawn as barred counts; of a site that somebody drew
        there the rules say what is barred.

    Returns
    -------
    shapely.Geometry
        Buildings, walls, gullies, wells and tanks with room to walk by, water, ground
        that is drawn as barred and, as wide as a gate, tracks. Zones in which one may
        build after asking are not blocked: they warn.
    """
    features, assumed = terrain.features, terrain.assumed
    clear_m = assumed["siting", "clearance_m"]
    half_track_m = assumed["drawing", "gate_width_m"] / 2
    shapes = [one.geometry.buffer(clear_m) for one in features.buildings]
    shapes += terrain.waters
    shapes += [
        one.geometry.buffer(clear_m)
        for layer in (features.inlets, features.water_supplies, features.tanks)
        for one in layer
    ]
    if zones:
        shapes += [one.geometry for one in features.exclusions if one.kind in _BARRED]
    shapes += [
        one.geometry.buffer(clear_m) for one in features.barriers if one.kind == "wall"
    ]
    shapes += [
        one.geometry.buffer(half_track_m)
        for one in features.access
        if one.kind == "track"
    ]
    return shapely.union_all(shapes)


def hard_ground(terrain: Terrain) -> Geometry:
    """Return the hard covers, into which nobody digs a bed.

    Parameters
    ----------
    terrain : Terrain
        Covers as drawn.

    Returns
    -------
    shapely.Geometry
        Concrete and asphalt: a pad may use them.
    """
    return shapely.union_all(
        [
            one.geometry
            for one in terrain.features.surfaces
            if one.kind in ("concrete", "asphalt")
        ]
    )


def keeps_rules(
    tried: Tried, surroundings: Surroundings, rulebook: Rulebook, band_m: float
) -> NDArray[np.bool_]:
    """Return whether each place keeps every binding distance, and not only just.

    Parameters
    ----------
    tried : Tried
        Pads and beds.
    surroundings : Surroundings
        What rules ask distance to; zones bind by their own standing.
    rulebook : Rulebook
        With the farm's own distances.
    band_m : float
        How much farther than needed a place must lie, for what may be off [m].

    Returns
    -------
    ndarray of bool
        What was not drawn, or whose distance is not given, is not looked at.
    """
    both = tried.both
    keeps = np.ones(both.size, np.bool_)
    for row in rulebook.setbacks:
        if row.distance_m is None or not set(row.applies_to) & {*_USES}:
            continue
        shapes = [
            one.geometry.buffer(one.bank_allowance_m)
            if row.measured_from == "bank_top"
            else one.geometry
            for one in surroundings.receptors
            if concerns(row, one) and binds(row, one)
        ]
        if shapes:
            need_m = row.distance_m + max(LEAST_POSITION_ERROR_M, band_m)
            about = shapely.union_all(shapes)
            shapely.prepare(about)
            keeps &= ~shapely.dwithin(about, both, need_m + _SAME_PLACE_M)
    return keeps
