"""A pad and a bed, tried at every place of an area."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Polygon

from pathways.assumed import AssumedValues
from pathways.grid import Grid
from pathways.settings import SitingSettings
from pathways.siting.earthwork import earthwork
from pathways.siting.site import Place

Values = NDArray[np.float64]
Shapes = NDArray[Any]

_NOWHERE: Final = Polygon()
#: Directions in which the bed is tried from the pad.
_DIRECTIONS: Final = 8
#: At most so many layouts of one drawn site are compared by their earthwork.
_MOST_COMPARED: Final = 400


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


def try_places(
    area: Geometry,
    blocked: Geometry,
    layout: Layout,
    no_bed: Geometry = _NOWHERE,
) -> Tried:
    """Try a pad and a bed at every place of an area.

    Parameters
    ----------
    area : shapely.Geometry
        Where they may lie, whole.
    blocked : shapely.Geometry
        Ground that neither may touch.
    layout : Layout
        Their sizes, and the step.
    no_bed : shapely.Geometry
        Ground that a bed may not touch besides.

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
    pads, beds = _pads_and_beds(middles, layout)
    free = shapely.covers(area, pads) & ~shapely.intersects(blocked, pads)
    tried = Tried(pads[free], beds[free], pads.size)
    beds = tried.beds
    shapely.prepare(no_bed)
    return tried.only(
        shapely.covers(area, beds)
        & ~shapely.intersects(blocked, beds)
        & ~shapely.intersects(no_bed, beds)
    )


def laid_out(
    place: Place, blocked: Geometry, layout: Layout, grid: Grid, pad_fall: float
) -> Place:
    """Return a drawn place with a pad and a bed laid out there.

    Parameters
    ----------
    place : Place
        As drawn.
    blocked : shapely.Geometry
        Ground that neither may touch.
    layout : Layout
        Their sizes, and the step.
    grid : Grid
        Heights [m].
    pad_fall : float
        Of the finished pad [m/m].

    Returns
    -------
    Place
        With the layout that moves least earth for the pad: within the outline, else
        about its middle (`bed_fits` is then False). Without one where all that is there
        is taken or its ground is not known.
    """
    tried = try_places(place.ground, blocked, layout)
    fits = bool(tried.pads.size) and not place.is_nominal
    if not fits:
        middle = shapely.get_coordinates(place.ground.centroid)
        pads, beds = _pads_and_beds(middle, layout)
        free = ~shapely.intersects(blocked, pads) & ~shapely.intersects(blocked, beds)
        tried = Tried(pads[free], beds[free], pads.size)
    every = max(1, math.ceil(tried.pads.size / _MOST_COMPARED))
    compared = []
    for number in range(0, tried.pads.size, every):
        moved = earthwork(grid, tried.pads[number], pad_fall)
        if moved is not None:
            compared.append((moved.cut_m3 + moved.fill_m3, number))
    if not compared:
        return replace(place, bed_fits=fits)
    _, best = min(compared)
    return replace(place, pad=tried.pads[best], bed=tried.beds[best], bed_fits=fits)


def _pads_and_beds(middles: Values, layout: Layout) -> tuple[Shapes, Shapes]:
    """Return pads about places and beds beside them, in each direction."""
    bearings = np.arange(_DIRECTIONS) * 2 * math.pi / _DIRECTIONS
    away = (layout.pad_m[0] + layout.bed_m[0]) / 2 + layout.between_m
    return (
        _rectangles(middles, bearings, layout.pad_m, 0.0),
        _rectangles(middles, bearings, layout.bed_m, away),
    )


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
