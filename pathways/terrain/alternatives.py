"""The other ways that a source's liquid may take."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import shapely
from shapely import Geometry, LineString, Point
from shapely.ops import nearest_points, substring

from pathways.features import Source
from pathways.terrain.drains import Opening
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Leg
from pathways.terrain.seen import dye_lead
from pathways.terrain.surface import open_cell_near
from pathways.terrain.way import PARTED, Premise, Way, ended_by, follow, legs_down

#: A straight line that cuts no deeper than this into a building only grazes it [m].
_GRAZES_M = 0.05

#: How far the other side of a barrier is looked for [cells].
_FAR_SIDE_CELLS = 3

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
    others += _past_openings(terrain, source, start, way)
    if PARTED in way.cautions:
        by_fall = follow(
            terrain,
            start.place,
            volume_l=source.volume_l,
            premise=Premise(by_fall=True),
        )
        if (by_fall.outcome, by_fall.receptor_id) != (way.outcome, way.receptor_id):
            others.append(
                Other(
                    "by the fall of the ground, not by steepest steps",
                    by_fall,
                    top=True,
                )
            )
    if way.overtops_at_m is not None:
        over = follow(
            terrain,
            start.place,
            volume_l=source.volume_l,
            premise=Premise(over_walls=True),
        )
        others.append(Other("over the wall that shuts it in", over))
    if way.observed:
        grid_only = follow(
            terrain,
            start.place,
            volume_l=source.volume_l,
            premise=Premise(as_seen=False),
        )
        others.append(Other("what the grid alone suggests; overruled", grid_only))
    others += _by_land_drains_on_the_way(terrain, source, way)
    others += _by_well_heads(terrain, way)
    others += _by_water_beside(terrain, way)
    others += _on_the_other_side(terrain, source, start)
    return others


def _past_openings(
    terrain: Terrain, source: Source, start: Start, way: Way
) -> Iterator[Other]:
    """Yield the ways past openings: each alone, then all of the farm."""
    sets = [frozenset({one}) for one in dict.fromkeys(way.taken)]
    if way.taken and len(terrain.drains.openings) > 1:
        sets.append(terrain.all_openings)
    told: set[tuple[str, str, tuple[str, ...]]] = set()
    for blocked in sets:
        past = follow(
            terrain,
            start.place,
            volume_l=source.volume_l,
            premise=Premise(blocked=blocked),
        )
        key = (past.outcome, past.receptor_id, past.via)
        if key in told:
            continue
        told.add(key)
        names = ", ".join(
            terrain.drains.openings[one].id for one in sorted(blocked & set(way.taken))
        )
        if blocked == terrain.all_openings and len(blocked) > 1:
            names = "every drain"
        yield Other(f"past {names}: blocked, frozen or overwhelmed", past)
        if past.overtops_at_m is not None:
            over = follow(
                terrain,
                start.place,
                volume_l=source.volume_l,
                premise=Premise(blocked=blocked, over_walls=True),
            )
            yield Other(f"past {names}, then over the wall that shuts it in", over)


def _on_the_other_side(
    terrain: Terrain, source: Source, start: Start
) -> Iterator[Other]:
    """Yield the way from the far side of a barrier on which the start lies."""
    ground = terrain.flow.ground
    cell = terrain.grid.cell_at(start.place.x, start.place.y)
    if cell is None:
        return
    barrier = int(ground.barrier_at[cell])
    own = open_cell_near(ground, start.place, terrain.barriers)
    if barrier < 0 or own is None:
        return
    here = Point(ground.place(own))
    reach = range(-_FAR_SIDE_CELLS, _FAR_SIDE_CELLS + 1)
    places = [
        Point(
            start.place.x + right * terrain.grid.cell_size_m,
            start.place.y + up * terrain.grid.cell_size_m,
        )
        for right in reach
        for up in reach
    ]
    parted = [
        place
        for place in places
        if (there := terrain.grid.cell_at(place.x, place.y)) is not None
        and ground.barrier_at[there] < 0
        and terrain.barriers.part(here, place)
    ]
    if not parted:
        return
    feature = terrain.features.barriers[barrier]
    far = min(parted, key=start.place.distance)
    way = follow(terrain, far, volume_l=source.volume_l)
    yield Other(f"from the other side of {feature.kind} {feature.title}", way, top=True)


def _by_water_beside(terrain: Terrain, way: Way) -> Iterator[Other]:
    """Yield the way into water that a way passes close by but does not reach.

    A stream is drawn off its bed more often than not.
    """
    if way.outcome == "reaches_water":
        return
    reach_m = terrain.assumed["drawing", "water_reach_m"]
    for number, leg in enumerate(way.legs):
        if leg.kind not in ("surface", "observed"):
            continue
        water = terrain.water_near(leg.line, reach_m)
        if water is None:
            continue
        feature = terrain.features.watercourses[water]
        place, shore = nearest_points(leg.line, terrain.waters[water])
        beside = Leg(kind="surface", line=_line_to(leg.line, place, [shore]))
        legs = (*way.legs[:number], beside)
        yield Other(
            f"{feature.kind} {feature.title} lies {place.distance(shore):.1f} m from "
            "the way and may be drawn off its bed",
            Way(
                outcome="reaches_water",
                receptor_id=feature.id,
                receptor_kind=feature.kind,
                legs=legs,
                via=_passed(legs),
            ),
            top=True,
        )
        return


def _passed(legs: Sequence[Leg]) -> tuple[str, ...]:
    """Return the pipes, openings and tanks that some legs go through, in order."""
    return tuple(
        name
        for leg in legs
        for name in (leg.through * (leg.kind == "pipe"), leg.enters, leg.tank)
        if name
    )


def _line_to(line: LineString, place: Point, onwards: list[Point]) -> LineString:
    """Return a line up to a place on it, and on from there."""
    before = substring(line, 0.0, line.project(place))
    return LineString([*before.coords, place, *onwards])


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


def ways_by_land_drains(terrain: Terrain, shape: Geometry) -> tuple[Way, ...]:
    """Return the ways by the land drains that lie under a place.

    Parameters
    ----------
    terrain : Terrain
        Ground and drains.
    shape : shapely.Geometry
        Place that liquid comes from.

    Returns
    -------
    tuple of Way
        One a drain.
    """
    source = Source(id="", kind="other", geometry=shape)
    return tuple(
        by_land_drain_from(
            terrain,
            source,
            Way(),
            nearest_points(shape, terrain.features.pipes[drain].geometry)[0],
            drain,
        )
        for drain in land_drains_under(terrain, shape)
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
    number, leave = _leaving(way, start, opening)
    foot = nearest_points(leave, opening.geometry)[1]
    onwards = [*_round(terrain.features.closed_buildings, leave, foot), foot]
    if number < 0:
        into = LineString([start.place, leave, *onwards])
        legs = [Leg(kind="surface", line=into)]
    else:
        into = _line_to(way.legs[number].line, leave, onwards)
        legs = [*way.legs[:number], Leg(kind="surface", line=into)]
    lead = dye_lead(terrain, opening, foot) or terrain.drains.lead_of(opening, foot)
    via = (opening.id, *(one for one in lead.via if one != opening.id))
    taken = Way(legs=legs_down(legs, lead, enters=opening.id), via=via)
    ended = ended_by(terrain, taken, lead, source.volume_l)
    if ended.ends or lead.place is None:
        return ended
    return joined(ended, follow(terrain, lead.place, volume_l=source.volume_l))


def _leaving(way: Way, start: Start, opening: Opening) -> tuple[int, Point]:
    """Return the leg, and the place on it, from which an opening is nearest.

    The leg is -1 where that is the start itself.
    """
    near = [(opening.geometry.distance(start.place), -1, start.place)]
    for number, leg in enumerate(way.legs):
        if leg.kind in ("surface", "observed"):
            place = nearest_points(leg.line, opening.geometry)[0]
            near.append((opening.geometry.distance(place), number, place))
    _, number, place = min(near, key=lambda one: (one[0], one[1]))
    return number, place


def _round(buildings: Geometry, one: Point, other: Point) -> list[Point]:
    """Return the corners by which a short way goes round a closed building."""
    straight = LineString([one, other])
    for building in shapely.get_parts(buildings):
        if straight.intersection(building.buffer(-_GRAZES_M)).length == 0:
            continue
        hull = shapely.union_all([building, one, other]).convex_hull.exterior
        ring = LineString(hull.coords)
        first, last = sorted((ring.project(one), ring.project(other)))
        inner = substring(ring, first, last)
        outer = [
            *substring(ring, last, ring.length).coords,
            *substring(ring, 0.0, first).coords[1:],
        ]
        way = inner if inner.length <= ring.length / 2 else LineString(outer)
        corners = [Point(place) for place in way.coords]
        if corners[0].distance(one) > corners[-1].distance(one):
            corners.reverse()
        return corners
    return []


def _by_land_drains_on_the_way(
    terrain: Terrain, source: Source, way: Way
) -> Iterator[Other]:
    """Yield the ways through land drains that a way crosses."""
    told = set(way.via)
    for number, leg in enumerate(way.legs):
        if leg.kind not in ("surface", "observed"):
            continue
        for drain in land_drains_under(terrain, leg.line):
            pipe = terrain.features.pipes[drain]
            if pipe.id in told:
                continue
            told.add(pipe.id)
            place = nearest_points(leg.line, pipe.geometry)[0]
            before = Leg(kind="surface", line=_line_to(leg.line, place, []))
            begun = Way(legs=(*way.legs[:number], before))
            taken = by_land_drain_from(terrain, source, begun, place, drain)
            yield Other(
                f"land drain {pipe.title} lies under the way and takes water along it",
                taken,
                by_land_drain=True,
            )
    for drain in land_drains_under(terrain, source.geometry):
        pipe = terrain.features.pipes[drain]
        if pipe.id in told:
            continue
        place = nearest_points(source.geometry, pipe.geometry)[0]
        yield Other(
            f"land drain {pipe.title} lies under the source and takes water along it",
            by_land_drain_from(terrain, source, Way(), place, drain),
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


def land_drains_under(terrain: Terrain, shape: Geometry) -> list[int]:
    """Return the land drains under a place, line or area."""
    return [
        index
        for index, pipe in enumerate(terrain.features.pipes)
        if pipe.kind == "land_drain"
        and pipe.geometry.distance(shape) <= _corridor_m(terrain)
    ]


def by_land_drain_from(
    terrain: Terrain, source: Source, way: Way, place: Point, drain: int
) -> Way:
    """Go down a land drain from a place above it."""
    pipe = terrain.features.pipes[drain]
    lead = terrain.drains.lead_of_pipe(pipe, place)
    legs = legs_down(way.legs, lead, enters="")
    way = replace(way, legs=legs, via=(*way.via, *lead.via), ends=False)
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
