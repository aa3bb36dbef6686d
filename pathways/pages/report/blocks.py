"""What the report is made of: sections of plain values, drawn by each renderer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from markupsafe import Markup

from pathways.pages.parts import Part, Table


@dataclass(frozen=True, kw_only=True)
class Paragraph:
    """One or more sentences."""

    kind: ClassVar[str] = "paragraph"
    text: str
    strong: bool = False


@dataclass(frozen=True, kw_only=True)
class Heading:
    """A heading within a section."""

    kind: ClassVar[str] = "heading"
    text: str


@dataclass(frozen=True, kw_only=True)
class Lines:
    """A list; `look` says whether it is counted, ticked off or a caution."""

    kind: ClassVar[str] = "lines"
    lines: tuple[str, ...]
    look: Literal["plain", "counted", "boxes", "cautions"] = "plain"


@dataclass(frozen=True, kw_only=True)
class Grid:
    """A table."""

    kind: ClassVar[str] = "grid"
    table: Table


@dataclass(frozen=True, kw_only=True)
class Form:
    """An empty table to fill in by hand."""

    kind: ClassVar[str] = "form"
    heads: tuple[str, ...]
    rows: int


@dataclass(frozen=True, kw_only=True)
class Blanks:
    """Lines to fill in by hand."""

    kind: ClassVar[str] = "blanks"
    lines: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A drawing, what it is called, and what its signs mean."""

    kind: ClassVar[str] = "picture"
    svg: Markup
    title: str
    says: str = ""


Block = Paragraph | Heading | Lines | Grid | Form | Blanks | Picture


@dataclass(frozen=True, kw_only=True)
class Section:
    """A part of the report under one heading.

    `level` is 2 for a chapter and 3 for what stands within one; `page` says how it is
    printed: on the first page, on a page of its own, or after what came before.
    """

    key: str
    title: str
    blocks: tuple[Block, ...]
    level: Literal[2, 3] = 2
    page: Literal["", "first", "own"] = ""


@dataclass(frozen=True, kw_only=True)
class Report:
    """The whole report."""

    title: str
    stamp: str
    sections: tuple[Section, ...]


def blocks_of(part: Part) -> tuple[Block, ...]:
    """Return a part of a story as a heading and what stands under it."""
    found: list[Block] = [Heading(text=part.heading)]
    if part.lines:
        found.append(Lines(lines=part.lines))
    if part.table is not None:
        found.append(Grid(table=part.table))
    return tuple(found)
