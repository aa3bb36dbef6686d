"""The only door to GDAL: local files of a few formats, no network, no side-cars.

Import `rasterio` and `pyogrio` from here. Each brings a GDAL of its own, which reads
its settings from the environment, so these are set before either is imported. A driver
that is not needed is taken away, because GDAL otherwise opens whatever the content asks
for: a text file named ground.tif that fetches a web page, or an overview likewise.
`check_path` holds also where somebody else imported the two first.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Final

from pathways.errors import InputError

#: Set before GDAL is loaded. Each closes a way by which a file could reach the network,
#: run code, or be overruled by a file beside it (GDAL configuration options,
#: https://gdal.org/en/stable/user/configoptions.html).
SETTINGS: Final = {
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_DRIVER_PATH": "disable",
    "GDAL_HTTP_PROXY": "127.0.0.1:9",
    "GDAL_PAM_ENABLED": "NO",
    "GDAL_VRT_ENABLE_PYTHON": "NO",
    "GDAL_VRT_ENABLE_RAWRASTERBAND": "NO",
    "GTIFF_REPORT_COMPD_CS": "YES",  # else the heights' unit of GeoTIFF 1.0 is dropped
    "PROJ_NETWORK": "OFF",
}
os.environ.update(SETTINGS)

import pyogrio  # type: ignore[import-untyped]  # noqa: E402
import rasterio  # noqa: E402
import rasterio._env  # noqa: E402
import rasterio.control  # noqa: E402
import rasterio.warp  # noqa: E402
import rasterio.windows  # noqa: E402
from pyproj.network import set_network_enabled  # type: ignore[attr-defined]  # noqa: E402

__all__ = [
    "RASTER_ENDINGS",
    "RASTER_FAULTS",
    "VECTOR_ENDINGS",
    "check_path",
    "describe_read_error",
    "driver_of",
    "pyogrio",
    "rasterio",
]

#: What rasterio raises for a file that GDAL cannot make sense of.
RASTER_FAULTS: Final = (
    rasterio.errors.RasterioError,
    rasterio._env.CPLE_BaseError,
    UnicodeDecodeError,
)

RASTER_DRIVERS: Final = frozenset({"AAIGrid", "COG", "GTiff", "MEM", "Memory"})
VECTOR_DRIVERS: Final = frozenset(
    {"ESRI Shapefile", "FlatGeobuf", "GPKG", "GeoJSON", "MEM"}
)

#: Which driver reads a file, by the end of its name.
DRIVERS: Final = {
    ".tif": "GTiff",
    ".tiff": "GTiff",
    ".asc": "AAIGrid",
    ".gpkg": "GPKG",
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
    ".shp": "ESRI Shapefile",
    ".fgb": "FlatGeobuf",
}

RASTER_ENDINGS: Final = (".tif", ".tiff", ".asc")
VECTOR_ENDINGS: Final = (".geojson", ".json", ".gpkg", ".shp", ".fgb")

#: How each format begins: TIFF 6.0 and BigTIFF, SQLite 3 file format 1.3, ESRI
#: Shapefile technical description (July 1998) p. 4, FlatGeobuf specification, RFC 8259,
#: and the first key of an Esri ASCII grid.
_BEGINNINGS: Final = {
    "GTiff": re.compile(rb"II\*\0|MM\0\*|II\+\0|MM\0\+"),
    "AAIGrid": re.compile(rb"\s*(ncols|nrows)\s", re.IGNORECASE),
    "GPKG": re.compile(rb"SQLite format 3\0"),
    "GeoJSON": re.compile(rb"(\xef\xbb\xbf)?\s*\{"),
    "ESRI Shapefile": re.compile(rb"\x00\x00\x27\x0a"),
    "FlatGeobuf": re.compile(rb"fgb\x03"),
}
_FORMAT_NAMES: Final = {
    "GTiff": "GeoTIFF",
    "AAIGrid": "ASCII grid",
    "GPKG": "GeoPackage",
    "ESRI Shapefile": "Shapefile",
}
_BEGINNING_BYTES: Final = 64
#: A scheme has two letters or more, so that a Windows drive is none. `Path` turns
#: "http://host" into "http:/host", hence one slash.
_SCHEME: Final = re.compile(r"(?:^|/)[A-Za-z][A-Za-z0-9+.-]+:/|://")


def _keep_few_drivers() -> None:
    """Take away every driver but ours from both GDALs.

    GDAL reads the list of drivers to skip when it registers them, and complains of
    names that it does not know. Each library is therefore asked for its own names first
    and made to register again. Both handles are private: where a new version lacks one,
    every driver stays and `check_path` is what protects (a test tells us so).
    """
    register_again = getattr(pyogrio._ogr, "_register_drivers", None)
    if register_again is not None:
        os.environ["OGR_SKIP"] = ",".join(set(pyogrio.list_drivers()) - VECTOR_DRIVERS)
        register_again()
        del os.environ["OGR_SKIP"]
    if hasattr(rasterio._env, "_have_registered_drivers"):
        with rasterio.Env() as environment:
            names = set(environment.drivers())
        os.environ["GDAL_SKIP"] = ",".join(names - RASTER_DRIVERS)
        rasterio._env._have_registered_drivers = False
        with rasterio.Env():
            pass
        del os.environ["GDAL_SKIP"]


_keep_few_drivers()
set_network_enabled(active=False)


def driver_of(path: Path) -> str:
    """Return the name of the driver for a file, by the end of its name."""
    return DRIVERS.get(path.suffix.lower(), "")


def check_path(path: Path, endings: tuple[str, ...] = tuple(DRIVERS)) -> None:
    """Refuse whatever is no plain local file of the format that its name promises.

    Parameters
    ----------
    path : Path
        File that GDAL is going to open.
    endings : tuple of str
        Ends of names that are expected there.

    Raises
    ------
    InputError
        If it names a place on the network or inside another file, is no regular file,
        or does not begin as its format does.
    """
    text = path.as_posix()
    address = re.match("/vsi.*", text) or _SCHEME.search(text)
    if address is not None:
        shown = text[address.start() :]
        msg = f"'{shown}' is no file on this machine; save a copy in the farm folder"
        raise InputError(msg)
    if path.is_dir():
        msg = f"'{path.name}' is a folder where a file is needed; name the file in it"
        raise InputError(msg)
    if not path.is_file():
        msg = (
            f"there is no file '{path.name}'; put it into the farm folder or correct "
            "its name in farm.toml"
        )
        raise InputError(msg)
    if path.suffix.lower() not in endings:
        msg = (
            f"'{path.name}' is of a kind that is not read; save it as one of "
            f"{', '.join(endings)}"
        )
        raise InputError(msg)
    _check_beginning(path)


def _check_beginning(path: Path) -> None:
    """Refuse a file that does not begin as its format does."""
    driver = driver_of(path)
    with path.open("rb") as file:
        beginning = file.read(_BEGINNING_BYTES)
    if not _BEGINNINGS[driver].match(beginning):
        name = _FORMAT_NAMES.get(driver, driver)
        what = "is empty" if not beginning else f"does not begin as a {name} file does"
        msg = f"'{path.name}' {what}; export it again as {name}"
        raise InputError(msg)


def describe_read_error(error: Exception | str) -> str:
    """Return what GDAL said, on one line and without paths."""
    cause = getattr(error, "__cause__", None) or error  # GDAL's own words, if any
    words = re.sub(r"(/[^\s:,'\"]+)+/", "", str(cause))
    return " ".join(words.split())[:200].rstrip(". ")
