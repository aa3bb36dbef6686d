"""An empty farm folder, to be filled in a text editor and a desktop GIS."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
from pydantic.fields import FieldInfo
from pyproj import CRS

from pathways.errors import CrsError, OutputError
from pathways.features import LAYERS, fields_of
from pathways.io._fields import type_of
from pathways.io._gdal import pyogrio
from pathways.io._settings_file import FILE_NAME, choices_in, model_of
from pathways.io.crs import flat_crs, parse_crs
from pathways.settings import Settings

_GEOPACKAGE: Final = "features.gpkg"
_HEAD: Final = """\
# A farm. Every key is listed with what it means and its default; take the # off a key
# to set it. Put the raster of heights beside this file as ground.tif, and draw in
# features.gpkg with a GIS program. Then run: pathways check, with this folder.
"""
#: The same where the ground is there and a page is drawn on.
HEAD_TO_DRAW: Final = """\
# A farm. Every key is listed with what it means and its default; take the # off a key
# to set it. Open draw.html in a browser, draw, save, and put the saved file
# features.geojson beside this one. Then run: pathways check, with this folder.
"""


def write_new_farm(folder: Path, crs: str, *, overwrite: bool = False) -> None:
    """Write an empty farm: farm.toml with every key, features.gpkg with every layer.

    Parameters
    ----------
    folder : Path
        Where to write; it is made if need be.
    crs : str
        Projected system in metres that the farm is drawn in: EPSG code or WKT.
    overwrite : bool, default False
        Whether files of an earlier farm there may be replaced.

    Raises
    ------
    CrsError
        If the system is not known or not in metres.
    OutputError
        If there is a farm already, or it cannot be written.
    """
    system = _metric(crs)
    folder = Path(folder)
    names = (FILE_NAME, _GEOPACKAGE)
    there = [name for name in names if (folder / name).exists()]
    if there and not overwrite:
        msg = (
            f"'{folder.name}' holds {' and '.join(there)} already; choose another "
            "folder or allow overwriting"
        )
        raise OutputError(msg)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=".new-farm-", dir=folder))
        try:
            (aside / FILE_NAME).write_text(settings_text(), encoding="utf-8")
            _write_layers(aside / _GEOPACKAGE, system)
            for name in names:
                (aside / name).replace(folder / name)
        finally:
            shutil.rmtree(aside, ignore_errors=True)
    except (OSError, pyogrio.errors.DataSourceError) as error:
        msg = (
            f"the new farm cannot be written into '{folder.name}' ({error}); choose a "
            "folder that you may write to"
        )
        raise OutputError(msg) from error


def _metric(text: str) -> CRS:
    """Return a projected system in metres."""
    system = flat_crs(parse_crs(text))
    units = {axis.unit_conversion_factor for axis in system.axis_info}
    if not system.is_projected or units != {1.0}:
        msg = (
            f"{system.name} is no projected system in metres; give your national grid, "
            "such as EPSG:27700"
        )
        raise CrsError(msg)
    return system


def settings_text(head: str = _HEAD, *, ground: Mapping[str, Any] | None = None) -> str:
    """Return a farm.toml with every key commented out at its default.

    Parameters
    ----------
    head : str
        What its first lines say.
    ground : mapping, optional
        Keys of `[ground]` that are set, with their values.

    Examples
    --------
    >>> "# survey_date = " in settings_text()
    True
    """
    lines = [head]
    for table in Settings.model_fields:
        lines.append(f"[{table}]")
        for key, inner in model_of(table).model_fields.items():
            lines += _key_lines(key, inner)
            if table == "ground" and ground and key in ground:
                lines[-1] = f"{key} = {_toml(ground[key])}"
        lines.append("")
    return "\n".join(lines)


def _key_lines(key: str, field: FieldInfo) -> Iterator[str]:
    """Give what a key means, what it may be, and its default."""
    yield f"# {field.description}"
    choices = choices_in(field.annotation)
    if choices:
        yield f"# one of: {', '.join(choices)}"
    if field.default is None:
        example = f'"{choices[0]}"' if choices else "1.0"
        yield f"# {key} = {example}  # an example; it has no default"
    else:
        yield f"# {key} = {_toml(field.default)}"


def _toml(value: Any) -> str:
    """Return a default as TOML writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list):
        return f"[{', '.join(_toml(one) for one in value)}]"
    return "{}" if isinstance(value, dict) else str(value)


def _write_layers(path: Path, system: CRS) -> None:
    """Write every layer and field of the data contract, without features."""
    for layer, described in LAYERS.items():
        fields = fields_of(layer)
        kinds = described.geometries
        pyogrio.raw.write(
            path,
            np.array([], dtype=object),
            [
                np.array([], dtype=_stored_as(type_of(layer, one.name)))
                for one in fields
            ],
            [one.name for one in fields],
            layer=layer,
            driver="GPKG",
            geometry_type=kinds[0] if len(kinds) == 1 else "Unknown",
            crs=system.to_wkt(),
        )
    # What was written is read once: a full disk can leave a damaged file and no error.
    written = {str(name) for name, _ in pyogrio.list_layers(path)}
    if written != set(LAYERS):
        msg = f"'{path.name}' was not written whole; check that the disk is not full"
        raise OutputError(msg)


def _stored_as(kind: type) -> type:
    """Return the type of column that holds a kind of value."""
    return kind if kind in (float, bool) else object
