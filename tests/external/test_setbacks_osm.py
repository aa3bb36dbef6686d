"""Setbacks in a real drawing against distances computed with GEOS beforehand.

Source of the drawing and of the table: tests/external/data/osm_liechtenstein/README.md.
The table was computed with GEOS, on which shapely stands too: this checks our reading
of the drawing, our choice of the nearest water and our margins, not GEOS itself.
"""

import csv
from pathlib import Path

import pyogrio
import pytest

from pathways.features import Features, Watercourse
from pathways.io.rulebooks import read_rulebook
from pathways.io.tables import read_assumed
from pathways.rules import with_given_distances
from pathways.settings import RuleSettings
from pathways.siting.receptors import surroundings_of
from pathways.siting.setbacks import judge

DATA = Path(__file__).parent / "data" / "osm_liechtenstein"
KINDS = {"canal": "canal", "drain": "ditch", "river": "river", "stream": "stream"}
#: The table prints one decimal.
PRINTED_TO_M = 0.05 + 1e-9
NEED_M = 10.0


@pytest.fixture(scope="module")
def waterways():
    table = pyogrio.read_dataframe(
        DATA / "liechtenstein_extract_lv95.gpkg", layer="waterways"
    )
    return {str(row.osm_id): (row.waterway, row.geometry) for row in table.itertuples()}


@pytest.fixture(scope="module")
def yards():
    table = pyogrio.read_dataframe(
        DATA / "liechtenstein_extract_lv95.gpkg", layer="farmyards"
    )
    return {str(row.osm_way_id): row.geometry for row in table.itertuples()}


@pytest.fixture(scope="module")
def surroundings(waterways):
    watercourses = tuple(
        Watercourse(
            id=osm_id,
            kind=KINDS.get(kind, "stream"),
            drawn_at="edge",  # as drawn: the table widens no line
            geometry=geometry,
        )
        for osm_id, (kind, geometry) in waterways.items()
    )
    return surroundings_of(
        Features(watercourses=watercourses), read_assumed().half_widths_m
    )


def printed():
    with (DATA / "farmyard_setbacks_geos.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", printed(), ids=lambda row: row["osm_way_id"])
def test_nearest_water_is_as_far_as_geos_says(row, yards, waterways, surroundings):
    rulebook = with_given_distances(
        read_rulebook("generic"), RuleSettings(watercourse_m=NEED_M)
    )
    judgements = judge(
        ("filling",), yards[row["osm_way_id"]], surroundings, rulebook, 1.0
    )
    nearest = min(
        (one for one in judgements if one.rule == "OWN-WATER" and one.receptor_id),
        key=lambda one: one.have_m,
    )
    expected_m = float(row["dist_to_waterway_m"])
    assert nearest.have_m == pytest.approx(expected_m, abs=PRINTED_TO_M)
    assert nearest.margin_m == pytest.approx(expected_m - NEED_M, abs=PRINTED_TO_M)
    assert waterways[nearest.receptor_id][0] == row["nearest_kind"]


def test_setbacks_told_in_the_table_are_all_there(yards):
    assert {row["osm_way_id"] for row in printed()} <= set(yards)
    assert len(printed()) == 9


@pytest.mark.parametrize(
    ("osm_way_id", "verdict"), [("900", "false"), ("3096", "false"), ("5410", "true")]
)
def test_verdict_at_ten_metres_follows_from_the_table(
    osm_way_id, verdict, yards, surroundings
):
    rulebook = with_given_distances(
        read_rulebook("generic"), RuleSettings(watercourse_m=NEED_M)
    )
    judgements = judge(("filling",), yards[osm_way_id], surroundings, rulebook, 1.0)
    found = {one.verdict for one in judgements if one.rule == "OWN-WATER"}
    assert verdict in found
    assert ("true" in found) == (verdict == "true")
