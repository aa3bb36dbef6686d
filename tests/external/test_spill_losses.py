"""What stays on the way and what arrives, against worked examples and closed forms.

Sources beside the checks. The benchmarks of the two models and the composite path were
worked out for this project in a separate program, not published; the bound of the
closed form is arithmetic. Benchmarks that rest on a published theory name it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point

from pathways.assumed import AssumedValue
from pathways.features import Source, Watercourse
from pathways.grid import Grid
from pathways.io.tables import read_assumed, read_materials
from pathways.materials import KnownRange, Soil, with_given_materials
from pathways.settings import Settings
from pathways.spill.course import Course, Store, Stretch, course_of
from pathways.spill.critical import critical_volume_m3
from pathways.spill.draws import middle_draw
from pathways.spill.ground_states import GroundState
from pathways.spill.hydraulics import turbulent_front_m
from pathways.spill.losses import Conditions, run_along
from pathways.spill.spill import Circumstances, spill_of
from pathways.spill.wave import wave_along
from pathways.terrain.tracing import trace

ASSUMED = read_assumed()
MATERIALS = read_materials()
#: Free pores that give psi by deficit of the example: 0.206 of sandy loam (half of
#: 0.412), Rawls, Brakensiek & Miller 1983.
DRY = GroundState(
    name="dry",
    film_share=1.0,
    moisture_deficit=0.0,
    deficit_share=0.5,
    hollows_free=True,
)


def cover(manning_n, film_mm, infiltration="none"):
    """A cover of given numbers."""
    return replace(
        MATERIALS.surface("concrete"),
        kind=f"{manning_n}/{film_mm}/{infiltration}",
        manning_n=AssumedValue(manning_n, "given", "test"),
        retention_mm=KnownRange(film_mm, film_mm, film_mm, "given", "test"),
        infiltration=infiltration,
    )


def stretch(length_m, slope, *args):
    return Stretch(material=cover(*args), length_m=length_m, slope=slope)


def conditions(width_m, soil=None, state=DRY):
    widths = {"yard": (width_m,) * 3, "field": (width_m,) * 3}
    return Conditions(
        state=state, soil=soil, draws=middle_draw(widths), assumed=ASSUMED
    )


def bucket(course, given, volume_m3, duration_s):
    found = run_along(course, given, np.array([volume_m3]), volume_m3 / duration_s)
    return float(found.arrives_m3[0]), float(found.time_s[0])


def wave(course, given, volume_m3, duration_s, cells=360):
    return wave_along(course, given, volume_m3, volume_m3 / duration_s, cells=cells)


@pytest.mark.parametrize(
    ("volume_m3", "manning_n", "film_mm", "closed", "through_time"),
    [
        (1.0, 0.013, 1.5, 0.85, 0.8498),
        (0.2, 0.013, 1.5, 0.05, 0.0498),
        (1.0, 0.15, 5.0, 0.50, 0.4922),
    ],
)
def test_both_models_on_an_even_way_of_100_m(
    volume_m3, manning_n, film_mm, closed, through_time
):
    """A metre wide at 2 %, let go in 300 s; the closed form is V - w X d."""
    course = Course((stretch(100.0, 0.02, manning_n, film_mm),))
    given = conditions(1.0)
    assert bucket(course, given, volume_m3, 300.0)[0] == pytest.approx(closed)
    # Within what the reference still had moving when it stopped.
    found = wave(course, given, volume_m3, 300.0)
    assert found.arrives_m3 == pytest.approx(through_time, abs=0.005)


@pytest.mark.parametrize(
    ("volume_m3", "manning_n", "film_mm", "bucket_s", "wave_s"),
    [(1.0, 0.013, 1.5, 234, 278), (0.2, 0.013, 1.5, 445, 781)],
)
def test_time_of_the_closed_form_is_the_earlier(
    volume_m3, manning_n, film_mm, bucket_s, wave_s
):
    """The front of a wave thins and slows; the closed form's time is early, so safe."""
    whole = Course((stretch(100.0, 0.02, manning_n, film_mm),))
    parts = Course(tuple(stretch(1.0, 0.02, manning_n, film_mm) for _ in range(100)))
    given = conditions(1.0)
    one_s = bucket(whole, given, volume_m3, 300.0)[1]
    many_s = bucket(parts, given, volume_m3, 300.0)[1]
    found = wave(whole, given, volume_m3, 300.0)
    assert one_s < many_s < found.first_s
    assert one_s == pytest.approx(bucket_s, rel=0.005)
    assert found.first_s == pytest.approx(wave_s, rel=0.02)


def composite(duration_s):
    """30 m concrete, 20 m gravel, 40 m grass on sandy loam.

    The reference lets 10 mm/h into the gravel while the release lasts: added to the
    film that stays on it.
    """
    gravel_mm = 3.0 + 10.0 * duration_s / 3600
    return Course(
        (
            stretch(30.0, 0.02, 0.013, 1.5),
            stretch(20.0, 0.02, 0.025, gravel_mm),
            stretch(40.0, 0.03, 0.15, 5.0, "soil"),
        )
    )


@pytest.mark.parametrize(
    ("volume_m3", "duration_s", "width_m", "closed", "through_time", "times_s"),
    [
        (1.0, 371.0, 1.0, 0.3582, 0.193, (566, 736)),
        (3.0, 371.0, 2.0, 1.7163, 1.307, (474, 578)),
        (1.0, 371.0, 2.0, 0.0, 0.0, None),
        (0.2, 120.0, 1.0, 0.0, 0.0, None),
    ],
)
def test_composite_way_by_both_models(
    volume_m3, duration_s, width_m, closed, through_time, times_s
):
    course = composite(duration_s)
    given = conditions(width_m, MATERIALS.soils["sandy_loam"])
    arrives_m3, time_s = bucket(course, given, volume_m3, duration_s)
    found = wave(course, given, volume_m3, duration_s)
    assert arrives_m3 == pytest.approx(closed, abs=2e-4)
    assert found.arrives_m3 == pytest.approx(through_time, abs=0.01 * volume_m3)
    assert found.arrives_m3 <= arrives_m3
    if times_s is None:
        assert np.isinf(time_s)
        assert found.first_s is None
    else:
        assert time_s == pytest.approx(times_s[0], rel=0.02)
        assert found.first_s == pytest.approx(times_s[1], rel=0.02)


def test_reach_of_a_spill_that_does_not_arrive():
    """Reaches of the reference: 74.8 m of 1 m³ two metres wide, 55.5 m of 0.2 m³."""
    soil = MATERIALS.soils["sandy_loam"]
    for volume_m3, duration_s, width_m, reach_m in (
        (1.0, 371.0, 2.0, 74.8),
        (0.2, 120.0, 1.0, 55.5),
    ):
        given = conditions(width_m, soil)
        found = wave(composite(duration_s), given, volume_m3, duration_s)
        assert found.reach_m == pytest.approx(reach_m, rel=0.01)


def test_front_of_a_finite_volume():
    """Kinematic wave theory: x = (2.5 A)^0.4 (5 a t / 3)^0.6.

    The wave is let go in a second; its front is timed by the first thousandth.
    """
    far_m = float(turbulent_front_m(0.1, 0.013, 0.02, 300.0))
    course = Course((stretch(far_m, 0.02, 0.013, 0.0),))
    coarse, fine = (
        wave(course, conditions(1.0), 0.1, 1.0, cells=cells) for cells in (100, 400)
    )
    assert fine.first_s == pytest.approx(300.0, rel=0.02)
    assert abs(fine.first_s - 300.0) < abs(coarse.first_s - 300.0)


def test_ponded_uptake_of_a_still_pool_is_green_and_ampts():
    """CMM 1988, example 4.3.1: silt loam, Se 0.30: 3.17 cm in an hour, ponded.

    A release that lasts an hour over ground that takes all it can: the closed form
    takes that depth of the wetted area.
    """
    soil = MATERIALS.soils["silt_loam"]
    se_30 = replace(DRY, moisture_deficit=0.7 * soil.effective_porosity)
    course = Course((stretch(10.0, 0.01, 0.1, 0.0, "soil"),))
    found = run_along(
        course, conditions(1.0, soil, se_30), np.array([100.0]), 100.0 / 3600
    )
    assert float(found.soaked_m3[0]) / 10.0 == pytest.approx(0.0317, abs=0.00005)


# Hollows ---------------------------------------------------------------------------


@pytest.fixture
def two_bowls(terrain):
    """Return two bowls in a trench of unit cells, which spill to a stream.

    A: 5 cells at 6 m, a sill at 8 m, B: 5 cells at 5 m, an outlet at 9 m: capacities
    10, 15 and, merged, 36 m³ (worked out by hand).
    """
    trench = [6.0] * 5 + [8.0] + [5.0] * 5 + [9.0] + [4.0] * 3
    heights = np.full((5, len(trench) + 2), 20.0, np.float32)
    heights[2, 1:-1] = trench
    crs = 'ENGCRS["nowhere",EDATUM["nowhere"],CS[Cartesian,2],AXIS["east",east],'
    crs += 'AXIS["north",north],LENGTHUNIT["metre",1]]'
    grid = Grid(heights, 0.0, 5.0, 1.0, crs, "nowhere")
    return terrain(
        grid,
        sources=[Source(id="F", kind="filling_point", geometry=Point(1.5, 2.5))],
        watercourses=[
            Watercourse(
                id="W",
                geometry=LineString([(15.5, 1.0), (15.5, 4.0)]),
                half_width_m=0.4,
            )
        ],
    )


@pytest.mark.parametrize(
    ("volume_m3", "arrives_m3"), [(7, 0), (30, 0), (36, 0), (40, 4), (100, 64)]
)
def test_two_bowls_must_fill_before_anything_arrives(two_bowls, volume_m3, arrives_m3):
    bare = with_given_materials(
        MATERIALS, {"retention_mm": {"not_drawn": [0.0, 0.0, 0.0]}}
    )
    (pathway,) = trace(two_bowls)
    course = course_of(two_bowls, pathway, bare)
    found = run_along(course, conditions(1.0), np.array([float(volume_m3)]), 0.01)
    assert float(found.arrives_m3[0]) == pytest.approx(arrives_m3, abs=1e-3)
    assert float(found.hollows_m3[0]) == pytest.approx(min(volume_m3, 36), abs=1e-3)
    by_time = wave_along(course, conditions(1.0), float(volume_m3), 0.01)
    # What a cell takes at once is held up to its capacity in both models.
    assert by_time.stores_m3 == pytest.approx(min(volume_m3, 36), abs=0.05)


def test_critical_volume_of_two_bowls_is_their_capacity(two_bowls):
    bare = with_given_materials(
        MATERIALS, {"retention_mm": {"not_drawn": [0.0, 0.0, 0.0]}}
    )
    (pathway,) = trace(two_bowls)
    course = course_of(two_bowls, pathway, bare)
    assert critical_volume_m3(course, conditions(1.0), 0.01) == pytest.approx(36.0)


def test_tote_through_a_hole_is_let_go_at_its_mean_rate(two_bowls):
    """1 m³, 50 mm hole, C 0.62: 371 s, 2.7 l/s on average (Torricelli)."""
    (pathway,) = trace(two_bowls)
    source = replace(two_bowls.features.sources[0], volume_l=1000.0)
    spill = spill_of(
        course_of(two_bowls, pathway, MATERIALS),
        source,
        Circumstances(
            settings=Settings(), assumed=ASSUMED, soil=None, fall_error_m=0.0
        ),
    )
    stated = spill.releases[-1]
    assert stated.duration_s == pytest.approx(371.0, abs=0.5)
    assert stated.rate_l_per_min / 60 == pytest.approx(2.7, abs=0.01)


def test_soil_of_the_example_is_that_of_the_table():
    soil = MATERIALS.soils["sandy_loam"]
    assert isinstance(soil, Soil)
    assert (soil.conductivity_mm_per_h, soil.suction_mm) == (10.9, 110.1)
    assert soil.effective_porosity * DRY.deficit_share == pytest.approx(0.206)


def test_a_tank_takes_what_it_is_counted_on_for():
    course = Course((Store(kind="tank", id="T", capacity_m3=2.0),))
    found = run_along(course, conditions(1.0), np.array([3.0]), 0.01)
    assert (float(found.tanks_m3[0]), float(found.arrives_m3[0])) == (2.0, 1.0)
