"""How a set of results was made: versions, inputs, settings, reprojections.

Nothing here tells where on a machine a farm lies or who sat at it: the record is made
to be handed on. `made_at` is all that differs between two runs of the same farm.
"""

from __future__ import annotations

import pathways.io._gdal  # noqa: F401  settings of GDAL come before GDAL

# isort: split

import hashlib
import json
import platform
import sqlite3
from collections.abc import Iterable
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any, Final

import pyproj
import shapely

from pathways.errors import Notice
from pathways.io.results import SCHEMA, notices_in_words
from pathways.settings import Settings

_PACKAGE: Final = "farm-pathways"
#: Packages whose version can change a result or its looks.
_PACKAGES: Final = (
    _PACKAGE,
    "numpy",
    "numba",
    "shapely",
    "pyproj",
    "rasterio",
    "pyogrio",
    "folium",
)


def run_document(
    *,
    inputs: Iterable[tuple[str, str]],
    operations: Iterable[tuple[str, str, float | None]],
    settings: Settings,
    notices: Iterable[Notice],
    witness: dict[str, Any] | None = None,
    made_at: datetime | None = None,
) -> dict[str, Any]:
    """Return how the results were made, ready for JSON.

    Parameters
    ----------
    inputs : iterable of (str, str)
        Every file that was read: its name from the farm folder on, and the SHA-256 of
        its content.
    operations : iterable of (str, str, float or None)
        Every reprojection: the layer, PROJ's operation, and the accuracy that PROJ
        states for it [m].
    settings : Settings
        What the run depended on.
    notices : iterable of Notice
        What a reader of the results must know.
    witness : dict, optional
        Whether a second program fills the ground alike; None if it was not asked.
    made_at : datetime, optional
        Moment of the run, with its time zone; now if not given.

    Returns
    -------
    dict
        Plain values, for `pathways.io.results.write_results`.
    """
    moment = (made_at or datetime.now(UTC)).astimezone(UTC)
    document = {
        "schema": SCHEMA,
        "made_at": moment.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "versions": versions(),
        "platform": {"system": platform.system(), "machine": platform.machine()},
        "inputs": [{"name": name, "sha256": sha256} for name, sha256 in inputs],
        "settings": _settings(settings),
        "settings_sha256": settings_sha256(settings),
        "operations": [
            {"layer": layer, "operation": operation, "accuracy_m": accuracy_m}
            for layer, operation, accuracy_m in operations
        ],
        "warnings": notices_in_words(notices),
        "witness": witness,
    }
    return dict(_without_home(document))


def settings_sha256(settings: Settings) -> str:
    """Return a hash of settings, defaults included.

    Parameters
    ----------
    settings : Settings
        What a run depends on.

    Returns
    -------
    str
        Hexadecimal SHA-256 of the settings as they stand in ``run.json``.

    Examples
    --------
    >>> settings_sha256(Settings()) == settings_sha256(Settings())
    True
    """
    text = json.dumps(_settings(settings), sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def versions() -> dict[str, str]:
    """Return the versions of all that can change a result.

    Returns
    -------
    dict of str
        By name. Two GDALs take part: one comes with rasterio, one with pyogrio.
    """
    import pyogrio  # type: ignore[import-untyped]  # each brings a GDAL, which is slow to load
    import rasterio

    return {
        "python": platform.python_version(),
        **{name: version_of(name) for name in _PACKAGES},
        "GEOS": shapely.geos_version_string,
        "PROJ": pyproj.proj_version_str,
        "GDAL of rasterio": rasterio.__gdal_version__,
        "GDAL of pyogrio": pyogrio.__gdal_version_string__,
        "SQLite": sqlite3.sqlite_version,
    }


def version_of(package: str = _PACKAGE) -> str:
    """Return the version of an installed package.

    Parameters
    ----------
    package : str
        Its name; this one's if not given.

    Returns
    -------
    str
        Its version; "not installed" where it runs from a folder of source code.
    """
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return "not installed"


def _settings(settings: Settings) -> dict[str, Any]:
    """Return settings without the folders of files named by their whole path."""
    values = settings.model_dump(mode="json")
    values["ground"]["files"] = [_name(one) for one in values["ground"]["files"]]
    values["features"]["path"] = _name(values["features"]["path"])
    values["rules"]["file"] = _name(values["rules"]["file"])
    return values


def _name(path: str) -> str:
    for kind in (PurePosixPath, PureWindowsPath):
        if kind(path).is_absolute() or path.startswith("~"):
            return kind(path).name
    return path


def _without_home(value: Any) -> Any:
    """Cut the home folder, and with it the user's name, from all texts."""
    if isinstance(value, dict):
        return {key: _without_home(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_without_home(one) for one in value]
    home = str(Path.home())
    if isinstance(value, str) and len(home) > 1:  # a service may live in "/"
        return value.replace(home, "~")
    return value
