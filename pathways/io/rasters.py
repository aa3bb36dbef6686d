"""The ground, from one raster or several tiles, or one sentence for each fault."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pathways.errors import (
    CrsError,
    InputError,
    LimitError,
    Notice,
    PathwaysError,
    RefusedError,
)
from pathways.grid import Grid
from pathways.io._raster_tile import Tile, cells_in, check_cells, read_tile
from pathways.io._tiles import join_tiles
from pathways.settings import GroundSettings


@dataclass(frozen=True)
class GroundRead:
    """The ground and what must be known about it.

    Parameters
    ----------
    grid : Grid
        Heights in metres on square cells, north up.
    notices : tuple of Notice
        What was changed, assumed or left aside.
    """

    grid: Grid
    notices: tuple[Notice, ...]


def read_ground(files: Sequence[Path], settings: GroundSettings) -> GroundRead:
    """Read the ground.

    Parameters
    ----------
    files : sequence of Path
        One raster, or adjoining tiles of one survey; GeoTIFF or ASCII grid.
    settings : GroundSettings
        Table `[ground]` of farm.toml.

    Returns
    -------
    GroundRead
        Heights in metres, NaN where unknown, with notices.

    Raises
    ------
    RefusedError
        With one error for each file that cannot be used.
    """
    if not files:
        text = "no raster is named; set [ground] files to the raster of heights"
        raise RefusedError((Notice("ground_refused", text, "farm.toml", "error"),))
    _check_total(files)
    tiles: list[Tile] = []
    errors: list[Notice] = []
    for path in files:
        try:
            tiles.append(read_tile(path, settings.height_unit))
        except PathwaysError as error:
            errors.append(_refusal(error, path.name))
    if errors:
        raise RefusedError(tuple(errors))
    return _joined(tiles, settings)


def _check_total(files: Sequence[Path]) -> None:
    """Refuse too many cells before any is read."""
    total = 0
    for path in files:
        try:
            total += cells_in(path)
        except InputError:
            continue  # told when its turn comes
    try:
        check_cells(total)
    except LimitError as error:
        names = ", ".join(path.name for path in files)
        raise RefusedError((_refusal(error, names),)) from error


def _joined(tiles: list[Tile], settings: GroundSettings) -> GroundRead:
    """Return the tiles as one grid."""
    names = ", ".join(tile.name for tile in tiles)
    try:
        whole = join_tiles(tiles)
        grid = Grid(
            whole.heights_m,
            whole.west_m,
            whole.north_m,
            whole.cell_size_m,
            whole.metric.crs.to_wkt("WKT2_2019"),
            whole.metric.name,
        )
    except PathwaysError as error:
        raise RefusedError((_refusal(error, names),)) from error
    told = [replace(notice, where=notice.where or names) for notice in whole.notices]
    return GroundRead(grid, (*told, *_setting_notices(settings)))


def _refusal(error: PathwaysError, where: str) -> Notice:
    """Return an error as it is listed."""
    if isinstance(error, LimitError):
        code = "too_large"
    elif isinstance(error, CrsError):
        code = "crs_refused"
    else:
        code = "ground_refused"
    return Notice(code, str(error), where, "error")


def _setting_notices(settings: GroundSettings) -> list[Notice]:
    """Return what `[ground]` itself warns of."""
    notices = []
    if settings.kind == "surface":
        text = (
            "the ground is a surface model: roofs, hedges and trees stand in it and "
            "turn water aside; use the bare-earth model of the same survey"
        )
        notices.append(Notice("surface_model", text, "farm.toml"))
    if settings.rebuilt_since_survey:
        text = (
            "the yard was rebuilt after the survey: levels in it are old; measure them "
            "and add them as spot_levels"
        )
        notices.append(Notice("rebuilt_since_survey", text, "farm.toml"))
    if not settings.survey_date:
        text = (
            "nothing says when the ground was measured, so later building goes unseen; "
            "set [ground] survey_date"
        )
        notices.append(Notice("no_survey_date", text, "farm.toml"))
    return notices
