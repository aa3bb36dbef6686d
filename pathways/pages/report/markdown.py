"""The report as Markdown, for somebody who goes on writing in it.

What a user wrote must stay text, whichever Markdown reads it: CommonMark 0.31.2 lets
every sign of ASCII that could mean something be escaped by a backslash (section 2.4,
"Backslash escapes"), and so do the wider kinds (tables, mathematics, citations).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from pathways.assessment import Assessment
from pathways.pages.report.blocks import (
    Blanks,
    Block,
    Form,
    Grid,
    Heading,
    Lines,
    Paragraph,
    Picture,
    Report,
)
from pathways.pages.report.report_words import SAYS
from pathways.pages.report.sections import report_of

#: Signs that mean something within a line, in CommonMark or in a wider kind of it.
_SIGNS: Final = re.compile(r"([\\`*_{}\[\]<>|~$^@&#!])")
#: Addresses that some kinds make links of by themselves.
_ADDRESS: Final = re.compile(r"(?<=\w)(:)(?=//)|(?<=www)(\.)", re.IGNORECASE)
#: What means something at the start of a line: lists, headings, rules, definitions.
_START: Final = re.compile(r"^(\s*)([-+=:%])")
_COUNTED: Final = re.compile(r"^(\s*[0-9A-Za-z]{1,9})([.)])(?=\s|$)")
#: Ends of a line, in any reading: within a text they would begin a new block.
_LINE_ENDS: Final = re.compile("[\t\n\x0b\x0c\r\x1c-\x1e\x85\u2028\u2029]+")


def report_markdown(assessment: Assessment) -> str:
    """Return the report as Markdown (CommonMark with tables).

    Parameters
    ----------
    assessment : Assessment
        What was found.

    Returns
    -------
    str
        The same words as on the page; pictures are named, not drawn.
    """
    return "\n".join(_written(report_of(assessment)))


def escaped(text: str) -> str:
    r"""Return a text that Markdown shows as it is.

    Examples
    --------
    >>> print(escaped("1. # <b> a|b `c` [d](e)"))
    1\. \# \<b\> a\|b \`c\` \[d\](e)
    """
    line = _SIGNS.sub(r"\\\1", _LINE_ENDS.sub(" ", text))
    line = _ADDRESS.sub(lambda found: f"\\{found.group(0)}", line)
    line = _COUNTED.sub(r"\1\\\2", line)
    return _START.sub(r"\1\\\2", line).strip(" ")


def _written(report: Report) -> Iterator[str]:
    yield f"# {escaped(report.title)}"
    yield ""
    yield f"**{escaped(report.stamp)}**"
    yield ""
    for section in report.sections:
        yield f"{'#' * section.level} {escaped(section.title)}"
        yield ""
        for block in section.blocks:
            yield from _block(block)
            yield ""


def _block(block: Block) -> Iterator[str]:
    """Yield the lines of a block."""
    if isinstance(block, Paragraph):
        text = escaped(block.text)
        yield f"**{text}**" if block.strong else text
    elif isinstance(block, Heading):
        yield f"#### {escaped(block.text)}"
    elif isinstance(block, Lines):
        yield from _lines(block)
    elif isinstance(block, Grid):
        yield from _grid(block)
    elif isinstance(block, Form):
        yield from _rows(block.heads, [("",) * len(block.heads)] * block.rows)
    elif isinstance(block, Blanks):
        for line in block.lines:
            yield f"- {escaped(line)}:"
    else:
        yield from _picture(block)


def _lines(block: Lines) -> Iterator[str]:
    box = f"{SAYS['box']} " if block.look == "boxes" else ""
    # Another sign begins another list, also right below one.
    bullet = "*" if block.look == "cautions" else "-"
    for number, line in enumerate(block.lines, start=1):
        mark = f"{number}." if block.look == "counted" else bullet
        yield f"{mark} {escaped(box + line)}"


def _grid(block: Grid) -> Iterator[str]:
    rows = [
        (row.title, *("\n".join(cell) for cell in row.cells))
        for row in block.table.rows
    ]
    yield from _rows(block.table.heads, rows)


def _rows(heads: tuple[str, ...], rows: list[tuple[str, ...]]) -> Iterator[str]:
    yield f"| {' | '.join(map(escaped, heads))} |"
    yield f"|{' --- |' * len(heads)}"
    for row in rows:
        yield f"| {' | '.join(map(_cell, row))} |"


def _cell(text: str) -> str:
    """Return the lines of a cell in one: a table of Markdown has no others."""
    return SAYS["cell_lines"].join(escaped(one) for one in text.split("\n"))


def _picture(block: Picture) -> Iterator[str]:
    says = SAYS["see_picture"].format(title=block.title, says=block.says)
    yield escaped(says)
