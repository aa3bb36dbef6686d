"""One realisation of the ground: traced lazily, or made and routed as a whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

import numpy as np
from ground import Case, river_columns

from pathways.terrain.drainage import GROUND, route
from pathways.terrain.lazy import ErrorModel, LazyTracer
from pathways.terrain.runs import budget_of

#: Nugget, two standard deviations [m] and their spacings [cells]: as for a survey from
#: the air (pathways/elevation_errors.toml has the real ones).
ERRORS = ErrorModel(np.array([[0.03, 0.03, 0.05, 3.0, 30.0]]), np.empty((0, 4)))


@dataclass(frozen=True)
class Found:
    """What one realisation costs."""

    realisations: int
    cells_on_way: float
    touched_median: float
    touched_mean: float
    lazy_s: float  # mean
    field_s: float
    route_s: float
    worst: float  # dearest source, budget and fall back included, against the grid
    over_budget: float  # share of realisations

    @property
    def gain(self) -> float:
        """How many times cheaper lazily, against the whole grid for each source."""
        return (self.field_s + self.route_s) / self.lazy_s


def sources(case: Case, count: int, seed: int = 3) -> np.ndarray:
    """Return cells 30 to 300 m from the river on ground, at random."""
    rng = np.random.default_rng(seed)
    size = len(case.kinds)
    found: list[int] = []
    while len(found) < count:
        row = int(rng.integers(60, size - 60))
        away = rng.choice([-1, 1]) * rng.uniform(30, 300)
        column = int(river_columns(size)[row] + away)
        if 2 < column < size - 3 and case.kinds[row, column] == GROUND:
            found.append(row * size + column)
    return np.array(found)


def measured(
    case: Case, cpu_s: Callable[[], float], *, count: int = 40, seeds: int = 10
) -> Found:
    """Trace `count` sources in `seeds` realisations, and route some as a whole."""
    tracer = LazyTracer(case.heights_m, case.kinds)
    begins = sources(case, count)
    tracer.trace(int(begins[0]), errors=ERRORS)  # compiled now
    field_s, route_s = [], []
    for seed in range(3):
        began = cpu_s()
        heights = tracer.realise(seed, ERRORS)
        made = cpu_s()
        route(heights, case.kinds, level_by_number=True)
        field_s.append(made - began)
        route_s.append(cpu_s() - made)
    whole_s = median(field_s) + median(route_s)
    budget = budget_of(case.kinds.size)
    touched, lengths, spent = [], [], []
    over = np.zeros((count, seeds), bool)
    for number, begin in enumerate(begins):
        for seed in range(seeds):
            began = cpu_s()
            way = tracer.trace(int(begin), seed=seed, errors=ERRORS, budget=budget)
            spent.append(cpu_s() - began)
            touched.append(way.touched)
            lengths.append(way.cells.size)
            over[number, seed] = way.touched > budget
    costs = np.array(spent).reshape(count, seeds)
    costs += over * whole_s
    return Found(
        realisations=costs.size,
        cells_on_way=float(np.median(lengths)),
        touched_median=float(np.median(touched)),
        touched_mean=float(np.mean(touched)),
        lazy_s=float(costs.mean()),
        field_s=median(field_s),
        route_s=median(route_s),
        worst=float(np.median(costs, axis=1).max() / whole_s),
        over_budget=float(over.mean()),
    )
