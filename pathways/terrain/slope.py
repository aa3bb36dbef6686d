"""How steep the ground is, and which way it falls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import Geometry, contains_xy

from pathways.grid import Grid

_FULL_CIRCLE_DEGREES: Final = 360.0

#: Fewest heights that settle a plane.
_FEWEST_FOR_A_PLANE: Final = 3


@dataclass(frozen=True)
class Gradient:
    """How the ground rises eastwards and northwards, cell by cell or as a whole.

    Parameters
    ----------
    eastward, northward : ndarray of float64
        Rise over run [m/m]; NaN where it is not known.
    """

    eastward: NDArray[np.float64]
    northward: NDArray[np.float64]

    @property
    def slope(self) -> NDArray[np.float64]:
        """Steepest slope [m/m]."""
        return np.hypot(self.eastward, self.northward)

    @property
    def slope_degrees(self) -> NDArray[np.float64]:
        """Steepest slope [degrees]."""
        return np.degrees(np.arctan(self.slope))

    @property
    def aspect_degrees(self) -> NDArray[np.float64]:
        """Direction of fall, clockwise from grid north [degrees]; NaN on the level."""
        bearing = np.degrees(np.arctan2(-self.eastward, -self.northward))
        level = (self.eastward == 0.0) & (self.northward == 0.0)
        return np.where(level, np.nan, bearing % _FULL_CIRCLE_DEGREES)


def horn_gradient(grid: Grid) -> Gradient:
    """Return the gradient of each cell by Horn's weighted differences.

    Horn, B. K. P., 1981, "Hill shading and the reflectance map", Proceedings of the
    IEEE 69(1), 14-47, doi:10.1109/PROC.1981.11918: the third-order finite difference
    with weights 1, 2, 1 over eight neighbours. Exact for planes and quadratics.

    Parameters
    ----------
    grid : Grid
        Heights [m].

    Returns
    -------
    Gradient
        Same shape as the grid. NaN on the outermost cells and wherever one of the
        eight neighbours is not known: no neighbour is ever made up.

    Examples
    --------
    >>> import numpy as np
    >>> ramp = np.tile(np.arange(3.0), (3, 1)).astype(np.float32)
    >>> horn_gradient(Grid(ramp, 0.0, 3.0, 1.0, "", "local")).slope[1, 1]
    np.float64(1.0)
    """
    heights_m = grid.heights_m.astype(np.float64)
    around = np.pad(heights_m, 1, constant_values=np.nan)
    north, middle, south = around[:-2], around[1:-1], around[2:]
    columns = north + 2.0 * middle + south
    span_m = 8.0 * grid.cell_size_m
    eastward = (columns[:, 2:] - columns[:, :-2]) / span_m
    rows = north - south
    northward = (rows[:, :-2] + 2.0 * rows[:, 1:-1] + rows[:, 2:]) / span_m
    unknown = np.isnan(heights_m) | np.isnan(eastward) | np.isnan(northward)
    return Gradient(
        np.where(unknown, np.nan, eastward), np.where(unknown, np.nan, northward)
    )


def plane_gradient(grid: Grid, footprint: Geometry) -> Gradient | None:
    """Return the gradient of the least-squares plane through the cells of a footprint.

    Parameters
    ----------
    grid : Grid
        Heights [m].
    footprint : shapely.Geometry
        Ground to look at; cells whose centres lie within one cell of it count too, so
        that a small pad still rests on several heights.

    Returns
    -------
    Gradient or None
        Arrays without axes. None where one of these cells is off the grid or has no
        height, or where they lie in one line: part of a plane is no plane.

    Examples
    --------
    >>> import numpy as np
    >>> from shapely import box
    >>> ramp = np.tile(np.arange(5.0) / 10.0, (5, 1)).astype(np.float32)
    >>> grid = Grid(ramp, 0.0, 5.0, 1.0, "", "local")
    >>> plane_gradient(grid, box(2.0, 2.0, 3.0, 3.0)).slope
    np.float64(0.1)
    """
    looked_at = footprint.buffer(grid.cell_size_m)
    west_m, south_m, east_m, north_m = looked_at.bounds
    grid_west_m, grid_south_m, grid_east_m, grid_north_m = grid.extent
    if (
        west_m < grid_west_m
        or south_m < grid_south_m
        or east_m > grid_east_m
        or north_m > grid_north_m
    ):
        return None
    first_row = int((grid_north_m - north_m) / grid.cell_size_m)
    last_row = int(np.ceil((grid_north_m - south_m) / grid.cell_size_m))
    first_column = int((west_m - grid_west_m) / grid.cell_size_m)
    last_column = int(np.ceil((east_m - grid_west_m) / grid.cell_size_m))
    rows, columns = np.mgrid[first_row:last_row, first_column:last_column]
    eastings_m = grid_west_m + (columns + 0.5) * grid.cell_size_m
    northings_m = grid_north_m - (rows + 0.5) * grid.cell_size_m
    inside = contains_xy(looked_at, eastings_m, northings_m)
    heights_m = grid.heights_m[rows[inside], columns[inside]].astype(np.float64)
    return _fit_plane(eastings_m[inside], northings_m[inside], heights_m)


def _fit_plane(
    eastings_m: NDArray[np.float64],
    northings_m: NDArray[np.float64],
    heights_m: NDArray[np.float64],
) -> Gradient | None:
    if heights_m.size < _FEWEST_FOR_A_PLANE or np.isnan(heights_m).any():
        return None
    # Counted from the middle: national grids have eastings of six or seven figures,
    # and squares of those would eat the centimetres.
    places = np.column_stack(
        (
            eastings_m - eastings_m.mean(),
            northings_m - northings_m.mean(),
            np.ones_like(heights_m),
        )
    )
    plane, _, settled, _ = np.linalg.lstsq(places, heights_m - heights_m.mean())
    if settled < _FEWEST_FOR_A_PLANE:
        return None
    return Gradient(plane[0], plane[1])
