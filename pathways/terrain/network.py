"""Where liquid goes from every cell at once: what a page needs to follow a tap.

`follow` traces one place with everything that is known of it. A page that opens without
a network cannot call it, so all cells are worked out beforehand: the step from each
cell, the fall that guides the drawn line, where steps end, and what each opening leads
to. The page only walks through these arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray
from shapely import Geometry, LineString, Point

from pathways.features import Features, Observation, Source
from pathways.grid import Grid
from pathways.terrain import _kernels
from pathways.terrain.alternatives import by_land_drain_from
from pathways.terrain.barriers import ALONG_REACHES, GUIDING
from pathways.terrain.cells import cells_along, cells_inside
from pathways.terrain.drainage import END
from pathways.terrain.hollows import Pool, pools_of
from pathways.terrain.landscape import Terrain
from pathways.terrain.line import ending_at
from pathways.terrain.pathway import Leg
from pathways.terrain.surface import NOBODY, Ground, Role, open_cell_near
from pathways.terrain.way import Way, down, follow

#: In `covers`: nothing can be spilt here, for a roof, wall or kerb takes up the cell.
CLOSED: Final = 255

Kind = Literal[
    "opening", "land_drain", "barrier", "kerb", "well_head", "water", "flow_seen"
]


@dataclass(frozen=True, kw_only=True)
class Ending:
    """What the steps of some cells end in.

    Parameters
    ----------
    kind : {"water", "opening", "edge", "no_data", "wall"}
        At a wall the steps go on, and a way ends.
    index : int
        Place in `Features.watercourses`, `Drains.openings` or `Features.barriers`; -1
        of an edge.
    """

    kind: Literal["water", "opening", "edge", "no_data", "wall"]
    index: int = -1


@dataclass(frozen=True, kw_only=True)
class Onwards:
    """What follows where liquid goes down an opening, or as it was seen.

    Parameters
    ----------
    way : Way
        Legs from there, and how it ends if it does.
    cell : int or None
        Number of the cell where it comes out on the ground again.
    """

    way: Way
    cell: int | None


@dataclass(frozen=True, kw_only=True)
class Beside:
    """Something near some cells that a way through them must be told with.

    Parameters
    ----------
    kind : str
        What it is.
    index : int
        Place in `Drains.openings`, `Features.pipes`, `barriers`, `water_supplies`,
        `watercourses` or `observations`, by kind.
    way : Way or None
        Where liquid would go that it takes.
    """

    kind: Kind
    index: int
    way: Way | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Network:
    """Ways from all cells of a farm.

    Parameters
    ----------
    grid : Grid
        Place of the cells.
    along_m : float
        A way that stays beside a kerb for longer runs along it [m].
    steps : ndarray of uint8, shape (rows, columns)
        As `Drainage.steps`.
    falls : ndarray of uint8, shape (rows, columns)
        As `_kernels.code_falls` writes them.
    covers : ndarray of uint8, shape (rows, columns)
        0 where no cover is drawn, else 1 and the place in `cover_kinds`; `CLOSED` where
        nothing can be spilt.
    cover_kinds : tuple of str
        Kinds of surface.
    ends_at : ndarray of uint16, shape (rows, columns)
        0, or 1 and the place in `endings`.
    endings : tuple of Ending
        What steps end in.
    pools_at : ndarray of uint16, shape (rows, columns)
        0, or 1 and the place in `pools`.
    pools : tuple of Pool
        Hollows that hold enough to be told.
    beside_at : ndarray of uint16, shape (rows, columns)
        Place in `groups`.
    groups : tuple of tuple of int
        Places in `beside`; the first group is empty.
    beside : tuple of Beside
        What is near cells.
    openings : tuple of Onwards
        What each of `Drains.openings` leads to.
    opening_ids : tuple of str
        Their ids.
    seen : tuple of Onwards
        For each of `beside` of kind ``flow_seen``, in their order, the whole observed
        line and what follows.
    """

    grid: Grid
    along_m: float
    steps: NDArray[np.uint8]
    falls: NDArray[np.uint8]
    covers: NDArray[np.uint8]
    cover_kinds: tuple[str, ...]
    ends_at: NDArray[np.uint16]
    endings: tuple[Ending, ...]
    pools_at: NDArray[np.uint16]
    pools: tuple[Pool, ...]
    beside_at: NDArray[np.uint16]
    groups: tuple[tuple[int, ...], ...]
    beside: tuple[Beside, ...]
    openings: tuple[Onwards, ...]
    opening_ids: tuple[str, ...]
    seen: tuple[Onwards, ...]


def network_of(terrain: Terrain) -> Network:
    """Return the ways from all cells of a farm.

    Parameters
    ----------
    terrain : Terrain
        Ground and drains, all working.

    Returns
    -------
    Network
        Its steps are those that `follow` takes. Where drains lead back to an opening
        that was taken already it goes on by another routing; the network does not.
    """
    flow = terrain.flow
    falls = np.empty(flow.drainage.steps.shape, np.uint8)
    _kernels.code_falls(
        flow.drainage.heights_m.ravel(),
        flow.drainage.filled_m.ravel(),
        flow.drainage.steps.ravel(),
        flow.drainage.kinds.ravel(),
        flow.drainage.offsets,
        falls.ravel(),
    )
    covers, cover_kinds = _covers(terrain)
    ends_at, endings = _endings(terrain)
    pools_at, pools = pools_of(flow.ground, flow.drainage)
    beside = tuple(_beside(terrain))
    beside_at, groups = _grouped(terrain, beside)
    return Network(
        grid=terrain.grid,
        along_m=ALONG_REACHES * terrain.kerb_reach_m,
        steps=flow.drainage.steps,
        falls=falls,
        covers=covers,
        cover_kinds=cover_kinds,
        ends_at=ends_at,
        endings=endings,
        pools_at=pools_at,
        pools=pools,
        beside_at=beside_at,
        groups=groups,
        beside=beside,
        openings=tuple(
            _down_opening(terrain, index)
            for index in range(len(terrain.drains.openings))
        ),
        opening_ids=tuple(one.id for one in terrain.drains.openings),
        seen=tuple(
            _as_seen(terrain, one.index) for one in beside if one.kind == "flow_seen"
        ),
    )


def _covers(terrain: Terrain) -> tuple[NDArray[np.uint8], tuple[str, ...]]:
    """Return the cover of each cell; of two, the smaller one lies on top."""
    surfaces = terrain.features.surfaces
    kinds = tuple(dict.fromkeys(one.kind for one in surfaces))
    covers = np.zeros(terrain.grid.heights_m.shape, np.uint8)
    for one in sorted(surfaces, key=lambda each: -each.geometry.area):
        cells = cells_inside(one.geometry, terrain.grid)
        covers.ravel()[cells] = 1 + kinds.index(one.kind)
    ground = terrain.flow.ground
    closed = np.isin(ground.roles, (Role.BUILDING, Role.NO_DATA))
    covers[closed | (ground.barrier_at != NOBODY)] = CLOSED
    return covers, kinds


def _endings(terrain: Terrain) -> tuple[NDArray[np.uint16], tuple[Ending, ...]]:
    """Return what the steps of each cell end in, if they end there."""
    ground = terrain.flow.ground
    ends_at = np.zeros(ground.roles.shape, np.uint16)
    found: list[Ending] = []

    def add(ending: Ending, cells: NDArray[np.bool_]) -> None:
        if cells.any():
            found.append(ending)
            ends_at[cells] = len(found)

    ends = terrain.flow.drainage.kinds == END
    add(Ending(kind="edge"), ends & (ground.roles == Role.EDGE))
    add(Ending(kind="no_data"), ends & (ground.roles == Role.BESIDE_NO_DATA))
    for index in np.unique(ground.water_at[ground.roles == Role.WATER]):
        add(Ending(kind="water", index=int(index)), ground.water_at == index)
    for index in np.unique(ground.opening_at[ground.roles == Role.OPENING]):
        add(Ending(kind="opening", index=int(index)), ground.opening_at == index)
    for index, barrier in enumerate(terrain.features.barriers):
        if barrier.kind == "wall":
            wall = (ground.barrier_at == index) & ~ends
            add(Ending(kind="wall", index=index), wall)
    return ends_at, tuple(found)


def _beside(terrain: Terrain) -> Iterator[Beside]:
    """Yield what may change a way that passes near it."""
    features = terrain.features
    for index in range(len(terrain.drains.openings)):
        onwards = _down_opening(terrain, index)
        yield Beside(kind="opening", index=index, way=_to_its_end(terrain, onwards))
    for index, pipe in enumerate(features.pipes):
        if pipe.kind == "land_drain":
            start = Point(pipe.geometry.coords[0])
            unknown = Source(id="", kind="other", geometry=start)
            way = by_land_drain_from(terrain, unknown, Way(), start, index)
            yield Beside(kind="land_drain", index=index, way=way)
    for kind, drawn, counts in _plain_beside(features):
        for index, one in enumerate(drawn):
            if counts(one):
                yield Beside(kind=kind, index=index)


def _plain_beside(
    features: Features,
) -> Iterator[tuple[Kind, Sequence[Any], Callable[[Any], bool]]]:
    """Yield kinds of things that lead nowhere else, and which of them count."""
    yield "barrier", features.barriers, lambda _: True
    yield "kerb", features.barriers, lambda one: one.kind in GUIDING
    yield "well_head", features.water_supplies, lambda _: True
    yield "water", features.watercourses, lambda one: not one.culverted
    yield "flow_seen", features.observations, _is_line_of_flow


def _is_line_of_flow(observation: Observation) -> bool:
    is_line = isinstance(observation.geometry, LineString)
    return observation.kind == "flow_seen" and is_line


def _grouped(
    terrain: Terrain, beside: tuple[Beside, ...]
) -> tuple[NDArray[np.uint16], tuple[tuple[int, ...], ...]]:
    """Return which group of things lies beside each cell."""
    at = np.zeros(terrain.grid.heights_m.size, np.uint16)
    numbers: dict[tuple[int, ...], int] = {(): 0}
    for place, one in enumerate(beside):
        cells = _cells_near(terrain, one)
        for group in np.unique(at[cells]):
            longer = (*list(numbers)[group], place)
            numbers.setdefault(longer, len(numbers))
            at[cells[at[cells] == group]] = numbers[longer]
    return at.reshape(terrain.grid.heights_m.shape), tuple(numbers)


def _cells_near(terrain: Terrain, beside: Beside) -> NDArray[np.int64]:
    """Return the cells from which something counts as beside a way."""
    features, assumed, grid = terrain.features, terrain.assumed, terrain.grid
    if beside.kind == "barrier":
        return np.flatnonzero(terrain.flow.ground.barrier_at == beside.index)
    if beside.kind == "flow_seen":
        return _cells_of_seen(terrain, beside.index)
    shape, reach_m = {
        "opening": lambda index: (
            terrain.drains.openings[index].geometry,
            assumed["drains", "inlet_reach_m"],
        ),
        "land_drain": lambda index: (
            features.pipes[index].geometry,
            max(assumed["drains", "land_drain_corridor_m"], grid.cell_size_m / 2),
        ),
        "kerb": lambda index: (features.barriers[index].geometry, terrain.kerb_reach_m),
        "well_head": lambda index: (
            features.water_supplies[index].geometry,
            max(assumed["supplies", "well_head_m"], grid.cell_size_m),
        ),
        "water": lambda index: (
            terrain.waters[index],
            assumed["drawing", "water_reach_m"],
        ),
    }[beside.kind](beside.index)
    return _within(shape, reach_m, grid)


def _within(shape: Geometry, reach_m: float, grid: Grid) -> NDArray[np.int64]:
    """Return the cells with their centre within reach of a shape, or crossed by it."""
    near = cells_inside(shape.buffer(reach_m), grid)
    return np.union1d(near, cells_along(shape, grid)).astype(np.int64)


def _cells_of_seen(terrain: Terrain, index: int) -> NDArray[np.int64]:
    """Return the cells from which a way meets an observed line; see `seen.meeting`."""
    line = terrain.features.observations[index].geometry
    reach_m = terrain.observation_reach_m
    cells = _within(line, reach_m, terrain.grid)
    kept = []
    for cell in cells:
        place = Point(terrain.flow.ground.place(int(cell)))
        along_m = line.project(place)
        ends = along_m >= line.length - reach_m
        if not ends and not terrain.barriers.part(place, line.interpolate(along_m)):
            kept.append(cell)
    return np.array(kept, np.int64)


def _down_opening(terrain: Terrain, index: int) -> Onwards:
    """Return what an opening leads to, entered at its middle."""
    shape = terrain.drains.openings[index].geometry
    entered = (
        shape if isinstance(shape, Point) else shape.interpolate(0.5, normalized=True)
    )
    at = Leg(kind="surface", line=LineString([entered, entered]))
    way, place = down(terrain, Way(legs=(at,)), index, None)
    return Onwards(
        way=_without_first(way), cell=None if way.ends else _cell_at(terrain, place)
    )


def _as_seen(terrain: Terrain, index: int) -> Onwards:
    """Return an observed line to its end, or to the water that it was seen to cross."""
    observation = terrain.features.observations[index]
    line = observation.geometry
    wet = terrain.water_near(line, 0.0)
    if wet is not None:
        line = ending_at(line, terrain.waters[wet])
    leg = Leg(kind="observed", line=line, through=observation.id)
    place = Point(line.coords[-1])
    water = terrain.water_near(place, terrain.observation_reach_m)
    if water is None:
        return Onwards(way=Way(legs=(leg,)), cell=_cell_at(terrain, place))
    feature = terrain.features.watercourses[water]
    way = Way(
        legs=(leg,),
        outcome="reaches_water",
        receptor_id=feature.id,
        receptor_kind=feature.kind,
        ends=True,
    )
    return Onwards(way=way, cell=None)


def _cell_at(terrain: Terrain, place: Point) -> int | None:
    ground: Ground = terrain.flow.ground
    return open_cell_near(ground, place, terrain.barriers)


def _without_first(way: Way) -> Way:
    """Return a way without the leg that led to it."""
    return replace(way, legs=way.legs[1:])


def _to_its_end(terrain: Terrain, onwards: Onwards) -> Way:
    """Return how a way ends that goes on over the ground."""
    if onwards.way.ends or onwards.cell is None:
        return onwards.way
    return follow(terrain, Point(terrain.flow.ground.place(onwards.cell)))
