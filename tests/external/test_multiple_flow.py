"""Multiple flow against printed shares, richdem, and surfaces known exactly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathways.terrain import _kernels_multiple as kernels
from pathways.terrain.drainage import END, ENDS, GROUND, HOLE, accumulate, route
from pathways.terrain.multiple_flow import accumulate_multiple

#: Lecture grid of Tarboton and Maidment, spacing 30 m; printed shares from memory.
LECTURE = np.array([[80, 74, 63], [69, 67, 56], [60, 52, 48]], np.float32)
FREEMAN = {"E": 0.2330, "SE": 0.2903, "S": 0.3277, "SW": 0.0968, "NE": 0.0523}
COMPASS = ["E", "SE", "S", "SW", "W", "NW", "N", "NE"]


def on_the_rim(heights):
    kinds = np.full(heights.shape, GROUND, np.uint8)
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END
    return kinds


def shares_of_middle(heights):
    drainage = route(heights, on_the_rim(heights))
    shares = np.empty(8)
    kernels.shares_of(
        heights.size // 2,
        drainage.heights_m.ravel(),
        drainage.filled_m.ravel(),
        drainage.kinds.ravel(),
        drainage.offsets,
        1.1,
        shares,
    )
    return dict(zip(COMPASS, shares, strict=True))


@pytest.mark.parametrize("step", COMPASS)
def test_shares_of_the_lecture_grid(step):
    # The printed grid's slopes are per 30 m; shares do not depend on the spacing.
    assert shares_of_middle(LECTURE)[step] == pytest.approx(
        FREEMAN.get(step, 0.0), abs=5e-5
    )


def test_shares_equal_richdems_freeman():
    import richdem

    heights = np.random.default_rng(3).random((40, 40)).cumsum(0).astype(np.float32)
    drainage = route(heights, on_the_rim(heights))
    array = richdem.rdarray(heights.copy(), no_data=-9999.0)
    array.geotransform = [0, 1, 0, 0, 0, -1]
    proportions = np.array(
        richdem.FlowProportions(dem=array, method="Freeman", exponent=1.1)
    )
    shares = np.empty(8)
    checked = 0
    for row in range(1, 39):
        for column in range(1, 39):
            cell = row * 40 + column
            several = kernels.shares_of(
                cell,
                drainage.heights_m.ravel(),
                drainage.filled_m.ravel(),
                drainage.kinds.ravel(),
                drainage.offsets,
                1.1,
                shares,
            )
            theirs = proportions[row, column]
            beside = drainage.offsets + cell
            raised = drainage.filled_m.ravel()[beside] != heights.ravel()[beside]
            if not several or raised.any() or theirs[0] < 0:
                continue  # richdem was given the ground as it is, not filled
            # richdem's neighbours: 1 is west, then clockwise; ours is 0 east.
            for step in range(8):
                assert shares[step] == pytest.approx(
                    max(0.0, theirs[(step + 4) % 8 + 1]), abs=1e-5
                )
            checked += 1
    assert checked > 800


def cone_errors(method, inward):
    """Relative error (RMS) of specific catchment area on a cone (closed forms)."""
    size = 121
    middle = size // 2
    row, column = np.indices((size, size)) - middle
    radius = np.hypot(row, column)
    rim = 50.0
    heights = (radius if inward else -radius).astype(np.float32)
    kinds = np.where(radius <= (rim if inward else 58), GROUND, HOLE).astype(np.uint8)
    padded = np.pad(kinds == HOLE, 1, constant_values=True)
    beside = np.zeros(kinds.shape, bool)
    for down in range(3):
        for right in range(3):
            beside |= padded[down : down + size, right : right + size]
    if inward:
        kinds[middle, middle] = END
    else:
        kinds[beside & (kinds == GROUND)] = END
    amounts = (kinds != HOLE).astype(float)
    sums = method(route(heights, kinds), amounts)
    # A cell passes its sum over a width of one cell, taken along the contour.
    exact = (rim**2 - radius**2) / (2 * np.maximum(radius, 1)) if inward else radius / 2
    ring = (radius > 10) & (radius < (40 if inward else 45))
    angle = np.arctan2(row, column)
    width = np.maximum(np.abs(np.cos(angle)), np.abs(np.sin(angle)))
    specific = (sums - 0.5) * width
    error = specific[ring] / exact[ring] - 1
    return float(np.sqrt((error**2).mean()))


@pytest.mark.large
def test_multiple_flow_beats_a_single_step_on_cones():
    """Trial: outward .53 single and .084 multiple, inward 1.42 and .147."""
    for inward, bound in ((False, 0.20), (True, 0.20)):
        multiple = cone_errors(accumulate_multiple, inward)
        single = cone_errors(accumulate, inward)
        assert multiple < bound
        assert multiple < 0.5 * single


@settings(max_examples=200)
@given(
    st.integers(3, 20),
    st.integers(3, 20),
    st.integers(0, 2**32 - 1),
    st.sampled_from([0.0, 0.2]),
)
def test_nothing_is_lost(rows, columns, seed, walls):
    rng = np.random.default_rng(seed)
    heights = np.round(rng.standard_normal((rows, columns)).cumsum(0), 1)
    kinds = on_the_rim(heights)
    kinds[(rng.random((rows, columns)) < walls) & (kinds == GROUND)] = HOLE
    drainage = route(heights.astype(np.float32) + np.float32(0), kinds)
    amounts = np.where(kinds == HOLE, 0.0, rng.random((rows, columns)))
    sums = accumulate_multiple(drainage, amounts)
    final = (drainage.steps == ENDS) | (drainage.steps == 8)
    assert sums[final].sum() == pytest.approx(amounts.sum(), rel=1e-12)
