"""What is measured of a site: its lie, its layout, its way, and what that means."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, affinity, box

from pathways.features import (
    Access,
    Candidate,
    Features,
    Inlet,
    Pipe,
    SpotLevel,
    Surface,
    Tank,
    Watercourse,
    WaterSupply,
)
from pathways.io.rulebooks import read_rulebook, read_weights
from pathways.io.tables import read_assumed, read_ways_without
from pathways.rules import with_given_distances
from pathways.settings import RuleSettings, Settings, SoilSettings
from pathways.siting.criteria import measure
from pathways.siting.flow import hollow_depth_m
from pathways.siting.layout import Footing, Layout, laid_out
from pathways.siting.lie import fall_to_bed, plane_of_levels, slopes_of
from pathways.siting.moving import gains
from pathways.siting.places import places_of
from pathways.siting.reasons import reasons_of
from pathways.siting.receptors import surroundings_of
from pathways.siting.robustness import worths_drawn
from pathways.siting.site import Place, Site, SiteFlow, shared_reasons
from pathways.siting.situation import Situation, SourceWay
from pathways.siting.way_out import nearest_way_out
from pathways.siting.ways_checked import checked
from pathways.siting.without_building import WayWithout
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Arrival, Reach
from pathways.terrain.shares import share_of
from pathways.terrain.tracing import trace

ASSUMED, WEIGHTS = read_assumed(), read_weights()
LAYOUT = Layout(pad_m=(10.0, 6.0), bed_m=(7.0, 7.0), between_m=2.0, step_m=2.0)


def rising(eastward, northward):
    return lambda east, north: 50.0 + eastward * east + northward * north


def situation_on(grid, *, soil=None, ways=(), fall_error_m=0.0, **layers):
    features = Features(**layers)
    return Situation(
        grid=grid,
        features=features,
        surroundings=surroundings_of(features, ASSUMED.half_widths_m),
        weights=WEIGHTS,
        settings=Settings(soil=soil or SoilSettings()),
        assumed=ASSUMED,
        ways=ways,
        fall_error_m=fall_error_m,
    )


def place_at(pad, bed=None, **more):
    return Place(
        site_id="a",
        name="",
        existing=False,
        uses=("filling", "pad", "bed"),
        footprint=pad,
        ground=pad,
        is_nominal=False,
        pad=pad,
        bed=bed,
        **more,
    )


def footing(grid, blocked=None, keeps=None):
    return Footing(
        blocked=blocked or Point(),
        layout=LAYOUT,
        grid=grid,
        pad_fall=0.01,
        keeps=keeps or (lambda tried: np.ones(tried.pads.size, np.bool_)),
    )


def named(criteria, name):
    return next(one for one in criteria if one.name == name)


# --- slope and cross-slope ---


def levels_on(places, eastward, northward):
    return tuple(
        SpotLevel(geometry=Point(x, y), level_m=7.0 + eastward * x + northward * y)
        for x, y in places
    )


@given(
    eastward=st.floats(-0.2, 0.2),
    northward=st.floats(-0.2, 0.2),
    turned=st.floats(0.0, 180.0),
)
def test_plane_of_levels_is_the_plane_that_they_lie_on(eastward, northward, turned):
    corners = affinity.rotate(box(0, 0, 9, 5), turned).exterior.coords[:4]
    rise = plane_of_levels(levels_on(corners, eastward, northward))
    assert rise == pytest.approx([eastward, northward], abs=1e-9)


@pytest.mark.parametrize(
    "places",
    [[(0, 0), (5, 5)], [(0, 0), (5, 5), (9, 9)], [(0, 0), (5, 0.2), (9, 0), (12, 0.1)]],
)
def test_levels_in_one_line_settle_no_plane(places):
    """A plane through them may turn about that line by any angle."""
    assert plane_of_levels(levels_on(places, 0.01, 0.02)) is None


@pytest.mark.parametrize("angle", [0, 30, 45, 90, 135])
def test_cross_slope_is_that_of_the_side_which_falls_less(plane, angle):
    """On a plane of 3 % the sides of a pad fall by 3 % times sine and cosine."""
    grid = plane(rising(0.03, 0.0))
    pad = affinity.rotate(box(45, 47, 55, 53), angle)
    slope, across = slopes_of(place_at(pad), situation_on(grid))
    turned = math.radians(angle)
    expected = 0.03 * min(abs(math.sin(turned)), abs(math.cos(turned)))
    assert slope.value == pytest.approx(0.03, abs=1e-4)
    assert across.value == pytest.approx(expected, abs=1e-4)
    assert across.told == "from the grid, which cannot show a fall of 1:100"


def test_surveyed_levels_count_for_more_than_the_grid(plane):
    """The yard was laid to 1 in 100 after the flight: the grid says 3 %."""
    pad = box(45, 47, 55, 53)
    levels = levels_on(pad.exterior.coords[:4], 0.0, 0.01)
    situation = situation_on(
        plane(rising(0.03, 0.0)), spot_levels=levels, fall_error_m=0.1
    )
    slope, across = slopes_of(place_at(pad), situation)
    assert slope.value == pytest.approx(0.01, abs=1e-9)
    assert across.value == pytest.approx(0.0, abs=1e-9)
    assert slope.told == "from 4 surveyed levels"
    # Four corners of 10 by 6 m, each off by 2 cm: 1.645 x 0.02 over 6 m, the root of
    # four times 3 m squared.
    assert slope.spread[2] == pytest.approx(0.01 + 1.645 * 0.02 / 6.0, abs=1e-9)


def test_poor_levels_leave_a_slope_unsure(plane):
    """Three levels within 2 m, each known to 5 cm, say next to nothing."""
    pad = box(45, 47, 55, 53)
    levels = tuple(
        replace(one, accuracy_m=0.05)
        for one in levels_on([(49, 49), (51, 49), (50, 51)], 0.0, 0.0)
    )
    situation = situation_on(plane(rising(0.0, 0.0)), spot_levels=levels)
    slope, _ = slopes_of(place_at(pad), situation)
    assert slope.value == pytest.approx(0.0, abs=1e-9)
    assert slope.spread[2] > 0.05


def test_slope_of_the_grid_is_as_unsure_as_a_fall_over_its_length(plane):
    situation = situation_on(plane(rising(0.03, 0.0)), fall_error_m=0.1)
    slope, across = slopes_of(place_at(box(45, 47, 55, 53)), situation)
    assert slope.spread == pytest.approx((0.02, 0.03, 0.04), abs=1e-4)
    assert across.spread[0] == 0.0


# --- pad and bed ---


@pytest.mark.parametrize(
    ("bed_west_m", "fall_m", "told"),
    # The pad's lowest edge lies at 45 m, the bed's highest at 27 m or at 95 m.
    [(20.0, 0.05 * 18, "gravity may do"), (88.0, -0.05 * 50, "reckon with a pump")],
)
def test_bed_that_lies_below_may_do_without_a_pump(plane, bed_west_m, fall_m, told):
    bed = box(bed_west_m, 47, bed_west_m + 7, 54)
    situation = situation_on(plane(rising(0.05, 0.0)))
    found = fall_to_bed(place_at(box(45, 47, 55, 53), bed), situation)
    assert found.value == pytest.approx(fall_m, abs=1e-3)
    assert found.told.startswith(told)


def test_gravity_is_not_reckoned_with_within_the_error_of_the_heights(plane):
    bed = box(28, 47, 35, 54)
    for error_m, told in ((0.0, "gravity"), (0.02, "reckon with a pump")):
        situation = situation_on(plane(rising(0.051, 0.0)), fall_error_m=error_m)
        found = fall_to_bed(place_at(box(45, 47, 55, 53), bed), situation)
        assert found.value == pytest.approx(0.51, abs=1e-3)
        assert found.told.startswith(told)


def test_pad_and_bed_are_laid_out_within_a_drawn_area_where_they_move_least(plane):
    """Half of the area is level as a pad is, half lies on a bank."""
    grid = plane(lambda east, north: 50 + 0.01 * east + 0.2 * np.maximum(0, north - 50))
    drawn = place_at(box(20, 20, 80, 80), None)
    laid = laid_out(drawn, footing(grid))
    assert laid.bed_fits
    assert laid.pad.area == pytest.approx(60.0)
    assert drawn.ground.covers(laid.pad)
    assert drawn.ground.covers(laid.bed)
    assert laid.pad.bounds[3] <= 51.0


def test_area_that_is_too_small_has_its_pad_laid_out_about_the_middle(plane):
    drawn = place_at(box(46, 47, 54, 53))
    laid = laid_out(drawn, footing(plane(rising(0.0, 0.02))))
    assert not laid.bed_fits
    assert laid.pad.centroid.distance(Point(50, 50)) == pytest.approx(0.0, abs=1e-9)


def test_nothing_is_laid_out_where_all_is_taken(plane):
    drawn = place_at(box(46, 47, 54, 53))
    taken = footing(plane(rising(0, 0.02)), box(0, 0, 100, 100))
    none = laid_out(drawn, taken)
    assert none.pad is drawn.pad
    nominal = Place(
        site_id="p",
        name="",
        existing=False,
        uses=("bed",),
        footprint=Point(50, 50).buffer(5),
        ground=Point(50, 50).buffer(5),
        is_nominal=True,
    )
    assert laid_out(nominal, taken).pad is None


def test_of_like_layouts_the_bed_lies_below(plane):
    """Ground of 6 %: the same earth either way, a pump or none."""
    drawn = place_at(box(20, 45, 70, 56))
    laid = laid_out(drawn, footing(plane(rising(0.06, 0.0))))
    assert laid.bed.centroid.x < laid.pad.centroid.x


def test_layout_keeps_the_rules_where_one_does(plane):
    """Beside a river: the bed goes on the far side, whatever the earth says."""
    grid = plane(rising(0.01, 0.0))

    def keeps(tried):
        return np.array([one.bounds[0] > 45 for one in tried.both])

    point = place_at(Point(51, 50).buffer(5))
    laid = laid_out(replace(point, is_nominal=True), footing(grid, keeps=keeps))
    assert laid.bed.bounds[0] > laid.pad.bounds[0] - 1


def test_rules_are_applied_to_the_bed_that_is_laid_out_too(plane):
    drawn = replace(place_at(box(46, 47, 54, 53)), pad=None)
    laid = laid_out(drawn, footing(plane(rising(0.0, 0.02))))
    assert not laid.bed_fits
    assert laid.built.contains(laid.bed)
    assert laid.built.contains(drawn.footprint)


# --- what is measured of the surroundings ---


def test_layer_that_was_drawn_empty_is_the_best_and_one_not_drawn_the_worst(plane):
    grid = plane(rising(0.0, 0.02))
    pad = place_at(box(45, 47, 55, 53))
    empty = frozenset({"inlets", "water_supplies"})
    found = measure(pad, situation_on(grid, drawn=empty), None)
    assert named(found, "distance_to_drains").worth == 1.0
    assert named(found, "distance_to_drains").told == "none is drawn"
    assert named(found, "distance_to_wells").worth == 1.0
    assert named(found, "distance_to_pipes").worth is None


def test_distances_are_told_with_what_they_are_to(plane):
    pipe = Pipe(id="P7", kind="land_drain", geometry=LineString([(0, 40), (100, 40)]))
    situation = situation_on(
        plane(rising(0.0, 0.02)),
        pipes=(pipe,),
        inlets=(Inlet(id="G7", drains_to="capped", geometry=Point(60, 50)),),
    )
    found = measure(place_at(box(45, 47, 55, 53)), situation, None)
    assert named(found, "distance_to_pipes").value == pytest.approx(7.0)
    assert named(found, "distance_to_pipes").told == "to land drain P7"
    # A capped gully is no opening; the lower end of the drain is one.
    assert named(found, "distance_to_drains").told == "to lower end of land drain P7"


def test_way_of_a_spill_between_the_site_and_the_track_is_crossed(plane):
    way = SourceWay(
        source_id="store", name="The store", lines=(LineString([(30, 0), (30, 99)]),)
    )
    own = SourceWay(source_id="a", name="", lines=way.lines)
    track = Access(kind="track", geometry=LineString([(10, 0), (10, 100)]))
    pad = place_at(box(45, 47, 55, 53))
    grid = plane(rising(0.0, 0.02))
    found = named(
        measure(pad, situation_on(grid, access=(track,), ways=(way, own)), None),
        "ways_crossed",
    )
    assert (found.value, found.worth) == (1.0, 0.0)
    assert found.told == "from The store"
    none = measure(pad, situation_on(grid, access=(track,)), None)
    assert named(none, "ways_crossed").worth == 1.0
    lost = measure(pad, situation_on(grid, ways=(way,)), None)
    assert named(lost, "ways_crossed").worth is None


def test_hollow_is_as_deep_as_water_stands_in_it(plane, terrain):
    """A cone-shaped pan 0.4 m deep in level ground."""
    farm = terrain(
        plane(
            lambda east, north: (
                50
                + 0.001 * east
                - np.maximum(0, 0.4 - 0.04 * np.hypot(east - 50, north - 50))
            )
        )
    )
    assert hollow_depth_m(farm.flow, box(45, 45, 55, 55)) == pytest.approx(
        0.38, abs=0.05
    )
    assert hollow_depth_m(farm.flow, box(80, 80, 90, 90)) == pytest.approx(
        0.0, abs=0.01
    )
    assert hollow_depth_m(farm.flow, Point(50, 50)) > 0.3
    assert hollow_depth_m(farm.flow, Point(500, 500)) is None


# --- what a spill does ---


def arrival(scenario, hits, runs):
    nothing = (np.empty(0, np.int64), np.empty(0, np.float32))
    return Arrival(
        scenario=scenario,
        says="",
        reaches_water=share_of(hits, runs),
        may_reach_water=share_of(hits, runs),
        ends=(),
        length_m=(80.0, 120.0, 150.0),
        parts_at=None,
        parts_near="",
        visited=nothing,
        reach=Reach(1, *nothing),
    )


def test_chance_is_that_of_the_worse_scenario(plane):
    flow = SiteFlow(
        outcome="reaches_water",
        receptor_id="W1",
        length_m=100.0,
        upslope_area_m2=0.0,
        arrivals=(arrival("smaller_error", 40, 200), arrival("larger_error", 90, 200)),
    )
    situation = situation_on(plane(rising(0.0, 0.02)))
    found = measure(place_at(box(45, 47, 55, 53)), situation, flow)
    chance = named(found, "chance_of_water")
    assert chance.value == pytest.approx(0.45)
    assert chance.worth == pytest.approx(0.55)
    assert "larger error" in chance.told
    along = named(found, "distance_along_flow")
    assert (along.value, along.told) == (100.0, "to W1")
    assert along.spread == (80.0, 120.0, 150.0)


def test_draws_of_what_a_site_is_worth_have_its_quantiles(plane):
    flow = SiteFlow(
        outcome="reaches_water",
        receptor_id="W1",
        length_m=100.0,
        upslope_area_m2=0.0,
        arrivals=(arrival("larger_error", 50, 200),),
    )
    situation = situation_on(plane(rising(0.0, 0.02)), fall_error_m=0.1)
    criteria = measure(place_at(box(45, 47, 55, 53)), situation, flow)
    site = site_of("a", criteria=criteria)
    drawn = worths_drawn([site], 20_000)
    names = [one.name for one in criteria]
    slope = drawn[:, 0, names.index("slope")]
    expected = sorted(named(criteria, "slope").worths)
    assert np.quantile(slope, [0.05, 0.5, 0.95]) == pytest.approx(expected, abs=0.01)
    along = drawn[:, 0, names.index("distance_along_flow")]
    expected = named(criteria, "distance_along_flow").worths
    assert np.quantile(along, [0.05, 0.5, 0.95]) == pytest.approx(expected, abs=0.01)


# --- reasons ---


def site_of(name, *, existing=False, reasons=(), criteria=(), meets="true"):
    return Site(
        site_id=name,
        name="",
        existing=existing,
        rank=1,
        meets_rules=meets,
        judgements=(),
        score=0.5,
        criteria=tuple(criteria),
        reasons=tuple(reasons),
        easting_m=0.0,
        northing_m=0.0,
        footprint=Point(0, 0),
    )


@pytest.mark.parametrize(
    ("soil", "told"),
    [
        ({}, "whether a lined bed would float here is not resolved"),
        ({"depth_to_water_m": 0.6}, "In winter the water stands 0.6 m down, above"),
        ({"texture": "sand"}, "The soil (sand) lets a leak through"),
        ({"texture": "clay"}, "The soil (clay) holds rain up in winter"),
    ],
)
def test_what_the_ground_under_a_bed_means_is_told(plane, soil, told):
    """Situation 8: without a level the answer is not resolved, and a level is asked."""
    situation = situation_on(plane(rising(0.0, 0.02)), soil=SoilSettings(**soil))
    place = place_at(box(45, 47, 55, 53))
    site = site_of("a", criteria=measure(place, situation, None))
    assert any(told in one for one in reasons_of(site, place, None, situation))


def test_trial_pit_at_a_site_counts_for_more_than_the_farms_level(plane):
    pit = Candidate(id="a", geometry=box(45, 47, 55, 53), depth_to_water_m=2.5)
    (place,) = places_of(Features(candidates=(pit,)), 5.0)
    soil = SoilSettings(depth_to_water_m=0.5)
    found = measure(place, situation_on(plane(rising(0, 0.02)), soil=soil), None)
    assert named(found, "depth_to_water").value == 2.5


def test_reasons_of_every_site_are_told_once():
    sites = [
        site_of("a", reasons=("own", "dry soil", "no rule")),
        site_of("b", reasons=("no rule", "dry soil", "other")),
        site_of("use", existing=True, reasons=("used today",)),
    ]
    assert shared_reasons(sites) == ("dry soil", "no rule")
    assert shared_reasons(sites[:1]) == ()


def test_moving_tells_gains_and_losses(plane):
    river = Watercourse(
        id="R", geometry=LineString([(0, -50), (0, 150)]), half_width_m=1.0
    )
    well = WaterSupply(id="S", kind="well", geometry=Point(95, 50))
    situation = situation_on(
        plane(rising(0.02, 0.0)), watercourses=(river,), water_supplies=(well,)
    )

    def at(name, east, length_m, existing):
        flow = SiteFlow(
            outcome="reaches_water",
            receptor_id="R",
            length_m=length_m,
            upslope_area_m2=0.0,
        )
        pad = box(east, 47, east + 10, 53)
        return site_of(
            name, existing=existing, criteria=measure(place_at(pad), situation, flow)
        )

    told = " ".join(gains(at("here", 10, 12.0, True), at("there", 60, 90.0, False)))
    assert "there keeps the rules" in told
    assert (
        "would gain: water 59 instead of 9 m; the way of a spill 90 instead of 12 m"
        in told
    )
    assert "would lose: the nearest well or spring 25 instead of 75 m" in told


# --- a way out ---


def terrain_of(situation):
    return Terrain(situation.grid, situation.features, ASSUMED)


def rules(watercourse_m):
    given = RuleSettings(
        watercourse_m=watercourse_m, water_supply_m=10.0, drain_opening_m=10.0
    )
    return with_given_distances(read_rulebook("generic"), given)


def test_nearest_place_that_keeps_the_rules_is_away_from_the_water(plane):
    """A river along the west: 30 m and the error have to be kept, and half a pad."""
    river = Watercourse(
        id="R", drawn_at="bank_top", geometry=LineString([(0, -50), (0, 150)])
    )
    situation = situation_on(plane(rising(0.02, 0.0)), watercourses=(river,))
    found = nearest_way_out(
        place_at(box(5, 47, 15, 53)),
        terrain_of(situation),
        situation.surroundings,
        rules(30.0),
        LAYOUT,
        80.0,
    )
    assert found.towards == "east"
    # The pad's short side turned west: its middle lies 32 + 3 m off, by steps of 4 m.
    assert 24.0 <= found.distance_m <= 30.0


def test_there_may_be_no_way_out(plane):
    river = Watercourse(
        id="R", drawn_at="bank_top", geometry=LineString([(0, -50), (0, 150)])
    )
    situation = situation_on(plane(rising(0.02, 0.0)), watercourses=(river,))
    for watercourse_m, reach_m in ((500.0, 80.0), (30.0, 15.0)):
        assert (
            nearest_way_out(
                place_at(box(5, 47, 15, 53)),
                terrain_of(situation),
                situation.surroundings,
                rules(watercourse_m),
                LAYOUT,
                reach_m,
            )
            is None
        )


def test_ground_that_is_not_known_is_no_way_out(plane):
    grid = plane(rising(0.02, 0.0))
    heights = grid.heights_m.copy()
    heights[:, 30:] = np.nan
    unknown = replace(grid, heights_m=heights)
    river = Watercourse(
        id="R", drawn_at="bank_top", geometry=LineString([(0, -50), (0, 150)])
    )
    situation = situation_on(unknown, watercourses=(river,))
    assert (
        nearest_way_out(
            place_at(box(5, 47, 15, 53)),
            terrain_of(situation),
            situation.surroundings,
            rules(30.0),
            LAYOUT,
            80.0,
        )
        is None
    )


# --- ways without building ---


def without(check, **more):
    return WayWithout(
        id=check,
        title="",
        says="",
        needs=(),
        standing="read",
        source="",
        check=check,
        **more,
    )


@pytest.fixture
def yard(plane, terrain):
    return terrain(
        plane(rising(0.0, 0.02)),
        watercourses=[
            Watercourse(
                id="R", drawn_at="bank_top", geometry=LineString([(0, 0), (100, 0)])
            )
        ],
        surfaces=[
            Surface(kind="arable", geometry=box(0, 0, 100, 50)),
            Surface(
                kind="concrete",
                name="Yard",
                condition="worn",
                geometry=box(40, 60, 60, 80),
            ),
        ],
        inlets=[
            Inlet(id="G1", name="Gully", drains_to="unknown", geometry=Point(50, 62)),
            Inlet(id="G2", drains_to="capped", geometry=Point(45, 70)),
        ],
        tanks=[Tank(id="T", name="Old tank", capacity_l=5000, geometry=Point(80, 80))],
    )


def test_field_that_keeps_the_distance_is_told_in_hectares(yard):
    (way,) = checked([without("field_ground", from_water_m=10.0)], yard, ())
    # 100 by 50 m less a strip of 10 m: 0.4 of 0.5 ha.
    assert "0.4 ha of 0.5 ha of drawn field" in way.on_this_farm[-1]
    assert any("no layer pipes was drawn" in one for one in way.on_this_farm)


def test_land_drain_takes_its_trench_from_the_field(plane, terrain):
    drain = Pipe(id="L", kind="land_drain", geometry=LineString([(-9, 30), (109, 30)]))
    farm = terrain(
        plane(rising(0.0, 0.02)),
        pipes=[drain],
        surfaces=[Surface(kind="arable", geometry=box(0, 0, 100, 50))],
    )
    way = without("field_ground", from_drains_m=10.0)
    (found,) = checked([way], farm, ())
    assert "0.3 ha of 0.5 ha" in found.on_this_farm[-1]


def test_without_a_field_nothing_is_said_of_one(plane, terrain):
    (way,) = checked([without("field_ground")], terrain(plane(rising(0, 0.02))), ())
    assert way.on_this_farm == ("no field is drawn, so none was looked at",)


def test_concrete_is_told_with_its_state_and_the_openings_in_it(yard):
    (way,) = checked([without("concrete")], yard, ())
    assert way.on_this_farm == ("Yard, 400 m², drawn as worn: openings in it: Gully",)


def test_tank_of_which_nothing_is_known_is_not_reckoned_with(yard):
    (way,) = checked([without("tanks")], yard, ())
    assert way.on_this_farm == (
        "Old tank: holds 5,000 l, what it can take is not given, "
        "not said to be emptied",
    )


def test_gully_that_a_way_enters_is_named(plane, terrain):
    from pathways.features import Source

    farm = terrain(
        plane(rising(0.0, 0.02)),
        sources=[
            Source(id="F", name="Filling", kind="filling_point", geometry=Point(50, 80))
        ],
        inlets=[
            Inlet(id="G1", name="Gully", drains_to="unknown", geometry=Point(50, 60))
        ],
    )
    (way,) = checked([without("openings")], farm, trace(farm))
    assert way.on_this_farm == ("Gully takes a spill from Filling, or may",)


def test_every_way_of_the_table_names_a_check_that_there_is(yard):
    for way in checked(read_ways_without(), yard, ()):
        assert isinstance(way.on_this_farm, tuple)
