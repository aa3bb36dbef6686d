"""Polynomials by which a script places the cells of a grid on a web map."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from pyproj import Transformer

from pathways.errors import OutputError
from pathways.grid import Grid

Values = dict[str, Any]

#: Placing a cell on the map may be wrong by no more than this [m].
PLACING_ERROR_M: Final = 0.001
_ORDERS: Final = (3, 4, 5, 6)
#: Places along each side of the grid by which the placing is found and checked.
_LATTICE: Final = 25


def placing(grid: Grid) -> Values:
    """Return polynomials that place the grid on the map, and the map on the grid.

    Parameters
    ----------
    grid : Grid
        Where the cells lie.

    Returns
    -------
    dict
        Coefficients of the powers u^i v^j, i + j up to the order, in that order.
        `latitude` and `longitude` [degrees, less the middle's] of u = x / half - 1 and
        v = y / half - 1 with x metres east and y metres south of the grid's corner; `x`
        and `y` [m] of u and v = degrees from the middle over the span.

    Raises
    ------
    OutputError
        If no order up to the sixth is right to `PLACING_ERROR_M` between the places
        that it was fitted to.
    """
    half_m = max(grid.rows, grid.columns) * grid.cell_size_m / 2
    x, y = (
        one.ravel()
        for one in np.meshgrid(_along(grid.columns, grid), _along(grid.rows, grid))
    )
    to_map = Transformer.from_crs(grid.crs, "EPSG:4326", always_xy=True)
    longitude, latitude = to_map.transform(grid.west_m + x, grid.north_m - y)
    middle = float(np.mean(latitude)), float(np.mean(longitude))
    span = float(max(np.ptp(latitude), np.ptp(longitude))) / 2
    forth = x / half_m - 1, y / half_m - 1
    back = (latitude - middle[0]) / span, (longitude - middle[1]) / span
    metres_per_degree = half_m / span
    fitted = np.zeros(x.size, bool)
    fitted[::2] = True  # the others check it
    for order in _ORDERS:
        to_place = [
            _fit(forth, one, fitted, order) for one in (back[0] * span, back[1] * span)
        ]
        to_grid = [_fit(back, one, fitted, order) for one in (x, y)]
        off_m = [one[1] * metres_per_degree for one in to_place]
        worst_m = max(*off_m, *(one[1] for one in to_grid))
        if worst_m <= PLACING_ERROR_M:
            return {
                "order": order,
                "half_m": half_m,
                "middle": middle,
                "span": span,
                "latitude": to_place[0][0],
                "longitude": to_place[1][0],
                "x": to_grid[0][0],
                "y": to_grid[1][0],
            }
    msg = (
        f"the ground cannot be placed on a web map to {PLACING_ERROR_M * 1000:g} mm; "
        "cut out the ground about the farm"
    )
    raise OutputError(msg)


def _along(count: int, grid: Grid) -> NDArray[np.float64]:
    return np.linspace(0.0, count * grid.cell_size_m, _LATTICE)


def _fit(
    at: tuple[NDArray[np.float64], NDArray[np.float64]],
    values: NDArray[np.float64],
    fitted: NDArray[np.bool_],
    order: int,
) -> tuple[list[float], float]:
    """Return coefficients by least squares, and the worst error anywhere."""
    terms = np.column_stack(list(_powers(*at, order)))
    found = np.linalg.lstsq(terms[fitted], values[fitted], rcond=None)[0]
    return [float(one) for one in found], float(np.abs(terms @ found - values).max())


def _powers(
    u: NDArray[np.float64], v: NDArray[np.float64], order: int
) -> Iterable[NDArray[np.float64]]:
    for i in range(order + 1):
        for j in range(order + 1 - i):
            yield u**i * v**j
