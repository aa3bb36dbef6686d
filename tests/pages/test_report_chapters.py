"""Each chapter of the report says what the farm that was drawn makes true."""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import replace
from importlib import resources

import pytest
from report_read import blocks, rows
from selenium.webdriver.common.by import By
from whole_farm import HOSTILE, features, hostile_names, whole_farm

from pathways.farm import Farm
from pathways.pages.report import report_page
from pathways.pages.report.blocks import Blanks, Form, Grid, Lines, Picture
from pathways.pages.report.checks import checks_on_this_farm
from pathways.pages.report.evidence import evidence, read_asked
from pathways.pages.report.report_words import ON_FOOT, SAYS, TITLES
from pathways.pages.report.sections import report_of
from pathways.pages.report.told import first_drain, ways_of
from pathways.rules import STANDINGS
from pathways.settings import RuleSettings
from pathways.sizing.quantities import RECORDS


@pytest.fixture(scope="module")
def whole():
    return whole_farm()


def test_chapters_are_those_of_the_catalogue(whole):
    keys = [one.key for one in report_of(whole).sections if one.level == 2]
    assert sorted(keys) == sorted([*TITLES.keys() - {"open"}, "open"])


@pytest.mark.parametrize("start", range(0, len(HOSTILE), 5))
def test_page_with_hostile_names_everywhere_is_quiet_and_asks_nothing(browser, start):
    browser.open(report_page(whole_farm(hostile_names(start))), width=390)
    assert browser.driver.execute_script("return window.ran") is None
    ours = "script, img, iframe, a:not([href^='#'])"
    assert browser.driver.find_elements(By.CSS_SELECTOR, ours) == []
    links = browser.driver.find_elements(By.CSS_SELECTOR, "a")
    chapters = browser.driver.find_elements(By.CSS_SELECTOR, "section[id] > h2")
    assert len(links) == len(chapters) > 10
    browser.listen()
    assert browser.console == []
    assert [one for one in browser.requests if not one.startswith("file:")] == []
    across = browser.driver.execute_script(
        "return document.documentElement.scrollWidth - window.innerWidth"
    )
    assert across <= 0


def test_worst_way_is_told_first_with_its_time(whole):
    first, *_ = blocks(whole, "answer", Lines)[0].lines
    assert first.startswith("The worst: A, Filling place: if 3,000")
    assert "Holt Brook" in first
    assert "minute" in first


def test_site_that_breaks_a_rule_is_not_the_one_to_look_at_first(whole):
    (site,) = [one for one in whole.sites if not one.existing]
    assert site.meets_rules == "false"  # it lies too near the borehole
    last = blocks(whole, "answer", Lines)[0].lines[-1]
    assert "None of 1 new sites" in last
    assert "do not build" in last
    better = replace(site, meets_rules="no_rule_read")
    others = tuple(better if one is site else one for one in whole.sites)
    last = blocks(replace(whole, sites=others), "answer", Lines)[0].lines[-1]
    assert "look first at Behind the barn (not decided" in last


def test_what_costs_nothing_comes_first(whole):
    things = blocks(whole, "first", Lines)[0].lines
    assert things[0].startswith(whole.ways_without[0].title)
    assert things[1].startswith("Gully G2: lift the lid")
    assert len(things) == 3


def test_checks_follow_from_what_was_drawn(whole):
    told = list(checks_on_this_farm(whole))
    for start in (
        "Gully G2: lift the lid",
        "Gully G4 leads to a soakaway",
        "Gully G3 is drawn as covered",
        "Gully G5 is drawn as capped",
        "Pipes as drawn: pipe 'P2' ends at nothing",
        "Tank T1: who empties it",
        "No land drain was drawn",
        "Filling place: Yard borehole is 25",
    ):
        assert [one for one in told if one.startswith(start)], (start, told)
    assert not [one for one in told if one.startswith("Gully G1")]
    assert told[0].startswith("Gully G2")


def test_check_of_a_gully_goes_when_somebody_has_looked(whole):
    drawn = features(str)
    known = tuple(
        replace(one, drains_to="P1") if one.id == "G2" else one for one in drawn.inlets
    )
    farm = replace(whole.farm, features=replace(drawn, inlets=known))
    told = list(checks_on_this_farm(replace(whole, farm=farm)))
    assert not [one for one in told if one.startswith("Gully G2")]


def test_farm_without_wells_is_told_to_ask(whole):
    drawn = replace(whole.farm.features, water_supplies=())
    farm = replace(whole.farm, features=drawn)
    told = list(checks_on_this_farm(replace(whole, farm=farm)))
    assert [one for one in told if "no well, borehole or spring was drawn" in one]


def test_general_checks_are_always_there(whole):
    assert blocks(whole, "on_foot", Lines)[-1].lines == ON_FOOT
    bare = Farm(
        whole.farm.grid, replace(features(str), sources=()), whole.farm.settings
    )
    found = replace(whole, farm=bare, pathways=(), spills=(), sites=(), drains=())
    assert blocks(found, "on_foot", Lines)[-1].lines == ON_FOOT


def test_first_drain_is_where_the_way_goes_underground(whole):
    """By hand: the filling place lies 20 m uphill of G1 on a plane that falls south."""
    way = next(one for one in ways_of(whole) if one.pathway.source_id == "F1")
    first = first_drain(way.pathway, whole.farm.features)
    assert first.id == "G1"
    assert math.isclose(first.at_m, 20.0, abs_tol=1.5)


def test_emergency_page_tells_where_to_block_and_what_to_count_on(whole):
    told = rows(whole, "emergency")
    block, alone, rain, count = told["A: Filling place"]
    assert block.startswith("Gully G1, 20")
    assert "Kit: uphill of it, within 20" in block
    assert "not without rain" in alone
    assert rain
    assert "storm water" in count or "the loss itself" in count or "alike" in count
    other = next(cells for title, cells in told.items() if title.startswith("B"))
    assert "By another way: gully G2" in other[0]


@pytest.mark.parametrize(
    ("alone_s", "storm_s", "version_s", "says"),
    [
        (600.0, 130.0, 900.0, "2 minutes (storm water)"),
        (70.0, 600.0, 900.0, "1 minute (the loss itself)"),
        (600.0, 600.0, 900.0, "10 minutes (both alike)"),
        (600.0, 600.0, 190.0, "3 minutes (storm water)"),
        (None, 250.0, 900.0, "4 minutes (storm water)"),
    ],
)
def test_shortest_of_all_times_is_the_one_to_count_on(
    whole, alone_s, storm_s, version_s, says
):
    """Spray store, a way over the ground only: versions of the ground have times too.

    Common practice, no source: of two fast bounds the shorter is the cautious one.
    """
    way = next(one for one in ways_of(whole) if one.pathway.source_id == "S1")
    times = None if alone_s is None else (alone_s, 2 * alone_s, 3 * alone_s)
    fates = tuple(
        replace(one, time_s=(5e3, 6e3, 7e3) if one.state == "raining" else times)
        for one in way.spill.fates
    )
    (arrival, *_) = way.pathway.arrivals
    arrival = replace(arrival, time_s=(version_s, 1e4, 2e4))
    found = replace(
        whole,
        pathways=(replace(way.pathway, arrivals=(arrival,)),),
        spills=(replace(way.spill, fates=fates, storm_s=storm_s),),
    )
    (cells,) = rows(found, "emergency").values()
    assert cells[3].replace("\u00a0", " ").startswith(says)


def test_way_whose_spill_is_not_known_is_given_no_time(whole):
    told = rows(replace(whole, spills=()), "emergency")
    assert told["A: Filling place"][3] == SAYS["count_none"]


def test_no_number_to_ring_is_invented(whole):
    (lines,) = blocks(whole, "emergency", Blanks)
    assert not re.search(r"\d", " ".join(lines.lines))
    page = report_page(whole)
    assert not re.search(r"\b0\d{3,4}[ -]?\d{3}", page)


def test_logs_are_the_records_of_the_sizes_and_stand_there_once(whole):
    forms = [
        (one.title, block.heads)
        for one in report_of(whole).sections
        for block in one.blocks
        if isinstance(block, Form)
    ]
    assert forms == list(RECORDS)


def test_evidence_names_chapters_that_are_there(whole):
    sections = report_of(whole).sections
    titles = {one.title for one in sections}
    told = rows(whole, "evidence")
    england = [one for one in read_asked() if one.jurisdiction in ("", "england")]
    assert len(told) == len(england) > 15
    for _, covered, by_hand, known in told.values():
        assert set(covered.split("; ")) <= titles | {SAYS["not_here"]}
        assert by_hand
        assert known


def test_evidence_of_another_country_is_not_told(whole):
    for jurisdiction, says in (("scotland", "SEPA"), ("ireland", "general")):
        rules = RuleSettings(jurisdiction=jurisdiction)
        settings = whole.farm.settings.model_copy(update={"rules": rules})
        found = replace(whole, farm=replace(whole.farm, settings=settings))
        (section,) = evidence(found, TITLES)
        told = str(section.blocks)
        assert says in told
        assert "RP24" not in told


def test_every_row_of_the_evidence_says_how_it_is_known():
    text = resources.files("pathways.pages.report").joinpath("evidence.toml")
    entries = tomllib.loads(text.read_text("utf-8"))["asked"]
    assert len({one["id"] for one in entries}) == len(entries)
    for one in entries:
        assert one["standing"] in STANDINGS
        assert one["source"]
        assert set(one.get("sections", ())) <= set(TITLES)
        assert one.get("sections") or one.get("by_hand")


def test_sizes_stand_on_their_own(whole):
    pictures = [one.title for one in blocks(whole, "sizes", Picture)]
    assert pictures == ["Pad from above", "Section of the pad", "Section of the bed"]
    items = rows(whole, "sizes", 1)
    assert list(items) == [one.name for one in whole.design.items]
    figures = rows(whole, "sizes")
    assert "Pad: height of the lowest kerb or drive-over bund" in figures
    assert "Bed: area of the bed" in figures
    assert [one.title for one in blocks(whole, "water", Picture)] == [
        "Water month by month"
    ]


def test_rules_are_held_against_each_site_once(whole):
    told = rows(whole, "sites", 1)
    heads = blocks(whole, "sites", Grid)[1].table.heads
    assert heads == ("Rule", *(f"Site {n + 1}" for n in range(len(whole.sites))))
    new = next(n for n, one in enumerate(whole.sites) if not one.existing)
    broken = [one for one in whole.sites[new].judgements if one.verdict == "false"]
    assert broken
    assert sum(cells[new].startswith("Not met") for cells in told.values()) >= 1
    judged = {one.rule for site in whole.sites for one in site.judgements}
    assert len(told) >= len(judged)
