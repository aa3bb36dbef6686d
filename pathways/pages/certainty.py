"""A picture of where liquid goes in how many versions of the ground."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.warp import Resampling

from pathways.grid import Grid
from pathways.pages import palette
from pathways.pages.relief import MERCATOR, data_uri, warped
from pathways.terrain.pathway import Arrival

#: Cells of clear ground about what is shown, so that warping loses no edge.
_MARGIN = 2


def reach_picture(grid: Grid, arrival: Arrival) -> dict[str, object] | None:
    """Return the picture of one way's versions, and where it lies.

    Parameters
    ----------
    grid : Grid
        Where the cells are.
    arrival : Arrival
        Which cells were passed in what share of the versions.

    Returns
    -------
    dict or None
        Address of the picture, its south-west and north-east corner (latitude,
        longitude); None where no cell is passed often enough to be shown.
    """
    reach = arrival.reach
    rows, columns, shares = reach.squares(grid.columns, palette.REACH_BANDS[0])
    if not rows.size:
        return None
    top, bottom = rows.min() - _MARGIN, rows.max() + 1 + _MARGIN
    left, right = columns.min() - _MARGIN, columns.max() + 1 + _MARGIN
    bands: NDArray[np.uint8] = np.zeros((bottom - top, right - left), np.uint8)
    bands[rows - top, columns - left] = np.searchsorted(
        palette.REACH_BANDS, shares, side="right"
    )
    size = reach.side * grid.cell_size_m
    part = Grid(
        np.zeros(bands.shape, np.float32),
        grid.west_m + float(left) * size,
        grid.north_m - float(top) * size,
        size,
        grid.crs,
        grid.crs_name,
    )
    (band,), transform = warped(bands[None], part, size, Resampling.nearest)
    to_degrees = Transformer.from_crs(MERCATOR, "EPSG:4326", always_xy=True)
    west, north = to_degrees.transform(*(transform * (0, 0)))
    east, south = to_degrees.transform(*(transform * (band.shape[1], band.shape[0])))
    colours = np.array([(0, 0, 0, 0), *palette.REACH_COLOURS], np.uint8)
    return {
        "uri": data_uri(np.moveaxis(colours[band], -1, 0), "RGBA"),
        "corners": [[south, west], [north, east]],
    }
