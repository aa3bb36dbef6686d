"""`pathways rank`: candidate sites in order, with reasons."""

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
    """Put the candidate sites of a FARM in order, each with its reasons."""
    from pathways.io.results import results_document
    from pathways.pages.site_story import on_the_ground
    from pathways.run import run
    from pathways.siting.site import shared_reasons

    found = run(farm, told=teller(quiet=quiet)).assessment
    if as_json:
        document = results_document(found)
        keys = ("schema", "farm", "sites", "assumptions", "warnings", "cautions")
        print_json({key: document[key] for key in keys})
        return
    if not found.sites:
        say("No site to judge: draw candidates, or a filling point.")
    shared = shared_reasons(found.sites)
    if shared:
        say("Of every site that is not used today:", bold=True)
    for reason in shared:
        say(f"  - {reason}")
    for number, site in enumerate(found.sites, start=1):
        today = " (used today)" if site.existing else ""
        say(f"{number}. {site.name or site.site_id}{today}", bold=True)
        for reason in (*site.reasons, *on_the_ground(site)):
            if site.existing or reason not in shared:
                say(f"  - {reason}")
    if not quiet:
        for caution in found.cautions:
            say(caution, colour="yellow")
