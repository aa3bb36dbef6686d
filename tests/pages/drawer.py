"""A person at the drawing page, in a real browser."""

from __future__ import annotations

import json
import time

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select, WebDriverWait

from pathways.pages import draw_words

#: The ground of these pages: its side, its western and its northern edge [m].
SIDE, WEST, NORTH = 120, 350_000.0, 300_120.0


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
