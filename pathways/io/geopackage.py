"""Findings as a GeoPackage that a desktop GIS opens with its styles.

OGC GeoPackage Encoding Standard 1.2 and later, https://www.geopackage.org/spec/. The
same assessment gives the same bytes: the dates that the format asks for are fixed, and
``run.json`` tells when the results were made.
"""

from __future__ import annotations

import pathways.io._gdal  # noqa: F401  settings of GDAL come before GDAL

# isort: split

import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyogrio  # type: ignore[import-untyped]
import pyogrio.errors  # type: ignore[import-untyped]
import pyogrio.raw  # type: ignore[import-untyped]
import shapely

from pathways.assessment import Assessment
from pathways.errors import OutputError
from pathways.io._result_layers import (
    DESCRIPTIONS,
    ResultLayer,
    Setback,
    columns_of,
    result_layers,
)
from pathways.io.results import SCHEMA
from pathways.io.run_record import settings_sha256, version_of
from pathways.io.styles import LAYER_LOOKS, qml

#: Written where the format asks for a moment (measured: GDAL takes its own from
#: OGR_CURRENT_DATE, and SOURCE_DATE_EPOCH has no effect).
_FIXED_MOMENT: Final = "2000-01-01T00:00:00.000Z"

#: As desktop GIS make it themselves when a style is saved into a database.
_STYLE_TABLE: Final = """
CREATE TABLE layer_styles (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256),
    f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT,
    useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30),
    update_time DATETIME
)"""

_WRITING_FAILS: Final = (
    sqlite3.Error,
    pyogrio.errors.DataSourceError,
    pyogrio.errors.DataLayerError,
    pyogrio.errors.FeatureError,
)


def write_geopackage(
    assessment: Assessment, path: Path, *, setbacks: Sequence[Setback] = ()
) -> None:
    """Write all layers, their styles and what made them.

    Parameters
    ----------
    assessment : Assessment
        What was found out about one farm.
    path : Path
        The file to write; what is there is replaced.
    setbacks : sequence of (rule, citation, distance_m, area)
        Areas within the distances of the rules, in the farm's system.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    path.unlink(missing_ok=True)
    try:
        with _fixed_moment():
            for layer in result_layers(assessment, setbacks):
                _write_layer(layer, path, assessment)
        _write_styles(path)
    except _WRITING_FAILS as error:
        # GDAL's own words can be pages of SQL; --debug shows them as the cause.
        msg = (
            f"cannot write {path.name}; see that the disk is not full, "
            "or give another folder"
        )
        raise OutputError(msg) from error


def check_geopackage(
    assessment: Assessment, path: Path, *, setbacks: Sequence[Setback] = ()
) -> None:
    """Read a written GeoPackage back.

    Parameters
    ----------
    assessment, setbacks
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
            if base.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
                raise OutputError(damage)
            for layer in result_layers(assessment, setbacks):
                # A layer's name is one of our own few.
                query = f'SELECT count(*), count(geom) FROM "{layer.name}"'  # noqa: S608
                placed = sum(one is not None for one in layer.geometries)
                if base.execute(query).fetchone() != (len(layer.rows), placed):
                    raise OutputError(damage)
            styles = base.execute("SELECT count(*) FROM layer_styles").fetchone()
            if styles != (len(LAYER_LOOKS),):
                raise OutputError(damage)
    except sqlite3.Error as error:
        raise OutputError(damage) from error


def _write_layer(layer: ResultLayer, path: Path, assessment: Assessment) -> None:
    names, columns = columns_of(layer)
    pyogrio.raw.write(
        path,
        shapely.to_wkb(np.array(layer.geometries, dtype=object)),
        columns,
        names,
        layer=layer.name,
        driver="GPKG",
        geometry_type=layer.geometry_type,
        crs=assessment.farm.grid.crs,
        promote_to_multi=False,
        # It belongs to the file, not to each layer.
        dataset_metadata=None if path.exists() else _metadata(assessment),
        layer_options={
            "DESCRIPTION": DESCRIPTIONS[layer.name],
            "IDENTIFIER": layer.name.replace("_", " "),
            "GEOMETRY_NAME": "geom",
        },
    )


def _metadata(assessment: Assessment) -> dict[str, str]:
    farm = assessment.farm.settings.farm
    told = {
        "made_by": f"farm-pathways {version_of()}",
        "schema": SCHEMA,
        "farm_id": farm.id,
        "farm_name": farm.name,
        "settings_sha256": settings_sha256(assessment.farm.settings),
        "cautions": "\n".join(assessment.cautions),
    }
    # GDAL keeps it as XML, which has no control characters and no surrogates.
    return {
        name: re.sub(r"[^\t\n\x20-\ud7ff\ue000-\U0010ffff]", "\ufffd", value)
        for name, value in told.items()
    }


def _write_styles(path: Path) -> None:
    with closing(sqlite3.connect(path)) as base, base:
        base.execute(_STYLE_TABLE)
        base.execute(
            "INSERT INTO gpkg_contents"
            " (table_name, data_type, identifier, description, last_change)"
            " VALUES ('layer_styles', 'attributes', 'layer_styles', '', ?)",
            (_FIXED_MOMENT,),
        )
        base.executemany(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name,"
            " f_geometry_column, styleName, styleQML, styleSLD, useAsDefault,"
            " description, owner, update_time)"
            " VALUES ('', '', ?, 'geom', ?, ?, '', 1, ?, '', ?)",
            [
                (name, name, qml(look), DESCRIPTIONS[name], _FIXED_MOMENT)
                for name, look in LAYER_LOOKS.items()
            ],
        )


@contextmanager
def _fixed_moment() -> Iterator[None]:
    earlier: Any = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": _FIXED_MOMENT})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": earlier})
