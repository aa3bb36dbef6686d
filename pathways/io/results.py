"""Findings as one JSON document, of which each number is rounded in one place.

The document is the form in which findings leave the program: the GeoPackage takes its
fields from it, so that two files of one run never differ by a rounding.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import shapely
from shapely import Geometry

from pathways.assessment import Assessment
from pathways.assumptions import Assumption
from pathways.errors import Notice, OutputError
from pathways.farm import Farm
from pathways.io._design import design_document
from pathways.io._numbers import DIGITS, RATIO_DIGITS, number, quantiles
from pathways.io._spills import (
    alternative_documents,
    critical_document,
    spill_document,
)
from pathways.siting.site import Criterion, Judgement, Site
from pathways.terrain.pathway import Arrival, Hollow, Pathway
from pathways.terrain.shares import Share

#: Name and number of the form; a change that breaks readers gets a new number.
SCHEMA = "farm-pathways/1"


def results_document(assessment: Assessment) -> dict[str, Any]:
    """Return all findings as plain values, ready for JSON.

    Parameters
    ----------
    assessment : Assessment
        What was found out about one farm.

    Returns
    -------
    dict
        By the schema ``farm-pathways/1``. Lengths are metres, volumes litres, slopes
        m/m; what is not known is None. Coordinates, those of the GeoJSON of footprints
        included, are in the farm's own system ``crs_wkt``.
    """
    farm = assessment.farm
    notices = dict.fromkeys((*farm.notices, *assessment.notices))
    return {
        "schema": SCHEMA,
        "farm": _farm(farm),
        "pathways": [
            {
                **_pathway(one),
                "alternatives": alternative_documents(one, spill),
                "spill": spill_document(spill),
            }
            for one, spill in assessment.told
        ],
        "sites": [_site(one) for one in assessment.sites],
        "sizing": design_document(assessment.design),
        "without_building": [
            {
                "id": one.id,
                "title": one.title,
                "says": one.says,
                "needs": list(one.needs),
                "standing": one.standing,
                "source": one.source,
                "on_this_farm": list(one.on_this_farm),
            }
            for one in assessment.ways_without
        ],
        "assumptions": [_assumption(one) for one in assessment.assumptions],
        "warnings": notices_in_words(notices),
        "cautions": list(assessment.cautions),
        "not_yet_assessed": list(assessment.not_yet_assessed),
    }


def notices_in_words(notices: Iterable[Notice]) -> list[dict[str, str]]:
    """Return notices as plain values.

    Parameters
    ----------
    notices : iterable of Notice
        What a reader of the results must know.

    Returns
    -------
    list of dict
        With ``code``, ``text`` and ``where`` of each.
    """
    return [{"code": one.code, "text": one.text, "where": one.where} for one in notices]


def write_results(document: Mapping[str, Any], path: Path) -> None:
    """Write a document as JSON in UTF-8; the same document gives the same bytes.

    Parameters
    ----------
    document : mapping
        Plain values without NaN or infinity.
    path : Path
        The file to write.
    """
    path.write_bytes(_encoded(document))


def check_results(document: Mapping[str, Any], path: Path) -> None:
    """Read a written document back.

    Parameters
    ----------
    document : mapping
        What was written.
    path : Path
        The file to read.

    Raises
    ------
    OutputError
        If the file is not what was written.
    """
    if path.read_bytes() != _encoded(document):
        msg = f"{path.name} was damaged while it was written; check the disk"
        raise OutputError(msg)


def _encoded(document: Mapping[str, Any]) -> bytes:
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1)
    # Half a surrogate pair has no UTF-8; its escape is what JSON writes instead.
    return (text + "\n").encode("utf-8", errors="backslashreplace")


def _farm(farm: Farm) -> dict[str, Any]:
    grid = farm.grid
    return {
        "id": farm.settings.farm.id,
        "name": farm.settings.farm.name,
        "crs": grid.crs_name,
        "crs_wkt": grid.crs,
        "cell_size_m": number(grid.cell_size_m, RATIO_DIGITS),
        "extent": [number(edge_m) for edge_m in grid.extent],
    }


def _pathway(pathway: Pathway) -> dict[str, Any]:
    return {
        "source_id": pathway.source_id,
        "source_kind": pathway.source_kind,
        "source_name": pathway.source_name,
        "outcome": pathway.outcome,
        "why": pathway.why,
        "receptor_id": pathway.receptor_id,
        "receptor_kind": pathway.receptor_kind,
        "length_m": number(pathway.length_m),
        "straight_line_m": number(pathway.straight_line_m),
        "drop_m": number(pathway.drop_m),
        "mean_slope": number(pathway.mean_slope, RATIO_DIGITS),
        "surfaces": [
            {"kind": kind, "length_m": number(length_m)}
            for kind, length_m in pathway.surfaces
        ],
        "via": list(pathway.via),
        "hollows": [_hollow(one) for one in pathway.hollows],
        "start": {"kind": pathway.start_kind, **_place(*pathway.start)},
        "end": _place(*pathway.end),
        "overtops_at_m": number(pathway.overtops_at_m),
        "passes_near": [
            {"id": one.id, "kind": one.kind, "distance_m": number(one.distance_m)}
            for one in pathway.passes_near
        ],
        "arrival": _arrival(pathway.arrivals[0]) if pathway.arrivals else None,
        "arrivals": [_arrival(one) for one in pathway.arrivals],
        "cautions": list(pathway.cautions),
    }


def _share(share: Share) -> dict[str, Any]:
    return {
        "probability": number(share.probability),
        "low": number(share.low),
        "high": number(share.high),
        "entropy_bits": number(share.entropy_bits),
    }


def _arrival(arrival: Arrival) -> dict[str, Any]:
    return {
        **_share(arrival.reaches_water),
        "runs": arrival.reaches_water.runs,
        "says": arrival.reaches_water.says,
        "may_reach_water": {
            **_share(arrival.may_reach_water),
            "says": arrival.may_reach_water.says,
        },
        "scenario": arrival.scenario,
        "scenario_says": arrival.says,
        "decided": arrival.decided,
        "ends": [
            {"id": one.id, "kind": one.kind, **_share(one.share)}
            for one in arrival.ends
        ],
        "length_m": quantiles(arrival.length_m),
        "time_s": quantiles(arrival.time_s),
        "undecided_share_of_reach": number(arrival.reach.undecided),
        "parts_at": None if arrival.parts_at is None else _place(*arrival.parts_at),
        "parts_near": arrival.parts_near,
    }


def _hollow(hollow: Hollow) -> dict[str, Any]:
    return {
        **_place(hollow.easting_m, hollow.northing_m),
        "capacity_l": number(hollow.capacity_l),
        "depth_m": number(hollow.depth_m),
        "level_m": number(hollow.level_m),
        "area_m2": number(hollow.area_m2),
        "held_by": hollow.held_by,
    }


def _site(site: Site) -> dict[str, Any]:
    return {
        "site_id": site.site_id,
        "name": site.name,
        "existing": site.existing,
        "rank": site.rank,
        "meets_rules": site.meets_rules,
        "unmet": [_judgement(one) for one in site.unmet],
        "judgements": [_judgement(one) for one in site.judgements],
        "score": number(site.score, RATIO_DIGITS),
        "criteria": {one.name: _criterion(one) for one in site.criteria},
        "reasons": list(site.reasons),
        "rank_acceptability": [
            number(one, RATIO_DIGITS) for one in site.rank_acceptability
        ],
        "critical_volume_l": critical_document(site.critical_volume_l) or None,
        "earthwork": None
        if site.earthwork is None
        else {
            "cut_m3": number(site.earthwork.cut_m3),
            "fill_m3": number(site.earthwork.fill_m3),
            "level_m": number(site.earthwork.level_m),
        },
        **_place(site.easting_m, site.northing_m),
        "footprint": _geojson(site.footprint),
        "pad": None if site.pad is None else _geojson(site.pad),
        "bed": None if site.bed is None else _geojson(site.bed),
    }


def _judgement(judgement: Judgement) -> dict[str, Any]:
    return {
        "rule": judgement.rule,
        "says": judgement.says,
        "verdict": judgement.verdict,
        "need_m": number(judgement.need_m),
        "have_m": number(judgement.have_m),
        "margin": number(judgement.margin_m),
        "receptor_id": judgement.receptor_id,
        "citation": judgement.citation,
        "standing": judgement.standing,
        "binds": judgement.binds,
    }


def _criterion(criterion: Criterion) -> dict[str, Any]:
    return {
        "value": number(criterion.value, RATIO_DIGITS),
        "unit": criterion.unit,
        "worth": number(criterion.worth, RATIO_DIGITS),
        "weight": number(criterion.weight, RATIO_DIGITS),
        "standing": criterion.standing,
        "told": criterion.told,
        "spread": quantiles(criterion.spread),
    }


def _assumption(assumption: Assumption) -> dict[str, Any]:
    value = assumption.value
    return {
        "what": assumption.what,
        "value": value if isinstance(value, str) else number(value, RATIO_DIGITS),
        "unit": assumption.unit,
        "standing": assumption.standing,
        "source": assumption.source,
    }


def _place(easting_m: float, northing_m: float) -> dict[str, float | None]:
    return {"easting_m": number(easting_m), "northing_m": number(northing_m)}


def _geojson(geometry: Geometry) -> dict[str, Any]:
    in_millimetres = shapely.transform(
        shapely.force_2d(geometry), lambda places_m: places_m.round(DIGITS)
    )
    return dict(json.loads(shapely.to_geojson(in_millimetres)))
