"""A farm to be drawn: its folder, and the page on which it is drawn."""

from __future__ import annotations

import filecmp
import shutil
from functools import partial
from pathlib import Path
from typing import Any, Final

from pathways.aerial import AerialPicture
from pathways.errors import InputError, Notice, OutputError
from pathways.io._settings_file import FILE_NAME
from pathways.io.drawings import (
    DrawingGround,
    HeightUnit,
    drawings_in,
    read_drawing_ground,
)
from pathways.io.new_farm import HEAD_TO_DRAW, settings_text
from pathways.io.output_folder import OutputFolder
from pathways.io.pictures import read_picture
from pathways.io.tables import read_assumed
from pathways.pages.draw import Sheet, draw_page
from pathways.terrain.valleys import valley_lines

#: Name of the page unless the caller gives another.
PAGE_FILE: Final = "draw.html"
_GROUND: Final = "ground"
_PROJECTION: Final = ".prj"
_DEFAULT_ENDING: Final = ".tif"


def new_farm_to_draw(
    folder: Path,
    raster: Path,
    *,
    height_unit: HeightUnit | None = None,
    overwrite: bool = False,
) -> tuple[Notice, ...]:
    """Write a farm folder with its ground and a page to draw on, but no drawing.

    Parameters
    ----------
    folder : Path
        Where to write; it is made if need be.
    raster : Path
        Heights; its bytes are copied.
    height_unit : {"metre", "foot", "us_survey_foot"}, optional
        Unit of the heights where the raster does not say it; kept in farm.toml.
    overwrite : bool
        Whether settings, ground and page of an earlier farm there may be replaced. A
        drawing there is never touched.

    Returns
    -------
    tuple of Notice
        What must be known about the ground.

    Raises
    ------
    InputError
        If the raster cannot be used; nothing is written then.
    OutputError
        If there is a farm already, or it cannot be written.
    """
    _refuse_folder(raster)
    ground = read_drawing_ground(raster, height_unit)
    there = drawings_in(folder)
    if there and not overwrite:
        msg = (
            f"'{folder.name}' holds {there[0].name} already, so it is a farm; choose "
            "another folder, or carry its drawing on with `pathways draw`"
        )
        raise OutputError(msg)
    name = _GROUND + raster.suffix.lower()
    keys: dict[str, Any] = {"height_unit": height_unit} if height_unit else {}
    if name != _GROUND + _DEFAULT_ENDING:
        keys["files"] = [name]
    text = settings_text(HEAD_TO_DRAW, ground=keys)
    copies = {name: raster}
    if raster.with_suffix(_PROJECTION).is_file() and raster.suffix.lower() == ".asc":
        copies[_GROUND + _PROJECTION] = raster.with_suffix(_PROJECTION)
    # A raster that lies in its place already stays there.
    copies = {
        one: source
        for one, source in copies.items()
        if not ((folder / one).exists() and source.samefile(folder / one))
    }
    page = _page(ground, None)
    names = (FILE_NAME, PAGE_FILE, *copies)
    with OutputFolder(folder, overwrite=overwrite, names=names) as files:
        files.add_content(FILE_NAME, text)
        files.add_content(PAGE_FILE, page)
        for one, source in copies.items():
            files.add(one, partial(shutil.copyfile, source), partial(_same, source))
    return ground.notices


def write_drawing_page(
    of: Path,
    out: Path | None = None,
    *,
    picture: Path | None = None,
    height_unit: HeightUnit | None = None,
    overwrite: bool = False,
) -> tuple[Path, tuple[Notice, ...]]:
    """Write the page on which a farm is drawn.

    Parameters
    ----------
    of : Path
        A raster of heights, or a farm folder; a drawing there is put into the page.
    out : Path or None
        The page; by default `draw.html` in the farm folder or beside the raster.
    picture : Path or None
        Aerial picture, a GeoTIFF in RGB, to lie under the drawing.
    height_unit : {"metre", "foot", "us_survey_foot"}, optional
        Unit of the heights of a raster that does not say it.
    overwrite : bool
        Whether a page that is there may be replaced.

    Returns
    -------
    Path
        The page.
    tuple of Notice
        What must be known about ground and drawing.

    Raises
    ------
    InputError
        If ground, drawing or picture cannot be used; nothing is written then.
    OutputError
        If the page is there already, or cannot be written.
    """
    page = out or (of if of.is_dir() else of.parent) / PAGE_FILE
    if page.suffix.lower() not in (".html", ".htm"):
        msg = f"'{page.name}' is no name of a page; let it end in .html"
        raise InputError(msg)
    if page.exists() and not overwrite:
        msg = f"{page} is there already; give another name with --out, or --overwrite"
        raise OutputError(msg)
    ground = read_drawing_ground(of, height_unit)
    text = _page(ground, picture)
    with OutputFolder(page.parent, overwrite=overwrite, names=(page.name,)) as files:
        files.add_content(page.name, text)
    return page, ground.notices


def _refuse_folder(raster: Path) -> None:
    if raster.is_dir() or raster.name == FILE_NAME:
        msg = f"'{raster.name}' is no raster; give the file that holds the heights"
        raise InputError(msg)


def _page(ground: DrawingGround, picture: Path | None) -> str:
    assumed = read_assumed()
    has_water = bool(ground.features.watercourses)
    return draw_page(
        Sheet(
            grid=ground.grid,
            farm=ground.name,
            features=ground.features,
            none_here=ground.none_here,
            placed_by=ground.placed_by,
            to_degrees=ground.to_degrees,
            valleys=() if has_water else valley_lines(ground.grid, assumed),
            valley_area_m2=assumed["valley_lines", "least_area_m2"],
            picture=None if picture is None else _picture(picture, ground),
        )
    )


def _picture(path: Path, ground: DrawingGround) -> AerialPicture:
    """Read the picture; what is wrong with it is told with its name."""
    try:
        return read_picture(path, ground.grid)
    except InputError as error:
        named = path.name in str(error)
        msg = str(error) if named else f"{path.name}: {error}"
        raise InputError(msg) from error


def _same(source: Path, copied: Path) -> None:
    if not filecmp.cmp(source, copied, shallow=False):
        msg = f"'{copied.name}' was not copied whole; check that the disk is not full"
        raise OutputError(msg)
