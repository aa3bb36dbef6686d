"""Where each cell's water goes next, and the hollows that it must fill on the way."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.errors import LimitError
from pathways.terrain import _kernels
from pathways.terrain._kernels import COLUMN_STEP, ENDS, NOT_GROUND, PIT, ROW_STEP

#: Kinds of cell that routing tells apart.
GROUND: Final = 0
END: Final = 1
HOLE: Final = 2

#: Peak of memory while routing, measured on 4,000 x 4,000 cells [bytes a cell].
ROUTING_BYTES_PER_CELL: Final = 30
#: What a run may use unless the caller says otherwise [bytes].
MEMORY_LIMIT_BYTES: Final = 8_000_000_000
_MOST_CELLS: Final = 2**31 - 1  # cell numbers are int32 inside


def step_offsets(columns: int) -> NDArray[np.int64]:
    """Return by how much a cell's number changes with each of the eight steps."""
    return (ROW_STEP * columns + COLUMN_STEP).astype(np.int64)


@dataclass(frozen=True)
class Drainage:
    """The way of water from every cell.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        The ground that was routed [m]; infinite where there is none.
    kinds : ndarray of uint8, shape (rows, columns)
        `GROUND`, `END` or `HOLE`.
    steps : ndarray of uint8, shape (rows, columns)
        0 to 7 from east clockwise; 9 where the way ends; 8 at the lowest place of a
        yard that is shut in; 255 where there is no ground.
    filled_m : ndarray of float32, shape (rows, columns)
        Level to which water must stand to leave the cell [m]: the highest ground on the
        way with the lowest such height. Infinite where the cell is shut in, NaN where
        there is no ground.
    """

    heights_m: NDArray[np.float32]
    kinds: NDArray[np.uint8]
    steps: NDArray[np.uint8]
    filled_m: NDArray[np.float32]

    @property
    def columns(self) -> int:
        """Number of columns."""
        return int(self.steps.shape[1])

    @cached_property
    def offsets(self) -> NDArray[np.int64]:
        """Change of the cell's number with each step."""
        return step_offsets(self.columns)

    def way_from(self, cell: int) -> NDArray[np.int64]:
        """Return the numbers of the cells from one cell to where its way ends.

        Parameters
        ----------
        cell : int
            Number of the first cell, counted by rows.

        Returns
        -------
        ndarray of int64
            Cell numbers, the first cell and the last included.
        """
        way = np.empty(4096, np.int64)
        flat = self.steps.ravel()
        count = _kernels.follow(flat, cell, self.offsets, way)
        if count > way.size:
            way = np.empty(count, np.int64)
            _kernels.follow(flat, cell, self.offsets, way)
        return way[:count]

    def guided_way_from(
        self, cell: int, *, east_cells: float = 0.0, north_cells: float = 0.0
    ) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Return the cells of a way that is true on planes, and its deviations.

        See `_kernels.guided_way`: the fall of the ground decides between two steps, so
        that the way does not drift off as one of eight directions does.

        Parameters
        ----------
        cell : int
            Number of the first cell.
        east_cells, north_cells : float
            How far that cell's centre lies east and north of where the way begins, in
            cells.

        Returns
        -------
        cells : ndarray of int64
            Cell numbers.
        deviations : ndarray of float64
            How far each cell's centre lies to the right of the way [cells].
        """
        size = self.steps.size
        room = min(size, 16384)
        while True:
            way = np.empty(room, np.int64)
            deviations = np.empty(room, np.float64)
            count = _kernels.guided_way(
                self.heights_m.ravel(),
                self.filled_m.ravel(),
                self.steps.ravel(),
                self.kinds.ravel(),
                cell,
                east_cells,
                north_cells,
                self.offsets,
                way,
                deviations,
            )
            if count < room or room == size:
                return way[:count], deviations[:count]
            room = min(size, 4 * room)


def route(
    heights_m: NDArray[np.float32],
    kinds: NDArray[np.uint8],
    *,
    level_by_number: bool = False,
    memory_limit_bytes: int = MEMORY_LIMIT_BYTES,
) -> Drainage:
    """Route water over a grid.

    Every cell of ground drains to an end, or lies in a yard that is shut in. The
    filled surface equals that of a priority flood (Barnes, Lehman & Mulla 2014, doi
    10.1016/j.cageo.2013.04.024); it is found through the graph of basins instead
    (`pathways.terrain._kernels`).

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Ground [m]. Not altered.
    kinds : ndarray of uint8, shape (rows, columns)
        `GROUND`, `END` or `HOLE`. The rim of the grid and cells beside a hole in the
        data must be ends, or holes, already.
    level_by_number : bool
        Lead level ground by the number of its cells instead of by the fewest steps: the
        rule that `pathways.terrain.lazy` follows.
    memory_limit_bytes : int
        Refuse rather than use more.

    Returns
    -------
    Drainage
        Steps and filled surface of every cell.

    Raises
    ------
    LimitError
        If the grid is too large for the memory allowed.

    Examples
    --------
    >>> import numpy as np
    >>> bowl = np.array([[3, 3, 3], [3, 1, 3], [3, 2, 3]], np.float32)
    >>> kinds = np.ones((3, 3), np.uint8)
    >>> kinds[1, 1] = GROUND
    >>> drainage = route(bowl, kinds)
    >>> float(drainage.filled_m[1, 1]), int(drainage.steps[1, 1])
    (2.0, 2)
    """
    graph = basin_graph(
        heights_m,
        kinds,
        level_by_number=level_by_number,
        memory_limit_bytes=memory_limit_bytes,
    )
    flat, labels = graph.ground_m.ravel(), graph.labels.ravel()
    columns = graph.steps.shape[1]
    offsets = step_offsets(columns)
    spill_pass, spill_level, _ = _kernels.join_basins(
        flat,
        graph.keys,
        graph.lower_cells,
        graph.first_basins,
        graph.second_basins,
        graph.pits,
        columns,
    )
    _kernels.carve(
        flat,
        graph.steps.ravel(),
        labels,
        graph.keys,
        graph.lower_cells,
        spill_pass,
        graph.pits,
        graph.level_pits,
        offsets,
        columns,
    )
    small = _kernels.levels_of_small_pits(
        flat, labels, spill_level, graph.merged_pits, offsets
    )
    # The labels are not needed after this: their memory takes the filled surface.
    filled = graph.labels.view(np.float32)
    _kernels.fill(flat, labels, spill_level, filled.ravel(), 0, flat.size)
    filled.ravel()[graph.merged_pits] = small
    return Drainage(graph.ground_m, kinds, graph.steps, filled)


@dataclass(frozen=True)
class BasinGraph:
    """The basins of a ground and the lowest pass between each two that touch.

    Basin 0 is no ground, basin 1 is all that drains to an end. See `_kernels` for the
    arrays; steps lead down to the pits, not yet over the passes.
    """

    ground_m: NDArray[np.float32]
    steps: NDArray[np.uint8]
    labels: NDArray[np.int32]
    pits: NDArray[np.int32]
    level_pits: NDArray[np.int32]
    merged_pits: NDArray[np.int32]
    keys: NDArray[np.uint64]
    lower_cells: NDArray[np.int32]
    first_basins: NDArray[np.int32]
    second_basins: NDArray[np.int32]


def basin_graph(
    heights_m: NDArray[np.float32],
    kinds: NDArray[np.uint8],
    *,
    level_by_number: bool = False,
    merge_small_pits: bool = True,
    memory_limit_bytes: int = MEMORY_LIMIT_BYTES,
) -> BasinGraph:
    """Find the basins of a ground and the passes between them.

    Parameters
    ----------
    heights_m, kinds, level_by_number, memory_limit_bytes
        As for `route`.
    merge_small_pits : bool
        Lead a pit of one cell over its lowest neighbour at once. It is then no basin.

    Returns
    -------
    BasinGraph
        Labels, pits and passes.

    Raises
    ------
    LimitError
        If the grid is too large for the memory allowed.
    """
    _refuse_too_large(heights_m.size, memory_limit_bytes)
    rows, columns = heights_m.shape
    ground = np.where(kinds == HOLE, np.float32(np.inf), heights_m)
    ground = np.ascontiguousarray(ground, np.float32)
    flat = ground.ravel()
    offsets = step_offsets(columns)
    none = np.empty(0, np.int32)

    steps = np.empty((rows, columns), np.uint8)
    flat_steps = steps.ravel()
    _kernels.find_steps(ground, kinds, steps, 0, rows)
    if level_by_number:
        _kernels.number_levels(flat, flat_steps, offsets)
        level_pits = none
    else:
        level_pits = _kernels.drain_plateaus(flat, flat_steps, offsets)
    merged = none
    if merge_small_pits:
        merged = _kernels.merge_small_pits(flat, flat_steps, offsets)

    labels = np.zeros((rows, columns), np.int32)
    pits = _kernels.label_basins(flat_steps, labels.ravel(), offsets)
    marks = np.empty((rows, columns), np.uint8)
    _kernels.mark_passes(ground, labels, marks, 0, rows)
    passes = _kernels.list_passes(
        flat, flat.view(np.uint32), labels.ravel(), marks.ravel(), columns, pits.size
    )
    return BasinGraph(ground, steps, labels, pits, level_pits, merged, *passes)


def _refuse_too_large(cells: int, memory_limit_bytes: int) -> None:
    need = cells * ROUTING_BYTES_PER_CELL
    if need > memory_limit_bytes or cells > _MOST_CELLS:
        msg = (
            f"routing {cells:,} cells needs about {need / 1e9:.1f} GB, more "
            f"than the {memory_limit_bytes / 1e9:.1f} GB allowed: cut out the ground "
            "about the farm, or use larger cells"
        )
        raise LimitError(msg)


def accumulate(
    drainage: Drainage, amounts: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """Return what flows through each cell, its own amount included.

    Parameters
    ----------
    drainage : Drainage
        Ways of water.
    amounts : ndarray of float64, shape (rows, columns), optional
        What each cell gives, such as its area; 1 for each cell of ground by default.
        Not altered.

    Returns
    -------
    ndarray of float64, shape (rows, columns)
        Sums. Those of all ends, and of the lowest place of each yard that is shut in,
        add up to all that was given.
    """
    if amounts is None:
        sums: NDArray[np.float64] = (drainage.kinds != HOLE).astype(np.float64)
    else:
        sums = np.array(amounts, np.float64, order="C")
    inflows = np.empty(drainage.steps.shape, np.uint8)
    _kernels.count_inflows(drainage.steps, inflows)
    _kernels.accumulate(
        drainage.steps.ravel(),
        inflows.ravel(),
        sums.ravel(),
        drainage.columns,
        drainage.offsets,
    )
    return sums


__all__ = [
    "END",
    "ENDS",
    "GROUND",
    "HOLE",
    "NOT_GROUND",
    "PIT",
    "BasinGraph",
    "Drainage",
    "accumulate",
    "basin_graph",
    "route",
    "step_offsets",
]
