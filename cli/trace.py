"""`pathways trace`: where each source's liquid goes."""

from __future__ import annotations

from pathlib import Path

import click

from .options import (
    farm_argument,
    json_option,
    print_json,
    quiet_option,
    say,
    teller,
)


@click.command()
@farm_argument
@json_option
@quiet_option
def command(farm: Path, as_json: bool, quiet: bool | None) -> None:
    """Tell where the liquid of each source on a FARM goes; nothing is written."""
    from pathways.io.results import results_document
    from pathways.pages.story import way_story
    from pathways.run import run

    found = run(farm, told=teller(quiet=quiet)).assessment
    if as_json:
        document = results_document(found)
        keys = ("schema", "farm", "pathways", "assumptions", "warnings", "cautions")
        print_json({key: document[key] for key in keys})
        return
    for pathway in found.pathways:
        story = way_story(pathway, found.farm.features)
        say(f"{story.title}: {story.verdict}", bold=True)
        say(f"  {story.summary}")
        for part in story.parts:
            say(f"  {part.heading}:")
            for line in part.lines:
                say(f"    - {line}")
    if not quiet:
        for caution in found.cautions:
            say(caution, colour="yellow")
