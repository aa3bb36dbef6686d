"""`pathways draw`: a page on which the yard is drawn in a browser."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import height_unit_option, say, say_notices

if TYPE_CHECKING:
    from pathways.io.drawings import HeightUnit


@click.command()
@click.argument("of", metavar="GROUND_OR_FARM", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="The page; 'draw.html' in the farm folder or beside the raster by default.",
)
@click.option(
    "--picture",
    type=click.Path(path_type=Path),
    help="Aerial picture to draw over: a GeoTIFF in RGB that knows its place.",
)
@height_unit_option
@click.option("--overwrite", is_flag=True, help="Replace a page that is there.")
def command(
    of: Path,
    out: Path | None,
    picture: Path | None,
    height_unit: HeightUnit | None,
    overwrite: bool,
) -> None:
    """Write a page to draw on, for a raster of heights or a farm folder.

    Open it in any browser, without a network. It saves one file, features.geojson,
    which belongs into the farm folder. A drawing that the farm has is put into the
    page, to be carried on.
    """
    from pathways.drawing import write_drawing_page

    page, notices = write_drawing_page(
        of, out, picture=picture, height_unit=height_unit, overwrite=overwrite
    )
    say_notices(notices)
    say(f"Open this page and draw: {page}")
    say("Save, and put the saved features.geojson into the farm folder.")
