"""Situations on a yard that a ranking of sites must get right, each a small farm.

Source of the situations and of their answers: an experienced adviser's review of what
goes wrong on real yards (practice, no published source).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from shapely import LineString, Point, box

from pathways.assessment import assess_farm
from pathways.farm import Farm
from pathways.features import (
    Candidate,
    Exclusion,
    Features,
    Inlet,
    SearchArea,
    Source,
    Watercourse,
    WaterSupply,
)
from pathways.run import read_tables
from pathways.settings import RuleSettings, Settings

ALL_DRAWN = frozenset(
    {"watercourses", "water_supplies", "inlets", "pipes", "exclusions", "access"}
)


def judged(grid, jurisdiction, **layers):
    """The sites of a farm by their ids."""
    settings = Settings(rules=RuleSettings(jurisdiction=jurisdiction))
    farm = Farm(grid, Features(drawn=ALL_DRAWN, **layers), settings)
    found = assess_farm(farm, read_tables(Path(), settings.rules))
    return {one.site_id: one for one in found.sites}


def rule(site, name):
    return [one for one in site.judgements if one.rule == name]


def falling_south(east, north):
    return 50.0 + 0.02 * north + 0.0 * east


def river(name="W1", northing_m=5.0):
    line = LineString([(0, northing_m), (100, northing_m)])
    return Watercourse(id=name, kind="stream", drawn_at="bank_top", geometry=line)


def test_gully_of_unknown_outlet_beside_the_filling_point_breaks_scotlands_rule(plane):
    """Situation 1: 3 m off, and the way misses it: connected all the same."""
    sites = judged(
        plane(falling_south),
        "scotland",
        watercourses=(river(),),
        sources=(Source(id="F", kind="filling_point", geometry=Point(50, 80)),),
        inlets=(Inlet(id="G", drains_to="unknown", geometry=Point(53, 80)),),
        candidates=(Candidate(id="C", geometry=box(20, 60, 44, 84)),),
    )
    (drain,) = rule(sites["F"], "SC-FILL-10-DRAIN")
    assert (drain.verdict, drain.have_m) == ("false", pytest.approx(3.0))
    assert sites["F"].meets_rules == "false"
    told = " ".join(sites["F"].reasons)
    assert "enters a drain (gully G)" in told
    assert "7.0 m farther off" in told
    assert sites["C"].rank < sites["F"].rank


def test_setback_counts_from_a_culvert_under_the_yard_and_from_its_manhole(plane):
    """Situation 2: nothing is to be seen, and the ditch is there."""
    ditch = Watercourse(
        id="D",
        kind="ditch",
        culverted=True,
        half_width_m=0.5,
        geometry=LineString([(50, 0), (50, 100)]),
    )
    sites = judged(
        plane(falling_south),
        "scotland",
        watercourses=(river(), ditch),
        inlets=(Inlet(id="M", kind="manhole", drains_to="D", geometry=Point(50, 70)),),
        candidates=(
            Candidate(id="over", geometry=box(40, 60, 64, 84)),
            Candidate(id="off", geometry=box(66, 60, 90, 84)),
        ),
    )
    culvert = [one for one in rule(sites["over"], "SC-FILL-10-BANK") if one.have_m == 0]
    assert culvert[0].verdict == "false"
    assert "culverted" in culvert[0].says
    (manhole,) = rule(sites["over"], "SC-FILL-10-DRAIN")
    assert manhole.verdict == "false"
    assert sites["off"].rank < sites["over"].rank


def test_site_on_a_crown_is_told_both_waters_with_their_shares(plane):
    """Situation 3: never one line."""

    def crown(east, north):
        return 50.0 - 0.001 * abs(east - 50.0) + 0.0 * north

    def bank(name, easting_m):
        line = LineString([(easting_m, 0), (easting_m, 100)])
        return Watercourse(id=name, drawn_at="bank_top", geometry=line)

    sites = judged(
        plane(crown),
        "england",
        watercourses=(bank("West", 2.0), bank("East", 98.0)),
        sources=(Source(id="F", kind="filling_point", geometry=Point(50, 50)),),
    )
    (told,) = [one for one in sites["F"].reasons if "versions of the ground" in one]
    assert "West" in told
    assert "East" in told


def test_site_below_a_spring_breaks_its_distance_and_its_water_is_run_on(plane):
    """Situation 5: the way leads away from it; the rule is unmet all the same."""
    spring = WaterSupply(
        id="S", name="Top spring", kind="spring", geometry=Point(50, 95)
    )
    sites = judged(
        plane(falling_south),
        "england",
        watercourses=(river(),),
        water_supplies=(spring,),
        candidates=(
            Candidate(id="below", geometry=box(44, 58, 62, 74)),
            Candidate(id="beside", geometry=box(70, 58, 88, 74)),
        ),
    )
    broken = [
        one
        for one in sites["below"].judgements
        if one.receptor_id == "S" and one.verdict == "false" and one.binds
    ]
    assert broken
    assert any(
        one == "Water of spring Top spring runs onto it and must be led round it."
        for one in sites["below"].reasons
    )
    assert not any("must be led round" in one for one in sites["beside"].reasons)


@pytest.mark.parametrize(
    ("standing", "verdict", "excluded"),
    [("read", "false", True), ("from_memory", "no_rule_read", False)],
)
def test_candidate_in_a_flood_zone_is_excluded_or_warned(
    plane, standing, verdict, excluded
):
    """Situation 7: by the standing of the zone; never merely a low score."""
    zone = Exclusion(
        id="Z", kind="flood_zone", standing=standing, geometry=box(0, 40, 60, 100)
    )
    sites = judged(
        plane(falling_south),
        "england",
        watercourses=(river(),),
        exclusions=(zone,),
        candidates=(
            Candidate(id="in", geometry=box(20, 60, 44, 84)),
            Candidate(id="out", geometry=box(70, 30, 94, 54)),
        ),
        search_area=(SearchArea(geometry=box(0, 10, 100, 100)),),
    )
    assert sites["in"].meets_rules == verdict
    assert any("flood" in one for one in sites["in"].reasons)
    if excluded:
        assert sites["in"].rank == max(one.rank for one in sites.values())
        assert "below every site that does not" in sites["in"].reasons[0]
    else:
        assert any(
            "flood zone Z" in one for one in sites["in"].unmet[0].says.split(";")
        )
    found = [one for one in sites.values() if one.site_id.startswith("found-")]
    assert found
    assert not any(one.footprint.intersects(zone.geometry) for one in found)


def test_site_that_breaks_a_rule_is_told_the_nearest_place_that_breaks_none(plane):
    sites = judged(
        plane(falling_south),
        "scotland",
        watercourses=(river(northing_m=5.0),),
        candidates=(Candidate(id="C", geometry=box(45, 8, 55, 14)),),
    )
    assert sites["C"].meets_rules == "false"
    assert "m to the north" in sites["C"].reasons[1]
    assert "breaks no distance" in sites["C"].reasons[1]


def test_existing_place_is_always_judged_and_told_what_moving_gains(plane):
    sites = judged(
        plane(falling_south),
        "scotland",
        watercourses=(river(),),
        sources=(Source(id="F", kind="filling_point", geometry=Point(50, 9)),),
        candidates=(Candidate(id="C", geometry=box(40, 70, 64, 94)),),
    )
    told = " ".join(sites["F"].reasons)
    assert sites["F"].existing
    assert "Moving to C would gain: water" in told
    assert "breaks no distance lies about" in told
