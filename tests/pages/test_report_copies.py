"""The report in its three forms says the same, and a user's text stays text in each.

CommonMark is read back with markdown-it-py, a parser that follows its specification.
"""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import zipfile

import pytest
from markdown_it import MarkdownIt
from report_read import read
from whole_farm import HOSTILE, hostile_names, whole_farm

from pathways.errors import PrinterMissingError
from pathways.io.farms import Provenance
from pathways.pages.report import (
    pdf,
    report_markdown,
    report_page,
    report_pdf,
)
from pathways.pages.report.markdown import escaped
from pathways.pages.report.report_words import TITLES
from pathways.run import Run, write


def copy_blocks(found):
    """Return what the copy says, pictures left out; a table's first cell is a head."""
    blocks, tags = markdown_blocks(report_markdown(found))
    told = [("td" if tag == "th" else tag, text) for tag, text in blocks]
    return [one for one in told if not one[1].startswith("The picture ")], tags


def page_blocks(found):
    """Return what the page says, in the same way."""
    blocks, _ = read(report_page(found))
    return [("td" if tag == "th" else tag, text) for tag, text in blocks]


@pytest.fixture(scope="module")
def whole():
    return whole_farm()


def markdown_blocks(text: str):
    return read("<body>" + MarkdownIt("commonmark").enable("table").render(text))


@pytest.mark.parametrize("text", HOSTILE)
def test_escaped_text_is_read_back_as_it_was(text):
    for wrapped in ("{}", "- {}", "## {}", "| {} | x |\n| --- | --- |\n| {} | y |"):
        written = wrapped.replace("{}", escaped(text))
        blocks, tags = markdown_blocks(written)
        expected = " ".join(text.split())
        # What is not allowed in a line is a space; the rest is the very text.
        assert blocks[0][1] == expected, written
        assert tags <= {
            *("body", "p", "ul", "li", "h2"),
            *("table", "thead", "tbody", "tr", "th", "td"),
        }


def test_any_text_is_read_back_as_it_was():
    signs = "\\`*_{}[]()<>#+-.!|~$^@&:=%\"'/ ab1\u00e9"
    dice = random.Random(7)  # noqa: S311 - a test wants the same texts each time
    for _ in range(3000):
        text = "".join(dice.choices(signs, k=dice.randint(1, 14))).strip()
        blocks, tags = markdown_blocks(escaped(text))
        told = " ".join(one for _, one in blocks)
        assert told == " ".join(text.split()), repr(text)
        assert tags <= {"body", "p"}, repr(text)


def test_page_and_copy_say_the_same_sentences(whole):
    page = page_blocks(whole)
    assert copy_blocks(whole)[0] == page
    assert len(page) > 100


@pytest.mark.parametrize("start", range(0, len(HOSTILE), 4))
def test_page_and_copy_say_the_same_whatever_is_in_the_names(start):
    found = whole_farm(hostile_names(start))
    copy, tags = copy_blocks(found)
    assert copy == page_blocks(found)
    assert not tags & {"a", "img", "script", "em", "code", "pre", "blockquote", "hr"}


def test_every_chapter_is_in_page_and_copy(whole):
    for blocks in (
        read(report_page(whole))[0],
        markdown_blocks(report_markdown(whole))[0],
    ):
        titles = [text for tag, text in blocks if tag == "h2"]
        assert sorted(titles) == sorted(TITLES.values())
        assert titles[:3] == [TITLES["answer"], TITLES["first"], TITLES["yard"]]


def test_forms_are_the_same_bytes_for_the_same_farm(whole):
    again = whole_farm()
    assert report_markdown(again) == report_markdown(whole)
    assert report_page(again) == report_page(whole)


def test_pandoc_makes_a_text_document_of_the_copy(whole, tmp_path):
    """Where pandoc is installed, the documented line works."""
    copy = tmp_path / "report.md"
    copy.write_text(report_markdown(whole), encoding="utf-8")
    try:
        subprocess.run(
            ["pandoc", "report.md", "-o", "report.odt"],  # noqa: S607
            check=True,
            cwd=tmp_path,
            capture_output=True,
        )
    except FileNotFoundError:
        pytest.skip("pandoc is not installed")
    content = zipfile.ZipFile(tmp_path / "report.odt").read("content.xml").decode()
    told = re.sub(r"<[^>]+>", "", content)
    assert "Holt Brook" in told
    assert TITLES["emergency"] in told


def test_pdf_is_the_same_bytes_each_time(whole):
    pytest.importorskip("weasyprint", exc_type=ImportError)
    page = report_page(whole)
    made = report_pdf(page)
    assert made.startswith(b"%PDF-")
    assert made == report_pdf(page)
    assert len(made) > 20_000


def test_missing_printer_is_told_with_its_cure(monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(PrinterMissingError, match=r"farm-pathways\[pdf\]"):
        pdf.refuse_without_printer()


def test_pdf_fetches_nothing():
    weasyprint = pytest.importorskip("weasyprint", exc_type=ImportError)
    with pytest.raises(weasyprint.urls.FatalURLFetchingError, match="invented"):
        report_pdf('<img src="https://invented.invalid/a.png">')


def test_pdf_is_written_when_asked_for_and_goes_with_its_results(whole, tmp_path):
    pytest.importorskip("weasyprint", exc_type=ImportError)
    done = Run(whole, Provenance((), (), {}))
    files = write(done, tmp_path, pdf=True)
    assert "report.pdf" in [one.name for one in files]
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF-")
    copy = (tmp_path / "report.md").read_text(encoding="utf-8")
    assert copy == report_markdown(whole)
    files = write(done, tmp_path, overwrite=True)
    assert "report.pdf" not in [one.name for one in files]
    assert not (tmp_path / "report.pdf").exists()


def test_pdf_that_cannot_be_made_leaves_earlier_results_alone(
    whole, tmp_path, monkeypatch
):
    done = Run(whole, Provenance((), (), {}))
    write(done, tmp_path)
    before = {one.name: one.read_bytes() for one in tmp_path.iterdir()}
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(PrinterMissingError):
        write(done, tmp_path, overwrite=True, pdf=True)
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == before


def test_command_tells_a_missing_printer_before_any_work(tmp_path):
    """The farm is not even there: the printer is asked for first."""
    (tmp_path / "weasyprint.py").write_text("raise ImportError\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "pathways_cli", "assess", "no-farm", "--pdf"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
    )
    assert done.returncode == 2
    assert done.stderr.startswith("Error: a PDF needs WeasyPrint")
    assert "print report.html from a browser" in done.stderr
    assert done.stdout == ""
