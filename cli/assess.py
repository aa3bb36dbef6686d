"""`pathways assess`: all of it into one folder of results."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pathways.errors import InputError

from .options import (
    farm_argument,
    json_option,
    out_options,
    pdf_option,
    print_json,
    quiet_option,
    say,
    teller,
    wants_pdf,
    witness_option,
)

if TYPE_CHECKING:
    from pathways.farm import Farm
    from pathways.witness import WitnessReport


@click.command()
@farm_argument
@out_options
@pdf_option
@witness_option
@json_option
@quiet_option
def command(
    farm: Path,
    out: Path | None,
    overwrite: bool,
    asks_witness: bool,
    as_json: bool,
    quiet: bool | None,
) -> None:
    """Assess a FARM: trace its sources, judge its sites, write map and layers."""
    assess_and_tell(
        farm,
        out,
        overwrite=overwrite,
        asks_witness=asks_witness,
        as_json=as_json,
        quiet=quiet,
    )


def assess_and_tell(
    farm: Path,
    out: Path | None,
    *,
    overwrite: bool,
    asks_witness: bool = False,
    as_json: bool = False,
    quiet: bool | None = None,
) -> None:
    """Assess a farm, write the results and say what was found.

    Nothing is written where a second program that was asked disagrees.
    """
    from pathways.io.output_folder import OutputFolder
    from pathways.io.results import results_document
    from pathways.pages.story import way_story
    from pathways.run import RESULTS_FOLDER, run, write

    folder = farm.parent if farm.is_file() else farm
    results = out or folder / RESULTS_FOLDER
    OutputFolder(results, overwrite=overwrite).refuse_to_replace()
    tell = teller(quiet=quiet)
    done = run(farm, told=tell)
    found = done.assessment
    report = _ask_witness(found.farm) if asks_witness else None
    files = write(
        done,
        results,
        overwrite=overwrite,
        witness=report,
        pdf=wants_pdf(),
        told=tell,
    )
    if as_json:
        print_json(results_document(found))
        return
    if quiet:
        return
    for pathway, spill in found.told:
        story = way_story(pathway, found.farm.features, spill)
        say(f"{story.title}: {story.verdict}", bold=True)
        say(f"  {story.summary}")
    for notice in found.notices:
        say(f"Warning: {notice.text}", colour="yellow")
    if quiet is False:  # --verbose
        for one in found.assumptions:
            value = f"{one.value} {one.unit}".strip()
            say(f"Assumed: {one.what}: {value} ({one.standing}; {one.source})")
    if report:
        say(f"{report.sentence}.")
    if found.not_yet_assessed:
        say(f"Not assessed by this version: {', '.join(found.not_yet_assessed)}.")
    for caution in found.cautions:
        say(caution, colour="yellow")
    say(f"Results: {', '.join(path.name for path in files)} in {files[0].parent}")
    say(f"Open this page: {files[0]}", colour="green", bold=True)


def _ask_witness(farm: Farm) -> WitnessReport:
    """Have a second program fill the ground; refuse to go on where it disagrees."""
    from pathways.run import ask_witness

    report = ask_witness(farm)
    if not report.agrees:
        raise InputError(report.sentence)
    return report
