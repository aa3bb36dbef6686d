"""Each source and where its liquid goes, with the other ways that it may take."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from shapely import Geometry, LineString, Point
from shapely.ops import nearest_points

from pathways.features import Source, Surface
from pathways.terrain.cells import cells_along, cells_inside
from pathways.terrain.drains import Opening
from pathways.terrain.pathway import (
    OUTCOMES,
    Alternative,
    Leg,
    Nearby,
    Pathway,
)
from pathways.terrain.surface import Role
from pathways.terrain.way import Terrain, Way, ended_by, follow

StartKind = Literal["point", "lowest_edge", "nearest_water", "door"]

_TREATED_AS_DOMESTIC = "The use of {} is not known; it is treated as a domestic supply."


@dataclass(frozen=True)
class _Start:
    """Where a source's liquid begins its way."""

    kind: StartKind
    place: Point


def trace(terrain: Terrain) -> tuple[Pathway, ...]:
    """Trace all sources of a farm.

    Parameters
    ----------
    terrain : Terrain
        Ground, drains and what was seen.

    Returns
    -------
    tuple of Pathway
        One or two for each source, in the order of the sources, the worse one first.
    """
    return tuple(
        pathway
        for source in terrain.features.sources
        for pathway in trace_source(terrain, source)
    )


def trace_source(terrain: Terrain, source: Source) -> tuple[Pathway, ...]:
    """Trace one source from each place where its liquid can begin.

    Parameters
    ----------
    terrain : Terrain
        Ground, drains and what was seen.
    source : Source
        A point gives one way; a polygon up to two, from its lowest edge and from where
        it lies nearest to water.

    Returns
    -------
    tuple of Pathway
        The worse one first: by outcome, then by length.
    """
    pathways = [
        _trace_from(terrain, source, start) for start in _starts(terrain, source)
    ]
    return tuple(sorted(pathways, key=_badness))


def _badness(pathway: Pathway) -> tuple[int, float]:
    return (OUTCOMES.index(pathway.outcome), pathway.length_m)


def _starts(terrain: Terrain, source: Source) -> list[_Start]:
    """Return the places where a source's liquid begins its way."""
    shape = source.geometry
    buildings = terrain.features.closed_buildings
    inside = shape.within(buildings) if not buildings.is_empty else False
    if source.door is not None:
        door = next(one for one in terrain.features.access if one.id == source.door)
        return [_Start("door", _outside(buildings, door.geometry.centroid))]
    if inside:
        return [_Start("door", _outside(buildings, shape.centroid))]
    if isinstance(shape, Point):
        return [_Start("point", shape)]
    starts = [_Start("lowest_edge", _lowest_of(terrain, shape))]
    open_waters = [
        outline
        for outline, water in zip(
            terrain.waters, terrain.features.watercourses, strict=True
        )
        if not water.culverted
    ]
    if open_waters:
        nearest = min(open_waters, key=shape.distance)
        place = nearest_points(shape, nearest)[0]
        if terrain.grid.cell_at(place.x, place.y) != terrain.grid.cell_at(
            starts[0].place.x, starts[0].place.y
        ):
            starts.append(_Start("nearest_water", place))
    return starts


def _outside(buildings: Geometry, place: Point) -> Point:
    """Return the place nearest to one in a building that lies outside its walls."""
    if buildings.is_empty or not buildings.intersects(place):
        return place
    edge = nearest_points(place, buildings.boundary)[1]
    # A finger's breadth outside, so that no wall parts it from the yard.
    step = 0.01
    for angle in np.arange(0.0, 2 * np.pi, np.pi / 8):
        out = Point(edge.x + step * np.cos(angle), edge.y + step * np.sin(angle))
        if not buildings.intersects(out):
            return out
    return edge


def _lowest_of(terrain: Terrain, shape: Geometry) -> Point:
    """Return the lowest open place of an area; its middle if it lies off the grid."""
    grid, ground = terrain.grid, terrain.flow.ground
    cells = np.union1d(cells_inside(shape, grid), cells_along(shape, grid))
    cells = cells.astype(np.int64)
    is_open = ~np.isin(ground.roles.ravel()[cells], (Role.NO_DATA, Role.BUILDING))
    is_open &= ground.barrier_at.ravel()[cells] < 0
    if not is_open.any():
        return shape.centroid
    cells = cells[is_open]
    lowest = cells[np.argmin(grid.heights_m.ravel()[cells])]
    centre = Point(ground.place(lowest))
    return centre if shape.intersects(centre) else nearest_points(shape, centre)[0]


def _trace_from(terrain: Terrain, source: Source, start: _Start) -> Pathway:
    """Trace one source from one place."""
    way = _headline(terrain, source, start)
    others = _alternatives(terrain, source, start, way)
    worse = [
        one
        for one in others
        if one.by_land_drain
        and OUTCOMES.index(one.way.outcome) < OUTCOMES.index(way.outcome)
    ]
    if worse:  # a land drain takes water whatever the ground above it does
        others = [one for one in others if one is not worse[0]]
        others.append(_Other("over the ground, past the land drain", way))
        way = worse[0].way
    return _told(terrain, source, start, way, others)


@dataclass(frozen=True)
class _Other:
    """Another way, and why liquid may take it."""

    why: str
    way: Way
    top: bool = False
    by_land_drain: bool = False


def _headline(terrain: Terrain, source: Source, start: _Start) -> Way:
    """Return the way that topology and what was seen decide."""
    seen = _dye_from_source(terrain, source, start)
    if seen is not None:
        return seen
    drain = _land_drain_under(terrain, start.place)
    if drain is not None:
        return _by_land_drain(terrain, source, Way(), start.place, drain)
    return follow(terrain, start.place, volume_l=source.volume_l)


def _dye_from_source(terrain: Terrain, source: Source, start: _Start) -> Way | None:
    """Return the way that dye poured at the source took, if it was tried."""
    for one in terrain.features.observations:
        if one.kind == "dye_arrived" and one.from_id == source.id:
            place = Point(one.geometry.coords[-1])
            leg = Leg(
                kind="observed", line=LineString([start.place, place]), through=one.id
            )
            way = Way(legs=(leg,), observed=(one,))
            water = terrain.water_near(place, terrain.observation_reach_m)
            if water is None:
                onwards = follow(terrain, place, volume_l=source.volume_l)
                return replace(
                    onwards,
                    legs=(leg, *onwards.legs),
                    observed=(one, *onwards.observed),
                )
            feature = terrain.features.watercourses[water]
            return replace(
                way,
                outcome="reaches_water",
                receptor_id=feature.id,
                receptor_kind=feature.kind,
                ends=True,
            )
    return None


def _corridor_m(terrain: Terrain) -> float:
    """Return half the width over which a land drain takes water [m]."""
    return max(
        terrain.assumed["drains", "land_drain_corridor_m"], terrain.grid.cell_size_m / 2
    )


def _land_drain_under(terrain: Terrain, shape: Geometry) -> int | None:
    """Return the land drain under a place or line, or None."""
    for index, pipe in enumerate(terrain.features.pipes):
        if pipe.kind != "land_drain":
            continue
        if pipe.geometry.distance(shape) <= _corridor_m(terrain):
            return index
    return None


def _by_land_drain(
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
    return _joined(ended, onwards)


def _joined(first: Way, then: Way) -> Way:
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


def _alternatives(
    terrain: Terrain, source: Source, start: _Start, way: Way
) -> list[_Other]:
    """Return the other ways that liquid may take."""
    others = [*_by_openings_beside(terrain, source, start, way)]
    if way.taken:
        past = follow(terrain, start.place, volume_l=source.volume_l, past_drains=True)
        names = ", ".join(terrain.drains.openings[one].id for one in way.taken)
        others.append(_Other(f"past {names}: blocked, frozen or overwhelmed", past))
    if way.overtops_at_m is not None:
        over = follow(terrain, start.place, volume_l=source.volume_l, over_walls=True)
        others.append(_Other("over the wall that shuts it in", over))
    if way.observed:
        grid_only = follow(
            terrain, start.place, volume_l=source.volume_l, as_seen=False
        )
        others.append(_Other("what the grid alone suggests; overruled", grid_only))
    others += _by_land_drains_on_the_way(terrain, source, way)
    others += _by_well_heads(terrain, way)
    return others


def _ground_of(way: Way, start: _Start) -> Geometry:
    """Return where a way runs over the ground, the start included."""
    lines = [leg.line for leg in way.legs if leg.kind in ("surface", "observed")]
    return shapely.union_all([start.place, *lines])


def _by_openings_beside(
    terrain: Terrain, source: Source, start: _Start, way: Way
) -> Iterator[_Other]:
    """Yield the ways through openings that the way passes by but may enter."""
    ground = shapely.union_all([source.geometry, _ground_of(way, start)])
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
        yield _Other(why, taken, top=opening.outlet_is_unknown)


def _into_opening(
    terrain: Terrain, source: Source, start: _Start, way: Way, opening: Opening
) -> Way:
    """Return the way through an opening beside another way."""
    ground = _ground_of(way, start)
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
    return _joined(ended, follow(terrain, lead.place, volume_l=source.volume_l))


def _by_land_drains_on_the_way(
    terrain: Terrain, source: Source, way: Way
) -> Iterator[_Other]:
    """Yield the ways through land drains that a way crosses."""
    for number, leg in enumerate(way.legs):
        if leg.kind != "surface":
            continue
        drain = _land_drain_under(terrain, leg.line)
        if drain is None or terrain.features.pipes[drain].id in way.via:
            continue
        pipe = terrain.features.pipes[drain]
        place = nearest_points(leg.line, pipe.geometry)[0]
        before = Leg(
            kind="surface",
            line=shapely.ops.substring(leg.line, 0, leg.line.project(place)),
        )
        if isinstance(before.line, Point):
            before = Leg(kind="surface", line=LineString([before.line, before.line]))
        begun = Way(legs=(*way.legs[:number], before))
        taken = _by_land_drain(terrain, source, begun, place, drain)
        yield _Other(
            f"land drain {pipe.title} lies under the way and takes water along it",
            taken,
            by_land_drain=True,
        )


def _by_well_heads(terrain: Terrain, way: Way) -> Iterator[_Other]:
    """Yield the ways into well heads that a way passes close to."""
    reach_m = max(terrain.assumed["supplies", "well_head_m"], terrain.grid.cell_size_m)
    for supply in terrain.features.water_supplies:
        for number, leg in enumerate(way.legs):
            if leg.kind == "pipe" or leg.line.distance(supply.geometry) > reach_m:
                continue
            place = leg.line.project(supply.geometry)
            before = shapely.ops.substring(leg.line, 0, place)
            line = LineString([*before.coords, *supply.geometry.coords])
            yield _Other(
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


def _told(
    terrain: Terrain, source: Source, start: _Start, way: Way, others: list[_Other]
) -> Pathway:
    """Put together what is said of a source."""
    end = way.legs[-1].line.coords[-1] if way.legs else start.place.coords[0]
    drop_m = _height_at(terrain, start.place) - _height_at(terrain, Point(end))
    length_m = way.length_m
    why = way.why
    if why == "leaves_grid" and not _any_water_on_grid(terrain):
        why = "no_water_in_grid"
    others = sorted(others, key=lambda one: (not one.top, _worst(one), one.why))
    return Pathway(
        source_id=source.id,
        source_kind=source.kind,
        source_name=source.name,
        start_kind=start.kind,
        outcome=way.outcome,
        why=why,
        receptor_id=way.receptor_id,
        receptor_kind=way.receptor_kind,
        length_m=length_m,
        straight_line_m=_straight_line_m(terrain, source.geometry),
        drop_m=drop_m,
        mean_slope=drop_m / length_m if length_m > 0 else None,
        surfaces=_surfaces_under(terrain, way),
        via=way.via,
        hollows=way.hollows,
        start=(start.place.x, start.place.y),
        end=(float(end[0]), float(end[1])),
        passes_near=_passes_near(terrain, start, way),
        alternatives=tuple(_alternative(one) for one in others),
        cautions=_cautions(terrain, source, way, others),
        legs=way.legs,
        overtops_at_m=way.overtops_at_m,
    )


def _worst(other: _Other) -> int:
    return OUTCOMES.index(other.way.outcome)


def _alternative(other: _Other) -> Alternative:
    """Return another way as it is told."""
    return Alternative(
        why=other.why,
        outcome=other.way.outcome,
        receptor_id=other.way.receptor_id,
        receptor_kind=other.way.receptor_kind,
        length_m=other.way.length_m,
        via=other.way.via,
        legs=other.way.legs,
    )


def _height_at(terrain: Terrain, place: Point) -> float:
    """Return the measured height of the cell at a place [m]; NaN where unknown."""
    cell = terrain.grid.cell_at(place.x, place.y)
    return float("nan") if cell is None else float(terrain.grid.heights_m[cell])


def _any_water_on_grid(terrain: Terrain) -> bool:
    """Whether any open water lies on the grid."""
    return bool((terrain.flow.ground.water_at >= 0).any())


def _straight_line_m(terrain: Terrain, shape: Geometry) -> float | None:
    """Return the distance in plan to the nearest water's edge of any kind [m]."""
    if not terrain.waters:
        return None
    return float(min(shape.distance(outline) for outline in terrain.waters))


def _surfaces_under(terrain: Terrain, way: Way) -> tuple[tuple[str, float], ...]:
    """Return the surfaces that a way crosses, in its order, and over what length [m].

    Where two are drawn over each other, the smaller one lies on top.
    """
    drawn = sorted(terrain.features.surfaces, key=lambda one: one.geometry.area)
    stretches: list[tuple[str, float]] = []
    for leg in way.legs:
        if leg.kind not in ("surface", "observed"):
            continue
        for kind, length_m in _split_by(leg.line, drawn):
            if stretches and stretches[-1][0] == kind:
                length_m += stretches.pop()[1]
            stretches.append((kind, length_m))
    return tuple(stretches)


def _split_by(line: LineString, drawn: list[Surface]) -> list[tuple[str, float]]:
    """Return the stretches of a line by what they lie on."""
    rest: Geometry = line
    parts: list[tuple[float, str, float]] = []
    for surface in drawn:
        for part in _lines(rest.intersection(surface.geometry)):
            parts.append(
                (line.project(Point(part.coords[0])), surface.kind, part.length)
            )
        rest = rest.difference(surface.geometry)
    for part in _lines(rest):
        parts.append((line.project(Point(part.coords[0])), "not_drawn", part.length))
    return [(kind, length_m) for _, kind, length_m in sorted(parts) if length_m > 0]


def _lines(shape: Geometry) -> list[LineString]:
    """Return the lines of a shape."""
    return [
        part
        for part in shapely.get_parts(shape)
        if isinstance(part, LineString) and not part.is_empty
    ]


def _passes_near(terrain: Terrain, start: _Start, way: Way) -> tuple[Nearby, ...]:
    """Return the wells, springs and inlets near a way, the nearest first."""
    ground = _ground_of(way, start)
    features, assumed = terrain.features, terrain.assumed
    near = [
        Nearby(id=one.id, kind=one.kind, distance_m=ground.distance(one.geometry))
        for one in features.water_supplies
        if ground.distance(one.geometry) <= assumed["supplies", "passes_near_m"]
    ]
    near += [
        Nearby(id=one.id, kind=one.kind, distance_m=ground.distance(one.geometry))
        for one in features.inlets
        if ground.distance(one.geometry) <= assumed["drains", "inlet_reach_m"]
        and one.id not in way.via
    ]
    return tuple(sorted(near, key=lambda one: (one.distance_m, one.id)))


def _cautions(
    terrain: Terrain, source: Source, way: Way, others: list[_Other]
) -> tuple[str, ...]:
    """Return what a reader must know of one way."""
    cautions = list(way.cautions)
    for one in others:
        if one.top and one.way.outcome == "enters_piped_drain":
            cautions.append(
                f"{one.way.via[0]} near the way has no known outlet: treat it as joined "
                "to water until somebody shows that it is not."
            )
    for observation in way.observed:
        cautions.append(
            f"What was seen ({observation.title or observation.kind}, "
            f"{observation.date or 'no date given'}) overrules the grid here."
        )
    for hollow in way.hollows:
        if hollow.held_by:
            cautions.append(
                f"Liquid stands {hollow.depth_m:.2f} m deep ({hollow.capacity_l:.0f} l) "
                f"before it overtops {hollow.held_by}."
            )
    ground = shapely.union_all([leg.line for leg in way.legs] or [source.geometry])
    for supply in terrain.features.water_supplies:
        near_m = terrain.assumed["supplies", "passes_near_m"]
        if supply.use == "unknown" and ground.distance(supply.geometry) <= near_m:
            cautions.append(_TREATED_AS_DOMESTIC.format(supply.title))
    return tuple(dict.fromkeys(cautions))
