"""The drawing page as a person meets it: drawn on in a real Chromium, no network.

44 CSS pixels for targets: Web Content Accessibility Guidelines 2.2, success criterion
2.5.5. Places are compared with those that pyproj gives.
"""

from __future__ import annotations

import base64
import dataclasses
import json
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from drawer import NORTH, WEST, draw_a_yard, touch
from pyproj import Transformer
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from pathways.drawing import write_drawing_page
from pathways.features import LAYERS, fields_of
from pathways.io.farms import read_farm
from pathways.pages import draw_questions, draw_words

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "data-samples" / "demo-farm"
SIZES = [(1280, 900), (390, 844)]


# From a raster to a printed report ----------------------------------------------------


def pathways(*words, cwd):
    done = subprocess.run(
        [sys.executable, "-m", "pathways_cli", *map(str, words)],
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done


@pytest.mark.parametrize("hand", ["mouse", "finger"])
def test_yard_is_drawn_saved_assessed_and_printed(
    drawer, drawn_ground, browser, tmp_path, hand
):
    """The README's lines for a farm without a GIS, one after the other."""
    pathways("new", "my-farm", "--ground", drawn_ground, cwd=tmp_path)
    farm = tmp_path / "my-farm"
    assert {one.name for one in farm.iterdir() if one.name[0] != "."} == {
        "draw.html",
        "farm.toml",
        "ground.tif",
    }
    text = (farm / "draw.html").read_text("utf-8")
    browser.open(text)
    if hand == "finger":
        touch(drawer, text)
    draw_a_yard(drawer)
    shutil.move(drawer.save(), farm / "features.geojson")
    browser.listen()
    assert browser.console == []
    assert {one.split(":")[0] for one in browser.requests} <= {"file", "data", "blob"}

    checked = pathways("check", "my-farm", cwd=tmp_path)
    assert "0 errors" in checked.stdout
    assert "moved from" not in checked.stdout
    pathways("assess", "my-farm", "--quiet", cwd=tmp_path)
    found = json.loads((farm / "results" / "results.json").read_text("utf-8"))
    (way,) = found["pathways"]
    assert way["source_name"] == "Filling by the shed"
    assert way["outcome"] == "reaches_water"

    browser.driver.get((farm / "results" / "report.html").as_uri())
    printed = browser.driver.execute_cdp_cmd("Page.printToPDF", {})["data"]
    assert base64.b64decode(printed).startswith(b"%PDF-")
    report = browser.driver.find_element(By.TAG_NAME, "body").text
    for name in ("Filling by the shed", "Long ditch", "gully G1", "concrete"):
        assert name in report


# Drawing ------------------------------------------------------------------------------


def test_corner_is_placed_where_it_was_tapped(drawer):
    """Web Mercator of the picture's corners, against pyproj's British National Grid."""

    drawer.draw("sources", "Point", (60, 60))
    (feature,) = drawer.features()
    east, north = Transformer.from_crs(4326, 27700, always_xy=True).transform(
        *feature["geometry"]["coordinates"]
    )
    # The middle of the picture is the middle of the ground, to one screen pixel.
    assert east == pytest.approx(WEST + 60, abs=0.5)
    assert north == pytest.approx(NORTH - 60, abs=0.5)


def test_corners_are_set_at_the_cross_with_the_keyboard(drawer):
    drawer.choose("barriers")
    canvas = drawer.driver.switch_to.active_element
    assert "folium-map" in canvas.get_attribute("class")
    canvas.send_keys(Keys.ENTER)
    for _ in range(2):
        canvas.send_keys(Keys.ARROW_RIGHT)
        time.sleep(0.3)
        canvas.send_keys(Keys.ENTER)
    canvas.send_keys(Keys.BACKSPACE)
    drawer.press(draw_words.PAGE["finish"], "#tools")
    (feature,) = drawer.features()
    first, second = feature["geometry"]["coordinates"]
    assert second[0] > first[0]
    assert second[1] == pytest.approx(first[1], abs=1e-7)


def test_button_sets_a_corner_at_the_cross(drawer):
    drawer.choose("sources", "Polygon")
    for _ in range(3):
        drawer.press(draw_words.PAGE["cross"], "#tools")
        drawer.run("document.querySelector('.leaflet-control-zoom-in').click()")
        time.sleep(0.4)
    # Three times the same place is one corner: nothing is made of a trembling hand.
    drawer.press(draw_words.PAGE["finish"], "#tools")
    assert draw_words.PAGE["too_few_area"] in drawer.one("#tools").text


def test_cancelled_corners_come_back(drawer):
    drawer.choose("barriers")
    drawer.tap(20, 20)
    drawer.tap(60, 20)
    drawer.press(draw_words.PAGE["cancel"], "#tools")
    assert not drawer.one("#tools").is_displayed()
    drawer.press(draw_words.PAGE["bring_back"])
    drawer.press(draw_words.PAGE["finish"], "#tools")
    assert len(drawer.features()) == 1


def test_another_button_does_not_lose_what_is_half_drawn(drawer):
    drawer.choose("barriers")
    drawer.tap(20, 20)
    drawer.tap(60, 20)
    drawer.choose("pipes")
    assert draw_words.PAGE["finish_first"] in drawer.one("#tools").text
    drawer.press(draw_words.PAGE["finish"], "#tools")
    (feature,) = drawer.features()
    assert feature["properties"]["layer"] == "barriers"


def test_corner_is_dragged_added_and_deleted_and_all_is_undone(drawer):
    drawer.draw("barriers", "LineString", (20, 20), (60, 20), (100, 20))
    drawer.press(draw_words.PAGE["move"])
    before = drawer.features()[0]["geometry"]["coordinates"]
    handle = drawer.all(".handle")[1]
    box = handle.rect
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    for kind, up in (("mousePressed", 0), ("mouseMoved", 30), ("mouseReleased", 30)):
        drawer.driver.execute_cdp_cmd(
            "Input.dispatchMouseEvent",
            {"type": kind, "x": x, "y": y - up, "button": "left", "clickCount": 1},
        )
    dragged = drawer.features()[0]["geometry"]["coordinates"]
    assert dragged[1][1] > before[1][1]
    assert [dragged[0], dragged[2]] == [before[0], before[2]]
    drawer.press_element(drawer.all(".ring")[0])
    assert len(drawer.features()[0]["geometry"]["coordinates"]) == 4
    drawer.press(draw_words.PAGE["corner_delete"], "#tools")
    assert drawer.features()[0]["geometry"]["coordinates"] == dragged
    for _ in range(3):
        drawer.press(draw_words.PAGE["undo"])
    assert drawer.features()[0]["geometry"]["coordinates"] == before


def test_corner_is_dragged_with_a_finger(drawer, drawing_page):
    touch(drawer, drawing_page)
    drawer.draw("barriers", "LineString", (20, 40), (60, 40), (100, 40))
    drawer.press(draw_words.PAGE["move"])
    handle = drawer.all(".handle")[1]
    box = handle.rect
    x = box["x"] + box["width"] / 2
    y = box["y"] + box["height"] / 2 - drawer.run("return window.scrollY")
    for kind, up in (("touchStart", 0), ("touchMove", 20), ("touchMove", 40)):
        drawer.driver.execute_cdp_cmd(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": x, "y": y - up}]},
        )
    drawer.driver.execute_cdp_cmd(
        "Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []}
    )
    drawer.press(draw_words.PAGE["done"], "#tools")
    first, moved, last = drawer.features()[0]["geometry"]["coordinates"]
    assert moved[1] > first[1] + 1e-5
    assert last[1] == pytest.approx(first[1], abs=1e-6)


def test_deleted_thing_comes_back(drawer):
    drawer.draw("sources", "Point", (60, 60))
    drawer.answer(kind="midden")
    drawer.press(draw_words.PAGE["delete"], "#form")
    assert drawer.features() == []
    drawer.press(draw_words.PAGE["undo"])
    assert drawer.features()[0]["properties"]["kind"] == "midden"


def test_drawn_thing_is_chosen_on_the_map(drawer):
    drawer.draw("sources", "Point", (60, 60))
    drawer.press(draw_words.PAGE["close"], "#form")
    assert not drawer.one("#form").is_displayed()
    drawer.tap(60, 60)
    assert drawer.one("#form h2").text.startswith("S1")


def test_direction_of_a_pipe_is_turned_round(drawer):
    drawer.draw("pipes", "LineString", (20, 20), (60, 20))
    before = drawer.features()[0]["geometry"]["coordinates"]
    drawer.press(draw_words.PAGE["turn"])
    assert drawer.features()[0]["geometry"]["coordinates"] == before[::-1]
    assert len(drawer.all(".arrow")) == 1


def test_pipe_meets_the_gully_it_nearly_touches_and_a_kerb_meets_nothing(drawer):
    drawer.draw("inlets", "Point", (60, 60))
    drawer.draw("pipes", "LineString", (61, 61), (60, 20))
    drawer.draw("barriers", "LineString", (61, 61), (100, 61))
    gully, pipe, kerb = (one["geometry"]["coordinates"] for one in drawer.features())
    assert pipe[0] == gully
    assert kerb[0] != gully


def test_number_that_is_none_is_refused_and_the_old_one_stays(drawer):
    drawer.draw("barriers", "LineString", (20, 20), (60, 20))
    drawer.answer(kind="kerb", height_m="0,15")
    drawer.answer(height_m="a hand")
    assert draw_words.PAGE["no_number"] in drawer.one("#form").text
    drawer.answer(height_m="-2")
    assert "0 or more" in drawer.one("#form").text
    assert drawer.features()[0]["properties"]["height_m"] == 0.15


def test_outlet_is_chosen_from_what_is_drawn(drawer):
    drawer.draw("watercourses", "LineString", (20, 10), (110, 10))
    drawer.draw("tanks", "Point", (90, 90))
    drawer.draw("inlets", "Point", (60, 60))
    offered = Select(drawer.one("#form [name=drains_to]")).options
    values = [one.get_attribute("value") for one in offered]
    assert values == ["", "W1", "T1", "unknown", "soakaway", "capped"]


def test_every_field_of_every_layer_is_asked(drawer):

    for layer, described in LAYERS.items():
        kind = described.geometries[0]
        places = [(20, 20), (60, 20), (60, 60)][
            : {"Point": 1, "LineString": 2}.get(kind, 3)
        ]
        drawer.draw(layer, kind, *places)
        asked = {one.get_attribute("name") for one in drawer.all("#form [name]")}
        assert asked == {one.name for one in fields_of(layer)} - {"id"}, layer
        drawer.press(draw_words.PAGE["delete"], "#form")


# What is missing ----------------------------------------------------------------------


def test_what_is_missing_is_told_until_it_is_drawn_or_looked_for(drawer):
    rows = [one.get_attribute("data-missing") for one in drawer.all("[data-missing]")]
    assert rows == list(draw_words.MISSING)
    assert "straight to the ditch" in drawer.one("[data-missing=inlets]").text
    drawer.draw("sources", "Point", (60, 60))
    assert not drawer.all("[data-missing=sources]")
    drawer.press(draw_words.PAGE["none_here"], "[data-missing=inlets]")
    assert not drawer.all("[data-missing=inlets]")
    saved = json.loads(drawer.save().read_text("utf-8"))
    assert saved["farm_pathways"]["none_here"] == ["inlets"]
    drawer.draw("inlets", "Point", (60, 60))
    saved = json.loads(drawer.save().read_text("utf-8"))
    assert saved["farm_pathways"]["none_here"] == []


def test_question_that_is_not_answered_is_told_and_saved_all_the_same(drawer):
    drawer.draw("barriers", "LineString", (20, 20), (60, 20))
    assert draw_questions.FIELDS["barriers", "height_m"] in drawer.one("#missing").text
    assert len(drawer.features()) == 1
    assert "2 things" in drawer.told()


def test_area_whose_edges_cross_is_told(drawer):
    drawer.draw("surfaces", "Polygon", (20, 20), (60, 60), (60, 20), (20, 60))
    assert "edges cross" in drawer.one("#missing").text


# The page -----------------------------------------------------------------------------


def test_script_that_gets_into_the_page_is_not_run(browser, drawing_page):
    browser.open(
        drawing_page.replace("</body>", "<script>window.ran = 1</script></body>")
    )
    browser.listen()
    assert browser.driver.execute_script("return window.ran") is None
    assert any("Content Security Policy" in one for one in browser.console)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_targets_are_large_and_words_are_not_small(drawer, drawing_page, width, height):
    drawer.draw("barriers", "LineString", (20, 20), (60, 20), (100, 20))
    drawer.browser.open(drawing_page, width=width, height=height)
    drawer.press_element(drawer.one("#drawn button"))
    looked = drawer.run(
        """
        const targets = 'button, summary, select, .button, .tick, .leaflet-bar a, '
          + 'input[type=text]';
        const small = [...document.querySelectorAll(targets)].filter((one) => {
          const box = one.getBoundingClientRect();
          return box.width && Math.min(box.width, box.height) < 44;
        }).map((one) => one.outerHTML);
        const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        let smallest = 99;
        while (texts.nextNode()) {
          const holder = texts.currentNode.parentElement;
          if (!texts.currentNode.data.trim()) continue;
          if (holder.closest('script, noscript')) continue;
          const size = parseFloat(getComputedStyle(holder).fontSize);
          smallest = Math.min(smallest, size);
        }
        return [small, smallest, document.documentElement.scrollWidth];
        """
    )
    assert looked[0] == []
    assert looked[1] >= 16
    assert looked[2] <= width
    drawer.press(draw_words.PAGE["move"])
    handles = drawer.all(".handle, #tools button")
    assert len(handles) > 3
    sizes = [one.rect for one in handles]
    assert min(min(one["width"], one["height"]) for one in sizes) >= 44


def test_print_shows_what_is_drawn_and_missing_and_no_buttons_to_draw(drawer):
    drawer.draw("sources", "Point", (60, 60))
    media = "Emulation.setEmulatedMedia"
    drawer.driver.execute_cdp_cmd(media, {"media": "print"})
    try:
        for selector in ("#drawn", "#missing li", ".folium-map"):
            assert drawer.one(selector).is_displayed()
        for selector in ("#choose", "#files", "#save", "#missing .row"):
            assert not drawer.one(selector).is_displayed()
    finally:
        drawer.driver.execute_cdp_cmd(media, {"media": ""})


def test_valley_line_is_offered_taken_by_hand_and_marked(drawer, tmp_path):
    """On the demo farm's ground, from which the drawing was left out."""
    out = tmp_path / "valleys.html"
    text = write_drawing_page(DEMO / "ground.tif", out)[0].read_text("utf-8")
    drawer.browser.open(text)
    drawer.run("localStorage.clear()")
    drawer.browser.open(text)
    assert "not water that anybody saw" in drawer.one("#valleys").text
    offered = len(drawer.all("[data-valley]"))
    assert drawer.features() == []
    drawer.press(draw_words.PAGE["valley_take"], "[data-valley='1']")
    (feature,) = drawer.features()
    assert feature["properties"]["name"] == draw_words.VALLEY_NAME
    assert "accepted by hand" in feature["properties"]["taken_from"]
    assert len(drawer.all("[data-valley]")) == offered - 1


def test_valley_lines_go_once_water_is_drawn_by_hand(drawer, tmp_path):
    out = tmp_path / "valleys.html"
    text = write_drawing_page(DEMO / "ground.tif", out)[0].read_text("utf-8")
    drawer.browser.open(text)
    drawer.run("localStorage.clear()")
    drawer.browser.open(text)
    assert drawer.all("[data-valley]")
    drawer.draw("watercourses", "LineString", (20, 60), (60, 50))
    assert not drawer.all("[data-valley]")


def test_existing_drawing_is_carried_on(drawer, tmp_path):
    """Every thing of the demo farm, each at its place to less than a centimetre."""
    farm = tmp_path / "farm"
    shutil.copytree(DEMO, farm)
    text = write_drawing_page(farm)[0].read_text("utf-8")
    drawer.browser.open(text)
    drawn = read_farm(farm).farm.features
    shutil.move(drawer.save(), farm / "features.geojson")
    (farm / "features.gpkg").unlink()
    settings = (farm / "farm.toml").read_text("utf-8")
    (farm / "farm.toml").write_text(
        settings.replace('path = "features.gpkg"', ""), "utf-8"
    )
    read = read_farm(farm).farm.features
    for layer in LAYERS:
        before, after = getattr(drawn, layer), getattr(read, layer)
        assert len(before) == len(after)
        for one, other in zip(before, after, strict=True):
            assert one.geometry.equals_exact(other.geometry, 0.01)
            geometry = {"geometry": one.geometry}
            assert dataclasses.replace(other, **geometry) == one
