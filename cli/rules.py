"""`pathways rules`: each number of law, its clause, and where it stands."""

from __future__ import annotations

from pathlib import Path

import click

from .options import say


@click.command()
@click.argument("name", required=False)
@click.option(
    "--file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Check and print your own rulebook.",
)
def command(name: str | None, file: Path | None) -> None:
    """Print the rulebook called NAME, or list all rulebooks."""
    from pathways.io.rulebooks import (
        read_rulebook,
        read_rulebook_file,
        rulebook_names,
    )

    if name is None and file is None:
        for one in rulebook_names():
            say(f"{one}: {read_rulebook(one).title}")
        return
    book = read_rulebook_file(file) if file else read_rulebook(name or "")
    say(f"{book.title} ({book.jurisdiction})", bold=True)
    for row in book.setbacks:
        distance = (
            f"from farm.toml [rules] {row.distance_setting}"
            if row.distance_setting
            else "keep off it"
            if row.is_bar
            else f"{row.distance_m:g} m"
        )
        say(f"{row.id}: {row.says}")
        say(f"  {distance}; for {', '.join(row.applies_to)}; {_source(row)}")
        _say_note(row.note)
    for requirement in book.requirements:
        say(f"{requirement.id}: {requirement.says}")
        uses = ", ".join(requirement.applies_to)
        say(f"  for {uses}; {_source(requirement)}")
        _say_note(requirement.note)
    for held in book.containments:
        say(f"{held.id}: {held.says}")
        say(f"  what a {held.of.replace('_', ' ')} holds; {_source(held)}")
        _say_note(held.note)
    for gap in book.gaps:
        say(f"{gap.id}: not found: {gap.looked_for}; ask {gap.ask}", colour="yellow")
    say("Nothing here is legal advice: your regulator decides.", colour="yellow")


def _say_note(note: str) -> None:
    if note:
        say(f"  note: {note}")


def _source(row: object) -> str:
    """Return force, standing and citation of a row."""
    force = str(getattr(row, "force", "")).replace("_", " ")
    standing = str(getattr(row, "standing", "")).replace("_", " ")
    binds = "" if getattr(row, "binds", True) else ", warns only"
    if getattr(row, "standing_from_zone", False):
        binds = ", binds or warns as the zone is known"
    citation = getattr(row, "citation", None)
    return f"{force}, {standing}{binds}; {citation.text if citation else ''}"
