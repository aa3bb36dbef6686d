"""How soon liquid can be at the water: never slower than the way allows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from pathways.assessment import assess_farm
from pathways.elevation_error import fall_error_m
from pathways.farm import Farm, Tables
from pathways.features import Features, Source, Surface, Watercourse
from pathways.io.rulebooks import read_rulebook, read_weights
from pathways.io.tables import read_assumed, read_elevation_errors, read_materials
from pathways.pages.story import way_story
from pathways.settings import Settings
from pathways.spill.course import Conduit, Course, Stretch
from pathways.spill.times import (
    storm_time_over_ground_s,
    storm_time_s,
    time_in_pipes_s,
)

MATERIALS = read_materials()
TABLES = Tables(
    read_assumed(),
    read_elevation_errors(),
    read_rulebook("generic"),
    read_weights(),
    MATERIALS,
)


def course_over(*stretches):
    """A course over covers: kind, length [m], slope."""
    return Course(
        tuple(
            Stretch(material=MATERIALS.surface(kind), length_m=length_m, slope=slope)
            for kind, length_m, slope in stretches
        )
    )


def test_time_on_concrete_is_the_velocity_method():
    """NEH 630 table 15-3, pavement: 6.196 m/s at a slope of 1."""
    time_s = storm_time_over_ground_s(course_over(("concrete", 40.0, 0.02)))
    assert time_s == pytest.approx(40 / (6.196 * 0.02**0.5))


def test_time_in_a_full_pipe_is_mannings():
    """By hand: 150 mm, n 0.013, 1 %: V = 0.0375^(2/3) 0.1 / 0.013 = 0.862 m/s."""
    pipe = Conduit(id="P", length_m=86.2, slope=0.01, diameter_m=0.15)
    assumed = read_assumed()
    assert time_in_pipes_s(Course((pipe,)), assumed) == pytest.approx(100.0, rel=1e-3)
    assert storm_time_s(Course((pipe,)), assumed) == pytest.approx(100.0, rel=1e-3)


def test_way_that_runs_over_no_ground_takes_no_time_there():
    assert storm_time_over_ground_s(Course(())) == 0.0


@given(
    st.sampled_from(["concrete", "hardcore", "short_grass", "arable"]),
    st.lists(
        st.tuples(st.floats(1, 50), st.floats(0.002, 0.2)), min_size=1, max_size=6
    ),
)
def test_even_slope_is_never_slower_than_the_slopes_of_one_cover_apart(kind, parts):
    """So that a stretch at its mean slope is a fast bound."""
    whole_m = sum(length_m for length_m, _ in parts)
    fall_m = sum(length_m * slope for length_m, slope in parts)
    even = course_over((kind, whole_m, fall_m / whole_m))
    apart = course_over(*((kind, *part) for part in parts))
    least_s, time_s = map(storm_time_over_ground_s, (even, apart))
    assert least_s <= time_s * (1 + 1e-9)


@given(st.floats(0, 1), st.floats(0, 1))
def test_error_of_the_fall_never_makes_a_way_slower(one_m, more_m):
    course = course_over(("concrete", 30.0, 0.01), ("short_grass", 20.0, 0.03))
    times = [
        storm_time_over_ground_s(course, fall_error_m=error_m)
        for error_m in (one_m, one_m + more_m)
    ]
    assert times[1] <= times[0]


@pytest.fixture
def assessed(plane):
    def make(cover=None):
        grid = plane(lambda east, north: 50.0 + 0.05 * north + 0.0 * east)
        layers = {
            "watercourses": (
                Watercourse(
                    id="W", geometry=LineString([(0, 5), (100, 5)]), half_width_m=0.5
                ),
            ),
            "sources": (
                Source(id="S", kind="filling_point", geometry=Point(50.5, 60.5)),
            ),
        }
        if cover:
            everywhere = LineString([(0, 50), (100, 50)]).buffer(60)
            layers["surfaces"] = (Surface(kind=cover, geometry=everywhere),)
        features = Features(**layers, drawn=frozenset(layers))
        return assess_farm(Farm(grid, features, Settings()), TABLES)

    return make


def test_time_goes_with_length_on_a_plane(assessed):
    (pathway,) = assessed("short_grass").pathways
    error_m = fall_error_m(TABLES.elevation_errors["airborne_lidar"])
    for arrival in pathway.arrivals:
        # The fall may be greater than measured by as much as heights are wrong.
        slope = 0.05 + error_m / pathway.length_m
        want = np.array(arrival.length_m) / (2.122 * slope**0.5)
        assert arrival.time_s == pytest.approx(want, rel=0.03)


def test_ground_without_a_cover_is_taken_as_fast_as_pavement(assessed):
    """A metre of it; the ways differ, for heights on concrete are known better."""
    unknown, paved = (
        assessed(cover).pathways[0].arrivals[0] for cover in (None, "concrete")
    )
    assert unknown.time_s[1] / unknown.length_m[1] == pytest.approx(
        paved.time_s[1] / paved.length_m[1], rel=0.02
    )


def test_story_gives_the_fast_bound_as_a_rough_guide(assessed):
    found = assessed("short_grass")
    story = way_story(found.pathways[0], found.farm.features, found.spills[0])
    assert "in as little as 1\xa0minute: a rough guide" in story.summary


def test_constant_of_the_cover_is_listed_with_its_source(assessed):
    found = assessed("short_grass")
    (one,) = (one for one in found.assumptions if "storm runoff" in one.what)
    assert (one.value, one.unit, one.standing) == (2.122, "m/s", "second_hand")
    assert "NEH 630" in one.source
