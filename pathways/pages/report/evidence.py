"""What a grant or permit file usually needs, where it stands here, what is added."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib import resources

from pathways.assessment import Assessment
from pathways.pages import words
from pathways.pages.parts import Row, Table
from pathways.pages.report.blocks import Grid, Paragraph, Section
from pathways.pages.report.report_words import SAYS, TITLES


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One thing that a file of this kind usually needs.

    Parameters
    ----------
    id : str
        Short name.
    by : str
        Who asks for it.
    asks : str
        What.
    sections : tuple of str
        Keys of the chapters of this report that tell it; none tells it where empty.
    by_hand : str
        What must be attached besides; empty where nothing must.
    standing, source : str
        How firmly it is known that this is asked.
    jurisdiction : str
        Rulebook with which alone it is told; empty for all.
    """

    id: str
    by: str
    asks: str
    standing: str
    source: str
    sections: tuple[str, ...] = ()
    by_hand: str = ""
    jurisdiction: str = ""


def read_asked() -> tuple[Asked, ...]:
    """Return the table that comes with the package.

    Returns
    -------
    tuple of Asked
        In its order.

    Examples
    --------
    >>> any(one.jurisdiction == "england" for one in read_asked())
    True
    """
    file = resources.files("pathways.pages.report").joinpath("evidence.toml")
    return tuple(
        Asked(**{**entry, "sections": tuple(entry.get("sections", ()))})
        for entry in tomllib.loads(file.read_text("utf-8"))["asked"]
    )


def evidence(assessment: Assessment, told: Iterable[str]) -> Iterator[Section]:
    """Yield the index; `told` are the keys of the chapters that this report has."""
    jurisdiction = assessment.farm.settings.rules.jurisdiction
    rows = [one for one in read_asked() if one.jurisdiction in ("", jurisdiction)]
    blocks: list[Paragraph | Grid] = [Paragraph(text=SAYS["evidence_hint"])]
    if all(not one.jurisdiction for one in rows):
        blocks.append(Paragraph(text=SAYS["evidence_none"], strong=True))
    here = frozenset(told)
    heads = tuple(SAYS["evidence_heads"].split("|"))
    table = Table(heads=heads, rows=tuple(_row(one, here) for one in rows))
    blocks.append(Grid(table=table))
    yield Section(key="evidence", title=TITLES["evidence"], blocks=tuple(blocks))


def _row(one: Asked, told: frozenset[str]) -> Row:
    covered = tuple(TITLES[key] for key in one.sections if key in told)
    standing = words.plain(one.standing, words.STANDINGS)
    return Row(
        title=one.asks,
        cells=(
            (one.by,),
            covered or (SAYS["not_here"],),
            (one.by_hand or SAYS["nothing_by_hand"],),
            (standing if one.source in standing else f"{standing}; {one.source}",),
        ),
    )
