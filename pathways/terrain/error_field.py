"""The error of a ground's heights: its model, and the surveyed levels that tie it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.elevation_error import HARD, OPEN, ErrorScenario
from pathways.features import SpotLevel
from pathways.grid import Cell, Grid
from pathways.terrain import _kernels_lazy as kernels
from pathways.terrain.lazy import LATTICE_CORRELATION, ErrorModel

#: Correlation at the distance that is called a range.
_AT_RANGE: Final = 0.05


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


def ties_of(
    spots: Iterable[tuple[SpotLevel, float]],
    grid: Grid,
    classes: NDArray[np.uint8],
    model: ErrorModel,
) -> Ties:
    """Return surveyed levels as the kernels take them.

    Parameters
    ----------
    spots : iterable of (SpotLevel, float)
        Levels, each with its standard error [m].
    grid : Grid
        The ground as measured.
    classes : ndarray of uint8, shape (rows, columns)
        Class of ground of each cell.
    model : ErrorModel
        Gives the covariances.

    Returns
    -------
    Ties
        One a cell: where several levels lie in one cell, the first counts.
    """
    kept: dict[Cell, tuple[SpotLevel, float]] = {}
    for spot, error_m in spots:
        cell = grid.cell_at(spot.geometry.x, spot.geometry.y)
        if cell is not None and np.isfinite(grid.heights_m[cell]):
            kept.setdefault(cell, (spot, error_m))
    cells = np.array([[*cell, float(classes[cell]), 0.0] for cell in kept]).reshape(
        -1, 4
    )
    levels = np.array(
        [
            [spot.level_m - float(grid.heights_m[cell]), error_m]
            for cell, (spot, error_m) in kept.items()
        ]
    ).reshape(-1, 2)
    covariances = np.array(
        [[_covariance(one, other, model) for other in cells] for one in cells]
    ).reshape(len(cells), len(cells))
    covariances += np.diag(levels[:, 1] ** 2)
    return Ties(cells, levels, np.linalg.pinv(covariances))


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
