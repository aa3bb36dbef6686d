"""Sites in order: rules before scores, weights by hand, reasons in words."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, box

from pathways.errors import FeatureError, SettingsError
from pathways.features import (
    Access,
    Candidate,
    Exclusion,
    Features,
    Inlet,
    Source,
    Watercourse,
    WaterSupply,
)
from pathways.grid import Grid
from pathways.io.rulebooks import read_rulebook, read_weights
from pathways.io.tables import read_assumed
from pathways.rules import with_given_distances
from pathways.settings import (
    GroundSettings,
    RuleSettings,
    Settings,
    SitingSettings,
    SoilSettings,
)
from pathways.siting.criteria import score_of
from pathways.siting.layout import Footing, laid_out, layout_of
from pathways.siting.places import places_of
from pathways.siting.ranking import rank_sites
from pathways.siting.receptors import surroundings_of
from pathways.siting.search import keeps_rules
from pathways.siting.site import Criterion, SiteFlow
from pathways.siting.situation import Situation, SourceWay
from pathways.siting.weights import with_given_weights
from pathways.spill.spill import CriticalVolume

ALL_LAYERS = frozenset(
    {"watercourses", "water_supplies", "inlets", "pipes", "exclusions", "access"}
)
GIVEN = RuleSettings(watercourse_m=10.0, water_supply_m=50.0, drain_opening_m=10.0)
WEIGHTS, ASSUMED = read_weights(), read_assumed()
#: A pad and a bed that fit into the candidates below.
SMALL = SitingSettings(pad_size_m=[3.0, 2.0], bed_size_m=[1.0, 1.0])
#: The way of a spill from a store, along the river.
WAYS = (
    SourceWay(
        source_id="store",
        name="the store",
        lines=(LineString([(30.0, 0.0), (30.0, 400.0)]),),
    ),
)
#: A plane of 2 cm a metre, 400 m square, that falls westwards to a river at 0.
ROWS, COLUMNS = np.mgrid[0:200, 0:200]
GRID = Grid((50.0 + COLUMNS * 0.04).astype(np.float32), 0.0, 400.0, 2.0, "", "local")
RIVER = Watercourse(
    id="river 1",
    kind="river",
    drawn_at="bank_top",
    geometry=LineString([(0.0, 0.0), (0.0, 400.0)]),
)


def site_at(name, easting_m, northing_m=200.0):
    """A candidate of 8 by 6 m whose western side lies so far from the river."""
    shape = box(easting_m, northing_m, easting_m + 8.0, northing_m + 6.0)
    return Candidate(id=name, geometry=shape)


def flow(length_m=100.0, outcome="reaches_water", upslope_area_m2=200.0, **more):
    return SiteFlow(
        outcome=outcome,
        receptor_id="river 1",
        length_m=length_m,
        upslope_area_m2=upslope_area_m2,
        **more,
    )


def ranked(*candidates, flows=None, rulebook="generic", given=None, **layers):
    """Candidates and sources judged on the plane, pads laid out where there is room."""
    layers = {"watercourses": (RIVER,), "drawn": ALL_LAYERS} | layers
    settings = Settings(**({"rules": GIVEN, "siting": SMALL} | (given or {})))
    features = Features(candidates=candidates, **layers)
    situation = Situation(
        grid=GRID,
        features=features,
        surroundings=surroundings_of(features, ASSUMED.half_widths_m),
        weights=with_given_weights(WEIGHTS, settings.siting.weights),
        settings=settings,
        assumed=ASSUMED,
        ways=WAYS,
        fall_error_m=0.1,
    )
    rules = with_given_distances(read_rulebook(rulebook), settings.rules)
    footing = Footing(
        blocked=Point(),
        layout=layout_of(settings.siting, ASSUMED),
        grid=GRID,
        pad_fall=settings.siting.pad_fall,
        keeps=lambda tried: keeps_rules(tried, situation.surroundings, rules, 1.0),
    )
    return rank_sites(
        situation,
        rules,
        [
            (
                laid_out(place, footing),
                (flows or {}).get(place.site_id),
            )
            for place in places_of(features, WEIGHTS.footprint_radius_m)
        ],
    )


def criterion(site, name):
    return next(one for one in site.criteria if one.name == name)


# --- the order ---


def test_a_site_that_breaks_a_rule_never_stands_above_one_that_does_not():
    near, far = site_at("near", 5.0), site_at("far", 20.0)
    # All that scores speaks for the near one; it breaks the rule by 5 m all the same.
    flows = {"near": flow(200.0), "far": flow(None, "not_known", None)}
    order = ranked(near, far, flows=flows)
    assert [site.site_id for site in order] == ["far", "near"]
    assert order[1].score > order[0].score
    assert [site.meets_rules for site in order] == ["true", "false"]


def test_a_broken_rule_is_no_score_of_nought():
    (site,) = ranked(site_at("near", 5.0), flows={"near": flow()})
    assert site.meets_rules == "false"
    assert site.score > 0.3


def test_among_sites_that_keep_the_rules_the_score_decides():
    order = ranked(site_at("a", 30.0), site_at("b", 90.0))
    assert [site.site_id for site in order] == ["b", "a"]
    assert [site.rank for site in order] == [1, 2]


def test_sites_that_agree_to_two_decimals_share_their_rank_and_say_so():
    order = ranked(site_at("b", 50.0), site_at("a", 50.0, 100.0), site_at("c", 90.0))
    assert [(site.site_id, site.rank) for site in order] == [
        ("c", 1),
        ("a", 2),
        ("b", 2),
    ]
    assert any(reason.startswith("A tie with b") for reason in order[1].reasons)


def test_no_places_give_no_sites():
    assert ranked() == ()


@given(
    eastings_m=st.lists(st.floats(1.0, 380.0), min_size=1, max_size=6),
)
def test_no_broken_rule_ever_stands_above_a_kept_one(eastings_m):
    order = ranked(
        *(site_at(f"s{number}", east) for number, east in enumerate(eastings_m))
    )
    broken = [site.meets_rules == "false" for site in order]
    assert broken == sorted(broken)


# --- scores by hand ---


def test_score_is_the_weighted_sum_by_hand():
    # West side 50 m from the river, on the plane of 0.02 that falls westwards; a pad of
    # 6 by 4 m with a bed of 4 by 4 m does not fit into 8 by 6 m and is laid out about
    # its middle, at 54, 203.
    critical = CriticalVolume(state="wet", low_l=550.0, median_l=800.0, high_l=None)
    given = {
        "siting": SitingSettings(pad_size_m=[6.0, 4.0], bed_size_m=[4.0, 4.0]),
        "soil": SoilSettings(depth_to_water_m=1.5),
    }
    (site,) = ranked(
        site_at("a", 50.0),
        flows={
            "a": flow(
                100.0,
                "reaches_water",
                2600.0,
                time_s=180.0,
                hollow_depth_m=0.1,
                critical=(critical,),
            )
        },
        given=given,
        water_supplies=(
            WaterSupply(id="w", kind="well", use="other", geometry=Point(54.0, 331.0)),
        ),
        inlets=(Inlet(id="g", drains_to="unknown", geometry=Point(54.0, 191.0)),),
        access=(
            Access(id="t", kind="water", geometry=Point(168.0, 203.0)),
            Access(id="p", kind="power", geometry=Point(78.0, 203.0)),
            Access(id="g", kind="gate", geometry=Point(20.0, 203.0)),
        ),
    )
    by_hand = {
        "distance_to_water": 0.15 * 50 / 100,
        "distance_to_drains": 0.05 * 9 / 30,
        "distance_along_flow": 0.17 * 100 / 200,
        "time_along_flow": 0.03 * 180 / 1800,
        "critical_volume": 0.10 * (0.4 + 0.4 * 450 / 900),
        "chance_of_water": 0.0,  # told, not weighed
        "distance_to_wells": 0.10 * 125 / 250,
        "distance_to_pipes": 0.03,  # looked at, none drawn
        "upslope_area": 0.05 * (5000 - 2600) / 4800,
        "hollow_depth": 0.03 * (0.3 - 0.1) / 0.25,
        "depth_to_water": 0.02 * (1.5 - 1.0) / 2.0,
        "ways_crossed": 0.0,  # one, between the site and the gate
        "slope": 0.05,
        "cross_slope": 0.03,  # laid along the fall, or across it: nought
        # A slope of 0.02 less the fall of 0.01, over 6 m: wedges 0.01 L^2 W / 8 each.
        "earth_moved": 0.04,
        # The bed downhill: 2 m between and 4 m of bed and 6 m of pad; uphill and the
        # pad is laid out alike, so the first that moves least stands.
        "distance_to_supplies": 0.07 * (200 - 110) / 180,
        "distance_to_dwellings": 0.0,  # no layer of buildings: not known
    }
    found = {one.name: one.weight * (one.worth or 0.0) for one in site.criteria}
    fall_to_bed = found.pop("fall_to_bed")
    assert found == pytest.approx(by_hand, abs=1e-4)
    assert site.score == pytest.approx(sum(by_hand.values()) + fall_to_bed, abs=1e-4)


def test_fall_to_the_bed_is_that_of_the_ground_between():
    (site,) = ranked(site_at("a", 150.0))
    pad, bed = site.pad, site.bed
    # On the plane of 0.02 the height is 0.02 a metre of easting.
    fall_m = 0.02 * (pad.bounds[0] - bed.bounds[2])
    assert criterion(site, "fall_to_bed").value == pytest.approx(fall_m, abs=1e-3)
    assert "pump" in criterion(site, "fall_to_bed").told


def measured(worth, weight):
    return Criterion(
        name="slope",
        value=None,
        unit="m/m",
        worth=worth,
        weight=weight,
        standing="assumed",
    )


def test_what_is_not_known_lowers_the_score_as_the_worst_does():
    known = [measured(0.8, 0.6), measured(0.5, 0.4)]
    unknown = [measured(0.8, 0.6), measured(None, 0.4)]
    assert score_of(known) == pytest.approx(0.6 * 0.8 + 0.4 * 0.5)
    assert score_of(unknown) == pytest.approx(0.6 * 0.8)


def test_nothing_known_is_no_score():
    assert score_of([measured(None, 1.0)]) is None


@pytest.mark.parametrize(
    ("value", "worth"), [(-5.0, 0.0), (0.0, 0.0), (25.0, 0.25), (100.0, 1.0), (1e9, 1)]
)
def test_worth_runs_straight_between_its_ends(value, worth):
    yardstick = next(one for one in WEIGHTS.criteria if one.name == "distance_to_water")
    assert yardstick.worth(value) == pytest.approx(worth)


# --- the way of a spill ---


@pytest.mark.parametrize(
    ("outcome", "value", "worth"),
    [
        ("reaches_water", 100.0, 0.5),
        ("enters_piped_drain", 100.0, 0.5),
        ("enters_ground", 100.0, 0.5),
        ("not_known", None, None),
        ("stops_on_surface", None, 0.5),
        ("contained", None, 1.0),
    ],
)
def test_each_outcome_is_worth_what_it_may_claim(outcome, value, worth):
    (site,) = ranked(site_at("a", 50.0), flows={"a": flow(100.0, outcome)})
    along = criterion(site, "distance_along_flow")
    assert (along.value, along.worth) == (value, worth)


def test_a_way_that_was_not_traced_counts_as_not_known():
    (site,) = ranked(site_at("a", 50.0))
    assert criterion(site, "distance_along_flow").worth is None
    assert any("was not traced" in reason for reason in site.reasons)


# --- places ---


def test_a_candidate_drawn_as_a_point_takes_a_disc_and_says_so():
    (site,) = ranked(Candidate(id="a", geometry=Point(50.0, 200.0)))
    water = next(one for one in site.judgements if one.rule == "OWN-WATER")
    assert water.have_m == pytest.approx(45.0)
    assert any("a disc of 5 m" in reason for reason in site.reasons)


def test_an_existing_point_is_measured_as_drawn_and_judged_for_filling():
    fill = Source(id="fill", kind="filling_point", geometry=Point(25.0, 200.0))
    (site,) = ranked(sources=(fill,), rulebook="england")
    water = next(one for one in site.judgements if one.rule == "EN-OWN-WATER")
    bed = next(one for one in site.judgements if one.rule == "EN-T32-WATER")
    assert (site.existing, water.have_m) == (True, 25.0)
    # A bed would be built round it, and reach nearer than the point.
    assert (bed.binds, bed.verdict) == (False, "true")
    assert bed.have_m == pytest.approx(20.5, abs=1e-6) or bed.have_m > 20.5


def test_what_a_bed_would_need_never_decides_on_an_existing_filling_place():
    fill = Source(id="fill", kind="filling_point", geometry=Point(50.0, 200.0))
    spz1 = Exclusion(id="z", kind="spz1", standing="read", geometry=box(0, 0, 400, 400))
    (site,) = ranked(sources=(fill,), rulebook="england", exclusions=(spz1,))
    assert site.meets_rules == "no_rule_read"
    assert any("if a pad and bed were built here" in one for one in site.reasons)


def test_only_filling_and_washing_places_are_judged_among_sources():
    sources = tuple(
        Source(id=kind, kind=kind, geometry=Point(50.0, 200.0))
        for kind in ("filling_point", "washdown", "fuel_store", "midden")
    )
    places = places_of(Features(sources=sources), 5.0)
    assert [place.site_id for place in places] == ["filling_point", "washdown"]


def test_two_places_of_one_id_are_refused():
    fill = Source(id="a", kind="filling_point", geometry=Point(15.0, 200.0))
    with pytest.raises(FeatureError, match="share the id 'a'; give each its own"):
        ranked(site_at("a", 50.0), sources=(fill,))


# --- reasons ---


def test_an_unmet_rule_is_told_in_metres_with_its_citation():
    gully = Inlet(id="g", drains_to="unknown", geometry=Point(47.0, 203.0))
    (site,) = ranked(site_at("a", 50.0), rulebook="scotland", inlets=(gully,))
    told = next(one for one in site.reasons if one.startswith("Not met"))
    assert "gully g is 3.0 m away, 7.0 m too near" in told
    assert "SEPA" in told
    assert "7.0 m farther off" in told


def test_a_marginal_site_asks_to_be_measured():
    (site,) = ranked(site_at("a", 11.0))
    assert site.meets_rules == "marginal"
    assert any("measure" in reason for reason in site.reasons)


def test_position_error_of_the_farm_widens_what_is_marginal():
    less_sure = {"ground": GroundSettings(position_error_m=4.0)}
    (site,) = ranked(site_at("a", 13.0), given=less_sure)
    assert site.meets_rules == "marginal"


def test_absent_layers_and_unknown_values_are_told():
    (site,) = ranked(site_at("a", 50.0), drawn=frozenset({"watercourses"}))
    assert any("Not drawn, and so not looked at" in one for one in site.reasons)
    assert any("Not known, and counted as the worst" in one for one in site.reasons)
    assert site.meets_rules == "no_rule_read"


def test_the_slope_comes_with_what_a_grid_cannot_show():
    (site,) = ranked(site_at("a", 50.0))
    assert criterion(site, "slope").value == pytest.approx(0.02, abs=1e-4)
    assert any("fall of 1:100" in reason for reason in site.reasons)


def test_a_slope_off_the_grid_is_not_known():
    (site,) = ranked(site_at("a", 396.0))
    assert criterion(site, "slope").worth is None


# --- the farm's own weights ---


def test_own_weights_are_scaled_to_one():
    before = {one.name: one.weight for one in WEIGHTS.criteria}["distance_to_water"]
    weights = with_given_weights(WEIGHTS, {"distance_to_water": 1.0 + before})
    found = {one.name: one.weight for one in weights.criteria}
    assert found["distance_to_water"] == pytest.approx((1.0 + before) / 2)
    assert sum(found.values()) == pytest.approx(1.0)
    assert weights.standing == "given"


def test_own_weights_change_the_order():
    flows = {"a": flow(190.0), "b": flow(20.0)}
    sites = (site_at("a", 30.0), site_at("b", 60.0))
    only_straight = {one.name: 0.0 for one in WEIGHTS.criteria} | {
        "distance_to_water": 1.0
    }
    assert ranked(*sites, flows=flows)[0].site_id == "a"
    given = {"siting": SitingSettings(weights=only_straight)}
    assert ranked(*sites, flows=flows, given=given)[0].site_id == "b"


def test_weights_that_put_convenience_first_are_told():
    given = {"siting": SitingSettings(weights={"slope": 1.0})}
    (site,) = ranked(site_at("a", 50.0), given=given)
    assert any("give convenience" in reason for reason in site.reasons)


@pytest.mark.parametrize(
    ("given_weights", "sentence"),
    [
        ({"slop": 0.5}, r"slop is no criterion; did you mean 'slope'\?"),
        ({"slope": -1.0}, "slope is -1.0; a weight is a number of 0 or more"),
        ({"slope": float("nan")}, "slope is nan; a weight is a number"),
        ({"slope": float("inf")}, "slope is inf; a weight is a number"),
        ({one.name: 0.0 for one in WEIGHTS.criteria}, "all are 0; give at least one"),
    ],
)
def test_impossible_weights_are_refused(given_weights, sentence):
    with pytest.raises(SettingsError, match=sentence):
        with_given_weights(WEIGHTS, given_weights)


def test_weights_that_do_not_add_up_are_refused():
    with pytest.raises(ValueError, match="add up to 1"):
        dataclasses.replace(
            WEIGHTS,
            criteria=tuple(
                dataclasses.replace(one, weight=0.5) for one in WEIGHTS.criteria
            ),
        )


def test_worth_that_goes_to_and_fro_is_refused():
    with pytest.raises(ValueError, match="only rise or only fall"):
        dataclasses.replace(
            WEIGHTS.criteria[0], points=((0.0, 0.0), (1.0, 1.0), (2.0, 0.5))
        )


# --- how firmly ---


def test_shares_of_first_places_add_up_and_favour_the_better_site():
    flows = {"a": flow(190.0), "b": flow(150.0), "c": flow(60.0)}
    order = ranked(
        site_at("a", 90.0), site_at("b", 80.0), site_at("c", 60.0), flows=flows
    )
    first = [site.rank_acceptability[0] for site in order]
    assert sum(first) == pytest.approx(1.0)
    assert first[0] == max(first)
    assert all(sum(one.rank_acceptability) == pytest.approx(1.0) for one in order)


def test_site_that_breaks_a_rule_does_not_compete():
    order = ranked(site_at("a", 90.0), site_at("b", 80.0), site_at("near", 5.0))
    assert order[-1].rank_acceptability == ()
    assert len(order[0].rank_acceptability) == 2


def test_site_behind_is_told_what_sets_the_first_before_it():
    order = ranked(site_at("a", 90.0), site_at("b", 40.0))
    told = " ".join(order[1].reasons)
    assert "What sets" in told
    assert "level with" in told


def test_alone_there_is_no_order():
    (site,) = ranked(site_at("a", 90.0))
    assert site.rank_acceptability == ()


def test_pad_drawn_as_an_area_is_told_its_earthwork():
    """A level plane needs a wedge each way: L W fall / 8 of the length."""
    area = Candidate(id="a", geometry=box(90, 40, 100, 46))
    (site,) = ranked(area)
    gradient = criterion(site, "slope").value
    assert site.earthwork is not None
    assert site.earthwork.cut_m3 == pytest.approx(site.earthwork.fill_m3, abs=0.2)
    # The ground's own fall less the pad's, over 10 m and 6 m of width, at the most.
    assert site.earthwork.cut_m3 <= 6.0 * abs(gradient + 0.01) * 10.0**2 / 8 + 0.2
    (point,) = ranked(Candidate(id="p", geometry=Point(90, 50)))
    assert point.earthwork is not None
    assert point.pad.centroid.distance(Point(90, 50)) == pytest.approx(0.0, abs=1e-6)
    (corner,) = ranked(Candidate(id="c", geometry=Point(399, 399)))
    assert corner.earthwork is None
    assert any("no room for a pad" in reason for reason in corner.reasons)
