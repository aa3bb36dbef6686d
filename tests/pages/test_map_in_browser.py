"""The map page as a person meets it: in a real Chromium without a network."""

from __future__ import annotations

import dataclasses

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import WebDriverWait

from pathways.features import Features
from pathways.pages import words
from pathways.pages.map import map_page

HOSTILE = (
    "</script><script>window.ran = 1</script>",
    "${window.ran = 1}${7*7}{{7*7}}",
    "\\u0022\\\"'`;window.ran=1;//",
    '<img src=x onerror="window.ran=1">',
    "<!--<script>",
    "Ffynnon Ŵyr Tŷ'n-y-Coed",
    "]]>\u2028\u2029&lt;b&gt;&amp;",
    "javascript:window.ran=1",
)

SIZES = [(1280, 900), (390, 844)]


def find(browser, selector):
    return browser.driver.find_element(By.CSS_SELECTOR, selector)


def find_all(browser, selector):
    return browser.driver.find_elements(By.CSS_SELECTOR, selector)


def run(browser, script, *arguments):
    return browser.driver.execute_script(script, *arguments)


def settle(browser):
    """Wait until the map has stopped moving."""
    WebDriverWait(browser.driver, 10).until(
        lambda driver: (
            not driver.find_elements(
                By.CSS_SELECTOR, ".leaflet-zoom-anim, .leaflet-pan-anim"
            )
        )
    )


@pytest.fixture
def opened(browser, assessment):
    browser.open(map_page(assessment))
    return browser


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_page_opens_without_a_word_on_the_console(browser, assessment, width, height):
    browser.open(map_page(assessment), width=width, height=height)
    browser.listen()
    assert find(browser, "h1").text == "Sea Valley Farm"
    assert browser.console == []


def test_page_asks_nothing_of_the_network(opened):
    for button in find_all(opened, "tbody button"):
        button.click()
    settle(opened)
    opened.listen()
    assert opened.requests
    assert {one.split(":")[0] for one in opened.requests} <= {"file", "data"}


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_shown_and_never_run(browser, by_hand, text):
    browser.open(map_page(by_hand(lambda _: text)))
    for button in find_all(browser, "tbody button"):
        run(browser, "arguments[0].click()", button)
    settle(browser)
    browser.listen()
    assert find(browser, "h1").get_property("textContent") == words.shown(text)
    assert words.shown(text) in run(browser, "return document.title")
    assert words.shown(text) in find(browser, "#cautions").get_property("textContent")
    assert words.shown(text) in find(browser, "#sources").get_property("textContent")
    assert words.shown(text) in find(browser, "#sites").get_property("textContent")
    assert words.shown(text) in find(browser, "#notes").get_property("textContent")
    assert words.shown(text) in find(browser, ".label").get_property("textContent")
    assert run(browser, "return window.ran") is None
    assert browser.console == []


def test_script_that_gets_into_the_page_is_not_run(browser, assessment):
    """The policy holds even where the escaping would fail."""
    page = map_page(assessment).replace(
        "</body>", "<script>window.ran = 1</script></body>"
    )
    browser.open(page)
    browser.listen()
    assert run(browser, "return window.ran") is None
    assert any("Content Security Policy" in one for one in browser.console)


def test_first_way_is_told_as_soon_as_the_page_opens(opened):
    assert "Sprayer filling point" in find(opened, "#story h2").text


def test_row_that_is_clicked_shows_its_story(opened):
    find_all(opened, "#sources tbody button")[1].click()
    assert "Midden, from its lowest edge" in find(opened, "#story h2").text
    assert "Not known" in find(opened, "#story .verdict").text


def test_cell_of_a_row_chooses_the_row(opened):
    find_all(opened, "#sources tbody td")[2].click()
    assert "Midden" in find(opened, "#story h2").text


def test_row_is_chosen_with_the_keyboard(opened):
    button = find_all(opened, "#sources tbody button")[2]
    run(opened, "arguments[0].focus()", button)
    opened.driver.switch_to.active_element.send_keys(Keys.ENTER)
    assert "Fuel store D1" in find(opened, "#story h2").text
    assert button.get_attribute("aria-pressed") == "true"


def test_flag_on_the_map_is_chosen_with_the_keyboard(opened):
    flag = find(opened, ".flag.rank[aria-label^='Site 3']")
    run(opened, "arguments[0].focus()", flag)
    opened.driver.switch_to.active_element.send_keys(Keys.ENTER)
    assert "Site 3: Beside the brook" in find(opened, "#story h2").text


def test_way_that_is_tapped_on_the_map_shows_its_story(opened):
    find_all(opened, "#sources tbody button")[2].click()
    settle(opened)
    find(opened, "button.whole").click()
    settle(opened)
    # In the middle of the pipe, away from every flag.
    run(
        opened,
        """
        const wide = [...document.querySelectorAll('path.leaflet-interactive')]
          .filter((one) => one.getAttribute('stroke-width') === '28')[1];
        const at = wide.getPointAtLength(wide.getTotalLength() / 2);
        const here = new DOMPoint(at.x, at.y).matrixTransform(wide.getScreenCTM());
        const hit = document.elementFromPoint(here.x, here.y);
        hit.dispatchEvent(new MouseEvent('click', {
          bubbles: true, clientX: here.x, clientY: here.y }));
        """,
    )
    assert "Sprayer filling point" in find(opened, "#story h2").text


def test_whole_chosen_way_lies_inside_the_map(opened):
    find_all(opened, "#sources tbody button")[1].click()
    settle(opened)
    frame = find(opened, ".folium-map").rect
    for flag in find_all(opened, ".flag.chosen, .flag.post"):
        assert frame["x"] <= flag.rect["x"]
        assert flag.rect["x"] + flag.rect["width"] <= frame["x"] + frame["width"]
        assert frame["y"] <= flag.rect["y"]
        assert flag.rect["y"] + flag.rect["height"] <= frame["y"] + frame["height"]


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_flags_do_not_hide_each_other(browser, assessment, width, height):
    browser.open(map_page(assessment), width=width, height=height)
    boxes = [one.rect for one in find_all(browser, ".flag .face")]
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            apart = (
                one["x"] >= other["x"] + other["width"]
                or other["x"] >= one["x"] + one["width"]
                or one["y"] >= other["y"] + other["height"]
                or other["y"] >= one["y"] + one["height"]
            )
            assert apart, (one, other)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_chosen_flags_do_not_lie_under_buttons(browser, assessment, width, height):
    browser.open(map_page(assessment), width=width, height=height)
    find_all(browser, "#sources tbody button")[0].click()
    settle(browser)
    hidden = run(
        browser,
        """
        return [...document.querySelectorAll('.flag.chosen .face, .flag.post .face')]
          .filter((face) => {
            const box = face.getBoundingClientRect();
            const middle = [box.x + box.width / 2, box.y + box.height / 2];
            return !face.contains(document.elementFromPoint(...middle));
          }).map((face) => face.textContent);
        """,
    )
    assert hidden == []


def test_legend_switches_a_layer_off(opened):
    find(opened, ".legend summary").click()
    before = len(find_all(opened, ".leaflet-pane path"))
    find(opened, ".legend input").click()
    assert len(find_all(opened, ".leaflet-pane path")) < before


def test_legend_holds_only_what_is_on_the_map(opened):
    find(opened, ".legend summary").click()
    text = find(opened, ".legend").text
    assert words.OUTCOMES["contained"] in text
    assert words.OUTCOMES["stops_on_surface"] not in text


def test_ways_that_are_switched_off_do_not_break_choosing(opened):
    find(opened, ".legend summary").click()
    for box in find_all(opened, ".legend input"):
        box.click()
    find_all(opened, "#sources tbody button")[1].click()
    opened.listen()
    assert "Midden" in find(opened, "#story h2").text
    assert opened.console == []


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_nothing_is_wider_than_the_screen(browser, assessment, width, height):
    browser.open(map_page(assessment), width=width, height=height)
    assert run(browser, "return document.documentElement.scrollWidth") <= width


def test_long_name_does_not_widen_a_phone_page(browser, by_hand):
    browser.open(map_page(by_hand(lambda _: "W" * 300)), width=390, height=844)
    assert run(browser, "return document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_buttons_are_large_enough_for_a_thumb(browser, assessment, width, height):
    # 44 CSS pixels: Web Content Accessibility Guidelines 2.2, success criterion 2.5.5.
    browser.open(map_page(assessment), width=width, height=height)
    sizes = [
        one.rect
        for one in find_all(browser, "button, summary, .leaflet-bar a")
        if one.is_displayed()
    ]
    assert len(sizes) > 8
    assert min(min(one["width"], one["height"]) for one in sizes) >= 44


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_no_word_is_smaller_than_fifteen_pixels(browser, assessment, width, height):
    browser.open(map_page(assessment), width=width, height=height)
    smallest = run(
        browser,
        """
        const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        let smallest = 99;
        while (texts.nextNode()) {
          const holder = texts.currentNode.parentElement;
          if (!texts.currentNode.data.trim()) continue;
          if (holder.closest('script, noscript')) continue;
          const size = parseFloat(getComputedStyle(holder).fontSize);
          smallest = Math.min(smallest, size);
        }
        return smallest;
        """,
    )
    assert smallest >= 15


def test_cautions_are_seen_without_scrolling(browser, assessment):
    for width, height in SIZES:
        browser.open(map_page(assessment), width=width, height=height)
        rect = find(browser, "#cautions").rect
        assert rect["y"] + rect["height"] <= height


def test_print_shows_the_tables_and_hides_the_controls(opened):
    opened.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        assert find(opened, "#sources table").is_displayed()
        assert find(opened, "#sites table").is_displayed()
        assert not find(opened, "button.whole").is_displayed()
        assert not find(opened, ".legend").is_displayed()
    finally:
        opened.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_story_is_announced(opened):
    find_all(opened, "#sources tbody button")[1].click()
    heard = find(opened, "#told")
    assert heard.get_attribute("role") == "status"
    assert heard.get_property("textContent").startswith("Midden")
    assert "Not known" in heard.get_property("textContent")
    assert run(opened, "return document.documentElement.lang") == "en"


def test_focus_can_be_seen(opened):
    button = find_all(opened, "#sources tbody button")[1]
    find(opened, "button.whole").send_keys(Keys.TAB)
    run(opened, "arguments[0].focus({focusVisible: true})", button)
    assert float(button.value_of_css_property("outline-width")[:-2]) >= 3


def test_relief_lies_on_the_ground_in_the_browser_too(opened, assessment):
    """The browser stretches the picture to where pyproj puts the grid's corners."""
    grid = assessment.farm.grid
    flags = find_all(opened, ".flag.rank")
    first, third = assessment.sites[0], assessment.sites[2]
    picture = find(opened, ".leaflet-image-layer").rect
    centre = [
        (one.rect["x"] + one.rect["width"] / 2, one.rect["y"] + one.rect["height"] / 2)
        for one in (flags[0], flags[2])
    ]
    pixels_per_m = (centre[1][0] - centre[0][0]) / (third.easting_m - first.easting_m)
    assert picture["width"] / pixels_per_m == pytest.approx(
        grid.columns * grid.cell_size_m, rel=0.1
    )


def test_empty_farm_says_that_nothing_was_traced(browser, assessment):
    assessment = dataclasses.replace(assessment, network=None)
    farm = dataclasses.replace(assessment.farm, features=Features())
    browser.open(
        map_page(dataclasses.replace(assessment, farm=farm, pathways=(), sites=()))
    )
    browser.listen()
    assert find(browser, "#sources").text == words.PAGE["no_sources"]
    assert find(browser, "#sites").text == words.PAGE["no_sites"]
    assert browser.console == []


def test_edges_of_setbacks_are_drawn_with_their_distance_and_rule(opened):
    drawn = find_all(opened, ".leaflet-map-pane [class*=setbacks] path")
    assert drawn
    legend = find(opened, ".legend").get_property("textContent")
    assert "A bed keeps 10 m from a watercourse" in legend


def test_tap_on_a_drawn_thing_names_it_and_tells_its_way(opened):
    WebDriverWait(opened.driver, 10).until(
        lambda driver: driver.execute_script(
            "return document.documentElement.dataset.ground === 'ready'"
        )
    )
    borehole = find(opened, "[class*=water_supplies] .glyph")
    run(opened, "arguments[0].click()", borehole)
    # Its text, and not what is seen: the bubble may still be fading in.
    named = find(opened, ".leaflet-popup").get_property("textContent")
    assert "Borehole B1" in named
    assert "From the place you tapped" in find(opened, "#story h2").text


def test_all_that_can_be_chosen_lies_in_the_first_view(opened):
    """Flags of sources and sites, within the map as it is once all stands in place."""
    frame = find(opened, ".folium-map").rect
    for flag in find_all(opened, ".flag .face"):
        box = flag.rect
        assert frame["x"] <= box["x"] <= frame["x"] + frame["width"]
        assert frame["y"] <= box["y"] <= frame["y"] + frame["height"]
