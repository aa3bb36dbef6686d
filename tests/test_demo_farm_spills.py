"""The demo farm's results say what each loss does, and where each number is from."""

from __future__ import annotations

from pathlib import Path

import pytest

from pathways.io.results import results_document
from pathways.io.tables import read_assumed
from pathways.pages.map import map_page
from pathways.rules import STANDINGS
from pathways.run import assess
from pathways.spill.ground_states import STATE_NAMES
from pathways.units import name_and_unit

FARM = Path(__file__).parents[1] / "data-samples" / "demo-farm"
LOSSES = ["dregs", "container", "overfill", "full_tank", "stated"]


@pytest.fixture(scope="module")
def found():
    return assess(FARM)


def test_each_source_tells_each_loss_in_four_states(found):
    document = results_document(found)
    assert len(document["pathways"]) >= len(found.farm.features.sources)
    for pathway in document["pathways"]:
        spill = pathway["spill"]
        assert [one["loss"] for one in spill["losses"]] == LOSSES
        for loss in spill["losses"]:
            assert tuple(loss["states"]) == STATE_NAMES
            # The headline: in rain all of it gets there, whatever it is.
            rain = loss["states"]["raining"]
            assert rain["gets_past_l"]["low"] == loss["volume_l"]
            assert rain["time_s"]["low"] >= 0
        assert spill["critical_volume_l"]["raining"]["high"] == 0


def test_every_number_of_a_spill_is_listed_with_its_standing_and_source(found):
    listed = {one.what: one for one in found.assumptions}
    for one in listed.values():
        assert one.standing in STANDINGS
        assert one.source
    of_spills = ("spill", "credible_losses", "ground_states")
    for group, name in read_assumed().table:
        if group in of_spills:
            assert name_and_unit(name)[0] in listed
    covers = {kind for one in found.spills for kind in one.covers}
    assert {"concrete", "dense_grass"} <= covers
    for kind in covers:
        name = kind.replace("_", " ")
        assert f"roughness (Manning's n) of {name}" in listed
        assert f"film that stays on {name}: low, middle, high" in listed
    rained_on = {kind for one in found.spills for kind in one.rain.covers}
    assert "concrete" in rained_on
    for kind in rained_on:
        name = kind.replace("_", " ")
        assert f"curve number of {name}, soil group C" in listed
        assert f"runoff coefficient of {name}" in listed
    assert listed["conductivity of clay loam"].value == 1.0


def test_map_tells_each_loss_of_each_source(found):
    page = map_page(found)
    told = page.count('"heading": "What a spill does"') or page.count(
        "What a spill does"
    )
    assert told == len(found.pathways)


def test_results_are_the_same_each_time(found):
    again = results_document(assess(FARM))
    assert again["pathways"] == results_document(found)["pathways"]


def test_ways_without_building_are_told_with_their_sources(found):
    told = results_document(found)["without_building"]
    assert [one["id"] for one in told] == [
        "in_field",
        "stop_it_at_the_drain",
        "sound_concrete",
        "biofilter",
        "tank_and_contractor",
    ]  # the rows of another jurisdiction are left out
    for one in told:
        assert one["standing"] in STANDINGS
        assert one["source"]
        assert one["needs"]
    page = map_page(found)
    assert "A biofilter of stacked containers" in page
