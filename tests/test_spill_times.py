"""How soon liquid can be at the water: never slower than the way allows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from pathways.assessment import Farm, Tables, assess_farm
from pathways.features import Features, Source, Surface, Watercourse
from pathways.io.rulebooks import read_rulebook, read_weights
from pathways.io.tables import read_assumed, read_elevation_errors, read_materials
from pathways.pages.story import way_story
from pathways.settings import Settings
from pathways.spill.times import storm_pace_s_per_m

MATERIALS = read_materials()
TABLES = Tables(
    read_assumed(),
    read_elevation_errors(),
    read_rulebook("generic"),
    read_weights(),
    MATERIALS,
)


def test_pace_on_concrete_is_the_velocity_method():
    """NEH 630 table 15-3, pavement: 6.196 m/s at a slope of 1."""
    pace = storm_pace_s_per_m([("concrete", 40.0)], 0.02, MATERIALS)
    assert pace == pytest.approx(1 / (6.196 * 0.02**0.5))


def test_way_that_runs_over_no_ground_has_no_pace():
    assert storm_pace_s_per_m([], 0.02, MATERIALS) is None


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["concrete", "hardcore", "short_grass", "arable"]),
            st.floats(1, 50),
            st.floats(0.002, 0.2),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_even_slope_is_never_slower_than_the_slopes_of_one_cover_apart(stretches):
    """The bound holds for each cover; the slope is that of the whole."""
    kind = stretches[0][0]
    parts = [(kind, length_m) for _, length_m, _ in stretches]
    whole_m = sum(length_m for _, length_m in parts)
    fall_m = sum(length_m * slope for _, length_m, slope in stretches)
    k = MATERIALS.surface(kind).velocity_m_per_s.value
    apart_s = sum(length_m / (k * slope**0.5) for _, length_m, slope in stretches)
    pace = storm_pace_s_per_m(parts, fall_m / whole_m, MATERIALS)
    assert pace * whole_m <= apart_s * (1 + 1e-9)


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
    for arrival in pathway.arrivals:
        want = np.array(arrival.length_m) / (2.122 * 0.05**0.5)
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
    story = way_story(found.pathways[0], found.farm.features)
    (sure,) = (one for one in story.parts if one.heading == "How sure that is")
    assert any(
        "in as little as 1\xa0minute: a rough guide" in line for line in sure.lines
    )


def test_constant_of_the_cover_is_listed_with_its_source(assessed):
    found = assessed("short_grass")
    (one,) = (one for one in found.assumptions if "storm runoff" in one.what)
    assert (one.value, one.unit, one.standing) == (2.122, "m/s", "second_hand")
    assert "NEH 630" in one.source
