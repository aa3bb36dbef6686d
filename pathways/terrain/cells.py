"""Which cells a drawn shape covers."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from pathways.grid import Grid

#: A building is thin where no circle of this radius fits into it; shorter bits of it
#: than the second are corners [cells].
_THIN_CELLS = 0.71
_LONG_CELLS = 4.0

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
    pieces = [_cells_at(rows[0], columns[0], ends=len(rows) > 1)]
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
    if len(rows) > 1:
        pieces.append(_cells_at(rows[-1], columns[-1], ends=True)[::-1])
    cells = np.concatenate(pieces).astype(np.int64)
    # Where two cells touch at a corner only, the one beside both is needed too.
    moves = np.abs(np.diff(cells, axis=0))
    corners = np.flatnonzero(moves.all(axis=1))
    between = np.column_stack([cells[corners, 0], cells[corners + 1, 1]])
    return np.insert(cells, corners + 1, between, axis=0)


def _cells_at(row: float, column: float, *, ends: bool) -> NDArray[np.float64]:
    """Return the cell of a place; at the end of a line, every cell that it touches.

    Two lines that meet on a corner of cells, or a ring that closes there, must share a
    side, and each of them alone knows only its own way there.
    """
    own = np.floor([[row, column]])
    if not ends:
        return own
    up = abs(row - round(row)) < _SAME_PLACE
    left = abs(column - round(column)) < _SAME_PLACE
    top = own[0, 0] if not up else round(row) - 1.0
    side = own[0, 1] if not left else round(column) - 1.0
    low = top + 1.0 if up else top
    right = side + 1.0 if left else side
    around = [[low, side], [top, side], [top, right], [low, right]]
    unique = list(dict.fromkeys(map(tuple, around)))
    return np.array([*unique, tuple(own[0])])


def _crossings(first: float, last: float) -> NDArray[np.float64]:
    """Return where a segment crosses whole numbers, as shares of its length."""
    low, high = min(first, last), max(first, last)
    whole = np.arange(np.floor(low) + 1, np.ceil(high))
    if not whole.size:
        return np.empty(0)
    shares: NDArray[np.float64] = (whole - first) / (last - first)
    return shares


def building_cells(building: Geometry, grid: Grid) -> NDArray[np.int64]:
    """Return the cells of a building, so that no diagonal step leads through it.

    A cell belongs to it when its centre does; parts too thin to hold centres take all
    cells that their outline touches.

    Parameters
    ----------
    building : shapely.Geometry
        Ground plan.
    grid : Grid
        Where the cells are.

    Returns
    -------
    ndarray of int64
        Cell numbers, sorted.
    """
    return _joined_at_sides(
        np.union1d(cells_inside(building, grid), _thin_parts(building, grid)), grid
    )


def _thin_parts(building: Geometry, grid: Grid) -> NDArray[np.int64]:
    """Return the cells of parts of a building that are too thin to hold centres."""
    reach = _THIN_CELLS * grid.cell_size_m
    thick = building.buffer(-reach).buffer(1.5 * reach)
    thin = [
        part
        for part in shapely.get_parts(building.difference(thick))
        if part.length > _LONG_CELLS * grid.cell_size_m
    ]
    if not thin:
        return np.empty(0, np.int64)
    return np.concatenate([cells_along(part, grid) for part in thin])


def _joined_at_sides(cells: NDArray[np.int64], grid: Grid) -> NDArray[np.int64]:
    """Add cells so that those touching at a corner also touch at a side."""
    taken = set(cells.tolist())
    for cell in cells.tolist():
        for sideways in (-1, 1):
            below = cell + grid.columns
            if (
                below + sideways in taken
                and below not in taken
                and cell + sideways not in taken
                and 0 <= cell % grid.columns + sideways < grid.columns
            ):
                taken.add(below)
    return np.array(sorted(taken), np.int64)


def cells_of(footprint: Geometry, grid: Grid) -> NDArray[np.int64]:
    """Return the cells of a place: those inside, else those that it touches.

    Parameters
    ----------
    footprint : shapely.Geometry
        Area, line or point.
    grid : Grid
        The cells.

    Returns
    -------
    ndarray of int64
        Cell numbers; an area smaller than a cell takes those that its edge touches.
    """
    cells = cells_inside(footprint, grid) if footprint.area else np.empty(0, np.int64)
    return cells if cells.size else cells_along(footprint, grid)
