"""Colours as people see them who tell few apart, in grey, and of text on its ground.

* Deuteranopia: G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, "A
  Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE TVCG
  15(6), 2009, doi 10.1109/TVCG.2009.113, severity 1.0; by the library colorspacious.
* Distance: CAM02-UCS; M. R. Luo, G. Cui and C. Li, "Uniform colour spaces based on
  CIECAM02 colour appearance model", Color Res. Appl. 31, 2006, doi 10.1002/col.20227.
* Text: WCAG 2.2, success criterion 1.4.3, https://www.w3.org/TR/WCAG22/#contrast-minimum
"""

from __future__ import annotations

import re
from importlib import resources
from itertools import combinations, pairwise

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE
from colorspacious.cvd import machado_et_al_2009_matrix

from pathways.io.styles import LAYER_LOOKS
from pathways.pages import palette
from pathways.pages.map import map_page
from pathways.pages.report import report_page
from pathways.pages.sizes import sizes_page
from tests.pages.conftest import page_to_draw

#: Below this a pattern, mark or hatch has to tell two classes apart; one is about what
#: can just be seen on two large fields side by side. Judgement, no source: thin lines
#: far apart on a wet screen need much more.
FAR = 20.0
#: Between two bands that lie side by side.
NEAR_BANDS = 10.0

DEUTERANOPIA = {"name": "sRGB1+CVD", "cvd_type": "deuteranomaly", "severity": 100}


def rgb(colour):
    return np.array([*bytes.fromhex(colour.removeprefix("#"))]) / 255


def seen(colour):
    return np.clip(cspace_convert(colour, DEUTERANOPIA, "sRGB1"), 0, 1)


def lightness(colour):
    return cspace_convert(colour, "sRGB1", "CAM02-UCS")[0]


def nearest(first, second):
    """Return how far apart two colours are where they are hardest to tell apart."""
    return min(
        deltaE(first, second, input_space="sRGB1"),
        deltaE(seen(first), seen(second), input_space="sRGB1"),
        abs(lightness(first) - lightness(second)),  # in grey
    )


def test_library_has_the_matrix_of_the_paper():
    # Table of the paper's page, deuteranomaly, severity 1.0 (from memory).
    assert machado_et_al_2009_matrix("deuteranomaly", 100) == pytest.approx(
        np.array(
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ]
        )
    )


def test_simulation_takes_red_and_green_for_each_other():
    red, green = rgb("#D55E00"), rgb("#009E73")
    as_they_are = deltaE(red, green, input_space="sRGB1")
    assert deltaE(seen(red), seen(green), input_space="sRGB1") < as_they_are / 2


def test_ways_of_near_colours_differ_in_pattern():
    near = [
        (first, second)
        for first, second in combinations(palette.OUTCOMES, 2)
        if nearest(
            rgb(palette.OUTCOMES[first]["colour"]),
            rgb(palette.OUTCOMES[second]["colour"]),
        )
        < FAR
    ]
    assert near  # no six colours are far apart in grey
    for first, second in near:
        patterns = {palette.OUTCOMES[one]["pattern"] for one in (first, second)}
        assert len(patterns) == 2, (first, second)


def sign(symbol, look):
    """Return by what a class is known in a desktop GIS beside its colour."""
    if symbol == "marker":
        return look.shape
    return (look.dash_mm, look.hatch) if symbol == "fill" else look.dash_mm


@pytest.mark.parametrize("name", [one for one in LAYER_LOOKS if one != "reach"])
def test_classes_of_near_colours_differ_in_dash_mark_or_hatch(name):
    layer = LAYER_LOOKS[name]
    for first, second in combinations(layer.looks.values(), 2):
        colours = [
            np.array([*map(int, one.colour.split(","))])[:3] / 255
            for one in (first, second)
        ]
        if nearest(*colours) < FAR:
            assert sign(layer.symbol, first) != sign(layer.symbol, second)


def test_bands_grow_darker_step_by_step():
    """Bands lie side by side and are read by their order, without a pattern."""
    on_white = [
        (np.array(colour) * opacity / 255 + 255 - opacity) / 255
        for *colour, opacity in palette.REACH_COLOURS
    ]
    for lighter, darker in pairwise(on_white):
        assert lightness(lighter) - lightness(darker) > NEAR_BANDS
        assert deltaE(seen(lighter), seen(darker), input_space="sRGB1") > NEAR_BANDS


# Text on its ground -------------------------------------------------------------------

#: WCAG 2.2, success criterion 1.4.3, for text of any size.
LEAST_CONTRAST = 4.5

NAMED = {"white": "#ffffff", "black": "#000000"}


def luminance(colour):
    """Return the relative luminance (WCAG 2.2, glossary)."""
    linear = np.where(
        colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4
    )
    return float(linear @ (0.2126, 0.7152, 0.0722))


def contrast(first, second):
    lighter, darker = sorted((luminance(first), luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def grounds(value):
    """Return the colours that a CSS colour can come to: two where it is translucent."""
    value = NAMED.get(value, value)
    if match := re.fullmatch(r"#([0-9a-fA-F]{3})", value):
        value = "#" + "".join(2 * one for one in match[1])
    if re.fullmatch(r"#[0-9a-fA-F]{6}", value):
        return [rgb(value)]
    *colour, opacity = map(float, re.findall(r"[\d.]+", value))
    over = np.array(colour) / 255 * opacity
    return [over, over + 1 - opacity]  # on black and on white


def pairs(css):
    """Yield each text colour of a sheet on its rule's ground, or on the page's."""
    css = re.sub(r"/\*.*?\*/", "", css, flags=re.DOTALL)
    names = dict(re.findall(r"(--[\w-]+):\s*([^;}]+)", css))
    css = re.sub(r"var\((--[\w-]+)\)", lambda match: names[match[1]], css)
    page = None
    for selector, body in re.findall(r"([^{}]+)\{([^{}]*)\}", css):
        given = dict(re.findall(r"(?:^|[;\s])([a-z-]+):\s*([^;]+)", body))
        ground = given.get("background", "none")
        page = ground if selector.strip() == "body" else page
        text = given.get("color", "inherit")
        if text != "inherit" and page:
            yield selector.strip(), text.strip(), page if ground == "none" else ground


SHEETS = {
    one.name: one.read_text(encoding="utf-8")
    for one in (resources.files("pathways.pages") / "templates").iterdir()
    if one.name.endswith(".css")
}


@pytest.mark.parametrize("sheet", sorted(SHEETS))
def test_text_of_each_rule_stands_out_from_its_ground(sheet):
    told = [
        (name, text, ground, round(contrast(one, other), 2))
        for name, text, ground in pairs(SHEETS[sheet])
        for one in grounds(text)
        for other in grounds(ground)
    ]
    assert told
    assert [one for one in told if one[-1] < LEAST_CONTRAST] == []


#: Every text that is shown, with its colour and the grounds below it, topmost first.
#: What lies on the map itself has no one ground: black on white halos, or white on
#: black, which the sheet is asked for above.
SHOWN = """
document.querySelectorAll('details').forEach((one) => { one.open = true; });
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
const found = new Map();
while (walk.nextNode()) {
  const owner = walk.currentNode.parentElement;
  if (!walk.currentNode.data.trim() || !owner.checkVisibility()) continue;
  if (owner.closest('svg, .leaflet-map-pane, script, style')) continue;
  const under = [];
  for (let one = owner; one; one = one.parentElement) {
    under.push(getComputedStyle(one).backgroundColor);
  }
  const pair = [getComputedStyle(owner).color, under];
  found.set(JSON.stringify(pair), [walk.currentNode.data.trim().slice(0, 40), ...pair]);
}
return [...found.values()];
"""


def channels(value):
    *colour, opacity = ([*map(float, re.findall(r"[\d.]+", value)), 1.0])[:4]
    return np.array(colour) / 255, opacity


@pytest.mark.parametrize("page", [map_page, report_page, sizes_page, page_to_draw])
def test_text_stands_out_from_what_it_lies_on(browser, assessment, page):
    browser.open(page(assessment))
    shown = browser.driver.execute_script(SHOWN)
    assert shown
    for text, colour, under in shown:
        ground = np.ones(3)  # a browser's canvas
        for above, opacity in map(channels, reversed(under)):
            ground = above * opacity + ground * (1 - opacity)
        assert contrast(channels(colour)[0], ground) >= LEAST_CONTRAST, text


def test_contrast_is_that_of_the_guidelines():
    # 21 for black on white (WCAG 2.2, glossary); #767676 is the lightest grey that
    # passes on white (common knowledge, by hand 4.54).
    assert contrast(rgb("#000000"), rgb("#ffffff")) == pytest.approx(21)
    assert contrast(rgb("#767676"), rgb("#ffffff")) >= 4.5
    assert contrast(rgb("#777777"), rgb("#ffffff")) < 4.5
