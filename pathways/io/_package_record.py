"""What a GeoPackage says of itself: what made it, from what, and what to beware of.

Extension `gpkg_metadata` of the OGC GeoPackage Encoding Standard 1.3.1 (OGC
12-128r18, annex F.8). Two records: name and text as XML, which GDAL writes and desktop
GIS show, for the file and for each layer; and the whole of ``run.json`` but its moment
as JSON, for the file.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Mapping
from typing import Any, Final

from pathways.assessment import Assessment
from pathways.io.results import SCHEMA
from pathways.io.run_record import settings_sha256, version_of

#: Written where the format asks for a moment: the same input gives the same bytes, and
#: ``run.json`` tells when results were made.
FIXED_MOMENT: Final = "2000-01-01T00:00:00.000Z"

#: The number of the record that GDAL writes.
_TOLD: Final = 1
#: Who says what JSON is; the standard asks for an address.
_JSON_STANDARD: Final = "https://www.rfc-editor.org/rfc/rfc8259"


def told_to_people(assessment: Assessment, record: Mapping[str, Any]) -> dict[str, str]:
    """Return what a desktop GIS shows about the file.

    Parameters
    ----------
    assessment : Assessment
        What was found out about one farm.
    record : mapping
        How it was made, as in ``run.json``; may be empty.

    Returns
    -------
    dict of str
        Texts by name, fit for XML.
    """
    farm = assessment.farm.settings.farm
    told = {
        "made_by": f"farm-pathways {version_of()}",
        "schema": SCHEMA,
        "farm_id": farm.id,
        "farm_name": farm.name,
        "settings_sha256": settings_sha256(assessment.farm.settings),
        "inputs": "\n".join(
            f"{one['name']} (SHA-256 {one['sha256']})"
            for one in record.get("inputs", ())
        ),
        "reprojections": _reprojections(record.get("operations", ())),
        "cautions": "\n".join(assessment.cautions),
    }
    # XML has no control characters and no surrogates.
    return {
        name: re.sub(r"[^\t\n\x20-\ud7ff\ue000-\U0010ffff]", "\ufffd", value)
        for name, value in told.items()
        if value
    }


def _reprojections(operations: Iterable[Mapping[str, Any]]) -> str:
    layers: dict[str, list[str]] = {}
    for one in operations:
        layers.setdefault(one["operation"], []).append(one["layer"])
    return "\n".join(f"{', '.join(names)}: {what}" for what, names in layers.items())


def add_record(
    base: sqlite3.Connection, record: Mapping[str, Any], layers: Iterable[str]
) -> None:
    """Add the run's record, and refer each layer to what is told of the file.

    Parameters
    ----------
    base : sqlite3.Connection
        A GeoPackage into which GDAL has written its own record.
    record : mapping
        How the results were made, as in ``run.json``.
    layers : iterable of str
        Names of tables.
    """
    refer = (
        "INSERT INTO gpkg_metadata_reference"
        " (reference_scope, table_name, timestamp, md_file_id) VALUES (?, ?, ?, ?)"
    )
    base.executemany(refer, [("table", name, FIXED_MOMENT, _TOLD) for name in layers])
    added = base.execute(
        "INSERT INTO gpkg_metadata (md_scope, md_standard_uri, mime_type, metadata)"
        " VALUES ('dataset', ?, 'application/json', ?)",
        (_JSON_STANDARD, record_text(record)),
    )
    base.execute(refer, ("geopackage", None, FIXED_MOMENT, added.lastrowid))


def record_text(record: Mapping[str, Any]) -> str:
    """Return a run's record as JSON, without the moment of the run.

    Parameters
    ----------
    record : mapping
        How the results were made, as in ``run.json``.

    Returns
    -------
    str
        JSON; the same for two runs of the same farm.

    Examples
    --------
    >>> record_text({"schema": "farm-pathways/1", "made_at": "now"})
    '{"schema": "farm-pathways/1"}'
    """
    kept = {name: value for name, value in record.items() if name != "made_at"}
    # ASCII: half a surrogate pair in a name has no UTF-8.
    return json.dumps(kept, allow_nan=False)
