"""results.gpkg in programs that this project does not depend on.

QGIS and GDAL as Debian packages them (``python3-qgis``, which brings GDAL for Python);
both belong to the system's Python, so each is run by it. GDAL's own check of the
standard, ``validate_gpkg``, tests OGC 12-128r18 requirement by requirement.
"""

from __future__ import annotations

import json
import os
import subprocess
from functools import cache
from pathlib import Path

import pytest
from PIL import Image

from pathways.io.styles import LAYER_LOOKS, OUTCOME_LOOKS
from pathways.pages import palette, words

SYSTEM_PYTHON = "/usr/bin/python3"
IN_QGIS = Path(__file__).parent / "open_in_qgis.py"

#: From the top to the bottom of the picture.
LAYERS = (
    "pathways", "sources", "ends", "hollows", "spills", "site_scores", "pathway_legs",
    "alternatives", "site_layouts", "sites", "source_areas", "reach", "setbacks",
)  # fmt: skip

#: Opens every layer, reads every row, and prints what GDAL says, as JSON.
IN_GDAL = """
import json, sys
from osgeo import gdal
said = []
gdal.PushErrorHandler(lambda level, number, text: said.append(text))
base = gdal.OpenEx(sys.argv[1], gdal.OF_VECTOR)
for number in range(base.GetLayerCount()):
    for feature in base.GetLayer(number):
        pass
told = base.GetLayerByName("reach").GetMetadata()
print(json.dumps({"said": said, "told": told}))
"""


@cache
def has(module):
    if not Path(SYSTEM_PYTHON).exists():
        return False
    ask = [SYSTEM_PYTHON, "-c", f"import {module}"]
    return subprocess.run(ask, capture_output=True, check=False).returncode == 0


def need(module, package):
    if not has(module):
        reason = f"Debian's {package} is not installed, so nothing was opened in it"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)


def told_by(*command):
    answer = subprocess.run(
        [SYSTEM_PYTHON, *map(str, command)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": ""},
    )
    return answer.stdout


@pytest.fixture(scope="module")
def path(demo_results):
    return demo_results / "results.gpkg"


@pytest.fixture(scope="module")
def in_qgis(path, tmp_path_factory):
    need("qgis.core", "python3-qgis")
    image = tmp_path_factory.mktemp("qgis") / "map.png"
    told = json.loads(told_by(IN_QGIS, path, image, *LAYERS))
    return told, Image.open(image).convert("RGB")


def test_gdal_of_debian_says_nothing_and_finds_what_made_each_layer(path):
    need("osgeo.gdal", "python3-gdal")
    answer = json.loads(told_by("-c", IN_GDAL, path))
    assert answer["said"] == []
    assert answer["told"]["made_by"].startswith("farm-pathways ")
    assert "ground.tif (SHA-256 " in answer["told"]["inputs"]


def test_file_keeps_the_standard(path):
    need("osgeo_utils.samples.validate_gpkg", "python3-gdal")
    check = ("-m", "osgeo_utils.samples.validate_gpkg", "-k", "--extra", path)
    assert told_by(*check) == ""


def test_record_in_the_file_is_that_of_the_run(path):
    import sqlite3
    from contextlib import closing

    run = json.loads((path.parent / "run.json").read_text(encoding="utf-8"))
    with closing(sqlite3.connect(path)) as base:
        [(kept,)] = base.execute(
            "SELECT metadata FROM gpkg_metadata WHERE mime_type = 'application/json'"
        )
    assert json.loads(kept) == {k: v for k, v in run.items() if k != "made_at"}


def test_qgis_opens_every_layer_without_a_word(in_qgis):
    told, _ = in_qgis
    assert set(told["layers"]) == set(LAYERS) == set(LAYER_LOOKS)
    assert all(layer["valid"] for layer in told["layers"].values())
    assert all(layer["features"] for layer in told["layers"].values())
    # QGIS tells that it lacks a grid of shifts; that is about QGIS.
    said = [one for one in told["said"] if "coordinate operation" not in one]
    assert said == []


@pytest.mark.parametrize("name", LAYERS)
def test_qgis_takes_our_style_by_itself(in_qgis, name):
    layer, look = in_qgis[0]["layers"][name], LAYER_LOOKS[name]
    kind = "categorizedSymbol" if look.field else "RuleRenderer"
    assert (layer["renderer"], layer["field"]) == (kind, look.field)
    labels = [one.label for one in look.looks.values()]
    assert [one for one in layer["labels"] if one != "Anything else"] == labels
    ours = [tuple(map(int, one.colour.split(",")[:3])) for one in look.looks.values()]
    shown = [tuple(bytes.fromhex(one[1:])) for one in layer["colours"]]
    assert shown[: len(ours)] == ours


@pytest.mark.parametrize("name", LAYERS)
def test_every_feature_falls_into_a_class_that_has_words(in_qgis, name):
    layer = in_qgis[0]["layers"][name]
    assert sum(layer["shown"].values()) == layer["features"]
    assert layer["shown"].get("Anything else", 0) == 0


def test_qgis_shows_the_cautions_beside_a_layer(in_qgis):
    told, _ = in_qgis
    for layer in told["layers"].values():
        assert "Walk the yard in the rain before you rely on it." in layer["said"]


def test_legend_in_qgis_has_the_words_of_the_pages(in_qgis):
    told, _ = in_qgis
    assert told["layers"]["pathways"]["labels"][:-1] == list(words.OUTCOMES.values())


def test_ways_in_the_picture_have_the_colours_of_the_map_page(in_qgis):
    told, picture = in_qgis
    pixels = dict(map(reversed, picture.getcolors(picture.width * picture.height)))
    shown = told["layers"]["pathways"]["shown"]
    outcomes = [one for one in OUTCOME_LOOKS if shown[words.OUTCOMES[one]]]
    assert "reaches_water" in outcomes
    for outcome in outcomes:
        colour = str(palette.OUTCOMES[outcome]["colour"])
        assert pixels.get(tuple(bytes.fromhex(colour[1:])), 0) > 100, outcome
