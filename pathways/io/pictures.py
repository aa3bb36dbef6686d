"""An aerial picture, read onto the plane of a grid and never stretched to fit.

pyproj places a lattice of control points by the same operation by which drawings are
moved, and rasterio warps between them: picture and drawing then lie on each other even
where rasterio's own PROJ knows another operation.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely
from affine import Affine
from numpy.typing import NDArray

from pathways.aerial import AerialPicture
from pathways.errors import CrsError, FeatureError, GridError
from pathways.grid import Grid
from pathways.io._gdal import rasterio
from pathways.io._geometries import Move, move_to
from pathways.io._raster_tile import opened
from pathways.io.crs import flat_crs, parse_crs

#: More points than this are not carried into a page [-].
MOST_PIXELS: Final = 4_000_000
#: Control points along each side of the picture.
_LATTICE: Final = 9
_Colour: Final = rasterio.enums.ColorInterp
_COLOURS: Final = (_Colour.red, _Colour.green, _Colour.blue)
_KNOWN: Final = 127


def read_picture(path: Path, grid: Grid) -> AerialPicture:
    """Read the part of an aerial picture that lies on the ground.

    Parameters
    ----------
    path : Path
        GeoTIFF with red, green and blue of 8 bits, in any system that is named in it.
    grid : Grid
        The ground.

    Returns
    -------
    AerialPicture
        On the grid's plane, with no more than `MOST_PIXELS` points.

    Raises
    ------
    GridError, CrsError
        If it is no such picture, has no place, or lies elsewhere.
    """
    with opened(path) as dataset:
        numbers = _colours(dataset)
        move = _move(dataset, grid)
        window = _window(dataset, move, grid)
        bands, place = _read(dataset, numbers, window)
    return _on_plane(bands, place, move, grid)


def _colours(dataset: Any) -> list[int]:
    """Return the numbers of the bands that hold red, green and blue."""
    said = list(dataset.colorinterp)
    if any(one not in said for one in _COLOURS):
        msg = (
            "its bands are not said to be red, green and blue; save it as a GeoTIFF in "
            "RGB"
        )
        raise GridError(msg)
    kinds = {dataset.dtypes[said.index(one)] for one in _COLOURS}
    if kinds != {"uint8"}:
        msg = (
            f"its colours are stored as {' and '.join(kinds)}; save it with 8 bits each"
        )
        raise GridError(msg)
    return [said.index(one) + 1 for one in _COLOURS]


def _move(dataset: Any, grid: Grid) -> Move:
    """Return how places of the picture become the grid's."""
    if dataset.crs is None or not dataset.crs.to_wkt() or dataset.transform.is_identity:
        msg = (
            "nothing in it says where on Earth it lies; save it as a GeoTIFF with its "
            "place and its coordinate reference system"
        )
        raise CrsError(msg)
    return move_to(grid, flat_crs(parse_crs(dataset.crs.to_wkt(version="WKT2_2019"))))


def _moved(
    columns: NDArray[np.float64], rows: NDArray[np.float64], place: Affine, move: Move
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where points of the picture lie on the grid's plane [m]."""
    x, y = place * (columns, rows)
    try:
        moved = move.apply(shapely.linestrings(np.column_stack((x, y))))
    except FeatureError as error:
        msg = f"it has no place on the ground ({error})"
        raise CrsError(msg) from error
    east_m, north_m = shapely.get_coordinates(moved).T
    return east_m, north_m


def _lattice(left: float, top: float, right: float, bottom: float) -> Any:
    columns, rows = np.meshgrid(
        np.linspace(left, right, _LATTICE), np.linspace(top, bottom, _LATTICE)
    )
    return columns.ravel(), rows.ravel()


def _window(dataset: Any, move: Move, grid: Grid) -> Any:
    """Return the part of the picture that lies on the ground, in its own pixels."""
    west, south, east, north = grid.extent
    edge = shapely.segmentize(
        shapely.box(west, south, east, north), (east - west) / _LATTICE
    )
    x, y = shapely.get_coordinates(move.back(edge)).T
    columns, rows = ~dataset.transform * (x, y)
    left, top = max(0, math.floor(columns.min())), max(0, math.floor(rows.min()))
    right = min(dataset.width, math.ceil(columns.max()))
    bottom = min(dataset.height, math.ceil(rows.max()))
    if right - left < 1 or bottom - top < 1:
        msg = (
            "it does not lie on the ground that was given; give the picture of this "
            "farm, or check which coordinate reference system it is in"
        )
        raise GridError(msg)
    return rasterio.windows.Window(left, top, right - left, bottom - top)


def _read(
    dataset: Any, numbers: list[int], window: Any
) -> tuple[NDArray[np.uint8], Affine]:
    """Return colours and what is known in a window, thinned to what a page carries."""
    step = max(1.0, math.sqrt(window.width * window.height / MOST_PIXELS))
    height, width = (max(1, int(one / step)) for one in (window.height, window.width))
    colours = dataset.read(
        numbers,
        window=window,
        out_shape=(len(numbers), height, width),
        resampling=rasterio.enums.Resampling.average
        if step > 1
        else rasterio.enums.Resampling.nearest,
    )
    known = dataset.dataset_mask(window=window, out_shape=(height, width))
    place = (
        dataset.transform
        * Affine.translation(window.col_off, window.row_off)
        * Affine.scale(window.width / width, window.height / height)
    )
    return np.concatenate([colours, known[np.newaxis]]).astype(np.uint8), place


def _on_plane(
    bands: NDArray[np.uint8], place: Affine, move: Move, grid: Grid
) -> AerialPicture:
    """Return the picture on square cells of the grid's plane, cut to the ground."""
    rows, columns = bands.shape[1:]
    at_columns, at_rows = _lattice(0, 0, columns, rows)
    east_m, north_m = _moved(at_columns, at_rows, place, move)
    size_m = math.sqrt(np.ptp(east_m) * np.ptp(north_m) / (rows * columns))
    west, north = max(grid.west_m, east_m.min()), min(grid.north_m, north_m.max())
    east, south = min(grid.east_m, east_m.max()), max(grid.south_m, north_m.min())
    width, height = (math.ceil(one / size_m) for one in (east - west, north - south))
    if width < 1 or height < 1:
        msg = "it does not lie on the ground that was given; give that of this farm"
        raise GridError(msg)
    on_plane = np.zeros((len(bands), height, width), np.uint8)
    rasterio.warp.reproject(
        bands,
        on_plane,
        gcps=[
            rasterio.control.GroundControlPoint(*point)
            for point in zip(at_rows, at_columns, east_m, north_m, strict=True)
        ],
        src_crs=grid.crs,
        dst_crs=grid.crs,
        dst_transform=Affine(size_m, 0, west, 0, -size_m, north),
        resampling=rasterio.enums.Resampling.bilinear,
        tolerance=0.01,
    )
    on_plane[-1] = np.where(on_plane[-1] > _KNOWN, 255, 0)
    return AerialPicture(on_plane, west, north, size_m, grid.crs)
