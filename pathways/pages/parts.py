"""What a story is made of besides its sentences: headings, lists, tables."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row of a table: what it is about, and its cells as short lines."""

    title: str
    cells: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table within a story; the first head is that of the titles."""

    heads: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, kw_only=True)
class Part:
    """A heading and what stands under it."""

    heading: str
    lines: tuple[str, ...]
    table: Table | None = None
