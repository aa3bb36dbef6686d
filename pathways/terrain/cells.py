"""Which cells a drawn shape covers."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from pathways.grid import Grid

_SAME_PLACE = 1e-9  # of a segment: two crossings nearer than this are a cell's corner


def cells_inside(shape: Geometry, grid: Grid) -> NDArray[np.int64]:
    """Return the numbers of the cells whose centre lies in a shape.

    Parameters
    ----------
    shape : shapely.Geometry
        Polygon or several, in the grid's coordinates.
    grid : Grid
        Where the cells are.

    Returns
    -------
    ndarray of int64
        Cell numbers by rows, sorted.
    """
    if shape.is_empty:
        return np.empty(0, np.int64)
    west, south, east, north = shape.bounds
    size = grid.cell_size_m
    first_column = max(0, int(np.floor((west - grid.west_m) / size)))
    last_column = min(grid.columns, int(np.ceil((east - grid.west_m) / size)))
    first_row = max(0, int(np.floor((grid.north_m - north) / size)))
    last_row = min(grid.rows, int(np.ceil((grid.north_m - south) / size)))
    if first_column >= last_column or first_row >= last_row:
        return np.empty(0, np.int64)
    eastings = grid.west_m + (np.arange(first_column, last_column) + 0.5) * size
    northings = grid.north_m - (np.arange(first_row, last_row) + 0.5) * size
    shapely.prepare(shape)
    inside = shapely.intersects_xy(shape, *np.meshgrid(eastings, northings))
    rows, columns = np.nonzero(inside)
    numbers: NDArray[np.int64] = (rows + first_row) * grid.columns + (
        columns + first_column
    )
    return numbers


def cells_along(shape: Geometry, grid: Grid) -> NDArray[np.int64]:
    """Return the numbers of all cells that a line passes through, without a gap.

    Cells that follow each other share a side: where the line passes through a corner,
    one of the two cells beside it is taken too. A barrier made of these cells lets no
    diagonal step through, at any angle.

    Parameters
    ----------
    shape : shapely.Geometry
        Line, ring, polygon (its outline) or point, or several.
    grid : Grid
        Where the cells are.

    Returns
    -------
    ndarray of int64
        Cell numbers in the order of the line; cells off the grid are left out.
    """
    found = []
    for part in shapely.get_parts(shape):
        for line in shapely.get_parts(part.boundary) if part.area else [part]:
            places = shapely.get_coordinates(line)
            columns = (places[:, 0] - grid.west_m) / grid.cell_size_m
            rows = (grid.north_m - places[:, 1]) / grid.cell_size_m
            found.append(_cells_of_polyline(rows, columns))
    if not found:
        return np.empty(0, np.int64)
    cells = np.concatenate(found)
    on_grid = (
        (cells[:, 0] >= 0)
        & (cells[:, 0] < grid.rows)
        & (cells[:, 1] >= 0)
        & (cells[:, 1] < grid.columns)
    )
    cells = cells[on_grid]
    numbers: NDArray[np.int64] = cells[:, 0] * grid.columns + cells[:, 1]
    return numbers


def _cells_of_polyline(
    rows: NDArray[np.float64], columns: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Return rows and columns of the cells of a polyline given in cells."""
    pieces = [np.floor([[rows[0], columns[0]]])]
    for r0, c0, r1, c1 in zip(rows, columns, rows[1:], columns[1:], strict=False):
        crossings = np.concatenate([[0.0, 1.0], _crossings(r0, r1), _crossings(c0, c1)])
        crossings = np.unique(crossings)
        apart = np.diff(crossings) > _SAME_PLACE
        middles = (crossings[:-1] + crossings[1:])[apart] / 2
        pieces.append(
            np.floor(
                np.column_stack([r0 + middles * (r1 - r0), c0 + middles * (c1 - c0)])
            )
        )
    cells = np.concatenate(pieces).astype(np.int64)
    # Where two cells touch at a corner only, the one beside both is needed too.
    moves = np.abs(np.diff(cells, axis=0))
    corners = np.flatnonzero(moves.all(axis=1))
    between = np.column_stack([cells[corners, 0], cells[corners + 1, 1]])
    return np.insert(cells, corners + 1, between, axis=0)


def _crossings(first: float, last: float) -> NDArray[np.float64]:
    """Return where a segment crosses whole numbers, as shares of its length."""
    low, high = min(first, last), max(first, last)
    whole = np.arange(np.floor(low) + 1, np.ceil(high))
    if not whole.size:
        return np.empty(0)
    shares: NDArray[np.float64] = (whole - first) / (last - first)
    return shares
