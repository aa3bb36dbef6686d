"""Run sources over many versions of the ground, and count where their ways go."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.terrain import _kernels_lazy as kernels
from pathways.terrain.drainage import PIT, Drainage, route
from pathways.terrain.shares import seed_of
from pathways.terrain.versions import Versions

#: Versions are run in blocks of this many.
BLOCK: Final = 100
#: A trace that looks at more than this share of the grid's cells is repeated on the
#: routed grid: about a fifth of what making and routing it costs (docs/benchmarks.md).
BUDGET_SHARE: Final = 0.04
#: On small grids a trace may look at this many cells all the same.
_LEAST_BUDGET_CELLS: Final = 2000


def budget_of(cells: int) -> int:
    """Return how many cells one trace may look at before the grid is routed.

    Parameters
    ----------
    cells : int
        Cells of the grid.

    Returns
    -------
    int
        Number of cells; what is found does not depend on it, only the time it takes.
    """
    return max(_LEAST_BUDGET_CELLS, int(BUDGET_SHARE * cells))


@dataclass(frozen=True)
class Block:
    """What some sources reached in some versions, and over what length [cells]."""

    active: NDArray[np.int64]
    reached: NDArray[np.int16]
    lengths: NDArray[np.float32]


@dataclass(frozen=True)
class Chains:
    """The way of each source over the ground as measured, square by square.

    Parameters
    ----------
    cells : ndarray of int64
        The first cell of the way in each square, source after source.
    begins : ndarray of int64, shape (sources + 1,)
        Where each source's part begins.
    """

    cells: NDArray[np.int64]
    begins: NDArray[np.int64]

    def of(self, source: int) -> slice:
        """Return the part of one source."""
        return slice(int(self.begins[source]), int(self.begins[source + 1]))


@dataclass(frozen=True)
class Counts:
    """In how many versions ways pass.

    Parameters
    ----------
    cells : ndarray of int32, shape (sources, cells)
        Through each cell.
    squares : ndarray of int32, shape (sources, squares)
        Through each square.
    along : ndarray of int32
        Through each square of `Chains` or one beside it: ways that run beside each
        other have not parted.
    """

    cells: NDArray[np.int32]
    squares: NDArray[np.int32]
    along: NDArray[np.int32]

    @classmethod
    def none(cls, versions: Versions, chains: Chains) -> Counts:
        """Return counts that begin at nought."""
        sources = chains.begins.size - 1
        return cls(
            np.zeros((sources, versions.terrain.grid.heights_m.size), np.int32),
            np.zeros((sources, versions.squares), np.int32),
            np.zeros(chains.cells.size, np.int32),
        )

    def take(self, other: Counts) -> None:
        """Add the counts of another."""
        np.add(self.cells, other.cells, out=self.cells)
        np.add(self.squares, other.squares, out=self.squares)
        np.add(self.along, other.along, out=self.along)


class Running:
    """Sources that are run over versions of the ground, block by block.

    Parameters
    ----------
    versions : Versions
        The farm and the error of its heights.
    starts : ndarray of int64
        Cell of each source.
    volumes_l : sequence of float or None
        Volume of each source [l].
    threads : int
        How many versions are run at once; the result does not depend on it.
    """

    def __init__(
        self,
        versions: Versions,
        starts: NDArray[np.int64],
        volumes_l: Sequence[float | None],
        threads: int,
    ) -> None:
        self.versions = versions
        self.starts = starts
        self.onward_cells, self.onward_ends = versions.onwards(volumes_l)
        self.others = np.array(
            [
                versions.number_of(one)
                for one in ("shut_in", "over_budget", "drains_in_a_circle")
            ],
            np.int16,
        )
        self.chains = self._chains()
        self.workers = [_Worker(self) for _ in range(threads)]

    def blocks(self) -> Generator[Block, NDArray[np.int64], None]:
        """Yield what sources reach, block by block of versions, without end.

        Which sources are run in the next block is sent in; all are in the first.

        Yields
        ------
        Block
            The next `BLOCK` versions, in order.
        """
        budget = budget_of(self.versions.terrain.grid.heights_m.size)
        done = 0
        active = np.arange(self.starts.size)
        with ThreadPoolExecutor(len(self.workers)) as pool:
            while True:
                numbers = range(done, done + BLOCK)
                seeds = np.array(
                    [seed_of(self.versions.farm_id, number) for number in numbers],
                    np.uint64,
                )
                parts = np.array_split(seeds, len(self.workers))
                jobs = [
                    pool.submit(worker.run, part, active, budget)
                    for worker, part in zip(self.workers, parts, strict=True)
                ]
                found = [job.result() for job in jobs]
                done += BLOCK
                active = yield Block(
                    active,
                    np.concatenate([one.reached for one in found]),
                    np.concatenate([one.lengths for one in found]),
                )

    def counts(self) -> Counts:
        """Return where ways went in all the versions that were run.

        Returns
        -------
        Counts
            Added up over the threads.
        """
        total = Counts.none(self.versions, self.chains)
        for worker in self.workers:
            total.take(worker.counts)
        return total

    def follow(
        self, drainage: Drainage, source: int
    ) -> tuple[int, float, NDArray[np.int64]]:
        """Follow a source on one routed version, through drains too.

        Parameters
        ----------
        drainage : Drainage
            The version.
        source : int
            Which source.

        Returns
        -------
        tuple of int, float and ndarray of int64
            Number of the end, length [cells], and the cells in order.
        """
        cell, length = int(self.starts[source]), 0.0
        passed: list[NDArray[np.int64]] = []
        onward_cells, onward_ends = self.onward_cells[source], self.onward_ends[source]
        end = int(self.others[2])
        for _ in range(len(onward_cells) + 2):
            way = drainage.way_from(cell)
            passed.append(way)
            length += float(kernels._chords(way, way.size, drainage.steps.shape[1]))
            if drainage.steps.ravel()[way[-1]] == PIT:
                end = int(self.others[0])
                break
            last = int(self.versions.ends_at[way[-1]])
            if last >= len(onward_cells):
                end = last
                break
            if onward_cells[last] < 0:
                end = int(onward_ends[last])
                break
            cell = int(onward_cells[last])
        return end, length, np.concatenate(passed)

    def _chains(self) -> Chains:
        """Return the way of each source over the ground as measured."""
        drainage = self.versions.terrain.flow.drainage
        kept = []
        for source in range(self.starts.size):
            cells = self.follow(drainage, source)[2]
            squares = self.versions.squares_of(cells)
            kept.append(cells[np.flatnonzero(np.diff(squares, prepend=-1))])
        sizes = [0, *(len(one) for one in kept)]
        return Chains(np.concatenate(kept), np.cumsum(sizes).astype(np.int64))


class _Worker:
    """Work space of one thread."""

    def __init__(self, running: Running) -> None:
        self._running = running
        versions = running.versions
        self._tracer = versions.tracer()
        model, self._ties = versions.tied()
        self._errors = model.packed.copy()  # the pulls of ties change in each version
        self.counts = Counts.none(versions, running.chains)
        self._square_marks = np.zeros(versions.squares, np.int32)
        self._chain_squares = versions.squares_of(running.chains.cells)
        self._squares_across = -(-self._tracer.columns // versions.square_side)
        self._cell_marks = np.zeros(self._tracer.heights.size, np.int32)
        self._passed = np.empty(self._tracer.heights.size, np.int32)
        self._routed_ways = 0

    def run(
        self, seeds: NDArray[np.uint64], active: NDArray[np.int64], budget: int
    ) -> Block:
        """Trace some sources in some versions; what looks at too much, by routing."""
        tracer, running = self._tracer, self._running
        reached = np.empty((seeds.size, active.size), np.int16)
        lengths = np.empty((seeds.size, active.size), np.float32)
        tracer.traces = kernels.run_realisations(
            running.starts,
            active,
            seeds,
            tracer.heights,
            tracer.covers,
            tracer.columns,
            self._errors,
            self._ties.levels,
            self._ties.inverse,
            running.versions.ends_at,
            running.onward_cells,
            running.onward_ends,
            running.others,
            tracer.traces,
            tracer.records,
            tracer.marks,
            tracer.way,
            budget,
            tracer.pools,
            self.counts.cells,
            running.versions.square_side,
            self.counts.squares,
            self._square_marks,
            self._chain_squares,
            running.chains.begins,
            self.counts.along,
            self._cell_marks,
            self._passed,
            reached,
            lengths,
        )
        for run in np.flatnonzero((reached == running.others[1]).any(axis=1)):
            drainage = self._routed(seeds[run])
            for entry in np.flatnonzero(reached[run] == running.others[1]):
                reached[run, entry], lengths[run, entry] = self._count_routed(
                    drainage, int(active[entry])
                )
        return Block(active, reached, lengths)

    def _routed(self, seed: np.uint64) -> Drainage:
        """Route one version of the whole grid."""
        tracer, ties = self._tracer, self._ties
        if len(ties.levels):
            kernels.tie(
                tracer.covers,
                tracer.columns,
                seed,
                self._errors,
                ties.levels,
                ties.inverse,
            )
        heights = np.empty(tracer.heights.size, np.float32)
        kernels.realise(
            tracer.heights, tracer.covers, tracer.columns, seed, self._errors, heights
        )
        ground = self._running.versions.terrain.flow.ground
        return route(
            heights.reshape(ground.roles.shape), ground.kinds, level_by_number=True
        )

    def _count_routed(self, drainage: Drainage, source: int) -> tuple[int, float]:
        """Count one source on a routed version; return its end and length [cells]."""
        end, length, passed = self._running.follow(drainage, source)
        cells = np.unique(passed)
        squares = np.unique(self._running.versions.squares_of(cells))
        self.counts.cells[source, cells] += 1
        self.counts.squares[source, squares] += 1
        self._routed_ways += 1
        mark = -self._routed_ways  # those of traced ways are above nought
        self._square_marks[squares] = mark
        mine = self._running.chains.of(source)
        kernels.count_along(
            self._chain_squares,
            mine.start,
            mine.stop,
            self._square_marks,
            mark,
            self._squares_across,
            self.counts.along,
        )
        return end, length


def routed_once(versions: Versions, start: int) -> Block:
    """Return what one source reaches in one version, by way of the routed grid.

    Parameters
    ----------
    versions : Versions
        The farm and the error of its heights.
    start : int
        Cell of the source.

    Returns
    -------
    Block
        The same as tracing finds.
    """
    (worker,) = Running(versions, np.array([start]), [None], 1).workers
    seeds = np.array([seed_of(versions.farm_id, 0)], np.uint64)
    return worker.run(seeds, np.array([0]), budget=0)
