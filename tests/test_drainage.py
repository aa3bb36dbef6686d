"""Routing: what is promised of every grid, checked on thousands of small ones."""

from __future__ import annotations

import heapq

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathways.errors import LimitError
from pathways.terrain.drainage import (
    END,
    ENDS,
    GROUND,
    HOLE,
    PIT,
    accumulate,
    route,
)


def ends_on_the_rim(heights, holes=None, inner_ends=None, walls=None):
    """Return kinds: the rim and what lies beside holes in the data are ends."""
    kinds = np.zeros(heights.shape, np.uint8)
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END
    if inner_ends is not None:
        kinds[inner_ends] = END
    if holes is not None:
        beside = np.zeros_like(holes)
        padded = np.pad(holes, 1)
        for row in range(3):
            for column in range(3):
                beside |= padded[
                    row : row + holes.shape[0], column : column + holes.shape[1]
                ]
        kinds[beside] = END
        kinds[holes] = HOLE
    if walls is not None:
        kinds[walls] = HOLE
    return kinds


def flooded(heights, kinds):
    """Priority flood by a heap, straight from its definition: the reference."""
    rows, columns = heights.shape
    filled = np.full(heights.shape, np.inf, np.float32)
    heap = []
    for row, column in np.argwhere(kinds == END):
        filled[row, column] = heights[row, column]
        heap.append((heights[row, column], row, column))
    heapq.heapify(heap)
    while heap:
        level, row, column = heapq.heappop(heap)
        for r in range(max(0, row - 1), min(rows, row + 2)):
            for c in range(max(0, column - 1), min(columns, column + 2)):
                if filled[r, c] == np.inf and kinds[r, c] != HOLE:
                    filled[r, c] = max(level, heights[r, c])
                    if filled[r, c] != np.inf:
                        heapq.heappush(heap, (filled[r, c], r, c))
    filled[kinds == HOLE] = np.nan
    return filled


@st.composite
def grids(draw):
    rows = draw(st.integers(3, 24))
    columns = draw(st.integers(3, 24))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    style = draw(st.sampled_from(["floats", "integers", "quantised", "rough"]))
    if style == "floats":
        heights = rng.random((rows, columns))
    elif style == "integers":
        heights = rng.integers(0, draw(st.integers(1, 7)), (rows, columns))
    elif style == "quantised":
        heights = np.round(rng.standard_normal((rows, columns)).cumsum(0).cumsum(1), 1)
    else:
        heights = rng.integers(-3, 3, (rows, columns)) * 0.1
    heights = heights.astype(np.float32) + np.float32(0.0)
    holes = rng.random((rows, columns)) < draw(st.sampled_from([0.0, 0.08]))
    inner = rng.random((rows, columns)) < draw(st.sampled_from([0.0, 0.03]))
    walls = rng.random((rows, columns)) < draw(st.sampled_from([0.0, 0.0, 0.2, 0.45]))
    heights[holes] = np.nan
    return heights, ends_on_the_rim(heights, holes, inner, walls)


@settings(max_examples=400)
@given(grids())
def test_filled_surface_is_that_of_a_priority_flood(grid):
    heights, kinds = grid
    np.testing.assert_array_equal(
        route(heights, kinds).filled_m, flooded(heights, kinds)
    )


@settings(max_examples=400)
@given(grids())
def test_every_way_ends_and_never_rises_above_its_level(grid):
    heights, kinds = grid
    drainage = route(heights, kinds)
    filled = drainage.filled_m.ravel()
    for cell in np.flatnonzero(kinds.ravel() != HOLE):
        way = drainage.way_from(int(cell))
        last = drainage.steps.ravel()[way[-1]]
        shut_in = np.isinf(filled[cell])
        assert last == (PIT if shut_in else ENDS)
        assert np.unique(way).size == way.size
        assert (drainage.kinds.ravel()[way] != HOLE).all()
        if not shut_in:
            assert heights.ravel()[way].max() == filled[cell]


@given(grids())
def test_nothing_is_lost_by_accumulation(grid):
    heights, kinds = grid
    drainage = route(heights, kinds)
    amounts = np.where(kinds == HOLE, 0.0, np.arange(heights.size).reshape(kinds.shape))
    sums = accumulate(drainage, amounts)
    final = (drainage.steps == ENDS) | (drainage.steps == PIT)
    assert sums[final].sum() == amounts.sum()
    assert (sums >= amounts).all()


@given(grids())
def test_guided_way_ends_where_water_can_end(grid):
    heights, kinds = grid
    drainage = route(heights, kinds)
    filled = drainage.filled_m.ravel()
    for cell in np.flatnonzero(kinds.ravel() == GROUND)[:40]:
        way, deviations = drainage.guided_way_from(int(cell))
        assert np.unique(way).size == way.size
        assert drainage.steps.ravel()[way[-1]] in (ENDS, PIT)
        assert np.abs(deviations).max() <= np.sqrt(2.0)
        if np.isfinite(filled[cell]):
            assert (np.diff(filled[way]) <= 0).all()


def test_input_is_not_altered():
    heights = np.random.default_rng(1).random((9, 9)).astype(np.float32)
    kinds = ends_on_the_rim(heights)
    before = heights.copy(), kinds.copy()
    route(heights, kinds)
    np.testing.assert_array_equal(heights, before[0])
    np.testing.assert_array_equal(kinds, before[1])


def test_level_ground_goes_the_shortest_way_to_where_it_drains():
    heights = np.full((9, 9), 2.0, np.float32)
    heights[:, [0, -1]] = 3.0
    heights[[0, -1], :] = 3.0
    heights[8, 4] = 1.0
    drainage = route(heights, ends_on_the_rim(heights))
    way = drainage.way_from(1 * 9 + 4)
    assert [int(cell) // 9 for cell in way] == [1, 2, 3, 4, 5, 6, 7, 8]
    assert {int(cell) % 9 for cell in way} == {4}


def test_lake_is_crossed_straight_to_its_outlet():
    heights = np.full((11, 11), 5.0, np.float32)
    heights[2:9, 2:9] = 2.0
    heights[9, 5] = 3.0
    heights[10, 5] = 1.0
    drainage = route(heights, ends_on_the_rim(heights))
    way = drainage.way_from(2 * 11 + 5)
    assert [int(cell) for cell in way] == [row * 11 + 5 for row in range(2, 11)]


def test_pit_as_low_as_a_level_pit_beside_it_is_not_taken_for_it():
    """A clip of real LiDAR that kept a pit: two hollows of one height in one basin."""
    centimetres = """
        58 62 56 52 52 57 59 57
        55 55 59 56 60 60 61 61
        58 58 56 51 60 65 60 56
        58 58 59 60 54 54 59 60
        55 54 63 59 51 51 51 58
        57 51 60 60 61 54 63 58
        61 53 56 58 59 56 56 56
        53 50 48 48 54 56 59 58
    """
    rows = [line.split() for line in centimetres.strip().splitlines()]
    heights = np.array(rows, np.float32)
    drainage = route(heights, ends_on_the_rim(heights))
    assert not (drainage.steps == PIT).any()


@pytest.mark.parametrize("turn", range(8))
def test_turned_and_mirrored_ground_gives_turned_and_mirrored_ways(turn):
    heights = np.random.default_rng(11).random((21, 21)).astype(np.float32)
    cells = np.arange(heights.size).reshape(heights.shape)

    def turned(array):
        array = np.rot90(array, turn % 4)
        return np.ascontiguousarray(array.T if turn > 3 else array)

    plain = route(heights, ends_on_the_rim(heights))
    other = route(turned(heights), ends_on_the_rim(heights))
    names = turned(cells).ravel()
    start = 10 * 21 + 9
    there = int(np.flatnonzero(names == start)[0])
    np.testing.assert_array_equal(names[other.way_from(there)], plain.way_from(start))


def test_too_large_a_grid_is_refused_before_memory_is_taken():
    heights = np.zeros((10, 10), np.float32)
    with pytest.raises(LimitError, match="needs about"):
        route(heights, ends_on_the_rim(heights), memory_limit_bytes=100)
