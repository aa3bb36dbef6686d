"""A grid of heights and its place on Earth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pathways.errors import GridError

#: Heights outside this range are no ground on Earth: 100 m beyond the shore of the
#: Dead Sea (-430 m) and the top of Everest (8,849 m).
PLAUSIBLE_HEIGHTS_M = (-530.0, 8949.0)


class Cell(NamedTuple):
    """One cell of a grid.

    Parameters
    ----------
    row : int
        Counted from the north, from 0.
    column : int
        Counted from the west, from 0.
    """

    row: int
    column: int


@dataclass(frozen=True)
class Grid:
    """Heights on square cells, north up, in metres.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Height of each cell's centre [m]; NaN where the height is not known.
        It is copied once if need be and locked against writing.
    west_m, north_m : float
        Outer corner of the first cell [m].
    cell_size_m : float
        Side of one cell [m].
    crs : str
        Projected coordinate reference system in metres, as WKT 2.
    crs_name : str
        What people call it, such as ``EPSG:27700``.

    Raises
    ------
    GridError
        If the array is no plane of numbers, holds no height at all, or the cell size
        is not positive.

    Examples
    --------
    >>> import numpy as np
    >>> grid = Grid(np.zeros((2, 3), np.float32), 100.0, 50.0, 2.0, "", "local")
    >>> grid.cell_at(103.0, 47.0)
    Cell(row=1, column=1)
    >>> grid.centre_of(Cell(1, 1))
    (103.0, 47.0)
    """

    heights_m: NDArray[np.float32]
    west_m: float
    north_m: float
    cell_size_m: float
    crs: str
    crs_name: str

    def __post_init__(self) -> None:
        heights_m = np.ascontiguousarray(self.heights_m, dtype=np.float32)
        if heights_m.ndim != 2 or min(heights_m.shape) < 1:  # noqa: PLR2004
            msg = f"a grid has rows and columns; this one has shape {heights_m.shape}"
            raise GridError(msg)
        if not self.cell_size_m > 0:
            msg = f"the cell size must be positive; it is {self.cell_size_m}"
            raise GridError(msg)
        if heights_m is self.heights_m or np.shares_memory(heights_m, self.heights_m):
            heights_m = heights_m.copy()  # the caller's array stays the caller's
        # -0.0 and 0.0 are one height, but two bit patterns, and the engine sorts bits.
        heights_m += np.float32(0.0)
        heights_m.flags.writeable = False
        object.__setattr__(self, "heights_m", heights_m)
        if not np.isfinite(heights_m).any():
            msg = (
                "the elevation holds no height at all: every cell is 'no data'; "
                "check that the right area was cut out"
            )
            raise GridError(msg)

    @property
    def rows(self) -> int:
        """Number of rows."""
        return int(self.heights_m.shape[0])

    @property
    def columns(self) -> int:
        """Number of columns."""
        return int(self.heights_m.shape[1])

    @property
    def east_m(self) -> float:
        """Eastern edge [m]."""
        return self.west_m + self.columns * self.cell_size_m

    @property
    def south_m(self) -> float:
        """Southern edge [m]."""
        return self.north_m - self.rows * self.cell_size_m

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """West, south, east and north edge [m]."""
        return (self.west_m, self.south_m, self.east_m, self.north_m)

    def cell_at(self, easting_m: float, northing_m: float) -> Cell | None:
        """Return the cell that holds a place, or None off the grid.

        Parameters
        ----------
        easting_m, northing_m : float
            The place [m].

        Returns
        -------
        Cell or None
            None where the place lies off the grid.
        """
        column = int(np.floor((easting_m - self.west_m) / self.cell_size_m))
        row = int(np.floor((self.north_m - northing_m) / self.cell_size_m))
        if 0 <= row < self.rows and 0 <= column < self.columns:
            return Cell(row, column)
        return None

    def centre_of(self, cell: Cell) -> tuple[float, float]:
        """Return easting and northing of a cell's centre [m].

        Parameters
        ----------
        cell : Cell
            Which cell; it may lie off the grid.

        Returns
        -------
        tuple of float
            Easting and northing [m].
        """
        return (
            self.west_m + (cell.column + 0.5) * self.cell_size_m,
            self.north_m - (cell.row + 0.5) * self.cell_size_m,
        )
