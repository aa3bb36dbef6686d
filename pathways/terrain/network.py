"""Where liquid goes from every cell at once: what a page needs to follow a tap.

`follow` traces one place with everything that is known of it. A page that opens without
a network cannot call it, so all cells are worked out beforehand: the step from each
cell, the fall that guides the drawn line, where steps end, and what each opening leads
to. The page only walks through these arrays.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from pathways.grid import Grid
from pathways.terrain import _kernels
from pathways.terrain.barriers import ALONG_REACHES
from pathways.terrain.cells import cells_inside
from pathways.terrain.drainage import END
from pathways.terrain.hollows import Pool, pools_of
from pathways.terrain.landscape import Terrain
from pathways.terrain.network_beside import (
    along_legs,
    groups_of_cells,
    things_beside,
)
from pathways.terrain.network_onwards import (
    openings_onwards,
    seen_onwards,
    ways_past,
)
from pathways.terrain.network_parts import Beside, Onwards, Seen
from pathways.terrain.surface import NOBODY, Role

#: Ground with more cells would make a page that no telephone opens, so its ways are not
#: worked out from all of them.
MOST_CELLS: Final = 4_000_000

#: In `covers`: nothing can be spilt here, for a roof, wall or kerb takes up the cell.
CLOSED: Final = 255


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
    beside_at : ndarray of uint32, shape (rows, columns)
        Place in `groups`.
    groups : tuple of tuple of int
        Places in `beside`; the first group is empty.
    beside : tuple of Beside
        What is near cells.
    openings : tuple of Onwards
        What each of `Drains.openings` leads to.
    opening_ids : tuple of str
        Their ids.
    seen : tuple of Seen
        The observed lines of flow, in the order of the drawing.
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
    beside_at: NDArray[np.uint32]
    groups: tuple[tuple[int, ...], ...]
    beside: tuple[Beside, ...]
    openings: tuple[Onwards, ...]
    opening_ids: tuple[str, ...]
    seen: tuple[Seen, ...]


def network_of(terrain: Terrain) -> Network:
    """Return the ways from all cells of a farm.

    Parameters
    ----------
    terrain : Terrain
        Ground and drains, all working.

    Returns
    -------
    Network
        Steps and ends are those of `follow`. Openings whose drains lead back to them
        bear the whole way that `follow` finds from there.
    """
    flow = terrain.flow
    kept = terrain.flows_kept
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
    openings = openings_onwards(terrain)
    beside = things_beside(terrain, openings)
    beside_at, groups = groups_of_cells(terrain, beside)
    seen = tuple(
        seen_onwards(terrain, one.index, beside)
        for one in beside
        if one.kind == "flow_seen"
    )
    openings = tuple(
        replace(
            one,
            past=ways_past(terrain, index, one, kept),
            beside=along_legs(terrain, one.way.legs, beside),
        )
        for index, one in enumerate(openings)
    )
    terrain.forget_flows(kept)
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
        openings=openings,
        opening_ids=tuple(one.id for one in terrain.drains.openings),
        seen=seen,
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
