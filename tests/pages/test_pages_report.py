"""The report: one file, the answer first, and nothing that a user wrote runs."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from selenium.webdriver.common.by import By

from pathways.pages.map import map_page
from pathways.pages.report import letters_of, report_page

HOSTILE = (
    "</script><script>window.ran=1</script>",
    "<img src=x onerror=window.ran=1>",
    "${7*7} {{7*7}} \\back\\ 'quoted' \"twice\"",
    "Fferm Tŷ-Nant \u202eright to left",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_what_a_user_wrote_is_shown_and_never_run(browser, by_hand, text):
    browser.open(report_page(by_hand(lambda _: text)))
    assert browser.driver.execute_script("return window.ran") is None
    assert browser.driver.find_elements(By.CSS_SELECTOR, "script, img, iframe") == []
    browser.listen()
    assert browser.console == []


def test_report_is_one_file_without_script_or_link(assessment):
    page = report_page(assessment)
    assert "<script" not in page
    assert re.findall(r'(?:src|href)=(?!"#)', page) == []
    assert set(re.findall(r"https?://[^\"' <]+", page)) <= {
        "http://www.w3.org/2000/svg"
    }
    assert "default-src 'none'" in page


@pytest.mark.parametrize("width", [390, 1400])
def test_report_is_never_wider_than_its_window(browser, assessment, width):
    browser.open(report_page(assessment), width=width, height=844)
    across = browser.driver.execute_script(
        "return document.documentElement.scrollWidth - window.innerWidth"
    )
    assert across <= 0


def test_answer_comes_first_and_never_says_safe(assessment):
    page = report_page(assessment)
    heads = re.findall(r"<h2>([^<]+)</h2>", page)
    assert heads[0] == "The answer in short"
    assert heads.index("Where a spill would run") < heads.index("To check on foot")
    assert "What was assumed" in heads
    assert "any amount gets there" in page
    assert re.findall(r"\bsafe\b", page) == ["safe"]  # "not that a place is safe"


def test_ways_bear_the_letters_of_the_map(assessment):
    letters = letters_of(assessment)
    page = map_page(assessment)
    for place, pathway in enumerate(assessment.pathways):
        name = pathway.source_name or pathway.source_id
        assert letters[place] in "ABCDEF"
        assert name
    assert sorted(letters.values()) == ["A", "B", "C"][: len(letters)]
    assert '"letter"' in page


def test_each_way_and_site_is_told(assessment):
    page = report_page(assessment)
    assert page.count("<h3>") >= len(assessment.pathways)
    for site in assessment.sites:
        assert (site.name or site.site_id) in page


def test_gullies_on_ways_are_the_ones_to_cover(assessment):
    page = report_page(assessment)
    assert "Cover first:" in page
    bare = replace(assessment, pathways=(), spills=())
    assert "No drawn gully stands in a way" in report_page(bare)


def test_farm_without_anything_to_tell_still_has_its_cautions(assessment):
    empty = replace(assessment, pathways=(), spills=(), sites=(), design=None)
    page = report_page(empty)
    for caution in assessment.cautions:
        assert caution[:30] in page
