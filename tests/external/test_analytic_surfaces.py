"""Drawn lines on surfaces whose lines of steepest descent are known exactly.

Plane, cone and saddle: closed forms; no printed source is needed.
"""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Point

from pathways.terrain.way import follow


@pytest.mark.large
@pytest.mark.parametrize("bearing", np.arange(0, 360, 7.5))
@pytest.mark.parametrize("cell_size_m", [0.5, 1.0, 2.0])
def test_line_on_a_plane_is_straight(plane, terrain, bearing, cell_size_m):
    """Within 3 m sideways after 100 m of its own length, at any angle to the grid."""
    along = np.array([np.sin(np.radians(bearing)), np.cos(np.radians(bearing))])

    def height_of(east, north):
        return 90.0 - 0.02 * ((east - 130) * along[0] + (north - 130) * along[1])

    way = follow(
        terrain(plane(height_of, size_m=260.0, cell_size_m=cell_size_m)),
        Point(130.1, 130.2),  # not the centre of a cell
    )
    line = way.legs[0].line
    start = np.array(line.coords[0])
    end = np.array(line.interpolate(100.0).coords[0])
    moved = end - start
    sideways_m = abs(moved[0] * along[1] - moved[1] * along[0])
    forwards_m = moved @ along
    assert sideways_m < 3.0
    assert 97.0 < forwards_m <= 100.0 + 1e-9


@pytest.mark.large
@pytest.mark.parametrize("bearing", range(0, 360, 15))
def test_line_down_a_cone_keeps_its_bearing(plane, terrain, bearing):
    """On an outward cone liquid runs straight away from the top."""

    def height_of(east, north):
        return 90.0 - 0.05 * np.hypot(east - 100.0, north - 100.0)

    way_of = np.array([np.sin(np.radians(bearing)), np.cos(np.radians(bearing))])
    start = np.floor(np.array([100.0, 100.0]) + 10.0 * way_of) + 0.5
    way_of = (start - 100.0) / np.hypot(*(start - 100.0))
    way = follow(terrain(plane(height_of, size_m=200.0)), Point(start))
    line = way.legs[0].line
    end = np.array(line.interpolate(80.0).coords[0]) - 100.0
    sideways_m = abs(end[0] * way_of[1] - end[1] * way_of[0])
    assert sideways_m < 3.0


@pytest.mark.large
@pytest.mark.parametrize("start_north", [20.0, 30.0, 40.0])
def test_line_on_a_saddle_keeps_the_product_of_its_coordinates(
    plane, terrain, start_north
):
    """On z = y2 - x2 the lines of steepest descent are xy = constant."""

    def height_of(east, north):
        x, y = east - 50.0, north - 50.0
        return 90.0 + 0.001 * (y * y - x * x)

    start_east = 4.0
    way = follow(
        terrain(plane(height_of, cell_size_m=0.5)),
        Point(50.0 + start_east + 0.25, 50.0 + start_north + 0.25),
    )
    line = way.legs[0].line
    x0, y0 = np.array(line.coords[0]) - 50.0
    for at in np.arange(5.0, line.length - 2.0, 5.0):
        x, y = np.array(line.interpolate(at).coords[0]) - 50.0
        # distance from the curve, to first order
        off_m = abs(x * y - x0 * y0) / np.hypot(x, y)
        assert off_m < 1.0
