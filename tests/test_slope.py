"""Slope and aspect on surfaces whose answer is exact."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, box

from pathways.grid import Grid
from pathways.terrain.slope import horn_gradient, plane_gradient


def sloping(east: float, north: float, *, size: int = 12, cell_m: float = 2.0) -> Grid:
    """A plane in coordinates as large as those of a national grid."""
    rows, columns = np.mgrid[0:size, 0:size]
    heights_m = 50.0 + (columns * east - rows * north) * cell_m
    return Grid(
        heights_m.astype(np.float32), 2_757_000.0, 1_214_000.0, cell_m, "", "local"
    )


steepness = st.floats(-0.3, 0.3)


@given(east=steepness, north=steepness)
def test_horn_is_exact_on_a_plane(east, north):
    gradient = horn_gradient(sloping(east, north))
    assert gradient.eastward[5, 5] == pytest.approx(east, abs=1e-5)
    assert gradient.northward[5, 5] == pytest.approx(north, abs=1e-5)


@given(east=steepness, north=steepness)
def test_plane_fit_is_exact_on_a_plane(east, north):
    grid = sloping(east, north)
    gradient = plane_gradient(grid, box(2_757_006, 1_213_984, 2_757_014, 1_213_992))
    assert float(gradient.slope) == pytest.approx(np.hypot(east, north), abs=1e-5)


def test_horn_is_exact_on_a_quadratic():
    # z = 0.01 e**2 + 0.02 e n: dz/de = 0.02 e + 0.02 n, dz/dn = 0.02 e (by hand).
    rows, columns = np.mgrid[0:9, 0:9]
    east_m, north_m = columns + 0.5, 9.0 - (rows + 0.5)
    heights_m = (0.01 * east_m**2 + 0.02 * east_m * north_m).astype(np.float32)
    gradient = horn_gradient(Grid(heights_m, 0.0, 9.0, 1.0, "", "local"))
    assert gradient.eastward[3, 4] == pytest.approx(0.02 * (4.5 + 5.5), abs=1e-5)
    assert gradient.northward[3, 4] == pytest.approx(0.02 * 4.5, abs=1e-5)


def test_horn_makes_up_no_neighbour():
    heights_m = np.zeros((5, 5), np.float32)
    heights_m[2, 2] = np.nan
    gradient = horn_gradient(Grid(heights_m, 0.0, 5.0, 1.0, "", "local"))
    assert np.isnan(gradient.slope).all()


@pytest.mark.parametrize(
    ("east", "north", "aspect_degrees"),
    [(0.0, -0.1, 0.0), (-0.1, 0.0, 90.0), (0.0, 0.1, 180.0), (0.1, 0.0, 270.0)],
)
def test_aspect_is_where_the_ground_falls_to(east, north, aspect_degrees):
    gradient = horn_gradient(sloping(east, north))
    assert gradient.aspect_degrees[5, 5] == pytest.approx(aspect_degrees, abs=1e-3)


def test_level_ground_has_no_aspect():
    assert np.isnan(horn_gradient(sloping(0.0, 0.0)).aspect_degrees[5, 5])


def test_plane_over_a_hole_in_the_ground_is_not_known():
    heights_m = np.zeros((9, 9), np.float32)
    heights_m[4, 4] = np.nan
    grid = Grid(heights_m, 0.0, 9.0, 1.0, "", "local")
    assert plane_gradient(grid, box(3, 3, 6, 6)) is None


def test_plane_over_the_edge_of_the_grid_is_not_known():
    grid = sloping(0.1, 0.0)
    assert plane_gradient(grid, Point(2_757_000.5, 1_213_990.0)) is None


def test_plane_through_a_single_height_is_not_known():
    grid = sloping(0.1, 0.0)
    assert plane_gradient(grid, Point(2_757_011.0, 1_213_991.0)) is None
