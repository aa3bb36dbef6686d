"""Adjoining tiles as one ground, with a look at the seams."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.errors import GridError, Notice
from pathways.io._raster_tile import Tile, check_cells

#: Cells of two tiles may miss each other by this part of a cell.
_ALIGNED: Final = 0.01
#: Sizes of cells may differ by this part.
_SAME_SIZE: Final = 1e-6
#: Where tiles overlap, heights that differ by more on average are two surveys [m], and
#: those that differ by more anywhere are told [m]. Common practice, no source: 0.5 m is
#: several times the height error of national lidar.
_REFUSED_DIFFERENCE_M: Final = 0.5
_TOLD_DIFFERENCE_M: Final = 0.02
#: A step at a seam is told when it is higher than this [m] and than this many times
#: what occurs along parallel lines in the same ground.
_SEAM_STEP_M: Final = 0.02
_SEAM_TIMES: Final = 3.0
#: Parallel lines looked at on each side, and the fewest cells a seam is judged by.
_PARALLELS: Final = 10
_FEWEST_CELLS: Final = 8
#: Median absolute value of a normal variable to its standard deviation (1 / 0.6745).
_MEDIAN_TO_DEVIATION: Final = 1.4826


@dataclass(frozen=True)
class _Placed:
    """A tile and its first cell on the common canvas."""

    tile: Tile
    row: int
    column: int

    @property
    def rows(self) -> int:
        return int(self.tile.heights_m.shape[0])

    @property
    def columns(self) -> int:
        return int(self.tile.heights_m.shape[1])

    @property
    def window(self) -> tuple[slice, slice]:
        return (
            slice(self.row, self.row + self.rows),
            slice(self.column, self.column + self.columns),
        )


def join_tiles(tiles: list[Tile]) -> Tile:
    """Return one ground made of adjoining tiles.

    Where two overlap, the first one's heights hold. Ground between tiles that none
    covers is not known.

    Raises
    ------
    GridError
        If systems, sizes or places of cells differ, or overlaps contradict each other.
    LimitError
        If the whole would have more cells than are read.
    """
    if len(tiles) == 1:
        return tiles[0]
    first = tiles[0]
    for tile in tiles[1:]:
        _check_kin(first, tile)
    size_m = first.cell_size_m
    west_m = min(tile.west_m for tile in tiles)
    north_m = max(tile.north_m for tile in tiles)
    placed = [
        _Placed(
            tile,
            round((north_m - tile.north_m) / size_m),
            round((tile.west_m - west_m) / size_m),
        )
        for tile in tiles
    ]
    heights_m, notices = _paint(placed)
    notices += _seam_notices(placed, heights_m)
    told = tuple(notice for tile in tiles for notice in tile.notices)
    return Tile(
        ", ".join(tile.name for tile in tiles),
        heights_m,
        west_m,
        north_m,
        size_m,
        first.metric,
        (*told, *notices),
    )


def _check_kin(first: Tile, other: Tile) -> None:
    """Refuse tiles that are not pieces of one grid."""
    both = f"'{first.name}' and '{other.name}'"
    if not first.metric.crs.equals(other.metric.crs, ignore_axis_order=True):
        msg = (
            f"{both} are in different systems ({first.metric.name} and "
            f"{other.metric.name}); reproject them to one"
        )
        raise GridError(msg)
    size_m = first.cell_size_m
    if abs(other.cell_size_m / size_m - 1.0) > _SAME_SIZE:
        msg = (
            f"{both} have cells of different size ({size_m:.7g} m and "
            f"{other.cell_size_m:.7g} m); resample them to one"
        )
        raise GridError(msg)
    shifts = (
        (other.west_m - first.west_m) / size_m,
        (other.north_m - first.north_m) / size_m,
    )
    off = max(abs(shift - round(shift)) for shift in shifts)
    if off > _ALIGNED:
        msg = (
            f"the cells of {both} miss each other by {off:.2f} of a cell; resample one "
            "onto the other's cells"
        )
        raise GridError(msg)


def _paint(placed: list[_Placed]) -> tuple[NDArray[np.float32], list[Notice]]:
    """Return all tiles on one canvas, and what overlaps and gaps must be told."""
    rows = max(one.row + one.rows for one in placed)
    columns = max(one.column + one.columns for one in placed)
    check_cells(rows * columns)
    heights_m = np.full((rows, columns), np.nan, np.float32)
    covered = np.zeros((rows, columns), np.bool_)
    notices = []
    for one in placed:
        there_m = heights_m[one.window]
        notices += _overlap_notices(one.tile, there_m)
        np.copyto(there_m, one.tile.heights_m, where=np.isnan(there_m))
        covered[one.window] = True
    gap = int(covered.size - covered.sum())
    if gap:
        text = (
            f"the tiles leave {gap:,} cells uncovered; a way into them ends as not "
            "known unless the missing tiles are added"
        )
        notices.append(Notice("gap_between_tiles", text, _names(placed)))
    return heights_m, notices


def _overlap_notices(tile: Tile, there_m: NDArray[np.float32]) -> list[Notice]:
    """Refuse an overlap that contradicts itself; tell one that differs a little."""
    apart_m = np.abs(tile.heights_m - there_m)
    apart_m = apart_m[~np.isnan(apart_m)]
    if not apart_m.size:
        return []
    mean_m, most_m = float(apart_m.mean()), float(apart_m.max())
    if mean_m > _REFUSED_DIFFERENCE_M:
        msg = (
            f"where '{tile.name}' overlaps another tile their heights differ by "
            f"{mean_m:.2f} m on average; use tiles of one survey and one datum"
        )
        raise GridError(msg)
    if most_m <= _TOLD_DIFFERENCE_M:
        return []
    text = (
        f"where it overlaps another tile their heights differ by up to {most_m:.2f} m; "
        "those of the tile named first were used"
    )
    return [Notice("overlap_differs", text, tile.name)]


def _seam_notices(
    placed: list[_Placed], heights_m: NDArray[np.float32]
) -> list[Notice]:
    """Return a notice for each seam at which the ground steps up or down."""
    notices = []
    for one, other in itertools.permutations(placed, 2):
        if one.column + one.columns == other.column:
            rows = slice(
                max(one.row, other.row),
                min(one.row + one.rows, other.row + other.rows),
            )
            step_m = _step_m(heights_m[rows], other.column)
        elif one.row + one.rows == other.row:
            columns = slice(
                max(one.column, other.column),
                min(one.column + one.columns, other.column + other.columns),
            )
            step_m = _step_m(heights_m[:, columns].T, other.row)
        else:
            continue
        if step_m:
            text = (
                f"the ground steps by {step_m * 100.0:+.1f} cm along the seam from "
                f"'{one.tile.name}' to '{other.tile.name}', which can turn or stop a "
                "flow path there; ask for tiles of one survey or level them"
            )
            notices.append(
                Notice("seam_step", text, f"{one.tile.name}, {other.tile.name}")
            )
    return notices


def _step_m(heights_m: NDArray[np.float32], seam: int) -> float:
    """Return the step between two columns beyond what slope explains [m]; 0 for none.

    The rise across the seam is compared with the mean of the rises one cell before and
    one cell after it, row by row, and the median taken. What is usual is the same for
    parallel lines from two cells away on, as those next to the seam see half the step.
    """
    if len(heights_m) < _FEWEST_CELLS:
        return 0.0
    step_m = _excess_rise_m(heights_m, seam)
    away = range(2, 2 + _PARALLELS)
    parallels = [
        _excess_rise_m(heights_m, seam + side * n) for n in away for side in (-1, 1)
    ]
    known = [abs(one) for one in parallels if not np.isnan(one)]
    usual_m = _MEDIAN_TO_DEVIATION * float(np.median(known)) if known else 0.0
    flagged = abs(step_m) > max(_SEAM_STEP_M, _SEAM_TIMES * usual_m)
    return step_m if flagged else 0.0


def _excess_rise_m(heights_m: NDArray[np.float32], column: int) -> float:
    """Return the median rise into a column beyond that of its neighbours [m]."""
    if column < 2 or column + 2 > heights_m.shape[1]:  # noqa: PLR2004
        return float("nan")
    four_m = heights_m[:, column - 2 : column + 2].astype(np.float64)
    before_m, across_m, after_m = np.diff(four_m, axis=1).T
    excess_m = across_m - 0.5 * (before_m + after_m)
    excess_m = excess_m[~np.isnan(excess_m)]
    return (
        float(np.median(excess_m)) if len(excess_m) >= _FEWEST_CELLS else float("nan")
    )


def _names(placed: list[_Placed]) -> str:
    return ", ".join(one.tile.name for one in placed)
