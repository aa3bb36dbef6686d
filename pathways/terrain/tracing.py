"""Each source and where its liquid goes, with the other ways that it may take."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import Geometry, LineString, Point
from shapely.ops import nearest_points

from pathways.features import Source
from pathways.terrain.alternatives import (
    Other,
    Start,
    by_land_drain_from,
    land_drains_under,
    other_ways,
)
from pathways.terrain.cells import cells_along, cells_inside
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import OUTCOMES, Alternative, Leg, Pathway
from pathways.terrain.surface import Role
from pathways.terrain.telling import (
    any_water_on_grid,
    cautions_of,
    drop_of,
    passes_near,
    straight_line_m,
    surfaces_under,
)
from pathways.terrain.way import Way, follow


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


def _starts(terrain: Terrain, source: Source) -> list[Start]:
    """Return the places where a source's liquid begins its way."""
    shape = source.geometry
    buildings = terrain.features.closed_buildings
    inside = shape.within(buildings) if not buildings.is_empty else False
    if source.door is not None:
        door = next(one for one in terrain.features.access if one.id == source.door)
        return [Start("door", _outside(buildings, door.geometry.centroid))]
    if inside:
        return [Start("door", _outside(buildings, shape.centroid))]
    if isinstance(shape, Point):
        return [Start("point", shape)]
    starts = [Start("lowest_edge", lowest_of(terrain, shape))]
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
            starts.append(Start("nearest_water", place))
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


def lowest_of(terrain: Terrain, shape: Geometry) -> Point:
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


def _trace_from(terrain: Terrain, source: Source, start: Start) -> Pathway:
    """Trace one source from one place."""
    way = _headline(terrain, source, start)
    others = other_ways(terrain, source, start, way)
    if way.legs and way.legs[0].kind == "pipe":
        over = follow(terrain, start.place, volume_l=source.volume_l)
        others.append(Other("over the ground, past the land drain", over))
    worse = [
        one
        for one in others
        if one.by_land_drain
        and OUTCOMES.index(one.way.outcome) < OUTCOMES.index(way.outcome)
    ]
    if worse:  # a land drain takes water whatever the ground above it does
        others = [one for one in others if one is not worse[0]]
        others.append(Other("over the ground, past the land drain", way))
        way = worse[0].way
    return _told(terrain, source, start, way, others)


def _headline(terrain: Terrain, source: Source, start: Start) -> Way:
    """Return the way that topology and what was seen decide."""
    seen = _dye_from_source(terrain, source, start)
    if seen is not None:
        return seen
    ways = [
        by_land_drain_from(terrain, source, Way(), start.place, drain)
        for drain in land_drains_under(terrain, start.place)
    ]
    over = follow(terrain, start.place, volume_l=source.volume_l)
    # Of equal ends that by the drain is told, for it takes water whatever the ground
    # above it does; neither hides a worse end of the other.
    return min((*ways, over), key=lambda one: OUTCOMES.index(one.outcome))


def _dye_from_source(terrain: Terrain, source: Source, start: Start) -> Way | None:
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


def _told(
    terrain: Terrain, source: Source, start: Start, way: Way, others: list[Other]
) -> Pathway:
    """Put together what is said of a source."""
    end = way.legs[-1].line.coords[-1] if way.legs else start.place.coords[0]
    drop_m = drop_of(terrain, way, start.place)
    length_m = way.length_m
    why = way.why
    if why == "leaves_grid" and not any_water_on_grid(terrain):
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
        straight_line_m=straight_line_m(terrain, source.geometry),
        drop_m=drop_m,
        mean_slope=drop_m / length_m if length_m > 0 else None,
        surfaces=surfaces_under(terrain, way),
        via=way.via,
        hollows=way.hollows,
        start=(start.place.x, start.place.y),
        end=(float(end[0]), float(end[1])),
        passes_near=passes_near(terrain, source, start, way),
        alternatives=tuple(_alternative(one) for one in others),
        cautions=cautions_of(terrain, source, start, way, others),
        legs=way.legs,
        overtops_at_m=way.overtops_at_m,
    )


def _worst(other: Other) -> int:
    return OUTCOMES.index(other.way.outcome)


def _alternative(other: Other) -> Alternative:
    """Return another way as it is told."""
    return Alternative(
        why=other.why,
        outcome=other.way.outcome,
        receptor_id=other.way.receptor_id,
        receptor_kind=other.way.receptor_kind,
        length_m=other.way.length_m,
        via=other.way.via,
        legs=other.way.legs,
        end_why=other.way.why,
    )
