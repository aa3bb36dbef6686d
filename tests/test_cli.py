"""The command as a user meets it: one sentence, an exit code, nothing half-written."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import geopandas
import numpy as np
import pytest
import rasterio
from shapely import Point

SAMPLE = Path(__file__).parent.parent / "data-samples" / "demo-farm"
LIDAR = Path(__file__).parent / "external" / "data" / "slovenia_north_1m"


def pathways(*words, cwd):
    return subprocess.run(
        [sys.executable, "-m", "pathways_cli", *map(str, words)],
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
    )


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    done = pathways("demo", "farm", cwd=folder)
    assert done.returncode == 0, done.stderr
    return folder, done


def test_demo_writes_its_files_and_says_which_page_to_open(demo):
    folder, done = demo
    names = sorted(one.name for one in (folder / "farm" / "results").iterdir())
    assert names == [
        "map.html",
        "report.html",
        "report.md",
        "results.gpkg",
        "results.json",
        "run.json",
        "sizes.html",
    ]
    assert done.stdout.splitlines()[-1].startswith("Open this page: ")
    assert "Traceback" not in done.stderr


def test_demo_tells_the_trap_and_the_false_alarm(demo):
    """The place that looks safe reaches water; the one by the ditch does not."""
    folder, _ = demo
    found = json.loads((folder / "farm" / "results" / "results.json").read_text())
    ways = {one["source_id"]: one for one in found["pathways"]}
    assert ways["F1"]["straight_line_m"] > 70
    assert ways["F1"]["outcome"] == "reaches_water"
    assert ways["F1"]["via"] == ["G1", "P1"]
    assert ways["F2"]["straight_line_m"] < 15
    assert ways["F2"]["outcome"] == "contained"
    assert ways["S1"]["start"]["kind"] == "door"
    assert ways["W1"]["alternatives"][0]["via"] == ["G2"]
    order = [one["site_id"] for one in found["sites"]]
    drawn = [one for one in order if not one.startswith("found-")]
    assert drawn[0] == "C1"
    assert order[0] != "F1"  # far from water in a straight line, near by a pipe
    assert [one for one in order if one not in drawn] == [
        f"found-{number}" for number in range(1, 6)
    ]
    assert found["cautions"]
    assert found["not_yet_assessed"] == []
    assert found["sizing"]["bed"]["area_m2"] > 0


def test_results_that_are_there_are_not_touched(demo):
    folder, _ = demo
    before = (folder / "farm" / "results" / "run.json").read_bytes()
    done = pathways("assess", "farm", cwd=folder)
    assert done.returncode == 5
    assert "--overwrite" in done.stderr
    assert (folder / "farm" / "results" / "run.json").read_bytes() == before


def test_results_that_are_there_are_told_before_any_work(tmp_path):
    """The farm cannot be read, and yet it is the results that are spoken of."""
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "map.html").write_text("mine")
    (tmp_path / "farm.toml").write_text("not a farm")
    done = pathways("assess", ".", cwd=tmp_path)
    assert done.returncode == 5
    assert "already holds map.html" in done.stderr


def test_same_farm_gives_the_same_bytes(demo):
    folder, _ = demo
    done = pathways("assess", "farm", "--out", "again", "--quiet", cwd=folder)
    assert (done.returncode, done.stdout) == (0, "")
    for name in ("map.html", "results.gpkg", "results.json"):
        one = (folder / "farm" / "results" / name).read_bytes()
        assert (folder / "again" / name).read_bytes() == one


def test_trace_and_rank_print_json_for_machines(demo):
    folder, _ = demo
    traced = json.loads(pathways("trace", "farm", "--json", cwd=folder).stdout)
    ranked = json.loads(pathways("rank", "farm", "--json", cwd=folder).stdout)
    assert "pathways" in traced
    assert "sites" not in traced
    assert [one["rank"] for one in ranked["sites"]] == sorted(
        one["rank"] for one in ranked["sites"]
    )


def test_sizes_are_one_page_with_where_each_number_comes_from(demo):
    folder, _ = demo
    told = pathways("size", "farm", cwd=folder)
    assert told.returncode == 0, told.stderr
    for words in ("In short", "Pad", "Bed", "What to order", "Not for", "T32"):
        assert words.lower() in told.stdout.lower()
    machines = json.loads(pathways("size", "farm", "--json", cwd=folder).stdout)
    for chapter in machines["sizing"]["chapters"]:
        for one in chapter["figures"]:
            assert one["source"] or one["how"]


def test_demo_does_not_write_over_a_folder(demo):
    folder, _ = demo
    done = pathways("demo", "farm", cwd=folder)
    assert done.returncode == 5
    assert "is there already" in done.stderr


def test_unknown_verb_is_wrong_usage_with_a_hint(tmp_path):
    done = pathways("traec", "farm", cwd=tmp_path)
    assert done.returncode == 2
    assert "did you mean 'trace'" in done.stderr


def test_new_farm_lacks_only_its_ground_and_sources(tmp_path):
    assert pathways("new", "farm", "--crs", "EPSG:27700", cwd=tmp_path).returncode == 0
    done = pathways("check", "farm", cwd=tmp_path)
    errors = [one for one in done.stdout.splitlines() if one.startswith("Error")]
    assert done.returncode == 3
    assert len(errors) == 2
    assert any("ground.tif" in one for one in errors)
    assert any("sources" in one for one in errors)


def test_witness_is_heard_in_one_sentence(demo):
    folder, _ = demo
    done = pathways("check", "farm", "--witness", cwd=folder)
    assert done.returncode == 0, done.stderr
    (sentence,) = [one for one in done.stdout.splitlines() if one.startswith("richdem")]
    assert "fills the same ground" in sentence


def test_warm_up_writes_nothing(tmp_path):
    done = pathways("warm-up", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Compiled")
    assert list(tmp_path.iterdir()) == []


def test_rules_are_printed_with_standing_and_citation(tmp_path):
    done = pathways("rules", "england", cwd=tmp_path)
    assert done.returncode == 0
    assert "condition of exemption, read; Environment Agency" in done.stdout
    assert "not found" in done.stdout


def lidar_farm(folder):
    """A farm folder made of the Slovenian clip and three of its starts."""
    folder.mkdir()
    (folder / "ground.tif").write_bytes((LIDAR / "slovenia_north_1m.tif").read_bytes())
    (folder / "farm.toml").write_text('[farm]\nid = "clip"\n', "utf-8")
    waters = geopandas.read_file(LIDAR / "watercourses.gpkg")
    waters.to_file(folder / "features.gpkg", layer="watercourses")
    starts = json.loads((LIDAR / "slovenia_north_1m_reference.json").read_text())
    places = [(one["x"], one["y"]) for one in starts["starts"][:3]]
    geopandas.GeoDataFrame(
        {"id": ["a", "b", "c"], "kind": ["filling_point"] * 3},
        geometry=[Point(place) for place in places],
        crs=waters.crs,
    ).to_file(folder / "features.gpkg", layer="sources", mode="a")
    return folder


def test_real_lidar_gives_all_files(tmp_path):
    farm = lidar_farm(tmp_path / "farm")
    done = pathways("assess", farm, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert len(list((farm / "results").iterdir())) == 7
    assert "no drains were drawn" in done.stdout


# What must not give a traceback -------------------------------------------------


def spoil_truncated(farm):
    data = (farm / "ground.tif").read_bytes()
    (farm / "ground.tif").write_bytes(data[: len(data) // 2])


def spoil_missing(farm):
    (farm / "ground.tif").unlink()


def rewrite(farm, change):
    with rasterio.open(farm / "ground.tif") as source:
        profile, data = source.profile, source.read()
    data = change(profile, data)
    with rasterio.open(farm / "ground.tif", "w", **profile) as target:
        target.write(data)


def spoil_all_no_data(farm):
    rewrite(farm, lambda profile, data: np.full_like(data, profile["nodata"]))


def spoil_degrees(farm):
    def change(profile, data):
        profile["crs"] = "EPSG:4326"
        profile["transform"] = rasterio.transform.from_origin(15.0, 46.0, 1e-5, 1e-5)
        return data

    rewrite(farm, change)


def spoil_no_crs(farm):
    def change(profile, data):
        profile["crs"] = None
        return data

    rewrite(farm, change)


def spoil_settings(farm):
    (farm / "farm.toml").write_text('[farm]\nnmae = "x"\n', "utf-8")


def spoil_kind(farm):
    sources = geopandas.read_file(farm / "features.gpkg", layer="sources")
    sources["kind"] = "filing_point"
    sources.to_file(farm / "features.gpkg", layer="sources", mode="w")


def spoil_geometry(farm):
    sources = geopandas.read_file(farm / "features.gpkg", layer="sources")
    sources.geometry = [None, *sources.geometry[1:]]
    sources.to_file(farm / "features.gpkg", layer="sources", mode="w")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (spoil_truncated, "ground.tif"),
        (spoil_missing, "ground.tif"),
        (spoil_all_no_data, "no data"),
        (spoil_degrees, "EPSG:32633"),
        (spoil_no_crs, "coordinate reference system"),
        (spoil_settings, "did you mean 'name'"),
        (spoil_kind, "did you mean 'filling_point'"),
        (spoil_geometry, "geometry"),
    ],
)
def test_bad_input_is_one_sentence_and_exit_3(tmp_path, spoil, says):
    farm = lidar_farm(tmp_path / "farm")
    spoil(farm)
    done = pathways("assess", farm, cwd=tmp_path)
    assert done.returncode == 3, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    assert says in done.stderr
    assert all(line.startswith("Error: ") for line in done.stderr.splitlines())
    assert not (farm / "results").exists()


def test_hostile_names_go_through_every_output(tmp_path):
    name = "</script><script>alert(1)</script> ${7*7} `x` \\ \" ' Ffynnon Ŵyr"
    farm = lidar_farm(tmp_path / "farm")
    sources = geopandas.read_file(farm / "features.gpkg", layer="sources")
    sources["name"] = name
    sources.to_file(farm / "features.gpkg", layer="sources", mode="w")
    done = pathways("assess", farm, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads((farm / "results" / "results.json").read_text("utf-8"))
    assert found["pathways"][0]["source_name"] == name
    page = (farm / "results" / "map.html").read_text("utf-8")
    assert "<script>alert(1)" not in page
    layer = geopandas.read_file(farm / "results" / "results.gpkg", layer="pathways")
    assert layer["source_name"][0] == name


INVENTED = """
id = "lundesay"
title = "Lundesay, an invented island"
jurisdiction = "Lundesay"
builds_on = "generic"

[citation.act]
publisher = "the moot of Lundesay"
document = "an invented act"
clause = "article 3"
checked_on = 2026-11-25

[[setback]]
id = "LU-DITCH"
says = "whoever fills a sprayer keeps 150 m from a ditch"
applies_to = ["filling", "pad", "bed"]
receptors = ["ditch"]
distance_m = 150
measured_from = "bank_top"
force = "law"
standing = "read"
citation = "act"
"""


def test_a_user_adds_an_invented_jurisdiction_without_touching_code(demo, tmp_path):
    """Its law fails sites, is cited, is on the map and is checked like ours."""
    folder, _ = demo
    for name in ("ground.tif", "features.gpkg"):
        shutil.copy(folder / "farm" / name, tmp_path)
    (tmp_path / "lundesay.toml").write_text(INVENTED, encoding="utf-8")
    (tmp_path / "farm.toml").write_text(
        '[rules]\nfile = "lundesay.toml"\n', encoding="utf-8"
    )
    printed = pathways("rules", "--file", "lundesay.toml", cwd=tmp_path).stdout
    assert "LU-DITCH: whoever fills a sprayer keeps 150 m from a ditch" in printed
    done = pathways("assess", ".", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    sites = json.loads((tmp_path / "results" / "results.json").read_text())["sites"]
    judged = {
        site["site_id"]: one
        for site in sites
        for one in site["judgements"]
        if one["rule"] == "LU-DITCH"
    }
    assert judged["F2"]["verdict"] == "false"
    assert (
        "the moot of Lundesay, an invented act, article 3" in judged["F2"]["citation"]
    )
    assert "whoever fills a sprayer" in (tmp_path / "results" / "map.html").read_text()
