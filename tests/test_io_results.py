"""JSON documents: results.json and run.json."""

from __future__ import annotations

import dataclasses
import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
import shapely
from shapely import box

from pathways.errors import Notice, OutputError
from pathways.io.results import check_results, results_document, write_results
from pathways.io.run_record import run_document, settings_sha256
from pathways.rules import STANDINGS
from pathways.settings import FeatureSettings, GroundSettings, RuleSettings, Settings
from pathways.siting.site import Site

MOMENT = datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)


def read(path: Path):
    """Read JSON as the standard has it: RFC 8259 knows neither NaN nor Infinity."""

    def refuse(name):
        raise AssertionError(name)

    return json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse)


@pytest.fixture
def written(assessment, tmp_path):
    path = tmp_path / "results.json"
    write_results(results_document(assessment), path)
    return read(path)


def run_of(settings=None, made_at=MOMENT, **more):
    given = {"inputs": (), "operations": (), "notices": (), **more}
    return run_document(settings=settings or Settings(), made_at=made_at, **given)


def test_what_is_read_back_equals_what_was_found(assessment, written):
    assert written == results_document(assessment)


def test_two_writes_of_one_assessment_give_the_same_bytes(assessment, tmp_path):
    for name in "ab":
        write_results(results_document(assessment), tmp_path / name)
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


def test_the_document_has_the_keys_of_the_contract_in_its_order(written):
    assert list(written) == [
        "schema", "farm", "pathways", "sites", "sizing", "without_building",
        "assumptions", "warnings", "cautions", "not_yet_assessed",
    ]  # fmt: skip


def test_a_pathway_has_the_keys_of_the_contract(written):
    contract = {
        "source_id", "source_kind", "outcome", "why", "receptor_id", "receptor_kind",
        "length_m", "straight_line_m", "drop_m", "mean_slope", "surfaces", "via",
        "hollows", "start", "end", "passes_near", "alternatives", "cautions",
    }  # fmt: skip
    assert contract <= set(written["pathways"][0])


def test_a_site_has_the_keys_of_the_contract(written):
    contract = {
        "site_id", "rank", "meets_rules", "unmet", "score", "criteria", "reasons",
        "easting_m", "northing_m", "footprint",
    }  # fmt: skip
    assert contract <= set(written["sites"][0])


def test_an_unmet_rule_tells_need_have_margin_and_where_it_stands(written):
    [unmet] = written["sites"][0]["unmet"]
    assert {
        "rule": "watercourse", "need_m": 10.0, "have_m": 7.333, "margin": -2.667,
        "citation": "a clause 'quoted' \"twice\"", "standing": "read",
    }.items() <= unmet.items()  # fmt: skip


def test_the_farm_tells_its_place(written):
    farm = written["farm"]
    assert (farm["id"], farm["name"], farm["crs"], farm["cell_size_m"]) == (
        "ty-nant", "Fferm Tŷ-Nant <&>", "EPSG:27700", 2.0,
    )  # fmt: skip
    # By hand: 5 columns and 4 rows of 2 m from (350000, 280008).
    assert farm["extent"] == [350000.0, 280000.0, 350010.0, 280008.0]


def test_start_and_end_are_told_with_their_coordinates(written):
    pathway = written["pathways"][0]
    assert pathway["start"] == {
        "kind": "point", "easting_m": 350001.0, "northing_m": 280005.0,
    }  # fmt: skip
    assert pathway["end"] == {"easting_m": 350009.0, "northing_m": 280001.0}


@pytest.mark.parametrize(
    ("number", "field", "value"),
    [
        (0, "length_m", 9.153),
        (0, "mean_slope", 0.123457),
        (0, "straight_line_m", None),  # NaN
        (1, "drop_m", None),  # infinity
        (1, "mean_slope", None),
    ],
)
def test_numbers_are_rounded_and_unknown_ones_are_null(written, number, field, value):
    assert written["pathways"][number][field] == value


def test_zero_has_no_sign(written, assessment, tmp_path):
    write_results(results_document(assessment), tmp_path / "x")
    assert '"drop_m": 0.0' in (tmp_path / "x").read_text("utf-8")


def test_hostile_names_come_back_letter_by_letter(written, hostile_names):
    pathways, site = written["pathways"], written["sites"][0]
    assert [
        pathways[0]["source_name"], site["judgements"][0]["says"],
        pathways[0]["receptor_id"], pathways[0]["via"][0], pathways[1]["source_name"],
        site["name"], site["reasons"][1],
    ] == [hostile_names[which] for which in (0, 1, 2, 4, 5, 6, 7)]  # fmt: skip


def test_letters_of_all_languages_are_written_as_themselves(assessment, tmp_path):
    write_results(results_document(assessment), tmp_path / "x")
    assert "Fferm Tŷ-Nant".encode() in (tmp_path / "x").read_bytes()


def test_half_a_surrogate_pair_is_no_reason_to_fail(tmp_path):
    write_results({"name": "\ud83d"}, tmp_path / "x")
    assert read(tmp_path / "x") == {"name": "\ud83d"}


def test_a_footprint_is_geojson_in_the_farms_coordinates(written):
    footprint = written["sites"][0]["footprint"]
    geometry = shapely.from_geojson(json.dumps(footprint))
    # Rounded to the millimetre: 350006.0004 becomes 350006.000.
    assert geometry.equals(box(350004, 280004, 350006, 280006))


def test_a_notice_of_farm_and_assessment_is_told_once(written):
    assert [one["code"] for one in written["warnings"]] == ["no_drains_drawn", "second"]


def test_a_number_that_is_not_finite_is_never_written(tmp_path):
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_results({"length_m": float("nan")}, tmp_path / "x")


def test_every_field_of_a_pathway_is_told_but_its_legs(assessment):
    """So that a field that somebody adds is not forgotten here."""
    told = set(results_document(assessment)["pathways"][0])
    fields = {one.name for one in dataclasses.fields(assessment.pathways[0])}
    assert fields - told == {"legs", "start_kind"}


def test_every_field_of_a_site_is_told(assessment):
    told = set(results_document(assessment)["sites"][0])
    assert {one.name for one in dataclasses.fields(Site)} <= told


def test_one_changed_byte_is_noticed(assessment, tmp_path):
    document, path = results_document(assessment), tmp_path / "results.json"
    write_results(document, path)
    check_results(document, path)
    path.write_bytes(path.read_bytes().replace(b"350001.0", b"350001.1", 1))
    with pytest.raises(OutputError, match=r"results\.json was damaged"):
        check_results(document, path)


def test_a_file_cut_short_is_noticed(assessment, tmp_path):
    document, path = results_document(assessment), tmp_path / "results.json"
    write_results(document, path)
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(OutputError, match=r"results\.json was damaged"):
        check_results(document, path)


def test_an_input_is_told_by_name_and_hash():
    run = run_of(inputs=[("features/sources.geojson", "ba7816bf")])
    assert run["inputs"] == [{"name": "features/sources.geojson", "sha256": "ba7816bf"}]


def test_only_the_moment_differs_between_two_runs():
    later = run_of(made_at=datetime(2026, 1, 2, 3, 4, 6, tzinfo=UTC))
    assert {**later, "made_at": "2026-01-02T03:04:05Z"} == run_of()


def test_the_moment_is_told_in_universal_time():
    assert run_of()["made_at"] == "2026-01-02T03:04:05Z"


def test_the_record_names_every_version_that_can_change_a_result():
    versions = run_of()["versions"]
    assert set(versions) == {
        "python", "farm-pathways", "numpy", "numba", "shapely", "GEOS", "pyproj",
        "PROJ", "rasterio", "GDAL of rasterio", "pyogrio", "GDAL of pyogrio", "folium",
        "SQLite",
    }  # fmt: skip
    unknown = {name for name, number in versions.items() if not re.match(r"\d", number)}
    assert unknown <= {"farm-pathways"}  # which may run from its source code


def test_the_record_holds_no_folder_of_this_machine(monkeypatch, tmp_path):
    monkeypatch.setattr(Path, "home", lambda: Path("/people/farmer"))
    settings = Settings(
        ground=GroundSettings(files=["/srv/lidar/a.tif", "C:\\Users\\farmer\\b.tif"]),
        features=FeatureSettings(path="~farmer/drawing.gpkg"),
        rules=RuleSettings(file="/people/farmer/rules.toml"),
    )
    notice = Notice(
        "x", "/people/farmer/farm/ground.tif has 5 m/s", "/people/farmer/farm"
    )
    text = json.dumps(run_of(settings, notices=[notice]))
    assert not re.search(r"farmer|srv|Users", text)


def test_a_text_keeps_its_words_when_a_folder_is_cut(monkeypatch):
    monkeypatch.setattr(Path, "home", lambda: Path("/people/farmer"))
    notice = Notice("x", "/people/farmer/farm/ground.tif has 5 m/s")
    assert run_of(notices=[notice])["warnings"][0]["text"] == (
        "~/farm/ground.tif has 5 m/s"
    )


def test_the_record_tells_operation_and_accuracy(tmp_path):
    moved = ("sources", "Inverse of OSGB36 to WGS 84 (6)", 2.0)
    write_results(run_of(operations=[moved]), tmp_path / "run.json")
    [operation] = read(tmp_path / "run.json")["operations"]
    assert tuple(operation.values()) == moved


def test_the_hash_of_settings_changes_with_a_setting():
    changed = Settings(ground=GroundSettings(kind="surface"))
    assert settings_sha256(changed) != settings_sha256(Settings())


def test_spill_of_a_way_adds_up_and_tells_its_sources(written):
    spill = written["pathways"][0]["spill"]
    assert [one["loss"] for one in spill["losses"]] == [
        "dregs", "container", "overfill", "stated",
    ]  # fmt: skip
    for loss in spill["losses"]:
        assert loss["standing"] in STANDINGS
        assert loss["source"]
        assert list(loss["states"]) == ["raining", "saturated", "wet", "dry"]
        for fate in loss["states"].values():
            parts = ("film", "hollows", "soaks", "tanks", "past_inlets", "arrives")
            total_l = sum(fate[f"{one}_l"] for one in parts)
            assert total_l == pytest.approx(loss["volume_l"], abs=0.004)
            past = fate["gets_past_l"]
            assert 0 <= past["low"] <= past["median"] <= past["high"]
    assert spill["critical_volume_l"]["raining"]["low"] == 0.0
    assert spill["models"]["closed_form"].endswith("what reaches groundwater")
    assert spill["rain"]["ends"][0]["runoff_m3"] == 1.25
    assert [one["overtops"] for one in spill["kerbs"]] == [False]


def test_way_that_is_not_known_has_no_spill(written):
    assert written["pathways"][1]["spill"] is None
