"""Who decides, what was open and assumed, cautions, records to keep."""

from __future__ import annotations

from collections.abc import Iterator

from pathways.assessment import Assessment
from pathways.pages import words
from pathways.pages.notes import assumption_told, notice_told
from pathways.pages.parts import Row, Table
from pathways.pages.report.blocks import Form, Grid, Lines, Paragraph, Section
from pathways.pages.report.report_words import (
    DECIDER_HEADS,
    DECIDERS,
    SAYS,
    TITLES,
)
from pathways.sizing.quantities import RECORDS

#: Empty rows of a page of a log.
_ROWS = 14


def deciders() -> Iterator[Section]:
    """Yield who decides what."""
    rows = tuple(Row(title=who, cells=((what,),)) for who, what in DECIDERS)
    table = Grid(table=Table(heads=DECIDER_HEADS, rows=rows))
    yield Section(key="deciders", title=TITLES["deciders"], blocks=(table,))


def left_open(assessment: Assessment) -> Iterator[Section]:
    """Yield what the input leaves open; nothing where nothing is."""
    lines = tuple(notice_told(one) for one in dict.fromkeys(assessment.notices))
    if lines:
        told = Lines(lines=lines)
        yield Section(key="open", title=TITLES["open"], blocks=(told,))


def assumed(assessment: Assessment) -> Iterator[Section]:
    """Yield every number that was assumed, with its standing and source."""
    lines = tuple(assumption_told(one) for one in assessment.assumptions)
    told = Lines(lines=lines)
    yield Section(key="assumed", title=TITLES["assumed"], blocks=(told,))


def cautions(assessment: Assessment) -> Iterator[Section]:
    """Yield what must be known before anybody relies on the report."""
    lines = tuple(words.plain(one) for one in assessment.cautions)
    told = Lines(lines=lines, look="cautions")
    yield Section(key="cautions", title=TITLES["cautions"], blocks=(told,))


def records() -> Iterator[Section]:
    """Yield the pages to fill in, each on a page of its own."""
    hint = Paragraph(text=SAYS["keep_hint"])
    yield Section(key="records", title=TITLES["records"], blocks=(hint,), page="own")
    for number, (title, heads) in enumerate(RECORDS):
        yield Section(
            key=f"record-{number}",
            title=title,
            blocks=(Form(heads=heads, rows=_ROWS),),
            level=3,
            page="own" if number else "",
        )
