"""One raster file as a tile of ground: place, size of cells and heights settled."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pathways.errors import CrsError, GridError, LimitError, Notice
from pathways.io._gdal import (
    RASTER_ENDINGS,
    RASTER_FAULTS,
    check_path,
    describe_read_error,
    driver_of,
    rasterio,
)
from pathways.io._raster_values import height_unit_m, read_heights_m
from pathways.io.crs import MetricCrs, metric_crs, outside_area_of_use, parse_crs

#: More cells than this are not read [-]: 1.6 GB of heights, 20 km by 20 km at 1 m.
MOST_CELLS: Final = 400_000_000
#: Cells whose sides differ by more than this part are not square.
_SQUARE: Final = 1e-6
#: A turn or shear that moves no corner by more than this part of a cell is none.
_UPRIGHT: Final = 1e-3

#: Files beside a raster that would overrule it, and that are never read.
_SIDE_CARS: Final = (".aux.xml", ".ovr", ".msk", ".aux", ".rrd")
_WORLD_FILES: Final = (".tfw", ".tifw", ".wld", ".tab", ".aux", ".rrd")


@dataclass(frozen=True)
class Tile:
    """Heights of one file on square cells, north up, in metres."""

    name: str
    heights_m: NDArray[np.float32]
    west_m: float
    north_m: float
    cell_size_m: float
    metric: MetricCrs
    notices: tuple[Notice, ...]


@dataclass(frozen=True)
class _Place:
    """Where the cells of a file lie [m]; rows may run from the south."""

    west_m: float
    north_m: float
    width_m: float
    height_m: float
    south_up: bool


@contextmanager
def opened(path: Path) -> Iterator[Any]:
    """Give the open raster, by the driver that its name promises and no other."""
    check_path(path, RASTER_ENDINGS)
    try:
        with warnings.catch_warnings():
            # A raster without a place is refused below, in our own words.
            warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
            dataset = rasterio.open(path, driver=driver_of(path), sharing=False)
        with dataset:
            yield dataset
    except RASTER_FAULTS as error:
        msg = (
            f"it cannot be read to its end ({describe_read_error(error)}); it is "
            "damaged or cut short: copy or download it again"
        )
        raise GridError(msg) from error


def cells_in(path: Path) -> int:
    """Return how many cells a file holds, after a look at its head only."""
    with opened(path) as dataset:
        return int(dataset.width) * int(dataset.height)


def check_cells(cells: int) -> None:
    """Refuse more cells than the memory is meant for.

    Raises
    ------
    LimitError
        If there are more than `MOST_CELLS`.
    """
    if cells > MOST_CELLS:
        msg = (
            f"the ground has {cells:,} cells and at most {MOST_CELLS:,} are read; cut "
            "out the farm and what lies below it"
        )
        raise LimitError(msg)


def read_tile(path: Path, height_unit: str | None) -> Tile:
    """Return one file's heights.

    Parameters
    ----------
    path : Path
        GeoTIFF or ASCII grid.
    height_unit : str or None
        Unit of the heights where the file does not say it.

    Raises
    ------
    GridError, CrsError
        With one sentence: what is wrong and how to mend it.
    """
    with opened(path) as dataset:
        _check_band(dataset)
        metric, notices = _metric(dataset)
        place = _place(dataset, path, metric)
        check_cells(dataset.width * dataset.height)
        unit_m, unit_notices = height_unit_m(dataset, metric, height_unit)
        heights_m, value_notices = read_heights_m(dataset, unit_m)
    notices += [*unit_notices, *value_notices, *_side_car_notices(path)]
    if place.south_up:
        heights_m = heights_m[::-1]
        notices.append(
            Notice("flipped", "its rows run from the south; they were turned round")
        )
    heights_m, cell_size_m, square_notices = _square(heights_m, place)
    return Tile(
        path.name,
        heights_m,
        place.west_m,
        place.north_m,
        cell_size_m,
        metric,
        tuple(
            replace(notice, where=path.name) for notice in [*notices, *square_notices]
        ),
    )


def _check_band(dataset: Any) -> None:
    """Refuse what is no single band of heights."""
    if dataset.count != 1:
        msg = (
            f"it has {dataset.count} bands and heights are one; save the band that "
            "holds the heights by itself"
        )
        raise GridError(msg)
    kind = dataset.dtypes[0]
    if kind.startswith("complex"):
        msg = f"its values are of the kind {kind}, not heights; save them as float32"
        raise GridError(msg)
    if dataset.colorinterp[0] == rasterio.enums.ColorInterp.palette:
        msg = (
            "its values are numbers of colours, so it is a picture; give the raster of "
            "heights that the picture was made from"
        )
        raise GridError(msg)


def _metric(dataset: Any) -> tuple[MetricCrs, list[Notice]]:
    """Return the file's system in metres, and what was changed for it."""
    if dataset.crs is None or not dataset.crs.to_wkt():
        msg = (
            "it has no coordinate reference system; write into the file the one that "
            "its survey was delivered in"
        )
        raise CrsError(msg)
    crs = parse_crs(dataset.crs.to_wkt(version="WKT2_2019"))
    across, down = dataset.width / 2.0, dataset.height / 2.0
    place = dataset.transform
    centre = (
        place.c + across * place.a + down * place.b,
        place.f + across * place.d + down * place.e,
    )
    metric = metric_crs(crs, centre)
    notices = []
    if metric.metres_per_unit != 1.0:
        text = (
            f"its plan is in {metric.unit_name}; it was turned into metres "
            f"({metric.name})"
        )
        notices.append(Notice("plan_converted", text))
    metres = metric.metres_per_unit
    centre_m = (centre[0] * metres, centre[1] * metres)
    if outside_area_of_use(metric.crs, centre_m):
        text = (
            f"it lies outside the area that {metric.name} is made for; check that its "
            "coordinate reference system is the right one"
        )
        notices.append(Notice("outside_area_of_use", text))
    return metric, notices


def _place(dataset: Any, path: Path, metric: MetricCrs) -> _Place:
    """Return where the cells lie, or refuse cells that are not upright."""
    transform = dataset.transform
    if transform.is_identity:
        beside = [one for one in _beside(path) if one.suffix in _WORLD_FILES]
        also = f" ('{beside[0].name}' beside it is not read)" if beside else ""
        msg = (
            f"nothing in it says where it lies{also}; save it as a GeoTIFF that holds "
            "its own place"
        )
        raise GridError(msg)
    width, height = abs(transform.a), abs(transform.e)
    turn = max(abs(transform.b) * dataset.height, abs(transform.d) * dataset.width)
    if turn > _UPRIGHT * max(width, height) or transform.a <= 0:
        msg = (
            "its cells are rotated, sheared or mirrored; resample it to cells that run "
            "from west to east and north to south"
        )
        raise GridError(msg)
    south_up = transform.e > 0
    north = transform.f + (dataset.height * transform.e if south_up else 0.0)
    metres = metric.metres_per_unit
    return _Place(
        transform.c * metres, north * metres, width * metres, height * metres, south_up
    )


def _square(
    heights_m: NDArray[np.float32], place: _Place
) -> tuple[NDArray[np.float32], float, list[Notice]]:
    """Return the heights on square cells of the finer side, by bilinear resampling."""
    width_m, height_m = place.width_m, place.height_m
    if abs(width_m / height_m - 1.0) <= _SQUARE:
        return heights_m, width_m, []
    side_m = min(width_m, height_m)
    rows = round(np.floor(heights_m.shape[0] * height_m / side_m + _UPRIGHT))
    columns = round(np.floor(heights_m.shape[1] * width_m / side_m + _UPRIGHT))
    check_cells(rows * columns)
    heights_m = _along_rows(heights_m, rows, side_m / height_m)
    heights_m = _along_rows(heights_m.T, columns, side_m / width_m).T
    text = (
        f"its cells are not square ({width_m:.7g} m by {height_m:.7g} m); heights were "
        f"resampled bilinearly to {side_m:.7g} m"
    )
    return np.ascontiguousarray(heights_m), side_m, [Notice("cells_not_square", text)]


def _along_rows(
    heights_m: NDArray[np.float32], count: int, step: float
) -> NDArray[np.float32]:
    """Return rows interpolated between row centres; unknown where a neighbour is.

    `step` is the new distance of rows in old ones. Beyond the outermost centres, at
    most half a cell, the outermost height holds.
    """
    last = len(heights_m) - 1
    at = np.clip((np.arange(count) + 0.5) * step - 0.5, 0.0, last)
    lower = np.floor(at).astype(np.intp)
    share = (at - lower)[:, np.newaxis]
    upper = np.where(share[:, 0] > 0.0, np.minimum(lower + 1, last), lower)
    mixed = heights_m[lower] * (1.0 - share) + heights_m[upper] * share
    return np.asarray(mixed, np.float32)


def _beside(path: Path) -> list[Path]:
    """Return the files beside a raster that GDAL would let overrule it."""
    named = [path.with_name(path.name + ending) for ending in _SIDE_CARS]
    named += [path.with_suffix(ending) for ending in _WORLD_FILES]
    return sorted({one for one in named if one.exists()})


def _side_car_notices(path: Path) -> list[Notice]:
    """Return a notice for each file that was seen beside the raster and not read."""
    return [
        Notice(
            "side_car_ignored",
            f"'{one.name}' lies beside it and was not read; what it says must be "
            "written into the raster itself",
        )
        for one in _beside(path)
    ]
