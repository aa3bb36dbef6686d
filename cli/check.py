"""`pathways check`: everything that is wrong or doubtful, at once."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from .main import REFUSED
from .options import farm_argument, json_option, print_json, say


@click.command()
@farm_argument
@json_option
@click.option(
    "--witness",
    is_flag=True,
    help="Fill the ground with an independent program too, and compare.",
)
def command(farm: Path, as_json: bool, witness: bool) -> None:
    """Read a FARM folder and report all problems, each with its cure.

    Nothing is changed. Errors stop an assessment; warnings go into its results.
    """
    from pathways.io.farms import check_farm
    from pathways.io.results import notices_in_words

    notices = check_farm(farm)
    errors = [one for one in notices if one.level == "error"]
    report = None
    if witness and not errors:
        from pathways.witness import ask_witness

        report = ask_witness(farm)
    if as_json:
        print_json(
            {
                "problems": notices_in_words(notices),
                "refused": bool(errors),
                "witness": report.says if report else None,
            }
        )
    else:
        for one in sorted(notices, key=lambda notice: notice.level):
            where = f"{one.where}: " if one.where else ""
            colour = "red" if one.level == "error" else "yellow"
            say(f"{one.level.capitalize()}: {where}{one.text}", colour=colour)
        warnings = len(notices) - len(errors)
        say(f"{_count(len(errors), 'error')}, {_count(warnings, 'warning')}.")
        if report:
            say(f"Witness: {report.says}")
    if errors or (report and not report.agrees):
        sys.exit(REFUSED)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
