"""What is there to draw on: a raster of heights, or a farm, drawn or not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

from pyproj import CRS
from shapely import Geometry

from pathways.errors import InputError, Notice, RefusedError
from pathways.features import Features
from pathways.grid import Grid
from pathways.io._findings import Findings
from pathways.io._geometries import move_to
from pathways.io._settings_file import FILE_NAME, read_settings
from pathways.io.rasters import read_ground
from pathways.io.vectors import COARSE, FeaturesRead, read_features
from pathways.settings import GroundSettings, Settings

HeightUnit = Literal["metre", "foot", "us_survey_foot"]

GEOPACKAGE: Final = "features.gpkg"
FOLDER: Final = "features"
#: What the drawing page saves.
DRAWING_FILE: Final = "features.geojson"


@dataclass(frozen=True)
class DrawingGround:
    """Ground to draw on, and what is drawn on it already.

    Parameters
    ----------
    grid : Grid
        The ground.
    name : str
        What the farm is called; empty where there is none.
    features : Features
        What is drawn already, in the grid's coordinates.
    none_here : tuple of str
        What farm.toml or the drawing says was looked for and is not there.
    placed_by : str
        Operation by which the reader of drawings moves degrees onto the grid; empty
        where what is drawn already was moved coarsely.
    to_degrees : callable
        The same the other way: a geometry of the grid in longitude and latitude.
    notices : tuple of Notice
        What must be known about the ground and the drawing.
    """

    grid: Grid
    name: str
    features: Features
    none_here: tuple[str, ...]
    placed_by: str
    to_degrees: Callable[[Geometry], Geometry]
    notices: tuple[Notice, ...]


def drawing_path(folder: Path, named: str) -> Path:
    """Return the file or folder that holds the drawing of a farm.

    Parameters
    ----------
    folder : Path
        Folder of the farm.
    named : str
        What `[features] path` says; empty for whichever is there.

    Raises
    ------
    InputError
        If there is none, or more than one and none is named.
    """
    if named:
        path = folder / named
        if not path.exists():
            msg = (
                f"[features] path names '{named}', which is not there; correct it or "
                f"leave it out to read {GEOPACKAGE} or {DRAWING_FILE}"
            )
            raise InputError(msg)
        return path
    there = drawings_in(folder)
    if len(there) == 1:
        return there[0]
    shown = " and ".join(one.name + "/" * one.is_dir() for one in there)
    if there:
        msg = (
            f"there are both {shown}; keep one and move the others elsewhere, or name "
            "one in [features] path"
        )
    else:
        msg = (
            f"there is neither {GEOPACKAGE} nor {DRAWING_FILE} nor a folder {FOLDER}/; "
            "draw the sources and the water in one of them (`pathways draw` writes a "
            f"page for that, which saves {DRAWING_FILE})"
        )
    raise InputError(msg)


def drawings_in(folder: Path) -> list[Path]:
    """Return every drawing in a farm folder, of which there should be one."""
    names = (GEOPACKAGE, FOLDER, DRAWING_FILE)
    return [folder / one for one in names if (folder / one).exists()]


def unread_drawings(folder: Path, read: Path) -> list[Notice]:
    """Return a warning for each drawing in a folder besides the one that is read.

    Parameters
    ----------
    folder : Path
        Folder of the farm.
    read : Path
        The drawing that `[features] path` names, or the only one.
    """
    return [
        Notice(
            "drawing_not_read",
            f"'{one.name}' is a drawing too and was not read, for [features] path "
            f"names '{read.name}'; take that key out, or move one of the two away",
            one.name,
        )
        for one in drawings_in(folder)
        if not (read.exists() and one.samefile(read))
    ]


def read_drawing_ground(
    path: Path, height_unit: HeightUnit | None = None
) -> DrawingGround:
    """Read what there is to draw on.

    Parameters
    ----------
    path : Path
        A raster of heights, a farm folder or its farm.toml. The farm needs no drawing;
        one that is there must be readable, or it could not be carried on.

    height_unit : {"metre", "foot", "us_survey_foot"}, optional
        Unit of the heights of a raster that does not say it.

    Raises
    ------
    RefusedError, InputError
        With what is wrong with ground, settings or drawing.
    """
    if path.is_dir() or path.name == FILE_NAME:
        if height_unit:
            msg = f"a farm says the unit of its heights in {FILE_NAME}; set it there"
            raise InputError(msg)
        return _of_farm(path if path.is_dir() else path.parent)
    if not path.exists():
        msg = f"there is no raster and no farm folder '{path.name}'; check its name"
        raise InputError(msg)
    ground = read_ground((path,), GroundSettings(height_unit=height_unit))
    nothing = FeaturesRead(Features(), (), ())
    return _ground(ground.grid, "", nothing, ground.notices)


def _of_farm(folder: Path) -> DrawingGround:
    """Read a farm as far as drawing needs it."""
    if not (folder / FILE_NAME).is_file():
        msg = (
            f"there is no {FILE_NAME} in '{folder.name}', so it is no farm; give the "
            "raster of heights itself, or make a farm with `pathways new`"
        )
        raise InputError(msg)
    findings = Findings()
    settings: Settings = read_settings(folder / FILE_NAME, findings)
    files = tuple(folder / one for one in settings.ground.files)
    ground = read_ground(files, settings.ground)
    drawn = FeaturesRead(Features(), (), ())
    if settings.features.path or drawings_in(folder):
        path = drawing_path(folder, settings.features.path)
        drawn = read_features(path, ground.grid)
    notices = (*findings.notices, *ground.notices, *drawn.notices)
    if findings.refused:
        raise RefusedError(notices)
    name = settings.farm.name or settings.farm.id
    # What came in coarsely stays coarse: the page may not say that it placed it.
    is_coarse = any(one.code in COARSE for one in drawn.notices)
    none_here = dict.fromkeys((*settings.features.none_here, *drawn.none_here))
    drawn = replace(drawn, none_here=tuple(none_here))
    found = _ground(ground.grid, name, drawn, notices)
    return replace(found, placed_by="") if is_coarse else found


def _ground(
    grid: Grid, name: str, drawn: FeaturesRead, notices: tuple[Notice, ...]
) -> DrawingGround:
    move = move_to(grid, CRS.from_epsg(4326))
    return DrawingGround(
        grid,
        name,
        drawn.features,
        drawn.none_here,
        move.operation,
        move.back,
        notices,
    )
