"""What somebody saw on the ground, which outweighs what the grid suggests."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, Point
from shapely.ops import substring

from pathways.features import Observation
from pathways.terrain.drains import Lead, Opening
from pathways.terrain.landscape import Terrain


def meeting(
    terrain: Terrain, line: LineString, seen: set[int]
) -> tuple[int, float, float] | None:
    """Return the first observed line that a way meets: which, where on each [m]."""
    reach_m = terrain.observation_reach_m
    best: tuple[float, int, float] | None = None
    for index, observation in enumerate(terrain.features.observations):
        if index in seen or observation.kind != "flow_seen":
            continue
        observed = observation.geometry
        if not isinstance(observed, LineString):
            continue
        near = line.intersection(observed.buffer(reach_m))
        if near.is_empty:
            continue
        at = min(line.project(Point(one)) for one in shapely.get_coordinates(near))
        along = observed.project(line.interpolate(at))
        foot = observed.interpolate(along)
        if terrain.barriers.part(line.interpolate(at), foot):
            continue  # seen on the other side of a wall or kerb
        if along >= observed.length - reach_m or _agrees(
            line, observed, along, reach_m
        ):
            continue
        if best is None or at < best[0]:
            best = (at, index, along)
    return None if best is None else (best[1], best[0], best[2])


def _agrees(
    line: LineString, observed: LineString, along: float, reach_m: float
) -> bool:
    """Whether a way keeps to an observed line from where it meets it to its end."""
    rest = substring(observed, along, observed.length)
    return bool(
        shapely.covered_by(shapely.segmentize(rest, reach_m), line.buffer(reach_m))
    )


def dye_lead(terrain: Terrain, opening: Opening, entered: Point) -> Lead | None:
    """Return where dye from an opening came out, which outweighs what is drawn.

    Parameters
    ----------
    terrain : Terrain
        What was seen, and the waters.
    opening : Opening
        Where dye was poured.
    entered : shapely.Point
        Where liquid enters it.

    Returns
    -------
    Lead or None
        Ends in water where dye came out at water, culverted or not; else on the ground.
    """
    reach_m = terrain.observation_reach_m
    found: Lead | None = None
    for observation in terrain.features.observations:
        if observation.kind != "dye_arrived":
            continue
        if _poured_into(terrain, observation) != opening.id:
            continue
        shape = observation.geometry
        place = Point(shape.coords[-1])
        rest = [*shape.coords] if shape.length > 0 else [place]
        line = LineString([entered, *rest])
        water = terrain.water_near(place, reach_m, culverted=True)
        feature = None if water is None else terrain.features.watercourses[water]
        lead = Lead(
            ends="surface" if feature is None else "water",
            via=(),
            lines=((observation.id, line),),
            receptor_id="" if feature is None else feature.id,
            receptor_kind="" if feature is None else feature.kind,
            place=place,
        )
        if feature is not None:
            return lead
        found = found or lead
    return found


def _poured_into(terrain: Terrain, observation: Observation) -> str | None:
    """Return the id of what dye was poured into: as said, else the nearest opening."""
    if observation.from_id is not None:
        return observation.from_id
    if not observation.geometry.length > 0:
        return None
    poured = Point(observation.geometry.coords[0])
    near = [(one.geometry.distance(poured), one.id) for one in terrain.drains.openings]
    distance_m, nearest = min(near, default=(np.inf, ""))
    return nearest if distance_m <= terrain.observation_reach_m else None


def dye_cautions(terrain: Terrain, opening: Opening) -> tuple[str, ...]:
    """Return what dye tests at an opening do not prove."""
    told = []
    for one in terrain.features.observations:
        if one.kind not in ("dye_absent", "dye_arrived"):
            continue
        if _poured_into(terrain, one) != opening.id:
            continue
        when = one.date or "no date given"
        if one.kind == "dye_absent":
            told.append(
                f"Dye poured into {opening.id} was not seen ({when}): that does not "
                "prove that nothing arrives."
            )
        else:
            told.append(
                f"Dye poured into {opening.id} was seen to come out ({when}): that "
                "overrules the drain as it is drawn."
            )
    return tuple(told)
