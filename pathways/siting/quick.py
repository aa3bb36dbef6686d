"""Scores of many places at once, from fields of the whole ground."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from pathways.features import Features
from pathways.grid import Grid
from pathways.rules import RECEPTOR_LAYERS
from pathways.siting.criteria import ARRIVES, NEEDS
from pathways.siting.earthwork import heights_at
from pathways.siting.layout import Tried
from pathways.siting.receptors import Surroundings
from pathways.siting.weights import CriterionName, Weights
from pathways.terrain.drainage import accumulate
from pathways.terrain.landscape import Terrain
from pathways.terrain.lengths import lengths_of

Values = NDArray[np.float64]
Shapes = NDArray[Any]

#: Criteria that are told by fields of the whole ground; the others are measured of the
#: few that are chosen.
QUICK: Final[tuple[CriterionName, ...]] = (
    "distance_to_water",
    "distance_to_drains",
    "distance_along_flow",
    "distance_to_wells",
    "distance_to_pipes",
    "upslope_area",
    "hollow_depth",
    "slope",
    "cross_slope",
    "fall_to_bed",
    "distance_to_supplies",
    "distance_to_dwellings",
)


def distances_m(shapes: Shapes, others: list[Geometry]) -> Values:
    """Return the distance of each shape to the nearest edge of others [m].

    Parameters
    ----------
    shapes : ndarray of shapely.Geometry
        From; none lies inside one of the others.
    others : list of shapely.Geometry
        To; not empty. Lines and outlines are asked piece by piece: a tree of short
        pieces finds the nearest many times as fast as one of whole rivers.

    Returns
    -------
    ndarray of float64
        Nought where they touch.
    """
    tree = shapely.STRtree([part for one in others for part in _pieces(one)])
    (whose, _), found = tree.query_nearest(
        shapes, return_distance=True, all_matches=False
    )
    distances = np.full(shapes.size, np.inf)
    distances[whose] = found
    return distances


def _pieces(shape: Geometry) -> list[Geometry]:
    """Return the points of a shape, or the straight pieces of its lines."""
    pieces: list[Geometry] = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "Point":
            pieces.append(part)
            continue
        lines = part.boundary if part.geom_type == "Polygon" else part
        for line in shapely.get_parts(lines):
            places = shapely.get_coordinates(line)
            ends = np.stack([places[:-1], places[1:]], axis=1)
            pieces += shapely.linestrings(ends).tolist()
    return pieces


def quick_scores(
    terrain: Terrain, tried: Tried, surroundings: Surroundings, weights: Weights
) -> Values:
    """Return the score of each place, from fields of the whole ground.

    Parameters
    ----------
    terrain : Terrain
        Ground, water and drains.
    tried : Tried
        Pads and beds.
    surroundings : Surroundings
        Waters and wells.
    weights : Weights
        What a value is worth and how much it weighs.

    Returns
    -------
    ndarray of float64
        As `pathways.siting.criteria.score_of` of `QUICK`, with the way from the lowest
        of nine points of the pad by the network of steps, and the slope of the plane
        through its corners: close enough to choose by; those chosen are measured again,
        by all criteria.
    """
    both, features = tried.both, terrain.features
    pipes = [one.geometry for one in features.pipes]
    pipes += [one.geometry for one in features.watercourses if one.culverted]
    values = {
        "distance_to_water": _to_layer(both, surroundings, "watercourses"),
        "distance_to_drains": _to_layer(both, surroundings, "inlets"),
        "distance_to_wells": _to_layer(both, surroundings, "water_supplies"),
        "distance_to_pipes": _to(both, pipes, is_drawn="pipes" in surroundings.drawn),
        "distance_to_supplies": _to_needs(both, features),
        "distance_to_dwellings": _to(
            both,
            [one.geometry for one in features.buildings if one.dwelling],
            is_drawn="buildings" in surroundings.drawn,
        ),
        **_by_ground(terrain, tried, weights),
    }
    total = np.zeros(both.size)
    for one in weights.criteria:
        if one.name not in QUICK:
            continue
        value = values[one.name]
        points, worths = np.array(one.points).T
        worth = np.interp(value, points, worths)
        known = np.where(np.isnan(value), 0.0, worth)
        if one.name == "distance_along_flow":
            known = np.maximum(known, values["worth_by_outcome"])
        total += one.weight * known
    return total


def _to(both: Shapes, shapes: list[Geometry], *, is_drawn: bool) -> Values:
    """Return distances [m]: without end where none is drawn, else NaN for not known."""
    if not is_drawn:
        return np.full(both.size, np.nan)
    return distances_m(both, shapes) if shapes else np.full(both.size, np.inf)


def _to_layer(both: Shapes, surroundings: Surroundings, layer: str) -> Values:
    shapes = [
        one.geometry
        for one in surroundings.receptors
        if RECEPTOR_LAYERS[one.kind] == layer
    ]
    return _to(both, shapes, is_drawn=layer in surroundings.drawn)


def _to_needs(both: Shapes, features: Features) -> Values:
    """Return how far the farthest of the drawn needs is [m]; NaN where none is."""
    farthest = np.full(both.size, np.nan)
    for kinds in NEEDS:
        shapes = [one.geometry for one in features.access if one.kind in kinds]
        if shapes:
            farthest = np.fmax(farthest, distances_m(both, shapes))
    return farthest


def _by_ground(terrain: Terrain, tried: Tried, weights: Weights) -> dict[str, Values]:
    """Return what the ground tells of each pad and bed."""
    grid, drainage = terrain.grid, terrain.flow.drainage
    lengths = lengths_of(terrain)
    corners = _corners(tried.pads)
    points = np.concatenate(
        [
            corners,
            (corners + np.roll(corners, -1, axis=1)) / 2,
            corners.mean(axis=1, keepdims=True),
        ],
        axis=1,
    )
    column = ((points[..., 0] - grid.west_m) / grid.cell_size_m).astype(np.int64)
    row = ((grid.north_m - points[..., 1]) / grid.cell_size_m).astype(np.int64)
    on_grid = (row >= 0) & (row < grid.rows) & (column >= 0) & (column < grid.columns)
    cells = np.where(on_grid, row * grid.columns + column, 0)
    heights = np.where(on_grid, drainage.heights_m.ravel()[cells], np.nan)
    is_known = np.isfinite(heights)
    lowest = np.where(is_known, heights, np.inf).argmin(axis=1)
    start = cells[np.arange(cells.shape[0]), lowest]
    outcome = lengths.outcomes[start]
    arrives = np.isin(outcome, ARRIVES) & is_known.any(axis=1)
    through = accumulate(drainage).ravel()[cells].max(axis=1) * grid.cell_size_m**2
    filled = drainage.filled_m.ravel()[cells]
    standing = np.where(np.isfinite(filled), filled - heights, np.inf)
    along, across = _slopes(grid, corners)
    by_outcome = np.array(
        [weights.worth_by_outcome.get(str(one), 0.0) for one in outcome]  # type: ignore[call-overload]
    )
    return {
        "distance_along_flow": np.where(arrives, lengths.length_m[start], np.nan),
        "worth_by_outcome": np.where(arrives, 0.0, by_outcome),
        "upslope_area": np.where(is_known.all(axis=1), through, np.nan),
        "hollow_depth": np.where(is_known, standing, 0.0).max(axis=1),
        "fall_to_bed": _low(grid, corners) - _high(grid, _corners(tried.beds)),
        "slope": np.hypot(along, across),
        "cross_slope": np.minimum(along, across),
    }


def _corners(rectangles: Shapes) -> Values:
    places: Values = shapely.get_coordinates(rectangles).reshape(-1, 5, 2)
    return places[:, :4]


def _low(grid: Grid, corners: Values) -> Values:
    lowest: Values = heights_at(grid, corners[..., 0], corners[..., 1]).min(axis=1)
    return lowest


def _high(grid: Grid, corners: Values) -> Values:
    highest: Values = heights_at(grid, corners[..., 0], corners[..., 1]).max(axis=1)
    return highest


def _slopes(grid: Grid, corners: Values) -> tuple[Values, Values]:
    """Return how the plane through four corners falls along two sides [m/m]."""
    heights = heights_at(grid, corners[..., 0], corners[..., 1])
    sides = [corners[:, 1] - corners[:, 0], corners[:, 3] - corners[:, 0]]
    along = (heights[:, 1] + heights[:, 2] - heights[:, 0] - heights[:, 3]) / 2
    across = (heights[:, 2] + heights[:, 3] - heights[:, 0] - heights[:, 1]) / 2
    lengths = [np.hypot(*side.T) for side in sides]
    return np.abs(along / lengths[0]), np.abs(across / lengths[1])
