"""`pathways size`: pad, tank and bed, each number with where it comes from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import (
    farm_argument,
    json_option,
    print_json,
    quiet_option,
    say,
    teller,
)

if TYPE_CHECKING:
    from pathways.sizing.design import Design
    from pathways.sizing.figure import Chapter


@click.command()
@farm_argument
@json_option
@quiet_option
def command(farm: Path, as_json: bool, quiet: bool | None) -> None:
    """Size pad, tank and bed of a FARM, and say what to order."""
    from pathways.io.results import results_document
    from pathways.run import run

    found = run(farm, told=teller(quiet=quiet)).assessment
    if as_json:
        document = results_document(found)
        keys = ("schema", "farm", "sizing", "assumptions", "warnings", "cautions")
        print_json({key: document[key] for key in keys})
        return
    assert found.design is not None  # noqa: S101  a run that judges sites has one
    say("In short", bold=True)
    for line in found.design.in_short:
        say(f"  {line}")
    for chapter in found.design.chapters:
        _say_chapter(chapter, with_sources=not quiet)
    _say_items(found.design)
    for line in found.design.missing:
        say(f"Not resolved: {line}.", colour="yellow")
    if not quiet:
        for caution in found.cautions:
            say(caution, colour="yellow")


def _say_chapter(chapter: Chapter, *, with_sources: bool) -> None:
    from pathways.pages import amounts, words

    say(chapter.title, bold=True)
    for one in chapter.figures:
        how = f" ({one.how})" if one.how else ""
        what = words.plain(one.what)
        say(f"  {what}: {amounts.figure(one.value, one.unit)}{words.plain(how)}")
        if with_sources:
            standing = words.plain(one.standing, words.STANDINGS)
            source = words.plain(one.source)
            say(f"      {standing}{f'; {source}' if source else ''}")
    for line in chapter.says:
        say(f"  - {line}")
    for line in chapter.cautions:
        say(f"  ! {line}", colour="yellow")


def _say_items(design: Design) -> None:
    from pathways.pages import amounts

    say("To order or dig", bold=True)
    for item in design.items:
        price = "" if item.price is None else f", {item.price:,.2f} by your prices"
        amount = amounts.figure(item.amount, item.unit)
        say(f"  {item.name}: {amount} ({item.how}){price}")
