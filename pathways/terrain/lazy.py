"""Ways traced from one source at a time, under an error of the heights or without."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.terrain import _kernels_lazy as kernels
from pathways.terrain.drainage import HOLE

#: What stays hard under an error of the heights, see `_kernels_lazy.realised`.
SOFT: Final = 0
CREST: Final = 1
LOW: Final = 2

_ALL_CELLS: Final = 2**62
_MOST_CLASSES: Final = 16


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


@dataclass(frozen=True)
class ErrorModel:
    """Random error of heights, by class of ground.

    Parameters
    ----------
    classes : ndarray of float64, shape (classes, 5)
        Nugget, short and long standard deviation [m], short and long spacing of the
        lattice [cells]. The correlation of the short and long parts falls from 1 to 0
        over two spacings (`LATTICE_CORRELATION`, the product over both axes).
    ties : ndarray of float64, shape (ties, 4)
        Row, column, class and pull of surveyed levels.
    """

    classes: NDArray[np.float64]
    ties: NDArray[np.float64]

    @cached_property
    def packed(self) -> NDArray[np.float64]:
        """The model as the kernels take it; empty where there is no error."""
        if not self.classes.size:
            return np.empty(0)
        return np.concatenate(
            [
                [len(self.classes), len(self.ties)],
                self.classes.ravel(),
                self.ties.ravel(),
                LATTICE_CORRELATION,
            ]
        )


NO_ERROR: Final = ErrorModel(np.empty((0, 5)), np.empty((0, 4)))


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
    hard : ndarray of uint8, shape (rows, columns), optional
        `SOFT`, `CREST` or `LOW`; all soft by default.
    classes : ndarray of uint8, shape (rows, columns), optional
        Row of the error model that holds in each cell, below 16; 0 by default.

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
        hard: NDArray[np.uint8] | None = None,
        classes: NDArray[np.uint8] | None = None,
    ) -> None:
        ground = np.where(kinds == HOLE, np.float32(np.inf), heights_m)
        self.heights = np.ascontiguousarray(ground, np.float32).ravel()
        covers = kinds.astype(np.uint8)
        if hard is not None:
            covers |= hard.astype(np.uint8) << 2
        if classes is not None:
            covers |= (classes.astype(np.uint8) % _MOST_CLASSES) << 4
        self.covers = np.ascontiguousarray(covers).ravel()
        self.columns = int(kinds.shape[1])
        self.records = np.zeros(kinds.size, kernels.RECORD)
        self.marks = np.zeros(kinds.size, np.int32)
        self.way = np.empty(65536, np.int64)
        self.pools = np.empty((4096, 2))
        self.traces = 0

    def trace(
        self,
        source: int,
        *,
        volume_m: float = np.inf,
        seed: int = 0,
        errors: ErrorModel = NO_ERROR,
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
        errors : ErrorModel
            Error of the heights.
        budget : int
            The most cells that may be touched.

        Returns
        -------
        LazyWay
            The same way that `route` gives with `level_by_number`.
        """
        while True:
            self.traces += 1
            status, count, pools, touched, held_m = kernels.trace_lazily(
                source,
                volume_m,
                self.heights,
                self.covers,
                self.columns,
                np.uint64(seed),
                errors.packed,
                self.traces,
                self.records,
                self.marks,
                self.way,
                budget,
                self.pools,
            )
            if count <= self.way.size and pools <= len(self.pools):
                break
            self.way = np.empty(2 * max(count, self.way.size), np.int64)
            self.pools = np.empty((2 * max(pools, len(self.pools)), 2))
        return LazyWay(
            status,
            self.way[:count].copy(),
            touched,
            held_m,
            self.pools[:pools].copy(),
        )

    def realise(self, seed: int, errors: ErrorModel) -> NDArray[np.float32]:
        """Return the heights of all cells in one realisation [m].

        Parameters
        ----------
        seed : int
            Realisation of the error.
        errors : ErrorModel
            Error of the heights.

        Returns
        -------
        ndarray of float32, shape (rows, columns)
            What `trace` sees in the same realisation.
        """
        out = np.empty(self.heights.size, np.float32)
        kernels.realise(
            self.heights,
            self.covers,
            self.columns,
            np.uint64(seed),
            errors.packed,
            out,
        )
        return out.reshape(-1, self.columns)
