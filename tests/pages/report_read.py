"""What a page or a Markdown text says, block by block, for tests to compare."""

from __future__ import annotations

from html.parser import HTMLParser

from pathways.pages.report.blocks import Grid
from pathways.pages.report.sections import report_of

#: Drawings, and the list of links, which repeats the titles.
_SKIPPED = ("figure", "svg", "style", "nav")
_BLOCKS = ("h1", "h2", "h3", "h4", "p", "li", "td", "th")


class _Reader(HTMLParser):
    """Collect the text of each block; drawings and what explains them are left out."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.blocks: list[tuple[str, str]] = []
        self.tags: set[str] = set()
        self._open = ""
        self._skipped = 0
        self._in_head = True

    def handle_starttag(self, tag, attrs):  # noqa: ARG002 - of the class above
        self.tags.add(tag)
        if tag == "body":
            self._in_head = False
        if tag in _SKIPPED:
            self._skipped += 1
        if tag == "br" and self._open:
            self.blocks[-1] = (self._open, f"{self.blocks[-1][1]}; ")
        if tag in _BLOCKS and not self._skipped:
            self._open = tag
            self.blocks.append((tag, ""))

    def handle_endtag(self, tag):
        if tag in _SKIPPED:
            self._skipped -= 1
        if tag == self._open:
            self._open = ""

    def handle_data(self, data):
        if self._open and not self._skipped:
            self.blocks[-1] = (self._open, self.blocks[-1][1] + data)


def read(html: str) -> tuple[list[tuple[str, str]], set[str]]:
    """Return the blocks of a page, in order, and all its tags."""
    reader = _Reader()
    reader.feed(html)
    told = [(tag, " ".join(text.split())) for tag, text in reader.blocks]
    return [one for one in told if one[1]], reader.tags


def chapter(found, key):
    """Return a chapter of the report."""
    return next(one for one in report_of(found).sections if one.key == key)


def blocks(found, key, kind):
    """Return its blocks of a kind."""
    return [one for one in chapter(found, key).blocks if isinstance(one, kind)]


def rows(found, key, number=0):
    """Return the rows of one of its tables, the lines of a cell joined."""
    return {
        row.title: ["; ".join(cell) for cell in row.cells]
        for row in blocks(found, key, Grid)[number].table.rows
    }
