"""Pages against WCAG 2.2 A and AA, as far as a program can tell, by axe-core.

axe-core (https://github.com/dequelabs/axe-core, MPL-2.0) comes from npm and is not
part of this project; the variable AXE_CORE names its file: see DEVELOPERS.md. It finds
a part of what the guidelines ask: that it finds nothing makes no page accessible.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from pathways.pages.map import map_page
from pathways.pages.report import report_page
from pathways.pages.sizes import sizes_page
from tests.pages.conftest import page_to_draw

#: A new page is one line here.
PAGES = {
    "map.html": map_page,
    "report.html": report_page,
    "sizes.html": sizes_page,
    "draw.html": page_to_draw,
}

SIZES = [(1280, 900), (390, 844)]
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]

ASK = """
const [tags, done] = arguments;
document.querySelectorAll('details').forEach((one) => { one.open = true; });
axe.run(document, { runOnly: { type: 'tag', values: tags } })
  .then((found) => done({ violations: found.violations, rules: found.passes.length }))
  .catch((error) => done({ error: String(error) }));
"""


@pytest.fixture(scope="session")
def axe() -> str:
    named = os.environ.get("AXE_CORE", "")
    if not named:
        reason = "AXE_CORE names no file of axe-core, so no page was checked with it"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return Path(named).read_text(encoding="utf-8")


def violations(browser, axe):
    """Return what axe-core finds, one line for each element: impact, rule, where."""
    # The policy of a page binds its own scripts; a driver's are not the page's.
    browser.driver.execute_script(axe)
    found = browser.driver.execute_async_script(ASK, TAGS)
    assert "error" not in found, found
    assert found["rules"] > 5  # it did look
    return [
        f"{one['impact']}: {one['id']} ({one['help']}): {node['target']}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


def grave(found):
    return [one for one in found if one.startswith(("serious", "critical"))]


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("name", PAGES)
def test_page_made_by_hand_bars_nobody(browser, axe, assessment, name, width, height):
    browser.open(PAGES[name](assessment), width=width, height=height)
    assert grave(violations(browser, axe)) == []


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("name", PAGES)
def test_page_of_the_demo_farm_bars_nobody(browser, axe, demo_run, name, width, height):
    browser.open(PAGES[name](demo_run.assessment), width=width, height=height)
    assert grave(violations(browser, axe)) == []


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_story_of_a_site_bars_nobody(browser, axe, assessment, width, height):
    browser.open(map_page(assessment), width=width, height=height)
    browser.driver.execute_script(
        "document.querySelector('#sites tbody button').click()"
    )
    assert "Behind the long barn" in browser.driver.execute_script(
        "return document.querySelector('#story h2').textContent"
    )
    assert grave(violations(browser, axe)) == []


def test_harness_finds_what_is_wrong(browser, axe):
    """A page with three known faults: else a silent axe would pass every page."""
    browser.open(
        "<!doctype html><html><head><title>x</title></head><body><main><h1>x</h1>"
        '<p style="color:#999;background:#fff">faint</p><button></button></main>'
    )
    rules = {one.split()[1] for one in grave(violations(browser, axe))}
    assert rules == {"html-has-lang", "color-contrast", "button-name"}
