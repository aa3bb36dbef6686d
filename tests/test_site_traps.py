"""Small farms drawn so as to make the ranking say something untrue in silence.

Each was found by trying; the answers follow from the data contract, the rules page and
common practice (no published source).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, box

from pathways.assessment import assess_farm
from pathways.farm import Farm
from pathways.features import (
    Building,
    Candidate,
    Exclusion,
    Features,
    Inlet,
    Pipe,
    SearchArea,
    Source,
    Surface,
    Watercourse,
    WaterSupply,
)
from pathways.io.rulebooks import parse_rulebook, read_rulebook
from pathways.rules import with_given_distances
from pathways.run import read_tables
from pathways.settings import GroundSettings, RuleSettings, Settings
from pathways.siting.receptors import surroundings_of
from pathways.siting.setbacks import judge, meets_rules

LAYERS = frozenset(
    {"watercourses", "water_supplies", "inlets", "pipes", "exclusions", "access"}
)
OWN = {"watercourse_m": 10.0, "water_supply_m": 10.0, "drain_opening_m": 10.0}


def south(east, north):
    return 50.0 + 0.02 * north + 0.0 * east


def level(east, north):
    return 50.0 + 0.01 * east + 0.0 * north


def assessed(grid, rules, *, drawn=LAYERS, error_m=1.0, **layers):
    settings = Settings(
        rules=RuleSettings(**rules), ground=GroundSettings(position_error_m=error_m)
    )
    farm = Farm(grid, Features(drawn=drawn, **layers), settings)
    return assess_farm(farm, read_tables(Path(), settings.rules))


def by_id(found):
    return {one.site_id: one for one in found.sites}


def bank(name="W", northing_m=5.0):
    line = LineString([(0, northing_m), (100, northing_m)])
    return Watercourse(id=name, kind="stream", drawn_at="bank_top", geometry=line)


def criterion(site, name):
    return next(one for one in site.criteria if one.name == name)


@pytest.mark.parametrize("shape", [Point(50, 50), box(46, 47, 54, 53)])
def test_bed_laid_out_beside_a_drawing_is_judged_too(plane, shape):
    """A bed reaches farther than the disc of a point: 3.5 m from water is not kept."""
    found = assessed(
        plane(level),
        {"jurisdiction": "generic"} | OWN,
        watercourses=(bank(northing_m=58.0),),
        candidates=(Candidate(id="C", geometry=shape),),
    )
    site = by_id(found)["C"]
    near_m = min(site.pad.distance(bank(northing_m=58.0).geometry), 99.0)
    assert near_m < 8.0
    assert site.meets_rules == "false"


def test_layout_that_keeps_a_distance_is_taken_where_there_is_one(plane):
    found = assessed(
        plane(level),
        {"jurisdiction": "generic"} | OWN,
        watercourses=(bank(northing_m=67.5),),
        candidates=(Candidate(id="C", geometry=Point(50, 50)),),
    )
    site = by_id(found)["C"]
    assert site.bed.distance(bank(northing_m=67.5).geometry) >= 12.0
    assert site.meets_rules == "true"


def test_drawn_id_that_looks_like_a_found_one_keeps_its_own_spill(plane):
    drawn = Candidate(id="found-1", name="Drawn", geometry=box(45, 10, 70, 20))
    layers = {
        "watercourses": (bank(),),
        "search_area": (SearchArea(geometry=box(0, 60, 100, 100)),),
    }
    rules = {"jurisdiction": "generic"} | OWN
    sites = by_id(assessed(plane(south), rules, candidates=(drawn,), **layers))
    other = Candidate(id="A", geometry=drawn.geometry)
    same = by_id(assessed(plane(south), rules, candidates=(other,), **layers))["A"]
    along = criterion(sites["found-1"], "distance_along_flow").value
    assert along == criterion(same, "distance_along_flow").value
    assert sites["found-1"].name == "Drawn"
    assert len(sites) == len({one.footprint.wkb for one in sites.values()})


def verdict_at(found, place):
    settings = found.farm.settings
    tables = read_tables(Path(), settings.rules)
    return meets_rules(
        judge(
            ("filling", "pad", "bed"),
            place,
            surroundings_of(found.farm.features, tables.assumed.half_widths_m),
            with_given_distances(tables.rulebook, settings.rules),
            settings.ground.position_error_m,
        )
    )


def test_way_out_keeps_the_error_of_the_drawing(plane):
    """5 m of error: a place that lies 13.5 m off for a need of 10 m is no way out."""
    found = assessed(
        plane(south),
        {"jurisdiction": "generic"} | OWN,
        error_m=5.0,
        watercourses=(bank(),),
        candidates=(Candidate(id="C", geometry=box(45, 6, 55, 14)),),
    )
    told = by_id(found)["C"].reasons[1]
    away_m = float(told.split("about ")[1].split(" m")[0])
    assert 10.0 + away_m - 5.0 >= 10.0 + 5.0 + 3.0 - 1.0


def test_way_out_and_search_keep_off_a_zone_that_bars(plane):
    zone = Exclusion(
        id="Z", kind="flood_zone", standing="read", geometry=box(0, 40, 60, 100)
    )
    found = assessed(
        plane(south),
        {"jurisdiction": "england"},
        watercourses=(bank(),),
        exclusions=(zone,),
        candidates=(Candidate(id="in", geometry=box(20, 60, 44, 84)),),
        search_area=(SearchArea(geometry=box(0, 10, 100, 100)),),
    )
    for site in found.sites:
        if site.site_id.startswith("found-"):
            assert site.footprint.distance(zone.geometry) > 2.0
            assert verdict_at(found, site.footprint) != "marginal"


def test_way_out_puts_no_bed_on_concrete(plane):
    found = assessed(
        plane(south),
        {"jurisdiction": "generic"} | OWN,
        watercourses=(bank(),),
        surfaces=(Surface(kind="concrete", geometry=box(0, 0, 100, 100)),),
        candidates=(Candidate(id="C", geometry=box(45, 6, 55, 14)),),
    )
    assert "none was found" in by_id(found)["C"].reasons[1]


def test_way_out_says_what_could_not_be_decided_there_either(plane):
    found = assessed(
        plane(south),
        {"jurisdiction": "scotland"},
        drawn=LAYERS - {"inlets"},
        watercourses=(bank(),),
        candidates=(Candidate(id="C", geometry=box(45, 6, 55, 14)),),
    )
    assert "not decided there either" in by_id(found)["C"].reasons[1]


def test_building_on_england_keeps_its_gaps():
    """An estate's file must not turn what was not read into kept rules."""
    own = parse_rulebook(
        'id="e"\ntitle="E"\njurisdiction="E"\nbuilds_on="england"', "own.toml"
    )
    given = RuleSettings(watercourse_m=1.0, water_supply_m=1.0, drain_opening_m=1.0)
    around = surroundings_of(
        Features(drawn=LAYERS, watercourses=(bank(),)), {"stream": 1.0}
    )
    verdicts = {
        meets_rules(
            judge(
                ("filling",),
                box(40, 70, 50, 80),
                around,
                with_given_distances(book, given),
                1.0,
            )
        )
        for book in (own, read_rulebook("england"))
    }
    assert verdicts == {"no_rule_read"}


def test_gap_that_speaks_of_the_use_alone_is_the_one_that_is_told():
    around = surroundings_of(Features(drawn=LAYERS), {})
    told = judge(("bed",), box(0, 0, 9, 9), around, read_rulebook("ireland"), 1.0)
    assert any("authorisation" in one.says for one in told)


def test_way_that_hardly_any_version_takes_is_not_told_alone(plane):
    def groove(east, north):
        ridge = np.where(abs(north - 59.5) < 0.3, 0.0199, 0.0)
        return 50 + 0.02 * north - 0.001 * east + ridge

    other = Watercourse(
        id="W2",
        kind="stream",
        drawn_at="bank_top",
        geometry=LineString([(99, 30), (99, 100)]),
    )
    found = assessed(
        plane(groove),
        {"jurisdiction": "generic"} | OWN,
        watercourses=(bank("W1"), other),
        candidates=(Candidate(id="C", geometry=box(60, 62, 75, 80)),),
    )
    site = by_id(found)["C"]
    assert any("(stream W2)" in one for one in site.reasons)
    (told,) = [one for one in site.reasons if "versions of the ground a spill" in one]
    assert "stream W1 in" in told


@pytest.mark.parametrize(
    ("more", "hectares"),
    [
        ({}, "1.0 ha of 1.0 ha"),
        (
            {
                "pipes": (
                    Pipe(
                        id="K",
                        kind="culvert",
                        geometry=LineString([(50, -20), (50, 120)]),
                    ),
                )
            },
            "0.8 ha of 1.0 ha",
        ),
        (
            {"surfaces": (Surface(kind="concrete", geometry=box(0, 0, 50, 100)),)},
            "0.5 ha of 1.0 ha",
        ),
        (
            {"exclusions": (Exclusion(kind="spz1", geometry=box(0, 0, 50, 100)),)},
            "0.5 ha of 1.0 ha",
        ),
        (
            {"buildings": (Building(geometry=box(0, 0, 20, 100)),)},
            "0.8 ha of 1.0 ha",
        ),
    ],
)
def test_field_that_keeps_distances_is_field(plane, more, hectares):
    field = Surface(kind="arable", geometry=box(0, 0, 100, 100))
    more = more | {"surfaces": (field, *more.get("surfaces", ()))}
    found = assessed(
        plane(south, size_m=120.0),
        {"jurisdiction": "england"},
        watercourses=(),
        **more,
    )
    (way,) = [one for one in found.ways_without if one.id == "in_field"]
    assert hectares in way.on_this_farm[-1]


def test_site_half_on_unknown_ground_is_not_known(plane):
    def hole(east, north):
        return np.where((east > 40) & (east < 60), np.nan, south(east, north))

    found = assessed(
        plane(hole),
        {"jurisdiction": "generic"} | OWN,
        watercourses=(bank(),),
        candidates=(Candidate(id="H", geometry=box(10, 40, 58, 60)),),
    )
    site = by_id(found)["H"]
    for name in ("hollow_depth", "upslope_area", "distance_along_flow"):
        assert criterion(site, name).worth is None
    assert any("Part of its ground has no height" in one for one in site.reasons)


@pytest.mark.parametrize(
    ("water", "have_m", "verdict"),
    [
        (Watercourse(id="R", kind="river", drawn_at="edge",
                     geometry=LineString([(0, 0), (0, 100)])), 12.5, "marginal"),
        (Watercourse(id="R", kind="river", drawn_at="edge",
                     geometry=LineString([(0, 0), (0, 100)])), 17.5, "true"),
        (Watercourse(id="R", kind="river", drawn_at="bank_top",
                     geometry=LineString([(0, 0), (0, 100)])), 12.5, "true"),
        (Watercourse(id="L", kind="lake", geometry=box(-50, 0, 0, 100)),
         12.5, "marginal"),
    ],
)  # fmt: skip
def test_bank_top_that_is_not_known_passes_nothing_by_a_hair(water, have_m, verdict):
    """Scottish law counts from the top of the bank."""
    around = surroundings_of(
        Features(drawn=LAYERS, watercourses=(water,)), {"river": 5.0, "lake": 1.0}
    )
    site = box(have_m, 40, have_m + 10, 50)
    told = judge(("filling",), site, around, read_rulebook("scotland"), 1.0)
    assert [one.verdict for one in told if one.rule == "SC-FILL-10-BANK"] == [verdict]


def test_openings_are_not_known_where_inlets_were_not_drawn(plane):
    """The end of a pipe far off says nothing of a gully nearby."""
    found = assessed(
        plane(south),
        {"jurisdiction": "generic"} | OWN,
        drawn=LAYERS - {"inlets"},
        watercourses=(bank(),),
        pipes=(Pipe(id="P", geometry=LineString([(90, 90), (95, 95)])),),
        candidates=(Candidate(id="C", geometry=box(20, 40, 50, 70)),),
    )
    assert criterion(by_id(found)["C"], "distance_to_drains").worth is None


def test_culverted_ditch_is_a_pipe_in_the_ground(plane):
    ditch = Watercourse(
        id="D",
        kind="ditch",
        culverted=True,
        half_width_m=0.5,
        geometry=LineString([(30, 0), (30, 100)]),
    )
    found = assessed(
        plane(south),
        {"jurisdiction": "generic"} | OWN,
        watercourses=(bank(), ditch),
        candidates=(Candidate(id="C", geometry=box(20, 40, 50, 60)),),
    )
    assert criterion(by_id(found)["C"], "distance_to_pipes").value == 0.0


def test_cure_takes_the_error_of_the_drawing_in(plane):
    found = assessed(
        plane(south),
        {"jurisdiction": "generic"} | OWN,
        watercourses=(bank(),),
        candidates=(Candidate(id="C", geometry=box(30, 8, 60, 38)),),
    )
    (told,) = [one for one in by_id(found)["C"].reasons if one.startswith("Not met")]
    assert "7.0 m farther off, and more by what grid and drawing may be off" in told


def test_site_just_outside_a_zone_is_not_told_to_lie_outside(plane):
    zone = Exclusion(
        id="Z", kind="flood_zone", standing="read", geometry=box(0, 60, 100, 100)
    )
    found = assessed(
        plane(south),
        {"jurisdiction": "england"},
        watercourses=(bank(),),
        exclusions=(zone,),
        candidates=(Candidate(id="C", geometry=box(30, 29, 60, 59)),),
    )
    told = " ".join(by_id(found)["C"].reasons)
    assert "it would have to lie outside" not in told
    assert "have the distance measured" in told


def test_moving_tells_no_difference_of_nothing(plane):
    found = assessed(
        plane(south),
        {"jurisdiction": "generic"} | OWN,
        watercourses=(bank(),),
        sources=(Source(id="F", kind="filling_point", geometry=Point(50, 60.0)),),
        candidates=(Candidate(id="C", geometry=box(49, 60.2, 75, 80)),),
    )
    told = " ".join(by_id(found)["F"].reasons)
    for words in told.split("; "):
        if " instead of " in words:
            then, now = words.split(" instead of ")
            assert then.split()[-1] != now.split()[0]


def test_candidate_in_a_pond_never_stands_first(plane):
    pond = Watercourse(id="P", kind="pond", geometry=box(20, 60, 60, 90))
    found = assessed(
        plane(south),
        {"jurisdiction": "generic"},
        watercourses=(bank(), pond),
        candidates=(
            Candidate(id="in", geometry=box(25, 65, 55, 85)),
            Candidate(id="out", geometry=box(65, 20, 95, 40)),
        ),
    )
    assert [one.site_id for one in found.sites] == ["out", "in"]
    assert any("no room for a pad" in one for one in found.sites[1].reasons)


def test_search_area_without_extent_or_off_the_ground_finds_nothing(plane):
    for area in (shapely.Polygon(), box(500, 500, 600, 600)):
        found = assessed(
            plane(south),
            {"jurisdiction": "generic"},
            watercourses=(bank(),),
            search_area=(SearchArea(geometry=area),),
        )
        assert found.sites == ()


def test_pad_is_not_looked_for_on_a_gully_or_a_well(plane):
    found = assessed(
        plane(south),
        {"jurisdiction": "generic"},
        watercourses=(bank(),),
        inlets=(Inlet(id="G", drains_to="unknown", geometry=Point(50, 60)),),
        water_supplies=(WaterSupply(id="S", kind="well", geometry=Point(60, 70)),),
        search_area=(SearchArea(geometry=box(30, 45, 80, 85)),),
    )
    assert found.sites
    for site in found.sites:
        assert site.footprint.distance(Point(50, 60)) >= 1.0
        assert site.footprint.distance(Point(60, 70)) >= 1.0
