"""Many versions of one farm's ground, and what sources reach in each."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.elevation_error import HARD, OPEN, ErrorScenario
from pathways.features import SpotLevel
from pathways.grid import Cell
from pathways.terrain import _kernels_lazy as kernels
from pathways.terrain.cells import cells_inside
from pathways.terrain.drainage import PIT, Drainage, route
from pathways.terrain.drains import Lead
from pathways.terrain.landscape import Terrain
from pathways.terrain.lazy import (
    CREST,
    LATTICE_CORRELATION,
    LOW,
    ErrorModel,
    LazyTracer,
)
from pathways.terrain.seen import dye_lead
from pathways.terrain.shares import seed_of
from pathways.terrain.surface import Role, open_cell_near
from pathways.terrain.way import tank_is_sure

#: Versions are run in blocks of this many.
BLOCK: Final = 100
#: A trace that looks at more than this share of the grid's cells is repeated on the
#: routed grid: about a fifth of what making and routing it costs (docs/benchmarks.md).
BUDGET_SHARE: Final = 0.04
#: On small grids a trace may look at this many cells all the same.
_LEAST_BUDGET_CELLS: Final = 2000
#: Side of the blocks in which ways are counted together, if cells are smaller [m].
_BLOCK_SIDE_M: Final = 2.0
#: Correlation at the distance that is called a range.
_AT_RANGE: Final = 0.05

_OTHER_ENDS: Final = (
    "contained",
    "leaves_grid",
    "meets_no_data",
    "shut_in",
    "over_budget",
    "drains_in_a_circle",
)


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


def spacing_of(range_m: float, cell_size_m: float) -> float:
    """Return the lattice spacing for a range [cells].

    Parameters
    ----------
    range_m : float
        Distance along a row at which the correlation is 0.05 [m].
    cell_size_m : float
        Side of a cell [m].

    Returns
    -------
    float
        Spacing [cells], at least one.
    """
    distances = np.linspace(0.0, 2.0, len(LATTICE_CORRELATION))
    at = np.interp(-_AT_RANGE, -LATTICE_CORRELATION, distances)
    return max(1.0, range_m / cell_size_m / float(at))


def error_model(scenario: ErrorScenario, cell_size_m: float) -> ErrorModel:
    """Return a scenario as the kernels take it.

    Parameters
    ----------
    scenario : ErrorScenario
        Standard deviations and ranges.
    cell_size_m : float
        Side of a cell [m].

    Returns
    -------
    ErrorModel
        Rows `OPEN` and `HARD`.
    """
    spacings = [
        spacing_of(scenario.short_range_m, cell_size_m),
        spacing_of(scenario.long_range_m, cell_size_m),
    ]
    rows = np.empty((2, 5))
    for row, error in ((OPEN, scenario.open), (HARD, scenario.hard)):
        rows[row] = [error.nugget_m, error.short_m, error.long_m, *spacings]
    return ErrorModel(rows, np.empty((0, 4)))


@dataclass(frozen=True)
class Ties:
    """Surveyed levels: where, what they say of the grid's error, and how they pull."""

    cells: NDArray[np.float64]  # row, column, class, 0
    levels: NDArray[np.float64]  # observed error and its standard error [m]
    inverse: NDArray[np.float64]


@dataclass(frozen=True)
class Block:
    """What some sources reached in some versions, and over what length [cells]."""

    active: NDArray[np.int64]
    reached: NDArray[np.int16]
    lengths: NDArray[np.float32]


@dataclass(frozen=True)
class Versions:
    """The versions of a farm's ground under one scenario of the error.

    Parameters
    ----------
    terrain : Terrain
        Ground, drains and what is drawn.
    scenario : ErrorScenario
        Error of the heights.
    farm_id : str
        Decides the versions, with their number.
    spot_level_error_m : float
        Standard error of a surveyed level that gives none [m].
    """

    terrain: Terrain
    scenario: ErrorScenario
    farm_id: str
    spot_level_error_m: float

    @cached_property
    def _hard(self) -> NDArray[np.uint8]:
        """What stays hard in each cell."""
        ground = self.terrain.flow.ground
        hard = np.zeros(ground.roles.shape, np.uint8)
        hard[ground.barrier_at >= 0] = CREST
        hard[np.isin(ground.roles, (Role.WATER, Role.OPENING))] = LOW
        return hard

    @cached_property
    def _classes(self) -> NDArray[np.uint8]:
        """Class of ground of each cell."""
        grid = self.terrain.grid
        classes = np.full(grid.heights_m.size, OPEN, np.uint8)
        for surface in self.terrain.features.surfaces:
            if surface.kind in ("concrete", "asphalt"):
                classes[cells_inside(surface.geometry, grid)] = HARD
        return classes.reshape(grid.heights_m.shape)

    def tracer(self) -> LazyTracer:
        """Return work space of its own for one thread."""
        flow = self.terrain.flow
        return LazyTracer(
            flow.drainage.heights_m,
            flow.ground.kinds,
            hard=self._hard,
            classes=self._classes,
        )

    @cached_property
    def ends(self) -> tuple[tuple[str, str], ...]:
        """Id and kind of everything that a way can end in; openings come first."""
        openings = [(one.id, "drain") for one in self.terrain.drains.openings]
        waters = [(one.id, one.kind) for one in self.terrain.features.watercourses]
        return (*openings, *waters, *(("", one) for one in _OTHER_ENDS))

    def number_of(self, kind: str) -> int:
        """Return the number of an end that is neither water nor a drain."""
        return self.ends.index(("", kind))

    @property
    def block_side(self) -> int:
        """Side of the blocks in which ways are counted together [cells].

        Ways of two versions that run a step beside each other are the same way.
        """
        return max(1, round(_BLOCK_SIDE_M / self.terrain.grid.cell_size_m))

    @property
    def blocks(self) -> int:
        """Number of blocks."""
        grid, side = self.terrain.grid, self.block_side
        return -(-grid.rows // side) * -(-grid.columns // side)

    def blocks_of(self, cells: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the number of the block of each cell."""
        columns, side = self.terrain.grid.columns, self.block_side
        across = -(-columns // side)
        numbers: NDArray[np.int64] = (
            cells // columns // side * across + cells % columns // side
        )
        return numbers

    def is_water(self, reached: NDArray[np.int16]) -> NDArray[np.bool_]:
        """Return where the number of an end is that of a watercourse."""
        first = len(self.terrain.drains.openings)
        after = first + len(self.terrain.features.watercourses)
        water: NDArray[np.bool_] = (reached >= first) & (reached < after)
        return water

    def may_be_water(self, reached: NDArray[np.int16]) -> NDArray[np.bool_]:
        """Return where nothing known keeps the liquid from water."""
        held: NDArray[np.bool_] = reached == self.number_of("contained")
        return ~held

    @cached_property
    def ends_at(self) -> NDArray[np.int16]:
        """Number of the end in each cell."""
        ground = self.terrain.flow.ground
        openings = len(self.terrain.drains.openings)
        ends = np.full(ground.roles.shape, -1, np.int16)
        ends[ground.roles == Role.EDGE] = self.number_of("leaves_grid")
        ends[ground.roles == Role.BESIDE_NO_DATA] = self.number_of("meets_no_data")
        water = ground.roles == Role.WATER
        ends[water] = openings + ground.water_at[water]
        opening = ground.roles == Role.OPENING
        ends[opening] = ground.opening_at[opening]
        return ends.ravel()

    def onwards(
        self, volumes_l: Sequence[float | None]
    ) -> tuple[NDArray[np.int64], NDArray[np.int16]]:
        """Return where drains lead from each opening, for each source.

        Parameters
        ----------
        volumes_l : sequence of float or None
            Volume of each source [l]; a tank holds it only when it is known.

        Returns
        -------
        cells : ndarray of int64, shape (sources, openings)
            Cell where drains come out on the ground; -1 where they end.
        ends : ndarray of int16, shape (sources, openings)
            Number of what they end in.
        """
        openings = self.terrain.drains.openings
        cells = np.full((len(volumes_l), len(openings)), -1, np.int64)
        ends = np.tile(np.arange(len(openings), dtype=np.int16), (len(volumes_l), 1))
        for number, opening in enumerate(openings):
            entered = opening.geometry.centroid
            seen = dye_lead(self.terrain, opening, entered)
            lead = seen or self.terrain.drains.lead_of(opening, entered)
            for source, volume_l in enumerate(volumes_l):
                cells[source, number], end = self._onward(lead, volume_l)
                if end >= 0:
                    ends[source, number] = end
        return cells, ends

    def _onward(self, lead: Lead, volume_l: float | None) -> tuple[int, int]:
        """Return the cell where drains come out, and what they end in; -1 neither."""
        if lead.ends == "water":
            waters = [one.id for one in self.terrain.features.watercourses]
            openings = len(self.terrain.drains.openings)
            return -1, openings + waters.index(lead.receptor_id)
        if lead.ends == "tank" and tank_is_sure(self.terrain, lead, volume_l):
            return -1, self.number_of("contained")
        if lead.ends in ("surface", "tank") and lead.place is not None:
            cell = open_cell_near(
                self.terrain.flow.ground, lead.place, self.terrain.barriers
            )
            if cell is None:
                return -1, self.number_of("leaves_grid")
            return cell, -1
        return -1, -1

    def ties(self, model: ErrorModel) -> Ties:
        """Return the surveyed levels as the kernels take them.

        Parameters
        ----------
        model : ErrorModel
            Gives the covariances.

        Returns
        -------
        Ties
            One a cell: where several levels lie in one cell, the first counts.
        """
        grid = self.terrain.grid
        kept: dict[Cell, SpotLevel] = {}
        for spot in self.terrain.features.spot_levels:
            cell = grid.cell_at(spot.geometry.x, spot.geometry.y)
            if cell is not None and np.isfinite(grid.heights_m[cell]):
                kept.setdefault(cell, spot)
        cells = np.array(
            [[*cell, float(self._classes[cell]), 0.0] for cell in kept]
        ).reshape(-1, 4)
        levels = np.array(
            [
                [
                    spot.level_m - float(grid.heights_m[cell]),
                    self.spot_level_error_m
                    if spot.accuracy_m is None
                    else spot.accuracy_m,
                ]
                for cell, spot in kept.items()
            ]
        ).reshape(-1, 2)
        covariances = np.array(
            [[_covariance(one, other, model) for other in cells] for one in cells]
        ).reshape(len(cells), len(cells))
        covariances += np.diag(levels[:, 1] ** 2)
        return Ties(cells, levels, np.linalg.pinv(covariances))

    def routed_once(self, start: int) -> Block:
        """Return what one source reaches in one version, by way of the routed grid.

        Parameters
        ----------
        start : int
            Cell of the source.

        Returns
        -------
        Block
            The same as tracing finds.
        """
        model = error_model(self.scenario, self.terrain.grid.cell_size_m)
        ties = self.ties(model)
        tied = ErrorModel(model.classes, ties.cells)
        worker = _Worker(self, tied, ties, np.array([start]), [None])
        seeds = np.array([seed_of(self.farm_id, 0)], np.uint64)
        return worker.run(seeds, np.array([0]), budget=0)

    def runs(
        self,
        starts: NDArray[np.int64],
        volumes_l: Sequence[float | None],
        visits: NDArray[np.int32],
        block_visits: NDArray[np.int32],
        threads: int,
    ) -> Generator[Block, NDArray[np.int64], None]:
        """Yield what sources reach, block by block of versions, without end.

        Which sources are run in the next block is sent in; all are in the first.

        Parameters
        ----------
        starts : ndarray of int64
            Cell of each source.
        volumes_l : sequence of float or None
            Volume of each source [l].
        visits : ndarray of int32, shape (sources, cells)
            Versions in which each cell is passed are added here when this is closed.
        block_visits : ndarray of int32, shape (sources, blocks)
            The same for each block.
        threads : int
            How many versions are run at once; the result does not depend on it.

        Yields
        ------
        Block
            The next `BLOCK` versions, in order.
        """
        model = error_model(self.scenario, self.terrain.grid.cell_size_m)
        ties = self.ties(model)
        tied = ErrorModel(model.classes, ties.cells)
        workers = [_Worker(self, tied, ties, starts, volumes_l) for _ in range(threads)]
        budget = budget_of(self.terrain.grid.heights_m.size)
        done = 0
        active = np.arange(starts.size)
        try:
            with ThreadPoolExecutor(threads) as pool:
                while True:
                    numbers = range(done, done + BLOCK)
                    seeds = np.array(
                        [seed_of(self.farm_id, number) for number in numbers], np.uint64
                    )
                    jobs = [
                        pool.submit(worker.run, part, active, budget)
                        for worker, part in zip(
                            workers, np.array_split(seeds, threads), strict=True
                        )
                    ]
                    parts = [job.result() for job in jobs]
                    done += BLOCK
                    active = yield Block(
                        active,
                        np.concatenate([one.reached for one in parts]),
                        np.concatenate([one.lengths for one in parts]),
                    )
        finally:  # once, for these arrays are as large as the ground
            for worker in workers:
                visits += worker.visits
                block_visits += worker.block_visits


def _covariance(
    one: NDArray[np.float64], other: NDArray[np.float64], model: ErrorModel
) -> float:
    """Return the covariance of the errors in two cells [m²]."""
    covariance: float = kernels.covariance(
        abs(one[0] - other[0]),
        abs(one[1] - other[1]),
        int(one[2]),
        int(other[2]),
        model.packed,
    )
    return covariance


class _Worker:
    """Work space of one thread."""

    def __init__(
        self,
        versions: Versions,
        model: ErrorModel,
        ties: Ties,
        starts: NDArray[np.int64],
        volumes_l: Sequence[float | None],
    ) -> None:
        self._versions = versions
        self._tracer = versions.tracer()
        self._errors = model.packed.copy()  # the pulls of ties change in each version
        self._ties = ties
        self._starts = starts
        self._onward_cells, self._onward_ends = versions.onwards(volumes_l)
        self._others = np.array(
            [
                versions.number_of(one)
                for one in ("shut_in", "over_budget", "drains_in_a_circle")
            ],
            np.int16,
        )
        self.visits = np.zeros((starts.size, self._tracer.heights.size), np.int32)
        self.block_visits = np.zeros((starts.size, versions.blocks), np.int32)
        self._block_marks = np.zeros(versions.blocks, np.int32)
        self._cell_marks = np.zeros(self._tracer.heights.size, np.int32)
        self._passed = np.empty(self._tracer.heights.size, np.int32)

    def run(
        self, seeds: NDArray[np.uint64], active: NDArray[np.int64], budget: int
    ) -> Block:
        """Trace some sources in some versions; what looks at too much, by routing."""
        tracer = self._tracer
        reached = np.empty((seeds.size, active.size), np.int16)
        lengths = np.empty((seeds.size, active.size), np.float32)
        tracer.traces = kernels.run_realisations(
            self._starts,
            active,
            seeds,
            tracer.heights,
            tracer.covers,
            tracer.columns,
            self._errors,
            self._ties.levels,
            self._ties.inverse,
            self._versions.ends_at,
            self._onward_cells,
            self._onward_ends,
            self._others,
            tracer.traces,
            tracer.records,
            tracer.marks,
            tracer.way,
            budget,
            tracer.pools,
            self.visits,
            self._versions.block_side,
            self.block_visits,
            self._block_marks,
            self._cell_marks,
            self._passed,
            reached,
            lengths,
        )
        for run in np.flatnonzero((reached == self._others[1]).any(axis=1)):
            drainage = self._routed(seeds[run])
            for entry in np.flatnonzero(reached[run] == self._others[1]):
                reached[run, entry], lengths[run, entry] = self._follow(
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
        ground = self._versions.terrain.flow.ground
        return route(
            heights.reshape(ground.roles.shape), ground.kinds, level_by_number=True
        )

    def _follow(self, drainage: Drainage, source: int) -> tuple[int, float]:
        """Return what a source reaches on a routed version, and over what length."""
        cell, length = int(self._starts[source]), 0.0
        passed: list[NDArray[np.int64]] = []
        onward_cells, onward_ends = (
            self._onward_cells[source],
            self._onward_ends[source],
        )
        end = int(self._others[2])
        for _ in range(len(onward_cells) + 2):
            way = drainage.way_from(cell)
            passed.append(way)
            length += float(kernels._chords(way, way.size, self._tracer.columns))
            if drainage.steps.ravel()[way[-1]] == PIT:
                end = int(self._others[0])
                break
            last = int(self._versions.ends_at[way[-1]])
            if last >= len(onward_cells):
                end = last
                break
            if onward_cells[last] < 0:
                end = int(onward_ends[last])
                break
            cell = int(onward_cells[last])
        cells = np.unique(np.concatenate(passed))
        self.visits[source, cells] += 1
        self.block_visits[source, np.unique(self._versions.blocks_of(cells))] += 1
        return end, length
