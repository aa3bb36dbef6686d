"""How much ground must be moved to make a rectangle even."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, get_coordinates

from pathways.grid import Grid

Values = NDArray[np.float64]

#: Nodes of the squares lie at most this far apart [m].
_NODE_M = 1.0


@dataclass(frozen=True, kw_only=True)
class Earthwork:
    """What is dug off and what is filled to make a place even.

    Parameters
    ----------
    cut_m3, fill_m3 : float
        Volumes in the ground, not loosened [m³].
    level_m : float
        Height of the middle of the finished ground, at which both are equal but for the
        crossing squares [m].
    """

    cut_m3: float
    fill_m3: float
    level_m: float


def four_point_volumes(depths_m: Values, spacing_m: tuple[float, float]) -> Values:
    """Return cut and fill of a net of squares.

    Parameters
    ----------
    depths_m : ndarray of float64, shape (rows, columns)
        Ground above the finished height at the nodes; negative below [m].
    spacing_m : tuple of float
        Distance between rows and between columns [m].

    Returns
    -------
    ndarray of float64, shape (2,)
        Cut and fill [m³]: for each square A/4 (Σ cut)² / (Σ cut + Σ fill) and the same
        for fill (four-point method, NEH section 16, land levelling; from memory).
    """
    corners = np.stack(
        [depths_m[:-1, :-1], depths_m[:-1, 1:], depths_m[1:, :-1], depths_m[1:, 1:]]
    )
    cut = np.maximum(corners, 0).sum(axis=0)
    fill = np.maximum(-corners, 0).sum(axis=0)
    total = cut + fill
    share = np.divide(1.0, total, out=np.zeros_like(total), where=total > 0)
    quarter_m2 = spacing_m[0] * spacing_m[1] / 4
    return np.array(
        [(cut**2 * share).sum() * quarter_m2, (fill**2 * share).sum() * quarter_m2]
    )


def earthwork(grid: Grid, rectangle: Polygon, fall: float) -> Earthwork | None:
    """Return what must be moved to lay a rectangle even with a fall.

    Parameters
    ----------
    grid : Grid
        Heights [m].
    rectangle : shapely.Polygon
        Four corners, one after another.
    fall : float
        Of the finished ground along the side on which the ground itself falls more
        [m/m].

    Returns
    -------
    Earthwork or None
        By the four-point method, at the level that balances the mean. None where the
        ground is not known.
    """
    corners = get_coordinates(rectangle)[:4]
    along, across = corners[1] - corners[0], corners[3] - corners[0]
    lengths = math.hypot(*along), math.hypot(*across)
    counts = [max(1, math.ceil(one / _NODE_M)) for one in lengths]
    steps = [np.linspace(0, 1, one + 1) for one in counts]
    first, second = np.meshgrid(steps[0], steps[1], indexing="ij")
    eastings = corners[0, 0] + first * along[0] + second * across[0]
    northings = corners[0, 1] + first * along[1] + second * across[1]
    heights = heights_at(grid, eastings, northings)
    if np.isnan(heights).any():
        return None
    drops = (
        heights[0].mean() - heights[-1].mean(),
        heights[:, 0].mean() - heights[:, -1].mean(),
    )
    side = int(abs(drops[1]) / lengths[1] > abs(drops[0]) / lengths[0])
    place = (first, second)[side] - 0.5
    wanted = -math.copysign(fall, drops[side]) * place * lengths[side]
    level_m = float(_mean_of_squares(heights - wanted))
    cut_m3, fill_m3 = four_point_volumes(
        heights - wanted - level_m,
        (lengths[0] / counts[0], lengths[1] / counts[1]),
    )
    return Earthwork(cut_m3=float(cut_m3), fill_m3=float(fill_m3), level_m=level_m)


def _mean_of_squares(values: Values) -> np.float64:
    """Return the mean over the area: inner nodes belong to four squares."""
    squares = values[:-1, :-1] + values[:-1, 1:] + values[1:, :-1] + values[1:, 1:]
    return np.float64(squares.mean() / 4)


def heights_at(grid: Grid, eastings_m: Values, northings_m: Values) -> Values:
    """Return heights between the centres of cells, bilinear.

    Parameters
    ----------
    grid : Grid
        Heights [m].
    eastings_m, northings_m : ndarray of float64
        Places [m].

    Returns
    -------
    ndarray of float64
        NaN where one of the four cells about a place is off the grid or unknown.
    """
    column = (np.asarray(eastings_m) - grid.west_m) / grid.cell_size_m - 0.5
    row = (grid.north_m - np.asarray(northings_m)) / grid.cell_size_m - 0.5
    left, top = np.floor(column).astype(np.int64), np.floor(row).astype(np.int64)
    inside = (left >= 0) & (top >= 0)
    inside &= (left < grid.columns - 1) & (top < grid.rows - 1)
    left = np.clip(left, 0, grid.columns - 2)
    top = np.clip(top, 0, grid.rows - 2)
    east, south = column - left, row - top
    heights = grid.heights_m
    found = (
        heights[top, left] * (1 - east) * (1 - south)
        + heights[top, left + 1] * east * (1 - south)
        + heights[top + 1, left] * (1 - east) * south
        + heights[top + 1, left + 1] * east * south
    )
    return np.where(inside, found, np.nan)
