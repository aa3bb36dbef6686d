"""Multiple flow against printed shares, richdem, and surfaces known exactly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathways.terrain import _kernels_multiple as kernels
from pathways.terrain._kernels import steepest_facet
from pathways.terrain.drainage import (
    END,
    ENDS,
    GROUND,
    HOLE,
    accumulate,
    route,
    step_offsets,
)
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


def test_steepest_facet_of_the_lecture_grid():
    """D-infinity, printed from memory: 284.9 degrees from east, 0.517 a metre."""
    fall, angle, straight, diagonal = steepest_facet(
        4, LECTURE.ravel(), np.zeros(9, np.uint8), step_offsets(3)
    )
    assert (COMPASS[straight], COMPASS[diagonal]) == ("S", "SE")
    assert 270 + np.degrees(angle) == pytest.approx(284.931, abs=0.001)
    assert fall / 30 == pytest.approx(0.51747, abs=5e-6)


def test_shares_of_the_steepest_facet_are_richdems_d_infinity():
    """The same two numbers. richdem gives the greater one to the farther neighbour.

    That is so on a plane that falls 10 degrees off south too, where it cannot be meant;
    so the numbers are compared, not to whom they go.
    """
    import richdem

    array = richdem.rdarray(LECTURE.astype(np.float64), no_data=-9999.0)
    array.geotransform = [0, 30, 0, 0, 0, -30]
    theirs = np.array(richdem.FlowProportions(dem=array, method="Dinf"))[1, 1]
    _, angle, _, _ = steepest_facet(
        4, LECTURE.ravel(), np.zeros(9, np.uint8), step_offsets(3)
    )
    share = angle / (np.pi / 4)
    given = sorted(theirs[theirs > 0])
    assert given == pytest.approx([share, 1 - share], abs=1e-5)


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


# Specific catchment area where it is known exactly; bounds: a trial's figures ---------


def relative_error(got, want, where):
    return float(np.sqrt(((got[where] / want[where] - 1) ** 2).mean()))


def radius_about(half):
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float64)
    return np.hypot(x, y)


def outward_cone_error(method):
    """Catchment r/2, over 10 < r < 45 cells."""
    radius = radius_about(50)
    drainage = route((-radius).astype(np.float32), on_the_rim(radius))
    where = (radius > 10) & (radius < 45)
    return relative_error(method(drainage, np.ones(radius.shape)), radius / 2, where)


def inward_cone_error(method):
    """Catchment (R² - r²) / 2r within a rim of radius R, over 10 < r < 40 cells."""
    rim, radius = 50.0, radius_about(52)
    kinds = np.where(radius <= rim, GROUND, HOLE).astype(np.uint8)
    kinds[radius == 0] = END
    drainage = route(radius.astype(np.float32), kinds)
    sums = method(drainage, (kinds != HOLE).astype(np.float64))
    want = (rim**2 - radius**2) / (2 * np.maximum(radius, 1))
    return relative_error(sums, want, (radius > 10) & (radius < 40))


@pytest.mark.parametrize(
    ("error", "bound"), [(outward_cone_error, 0.0845), (inward_cone_error, 0.147)]
)
def test_catchment_on_cones(error, bound):
    multiple = error(accumulate_multiple)
    assert multiple < bound
    assert multiple < 0.2 * error(accumulate)


@pytest.mark.parametrize("bearing", [0, 10, 22.5, 30, 45])
def test_catchment_on_a_plane_is_the_way_up_to_its_edge(bearing):
    half = 60
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float64)
    angle = np.radians(bearing)
    heights = -(x * np.sin(angle) + y * np.cos(angle))
    drainage = route(heights.astype(np.float32), on_the_rim(heights))
    sums = accumulate_multiple(drainage, np.ones(heights.shape))
    want = (half + y) / np.cos(angle)
    if bearing:
        want = np.minimum(want, (half + x) / np.sin(angle))
    where = np.maximum(abs(x), abs(y)) < 50
    # no published error: the worst bearing, 22.5 degrees, comes out at 0.065
    assert relative_error(sums, want, where) < 0.07


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


@pytest.mark.parametrize("exponent", [-1.0, np.nan, np.inf])
def test_exponent_that_is_no_power_is_refused(exponent):
    with pytest.raises(ValueError, match="exponent"):
        accumulate_multiple(route(LECTURE, on_the_rim(LECTURE)), exponent=exponent)
