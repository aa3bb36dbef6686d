"""`pathways new`: an empty farm to fill in."""

from __future__ import annotations

from pathlib import Path

import click

from .options import say


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--crs",
    required=True,
    help="Map system of the drawing, in metres: its EPSG code, such as EPSG:27700.",
)
@click.option("--overwrite", is_flag=True, help="Replace a farm that is there.")
def command(folder: Path, crs: str, overwrite: bool) -> None:
    """Write an empty farm FOLDER: settings, and a drawing with every layer and field.

    Fill the drawing in a desktop GIS, put the ground beside it as ground.tif, and run
    `pathways check FOLDER`.
    """
    from pathways.io.new_farm import write_new_farm

    write_new_farm(folder, crs, overwrite=overwrite)
    say(f"Wrote an empty farm to {folder}.")
    say(f"Next: draw in features.gpkg, add ground.tif, run: pathways check {folder}")
