"""Sizes of pad, tank and bed, and the water through the year."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from pathways.assessment import Assessment
from pathways.pages import amounts, words
from pathways.pages.parts import Row, Table
from pathways.pages.pictures import (
    balance_picture,
    bed_picture,
    pad_picture,
    pad_section_picture,
)
from pathways.pages.report.blocks import (
    Block,
    Grid,
    Heading,
    Lines,
    Paragraph,
    Picture,
    Section,
)
from pathways.pages.report.report_words import SAYS, TITLES
from pathways.sizing.design import Design
from pathways.sizing.figure import Chapter, Figure
from pathways.sizing.quantities import ASK_FIRST

#: Chapters of a design whose numbers are told with the water.
_OF_WATER = ("Water through the year", "After the bed")


def sizes(assessment: Assessment) -> Iterator[Section]:
    """Yield the sizes as a grant file or a contractor needs them."""
    design = assessment.design
    if design is None:
        told = Paragraph(text=SAYS["no_design"])
        yield Section(key="sizes", title=TITLES["sizes"], blocks=(told,))
        return
    blocks: list[Block] = [
        Paragraph(text=SAYS["sizes_hint"], strong=True),
        Lines(lines=tuple(words.plain(one) for one in design.in_short)),
    ]
    if design.missing:
        blocks += [
            Heading(text=SAYS["missing"]),
            Lines(lines=tuple(f"{words.capital(one)}." for one in design.missing)),
        ]
    blocks += _pictures(design)
    chapters = [one for one in design.chapters if one.title not in _OF_WATER]
    blocks.append(_figures(chapters))
    blocks += _cautions(chapters)
    blocks += [
        Heading(text=SAYS["quantities"]),
        _items(design),
        Heading(text=SAYS["ask_first"]),
        Lines(lines=ASK_FIRST),
    ]
    yield Section(key="sizes", title=TITLES["sizes"], blocks=tuple(blocks))


def water(assessment: Assessment) -> Iterator[Section]:
    """Yield what comes through the year, and where it goes."""
    design = assessment.design
    if design is None:
        return
    blocks: list[Block] = []
    if design.year is None:
        blocks.append(Paragraph(text=SAYS["no_year"]))
    else:
        chapters = [one for one in design.chapters if one.title in _OF_WATER]
        blocks.append(_picture(balance_picture(design.year), SAYS["bars"]))
        blocks.append(_figures(chapters))
        says = tuple(words.plain(line) for one in chapters for line in one.says)
        blocks.append(Lines(lines=tuple(map(words.capital, says))))
        blocks += _cautions(chapters)
    yield Section(key="water", title=TITLES["water"], blocks=tuple(blocks))


def _pictures(design: Design) -> Iterator[Picture]:
    yield _picture(pad_picture(design.pad))
    yield _picture(pad_section_picture(design.pad))
    if design.bed is not None:
        yield _picture(bed_picture(design.bed, design.flotation))


def _picture(svg: Markup, says: str = "") -> Picture:
    """Return a picture under the name that it bears itself."""
    title = str(svg).partition("<title>")[2].partition("</title>")[0]
    drafted = SAYS["draft"].format(title=title)
    return Picture(svg=svg, title=title, says=says or drafted)


def _figures(chapters: list[Chapter]) -> Grid:
    rows = tuple(
        _figure(chapter, one) for chapter in chapters for one in chapter.figures
    )
    return Grid(table=Table(heads=tuple(SAYS["figure_heads"].split("|")), rows=rows))


def _figure(chapter: Chapter, one: Figure) -> Row:
    what = SAYS["figure_of"].format(chapter=chapter.title, what=words.plain(one.what))
    known = words.plain(one.standing, words.STANDINGS)
    value = amounts.figure(one.value, one.unit)
    why = words.plain(one.how) if one.value is None else ""
    return Row(title=what, cells=((value, *([why] if why else [])), (known,)))


def _cautions(chapters: list[Chapter]) -> Iterator[Heading | Lines]:
    lines = tuple(words.plain(line) for one in chapters for line in one.cautions)
    if lines:
        yield Heading(text=SAYS["take_care"])
        yield Lines(lines=lines, look="cautions")


def _items(design: Design) -> Grid:
    priced = any(one.price is not None for one in design.items)
    heads = SAYS["item_heads"].split("|") + ([SAYS["price"]] if priced else [])
    rows = []
    for one in design.items:
        cells = [(amounts.figure(one.amount, one.unit),), (words.plain(one.how),)]
        if priced:
            cells.append(("" if one.price is None else f"{one.price:,.2f}",))
        rows.append(Row(title=words.plain(one.name), cells=tuple(cells)))
    return Grid(table=Table(heads=tuple(heads), rows=tuple(rows)))
