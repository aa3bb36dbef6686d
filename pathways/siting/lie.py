"""How the ground of a site lies: its slope, its fall to the bed, its earthwork."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, get_coordinates

from pathways.features import SpotLevel
from pathways.siting.earthwork import earthwork
from pathways.siting.layout import Tried, falls_m
from pathways.siting.measured import NOT_KNOWN, Measured, give_or_take
from pathways.siting.site import Place
from pathways.siting.situation import Situation
from pathways.terrain.slope import plane_gradient

Values = NDArray[np.float64]

#: Fewest levels that settle a plane, and how far off one line they lie at least [m].
_FEWEST_LEVELS = 3
_OFF_LINE_M = 1.0
#: 95 % quantile of the normal distribution.
_NINETY_FIVE = 1.645


def plane_of_levels(levels: tuple[SpotLevel, ...]) -> Values | None:
    """Return how the plane through surveyed levels rises eastwards and northwards.

    Parameters
    ----------
    levels : tuple of SpotLevel
        Surveyed heights.

    Returns
    -------
    ndarray of float64, shape (2,), or None
        Least-squares plane [m/m]; None of fewer than three, or of levels that lie in
        one line to within a metre.
    """
    if len(levels) < _FEWEST_LEVELS:
        return None
    places = np.array([get_coordinates(one.geometry)[0] for one in levels])
    heights = np.array([one.level_m for one in levels])
    off = places - places.mean(axis=0)
    across = np.linalg.svd(off, compute_uv=False)[1] / math.sqrt(len(levels))
    if across < _OFF_LINE_M / 2:
        return None
    rise: Values = np.linalg.lstsq(off, heights - heights.mean(), rcond=None)[0]
    return rise


def slopes_of(place: Place, situation: Situation) -> tuple[Measured, Measured]:
    """Return the steepest slope of a site, and that across its pad [m/m].

    Parameters
    ----------
    place : Place
        The site; without a pad the slope across is not known.
    situation : Situation
        Ground and surveyed levels.

    Returns
    -------
    tuple of Measured
        From surveyed levels where three or more lie within reach, else from the grid,
        which may be off by the error of a fall over the length of the site.
    """
    ground = place.ground if place.pad is None else place.pad
    reach_m = situation.assumed["siting", "levels_reach_m"]
    levels = tuple(
        one
        for one in situation.features.spot_levels
        if ground.distance(one.geometry) <= reach_m
    )
    rise = plane_of_levels(levels)
    told = f"from {len(levels)} surveyed levels"
    error = _error_of(levels, situation)
    if rise is None:
        gradient = plane_gradient(situation.grid, ground)
        if gradient is None:
            return NOT_KNOWN, NOT_KNOWN
        rise = np.array([float(gradient.eastward), float(gradient.northward)])
        told = "from the grid, which cannot show a fall of 1:100"
        error = situation.fall_error_m / _length_m(ground)
    slope = float(np.hypot(*rise))
    steepest = Measured(value=slope, told=told, spread=_spread(slope, error))
    if place.pad is None:
        return steepest, NOT_KNOWN
    corners = get_coordinates(place.pad)
    sides = [corners[1] - corners[0], corners[3] - corners[0]]
    falls = [abs(float(rise @ side)) / math.hypot(*side) for side in sides]
    across = min(falls)
    return steepest, Measured(value=across, told=told, spread=_spread(across, error))


def earth_moved(place: Place, situation: Situation) -> Measured:
    """Return cut and fill together of the pad [m³].

    Parameters
    ----------
    place : Place
        The site.
    situation : Situation
        Ground, and the fall of the finished pad.

    Returns
    -------
    Measured
        Not known where there is no room for a pad or the ground is not known.
    """
    if place.pad is None:
        return NOT_KNOWN
    moved = earthwork(situation.grid, place.pad, situation.settings.siting.pad_fall)
    if moved is None:
        return NOT_KNOWN
    return Measured(value=moved.cut_m3 + moved.fill_m3, told="before it is loosened")


def fall_to_bed(place: Place, situation: Situation) -> Measured:
    """Return the fall from the pad's lowest edge to the bed's highest ground [m].

    Parameters
    ----------
    place : Place
        The site.
    situation : Situation
        Ground, and the fall that gravity needs.

    Returns
    -------
    Measured
        Says whether gravity may do or a pump is needed.
    """
    if place.pad is None or place.bed is None:
        return NOT_KNOWN
    both = Tried(np.array([place.pad]), np.array([place.bed]), 1)
    fall_m, error_m = float(falls_m(situation.grid, both)[0]), situation.fall_error_m
    if math.isnan(fall_m):
        return NOT_KNOWN
    needs_m = situation.assumed["siting", "gravity_fall_m"]
    # Only a fall that is there whatever the error is may do without a pump.
    told = (
        "gravity may do; have the levels surveyed"
        if fall_m - error_m >= needs_m
        else f"reckon with a pump: gravity needs {needs_m:g} m"
    )
    spread = (fall_m - error_m, fall_m, fall_m + error_m)
    return Measured(value=fall_m, told=told, spread=spread)


def _error_of(levels: tuple[SpotLevel, ...], situation: Situation) -> float:
    """Return by how much a slope through surveyed levels may be off [m/m]."""
    if len(levels) < _FEWEST_LEVELS:
        return 0.0
    assumed_m = situation.assumed["ground", "spot_level_error_m"]
    worst_m = max(
        assumed_m if one.accuracy_m is None else one.accuracy_m for one in levels
    )
    places = np.array([get_coordinates(one.geometry)[0] for one in levels])
    spread = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)[1]
    # The slope of a line through points: error of one over the root of their squares.
    return _NINETY_FIVE * worst_m / max(float(spread), 1e-9)


def _spread(slope: float, error: float) -> tuple[float, float, float] | None:
    return give_or_take(slope, error) if error > 0 else None


def _length_m(ground: Geometry) -> float:
    """Return the longer side of a piece of ground."""
    sides = get_coordinates(shapely.minimum_rotated_rectangle(ground))
    return float(np.hypot(*np.diff(sides[:3], axis=0).T).max())
