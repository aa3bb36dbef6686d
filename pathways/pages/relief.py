"""The shaded ground as a picture that lies in its true place on a web map.

A browser's map stretches a picture evenly between two corners in Web Mercator
(EPSG:3857). A grid in a national system lies skewed in it, so the picture is warped
first. pyproj places a lattice of control points and rasterio warps between them: the
picture and the lines drawn over it then come from one and the same transformation, even
where rasterio's own PROJ knows another one.
"""

from __future__ import annotations

import base64
import io
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from PIL import Image
from pyproj import Transformer
from rasterio.control import GroundControlPoint
from rasterio.warp import Resampling, reproject

from pathways.aerial import AerialPicture
from pathways.grid import Grid

#: More points than a screen can show are not carried [-].
MOST_PIXELS: Final = 4_000_000

#: Control points along each side of the grid.
LATTICE: Final = 9

MERCATOR: Final = "EPSG:3857"

#: Light from the north-west, 45 degrees up: common practice in cartography, without
#: which most people see hills as hollows.
_LIGHT: Final = (-math.sqrt(0.25), math.sqrt(0.25), math.sqrt(0.5))

#: Slope that shall be seen as steep: heights are drawn steeper until the steepest tenth
#: of the ground has it.
_SEEN_AS_STEEP: Final = 0.5
_MOST_TIMES_STEEPER: Final = 12.0

#: Grey of the darkest and the lightest ground; pale, so that lines stand out.
_DARKEST, _LIGHTEST = 140.0, 252.0
#: Grey of a contour line.
_CONTOUR: Final = np.uint8(105)


@dataclass(frozen=True)
class Relief:
    """A picture of the ground, and the corners between which a map stretches it.

    Parameters
    ----------
    data_uri : str
        The picture as a data: address.
    south_west, north_east : tuple of float
        Latitude and longitude in WGS 84 [degrees].
    times_steeper : float
        How much steeper than it is the ground was drawn [-].
    """

    data_uri: str
    south_west: tuple[float, float]
    north_east: tuple[float, float]
    times_steeper: float


def relief(grid: Grid, *, contour_every_m: float | None = None) -> Relief:
    """Return the shaded ground of a grid; cells without a height are left clear.

    With `contour_every_m`, cells in which such a height is passed are darkened.
    """
    heights_m, cell_size_m = _thinned(grid)
    times_steeper = _times_steeper(heights_m, cell_size_m)
    grey = shade(heights_m, cell_size_m, times_steeper)
    if contour_every_m is not None:
        grey = np.where(passes_level(heights_m, contour_every_m), _CONTOUR, grey)
    known = np.where(np.isfinite(heights_m), 255, 0).astype(np.uint8)
    picture, transform = warped(np.stack([grey, known]), grid, cell_size_m)
    corners = corners_of(picture, transform)
    return Relief(data_uri(picture), *corners, times_steeper)


def corners_of(
    picture: NDArray[np.uint8], transform: Affine
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the south-west and north-east corner of a warped picture [degrees]."""
    corners = Transformer.from_crs(MERCATOR, "EPSG:4326", always_xy=True)
    rows, columns = picture.shape[1:]
    west, north = corners.transform(*(transform * (0, 0)))
    east, south = corners.transform(*(transform * (columns, rows)))
    return (south, west), (north, east)


def passes_level(heights_m: NDArray[np.float64], every_m: float) -> NDArray[np.bool_]:
    """Return the cells between which and the next a height of a contour is passed.

    Examples
    --------
    >>> passes_level(np.array([[0.4, 0.9, 1.1, 1.6]]), 1.0)
    array([[False,  True, False, False]])
    """
    level = np.floor(heights_m / every_m)
    passed = np.zeros(heights_m.shape, bool)
    passed[:, :-1] |= _differ(level[:, :-1], level[:, 1:])
    passed[:-1] |= _differ(level[:-1], level[1:])
    return passed


def _differ(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.bool_]:
    differ: NDArray[np.bool_] = np.isfinite(one) & np.isfinite(other) & (one != other)
    return differ


def shade(
    heights_m: NDArray[np.float64], cell_size_m: float, times_steeper: float
) -> NDArray[np.uint8]:
    """Return the brightness of the ground in slanting light.

    The cosine between the light and the ground's normal (Lambert's law); flat ground
    gets the same grey everywhere.
    """
    eastward, northward = _slopes(heights_m, cell_size_m)
    normal_x, normal_y = -eastward * times_steeper, -northward * times_steeper
    towards_light = normal_x * _LIGHT[0] + normal_y * _LIGHT[1] + _LIGHT[2]
    cosine = towards_light / np.sqrt(1 + normal_x**2 + normal_y**2)
    grey = _DARKEST + (_LIGHTEST - _DARKEST) * np.clip(cosine, 0, 1)
    return np.asarray(np.rint(grey), dtype=np.uint8)


def warped(
    bands: NDArray[np.uint8],
    grid: Grid | AerialPicture,
    cell_size_m: float,
    resampling: Resampling = Resampling.bilinear,
) -> tuple[NDArray[np.uint8], Affine]:
    """Return bands of a grid's ground in Web Mercator, and where they lie there.

    Parameters
    ----------
    bands : ndarray of uint8, shape (bands, rows, columns)
        The last band tells where the ground is known (255) and where not (0).
    grid : Grid or AerialPicture
        Where the first cell lies.
    cell_size_m : float
        Side of one cell of `bands` [m].
    resampling : Resampling
        How values between cells are found; the last band stays either known or not.
    """
    rows, columns = bands.shape[1:]
    row, column = (
        lattice.ravel()
        for lattice in np.meshgrid(
            np.linspace(0, rows, LATTICE), np.linspace(0, columns, LATTICE)
        )
    )
    to_mercator = Transformer.from_crs(grid.crs, MERCATOR, always_xy=True)
    x, y = to_mercator.transform(
        grid.west_m + column * cell_size_m,
        grid.north_m - row * cell_size_m,
        errcheck=True,
    )
    # Pixels as large as cells, at the scale that Web Mercator has here.
    pixel = math.hypot(x[LATTICE] - x[0], y[LATTICE] - y[0]) * (LATTICE - 1) / columns
    width, height = math.ceil(np.ptp(x) / pixel), math.ceil(np.ptp(y) / pixel)
    transform = Affine(pixel, 0, x.min(), 0, -pixel, y.max())
    picture = np.zeros((len(bands), height, width), np.uint8)
    reproject(
        bands,
        picture,
        gcps=[
            GroundControlPoint(*point) for point in zip(row, column, x, y, strict=True)
        ],
        src_crs=MERCATOR,
        dst_crs=MERCATOR,
        dst_transform=transform,
        resampling=resampling,
        tolerance=0.01,
    )
    if resampling == Resampling.bilinear:
        # Half-clear edges would be ground that is half known.
        picture[-1] = np.where(picture[-1] > 127, 255, 0)  # noqa: PLR2004
    return picture, transform


def _thinned(grid: Grid) -> tuple[NDArray[np.float64], float]:
    """Return heights with no more cells than a page can carry, and their size [m]."""
    heights_m = grid.heights_m.astype(np.float64)
    step = math.ceil(math.sqrt(heights_m.size / MOST_PIXELS))
    if step == 1:
        return heights_m, grid.cell_size_m
    missing = [(0, -length % step) for length in heights_m.shape]
    blocks = np.pad(heights_m, missing, constant_values=np.nan)
    blocks = blocks.reshape(
        blocks.shape[0] // step, step, blocks.shape[1] // step, step
    )
    known = np.isfinite(blocks).sum(axis=(1, 3))
    total = np.nansum(blocks, axis=(1, 3))
    mean_m = np.full(known.shape, np.nan)
    np.divide(total, known, out=mean_m, where=known > 0)
    return mean_m, grid.cell_size_m * step


def _slopes(
    heights_m: NDArray[np.float64], cell_size_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the rise eastward and northward; beside a gap, from the side known."""
    ringed = np.pad(heights_m, 1, constant_values=np.nan)
    middle = ringed[1:-1, 1:-1]
    eastward = _mean_known(middle - ringed[1:-1, :-2], ringed[1:-1, 2:] - middle)
    northward = _mean_known(ringed[:-2, 1:-1] - middle, middle - ringed[2:, 1:-1])
    return eastward / cell_size_m, northward / cell_size_m


def _mean_known(
    one: NDArray[np.float64], other: NDArray[np.float64]
) -> NDArray[np.float64]:
    count = np.isfinite(one).astype(np.int8) + np.isfinite(other)
    return (np.nan_to_num(one) + np.nan_to_num(other)) / np.maximum(count, 1)


def _times_steeper(heights_m: NDArray[np.float64], cell_size_m: float) -> float:
    eastward, northward = _slopes(heights_m, cell_size_m)
    slope = np.hypot(eastward, northward)[np.isfinite(heights_m)]
    steep = float(np.quantile(slope, 0.9))
    if steep == 0:
        return 1.0
    return float(round(min(max(_SEEN_AS_STEEP / steep, 1.0), _MOST_TIMES_STEEPER)))


def data_uri(picture: NDArray[np.uint8], mode: str = "LA") -> str:
    """Return bands of a picture as a PNG inside an address."""
    image = Image.fromarray(np.moveaxis(picture, 0, -1), mode)
    stored = io.BytesIO()
    image.save(stored, "PNG", optimize=True)
    return "data:image/png;base64," + base64.b64encode(stored.getvalue()).decode()


def photo_uri(picture: NDArray[np.uint8]) -> str:
    """Return red, green, blue and what is known as a WebP inside an address."""
    image = Image.fromarray(np.moveaxis(picture, 0, -1), "RGBA")
    stored = io.BytesIO()
    image.save(stored, "WEBP", quality=80)
    return "data:image/webp;base64," + base64.b64encode(stored.getvalue()).decode()


def photo(picture: AerialPicture) -> tuple[str, tuple[tuple[float, float], ...]]:
    """Return an aerial picture for a web map: its address and two corners.

    Parameters
    ----------
    picture : AerialPicture
        On the grid's plane.

    Returns
    -------
    tuple of (str, tuple)
        A ``data:`` address, and latitude and longitude of the south-west and the
        north-east corner [degrees].
    """
    bands, transform = warped(picture.bands, picture, picture.cell_size_m)
    return photo_uri(bands), corners_of(bands, transform)
