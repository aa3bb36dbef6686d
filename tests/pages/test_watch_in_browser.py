"""Fronts through time, states of the ground, other units: on the demo farm's map."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select, WebDriverWait

from pathways.pages import words
from pathways.pages.map import map_page
from pathways.run import run

DEMO = Path(__file__).parents[2] / "data-samples" / "demo-farm"


@pytest.fixture(scope="session")
def demo_map() -> str:
    return map_page(run(DEMO).assessment)


@pytest.fixture
def opened(browser, demo_map):
    browser.open(demo_map, width=1400)
    WebDriverWait(browser.driver, 20).until(
        lambda driver: driver.execute_script(
            "return document.documentElement.dataset.ground === 'ready'"
        )
    )
    return browser


def data_of(page: str) -> dict:
    return json.loads(page.split('id="data">')[1].split("</script>")[0])


def set_time(browser, share: float) -> list[str]:
    """Move the slider, and return what is told of each front."""
    browser.driver.execute_script(
        "const at = document.getElementById('time'); at.value = arguments[0];"
        "at.dispatchEvent(new Event('input'))",
        round(1000 * share),
    )
    told = browser.driver.find_elements(By.CSS_SELECTOR, ".fronts li")
    return [one.get_property("textContent") for one in told]


def choose_state(browser, name: str) -> None:
    Select(browser.driver.find_element(By.ID, "state")).select_by_value(name)


@pytest.mark.parametrize("state", ["raining", "saturated", "wet", "dry"])
def test_every_way_with_times_begins_at_its_start_and_ends_as_python_says(
    opened, demo_map, state
):
    ways = [one for one in data_of(demo_map)["ways"] if one["fronts"]]
    assert len(ways) > 3
    choose_state(opened, state)
    begun, ended = set_time(opened, 0.0), set_time(opened, 1.0)
    for way, at_start, at_end in zip(ways, begun, ended, strict=True):
        front = way["fronts"][state]
        assert at_start == f"{way['letter']} {front['loss']}: 0\u00a0m"
        told = words.PAGE[f"front_{front['ends']}"].partition("{length}")[2]
        assert at_end.endswith(told)


def test_some_fronts_of_the_demo_farm_are_used_up_on_dry_ground(demo_map):
    ways = [one for one in data_of(demo_map)["ways"] if one["fronts"]]
    found = {way["fronts"]["dry"]["ends"] for way in ways}
    assert {"there", "held", "nearly_used_up"} <= found
    for way in ways:
        front = way["fronts"]["dry"]
        whole_m = sum(way["lengths_m"])
        comes_there = front["moments"][-1][0] == pytest.approx(whole_m, abs=0.1)
        assert comes_there == (front["ends"] in ("there", "held"))


def test_place_of_a_front_is_pythons_at_every_moment(opened, demo_map):
    ways = [one for one in data_of(demo_map)["ways"] if one["fronts"]]
    for way in ways:
        moments = way["fronts"]["dry"]["moments"]
        for along_m, time_s in moments:
            told = opened.driver.execute_script(
                "return frontAt(arguments[0], arguments[1]).along", moments, time_s
            )
            assert told == pytest.approx(along_m, abs=0.01)


def test_front_that_fills_a_hollow_is_told_to_wait(opened):
    told = opened.driver.execute_script(
        "return frontAt([[0, 0], [10, 60], [10, 120], [20, 180]], 90)"
    )
    assert told == {"along": 10, "does": "waits"}


def test_state_of_the_ground_switches_the_story(opened):
    assert not opened.driver.find_elements(By.CSS_SELECTOR, "#story .by-state")
    choose_state(opened, "dry")
    told = opened.driver.find_element(By.CSS_SELECTOR, "#story .by-state").text
    assert words.GROUND_STATES["dry"] in told
    marked = opened.driver.find_elements(By.CSS_SELECTOR, "#story td.now")
    heads = {one.get_attribute("data-head") for one in marked}
    assert heads == {words.capital(words.GROUND_STATES["dry"])}


def test_play_moves_the_fronts_and_can_be_put_away(opened):
    play = opened.driver.find_element(By.ID, "play")
    opened.driver.execute_script("arguments[0].click()", play)
    WebDriverWait(opened.driver, 10).until(
        lambda driver: driver.find_element(By.ID, "clock").text not in ("", "0 s")
    )
    assert opened.driver.find_element(By.CSS_SELECTOR, ".fronts").is_displayed()
    away = opened.driver.find_element(By.ID, "no-play")
    opened.driver.execute_script("arguments[0].click()", away)
    assert not opened.driver.find_element(By.CSS_SELECTOR, ".fronts").is_displayed()
    opened.listen()
    assert opened.console == []


@pytest.mark.parametrize(
    ("told", "system", "expected"),
    [
        # NIST SP 811 (2008), appendix B.8: 1 ft is 0.3048 m, a gallon 3.785412 l.
        ("10\u00a0m", 1, "33\u00a0ft"),
        ("100\u00a0m", 1, "328\u00a0ft"),
        ("3,785\u00a0l", 1, "1,000\u00a0gal"),
        ("4,546\u00a0l", 2, "1,000\u00a0gal"),
        ("5\u00a0cm deep", 1, "2\u00a0in deep"),
        ("929\u00a0m²", 1, "10,000\u00a0sq ft"),
        ("10\u00a0l/m² in 6 min, 1 in 64", 1, "10\u00a0l/m² in 6 min, 1 in 64"),
        # What the program did not work out stays: names, ranges, distances of rules.
        ("Gât 2 lôn, Tank 4 l, G12 m", 1, "Gât 2 lôn, Tank 4 l, G12 m"),
        ("Gât 2\u00a0lôn", 1, "Gât 2\u00a0lôn"),
        ("3 to 6 cm and 12 × 8 m", 1, "3 to 6 cm and 12 × 8 m"),
        ("keep 50\u202fm off", 1, "keep 50\u202fm off"),
        ("1:500\u00a0m", 1, "1:500\u00a0m"),
    ],
)
def test_numbers_are_told_in_other_units(opened, demo_map, told, system, expected):
    units = data_of(demo_map)["units"][system]["units"]
    says = opened.driver.execute_script(
        "return inUnits(arguments[0], arguments[1])", told, units
    )
    assert says == expected


def test_switch_of_units_turns_the_whole_page_and_back(opened):
    def texts():
        return opened.driver.execute_script("return document.body.innerText")

    before = texts()
    units = Select(opened.driver.find_element(By.ID, "units"))
    units.select_by_index(1)
    feet = texts()
    assert "\u00a0ft" in feet
    assert words.PAGE["units_note"] in feet
    units.select_by_index(0)
    assert texts() == before


def test_lines_of_equal_height_lie_on_the_map_and_in_its_key(opened, demo_map):
    lines = data_of(demo_map)["ground"]["contours"]["lines"]
    drawn = opened.driver.find_elements(
        By.CSS_SELECTOR, ".leaflet-pane-contours path, .leaflet-pane\\-contours path"
    ) or opened.driver.execute_script(
        "return [...document.querySelectorAll('[class*=contours] path')]"
    )
    assert len(drawn) >= len(lines) > 5
    legend = opened.driver.find_element(By.CSS_SELECTOR, ".legend")
    assert "Lines of equal height" in legend.get_property("textContent")


def test_clock_is_not_read_out_while_it_runs(opened):
    clock = opened.driver.find_element(By.ID, "clock")
    assert clock.get_attribute("aria-live") == "off"


def test_way_of_a_site_is_drawn_and_told_when_it_is_chosen(opened):
    opened.driver.execute_script(
        "document.querySelector('#sites tbody button').click()"
    )
    told = opened.driver.find_element(By.ID, "story").get_property("textContent")
    assert "Thin broken line: the way of a spill from its middle" in told
    heard = opened.driver.find_element(By.ID, "told").get_property("textContent")
    assert heard.startswith("Site 1")
