"""The drawing page as a person meets it: drawn on in a real Chromium, no network.

44 CSS pixels for targets: Web Content Accessibility Guidelines 2.2, success criterion
2.5.5. Places are compared with those that pyproj gives.
"""

from __future__ import annotations

import base64
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
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select, WebDriverWait

from pathways.drawing import write_drawing_page
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
                field.clear()
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
    assert sorted(one.name for one in farm.iterdir()) >= ["draw.html", "farm.toml"]
    assert not (farm / "features.gpkg").exists()
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
    for name in ("Filling by the shed", "Long ditch", "G1"):
        assert name in report
