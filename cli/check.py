"""`pathways check`: everything that is wrong or doubtful, at once."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .main import REFUSED
from .options import farm_argument, json_option, print_json, say, witness_option

if TYPE_CHECKING:
    from pathways.witness import WitnessReport


@click.command()
@farm_argument
@json_option
@witness_option
def command(farm: Path, as_json: bool, asks_witness: bool) -> None:
    """Read a FARM folder and report all problems, each with its cure.

    Nothing is changed. Errors stop an assessment; warnings go into its results.
    """
    from pathways.io.results import notices_in_words
    from pathways.run import check_farm

    notices = check_farm(farm)
    errors = [one for one in notices if one.level == "error"]
    found = _ask_witness(farm) if asks_witness and not errors else None
    if as_json:
        document: dict[str, Any] = {
            "problems": notices_in_words(notices),
            "refused": bool(errors),
        }
        if asks_witness:
            document["witness"] = found.for_machines() if found else None
        print_json(document)
    else:
        for one in sorted(notices, key=lambda notice: notice.level):
            where = f"{one.where}: " if one.where else ""
            colour = "red" if one.level == "error" else "yellow"
            say(f"{one.level.capitalize()}: {where}{one.text}", colour=colour)
        warnings = len(notices) - len(errors)
        say(f"{_count(len(errors), 'error')}, {_count(warnings, 'warning')}.")
        if asks_witness:
            say(_in_words(found), colour=None if found and found.agrees else "red")
    if errors or (found and not found.agrees):
        sys.exit(REFUSED)


def _ask_witness(farm: Path) -> WitnessReport:
    """Have the second program fill the ground of a farm that is in order."""
    from pathways.io.farms import read_farm
    from pathways.run import ask_witness

    return ask_witness(read_farm(farm).farm)


def _in_words(found: WitnessReport | None) -> str:
    if found is None:
        return "The second program was not asked: mend the errors first."
    return f"{found.sentence}."


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
