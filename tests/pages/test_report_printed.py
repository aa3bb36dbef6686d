"""The report on paper (A4): read page by page with pypdf from what Chromium prints."""

from __future__ import annotations

import base64
import io
import unicodedata
from dataclasses import replace

import pytest
from pypdf import PdfReader
from whole_farm import HOSTILE, hostile_names, whole_farm

from pathways.pages.report import report_page, report_pdf
from pathways.pages.report.report_words import NUMBERS, TITLES
from pathways.pages.report.sections import report_of


@pytest.fixture(scope="module")
def whole():
    return whole_farm()


def pages_of(content: bytes) -> list[str]:
    """Return the words of each page, with single spaces."""
    return [
        " ".join(one.extract_text().split())
        for one in PdfReader(io.BytesIO(content)).pages
    ]


def printed(browser, found) -> list[str]:
    browser.open(report_page(found))
    made = browser.driver.execute_cdp_cmd(
        "Page.printToPDF", {"preferCSSPageSize": True, "printBackground": False}
    )
    return pages_of(base64.b64decode(made["data"]))


def by_pdf(browser, found) -> list[str]:
    pytest.importorskip("weasyprint", exc_type=ImportError)
    return pages_of(report_pdf(report_page(found)))


def squeezed(text: str) -> str:
    """Return a text without spaces and ligatures: printers and readers add some."""
    return "".join(unicodedata.normalize("NFKC", text).split())


@pytest.mark.parametrize("printer", [printed, by_pdf])
def test_first_page_holds_answer_plan_and_the_first_things(browser, whole, printer):
    pages = [squeezed(one) for one in printer(browser, whole)]
    first = [one for one in report_of(whole).sections if one.page == "first"]
    assert [one.key for one in first] == ["answer", "first", "yard"]
    told = [line for one in first[:2] for line in one.blocks[0].lines]
    assert len(told) == 5 + 3
    for line in (*told, first[2].blocks[0].says, *(one.title for one in first)):
        assert squeezed(line) in pages[0]
    assert squeezed(TITLES["today"]) not in pages[0]
    assert squeezed(TITLES["today"]) in pages[1]


def test_long_and_hostile_names_leave_the_first_page_one_page(browser):
    start = HOSTILE.index("W" * 200)
    pages = printed(browser, whole_farm(hostile_names(start)))
    assert squeezed(TITLES["yard"]) in squeezed(pages[0])
    assert squeezed("Blue: water.") in squeezed(pages[0])


@pytest.mark.parametrize("printer", [printed, by_pdf])
@pytest.mark.parametrize("times", [1, 2, 4])
def test_emergency_plan_is_one_page_of_its_own(browser, whole, printer, times):
    """With three ways, with six, and with twelve, of which six are told there."""
    whole = replace(whole, pathways=whole.pathways * times, spills=whole.spills * times)
    pages = [squeezed(one) for one in printer(browser, whole)]
    starts = squeezed(TITLES["emergency"])
    first_step = squeezed("Stop it at its source")
    (number,) = [
        at
        for at, one in enumerate(pages)
        if one.startswith(starts) and first_step in one[: 3 * len(starts) + 40]
    ]
    for line in NUMBERS:
        assert squeezed(line) in pages[number]
    assert squeezed("act at once.") in pages[number]
    assert pages[number + 1].startswith(squeezed(TITLES["on_foot"]))


def test_each_log_is_a_page_of_its_own(browser, whole):
    pages = [squeezed(one) for one in printed(browser, whole)]
    titles = [one.title for one in report_of(whole).sections if "record-" in one.key]
    assert len(titles) == 6
    for title, page in zip(titles, pages[-len(titles) :], strict=True):
        assert squeezed(title) in page
