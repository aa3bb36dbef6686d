"""Routing against printed grids and against two independent programs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyflwdir
import pytest
import rasterio

from pathways.terrain.drainage import (
    COLUMN_STEP,
    END,
    ENDS,
    GROUND,
    HOLE,
    PIT,
    ROW_STEP,
    Drainage,
    accumulate,
    route,
)

DATA = Path(__file__).parent / "data"


def on_the_rim(heights):
    kinds = np.full(heights.shape, GROUND, np.uint8)
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END
    kinds[np.isnan(heights)] = HOLE
    return kinds


# Printed grids ------------------------------------------------------------------------

#: The 6 x 6 teaching grid of flow direction and accumulation, widely reprinted.
TEACHING = np.array(
    [
        [78, 72, 69, 71, 58, 49],
        [74, 67, 56, 49, 46, 50],
        [69, 53, 44, 37, 38, 48],
        [64, 58, 55, 22, 31, 24],
        [68, 61, 47, 21, 16, 19],
        [74, 53, 34, 12, 11, 12],
    ],
    np.float32,
)
COMPASS = ["E", "SE", "S", "SW", "W", "NW", "N", "NE"]
TEACHING_DIRECTIONS = """
SE SE SE S S SW
SE SE SE S S SW
E E SE S SW S
NE NE E SE S SW
SE SE E S S S
E E E E - W
"""
TEACHING_ACCUMULATION = """
1 1 1 1 1 1
1 2 2 3 3 1
1 4 8 6 5 1
1 1 1 21 1 2
1 1 1 2 25 1
1 3 5 8 36 2
"""


def teaching_drainage():
    """The grid with a rim of higher ground, its lowest cell the only end."""
    heights = np.pad(TEACHING, 1, constant_values=100.0)
    kinds = np.full(heights.shape, GROUND, np.uint8)
    kinds[[0, -1], :] = HOLE
    kinds[:, [0, -1]] = HOLE
    kinds[6, 5] = END
    return route(heights, kinds)


def test_directions_of_the_teaching_grid():
    steps = teaching_drainage().steps[1:-1, 1:-1]
    want = [line.split() for line in TEACHING_DIRECTIONS.strip().splitlines()]
    got = [[COMPASS[one] if one < PIT else "-" for one in row] for row in steps]
    assert got == want


def test_accumulation_of_the_teaching_grid():
    want = [
        [int(one) for one in line.split()]
        for line in TEACHING_ACCUMULATION.strip().splitlines()
    ]
    assert accumulate(teaching_drainage())[1:-1, 1:-1].astype(int).tolist() == want


def test_fill_of_a_published_ring():
    """10 x 10 test grid of richdem (tests/depressions/testdem1): 9 cells, 18 units."""
    rows = [
        "0000000000",
        "0000000000",
        "0222200000",
        "0200222200",
        "0222200200",
        "0020200200",
        "0022200200",
        "0000222200",
        "0000000000",
        "0000000000",
    ]
    want = [
        "0000000000",
        "0000000000",
        "0222200000",
        "0222222200",
        "0222222200",
        "0022222200",
        "0022222200",
        "0000222200",
        "0000000000",
        "0000000000",
    ]
    heights = np.array([[int(one) for one in row] for row in rows], np.float32)
    filled = route(heights, on_the_rim(heights)).filled_m
    assert ["".join(str(int(one)) for one in row) for row in filled] == want
    assert (filled > heights).sum() == 9
    assert (filled - heights).sum() == 18


def test_spill_level_of_a_published_lake():
    """7 x 7 test grid of landlab: six cells, sill 1.8, 0.3 deep, 1.1 held."""
    heights = np.array(
        [
            [0, 0, 0, 0, 0, 0, 0],
            [0, 2, 2, 2, 2, 2, 0],
            [0, 2, 1.6, 1.5, 1.6, 2, 0],
            [0, 2, 1.7, 1.6, 1.7, 2, 0],
            [0, 2, 1.8, 2, 2, 2, 0],
            [0, 1, 0.6, 1, 1, 1, 0],
            [0, 0, -0.5, 0, 0, 0, 0],
        ],
        np.float32,
    )
    depth = route(heights, on_the_rim(heights)).filled_m - heights
    assert (depth > 0).sum() == 6
    assert depth.max() == pytest.approx(0.3, abs=1e-6)
    assert depth.sum() == pytest.approx(1.1, abs=1e-5)


# An independent program's rasters -----------------------------------------------------


def test_fill_of_flowdem_is_equal_in_every_cell():
    with rasterio.open(DATA / "flowdem_reference" / "dem.tif") as source:
        heights = source.read(1)
    with rasterio.open(DATA / "flowdem_reference" / "filled.tif") as source:
        want = source.read(1)
    np.testing.assert_array_equal(route(heights, on_the_rim(heights)).filled_m, want)


def test_accumulation_of_flowdem_is_equal_in_every_cell():
    with rasterio.open(DATA / "flowdem_reference" / "dirs.tif") as source:
        codes = source.read(1)
    with rasterio.open(DATA / "flowdem_reference" / "accum.tif") as source:
        want = source.read(1)
    # 1 is west, then clockwise; ours is 0 east, then clockwise.
    steps = np.where(codes == 255, ENDS, (codes.astype(int) - 1 + 4) % 8)
    row, column = np.indices(codes.shape)
    flows = steps < PIT
    to_row = row + np.where(flows, ROW_STEP[steps % 8], 0)
    to_column = column + np.where(flows, COLUMN_STEP[steps % 8], 0)
    off = (
        (to_row < 0)
        | (to_row >= codes.shape[0])
        | (to_column < 0)
        | (to_column >= codes.shape[1])
    )
    steps = np.where(off, ENDS, steps).astype(np.uint8)
    ground = np.zeros(codes.shape, np.float32)
    drainage = Drainage(ground, np.where(steps == ENDS, END, GROUND), steps, ground)
    np.testing.assert_array_equal(accumulate(drainage), want)


# richdem and pyflwdir as witnesses ----------------------------------------------------


def rough_ground(seed, style):
    rng = np.random.default_rng(seed)
    heights = rng.standard_normal((120, 150)).cumsum(0).cumsum(1) / 10
    if style == "quantised":
        heights = np.round(heights, 1)
    if style == "holes":
        heights[rng.random(heights.shape) < 0.02] = np.nan
    return heights.astype(np.float32) + np.float32(0.0)


def lidar():
    with rasterio.open(DATA / "slovenia_north_1m" / "slovenia_north_1m.tif") as source:
        heights = source.read(1)
        heights[heights == source.nodata] = np.nan
    return heights


GROUNDS = {
    "rough 1": rough_ground(1, "floats"),
    "rough 2": rough_ground(2, "floats"),
    "quantised": rough_ground(3, "quantised"),
    "holes": rough_ground(4, "holes"),
    "lidar": lidar(),
}


@pytest.mark.large
@pytest.mark.parametrize("name", GROUNDS)
def test_fill_equals_richdem_in_every_cell(name):
    import richdem

    heights = GROUNDS[name]
    array = richdem.rdarray(np.nan_to_num(heights, nan=-9999.0), no_data=-9999.0)
    want = np.array(richdem.FillDepressions(array))
    # richdem takes no data inside a grid as very low ground; so does this comparison.
    ground = np.nan_to_num(heights, nan=-9999.0)
    got = route(ground, on_the_rim(ground)).filled_m
    np.testing.assert_array_equal(got, want)


@pytest.mark.large
@pytest.mark.parametrize("name", ["rough 1", "quantised", "lidar"])
def test_fill_equals_pyflwdir_in_every_cell(name):
    heights = GROUNDS[name]
    want, _ = pyflwdir.dem.fill_depressions(heights, nodata=-9999.0, outlets="edge")
    got = route(heights, on_the_rim(heights)).filled_m
    # pyflwdir adds the depth to the ground in float32: equal but for that rounding.
    np.testing.assert_allclose(
        got, want, rtol=0, atol=4 * np.spacing(np.abs(want).max())
    )


@pytest.mark.large
@pytest.mark.parametrize("name", ["rough 1", "quantised", "lidar"])
def test_accumulation_equals_richdem_on_the_same_directions(name):
    """richdem adds up along our own steps: given as its proportions, one each cell."""
    import richdem

    heights = GROUNDS[name]
    drainage = route(heights, on_the_rim(heights))
    # richdem's neighbours: 1 is west, then clockwise; ours is 0 east, then clockwise.
    proportions = np.zeros((*heights.shape, 9), np.float32)
    row, column = np.nonzero(drainage.steps < PIT)
    theirs = (drainage.steps[row, column].astype(int) + 4) % 8 + 1
    proportions[row, column, theirs] = 1.0
    row, column = np.nonzero(drainage.steps == ENDS)
    proportions[row, column, 0] = -1.0  # no flow out of here
    array = richdem.rd3array(proportions, no_data=-2)
    array.geotransform = [0, 1, 0, 0, 0, -1]
    want = np.array(richdem.FlowAccumFromProps(array))
    np.testing.assert_array_equal(accumulate(drainage), want)


@pytest.mark.large
@pytest.mark.parametrize("name", ["rough 1", "lidar"])
def test_accumulation_equals_pyflwdir_on_the_same_directions(name):
    heights = GROUNDS[name]
    drainage = route(heights, on_the_rim(heights))
    codes = np.zeros(drainage.steps.shape, np.uint8)
    codes[drainage.steps < PIT] = 1 << drainage.steps[drainage.steps < PIT]
    want = pyflwdir.from_array(codes, ftype="d8").upstream_area(unit="cell")
    np.testing.assert_array_equal(accumulate(drainage), want)


@pytest.mark.large
def test_highest_place_left_on_every_way_is_richdems_filled_surface():
    """Water leaves by the way whose highest place is lowest (minimax)."""
    import richdem

    heights = GROUNDS["lidar"]
    drainage = route(heights, on_the_rim(heights))
    array = richdem.rdarray(heights.copy(), no_data=-9999.0)
    filled = np.array(richdem.FillDepressions(array)).ravel()
    rng = np.random.default_rng(0)
    checked = 0
    while checked < 1_000_000:
        way = drainage.way_from(int(rng.integers(heights.size)))
        highest = np.maximum.accumulate(heights.ravel()[way][::-1])[::-1]
        np.testing.assert_array_equal(highest, filled[way])
        checked += way.size
