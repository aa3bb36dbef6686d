"""Hollows in hollows: which pools join as water rises, and what each holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pathways.terrain import _kernels_hollows as kernels
from pathways.terrain.drainage import basin_graph


@dataclass(frozen=True)
class HollowTree:
    """A table of hollows, one row each, from the innermost outwards.

    Water in a hollow rises to its pass. There it runs off, or meets the water of the
    hollow beyond: then both are children of a larger one (Barnes, Callaghan & Wickert
    2020, doi 10.5194/esurf-8-431-2020).

    Parameters
    ----------
    pit_cell, pass_cell : ndarray of int64
        Number of the lowest cell, and of the cell over which it spills; no pass (-1)
        where it is shut in.
    spill_level_m : ndarray of float64
        Height of the pass [m]; infinite where it is shut in.
    volume_m3 : ndarray of float64
        What it holds up to that level, its children included [m³].
    cells : ndarray of int64
        Cells that lie below that level.
    parent : ndarray of int64
        Row of the hollow that it is part of; -1 where it spills for good.
    children : ndarray of int64, shape (hollows, 2)
        Rows of the two that join in it; -1 where there are none.
    """

    pit_cell: NDArray[np.int64]
    pass_cell: NDArray[np.int64]
    spill_level_m: NDArray[np.float64]
    volume_m3: NDArray[np.float64]
    cells: NDArray[np.int64]
    parent: NDArray[np.int64]
    children: NDArray[np.int64]

    def __len__(self) -> int:
        """Return the number of hollows."""
        return int(self.parent.size)

    @property
    def outermost(self) -> NDArray[np.int64]:
        """Rows of the hollows that are part of no other."""
        return np.flatnonzero(self.parent < 0)


def hollow_tree(
    heights_m: NDArray[np.float32], kinds: NDArray[np.uint8], cell_size_m: float
) -> HollowTree:
    """Return the hollows of a ground and how they nest.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Conditioned ground [m]. Not altered.
    kinds : ndarray of uint8, shape (rows, columns)
        As for `pathways.terrain.drainage.route`.
    cell_size_m : float
        Side of a cell [m].

    Returns
    -------
    HollowTree
        Every hollow of at least one cell. Where three join at one level, two of them
        join first, in the order of the cells; the volumes do not depend on it.

    Raises
    ------
    LimitError
        If the grid is too large for the memory allowed.

    Examples
    --------
    >>> import numpy as np
    >>> ground = np.full((3, 7), 5, np.float32)
    >>> ground[1, 1:6] = [2, 1, 3, 0, 4]
    >>> kinds = np.ones((3, 7), np.uint8)
    >>> kinds[1, 1:6] = 0
    >>> tree = hollow_tree(ground, kinds, 1.0)
    >>> tree.volume_m3.tolist(), tree.parent.tolist()
    ([3.0, 3.0, 15.0], [2, 2, -1])
    """
    graph = basin_graph(heights_m, kinds, merge_small_pits=False)
    heights = graph.ground_m.ravel()
    pit_cell, pass_cell, parent, children = kernels.nest(
        heights,
        graph.pits,
        graph.keys,
        graph.first_basins,
        graph.second_basins,
        np.argsort(graph.keys, kind="stable"),
    )
    level_m = np.where(pass_cell < 0, np.inf, heights[pass_cell].astype(np.float64))
    cells, sums_m = kernels.measure(heights, graph.labels.ravel(), parent, level_m)
    volume_m3 = (cells * level_m - sums_m) * cell_size_m**2
    return HollowTree(pit_cell, pass_cell, level_m, volume_m3, cells, parent, children)
