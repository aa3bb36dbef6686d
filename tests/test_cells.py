"""Cells that a drawn shape covers."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, box

from pathways.grid import Grid
from pathways.terrain.cells import cells_along, cells_inside

GRID = Grid(np.zeros((20, 30), np.float32), 100.0, 520.0, 1.0, "", "local")
places = st.tuples(
    st.floats(100.0, 129.99).map(lambda value: round(value, 2)),
    st.floats(500.01, 520.0).map(lambda value: round(value, 2)),
)


@given(st.lists(places, min_size=2, max_size=6, unique=True))
def test_cells_along_a_line_share_sides(corners):
    cells = cells_along(LineString(corners), GRID)
    rows, columns = np.divmod(cells, GRID.columns)
    moves = np.abs(np.diff(rows)) + np.abs(np.diff(columns))
    assert (moves <= 1).all()


@given(st.lists(places, min_size=2, max_size=4, unique=True))
def test_cells_along_a_line_are_those_that_it_crosses(corners):
    line = LineString(corners)
    cells = set(cells_along(line, GRID).tolist())
    for row in range(GRID.rows):
        for column in range(GRID.columns):
            west, north = 100.0 + column, 520.0 - row
            inside = line.intersection(box(west, north - 1, west + 1, north)).length
            if inside > 1e-6:
                assert row * GRID.columns + column in cells


def test_corner_is_not_skipped():
    cells = cells_along(LineString([(101.5, 518.5), (103.5, 516.5)]), GRID)
    assert len(set(cells.tolist())) == 5


def test_centre_decides_what_lies_inside():
    assert cells_inside(box(101.4, 517.4, 102.6, 518.6), GRID).tolist() == [
        31,
        32,
        61,
        62,
    ]
    assert cells_inside(box(101.6, 517.6, 102.4, 518.4), GRID).size == 0


def test_shape_off_the_grid_covers_nothing():
    assert cells_inside(box(0, 0, 1, 1), GRID).size == 0
    assert cells_along(LineString([(0, 0), (1, 1)]), GRID).size == 0
    assert cells_along(Point(100.5, 519.5), GRID).tolist() == [0]
