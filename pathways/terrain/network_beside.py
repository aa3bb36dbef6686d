"""What lies beside cells, and beside legs, and may change a way that passes there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, LineString, Point

from pathways.features import Feature, Features, Observation, Source
from pathways.grid import Grid
from pathways.terrain.alternatives import by_land_drain_from
from pathways.terrain.barriers import GUIDING
from pathways.terrain.cells import cells_along, cells_inside
from pathways.terrain.landscape import Terrain
from pathways.terrain.network_parts import Beside, Kind, Onwards
from pathways.terrain.pathway import Leg
from pathways.terrain.way import Way, follow, in_water

_HALF_DIAGONAL: Final = 0.71  # of a cell [cells]
_NOT_ALONG: Final = ("barrier", "kerb", "flow_seen", "flow_band", "flow_near")


def things_beside(terrain: Terrain, openings: Sequence[Onwards]) -> tuple[Beside, ...]:
    """Return what may change a way that passes near it.

    Parameters
    ----------
    terrain : Terrain
        Ground and what is drawn.
    openings : sequence of Onwards
        What each of `Drains.openings` leads to.

    Returns
    -------
    tuple of Beside
        In the order of the drawing, kind by kind.
    """
    return tuple(_things(terrain, openings))


def _things(terrain: Terrain, openings: Sequence[Onwards]) -> Iterator[Beside]:
    features = terrain.features
    for index, onwards in enumerate(openings):
        yield Beside(kind="opening", index=index, way=_to_its_end(terrain, onwards))
    for index, pipe in enumerate(features.pipes):
        if pipe.kind == "land_drain":
            start = Point(pipe.geometry.coords[0])
            unknown = Source(id="", kind="other", geometry=start)
            way = by_land_drain_from(terrain, unknown, Way(), start, index)
            yield Beside(kind="land_drain", index=index, way=way)
    for index, seen in enumerate(features.observations):
        if _is_line_of_flow(seen):
            place = Point(seen.geometry.coords[-1])
            yield Beside(kind="flow_near", index=index, way=_from(terrain, place))
    for kind, drawn, counts in _plain_beside(features):
        for index, one in enumerate(drawn):
            if counts(one):
                yield Beside(kind=kind, index=index)


def _from(terrain: Terrain, place: Point) -> Way:
    """Return the way from where water was seen to run to: into water, if it is near."""
    water = terrain.water_near(place, terrain.observation_reach_m)
    if water is None:
        return follow(terrain, place)
    return in_water(terrain, Way(), water)


def _plain_beside(
    features: Features,
) -> Iterator[tuple[Kind, Sequence[Any], Callable[[Any], bool]]]:
    """Yield kinds of things that lead nowhere else, and which of them count."""
    # A wall is never run over here: it ends a way.
    yield "barrier", features.barriers, lambda one: one.kind != "wall"
    yield "kerb", features.barriers, lambda one: one.kind in GUIDING
    yield "well_head", features.water_supplies, lambda _: True
    yield "supply", features.water_supplies, lambda _: True
    yield "water", features.watercourses, lambda one: not one.culverted
    yield "flow_seen", features.observations, _is_line_of_flow
    yield "flow_band", features.observations, _is_line_of_flow


def _is_line_of_flow(observation: Observation) -> bool:
    is_line = isinstance(observation.geometry, LineString)
    return observation.kind == "flow_seen" and is_line


def groups_of_cells(
    terrain: Terrain, beside: Sequence[Beside]
) -> tuple[NDArray[np.uint32], tuple[tuple[int, ...], ...]]:
    """Return which group of things lies beside each cell.

    Parameters
    ----------
    terrain : Terrain
        Ground and what is drawn.
    beside : sequence of Beside
        The things.

    Returns
    -------
    at : ndarray of uint32, shape (rows, columns)
        Place in `groups`.
    groups : tuple of tuple of int
        Places in `beside`; the first group is empty.

    Notes
    -----
    Each thing has a random number, and a cell the sum of those beside it, by which
    equal groups are found at once; that two groups share a sum of 64 bits is as good
    as impossible.
    """
    size = terrain.grid.heights_m.size
    at = np.zeros(size, np.uint32)
    near = [_cells_near(terrain, one) for one in beside]
    cells = np.concatenate([np.empty(0, np.int64), *near])
    things = np.repeat(np.arange(len(near)), [one.size for one in near])
    numbers = np.random.default_rng(0).integers(
        1, 2**63, len(beside), dtype=np.uint64, endpoint=True
    )
    sums = np.zeros(size, np.uint64)
    np.add.at(sums, cells, numbers[things])
    touched = np.flatnonzero(np.bincount(cells, minlength=size)[:size])
    _, first, group = np.unique(sums[touched], return_index=True, return_inverse=True)
    at[touched] = 1 + group
    order = np.argsort(cells, kind="stable")
    begins = np.searchsorted(cells[order], touched[first])
    ends = np.searchsorted(cells[order], touched[first], side="right")
    groups = [
        tuple(int(one) for one in np.sort(things[order[begin:end]]))
        for begin, end in zip(begins, ends, strict=True)
    ]
    return at.reshape(terrain.grid.heights_m.shape), ((), *groups)


def _cells_near(terrain: Terrain, beside: Beside) -> NDArray[np.int64]:
    """Return the cells from which something counts as beside a way."""
    if beside.kind == "barrier":
        return np.flatnonzero(terrain.flow.ground.barrier_at == beside.index)
    if beside.kind == "flow_seen":
        return _cells_of_seen(terrain, beside.index)
    if beside.kind == "flow_band":  # as wide as `seen.meeting` looks, by cell centres
        line = terrain.features.observations[beside.index].geometry
        return cells_inside(line.buffer(terrain.observation_reach_m), terrain.grid)
    return _within(*_reach_of(terrain, beside), terrain.grid)


def _reach_of(terrain: Terrain, beside: Beside) -> tuple[Geometry, float]:
    """Return the shape of a thing, and from how far away it counts [m]."""
    features, assumed, index = terrain.features, terrain.assumed, beside.index
    size_m = terrain.grid.cell_size_m
    if beside.kind == "opening":
        reach_m = assumed["drains", "inlet_reach_m"]
        return terrain.drains.openings[index].geometry, reach_m
    if beside.kind == "water":
        return terrain.waters[index], assumed["drawing", "water_reach_m"]
    corridor_m = max(assumed["drains", "land_drain_corridor_m"], size_m / 2)
    well_m = max(assumed["supplies", "well_head_m"], size_m)
    drawn: dict[str, tuple[Sequence[Feature], float]] = {
        "land_drain": (features.pipes, corridor_m),
        "kerb": (features.barriers, terrain.kerb_reach_m),
        "flow_near": (features.observations, terrain.observation_reach_m),
        "supply": (features.water_supplies, assumed["supplies", "passes_near_m"]),
        "well_head": (features.water_supplies, well_m),
    }
    layer, reach_m = drawn[beside.kind]
    return layer[index].geometry, reach_m


def along_legs(
    terrain: Terrain, legs: Sequence[Leg], beside: Sequence[Beside]
) -> tuple[tuple[int, float, float], ...]:
    """Return what lies along legs that are no pipes.

    Parameters
    ----------
    terrain : Terrain
        Ground and what is drawn.
    legs : sequence of Leg
        Legs of a way.
    beside : sequence of Beside
        The things.

    Returns
    -------
    tuple of (int, float, float)
        Place in `beside`; from where to where it lies along the first leg that is no
        pipe [m], all of later ones.
    """
    found: dict[int, tuple[float, float]] = {}
    open_legs = [one for one in legs if one.kind != "pipe"]
    for number, leg in enumerate(open_legs):
        for place, one in enumerate(beside):
            if one.kind in _NOT_ALONG or place in found:
                continue
            # A straight line that stands in for a pipe passes over all but well heads.
            if leg.kind == "joined" and one.kind != "well_head":
                continue
            shape, reach_m = _reach_of(terrain, one)
            near = leg.line.intersection(shape.buffer(reach_m))
            if near.is_empty:
                continue
            places = shapely.get_coordinates(near)
            along_m = [leg.line.project(Point(each)) for each in places]
            found[place] = (0.0, np.inf) if number else (min(along_m), max(along_m))
    return tuple((place, *along_m) for place, along_m in found.items())


def _within(shape: Geometry, reach_m: float, grid: Grid) -> NDArray[np.int64]:
    """Return the cells any place of which may lie within reach of a shape.

    A way runs through a cell anywhere, so the reach is wider by half its diagonal: a
    thing that is told needlessly costs less than one that is missed.
    """
    wider_m = reach_m + _HALF_DIAGONAL * grid.cell_size_m
    near = cells_inside(shape.buffer(wider_m), grid)
    return np.union1d(near, cells_along(shape, grid)).astype(np.int64)


def _cells_of_seen(terrain: Terrain, index: int) -> NDArray[np.int64]:
    """Return the cells from which a way meets an observed line; see `seen.meeting`."""
    line = terrain.features.observations[index].geometry
    reach_m = terrain.observation_reach_m
    kept = []
    for cell in cells_inside(line.buffer(reach_m), terrain.grid):
        place = Point(terrain.flow.ground.place(int(cell)))
        along_m = line.project(place)
        ends = along_m >= line.length - reach_m
        if not ends and not terrain.barriers.part(place, line.interpolate(along_m)):
            kept.append(cell)
    return np.array(kept, np.int64)


def _to_its_end(terrain: Terrain, onwards: Onwards) -> Way:
    """Return how a way ends that goes on over the ground."""
    if onwards.cell is None:
        return onwards.way
    return follow(terrain, Point(terrain.flow.ground.place(onwards.cell)))
