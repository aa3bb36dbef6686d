"""`pathways trace`: where each source's liquid goes."""

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
    from pathways.pages.parts import Table


@click.command()
@farm_argument
@json_option
@quiet_option
def command(farm: Path, as_json: bool, quiet: bool | None) -> None:
    """Tell where the liquid of each source on a FARM goes; nothing is written."""
    from pathways.io.results import results_document
    from pathways.pages.story import way_story
    from pathways.run import run

    found = run(farm, told=teller(quiet=quiet), judge_sites=False).assessment
    if as_json:
        document = results_document(found)
        keys = ("schema", "farm", "pathways", "assumptions", "warnings", "cautions")
        print_json({key: document[key] for key in keys})
        return
    worst_first = [found.told[place] for place in found.worst_first]
    for pathway, spill in worst_first:
        story = way_story(pathway, found.farm.features, spill)
        say(f"{story.title}: {story.verdict}", bold=True)
        say(f"  {story.summary}")
        for part in story.parts:
            say(f"  {part.heading}:")
            for line in part.lines:
                say(f"    - {line}")
            if part.table is not None:
                _say_table(part.table)
    if not quiet:
        for caution in found.cautions:
            say(caution, colour="yellow")


def _say_table(table: Table) -> None:
    """Say a table row by row."""
    for row in table.rows:
        say(f"    {row.title}")
        for head, cell in zip(table.heads[1:], row.cells, strict=True):
            say(f"      {head}: {', '.join(cell)}")
