"""One GeoJSON file that holds every layer, as the drawing page saves it.

Each feature says in its property `layer` where it belongs. What the page knows besides
stands in the member `farm_pathways` (RFC 7946, section 6.1: foreign members): which
layers somebody looked for in vain, and by which operation its places were worked out.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, get_args

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from pathways.errors import FeatureError, InputError
from pathways.features import LAYERS
from pathways.io._findings import Findings, did_you_mean, folded
from pathways.io._gdal import VECTOR_ENDINGS, check_path, driver_of
from pathways.io._geojson import geojson_content, geojson_crs
from pathways.io._layers import (
    MOST_FEATURES,
    MOST_VERTICES,
    LayerFile,
    RawLayer,
    field_columns,
    refusal_code,
)
from pathways.settings import NotThere

_OURS: Final = "farm_pathways"
_LAYER: Final = "layer"
_KINDS: Final = ("Point", "LineString", "Polygon")


@dataclass(frozen=True)
class DrawingFile:
    """What one file of a drawing holds.

    Parameters
    ----------
    layers : tuple of LayerFile
        The layers in it, in the order of the data contract.
    rows : mapping of str to tuple of (int, dict)
        Features of each layer with their number in the file, from 1.
    none_here : tuple of str
        Layers and kinds of zones that were looked for and are not there.
    placed_by : str
        Operation that worked out its places from those of the ground, if it says so.
    """

    layers: tuple[LayerFile, ...] = ()
    rows: Mapping[str, tuple[tuple[int, dict[str, Any]], ...]] | None = None
    none_here: tuple[str, ...] = ()
    placed_by: str = ""


def is_drawing_file(path: Path) -> bool:
    """Return whether a path names one GeoJSON file for all layers."""
    return driver_of(path) == "GeoJSON" and not path.is_dir()


def open_drawing_file(path: Path, findings: Findings) -> DrawingFile:
    """Return what a file holds, its features sorted into layers.

    A feature that names no layer, or an unknown one, is told as an error.
    """
    try:
        check_path(path, VECTOR_ENDINGS)
        crs = geojson_crs(path)
        content = geojson_content(path)
        _check_count(content)
    except InputError as error:
        findings.error(refusal_code(error), str(error), path.name)
        return DrawingFile()
    rows: dict[str, list[tuple[int, dict[str, Any]]]] = {}
    for number, feature in enumerate(_features_of(content), start=1):
        layer = _layer_of(feature, number, path, findings)
        if layer:
            rows.setdefault(layer, []).append((number, feature))
    ours = content.get(_OURS)
    ours = ours if isinstance(ours, dict) else {}
    placed_by = ours.get("placed_by")
    return DrawingFile(
        tuple(LayerFile(one, path, one, crs) for one in LAYERS if one in rows),
        {layer: tuple(several) for layer, several in rows.items()},
        tuple(_none_here(ours.get("none_here"), path, findings)),
        placed_by if isinstance(placed_by, str) else "",
    )


def _features_of(content: dict[str, Any]) -> list[Any]:
    return content["features"] if content["type"] != "Feature" else [content]


def _check_count(content: dict[str, Any]) -> None:
    count = len(_features_of(content))
    if count > MOST_FEATURES:
        msg = (
            f"it has {count:,} features and at most {MOST_FEATURES:,} are read; cut "
            "out the farm"
        )
        raise FeatureError(msg)


def _layer_of(feature: Any, number: int, path: Path, findings: Findings) -> str:
    """Return the layer that a feature belongs to, or nothing and an error."""
    properties = feature.get("properties") if isinstance(feature, dict) else None
    if not isinstance(properties, dict) or feature.get("type") != "Feature":
        text = "it is no GeoJSON feature with properties; draw it again"
        findings.error("feature_refused", text, path.name, f"feature {number}")
        return ""
    called = properties.get("id")
    where = f"feature {number}"
    if isinstance(called, str | int) and str(called).strip():
        where = f"{where} ({str(called)[:80]})"
    said = properties.get(_LAYER)
    if not isinstance(said, str) or not said.strip():
        text = (
            "it does not say in 'layer' which layer it belongs to; write one of "
            f"{', '.join(LAYERS)}, or keep one file a layer in a folder features/"
        )
        findings.error("layer_missing", text, path.name, where)
        return ""
    layer = folded(said)
    if layer not in LAYERS:
        hint = did_you_mean(said, LAYERS) or f"; it must be one of {', '.join(LAYERS)}"
        text = f"its 'layer' is '{said[:80]}', which is not known{hint}"
        findings.error("layer_unknown", text, path.name, where)
        return ""
    return layer


def _none_here(said: Any, path: Path, findings: Findings) -> Iterator[str]:
    """Give what the drawing says is not there; refuse what is no name of that list."""
    known = get_args(NotThere)
    if said is None:
        return
    for one in said if isinstance(said, list) else [said]:
        if isinstance(one, str) and one in known:
            yield one
            continue
        text = (
            f"'none_here' in it holds '{str(one)[:80]}', and may hold only "
            f"{', '.join(known)}{did_you_mean(str(one), known)}"
        )
        findings.error("none_here_refused", text, path.name)


def rows_as_layer(file: DrawingFile, layer: LayerFile, findings: Findings) -> RawLayer:
    """Return the features of one layer as other files store them.

    Raises
    ------
    FeatureError
        If there are too many vertices.
    """
    assert file.rows is not None  # noqa: S101  a file with layers has rows
    assert layer.crs is not None  # noqa: S101  given for every GeoJSON
    rows = file.rows[layer.layer]
    stored = [row.get("geometry") for _, row in rows]
    geometries = np.array([_geometry(one) for one in stored], object)
    if int(shapely.get_num_coordinates(geometries).sum()) > MOST_VERTICES:
        msg = f"it has more than {MOST_VERTICES:,} vertices; cut out the farm"
        raise FeatureError(msg)
    names = dict.fromkeys(name for _, row in rows for name in row["properties"])
    names.pop(_LAYER, None)
    return RawLayer(
        layer.layer,
        layer.path.name,
        CRS(layer.crs),
        geometries,
        np.array([one is not None for one in stored], bool)
        & shapely.is_missing(geometries),
        {
            field: _column(rows, column)
            for field, column in field_columns(layer, list(names), findings).items()
        },
        np.array([number for number, _ in rows], np.int64),
    )


def _geometry(stored: Any) -> shapely.Geometry | None:
    """Return a geometry, or None where there is none or it cannot be read."""
    if not isinstance(stored, dict):
        return None
    kind = str(stored.get("type")).removeprefix("Multi")
    if kind not in _KINDS and stored.get("type") != "GeometryCollection":
        return None
    return shapely.from_geojson(json.dumps(stored), on_invalid="ignore")


def _column(
    rows: tuple[tuple[int, dict[str, Any]], ...], name: str
) -> NDArray[np.object_]:
    """Return the values of one property, None where a feature has none."""
    values = np.empty(len(rows), object)
    for place, (_, row) in enumerate(rows):
        values[place] = row["properties"].get(name)
    return values
