"""Ground that drains onto a place."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Point, box

from pathways.terrain.drainage import accumulate
from pathways.terrain.upslope import upslope_area_m2


def test_strip_above_a_site_on_a_plane_drains_onto_it(plane, terrain):
    # Worked by hand: 10 m wide, 40 m from the site to the rim, the rim itself an end.
    farm = terrain(plane(lambda east, north: 50.0 + 0.02 * north + 0.0 * east))
    site = box(40, 50, 50, 60)
    assert upslope_area_m2(farm.flow, site) == pytest.approx(10 * 39)


def test_single_cell_agrees_with_accumulation(plane, terrain):
    rough = np.random.default_rng(3).normal(0, 0.05, (100, 100))
    farm = terrain(plane(lambda east, north: 50.0 + 0.02 * north + 0.0 * east + rough))
    sums = accumulate(farm.flow.drainage)
    for row, column in [(50, 50), (80, 20), (95, 70)]:
        place = Point(column + 0.5, 100 - row - 0.5)
        want = sums[row, column] - 1
        assert upslope_area_m2(farm.flow, place) == pytest.approx(want)


def test_place_off_the_grid_has_no_upslope_area(plane, terrain):
    farm = terrain(plane(lambda east, north: 50.0 + 0.02 * north + 0.0 * east))
    assert upslope_area_m2(farm.flow, Point(-5, 5)) is None
