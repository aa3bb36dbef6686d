"""The other ways that a source's liquid may take."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import shapely
from shapely import Geometry, LineString, Point
from shapely.ops import nearest_points, substring

from pathways.features import Source
from pathways.terrain.drains import Opening
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Leg
from pathways.terrain.way import Way, ended_by, follow

StartKind = Literal["point", "lowest_edge", "nearest_water", "door"]


@dataclass(frozen=True)
class Start:
    """Where a source's liquid begins its way."""

    kind: StartKind
    place: Point


@dataclass(frozen=True)
class Other:
    """Another way, and why liquid may take it."""

    why: str
    way: Way
    top: bool = False
    by_land_drain: bool = False


def other_ways(terrain: Terrain, source: Source, start: Start, way: Way) -> list[Other]:
    """Return the other ways that liquid may take."""
    others = [*_by_openings_beside(terrain, source, start, way)]
    if way.taken:
        past = follow(terrain, start.place, volume_l=source.volume_l, past_drains=True)
        names = ", ".join(terrain.drains.openings[one].id for one in way.taken)
        others.append(Other(f"past {names}: blocked, frozen or overwhelmed", past))
    if way.overtops_at_m is not None:
        over = follow(terrain, start.place, volume_l=source.volume_l, over_walls=True)
        others.append(Other("over the wall that shuts it in", over))
    if way.observed:
        grid_only = follow(
            terrain, start.place, volume_l=source.volume_l, as_seen=False
        )
        others.append(Other("what the grid alone suggests; overruled", grid_only))
    others += _by_land_drains_on_the_way(terrain, source, way)
    others += _by_well_heads(terrain, way)
    return others


def ground_of(way: Way, start: Start) -> Geometry:
    """Return where a way runs over the ground, the start included."""
    lines = [leg.line for leg in way.legs if leg.kind in ("surface", "observed")]
    return shapely.union_all([start.place, *lines])


def ways_into_unknown_drains(
    terrain: Terrain, shape: Geometry, start: Start, way: Way
) -> tuple[Way, ...]:
    """Return the ways into openings of unknown outlet that lie beside a way.

    Parameters
    ----------
    terrain : Terrain
        Ground and drains.
    shape : shapely.Geometry
        Place that liquid comes from.
    start : Start
        Where its way begins.
    way : Way
        The way over the ground.

    Returns
    -------
    tuple of Way
        Each ends in a drain that counts as joined to water.
    """
    source = Source(id="", kind="other", geometry=shape)
    return tuple(
        other.way
        for other in _by_openings_beside(terrain, source, start, way)
        if other.top
    )


def _by_openings_beside(
    terrain: Terrain, source: Source, start: Start, way: Way
) -> Iterator[Other]:
    """Yield the ways through openings that the way passes by but may enter."""
    ground = shapely.union_all([source.geometry, ground_of(way, start)])
    reach_m = terrain.assumed["drains", "inlet_reach_m"]
    for index, opening in enumerate(terrain.drains.openings):
        if index in way.taken:
            continue
        beside_m = opening.geometry.distance(ground)
        if beside_m > reach_m:
            continue
        taken = _into_opening(terrain, source, start, way, opening)
        why = f"{opening.id} lies {beside_m:.1f} m from the way and may take it"
        if not opening.captures:
            why += ", if it is not closed as drawn"
        elif opening.outlet_is_unknown:
            why += "; its outlet is not known"
        yield Other(why, taken, top=opening.outlet_is_unknown)


def _into_opening(
    terrain: Terrain, source: Source, start: Start, way: Way, opening: Opening
) -> Way:
    """Return the way through an opening beside another way."""
    ground = ground_of(way, start)
    leave = nearest_points(ground, opening.geometry)[0]
    legs: list[Leg] = []
    for leg in way.legs:
        if leg.kind in ("surface", "observed") and leg.line.distance(leave) == 0:
            break
        legs.append(leg)
    origin = legs[-1].line.coords[-1] if legs else start.place.coords[0]
    foot = nearest_points(leave, opening.geometry)[1]
    legs.append(Leg(kind="surface", line=LineString([origin, leave, foot])))
    lead = terrain.drains.lead_of(opening)
    legs += [
        Leg(kind="pipe" if through else "joined", line=line, through=through)
        for through, line in lead.lines
    ]
    via = (opening.id, *(one for one in lead.via if one != opening.id))
    taken = Way(legs=tuple(legs), via=via)
    ended = ended_by(terrain, taken, lead, source.volume_l)
    if ended.ends or lead.place is None:
        return ended
    return joined(ended, follow(terrain, lead.place, volume_l=source.volume_l))


def _by_land_drains_on_the_way(
    terrain: Terrain, source: Source, way: Way
) -> Iterator[Other]:
    """Yield the ways through land drains that a way crosses."""
    for number, leg in enumerate(way.legs):
        if leg.kind != "surface":
            continue
        drain = land_drain_under(terrain, leg.line)
        if drain is None or terrain.features.pipes[drain].id in way.via:
            continue
        pipe = terrain.features.pipes[drain]
        place = nearest_points(leg.line, pipe.geometry)[0]
        before = Leg(
            kind="surface",
            line=substring(leg.line, 0, leg.line.project(place)),
        )
        if isinstance(before.line, Point):
            before = Leg(kind="surface", line=LineString([before.line, before.line]))
        begun = Way(legs=(*way.legs[:number], before))
        taken = by_land_drain_from(terrain, source, begun, place, drain)
        yield Other(
            f"land drain {pipe.title} lies under the way and takes water along it",
            taken,
            by_land_drain=True,
        )


def _by_well_heads(terrain: Terrain, way: Way) -> Iterator[Other]:
    """Yield the ways into well heads that a way passes close to."""
    reach_m = max(terrain.assumed["supplies", "well_head_m"], terrain.grid.cell_size_m)
    for supply in terrain.features.water_supplies:
        for number, leg in enumerate(way.legs):
            if leg.kind == "pipe" or leg.line.distance(supply.geometry) > reach_m:
                continue
            place = leg.line.project(supply.geometry)
            before = substring(leg.line, 0, place)
            line = LineString([*before.coords, *supply.geometry.coords])
            yield Other(
                f"{supply.kind} {supply.title} lies on the way",
                Way(
                    outcome="enters_ground",
                    receptor_id=supply.id,
                    receptor_kind=supply.kind,
                    legs=(*way.legs[:number], Leg(kind="surface", line=line)),
                ),
                top=True,
            )
            break


def _corridor_m(terrain: Terrain) -> float:
    """Return half the width over which a land drain takes water [m]."""
    return max(
        terrain.assumed["drains", "land_drain_corridor_m"], terrain.grid.cell_size_m / 2
    )


def land_drain_under(terrain: Terrain, shape: Geometry) -> int | None:
    """Return the land drain under a place or line, or None."""
    for index, pipe in enumerate(terrain.features.pipes):
        if pipe.kind != "land_drain":
            continue
        if pipe.geometry.distance(shape) <= _corridor_m(terrain):
            return index
    return None


def by_land_drain_from(
    terrain: Terrain, source: Source, way: Way, place: Point, drain: int
) -> Way:
    """Go down a land drain from a place above it."""
    pipe = terrain.features.pipes[drain]
    lead = terrain.drains.lead_of_pipe(pipe, place)
    legs = tuple(
        Leg(kind="pipe" if through else "joined", line=line, through=through)
        for through, line in lead.lines
    )
    way = replace(way, legs=(*way.legs, *legs), via=(*way.via, *lead.via), ends=False)
    ended = ended_by(terrain, way, lead, source.volume_l)
    if ended.ends or lead.place is None:
        return ended
    onwards = follow(terrain, lead.place, volume_l=source.volume_l)
    return joined(ended, onwards)


def joined(first: Way, then: Way) -> Way:
    """Return two ways end to end."""
    return replace(
        then,
        legs=(*first.legs, *then.legs),
        via=(*first.via, *then.via),
        hollows=(*first.hollows, *then.hollows),
        cautions=(*first.cautions, *then.cautions),
        taken=(*first.taken, *then.taken),
        observed=(*first.observed, *then.observed),
    )
