"""The drawing of a farm: every layer read, placed on the grid and checked.

A feature drawn in several parts becomes several features. Where it has an id they are
called ``id-1``, ``id-2`` and so on, and an inlet that drains to such a watercourse
drains to its nearest part; a source, tank, pipe, inlet, candidate or access point in
parts is refused, as nobody can tell which part holds the volume, the outlet, the door.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import shapely
from shapely import Geometry

from pathways.errors import FeatureError, InputError, Notice, RefusedError
from pathways.features import LAYERS, Features, fields_of
from pathways.grid import Grid
from pathways.io._drawing_file import (
    DrawingFile,
    is_drawing_file,
    open_drawing_file,
    rows_as_layer,
)
from pathways.io._fields import parse_field
from pathways.io._findings import Findings
from pathways.io._geometries import Move, move_to, settle_geometry
from pathways.io._layers import LayerFile, RawLayer, find_layers, read_raw, refusal_code
from pathways.io._references import (
    Drawn,
    check_ids,
    name_nameless,
    settle_references,
)
from pathways.io.tables import read_assumed

#: Layers whose features must be of one part: what is said of them holds for the whole.
_ONE_PART: Final = ("sources", "tanks", "pipes", "inlets", "candidates", "access")
#: Names of features that are listed in one sentence.
_MOST_NAMES: Final = 5
_HALF: Final = 0.5
#: Codes of the warnings that a drawing may lie metres off.
COARSE: Final = ("moved_coarsely", "placed_otherwise")


@dataclass(frozen=True)
class FeaturesRead:
    """What is drawn, and what must be known about it.

    Parameters
    ----------
    features : Features
        In the grid's coordinates.
    notices : tuple of Notice
        What was repaired, left aside or is doubtful.
    operations : tuple of (str, str, float or None)
        Layer, PROJ operation by which it was moved, and its accuracy [m].
    none_here : tuple of str
        What the drawing itself says was looked for and is not there.
    """

    features: Features
    notices: tuple[Notice, ...]
    operations: tuple[tuple[str, str, float | None], ...]
    none_here: tuple[str, ...] = ()


@dataclass
class _Reading:
    """What has been gathered of one drawing."""

    grid: Grid | None
    findings: Findings = field(default_factory=Findings)
    drawn: Drawn = field(default_factory=lambda: {layer: [] for layer in LAYERS})
    parts: dict[str, tuple[str, ...]] = field(default_factory=dict)
    file: DrawingFile = field(default_factory=DrawingFile)
    operations: list[tuple[str, str, float | None]] = field(default_factory=list)


def read_features(path: Path, grid: Grid | None) -> FeaturesRead:
    """Read the drawing of a farm.

    Parameters
    ----------
    path : Path
        A GeoPackage, a GeoJSON file whose features name their layers, or a folder
        with one file a layer.
    grid : Grid or None
        The ground that everything is placed on; without one the drawing can be checked,
        and stays in its own coordinates.

    Returns
    -------
    FeaturesRead
        Features in the grid's coordinates, notices, and how each layer was moved.

    Raises
    ------
    RefusedError
        With every fault that was found, each with layer and feature.
    """
    reading = _read(path, grid)
    notices = reading.findings.notices
    if reading.findings.refused:
        raise RefusedError(notices)
    present = {layer: tuple(features) for layer, features in reading.drawn.items()}
    layers = frozenset(layer for layer, _, _ in reading.operations)
    features = Features(**present, drawn=layers)
    return FeaturesRead(
        features, notices, tuple(reading.operations), reading.file.none_here
    )


def _read(path: Path, grid: Grid | None) -> _Reading:
    """Read every layer; without a grid nothing is moved."""
    reading = _Reading(grid)
    whole = True
    for file in _layers_of(path, reading):
        try:
            raw = _read_rows(file, reading)
            move = (
                Move(raw.crs, "", None, best_available=True)
                if grid is None
                else move_to(grid, raw.crs)
            )
        except InputError as error:
            code = refusal_code(error)
            reading.findings.error(code, str(error), file.path.name, file.layer)
            whole = False
            continue
        _tell_move(file, move, reading)
        _read_layer(raw, move, reading)
    _tell_high_barriers(reading, path.name)
    check_ids(reading.drawn, path.name, reading.findings)
    if whole:  # else what is named may stand in a layer that could not be read
        reading.drawn = settle_references(
            reading.drawn, reading.parts, path.name, reading.findings
        )
    return reading


def _layers_of(path: Path, reading: _Reading) -> Sequence[LayerFile]:
    """Return where each layer is stored."""
    if is_drawing_file(path):
        reading.file = open_drawing_file(path, reading.findings)
        return reading.file.layers
    return find_layers(path, reading.findings)


def _read_rows(file: LayerFile, reading: _Reading) -> RawLayer:
    """Return one layer as it is stored."""
    if reading.file.rows is not None:
        return rows_as_layer(reading.file, file, reading.findings)
    return read_raw(file, reading.findings)


def _tell_high_barriers(reading: _Reading, where: str) -> None:
    """Warn of kerbs and walls that look as if they were given in other units."""
    assumed = read_assumed()
    for one in reading.drawn["barriers"]:
        low = one.kind in ("kerb", "drive_over_bund")
        limit_m = assumed["drawing", "kerb_high_m" if low else "wall_high_m"]
        if one.height_m > limit_m:
            text = (
                f"its height_m is {one.height_m:g}, which is {one.height_m:g} metres: "
                f"give metres, or see that a {one.kind.replace('_', ' ')} is so high"
            )
            reading.findings.warning("barrier_high", text, where, "barriers", one.id)


def _tell_move(file: LayerFile, move: Move, reading: _Reading) -> None:
    """Keep how a layer is moved, and warn where that is coarse."""
    reading.operations.append((file.layer, move.operation, move.accuracy_m))
    if reading.grid is None:
        return
    placed_by = reading.file.placed_by
    if placed_by == move.operation:
        return  # the same operation went the other way: whatever it is off by cancels
    if placed_by:
        text = (
            f"the page placed it by '{placed_by[:200]}' and it is read by "
            f"'{move.operation}', so that it may lie metres off; draw it on a page "
            "that "
            "`pathways draw` writes on this machine"
        )
        reading.findings.warning("placed_otherwise", text, file.path.name, file.layer)
        return
    known = move.accuracy_m is not None
    fine = known and move.accuracy_m <= _HALF * reading.grid.cell_size_m  # type: ignore[operator]
    if fine and move.best_available:
        return
    accuracy = f"within {move.accuracy_m:g} m" if known else "nobody knows how well"
    better = (
        ""
        if move.best_available
        else " (a better one needs a shift grid that is not installed)"
    )
    text = (
        f"it was moved from {move.source.name} to {reading.grid.crs_name}, {accuracy}"
        f"{better}; draw it in {reading.grid.crs_name} to avoid that"
    )
    reading.findings.warning("moved_coarsely", text, file.path.name, file.layer)


def _read_layer(raw: RawLayer, move: Move, reading: _Reading) -> None:
    """Turn one layer as stored into features."""
    features: list[Any] = []
    for number in range(len(raw.fids)):
        features += _read_feature(raw, number, move, reading)
    features = name_nameless(raw.layer, features)
    reading.drawn[raw.layer] = features
    if reading.grid is not None and features:
        _tell_outside(raw, features, move, reading)


def _read_feature(
    raw: RawLayer, number: int, move: Move, reading: _Reading
) -> list[Any]:
    """Return the features that one row gives: none where it is refused."""
    values: dict[str, Any] = {}
    faults: list[tuple[str, str]] = []
    for one in fields_of(raw.layer):
        stored = raw.columns[one.name][number] if one.name in raw.columns else None
        try:
            values[one.name] = parse_field(raw.layer, one, stored)
        except FeatureError as error:
            faults.append(("value_refused", str(error)))
    label = values.get("id") or f"feature {raw.fids[number]}"
    where = (raw.file_name, raw.layer, label)
    shapes: list[Geometry] = []
    try:
        shapes, repaired = _shapes(raw, number, move)
        if repaired:
            reading.findings.warning("geometry_repaired", repaired, *where)
    except FeatureError as error:
        faults.append(("geometry_refused", str(error)))
    for code, text in faults:
        reading.findings.error(code, text, *where)
    if faults:
        reading.parts.setdefault(label, ())
        return []
    feature = LAYERS[raw.layer].feature
    return [
        feature(geometry=shape, **(values | {"id": name}))
        for shape, name in zip(
            shapes, _part_names(raw.layer, values["id"], shapes, reading), strict=True
        )
    ]


def _shapes(raw: RawLayer, number: int, move: Move) -> tuple[list[Geometry], str]:
    """Return the parts of one row's geometry on the grid, and what was repaired."""
    if raw.unreadable[number]:
        msg = "its geometry cannot be read; draw it again"
        raise FeatureError(msg)
    geometry = raw.geometries[number]
    if geometry is not None:
        geometry = move.apply(geometry)
    shapes, repaired = settle_geometry(geometry, LAYERS[raw.layer].geometries)
    if len(shapes) > 1 and raw.layer in _ONE_PART:
        msg = (
            f"it is drawn in {len(shapes)} parts and what is said of it holds for one; "
            "split it into features with an id each"
        )
        raise FeatureError(msg)
    return shapes, repaired


def _part_names(
    layer: str, given: str, shapes: list[Geometry], reading: _Reading
) -> list[str]:
    """Return the id of each part of a feature."""
    if len(shapes) == 1 or not given:
        return [given] * len(shapes)
    names = tuple(f"{given}-{number}" for number in range(1, len(shapes) + 1))
    if layer == "watercourses":
        reading.parts[given] = names
    return list(names)


def _tell_outside(
    raw: RawLayer, features: list[Any], move: Move, reading: _Reading
) -> None:
    """Warn of features that lie off the ground altogether."""
    grid = reading.grid
    if grid is None:
        return
    ground = shapely.box(*grid.extent)
    outside = [one for one in features if not one.geometry.intersects(ground)]
    if not outside:
        return
    names = ", ".join(f"'{one.title}'" for one in outside[:_MOST_NAMES])
    more = (
        f" and {len(outside) - _MOST_NAMES} more" if len(outside) > _MOST_NAMES else ""
    )
    swapped = _looks_swapped(raw, move, ground)
    cure = (
        "longitude and latitude look swapped: write longitude first"
        if swapped
        else "check their coordinates, or add the ground that they stand on"
    )
    text = f"{names}{more} lie outside the ground; {cure}"
    reading.findings.warning("outside_ground", text, raw.file_name, raw.layer)


def _looks_swapped(raw: RawLayer, move: Move, ground: Geometry) -> bool:
    """Return whether degrees taken the other way round would lie on the ground."""
    if move.transformer is None or not move.source.is_geographic:
        return False
    for geometry in raw.geometries[~shapely.is_missing(raw.geometries)]:
        try:
            turned = shapely.transform(geometry, lambda places: places[:, ::-1])
            if move.apply(turned).intersects(ground):
                return True
        except FeatureError:
            continue
    return False
