"""Findings as a GeoPackage that a desktop GIS opens with its styles.

OGC GeoPackage Encoding Standard 1.3.1 (OGC 12-128r18,
https://www.geopackage.org/spec131/). The same assessment gives the same bytes: the
dates that the format asks for are fixed, and ``run.json`` tells when the results were
made.
"""

from __future__ import annotations

import pathways.io._gdal  # noqa: F401  settings of GDAL come before GDAL

# isort: split

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import pyogrio  # type: ignore[import-untyped]
import pyogrio.errors  # type: ignore[import-untyped]
import pyogrio.raw  # type: ignore[import-untyped]
import shapely

from pathways.assessment import Assessment
from pathways.errors import OutputError
from pathways.io._layer_titles import TITLES, described
from pathways.io._package_record import (
    FIXED_MOMENT,
    add_record,
    record_text,
    told_to_people,
)
from pathways.io._result_layers import (
    ResultLayer,
    columns_of,
    result_layers,
)
from pathways.io.styles import LAYER_LOOKS, qml

#: The newest that GDAL 3.6 of Debian 12 opens without a warning: it says of 1.4, which
#: newer GDAL write unasked, that it "may only be partially supported" (measured).
_VERSION: Final = "1.3"
#: The same as the file says it (requirement 2 of the standard).
_USER_VERSION: Final = 10300

#: As desktop GIS make it themselves when a style is saved into a database.
_STYLE_TABLE: Final = """
CREATE TABLE layer_styles (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256),
    f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT,
    useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30),
    update_time DATETIME
)"""

#: Where nobody kept a record of the run.
_NO_RECORD: Final[Mapping[str, Any]] = MappingProxyType({})

_WRITING_FAILS: Final = (
    sqlite3.Error,
    pyogrio.errors.DataSourceError,
    pyogrio.errors.DataLayerError,
    pyogrio.errors.FeatureError,
)


def write_geopackage(
    assessment: Assessment,
    path: Path,
    *,
    record: Mapping[str, Any] = _NO_RECORD,
) -> None:
    """Write all layers, their styles and what made them.

    Parameters
    ----------
    assessment : Assessment
        What was found out about one farm.
    path : Path
        The file to write; what is there is replaced.
    record : mapping
        How the results were made, as in ``run.json``; its moment is left out.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    path.unlink(missing_ok=True)
    try:
        with _fixed_moment():
            for layer in result_layers(assessment):
                # It belongs to the file, not to each layer.
                told = None if path.exists() else told_to_people(assessment, record)
                _write_layer(layer, path, assessment.farm.grid.crs, told)
        with closing(sqlite3.connect(path)) as base, base:
            _add_styles(base)
            add_record(base, record, TITLES)
    except _WRITING_FAILS as error:
        # GDAL's own words can be pages of SQL; --debug shows them as the cause.
        msg = (
            f"cannot write {path.name}; see that the disk is not full, "
            "or give another folder"
        )
        raise OutputError(msg) from error


def check_geopackage(
    assessment: Assessment,
    path: Path,
    *,
    record: Mapping[str, Any] = _NO_RECORD,
) -> None:
    """Read a written GeoPackage back.

    Parameters
    ----------
    assessment, record
        What was written.
    path : Path
        The file to read.

    Raises
    ------
    OutputError
        If the database is damaged, or a layer does not hold what was written.
    """
    damage = f"{path.name} was damaged while it was written; check the disk"
    try:
        with closing(
            sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
        ) as base:
            whole = all(
                base.execute(query).fetchall() == rows
                for query, rows in _expected(assessment, record)
            )
    except sqlite3.Error as error:
        raise OutputError(damage) from error
    if not whole:
        raise OutputError(damage)


def _expected(
    assessment: Assessment, record: Mapping[str, Any]
) -> Iterator[tuple[str, list[tuple[Any, ...]]]]:
    """Yield what to ask of a whole file, and the answer."""
    yield "PRAGMA integrity_check", [("ok",)]
    yield "PRAGMA foreign_key_check", []
    yield "PRAGMA user_version", [(_USER_VERSION,)]
    for layer in result_layers(assessment):
        placed = sum(one is not None for one in layer.geometries)
        # A layer's name is one of our own few.
        yield (
            f'SELECT count(*), count(geom) FROM "{layer.name}"',  # noqa: S608
            [(len(layer.rows), placed)],
        )
    yield "SELECT count(*) FROM layer_styles", [(len(LAYER_LOOKS),)]
    yield (
        "SELECT metadata FROM gpkg_metadata WHERE mime_type = 'application/json'",
        [(record_text(record),)],
    )
    # Each layer says what made it, and the file does so in two ways.
    yield "SELECT count(*) FROM gpkg_metadata_reference", [(len(TITLES) + 2,)]


def _write_layer(
    layer: ResultLayer, path: Path, crs: str, told: dict[str, str] | None
) -> None:
    names, columns = columns_of(layer)
    pyogrio.raw.write(
        path,
        shapely.to_wkb(np.array(layer.geometries, dtype=object)),
        columns,
        names,
        layer=layer.name,
        driver="GPKG",
        geometry_type=layer.geometry_type,
        crs=crs,
        promote_to_multi=False,
        dataset_metadata=told,
        dataset_options={"VERSION": _VERSION},
        layer_options={
            "DESCRIPTION": described(layer.name),
            "IDENTIFIER": TITLES[layer.name],
            "GEOMETRY_NAME": "geom",
        },
    )


def _add_styles(base: sqlite3.Connection) -> None:
    base.execute(_STYLE_TABLE)
    base.execute(
        "INSERT INTO gpkg_contents"
        " (table_name, data_type, identifier, description, last_change)"
        " VALUES ('layer_styles', 'attributes', 'Styles', ?, ?)",
        ("How a desktop GIS draws the layers", FIXED_MOMENT),
    )
    base.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name,"
        " f_geometry_column, styleName, styleQML, styleSLD, useAsDefault,"
        " description, owner, update_time)"
        " VALUES ('', '', ?, 'geom', ?, ?, '', 1, ?, '', ?)",
        [
            (name, name, qml(look), described(name), FIXED_MOMENT)
            for name, look in LAYER_LOOKS.items()
        ],
    )


@contextmanager
def _fixed_moment() -> Iterator[None]:
    earlier: Any = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": FIXED_MOMENT})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": earlier})
