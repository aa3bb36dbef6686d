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

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import Transformer
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select, WebDriverWait

from pathways.drawing import write_drawing_page
from pathways.features import LAYERS, fields_of
from pathways.io.farms import read_farm
from pathways.pages import draw_words

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "data-samples" / "demo-farm"
SIDE, WEST, NORTH = 120, 350_000.0, 300_120.0
HOSTILE = (
    "</script><script>window.ran = 1</script>",
    "${window.ran = 1}{name}{{7*7}}",
    "\\u0022\\\"'`;window.ran=1;//",
    '<img src=x onerror="window.ran=1">',
    "<!--<script>",
    "Ffynnon Ŵyr Tŷ'n-y-Coed",
    "]]>\u2028\u2029&lt;b&gt;&amp;",
    "javascript:window.ran=1",
)
SIZES = [(1280, 900), (390, 844)]


@pytest.fixture(scope="module")
def ground(tmp_path_factory):
    """Ground that falls 3 in 100 to the south-east, of an invented place."""
    row, column = np.mgrid[0:SIDE, 0:SIDE]
    heights = (60 - 0.02 * row - 0.02 * column).astype("f4")[np.newaxis]
    path = tmp_path_factory.mktemp("ground") / "heights.tif"
    size = {"width": SIDE, "height": SIDE, "count": 1, "dtype": "float32"}
    place = Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH)
    with rasterio.open(
        path, "w", "GTiff", **size, crs="EPSG:27700", transform=place, nodata=-9999.0
    ) as file:
        file.write(heights)
    return path


@pytest.fixture(scope="module")
def page(ground, tmp_path_factory):
    folder = tmp_path_factory.mktemp("page")
    return write_drawing_page(ground, folder / "draw.html")[0].read_text("utf-8")


class Drawer:
    """A person at the page: by mouse, or with a finger."""

    def __init__(self, browser, downloads):
        self.browser = browser
        self.driver = browser.driver
        self.downloads = downloads
        self.finger = False
        downloads.mkdir(exist_ok=True)
        self.driver.execute_cdp_cmd(
            "Browser.setDownloadBehavior",
            {"behavior": "allow", "downloadPath": str(downloads)},
        )

    def run(self, script, *arguments):
        return self.driver.execute_script(script, *arguments)

    def one(self, selector):
        return self.driver.find_element(By.CSS_SELECTOR, selector)

    def all(self, selector):
        return self.driver.find_elements(By.CSS_SELECTOR, selector)

    def at(self, east_m, north_m):
        """Where a place, from the ground's south-west corner, stands on the screen."""
        return self.run(
            """
            const picture = document.querySelector('.leaflet-image-layer');
            const box = picture.getBoundingClientRect();
            return [box.x + box.width * arguments[0],
              box.y + box.height * arguments[1]];
            """,
            0.05 + 0.9 * east_m / SIDE,
            0.95 - 0.9 * north_m / SIDE,
        )

    def tap_screen(self, x, y):
        if self.finger:
            point = [{"x": x, "y": y}]
            for kind, points in (("touchStart", point), ("touchEnd", [])):
                self.driver.execute_cdp_cmd(
                    "Input.dispatchTouchEvent", {"type": kind, "touchPoints": points}
                )
            time.sleep(0.05)
        else:
            for kind in ("mousePressed", "mouseReleased"):
                self.driver.execute_cdp_cmd(
                    "Input.dispatchMouseEvent",
                    {"type": kind, "x": x, "y": y, "button": "left", "clickCount": 1},
                )

    def tap(self, east_m, north_m):
        self.tap_screen(*self.at(east_m, north_m))

    def press(self, says, inside="body"):
        """Press the button that says so, with the hand that draws."""
        for one in self.all(f"{inside} button"):
            if one.is_displayed() and one.text == says:
                self.press_element(one)
                return
        pytest.fail(f"no button says {says!r}")

    def press_element(self, one):
        self.run("arguments[0].scrollIntoView({block: 'center'})", one)
        box = self.run(
            "const b = arguments[0].getBoundingClientRect();"
            "return [b.x + b.width / 2, b.y + b.height / 2]",
            one,
        )
        self.tap_screen(*box)

    def choose(self, layer, shape=""):
        self.press_element(self.one(f"#choose [data-layer={layer}]"))
        if shape:
            shapes = self.one(f"[data-layer={layer}] + .shapes [data-shape={shape}]")
            self.press_element(shapes)

    def draw(self, layer, shape, *places):
        several = len(self.all(f"[data-layer={layer}] + .shapes [data-shape]")) > 1
        self.choose(layer, shape if several else "")
        for place in places:
            self.tap(*place)
        if shape != "Point":
            self.press(draw_words.PAGE["finish"], "#tools")

    def answer(self, **answers):
        for name, value in answers.items():
            field = self.one(f"#form [name={name}]")
            if not field.is_displayed():
                self.press_element(self.one("#form summary"))
            if field.tag_name == "select":
                Select(field).select_by_value(value)
            elif field.get_attribute("type") == "checkbox":
                self.press_element(field)
            else:
                field.send_keys(Keys.CONTROL, "a")
                field.send_keys(value, Keys.TAB)

    def save(self):
        """Save, and return the file that the browser wrote."""
        for old in self.downloads.iterdir():
            old.unlink()
        self.press(draw_words.PAGE["save"])
        WebDriverWait(self.driver, 10).until(
            lambda _: [one.suffix for one in self.downloads.iterdir()] == [".geojson"]
        )
        (file,) = self.downloads.iterdir()
        return file

    def open(self, path):
        self.one("#open").send_keys(str(path))
        WebDriverWait(self.driver, 10).until(lambda _: self.one("#told").is_displayed())
        time.sleep(0.1)

    def told(self):
        return self.one("#told").text

    def features(self):
        return json.loads(self.save().read_text("utf-8"))["features"]


@pytest.fixture
def drawer(browser, page, tmp_path):
    """A fresh page on which nothing was drawn before."""
    person = Drawer(browser, tmp_path / "downloads")
    browser.open(page)
    person.run("try { localStorage.clear() } catch (error) {}")
    browser.open(page)
    yield person
    person.driver.execute_cdp_cmd(
        "Emulation.setTouchEmulationEnabled", {"enabled": False}
    )


def touch(drawer, page):
    """Make it a phone in a hand."""
    drawer.finger = True
    drawer.driver.execute_cdp_cmd(
        "Emulation.setTouchEmulationEnabled", {"enabled": True, "maxTouchPoints": 1}
    )
    drawer.browser.open(page, width=412, height=860)


def draw_a_yard(drawer):
    """Draw a filling point, a ditch, a gully and its pipe, a kerb and concrete."""
    drawer.draw("sources", "Point", (40, 80))
    drawer.answer(kind="filling_point", name="Filling by the shed", volume_l="600")
    drawer.draw("watercourses", "LineString", (20, 10), (60, 12), (110, 10))
    drawer.answer(kind="ditch", name="Long ditch")
    drawer.draw("pipes", "LineString", (52, 68), (60, 40), (60, 13))
    drawer.answer(kind="pipe", diameter_mm="150")
    drawer.draw("inlets", "Point", (52, 68))
    drawer.answer(kind="gully", drains_to="P1")
    drawer.draw("barriers", "LineString", (70, 90), (70, 50))
    drawer.answer(kind="kerb", height_m="0,12")
    drawer.draw("surfaces", "Polygon", (30, 90), (69, 90), (69, 55), (30, 55))
    drawer.answer(kind="concrete")


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
    drawer, ground, browser, tmp_path, hand
):
    """The README's lines for a farm without a GIS, one after the other."""
    pathways("new", "my-farm", "--ground", ground, cwd=tmp_path)
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
    assert draw_words.FIELDS["barriers", "height_m"] in drawer.one("#missing").text
    assert len(drawer.features()) == 1
    assert "2 things" in drawer.told()


def test_area_whose_edges_cross_is_told(drawer):
    drawer.draw("surfaces", "Polygon", (20, 20), (60, 60), (60, 20), (20, 60))
    assert "edges cross" in drawer.one("#missing").text


# Files and what the browser keeps -----------------------------------------------------


def test_opened_file_is_saved_byte_for_byte(drawer, tmp_path):
    draw_a_yard(drawer)
    saved = tmp_path / "saved.geojson"
    shutil.move(drawer.save(), saved)
    # What somebody added to a thing by hand stays with it, where it stood.
    text = saved.read_text("utf-8")
    assert text.count('"volume_l":600}') == 1
    text = text.replace('"volume_l":600}', '"volume_l":600,"laid":1987}')
    saved.write_text(text, "utf-8")
    drawer.press(draw_words.PAGE["delete"], "#form")
    drawer.open(saved)
    assert draw_words.PAGE["open_ask"] in drawer.told()
    drawer.press(draw_words.PAGE["open_replace"])
    assert drawer.save().read_bytes() == saved.read_bytes()


def test_added_file_gets_ids_of_its_own_and_its_outlets_follow(drawer, tmp_path):
    draw_a_yard(drawer)
    saved = tmp_path / "saved.geojson"
    shutil.move(drawer.save(), saved)
    drawer.open(saved)
    drawer.press(draw_words.PAGE["open_add"])
    features = drawer.features()
    ids = [one["properties"]["id"] for one in features]
    assert len(ids) == len(set(ids)) == 12
    gullies = [
        one["properties"] for one in features if one["properties"]["layer"] == "inlets"
    ]
    assert [(one["id"], one["drains_to"]) for one in gullies] == [
        ("G1", "P1"),
        ("G2", "P2"),
    ]


def refuse_cases():
    point = {"type": "Point", "coordinates": [-2.7, 52.6]}
    good = {"type": "Feature", "properties": {"layer": "sources"}, "geometry": point}
    whole = {"type": "FeatureCollection", "features": [good]}

    def with_feature(**changes):
        return json.dumps(whole | {"features": [good | changes]})

    yield "text", "no drawing", "not_json"
    yield "list", "[]", "not_collection"
    yield "metres", json.dumps(whole | {"crs": {"type": "name"}}), "not_degrees"
    yield "no layer", with_feature(properties={}), "bad_feature"
    yield "prototype", with_feature(properties={"layer": "__proto__"}), "bad_feature"
    yield "null", with_feature(geometry=None), "bad_feature"
    yield (
        "line",
        with_feature(geometry={"type": "LineString", "coordinates": [[1, 2], [3, 4]]}),
        "bad_feature",
    )
    yield (
        "far",
        with_feature(geometry={"type": "Point", "coordinates": [350000, 300000]}),
        "bad_feature",
    )
    yield (
        "words",
        with_feature(geometry={"type": "Point", "coordinates": ["a", "b"]}),
        "bad_feature",
    )


@pytest.mark.parametrize(
    ("text", "why"),
    [one[1:] for one in refuse_cases()],
    ids=[c[0] for c in refuse_cases()],
)
def test_file_that_is_not_ours_is_refused_and_nothing_is_lost(
    drawer, tmp_path, text, why
):
    drawer.draw("sources", "Point", (60, 60))
    file = tmp_path / "other.geojson"
    file.write_text(text, "utf-8")
    drawer.open(file)
    expected = draw_words.PAGE[why].format(number=1)
    assert drawer.told() == draw_words.PAGE["open_refused"].format(
        file="other.geojson", why=expected
    )
    assert len(drawer.features()) == 1
    drawer.browser.listen()
    assert drawer.browser.console == []


def test_drawing_is_there_again_after_the_page_is_loaded_anew(drawer, page):
    draw_a_yard(drawer)
    assert draw_words.PAGE["never_saved"] in drawer.one("#saved").text
    drawer.browser.open(page)
    assert "Carried on" in drawer.told()
    assert draw_words.PAGE["never_saved"] in drawer.one("#saved").text
    drawer.press(draw_words.PAGE["start_again"])
    assert not drawer.all("#drawn button")
    drawer.press(draw_words.PAGE["undo"])
    assert len(drawer.features()) == 6
    assert draw_words.PAGE["saved"].split("{")[0] in drawer.one("#saved").text


def test_page_with_unsaved_work_asks_before_it_is_left(drawer):
    asks = """
        const event = new Event('beforeunload', {cancelable: true});
        window.dispatchEvent(event);
        return event.defaultPrevented;
    """
    assert drawer.run(asks) is False
    drawer.draw("sources", "Point", (60, 60))
    assert drawer.run(asks) is True
    drawer.save()
    assert drawer.run(asks) is False


def test_browser_that_keeps_nothing_is_told_and_drawn_in(drawer, page):
    script = (
        "Object.defineProperty(window, 'localStorage', {get() { throw new Error(); }});"
    )
    added = drawer.driver.execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument", {"source": script}
    )
    try:
        drawer.browser.open(page)
        drawer.draw("sources", "Point", (60, 60))
        assert draw_words.PAGE["not_kept"] in drawer.one("#saved").text
        assert len(drawer.features()) == 1
        drawer.browser.listen()
        assert drawer.browser.console == []
    finally:
        drawer.driver.execute_cdp_cmd(
            "Page.removeScriptToEvaluateOnNewDocument",
            {"identifier": added["identifier"]},
        )


def test_page_that_is_open_twice_is_told(drawer):
    """A storage event comes from another window only; here it is sent by hand."""
    drawer.run(
        "const key = Object.keys(localStorage)[0];"
        "window.dispatchEvent(new StorageEvent('storage', {key}));"
    )
    assert drawer.told() == draw_words.PAGE["twice"]


GPX = """<?xml version="1.0"?>
<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" creator="a phone">
<wpt lat="52.596" lon="-2.7387"><name>{name}</name></wpt>
<rte><rtept lat="52.596" lon="-2.7387"/><rtept lat="52.5961" lon="-2.7386"/></rte>
<trk><trkseg><trkpt lat="52.596" lon="-2.7387"/><trkpt lat="52.59605" lon="-2.7385"/>
</trkseg></trk></gpx>"""


def lay(drawer, tmp_path, text):
    file = tmp_path / "walk.gpx"
    file.write_text(text, "utf-8")
    drawer.one("#track").send_keys(str(file))
    WebDriverWait(drawer.driver, 10).until(lambda _: drawer.one("#told").is_displayed())


def test_track_of_a_phone_lies_under_the_drawing_with_a_caution(drawer, tmp_path):
    lay(drawer, tmp_path, GPX.format(name="Gate &lt;b&gt;"))
    assert "several metres off" in drawer.told()
    assert len(drawer.all(".leaflet-pane-under-pane path")) == 5
    assert "Gate <b>" in [one.text for one in drawer.all(".label")]
    assert drawer.features() == []


def test_track_of_somewhere_else_is_not_laid(drawer, tmp_path):
    lay(drawer, tmp_path, GPX.format(name="Gate").replace("52.", "12."))
    assert "outside this ground" in drawer.told()
    assert not drawer.all(".leaflet-pane-under-pane path")


@pytest.mark.parametrize("text", ["no XML", "<kml/>", "<gpx><trk>", "", "{}"])
def test_track_that_is_no_gpx_is_refused(drawer, tmp_path, text):
    lay(drawer, tmp_path, text)
    assert drawer.told() == draw_words.PAGE["gpx_refused"].format(file="walk.gpx")


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_shown_kept_and_never_run(drawer, page, tmp_path, text):
    drawer.draw("sources", "Point", (60, 60))
    drawer.answer(kind="other", name="here")
    file = tmp_path / "hostile.geojson"
    saved = json.loads(drawer.save().read_text("utf-8"))
    properties = saved["features"][0]["properties"]
    properties |= {"id": text, "name": text, "note": {"__proto__": text, text: [text]}}
    properties["door"] = text
    file.write_text(json.dumps(saved), "utf-8")
    drawer.open(file)
    drawer.press(draw_words.PAGE["open_replace"])
    drawer.run("document.querySelector('#drawn button').click()")
    assert text in drawer.one("#form h2").get_property("textContent")
    field = drawer.one("#form [name=name]")
    assert field.get_property("value") == text.replace("\n", "")
    assert drawer.one(".label").get_property("textContent") == f"{text} {text}"
    assert drawer.features()[0]["properties"] == properties
    drawer.browser.open(page)
    assert drawer.features()[0]["properties"] == properties
    drawer.browser.listen()
    assert drawer.run("return window.ran") is None
    assert drawer.browser.console == []


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_that_is_typed_is_saved_as_it_is(drawer, text):
    drawer.draw("watercourses", "LineString", (20, 20), (60, 20))
    drawer.answer(name=text)
    assert drawer.features()[0]["properties"]["name"] == text
    assert drawer.run("return window.ran") is None


# The page -----------------------------------------------------------------------------


def test_script_that_gets_into_the_page_is_not_run(browser, page):
    browser.open(page.replace("</body>", "<script>window.ran = 1</script></body>"))
    browser.listen()
    assert browser.driver.execute_script("return window.ran") is None
    assert any("Content Security Policy" in one for one in browser.console)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_targets_are_large_and_words_are_not_small(drawer, page, width, height):
    drawer.draw("barriers", "LineString", (20, 20), (60, 20), (100, 20))
    drawer.browser.open(page, width=width, height=height)
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
