"""What somebody saw on the ground, which outweighs what the grid suggests."""

from __future__ import annotations

import shapely
from shapely import LineString, Point
from shapely.ops import substring

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


def dye_lead(terrain: Terrain, opening: Opening) -> Lead | None:
    """Return where dye from an opening came out, which outweighs what is drawn."""
    reach_m = terrain.observation_reach_m
    for observation in terrain.features.observations:
        if observation.kind != "dye_arrived":
            continue
        shape = observation.geometry
        poured = Point(shape.coords[0])
        by_line = shape.length > 0 and opening.geometry.distance(poured) <= reach_m
        if observation.from_id != opening.id and not by_line:
            continue
        place = Point(shape.coords[-1])
        places = (
            [*shape.coords] if shape.length > 0 else [opening.geometry.centroid, place]
        )
        line = LineString(places)
        water = terrain.water_near(place, reach_m)
        feature = None if water is None else terrain.features.watercourses[water]
        return Lead(
            ends="surface" if feature is None else "water",
            via=(),
            lines=((observation.id, line),),
            receptor_id="" if feature is None else feature.id,
            receptor_kind="" if feature is None else feature.kind,
            place=place,
        )
    return None


def dye_cautions(terrain: Terrain, opening: Opening) -> tuple[str, ...]:
    """Return what dye tests at an opening do not prove."""
    return tuple(
        f"Dye poured into {opening.id} was not seen ({one.date or 'no date given'}): "
        "that does not prove that nothing arrives."
        for one in terrain.features.observations
        if one.kind == "dye_absent" and one.from_id == opening.id
    )
