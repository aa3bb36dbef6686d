"""The front of a spill through time: the balance of the numbers, with the waiting."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given

from pathways.spill.course import Conduit, Course, Store, Stretch
from pathways.spill.front import front_along
from pathways.spill.losses import run_along
from tests.test_spill import (
    MATERIALS,
    conditions,
    courses,
    rates,
    state_names,
    volumes,
)


def whole_m(course):
    ground = (Stretch, Conduit)
    return sum(one.length_m for one in course.parts if isinstance(one, ground))


@given(courses, volumes, rates, state_names)
def test_front_never_runs_back_in_place_or_time(course, volume_m3, rate, state):
    moments = front_along(course, conditions(state), volume_m3, rate)
    assert moments[0] == (0.0, 0.0)
    for (along_m, time_s), (further_m, later_s) in itertools.pairwise(moments):
        assert further_m >= along_m
        assert later_s >= time_s


@given(courses, volumes, rates, state_names)
def test_front_comes_to_the_end_where_some_of_it_arrives(
    course, volume_m3, rate, state
):
    """What arrives by the balance of volumes, and no other, comes to the end."""
    found = run_along(course, conditions(state), np.array([volume_m3]), rate)
    along_m, time_s = front_along(course, conditions(state), volume_m3, rate)[-1]
    if found.arrives_m3[0] > 0:
        assert along_m == pytest.approx(whole_m(course))
        # The told time leaves out the filling of hollows and tanks: it is the sooner.
        assert time_s >= found.time_s[0] * (1 - 1e-9)
    else:
        assert along_m <= whole_m(course) * (1 + 1e-9)


@given(courses, volumes, rates)
def test_front_in_rain_waits_nowhere_and_keeps_the_told_time(course, volume_m3, rate):
    found = run_along(course, conditions("raining"), np.array([volume_m3]), rate)
    moments = front_along(course, conditions("raining"), volume_m3, rate)
    assert moments[-1][1] == pytest.approx(found.time_s[0])


def test_front_waits_while_a_hollow_fills():
    """By hand: 60 l at 1 l a second, the way before it taking nothing: 60 s."""
    hollow = Store(kind="hollow", id="", capacity_m3=0.06)
    pipe = Conduit(id="p", length_m=5.0, slope=0.01, diameter_m=0.15)
    moments = front_along(Course((hollow, pipe)), conditions("dry"), 0.5, 0.001)
    assert moments[:2] == ((0.0, 0.0), (0.0, pytest.approx(60.0)))
    assert moments[2][0] == 5.0


def test_spill_that_is_used_up_stops_where_the_ground_has_taken_it():
    """Twice the volume on the same width wets twice the length, in the same state."""
    ground = Stretch(
        material=MATERIALS.surface("dense_grass"), length_m=1000.0, slope=0.02
    )
    # The same time of release, so that the same depth soaks in.
    one = front_along(Course((ground,)), conditions("dry"), 0.01, 0.0001)[-1]
    two = front_along(Course((ground,)), conditions("dry"), 0.02, 0.0002)[-1]
    assert 0 < one[0] < 1000
    assert two[0] == pytest.approx(2 * one[0])
