"""Ordering of sites and volumes of earthwork, against exact and printed cases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely import box
from shapely.affinity import rotate

from pathways.errors import SettingsError
from pathways.io.rulebooks import read_weights
from pathways.siting.acceptability import (
    acceptability,
    turn_for,
    uniform_weights,
    weights_about,
)
from pathways.siting.earthwork import earthwork, four_point_volumes, heights_at
from pathways.siting.pairwise import pairwise, with_comparisons
from pathways.siting.weights import CRITERIA

#: Standard error of a share of 10,000 draws is at most 0.005; three of them.
DRAWN = 0.015


@pytest.mark.parametrize(
    ("worths", "first"),
    [
        # Two sites, two criteria: 0.5 w1 - 0.4 w2 > 0 for w1 > 4/9.
        ([[0.9, 0.2], [0.4, 0.6]], [5 / 9, 4 / 9]),
        # A lead of (1, -0.5, 0) under weights uniform on the simplex.
        ([[1.0, 0.0, 0.0], [0.0, 0.5, 0.0]], [2 / 3, 1 / 3]),
        # Three unit vectors: by symmetry.
        (np.eye(3), [1 / 3, 1 / 3, 1 / 3]),
    ],
)
def test_rank_acceptability_of_exact_cases(worths, first):
    """Exact integrals over the simplex, worked by hand."""
    worths = np.array(worths)
    found = acceptability(worths, uniform_weights(worths.shape[1]))
    assert found.by_rank[:, 0] == pytest.approx(first, abs=DRAWN)


#: Four aircraft by six criteria: Hwang & Yoon 1981, p. 133 (from memory, reproduces);
#: the fourth is a cost.
AIRCRAFT = np.array(
    [
        [2.0, 1500, 20000, 5.5, 5, 9],
        [2.5, 2700, 18000, 6.5, 3, 5],
        [1.8, 2000, 21000, 4.5, 7, 7],
        [2.2, 1800, 20000, 5.0, 5, 5],
    ]
)
STATED = np.array([0.2, 0.1, 0.1, 0.1, 0.2, 0.3])


def aircraft_worths():
    """Scaled between the least and the greatest of each, the cost turned round."""
    least, most = AIRCRAFT.min(axis=0), AIRCRAFT.max(axis=0)
    worths = (AIRCRAFT - least) / (most - least)
    worths[:, 3] = 1 - worths[:, 3]
    return worths


def test_weighted_sum_of_a_printed_table():
    """0.574, 0.300, 0.592, 0.381, worked beforehand by another program."""
    assert aircraft_worths() @ STATED == pytest.approx(
        [0.574, 0.300, 0.592, 0.381], abs=5e-4
    )


def test_rank_acceptability_of_a_printed_table():
    """0.115, 0.141, 0.719, 0.024 first, beforehand by another program."""
    found = acceptability(aircraft_worths(), uniform_weights(6))
    assert found.by_rank[:, 0] == pytest.approx([0.115, 0.141, 0.719, 0.024], abs=DRAWN)


@given(arrays(np.float64, (4, 3), elements=st.floats(0, 1)))
def test_every_place_is_taken_once_and_every_site_has_one(worths):
    found = acceptability(worths, uniform_weights(3, 200))
    assert found.by_rank.sum(axis=0) == pytest.approx(1.0)
    assert found.by_rank.sum(axis=1) == pytest.approx(1.0)


def test_equal_sites_share_every_place():
    found = acceptability(np.full((3, 2), 0.5), uniform_weights(2, 100))
    assert found.by_rank == pytest.approx(1 / 3)


def test_weights_about_stated_ones_have_them_as_means():
    draws = weights_about(STATED, 20.0)
    assert draws.mean(axis=0) == pytest.approx(STATED, abs=0.005)
    spread = np.sqrt(STATED * (1 - STATED) / 21.0)
    assert draws.std(axis=0) == pytest.approx(spread, rel=0.05)
    assert weights_about(np.array([0.0, 1.0]), 20.0)[:, 0].max() == 0.0


def test_worths_that_differ_from_draw_to_draw_are_taken_one_by_one():
    worths = np.zeros((4, 2, 1))
    worths[:3, 0, 0] = 1.0  # the first site wins three draws of four
    worths[3, 1, 0] = 1.0
    found = acceptability(worths, np.ones((4, 1)))
    assert found.by_rank[0, 0] == pytest.approx(0.75)


@given(
    arrays(np.float64, (2, 4), elements=st.floats(0, 1)),
    arrays(np.float64, 4, elements=st.floats(0.05, 1)),
)
def test_turned_weight_lets_the_rival_draw_level(worths, weights):
    weights = weights / weights.sum()
    turn = turn_for(worths[0], worths[1], weights)
    if turn is None:
        return
    then = weights * (1 - turn.weight_then) / (1 - weights[turn.criterion])
    then[turn.criterion] = turn.weight_then
    assert then.sum() == pytest.approx(1.0)
    assert then @ worths[0] == pytest.approx(then @ worths[1], abs=1e-6)


def test_site_that_is_better_in_everything_is_never_caught():
    assert turn_for(np.array([0.9, 0.8]), np.array([0.5, 0.4]), STATED[:2] * 3) is None


# Earthwork -------------------------------------------------------------------------


def plane_about(spacing_m):
    """20 by 20 m falling 5 %, a pad made level with the ground 8 m along it."""
    places = np.arange(0.0, 20.0 + spacing_m / 2, spacing_m)
    depths = 0.05 * (8.0 - places)
    # Above the pad's level uphill of 8 m, below it downhill.
    return np.tile(depths[:, None], (1, places.size))


@pytest.mark.parametrize("spacing_m", [5.0, 2.0, 1.0, 0.5])
def test_four_point_volumes_of_a_plane(spacing_m):
    """By calculus: 8 m rise to 0.4 m over 20 m, 32 m³; 12 m fall to 0.6 m, 72 m³."""
    uphill_m3, downhill_m3 = four_point_volumes(
        plane_about(spacing_m), (spacing_m, spacing_m)
    )
    assert (uphill_m3, downhill_m3) == pytest.approx((32.0, 72.0), abs=1e-9)


@pytest.mark.parametrize("angle", [0.0, 90.0])
def test_pad_on_a_plane_with_its_own_fall_moves_nothing(plane, angle):
    ground = plane(lambda east, north: 50.0 + 0.01 * north + 0.0 * east)
    pad = rotate(box(40, 40, 50, 46), 90.0 if angle == 90.0 else 0.0)
    found = earthwork(ground, pad, 0.01)
    assert (found.cut_m3, found.fill_m3) == pytest.approx((0.0, 0.0), abs=1e-3)


def test_level_that_balances_cut_and_fill(plane):
    """By calculus: a level pad L by W on a slope s: W s L² / 8 each way."""
    ground = plane(lambda east, north: 50.0 + 0.05 * north + 0.0 * east)
    found = earthwork(ground, box(40, 40, 46, 50), 0.0)
    assert found.level_m == pytest.approx(50.0 + 0.05 * 45.0, abs=1e-4)
    want_m3 = 6.0 * 0.05 * 10.0**2 / 8
    assert (found.cut_m3, found.fill_m3) == pytest.approx((want_m3, want_m3), rel=0.01)


def test_unknown_ground_gives_no_earthwork(plane):
    ground = plane(lambda east, north: 50.0 + 0.0 * north + 0.0 * east)
    assert earthwork(ground, box(-5, 40, 5, 46), 0.01) is None


def test_heights_between_cells_are_exact_on_a_plane(plane):
    ground = plane(lambda east, north: 50.0 + 0.03 * north - 0.02 * east)
    east, north = np.array([10.2, 55.55, 0.1]), np.array([20.7, 33.3, 50.0])
    found = heights_at(ground, east, north)
    assert found[:2] == pytest.approx(50.0 + 0.03 * north[:2] - 0.02 * east[:2], 1e-6)
    assert np.isnan(found[2])


# Comparisons of pairs --------------------------------------------------------------

# Saaty 2008, "Decision making with the analytic hierarchy process", the drinks example:
# which drink is consumed more in the United States. Weights and ratio as printed there
# (matrix restated from memory; its digits reproduce).
DRINKS = np.array(
    [
        [1, 9, 5, 2, 1, 1, 1 / 2],
        [1 / 9, 1, 1 / 3, 1 / 9, 1 / 9, 1 / 9, 1 / 9],
        [1 / 5, 3, 1, 1 / 3, 1 / 4, 1 / 3, 1 / 9],
        [1 / 2, 9, 3, 1, 1 / 2, 1, 1 / 3],
        [1, 9, 4, 2, 1, 2, 1 / 2],
        [1, 9, 3, 1, 1 / 2, 1, 1 / 3],
        [2, 9, 9, 3, 2, 3, 1],
    ]
)
RANDOM_INDEX = read_weights().random_index


def test_weights_of_the_drinks_example_are_those_printed():
    found = pairwise(DRINKS)
    printed = [0.177, 0.019, 0.042, 0.116, 0.190, 0.129, 0.327]
    assert found.weights == pytest.approx(printed, abs=0.0005)
    assert found.largest_eigenvalue == pytest.approx(7.1766, abs=1e-4)
    assert found.consistency_ratio(RANDOM_INDEX) == pytest.approx(0.0223, abs=1e-4)


def test_weights_of_a_small_example():
    """Rows 1 3 5, 1/3 1 3, 1/5 1/3 1: from memory, every digit reproduces."""
    found = pairwise(np.array([[1, 3, 5], [1 / 3, 1, 3], [1 / 5, 1 / 3, 1]]))
    assert found.weights == pytest.approx([0.63699, 0.25828, 0.10473], abs=1e-5)
    assert found.largest_eigenvalue == pytest.approx(3.03851, abs=1e-5)
    assert found.consistency_ratio(RANDOM_INDEX) == pytest.approx(0.0332, abs=1e-4)


@given(st.lists(st.floats(0.1, 10.0), min_size=3, max_size=10))
def test_answers_that_do_not_contradict_each_other_give_their_weights(values):
    weights = np.array(values) / sum(values)
    found = pairwise(weights[:, None] / weights[None, :])
    assert found.weights == pytest.approx(weights, abs=1e-8)
    assert found.consistency_ratio(RANDOM_INDEX) == pytest.approx(0.0, abs=1e-8)


def test_compared_criteria_share_the_weight_that_they_have_together():
    before = {one.name: one.weight for one in read_weights().criteria}
    names = ["slope", "cross_slope", "earth_moved"]
    answers = [[1, 3, 5], [0.333, 1, 3], [0.2, 0.333, 1]]
    told = with_comparisons(read_weights(), names, answers)
    after = {one.name: one.weight for one in told.criteria}
    together = sum(before[name] for name in names)
    assert sum(after[name] for name in names) == pytest.approx(together)
    assert after["slope"] == pytest.approx(together * 0.637, abs=1e-3)
    assert after["distance_to_water"] == before["distance_to_water"]
    assert told.standing == "given"
    assert with_comparisons(read_weights(), [], []) == read_weights()


@pytest.mark.parametrize(
    ("names", "answers", "sentence"),
    [
        (["slop"], [[1]], "slop is no criterion; did you mean 'slope'"),
        (["slope", "slope"], [[1, 1], [1, 1]], "named twice"),
        (["slope", "earth_moved"], [[1, 2]], "2 rows of 2 numbers"),
        ([], [[1, 2]], "0 rows of 0 numbers"),
        (["slope", "earth_moved"], [[1, 2], [2, 1]], "the other way round 2"),
        (["slope", "earth_moved"], [[2, 1], [1, 1]], "slope against slope is 2"),
        (
            ["slope", "earth_moved", "cross_slope"],
            [[1, 9, 1 / 9], [1 / 9, 1, 9], [9, 1 / 9, 1]],
            "the answers contradict each other",
        ),
        (list(CRITERIA[:11]), [[1] * 11] * 11, "11 criteria; compare at most 10"),
    ],
)
def test_impossible_comparisons_are_refused(names, answers, sentence):
    with pytest.raises(SettingsError, match=sentence):
        with_comparisons(read_weights(), names, answers)
