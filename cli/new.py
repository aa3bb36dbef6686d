"""`pathways new`: a farm to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import height_unit_option, say, say_notices

if TYPE_CHECKING:
    from pathways.io.drawings import HeightUnit


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--ground",
    type=click.Path(path_type=Path),
    help="Raster of ground heights: it is copied in, with a page to draw on.",
)
@click.option(
    "--crs",
    help="Without a raster: map system of the drawing, in metres, such as EPSG:27700.",
)
@height_unit_option
@click.option("--overwrite", is_flag=True, help="Replace a farm that is there.")
def command(
    folder: Path,
    ground: Path | None,
    crs: str | None,
    height_unit: HeightUnit | None,
    overwrite: bool,
) -> None:
    """Write a farm FOLDER: with --ground to draw in a browser, with --crs in a GIS.

    With --ground: settings, the raster and draw.html, a page to draw on. With --crs:
    settings, and an empty drawing with every layer and field for a desktop GIS.
    """
    if (ground is None) == (crs is None):
        msg = "give either --ground (draw in a browser) or --crs (draw in a GIS)"
        raise click.UsageError(msg)
    if ground is not None:
        from pathways.drawing import new_farm_to_draw

        notices = new_farm_to_draw(
            folder, ground, height_unit=height_unit, overwrite=overwrite
        )
        say_notices(notices)
        say(f"Wrote a farm to {folder}.")
        say(f"Open this page and draw: {folder / 'draw.html'}")
        say(f"Put the saved features.geojson into it, then: pathways check {folder}")
        return
    from pathways.io.new_farm import write_new_farm

    write_new_farm(folder, crs or "", overwrite=overwrite)
    say(f"Wrote an empty farm to {folder}.")
    say(f"Next: draw in features.gpkg, add ground.tif, run: pathways check {folder}")
