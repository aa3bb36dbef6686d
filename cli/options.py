"""Options that several verbs share, and how they speak."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from pathways.errors import Notice

_Command = TypeVar("_Command", bound=Callable[..., Any])
_PDF = "pathways.pdf"


def farm_argument(command: _Command) -> _Command:
    """Take a farm folder."""
    return click.argument("farm", type=click.Path(path_type=Path))(command)


def json_option(command: _Command) -> _Command:
    """Offer results for machines on standard output."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print results as JSON."
    )(command)


def out_options(command: _Command) -> _Command:
    """Offer where results go and whether they may replace others."""
    command = click.option(
        "--overwrite", is_flag=True, help="Replace results that are there."
    )(command)
    return click.option(
        "--out",
        type=click.Path(path_type=Path, file_okay=False),
        help="Folder for the results; 'results' in the farm folder by default.",
    )(command)


def height_unit_option(command: _Command) -> _Command:
    """Offer the unit of heights for a raster that does not say it."""
    return click.option(
        "--height-unit",
        type=click.Choice(["metre", "foot", "us_survey_foot"]),
        help="Unit of the raster's heights, where it does not say so itself.",
    )(command)


def witness_option(command: _Command) -> _Command:
    """Offer a second program's word on the ground."""
    return click.option(
        "--witness",
        "asks_witness",
        is_flag=True,
        help="Have a second program, richdem, fill the ground too, and compare.",
    )(command)


def pdf_option(command: _Command) -> _Command:
    """Offer the report as a PDF; that it can be made is seen before all else."""

    def see(context: click.Context, _: click.Parameter, wanted: bool) -> None:
        if wanted:
            from pathways.pages.report import refuse_without_printer

            refuse_without_printer()
        context.meta[_PDF] = wanted

    return click.option(
        "--pdf",
        is_flag=True,
        expose_value=False,
        callback=see,
        help="Write report.pdf too; needs farm-pathways[pdf].",
    )(command)


def wants_pdf() -> bool:
    """Return whether the verb that runs was given ``--pdf``."""
    return bool(click.get_current_context().meta.get(_PDF))


def quiet_option(command: _Command) -> _Command:
    """Offer silence, or every warning."""
    return click.option(
        "--quiet/--verbose",
        default=None,
        help="Say less, or list every assumption too.",
    )(command)


def teller(*, quiet: bool | None) -> Callable[[str], None]:
    """Return what tells progress: on a terminal only, never in a file or pipe."""

    def tell(what: str) -> None:
        if sys.stderr.isatty() and not quiet:
            click.secho(f"… {what}", dim=True, err=True)

    return tell


def say(text: str = "", *, colour: str | None = None, bold: bool = False) -> None:
    """Print one line, in colour only where that is wanted."""
    if os.environ.get("NO_COLOR"):
        click.echo(text)
    else:
        click.secho(text, fg=colour, bold=bold)


def say_notices(notices: Iterable[Notice]) -> None:
    """Tell what must be known of what was read."""
    for one in notices:
        where = f"{one.where}: " if one.where else ""
        say(f"{one.level.capitalize()}: {where}{one.text}", colour="yellow")


def print_json(document: Mapping[str, Any]) -> None:
    """Print a document for machines."""
    click.echo(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False))
