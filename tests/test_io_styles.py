"""Styles of layers, parsed as XML and read from the GeoPackage."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from itertools import combinations
from xml.etree import ElementTree

import pytest

from pathways.io._result_layers import FIELDS
from pathways.io.geopackage import write_geopackage
from pathways.io.styles import LAYER_LOOKS, LEG_LOOKS, OUTCOME_LOOKS, VERDICT_LOOKS, qml
from pathways.pages import palette, words
from pathways.siting.site import Verdict
from pathways.terrain.pathway import OUTCOMES


@pytest.fixture
def path(assessment, tmp_path):
    path = tmp_path / "results.gpkg"
    write_geopackage(assessment, path)
    return path


def rows(path, query):
    with closing(sqlite3.connect(path)) as base:
        return base.execute(query).fetchall()


def xml(text):
    return ElementTree.fromstring(text)  # noqa: S314  our own text


def classes(root):
    return [*root.iter("category"), *root.iter("rule")]


@pytest.mark.parametrize("name", ["pathways", "alternatives", "sources", "ends"])
def test_the_style_names_every_outcome_in_their_order(name):
    root = xml(qml(LAYER_LOOKS[name]))
    assert root.find("renderer-v2").get("attr") == "outcome"
    values = [one.get("value") for one in root.iter("category")]
    assert values == [*OUTCOMES, ""]


def test_the_style_of_sites_names_every_verdict():
    root = xml(qml(LAYER_LOOKS["sites"]))
    assert root.find("renderer-v2").get("attr") == "meets_rules"
    values = {one.get("value") for one in root.iter("category")}
    assert values == {*Verdict.__args__, ""}


@pytest.mark.parametrize("name", LAYER_LOOKS)
def test_every_class_of_a_style_has_its_symbol(name):
    root = xml(qml(LAYER_LOOKS[name]))
    symbols = [one.get("name") for one in root.iter("symbol")]
    used = [one.get("symbol") for one in classes(root)]
    assert used == symbols


@pytest.mark.parametrize("name", [n for n, look in LAYER_LOOKS.items() if look.field])
def test_a_style_is_by_a_field_that_the_layer_has(name):
    assert LAYER_LOOKS[name].field in FIELDS[name]


@pytest.mark.parametrize("looks", [OUTCOME_LOOKS, VERDICT_LOOKS])
def test_classes_differ_in_grey_as_well(looks):
    dashes = [look.dash_mm for look in looks.values()]
    assert len(set(dashes)) == len(dashes)


def test_markers_of_outcomes_differ_in_shape():
    shapes = [look.shape for look in OUTCOME_LOOKS.values()]
    assert len(set(shapes)) == len(shapes)


@pytest.mark.parametrize("looks", [OUTCOME_LOOKS, VERDICT_LOOKS, LEG_LOOKS])
def test_colours_are_those_of_okabe_and_ito(looks):
    # Okabe and Ito (2008), Color Universal Design: the RGB columns of their palette.
    palette = {
        (0, 0, 0), (230, 159, 0), (86, 180, 233), (0, 158, 115), (240, 228, 66),
        (0, 114, 178), (213, 94, 0), (204, 121, 167),
    }  # fmt: skip
    colours = [tuple(map(int, one.colour.split(",")[:3])) for one in looks.values()]
    assert set(colours) <= palette
    assert all(first != second for first, second in combinations(colours, 2))


def test_every_layer_has_a_default_style(path):
    assert max(len(name) for name in FIELDS) <= 30  # the width of its column
    styled = rows(
        path,
        "SELECT f_table_name, f_geometry_column FROM layer_styles WHERE useAsDefault",
    )
    assert sorted(styled) == sorted((name, "geom") for name in FIELDS)


@pytest.mark.parametrize("name", FIELDS)
def test_a_style_comes_back_as_it_was_made(path, name):
    styles = rows(path, "SELECT f_table_name, styleQML FROM layer_styles")
    assert dict(styles)[name] == qml(LAYER_LOOKS[name])


@pytest.mark.parametrize("name", LAYER_LOOKS)
def test_every_class_has_words_in_the_legend(name):
    labels = [one.get("label") for one in classes(xml(qml(LAYER_LOOKS[name])))]
    assert all(not one[0].islower() for one in labels)
    assert labels
    assert len(set(labels)) == len(labels)


def test_legends_say_what_the_pages_say():
    said = {
        "pathways": words.OUTCOMES,
        "alternatives": words.OUTCOMES,
        "ends": words.OUTCOMES,
        "sites": words.VERDICTS,
    }
    for name, on_pages in said.items():
        looks = LAYER_LOOKS[name].looks
        assert {value: look.label for value, look in looks.items()} == on_pages


def test_ways_have_the_patterns_of_the_map_page():
    # A browser's pixel is 1/96 of an inch: CSS Values and Units Level 3, section 5.2.
    for outcome, look in OUTCOME_LOOKS.items():
        pixels = [float(one) / 25.4 * 96 for one in look.dash_mm.split(";") if one]
        pattern = str(palette.OUTCOMES[outcome]["pattern"] or "").split()
        assert pixels == pytest.approx([float(one) for one in pattern], abs=0.03)


def test_no_way_and_no_verdict_is_green():
    for look in (*OUTCOME_LOOKS.values(), *VERDICT_LOOKS.values()):
        assert look.colour != "0,158,115,255"


def test_bands_are_those_that_are_written():
    values = [float(value) for value in LAYER_LOOKS["reach"].looks]
    assert values == list(palette.REACH_BANDS)


def test_styles_are_listed_as_a_table_without_geometry(path):
    assert rows(
        path, "SELECT data_type FROM gpkg_contents WHERE table_name = 'layer_styles'"
    ) == [("attributes",)]
