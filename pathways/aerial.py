"""A picture of the ground from above, in its place on the grid's plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class AerialPicture:
    """Colours on square cells, north up, in the coordinates of a grid.

    Parameters
    ----------
    bands : ndarray of uint8, shape (4, rows, columns)
        Red, green, blue, and whether the picture is known there (255) or not (0).
    west_m, north_m : float
        Outer corner of the first cell [m].
    cell_size_m : float
        Side of one cell [m].
    crs : str
        System of the grid, as WKT 2.
    """

    bands: NDArray[np.uint8]
    west_m: float
    north_m: float
    cell_size_m: float
    crs: str
