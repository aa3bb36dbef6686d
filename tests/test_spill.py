"""What losses do on the way from a source: what must hold whatever the numbers are."""

from __future__ import annotations

import json
from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from pathways.features import (
    Barrier,
    Building,
    Features,
    Inlet,
    Observation,
    Pipe,
    Source,
    Surface,
    Tank,
    Watercourse,
    WaterSupply,
)
from pathways.io.tables import read_assumed, read_materials
from pathways.materials import KnownRange
from pathways.pages import words
from pathways.pages.story import way_story
from pathways.settings import Settings
from pathways.spill.course import Conduit, Course, Mouth, Store, Stretch, course_of
from pathways.spill.critical import critical_volume_m3
from pathways.spill.draws import draw, middle_draw, triangular_quantiles, widths_of
from pathways.spill.ground_states import STATE_NAMES, ground_states
from pathways.spill.losses import Conditions, run_along
from pathways.spill.spill import Circumstances, spill_of
from pathways.spill.wave import wave_along
from pathways.spill.yard_rain import Covers, yard_rain
from pathways.terrain.tracing import trace

ASSUMED = read_assumed()
MATERIALS = read_materials()
STATES = {one.name: one for one in ground_states(ASSUMED)}
LOAM = MATERIALS.soils["sandy_loam"]
WIDTHS = widths_of(Settings().spill, ASSUMED)

covers = st.sampled_from(sorted(MATERIALS.surfaces))
stretches = st.builds(
    lambda kind, length_m, slope: Stretch(
        material=MATERIALS.surfaces[kind], length_m=length_m, slope=slope
    ),
    covers,
    st.floats(0.5, 60.0),
    st.floats(0.001, 0.2),
)
stores = st.builds(
    lambda kind, capacity_m3: Store(kind=kind, id="x", capacity_m3=capacity_m3),
    st.sampled_from(["hollow", "tank"]),
    st.floats(0.0, 2.0),
)
mouths = st.builds(
    lambda width_m, into_tank: Mouth(id="m", width_m=width_m, into_tank=into_tank),
    st.floats(0.1, 3.0),
    st.booleans(),
)
pipes = st.builds(
    lambda length_m: Conduit(id="p", length_m=length_m, slope=0.01, diameter_m=0.15),
    st.floats(0.0, 50.0),
)
courses = st.lists(
    st.one_of(stretches, stretches, stores, mouths, pipes), max_size=8
).map(lambda parts: Course(tuple(parts)))
volumes = st.floats(1e-5, 20.0)
rates = st.floats(1e-5, 0.05)
state_names = st.sampled_from(STATE_NAMES)


def conditions(state="dry", soil=LOAM, draws=None, **more):
    return Conditions(
        state=STATES[state],
        soil=soil,
        draws=draws or middle_draw(WIDTHS),
        assumed=ASSUMED,
        **more,
    )


def past(course, given, volume_m3, rate):
    volumes_m3 = volume_m3 * np.ones(given.draws.count)
    return run_along(course, given, volumes_m3, rate).gets_past_m3


# Volume ----------------------------------------------------------------------------


@given(courses, volumes, rates, state_names)
def test_nothing_is_lost_or_made(course, volume_m3, rate, state):
    draws = draw(WIDTHS, ASSUMED, 20)
    found = run_along(
        course, conditions(state, draws=draws), volume_m3 * draws.volume_factors, rate
    )
    parts = (
        found.film_m3,
        found.soaked_m3,
        found.hollows_m3,
        found.tanks_m3,
        found.past_inlets_m3,
        found.arrives_m3,
    )
    assert all((one >= 0).all() for one in parts)
    assert sum(parts) == pytest.approx(found.volume_m3, rel=1e-9)


@settings(max_examples=40)
@given(courses, volumes, rates, state_names)
def test_nothing_is_lost_or_made_by_the_wave(course, volume_m3, rate, state):
    found = wave_along(course, conditions(state), volume_m3, rate, cells=60)
    parts = (
        found.film_m3,
        found.soaked_m3,
        found.stores_m3,
        found.moving_m3,
        found.arrives_m3,
    )
    assert min(parts) >= -1e-9 * volume_m3
    assert sum(parts) == pytest.approx(volume_m3, rel=1e-6)


@given(courses, volumes, rates)
def test_without_losses_all_arrives(course, volume_m3, rate):
    """In rain nothing is held, nothing soaks in and no tank is counted on."""
    assert past(course, conditions("raining"), volume_m3, rate) == pytest.approx(
        volume_m3
    )


@given(courses, volumes, rates, state_names, st.floats(1.0, 10.0))
def test_more_spilt_never_gives_less(course, volume_m3, rate, state, times):
    given_ = conditions(state)
    one, more = (
        past(course, given_, one_m3, rate)[0]
        for one_m3 in (volume_m3, times * volume_m3)
    )
    assert more >= one - 1e-12


def with_film(course, times):
    """Return a course whose covers hold some times as much."""

    def thicker(part):
        if not isinstance(part, Stretch):
            return part
        known = part.material.retention_mm
        film = KnownRange(
            known.low * times, known.mid * times, known.high * times, "given", "test"
        )
        return replace(part, material=replace(part.material, retention_mm=film))

    return Course(tuple(map(thicker, course.parts)))


def with_length(course, times):
    return Course(
        tuple(
            replace(one, length_m=one.length_m * times)
            if isinstance(one, Stretch)
            else one
            for one in course.parts
        )
    )


@given(courses, volumes, rates, state_names, st.floats(1.0, 5.0))
def test_more_film_length_width_or_uptake_never_lets_more_arrive(
    course, volume_m3, rate, state, times
):
    """Width is not told of an inlet's share: a wide flow passes a narrow grating."""
    plain = conditions(state)
    before = past(course, plain, volume_m3, rate)[0]
    assert past(with_film(course, times), plain, volume_m3, rate)[0] <= before + 1e-12
    assert past(with_length(course, times), plain, volume_m3, rate)[0] <= before + 1e-12
    faster = replace(LOAM, conductivity_mm_per_h=LOAM.conductivity_mm_per_h * times)
    more = conditions(state, soil=faster)
    assert past(course, more, volume_m3, rate)[0] <= before + 1e-12
    wider = middle_draw(
        {name: [one * times for one in widths] for name, widths in WIDTHS.items()}
    )
    taken = replace(plain, capture_fraction=1.0)
    assert (
        past(course, replace(taken, draws=wider), volume_m3, rate)[0]
        <= past(course, taken, volume_m3, rate)[0] + 1e-12
    )


@settings(max_examples=25)
@given(courses, st.floats(1e-3, 5.0), st.floats(1e-4, 0.02), state_names)
def test_closed_form_lets_no_less_arrive_than_the_wave(course, volume_m3, rate, state):
    """That is what makes it the cautious one for water."""
    course = Course(tuple(one for one in course.parts if not isinstance(one, Mouth)))
    given_ = conditions(state)
    closed_m3 = past(course, given_, volume_m3, rate)[0]
    found = wave_along(course, given_, volume_m3, rate, cells=60)
    assert found.arrives_m3 <= closed_m3 * (1 + 1e-6) + 1e-3 * volume_m3


@given(courses, rates, state_names)
def test_critical_volume_parts_what_arrives_from_what_does_not(course, rate, state):
    given_ = conditions(state, draws=draw(WIDTHS, ASSUMED, 5))
    critical_m3 = critical_volume_m3(course, given_, rate)
    for number, one_m3 in enumerate(critical_m3):
        if one_m3 == 0.0:
            assert past(course, given_, 1e-8, rate)[number] > 0
        elif np.isfinite(one_m3):
            assert past(course, given_, one_m3 * 1.001, rate)[number] > 0
            assert past(course, given_, one_m3 * 0.999, rate)[number] == 0
        else:
            assert past(course, given_, 999.0, rate)[number] == 0


def test_draws_are_the_same_each_time_and_keep_to_their_ranges():
    one, other = draw(WIDTHS, ASSUMED), draw(WIDTHS, ASSUMED)
    for ground, (low_m, _, high_m) in WIDTHS.items():
        widths = one.widths_m[ground]
        assert (widths == other.widths_m[ground]).all()
        assert ((widths >= low_m) & (widths <= high_m)).all()
    assert (one.conductivity_factors == other.conductivity_factors).all()


def test_quantiles_of_a_triangle_are_those_of_scipy():
    from scipy.stats import triang

    shares = np.linspace(0, 1, 101)
    want = triang(c=0.4 / 1.8, loc=0.2, scale=1.8).ppf(shares)
    assert triangular_quantiles(shares, 0.2, 0.6, 2.0) == pytest.approx(want)


# Yards -----------------------------------------------------------------------------


def falling_south(east, north):
    return 50.0 + 0.02 * north + 0.0 * east


def stream(**more):
    known = {"id": "W1", "kind": "stream", "half_width_m": 1.0, **more}
    return Watercourse(geometry=LineString([(0, 5), (100, 5)]), **known)


def filling_point(volume_l=3000.0, **more):
    return Source(
        id="F1",
        kind="filling_point",
        geometry=Point(50.5, 60.5),
        volume_l=volume_l,
        release_l_per_min=400.0,
        **more,
    )


def all_of(kind):
    return Surface(kind=kind, geometry=box(0, 0, 100, 100))


@pytest.fixture
def spilt(terrain):
    """Return a maker of the spill of the first pathway of a yard."""

    def make(grid, *, given_settings=None, soil=None, **layers):
        farm = terrain(grid, **layers)
        pathway = trace(farm)[0]
        course = course_of(farm, pathway, MATERIALS)
        source = farm.features.sources[0]
        circumstances = Circumstances(
            settings=given_settings or Settings(),
            assumed=ASSUMED,
            soil=soil,
            fall_error_m=0.1,
        )
        others = [course_of(farm, one, MATERIALS) for one in pathway.alternatives]
        spill = spill_of(course, source, circumstances, others)
        return pathway, course, spill

    return make


def test_situation_6_soakaway_on_the_way_takes_it_into_the_ground(plane, spilt):
    """A roof-water soakaway: `enters_ground`, all of it in rain; the well is named."""
    pathway, _, spill = spilt(
        plane(falling_south),
        sources=[filling_point()],
        watercourses=[stream()],
        inlets=[Inlet(id="S1", geometry=Point(50.5, 40.5), drains_to="soakaway")],
        water_supplies=[WaterSupply(id="B1", kind="well", geometry=Point(60, 40))],
        surfaces=[all_of("concrete")],
    )
    assert pathway.outcome == "enters_ground"
    assert "B1" in {one.id for one in pathway.passes_near}
    assert spill.fate("stated", "raining").arrives_l == pytest.approx(3000.0)
    # By hand: 20 m of concrete, 0.6 m wide, hold 1 mm: 12 l.
    assert spill.fate("stated", "dry").film_l == pytest.approx(12.0, rel=0.01)


@pytest.mark.parametrize(
    "water",
    [
        stream(kind="ditch", seasonal=True),
        Watercourse(id="W1", kind="pond", geometry=box(0, 3, 100, 7)),
    ],
    ids=["ditch dry in summer", "pond without outlet"],
)
def test_situation_9_water_is_water_in_every_season(plane, spilt, water):
    pathway, _, spill = spilt(
        plane(falling_south), sources=[filling_point()], watercourses=[water]
    )
    assert pathway.outcome == "reaches_water"
    for state in STATE_NAMES:
        assert spill.fate("stated", state).arrives_l > 2000.0


def tank_yard(**more):
    known = {"capacity_l": 9000.0, "free_l": 9000.0, "maintained": True, **more}
    return {
        "sources": [filling_point()],
        "watercourses": [stream()],
        "inlets": [
            Inlet(
                id="CD1",
                kind="channel_drain",
                geometry=LineString([(40, 40.5), (60, 40.5)]),
                drains_to="T1",
            )
        ],
        "tanks": [Tank(id="T1", geometry=Point(70, 40), **known)],
        "surfaces": [all_of("concrete")],
    }


def test_situation_10_no_tank_or_valve_is_counted_on_in_rain(plane, spilt):
    """Raining, valve left on clean, pump off: the spill leaves by the clean drain."""
    pathway, _, spill = spilt(plane(falling_south), **tank_yard())
    assert pathway.outcome == "contained"
    rain = spill.fate("stated", "raining")
    assert (rain.tanks_l, rain.gets_past_l[0]) == (0.0, pytest.approx(3000.0))
    dry = spill.fate("stated", "dry")
    assert dry.tanks_l == pytest.approx(3000.0 - dry.film_l)
    assert dry.gets_past_l == (0.0, 0.0, 0.0)


def test_tank_takes_what_it_has_free_and_no_more(plane, spilt):
    _, _, spill = spilt(plane(falling_south), **tank_yard(free_l=1000.0))
    wet = spill.fate("stated", "saturated")
    assert wet.tanks_l == pytest.approx(1000.0)
    assert wet.arrives_l > 1500.0


def test_tank_that_nobody_keeps_takes_nothing(plane, spilt):
    _, _, spill = spilt(plane(falling_south), **tank_yard(maintained=False))
    assert {one.tanks_l for one in spill.fates} == {0.0}


def test_situation_14_bund_full_of_rain_holds_nothing(plane, spilt):
    """Not `contained`; when dry it holds what its hollow takes."""
    ring = Polygon([(45, 55), (56, 55), (56, 66), (45, 66)]).exterior
    pathway, _, spill = spilt(
        plane(falling_south),
        sources=[filling_point()],
        watercourses=[stream()],
        barriers=[Barrier(id="B1", kind="bund", height_m=0.5, geometry=ring)],
        surfaces=[all_of("concrete")],
    )
    assert pathway.outcome != "contained"
    for state in ("raining", "saturated", "wet"):
        fate = spill.fate("stated", state)
        assert fate.hollows_l == 0.0
        assert fate.arrives_l > 2900.0
    assert spill.fate("stated", "dry").hollows_l > 2500.0


def test_hollow_that_heights_do_not_bear_out_is_not_counted_on(plane, spilt):
    def dented(east, north):
        ground = falling_south(east, north)
        return ground - np.where((abs(north - 40.5) < 2), 0.06, 0.0)

    _, _, spill = spilt(
        plane(dented),
        sources=[filling_point()],
        watercourses=[stream()],
        surfaces=[all_of("concrete")],
    )
    assert {one.hollows_l for one in spill.fates} == {0.0}


@pytest.mark.parametrize("state", STATE_NAMES)
def test_finer_cells_do_not_change_what_arrives(plane, spilt, state):
    """The same valley in cells of 2 m and of 0.5 m: the width is not that of a cell."""

    def valley(east, north):
        return 50.0 + 0.02 * north + 0.05 * abs(east - 50.0)

    arrives = []
    for cell_size_m in (2.0, 0.5):
        _, _, spill = spilt(
            plane(valley, cell_size_m=cell_size_m),
            soil=LOAM,
            sources=[filling_point(volume_l=500.0)],
            watercourses=[stream()],
            surfaces=[all_of("short_grass")],
        )
        arrives.append(spill.fate("stated", state))
    coarse, fine = arrives
    assert fine.arrives_l == pytest.approx(coarse.arrives_l, rel=0.05)
    assert fine.gets_past_l[1] == pytest.approx(coarse.gets_past_l[1], rel=0.05)


def test_states_are_in_order_from_the_headline_down(plane, spilt):
    _, _, spill = spilt(
        plane(falling_south),
        soil=LOAM,
        sources=[filling_point()],
        watercourses=[stream()],
        surfaces=[all_of("dense_grass")],
    )
    for release in spill.releases:
        arrives = [spill.fate(release.name, one).arrives_l for one in STATE_NAMES]
        assert arrives == sorted(arrives, reverse=True)
    least = [one.low_l for one in spill.critical]
    assert least[0] == 0.0
    assert least == sorted(least)


def test_losses_are_told_of_every_source(plane, spilt):
    more = Settings.model_validate({"sprayer": {"tank_l": 4000.0}})
    _, _, spill = spilt(
        plane(falling_south),
        given_settings=more,
        sources=[filling_point()],
        watercourses=[stream()],
    )
    told = {one.name: (one.volume_l, one.rate_l_per_min) for one in spill.releases}
    assert told["dregs"][0] == 0.05
    assert told["container"][0] == 10.0
    assert told["overfill"] == (800.0, 400.0)
    assert told["full_tank"][0] == 4000.0
    assert told["stated"] == (3000.0, 400.0)


def test_kerb_on_the_way_sets_width_and_is_overtopped_by_enough(plane, spilt):
    """By hand, HEC-22 eq. 4-2: 400 l/min, n 0.012, 2 % across, 2 % along."""

    def make(height_m):
        return spilt(
            plane(lambda east, north: 50.0 + 0.02 * north + 0.02 * east),
            sources=[filling_point()],
            watercourses=[stream()],
            barriers=[
                Barrier(
                    id="K1",
                    kind="kerb",
                    height_m=height_m,
                    geometry=LineString([(48, 75), (48, 15)]),
                )
            ],
            surfaces=[all_of("concrete")],
        )

    _, course, spill = make(0.10)
    along = [one for one in course.stretches if one.kerb is not None]
    assert sum(one.length_m for one in along) > 30.0
    (kerb,) = spill.kerbs
    spread_m = (0.4 / 60 * 0.012 / (0.376 * 0.02**1.67 * 0.02**0.5)) ** (1 / 2.67)
    assert kerb.spread_m == pytest.approx(spread_m, rel=0.15)
    assert kerb.depth_m == pytest.approx(0.02 * kerb.spread_m)
    assert not kerb.overtops
    assert make(0.01)[2].kerbs[0].overtops


def test_gully_before_a_tank_lets_some_run_past(plane, spilt):
    """A flow 0.6 m wide over a grating of 0.45 m: three quarters are sure."""
    yard = tank_yard()
    yard["inlets"] = [Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="T1")]
    _, _, spill = spilt(plane(falling_south), **yard)
    (inlet,) = spill.inlets
    assert inlet.captured == pytest.approx(0.75)
    fate = spill.fate("stated", "saturated")
    assert fate.past_inlets_l == pytest.approx(0.25 * (3000.0 - fate.film_l))
    assert fate.tanks_l == pytest.approx(0.75 * (3000.0 - fate.film_l))
    seen = Settings.model_validate({"spill": {"capture_fraction": 0.9}})
    _, _, told = spilt(plane(falling_south), given_settings=seen, **yard)
    assert told.inlets[0].captured == 0.9
    assert told.fate("stated", "saturated").past_inlets_l == pytest.approx(
        0.1 * (3000.0 - fate.film_l)
    )


def test_pipes_lose_nothing_and_take_time(plane, spilt):
    _, course, spill = spilt(
        plane(falling_south),
        sources=[filling_point()],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="P1")],
        pipes=[
            Pipe(
                id="P1",
                geometry=LineString([(50.5, 40.5), (50.5, 6.0)]),
                diameter_mm=100.0,
            )
        ],
        surfaces=[all_of("concrete")],
    )
    (pipe,) = (one for one in course.parts if isinstance(one, Conduit))
    assert (pipe.id, pipe.diameter_m) == ("P1", 0.1)
    assert pipe.slope == pytest.approx(0.02, rel=0.1)
    assert spill.fate("stated", "dry").film_l == pytest.approx(12.0, rel=0.01)
    # By hand: V = 0.025^(2/3) sqrt(0.02) / 0.013 = 0.93 m/s over 34.5 m.
    assert spill.storm_s > 34.5 / 0.93


def test_source_in_the_water_is_all_there_at_once(plane, spilt):
    source = replace(filling_point(), geometry=Point(50.5, 5.5))
    _, course, spill = spilt(
        plane(falling_south), sources=[source], watercourses=[stream()]
    )
    assert course.over_ground_m == 0.0
    for fate in spill.fates:
        loss = next(one for one in spill.releases if one.name == fate.release)
        assert fate.gets_past_l == pytest.approx((loss.volume_l,) * 3)
        assert fate.time_s == (0.0, 0.0, 0.0)
    assert spill.soonest_s == 0.0


# Rain ------------------------------------------------------------------------------


def test_rain_above_a_source_is_dirty_on_hard_ground_and_joins_it(plane, terrain):
    """By hand: a strip 10 m wide falls south past an area of 10 by 10 m.

    It and the 5 m above are concrete, and then 39 m of grass: the topmost row of cells
    is the edge of the ground, where ways end.
    """
    farm = terrain(
        plane(falling_south),
        sources=[
            Source(id="F1", kind="filling_point", geometry=box(45, 45, 55, 55)),
        ],
        watercourses=[stream()],
        surfaces=[
            Surface(kind="concrete", geometry=box(0, 0, 100, 60)),
            Surface(kind="short_grass", geometry=box(0, 60, 100, 100)),
        ],
    )
    climate = Settings.model_validate(
        {"climate": {"design_storm_mm": 50.0, "design_intensity_mm_per_h": 36.0}}
    ).climate
    rain = yard_rain(
        farm,
        farm.features.sources[0],
        Point(50, 45.5),
        Covers(farm, MATERIALS, "C"),
        climate,
    )
    assert rain.working_area_m2 == 100.0
    assert rain.dirty_area_m2 == 150.0
    assert rain.joining_area_m2 == 440.0
    (end,) = rain.ends
    assert (end.id, end.area_m2, end.hard_area_m2) == ("W1", 540.0, 150.0)
    # SI check values, Q(50 mm): CN 98 gives 44.28 mm, CN 74 gives 8.52 mm.
    assert end.runoff_m3 == pytest.approx(0.15 * 44.28 + 0.39 * 8.52, rel=0.001)
    # 36 mm/h is 0.01 l/s a square metre: 0.95 of 150 m² and 0.35 of 390 m².
    assert end.peak_l_per_s == pytest.approx(0.95 * 1.5 + 0.35 * 3.9)


def test_rain_on_a_crown_goes_to_both_waters(plane, terrain):
    farm = terrain(
        plane(lambda east, north: 50.0 - 0.02 * abs(north - 50.0) + 0.0 * east),
        sources=[Source(id="F1", kind="filling_point", geometry=box(45, 45, 55, 55))],
        watercourses=[
            stream(),
            Watercourse(
                id="W2",
                kind="ditch",
                half_width_m=1.0,
                geometry=LineString([(0, 95), (100, 95)]),
            ),
        ],
    )
    rain = yard_rain(
        farm,
        farm.features.sources[0],
        Point(50, 45.5),
        Covers(farm, MATERIALS, "D"),
        Settings().climate,
    )
    assert {one.id for one in rain.ends} == {"W1", "W2"}
    assert [one.runoff_m3 for one in rain.ends] == [None, None]
    assert sum(one.area_m2 for one in rain.ends) == pytest.approx(100.0)


def test_source_in_a_store_works_at_its_door(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[Source(id="S1", kind="pesticide_store", geometry=Point(50, 55))],
        watercourses=[stream()],
        buildings=[Building(geometry=box(45, 50, 55, 60))],
    )
    rain = yard_rain(
        farm,
        farm.features.sources[0],
        Point(50, 49.99),
        Covers(farm, MATERIALS, "D"),
        Settings().climate,
    )
    half_disc_m2 = np.pi * 25 / 2
    assert rain.working_area_m2 == pytest.approx(half_disc_m2, rel=0.1)


# Told ------------------------------------------------------------------------------


def plainly(told):
    return json.dumps(told, ensure_ascii=False).replace("\u00a0", " ")


def story_of(pathway, spill, **layers):
    features = Features(**{name: tuple(some) for name, some in layers.items()})
    return asdict(way_story(pathway, features, spill))


def test_story_says_what_arrives_how_soon_and_what_stays(plane, spilt):
    layers = {
        "sources": [filling_point()],
        "watercourses": [stream(name="Holt Brook")],
        "surfaces": [all_of("concrete")],
    }
    pathway, _, spill = spilt(plane(falling_south), **layers)
    story = story_of(pathway, spill, **layers)
    assert "If 3,000 l are lost here in rain, all of it can be in" in plainly(
        story["summary"]
    )
    (part,) = (one for one in story["parts"] if one["heading"] == "What a spill does")
    told = plainly(part["lines"])
    assert "Enough to get there: any amount in rain;" in told
    assert "until the next rain, which washes it on" in told
    table = part["table"]
    assert len(table["heads"]) == 1 + len(STATE_NAMES)
    assert [row["title"].split(":")[0] for row in table["rows"]] == [
        "50\u00a0ml",
        "10\u00a0l",
        "800\u00a0l",
        "3,000\u00a0l",
    ]
    dregs = table["rows"][0]["cells"]
    assert dregs[0][0] == "all gets there"
    assert dregs[3] == ("none gets there yet", "about 50\u00a0ml stay on the ground")


def test_story_of_a_tank_says_that_rain_fills_it(plane, spilt):
    yard = tank_yard()
    pathway, _, spill = spilt(plane(falling_south), **yard)
    told = plainly(story_of(pathway, spill, **yard))
    assert "No tank is counted on in rain, for rain fills it too." in told
    assert "can get past tank T1" in told


@given(courses, volumes, rates, state_names)
def test_nothing_soaks_in_where_no_soil_is_given(course, volume_m3, rate, state):
    """Not even what rounding would leave: a page told it as 1.7e-12 ml."""
    draws = draw(WIDTHS, ASSUMED, 20)
    given_ = conditions(state, soil=None, draws=draws)
    found = run_along(course, given_, volume_m3 * draws.volume_factors, rate)
    assert (found.soaked_m3 == 0.0).all()


@pytest.mark.parametrize("state", STATE_NAMES)
def test_no_loss_is_called_safe_or_harmless(plane, spilt, state):
    yard = tank_yard()
    pathway, _, spill = spilt(plane(falling_south), soil=LOAM, **yard)
    told = plainly(story_of(pathway, spill, **yard)).lower()
    for word in ("safe", "harmless", "no risk", "clean", "protected"):
        assert word not in told
    assert words.GROUND_STATES[state] in told


def test_story_says_where_less_is_enough_by_another_way(plane, spilt):
    layers = {
        "sources": [filling_point()],
        "watercourses": [stream()],
        "inlets": [Inlet(id="G1", geometry=Point(53.5, 60.5), drains_to="unknown")],
        "surfaces": [all_of("concrete")],
    }
    pathway, _, spill = spilt(plane(falling_south), **layers)
    assert pathway.outcome == "reaches_water"
    (gully,) = spill.others
    for one, by_gully in zip(spill.critical[1:], gully[1:], strict=True):
        assert by_gully.low_l < one.low_l / 5  # 3 m of concrete, not 54 m
    told = plainly(story_of(pathway, spill, **layers))
    assert "By another way that it may take, less is enough on saturated" in told


def test_way_that_dye_took_loses_nothing(plane, spilt):
    """Nobody saw by what way it came: it may have run underground."""
    dye = Observation(
        id="D1",
        kind="dye_arrived",
        from_id="F1",
        geometry=LineString([(50.5, 60.5), (50.5, 6.0)]),
    )
    _, course, spill = spilt(
        plane(falling_south),
        sources=[filling_point()],
        watercourses=[stream()],
        observations=[dye],
        surfaces=[all_of("dense_grass")],
    )
    assert course.over_ground_m == 0.0
    assert {one.low_l for one in spill.critical} == {0.0}
