"""The plan of the drains and its table: what leads where; labels lie on nothing."""

from __future__ import annotations

import html
import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from report_read import blocks, chapter, rows
from shapely import LineString
from whole_farm import HOSTILE, hostile_names, whole_farm

from pathways.pages.labels import Box, label_places, text_width
from pathways.pages.report.blocks import Picture
from pathways.pages.report.drain_labels import drain_marks
from pathways.pages.report.report_words import SAYS

_TEXT = "{http://www.w3.org/2000/svg}text"


@pytest.fixture(scope="module")
def whole():
    return whole_farm()


def test_drains_are_told_with_their_ends_and_what_is_unknown(whole):
    """P1 is drawn to the brook, P2 to nothing, and where G2 leads nobody knows."""
    told = rows(whole, "drains")
    assert list(told) == [
        *("G1", "G2", "G3", "G4", "G5", "CD1"),
        *("P1", "P2", "T1", "OUT1"),
    ]
    by_pipe = "stream Holt Brook, at OUT1, through pipe Yard drain"
    assert told["G1"] == ["Gully G1", by_pipe, ""]
    assert told["G2"][1:] == [SAYS["to_nobody"], SAYS["outlet"]]
    assert told["G3"][2] == SAYS["lid"]
    assert told["G4"][1:] == [SAYS["to_ground"], SAYS["soakaway"]]
    assert told["G5"][1:] == [SAYS["capped"], SAYS["cap"]]
    assert told["CD1"][1] == "tank T1"
    assert told["P1"] == [
        "Pipe Yard drain (P1); 150 mm within",
        "stream Holt Brook, at OUT1",
        "",
    ]
    assert SAYS["outlet"] in told["P2"][2]
    assert SAYS["width"] in told["P2"][2]
    assert told["T1"][1] == SAYS["tank_ends"]
    assert SAYS["overflow"] in told["T1"][2]
    assert "Yard drain" in told["OUT1"][0]


def test_drain_that_was_not_worked_out_is_not_called_known(whole):
    told = rows(replace(whole, drains=()), "drains")
    assert told["G1"][1] == "not worked out; drawn as: P1"
    assert "OUT1" not in told


def test_farm_without_drains_is_told_to_look_for_them(whole):
    drawn = replace(whole.farm.features, inlets=(), pipes=(), tanks=())
    farm = replace(whole.farm, features=drawn)
    found = replace(whole, farm=farm, drains=())
    assert chapter(found, "drains").blocks[0].text == SAYS["no_drains"]


def labels_in(svg: str) -> list[Box]:
    found = re.findall(
        r'<rect class="label" x="([-\d.]+)" y="([-\d.]+)" width="([\d.]+)" '
        r'height="([\d.]+)"',
        svg,
    )
    return [Box(*map(float, one)) for one in found]


@pytest.mark.parametrize("start", range(0, len(HOSTILE), 7))
def test_no_label_of_the_drains_lies_on_another(start):
    (picture,) = blocks(whole_farm(hostile_names(start)), "drains", Picture)
    boxes = labels_in(str(picture.svg))
    assert len(boxes) == 10
    for one, other in itertools.combinations(boxes, 2):
        assert not one.meets(other)


def test_labels_of_a_crowd_do_not_lie_on_each_other():
    """More labels than the drawing has room for: the rest stands below it."""
    anchors = [(50.0 + number % 7, 40.0 + number // 7) for number in range(70)]
    texts = [f"GULLY{number}" for number in range(70)]
    boxes = label_places(anchors, texts, [], (200.0, 100.0))
    for one, other in itertools.combinations(boxes, 2):
        assert not one.meets(other)
    assert max(one.top for one in boxes) > 100.0


@pytest.mark.parametrize(
    "text", ["G2", "WWMM@@%%", "iiiillll", "ŷŵâî", "GULLY-12", "&<>\"'\\/|"]
)
def test_label_is_as_wide_as_its_text(browser, text):
    browser.open(
        '<svg xmlns="http://www.w3.org/2000/svg" font-family="system-ui, sans-serif">'
        f'<text y="20" font-size="13">{html.escape(text)}</text></svg>'
    )
    drawn = browser.driver.execute_script(
        "return document.querySelector('text').getBBox().width"
    )
    assert drawn <= text_width(text)


def test_pipe_points_the_way_it_flows(whole):
    """P1 runs south to the brook, down on the sheet: its head's tip lies lowest."""
    (picture,) = blocks(whole, "drains", Picture)
    heads = re.findall(r'<polygon points="([^"]+)" fill="#111111"/>', str(picture.svg))
    assert len(heads) == 2
    for head in heads:
        tip, *wings = [tuple(map(float, one.split(","))) for one in head.split()]
        assert all(tip[1] > wing[1] for wing in wings)


def named(whole, ids):
    """Return the farm with its first inlets under other ids."""
    drawn = whole.farm.features
    inlets = [replace(one, id=id_) for one, id_ in zip(drawn.inlets, ids, strict=False)]
    drawn = replace(drawn, inlets=(*inlets, *drawn.inlets[len(ids) :]))
    return replace(whole, farm=replace(whole.farm, features=drawn), drains=())


def _parsed(picture):
    return ElementTree.fromstring(str(picture.svg))  # noqa: S314 - our own drawing


def test_marks_have_labels_of_their_own(whole):
    """A long id is numbered I1, so an id that is I1 must be called otherwise."""
    marks = drain_marks(named(whole, ["a long id of a gully", "I1", "P1"]))
    labels = [one.label for one in marks]
    assert labels[:4] == ["I1", "I2", "P1", "G4"]
    assert len(set(labels)) == len(labels)


def test_short_hostile_ids_are_escaped_on_the_plan(whole):
    ids = ["<b>&", "</svg>", "\"'><i>"]
    (picture,) = blocks(named(whole, ids), "drains", Picture)
    told = [one.text for one in _parsed(picture).iter(_TEXT)]
    assert set(ids) <= set(told)


def test_geometry_beyond_the_sheet_is_cut_off(whole):
    drawn = whole.farm.features
    water = replace(drawn.watercourses[0], geometry=LineString([(-9e5, 5), (9e5, 5)]))
    drawn = replace(drawn, watercourses=(water,))
    found = replace(whole, farm=replace(whole.farm, features=drawn))
    (picture,) = blocks(found, "yard", Picture)
    numbers = re.findall(r"[ML](-?[\d.]+) ", str(picture.svg))
    assert max(map(float, numbers)) <= 641
