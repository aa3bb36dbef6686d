"""Sites on real LiDAR: an order that can be followed, with citations and shares.

Ground: tests/external/data/slovenia_north_1m (origin and licence there). The places in
mind are starts whose ends four general-purpose programs agree on; the area that is
searched is ours.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import shapely
from shapely import Point, box
from slovenia import STARTS, ground, waters

from pathways.assessment import assess_farm
from pathways.farm import Farm
from pathways.features import (
    Candidate,
    Features,
    SearchArea,
    Source,
)
from pathways.pages.map import map_page
from pathways.run import read_tables
from pathways.settings import RuleSettings, Settings
from pathways.siting.site import shared_reasons
from pathways.terrain.landscape import Terrain
from pathways.terrain.tracing import lowest_of

pytestmark = pytest.mark.large


@pytest.fixture(scope="module")
def found():
    places = [Point(one["x"], one["y"]) for one in STARTS]
    settings = Settings(
        rules=RuleSettings(
            watercourse_m=10.0, water_supply_m=50.0, drain_opening_m=10.0
        )
    )
    features = Features(
        watercourses=waters(),
        sources=(Source(id="use", kind="filling_point", geometry=places[2]),),
        candidates=(
            Candidate(id="upper", geometry=places[0]),
            Candidate(id="lower", geometry=places[4]),
            Candidate(id="bank", geometry=waters()[0].geometry.representative_point()),
        ),
        search_area=(SearchArea(geometry=box(564300, 146560, 564700, 146960)),),
        drawn=frozenset({"water_supplies", "inlets", "pipes", "exclusions"}),
    )
    farm = Farm(ground(), features, settings)
    return assess_farm(farm, read_tables(Path(), settings.rules), threads=2)


def test_order_is_that_of_rules_and_then_of_scores(found):
    broken = [one.meets_rules == "false" for one in found.sites]
    assert broken == sorted(broken)
    scores = [one.score for one in found.sites if one.meets_rules != "false"]
    assert scores == sorted(scores, reverse=True)
    (bank,) = [one for one in found.sites if one.site_id == "bank"]
    assert bank.meets_rules == "false"
    assert "breaks no distance lies about" in bank.reasons[1]


def test_found_places_beat_those_in_mind_and_keep_their_distances(found):
    assert [one.site_id for one in found.sites][:1] == ["found-1"]
    for site in found.sites:
        if site.site_id.startswith("found-"):
            assert site.meets_rules == "true"
            assert all(one.citation for one in site.judgements)
            assert site.earthwork is not None


def test_shares_of_first_places_add_up(found):
    firsts = [
        one.rank_acceptability[0] for one in found.sites if one.rank_acceptability
    ]
    assert len(firsts) == sum(one.meets_rules != "false" for one in found.sites)
    assert sum(firsts) == pytest.approx(1.0)


def test_every_site_is_told_for_and_against_and_how_firmly(found):
    for site in found.sites:
        told = " ".join(site.reasons)
        assert "Most speaks for it" in told
        assert "Most speaks against it" in told
        if site.meets_rules != "false":
            assert "With weights and ground varied it is first in" in told
    assert shared_reasons(found.sites)


def test_way_of_a_spill_is_never_shorter_than_the_straight_line(found):
    terrain = Terrain(
        found.farm.grid,
        found.farm.features,
        read_tables(Path(), RuleSettings()).assumed,
    )
    water = shapely.union_all(terrain.waters)
    for site in found.sites:
        length = next(
            one for one in site.criteria if one.name == "distance_along_flow"
        ).value
        area = site.footprint.area > 0
        start = lowest_of(terrain, site.footprint) if area else site.footprint
        if length is not None:
            assert length >= start.distance(water) - 1e-9


def test_map_numbers_each_site_once(found):
    page = map_page(found)
    numbers = [json.dumps(str(n)) for n in range(1, len(found.sites) + 1)]
    for number, site in zip(numbers, found.sites, strict=True):
        assert f'"letter": {number}' in page or f'"letter":{number}' in page
        assert (site.name or site.site_id).lower() in page.lower()
