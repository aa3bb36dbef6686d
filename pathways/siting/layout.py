"""A pad and a bed, tried at every place of an area."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from pathways.assumed import AssumedValues
from pathways.settings import SitingSettings

Values = NDArray[np.float64]
Shapes = NDArray[Any]

#: Directions in which the bed is tried from the pad.
_DIRECTIONS: Final = 8


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A pad and a bed beside it, and how densely places are tried.

    Parameters
    ----------
    pad_m, bed_m : tuple of float
        Length and width [m].
    between_m : float
        Ground between them [m].
    step_m : float
        From one place that is tried to the next [m].
    """

    pad_m: tuple[float, float]
    bed_m: tuple[float, float]
    between_m: float
    step_m: float


def layout_of(given: SitingSettings, assumed: AssumedValues) -> Layout:
    """Return the sizes that a farm gives, or assumed ones.

    Parameters
    ----------
    given : SitingSettings
        ``pad_size_m`` and ``bed_size_m``.
    assumed : AssumedValues
        Its table ``[siting]``.

    Returns
    -------
    Layout
        With the assumed ground between and step.
    """

    def size(values: list[float], name: str) -> tuple[float, float]:
        if values:
            return values[0], values[1]
        return (
            assumed["siting", f"{name}_length_m"],
            assumed["siting", f"{name}_width_m"],
        )

    return Layout(
        pad_m=size(given.pad_size_m, "pad"),
        bed_m=size(given.bed_size_m, "bed"),
        between_m=assumed["siting", "between_m"],
        step_m=assumed["siting", "search_step_m"],
    )


@dataclass(frozen=True)
class Tried:
    """Places that were tried and are free, each with its pad and bed.

    Parameters
    ----------
    pads, beds : ndarray of shapely.Polygon
        The ground that they take.
    count : int
        How many places and directions were tried, the free ones included.
    """

    pads: Shapes
    beds: Shapes
    count: int

    @property
    def both(self) -> Shapes:
        """Pad and bed as one shape."""
        pairs = np.column_stack([self.pads, self.beds]).ravel()
        whose = np.repeat(np.arange(self.pads.size), 2)
        return np.asarray(shapely.multipolygons(pairs, indices=whose))

    def only(self, chosen: NDArray[Any]) -> Tried:
        """Return some of them."""
        return Tried(self.pads[chosen], self.beds[chosen], self.count)


def try_places(area: Geometry, blocked: Geometry, layout: Layout) -> Tried:
    """Try a pad and a bed at every place of an area.

    Parameters
    ----------
    area : shapely.Geometry
        Where they may lie, whole.
    blocked : shapely.Geometry
        Ground that neither may touch.
    layout : Layout
        Their sizes, and the step.

    Returns
    -------
    Tried
        Those that are free, by rows from the south, eight directions at each place.
    """
    west, south, east, north = area.bounds
    step = layout.step_m
    eastings, northings = np.meshgrid(
        np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step)
    )
    shapely.prepare(area)
    shapely.prepare(blocked)
    inside = shapely.contains_xy(area, eastings.ravel(), northings.ravel())
    inside &= ~shapely.intersects_xy(blocked, eastings.ravel(), northings.ravel())
    middles = np.column_stack([eastings.ravel()[inside], northings.ravel()[inside]])
    bearings = np.arange(_DIRECTIONS) * 2 * math.pi / _DIRECTIONS
    pads = _rectangles(middles, bearings, layout.pad_m, 0.0)
    away = (layout.pad_m[0] + layout.bed_m[0]) / 2 + layout.between_m
    tried = Tried(pads, pads, pads.size)
    free = shapely.contains_properly(area, pads) & ~shapely.intersects(blocked, pads)
    beds = _rectangles(middles, bearings, layout.bed_m, away)[free]
    tried = Tried(pads[free], beds, pads.size)
    fits = shapely.contains_properly(area, beds) & ~shapely.intersects(blocked, beds)
    return tried.only(fits)


def _rectangles(
    middles: Values, bearings: Values, size_m: tuple[float, float], away_m: float
) -> Shapes:
    """Return rectangles about places, moved along their own length."""
    half_length, half_width = size_m[0] / 2, size_m[1] / 2
    along = np.array([-half_length, half_length, half_length, -half_length]) + away_m
    across = np.array([-half_width, -half_width, half_width, half_width])
    cosine, sine = np.cos(bearings)[:, None], np.sin(bearings)[:, None]
    corners = np.stack(
        [along * cosine - across * sine, along * sine + across * cosine], axis=-1
    )
    places = middles[:, None, None, :] + corners[None]
    return np.asarray(shapely.polygons(places.reshape(-1, 4, 2)))
