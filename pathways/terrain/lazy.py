"""Ways traced from one source at a time, under an error of the heights or without."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.terrain import _kernels_lazy as kernels
from pathways.terrain.drainage import HOLE, step_offsets

#: Roles of cells under an error of the heights, see `_kernels_lazy.realised`.
SOFT: Final = 0
CREST: Final = 1
LOW: Final = 2
NONE: Final = 3

NO_ERROR: Final = np.empty((0, 5))
_ALL_CELLS: Final = 2**62


@dataclass(frozen=True)
class Ties:
    """Surveyed levels that hold the error: cells, and the pull of each."""

    cells: NDArray[np.float64]  # row, column, class
    pulls: NDArray[np.float64]


NO_TIES: Final = Ties(np.empty((0, 3)), np.empty(0))


@dataclass(frozen=True)
class LazyWay:
    """Where one trace went.

    Parameters
    ----------
    status : int
        `REACHED_END`, `RAN_DRY`, `OVER_BUDGET` or `SHUT_IN` of `_kernels_lazy`.
    cells : ndarray of int64
        Cell numbers from the source on.
    touched : int
        Cells that were looked at.
    held_m : float
        What stands in pools, as a height over one cell [m].
    pools : ndarray of float64, shape (pools, 2)
        One cell of each pool and its level [m].
    """

    status: int
    cells: NDArray[np.int64]
    touched: int
    held_m: float
    pools: NDArray[np.float64]


class LazyTracer:
    """Work space for tracing over one ground; not for two threads at once.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Conditioned ground [m].
    kinds : ndarray of uint8, shape (rows, columns)
        As for `pathways.terrain.drainage.route`.
    roles : ndarray of uint8, shape (rows, columns), optional
        What stays hard under an error; all soft by default.
    classes : ndarray of uint8, shape (rows, columns), optional
        Row of the error model that holds in each cell; 0 by default.

    Examples
    --------
    >>> import numpy as np
    >>> slope = np.repeat(np.arange(5, dtype=np.float32)[:, None], 3, axis=1)
    >>> kinds = np.ones((5, 3), np.uint8)
    >>> kinds[1:-1, 1] = 0
    >>> LazyTracer(slope, kinds).trace(10).cells.tolist()
    [10, 7, 4, 1]
    """

    def __init__(
        self,
        heights_m: NDArray[np.float32],
        kinds: NDArray[np.uint8],
        *,
        roles: NDArray[np.uint8] | None = None,
        classes: NDArray[np.uint8] | None = None,
    ) -> None:
        ground = np.where(kinds == HOLE, np.float32(np.inf), heights_m)
        self._heights = np.ascontiguousarray(ground, np.float32).ravel()
        self._kinds = np.ascontiguousarray(kinds).ravel()
        self._columns = kinds.shape[1]
        self._offsets = step_offsets(self._columns)
        none = np.zeros(kinds.shape, np.uint8)
        self._roles = (none if roles is None else roles).ravel().copy()
        self._roles[self._kinds == HOLE] = NONE
        self._classes = (none if classes is None else classes).ravel()
        self._records = np.zeros(kinds.size, kernels.RECORD)
        self._marks = np.zeros(kinds.size, np.int32)
        self._way = np.empty(65536, np.int64)
        self._pools = np.empty((4096, 2))
        self._trace = 0

    def trace(
        self,
        source: int,
        *,
        volume_m: float = np.inf,
        seed: int = 0,
        model: NDArray[np.float64] = NO_ERROR,
        ties: Ties = NO_TIES,
        budget: int = _ALL_CELLS,
    ) -> LazyWay:
        """Trace liquid from a cell.

        Parameters
        ----------
        source : int
            Number of the cell.
        volume_m : float
            Volume, as a height over one cell [m]; infinite: hollows overflow.
        seed : int
            Realisation of the error.
        model : ndarray of float64, shape (classes, 5)
            Nugget, short and long standard deviation [m], short and long spacing
            [cells]; empty: no error.
        ties : Ties
            Surveyed levels.
        budget : int
            The most cells that may be touched.

        Returns
        -------
        LazyWay
            The same way that `route` gives with `level_by_number`.
        """
        while True:
            self._trace += 1
            status, count, pools, touched, held_m = kernels.trace_lazily(
                source,
                volume_m,
                self._heights,
                self._kinds,
                self._columns,
                self._offsets,
                self._roles,
                np.uint64(seed),
                model,
                self._classes,
                ties.cells,
                ties.pulls,
                LATTICE_CORRELATION,
                self._trace,
                self._records,
                self._marks,
                self._way,
                budget,
                self._pools,
            )
            if count <= self._way.size and pools <= len(self._pools):
                break
            self._way = np.empty(2 * max(count, self._way.size), np.int64)
            self._pools = np.empty((2 * max(pools, len(self._pools)), 2))
        return LazyWay(
            status,
            self._way[:count].copy(),
            touched,
            held_m,
            self._pools[:pools].copy(),
        )

    def realise(
        self, seed: int, model: NDArray[np.float64], ties: Ties = NO_TIES
    ) -> NDArray[np.float32]:
        """Return the heights of all cells in one realisation [m]."""
        out = np.empty(self._heights.size, np.float32)
        kernels.realise(
            self._heights,
            self._columns,
            self._offsets,
            self._roles,
            np.uint64(seed),
            model,
            self._classes,
            ties.cells,
            ties.pulls,
            LATTICE_CORRELATION,
            out,
        )
        return out.reshape(-1, self._columns)


def _lattice_correlation(count: int = 401) -> NDArray[np.float64]:
    """Return the correlation of a lattice field along one axis.

    At distances of 0 to 2 spacings, averaged over where on the lattice the first place
    lies: the integral of the products of the weights that two places share.
    """
    first = (np.arange(2000) + 0.5) / 2000
    found = np.empty(count)
    for entry, distance in enumerate(np.linspace(0.0, 2.0, count)):
        second = first + distance
        apart = np.floor(second)
        share = second - apart
        products = np.where(apart == 0, (1 - first) * (1 - share) + first * share, 0.0)
        products += np.where(apart == 1, first * (1 - share), 0.0)
        norms = np.hypot(1 - first, first) * np.hypot(1 - share, share)
        found[entry] = (products / norms).mean()
    return found


#: Correlation of `_kernels_lazy._lattice` at 0 to 2 spacings along one axis.
LATTICE_CORRELATION: Final = _lattice_correlation()
