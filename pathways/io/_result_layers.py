"""Findings as layers: the lines, areas and points of a GeoPackage.

Fields bear the names of `pathways.io.results` and take their values from it; a list
becomes JSON text. Geometries are not rounded.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import shapely
from shapely import Geometry, LineString, MultiPolygon, Point, Polygon

from pathways.assessment import Assessment
from pathways.io._reach import reach_rows
from pathways.io._spills import spill_rows
from pathways.io.results import results_document
from pathways.terrain.pathway import OUTCOMES, Leg

#: Rule, citation, distance [m] and the area within that distance.

Kind = Literal["text", "real", "integer", "boolean"]
Row = dict[str, Any]


def _fields(*, text: str = "", real: str = "", integer: str = "") -> dict[str, Kind]:
    kinds: tuple[tuple[Kind, str], ...] = (
        ("integer", integer),
        ("text", text),
        ("real", real),
    )
    return {name: kind for kind, names in kinds for name in names.split()}


#: Fields of each layer. `pathway` is the place of a pathway in the list, from 1.
FIELDS: Final[Mapping[str, Mapping[str, Kind]]] = {
    "pathways": _fields(
        integer="pathway",
        text="source_id source_kind source_name outcome why receptor_id receptor_kind "
        "surfaces via hollows start end passes_near alternatives arrival arrivals "
        "cautions spill",
        real="length_m straight_line_m drop_m mean_slope overtops_at_m",
    ),
    "pathway_legs": _fields(
        integer="pathway leg", text="source_id outcome kind through", real="length_m"
    ),
    "alternatives": _fields(
        integer="pathway",
        text="source_id why outcome receptor_id receptor_kind via critical_volume_l",
        real="length_m",
    ),
    "sites": {
        **_fields(
            integer="rank",
            text="site_id name meets_rules unmet judgements criteria reasons "
            "rank_acceptability critical_volume_l earthwork",
            real="score easting_m northing_m",
        ),
        "existing": "boolean",
    },
    "site_layouts": _fields(integer="rank", text="site_id part"),
    "site_scores": _fields(
        integer="rank",
        text="site_id criterion unit told standing",
        real="value worth weight",
    ),
    "reach": _fields(integer="pathway", text="source_id scenario", real="band"),
    "spills": _fields(
        integer="pathway",
        text="source_id loss state",
        real="volume_l rate_l_per_min film_l hollows_l soaks_l tanks_l past_inlets_l "
        "arrives_l gets_past_low_l gets_past_median_l gets_past_high_l time_low_s "
        "time_median_s time_high_s critical_low_l critical_median_l critical_high_l",
    ),
    "setbacks": _fields(text="rule says citation", real="distance_m"),
    "hollows": _fields(
        integer="pathway",
        text="source_id held_by",
        real="easting_m northing_m capacity_l depth_m level_m area_m2",
    ),
    "sources": _fields(
        integer="pathways", text="source_id source_kind source_name outcome why"
    ),
    "source_areas": _fields(
        integer="pathways", text="source_id source_kind source_name outcome why"
    ),
    "ends": _fields(
        integer="pathway",
        text="source_id outcome why receptor_id receptor_kind",
        real="easting_m northing_m",
    ),
}


@dataclass(frozen=True)
class ResultLayer:
    """One layer, ready to be written."""

    name: str
    geometry_type: str
    rows: Sequence[Row]
    geometries: Sequence[Geometry | None]


def result_layers(assessment: Assessment) -> tuple[ResultLayer, ...]:
    """Return all layers, the empty ones too.

    Parameters
    ----------
    assessment : Assessment
        What was found out about one farm.

    Returns
    -------
    tuple of ResultLayer
        In the order of `FIELDS`.
    """
    document = results_document(assessment)
    found = {
        **_pathway_layers(assessment, document["pathways"]),
        **_source_layers(assessment),
        "sites": [
            (row, site.footprint)
            for site, row in zip(assessment.sites, document["sites"], strict=True)
        ],
        "site_layouts": list(_layouts(assessment)),
        "site_scores": list(_scores(assessment, document["sites"])),
        "reach": list(reach_rows(assessment)),
        "setbacks": [
            (
                {
                    "rule": one.rule,
                    "says": one.says,
                    "citation": one.citation,
                    "distance_m": one.distance_m,
                },
                one.area,
            )
            for one in assessment.setbacks
        ],
    }
    return tuple(_layer(name, found[name]) for name in FIELDS)


def _layouts(assessment: Assessment) -> Iterator[tuple[Row, Geometry]]:
    """Yield the pad and the bed of each site on which there is room for them."""
    for site in assessment.sites:
        for part, shape in (("pad", site.pad), ("bed", site.bed)):
            if shape is not None:
                yield {"site_id": site.site_id, "rank": site.rank, "part": part}, shape


def _scores(
    assessment: Assessment, documents: Iterable[Row]
) -> Iterator[tuple[Row, Geometry]]:
    """Yield each criterion of each site, at the middle of the site."""
    for site, document in zip(assessment.sites, documents, strict=True):
        middle = Point(site.easting_m, site.northing_m)
        for name, row in document["criteria"].items():
            of_site = {"site_id": site.site_id, "rank": site.rank, "criterion": name}
            yield of_site | row, middle


def line_of(legs: Iterable[Leg]) -> LineString | None:
    """Return legs that lie end to end as one line.

    Parameters
    ----------
    legs : iterable of Leg
        In the order of flow.

    Returns
    -------
    LineString or None
        None where there is no way at all, such as from a source in the water.
    """
    places_m = [shapely.get_coordinates(leg.line) for leg in legs]
    if not places_m:
        return None
    way_m = np.concatenate(places_m)
    moves = np.ones(len(way_m), bool)
    moves[1:] = (way_m[1:] != way_m[:-1]).any(axis=1)  # legs share their joints
    way_m = way_m[moves]
    return LineString(way_m) if len(way_m) > 1 else None


_Found = list[tuple[Row, Geometry | None]]

_OF_PATHWAYS: Final = (
    "pathways",
    "pathway_legs",
    "alternatives",
    "hollows",
    "spills",
    "ends",
)


def _pathway_layers(
    assessment: Assessment, documents: Sequence[Row]
) -> dict[str, _Found]:
    layers: dict[str, _Found] = {name: [] for name in _OF_PATHWAYS}
    numbered = enumerate(zip(assessment.pathways, documents, strict=True), start=1)
    for number, (pathway, document) in numbered:
        whose = {"pathway": number, "source_id": pathway.source_id}
        layers["pathways"].append(({**document, **whose}, line_of(pathway.legs)))
        for place, leg in enumerate(pathway.legs, start=1):
            row = {
                "leg": place,
                "outcome": pathway.outcome,
                "kind": leg.kind,
                "through": leg.through,
                "length_m": round(leg.line.length, 3),
            }
            layers["pathway_legs"].append(({**row, **whose}, leg.line))
        for alternative, row in zip(
            pathway.alternatives, document["alternatives"], strict=True
        ):
            layers["alternatives"].append(({**row, **whose}, line_of(alternative.legs)))
        for hollow, row in zip(pathway.hollows, document["hollows"], strict=True):
            place_m = Point(hollow.easting_m, hollow.northing_m)
            layers["hollows"].append(({**row, **whose}, place_m))
        start = Point(pathway.start)
        for row in spill_rows(document["spill"]):
            layers["spills"].append(({**row, **whose}, start))
        row = {**document, **document["end"], **whose}
        layers["ends"].append((row, Point(pathway.end)))
    return layers


def _source_layers(assessment: Assessment) -> dict[str, _Found]:
    points: _Found = []
    areas: _Found = []
    for source in assessment.farm.features.sources:
        own = [one for one in assessment.pathways if one.source_id == source.id]
        worst = min(own, key=lambda one: OUTCOMES.index(one.outcome), default=None)
        row = {
            "pathways": len(own),
            "source_id": source.id,
            "source_kind": source.kind,
            "source_name": source.name,
            # Nothing is called harmless for want of an answer.
            "outcome": worst.outcome if worst else "not_known",
            "why": worst.why if worst else "not_traced",
        }
        points.append((row, shapely.point_on_surface(source.geometry)))
        if isinstance(source.geometry, Polygon | MultiPolygon):
            areas.append((row, source.geometry))
    return {"sources": points, "source_areas": areas}


_GEOMETRY_TYPES: Final[Mapping[str, str]] = {
    **dict.fromkeys(("pathways", "pathway_legs", "alternatives"), "LineString"),
    **dict.fromkeys(("hollows", "spills", "sources", "ends", "site_scores"), "Point"),
    **dict.fromkeys(
        ("sites", "site_layouts", "setbacks", "source_areas", "reach"), "MultiPolygon"
    ),
}


def _layer(name: str, found: _Found) -> ResultLayer:
    geometry_type = _GEOMETRY_TYPES[name]
    rows = [{field: row[field] for field in FIELDS[name]} for row, _ in found]
    geometries = [_drawable(geometry) for _, geometry in found]
    if geometry_type == "MultiPolygon":
        geometries = [_several(geometry) for geometry in geometries]
    types = {one.geom_type for one in geometries if one is not None}
    if not types <= {geometry_type}:
        geometry_type = "Unknown"  # a footprint that is no area is kept as it is
    return ResultLayer(name, geometry_type, rows, geometries)


def _drawable(geometry: Geometry | None) -> Geometry | None:
    """Return a geometry in plan; None where it has no place."""
    if geometry is None or geometry.is_empty:
        return None
    if not np.isfinite(shapely.get_coordinates(geometry)).all():
        return None
    return shapely.force_2d(geometry)


def _several(geometry: Geometry | None) -> Geometry | None:
    return MultiPolygon([geometry]) if isinstance(geometry, Polygon) else geometry


def columns_of(layer: ResultLayer) -> tuple[list[str], list[np.ndarray[Any, Any]]]:
    """Return names and values of a layer's fields, one array a field.

    Parameters
    ----------
    layer : ResultLayer
        One layer.

    Returns
    -------
    names : list of str
        Names of the fields.
    values : list of ndarray
        Text as objects, numbers as float64 (NaN where not known) and int64.
    """
    dtypes: dict[Kind, Any] = {
        "text": object,
        "real": np.float64,
        "integer": np.int64,
        "boolean": np.bool_,
    }
    columns = []
    for name, kind in FIELDS[layer.name].items():
        values = [row[name] for row in layer.rows]
        if kind == "text":
            values = [_text(value) for value in values]
        columns.append(np.array(values, dtype=dtypes[kind]))
    return list(FIELDS[layer.name]), columns


def _text(value: Any) -> str | None:
    if value is None:
        return None
    if not isinstance(value, str):
        value = json.dumps(value, ensure_ascii=False, allow_nan=False)
    # SQLite's text ends at a null, and half a surrogate pair has no UTF-8.
    safe: str = value.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    return safe.replace("\0", "\N{REPLACEMENT CHARACTER}")
