"""A pad and a bed, tried at every place of an area."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Polygon

from pathways.assumed import AssumedValues
from pathways.grid import Grid
from pathways.settings import SitingSettings
from pathways.siting.earthwork import earthwork, heights_at
from pathways.siting.site import Place

Values = NDArray[np.float64]
Shapes = NDArray[Any]

_NOWHERE: Final = Polygon()
#: Earth that makes no difference between two layouts [m³].
_LIKE_M3: Final = 1.0
#: Points along each side on which heights of a rectangle are looked up.
_NET: Final = 5
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
    position_error_m : float
        How far grid and drawing may be off in plan [m].
    """

    pad_m: tuple[float, float]
    bed_m: tuple[float, float]
    between_m: float
    step_m: float
    position_error_m: float = 0.0


def layout_of(
    given: SitingSettings,
    assumed: AssumedValues,
    sized: Mapping[str, tuple[float, float]] | None = None,
    *,
    position_error_m: float = 0.0,
) -> Layout:
    """Return the sizes that a farm gives, or those of its design, or assumed ones.

    Parameters
    ----------
    given : SitingSettings
        ``pad_size_m`` and ``bed_size_m``.
    assumed : AssumedValues
        Its table ``[siting]``.
    sized : mapping of str to tuple of float, or None
        Sides of what was sized, ``pad`` or ``bed`` [m].
    position_error_m : float
        How far grid and drawing may be off in plan [m].

    Returns
    -------
    Layout
        With the assumed ground between and step.
    """

    def size(values: list[float], name: str) -> tuple[float, float]:
        if values:
            return values[0], values[1]
        if sized and name in sized:
            return sized[name]
        return (
            assumed["siting", f"{name}_length_m"],
            assumed["siting", f"{name}_width_m"],
        )

    return Layout(
        pad_m=size(given.pad_size_m, "pad"),
        bed_m=size(given.bed_size_m, "bed"),
        between_m=assumed["siting", "between_m"],
        step_m=assumed["siting", "search_step_m"],
        position_error_m=position_error_m,
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
    if area.is_empty:
        return Tried(np.empty(0, object), np.empty(0, object), 0)
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


@dataclass(frozen=True, kw_only=True)
class Footing:
    """What a pad and a bed are laid out by.

    Parameters
    ----------
    blocked : shapely.Geometry
        Ground that neither may touch.
    layout : Layout
        Their sizes, and the step.
    grid : Grid
        Heights [m].
    pad_fall : float
        Of the finished pad [m/m].
    keeps : callable
        Tells of places that were tried which keep every binding distance.
    """

    blocked: Geometry
    layout: Layout
    grid: Grid
    pad_fall: float
    keeps: Callable[[Tried], NDArray[np.bool_]]


def laid_out(place: Place, footing: Footing) -> Place:
    """Return a drawn place with a pad and a bed laid out there.

    Parameters
    ----------
    place : Place
        As drawn.
    footing : Footing
        Free ground, sizes, heights, rules.

    Returns
    -------
    Place
        Within the outline if they fit, else about its middle (`bed_fits` is then
        False): with a layout that keeps every distance if there is one, of these one
        that moves least earth for the pad, of like ones the one with most fall to the
        bed. Without one where all that is there is taken or its ground is not known.
    """
    layout, blocked = footing.layout, footing.blocked
    tried = try_places(place.ground, blocked, layout)
    fits = bool(tried.pads.size) and not place.is_nominal
    if not fits:
        middle = shapely.get_coordinates(place.ground.centroid)
        pads, beds = _pads_and_beds(middle, layout)
        free = ~shapely.intersects(blocked, pads) & ~shapely.intersects(blocked, beds)
        tried = Tried(pads[free], beds[free], pads.size)
    tried = tried.only(np.arange(0, tried.pads.size, _every(tried.pads.size)))
    if not tried.pads.size:
        return replace(place, bed_fits=fits)
    compared = []
    falls = falls_m(footing.grid, tried)
    for number, keeps in enumerate(footing.keeps(tried)):
        moved = earthwork(footing.grid, tried.pads[number], footing.pad_fall)
        if moved is not None:
            earth = round((moved.cut_m3 + moved.fill_m3) / _LIKE_M3)
            compared.append((not keeps, earth, -float(falls[number]), number))
    if not compared:
        return replace(place, bed_fits=fits)
    best = min(compared)[-1]
    return replace(place, pad=tried.pads[best], bed=tried.beds[best], bed_fits=fits)


def _every(count: int) -> int:
    return max(1, math.ceil(count / _MOST_COMPARED))


def falls_m(grid: Grid, tried: Tried) -> Values:
    """Return the fall from each pad's lowest ground to its bed's highest [m].

    Parameters
    ----------
    grid : Grid
        Heights [m].
    tried : Tried
        Pads and beds.

    Returns
    -------
    ndarray of float64
        By a net of five by five points on each; NaN where the ground is not known.
    """
    low = _heights(grid, tried.pads).min(axis=1)
    high = _heights(grid, tried.beds).max(axis=1)
    return np.asarray(low - high)


def on_known_ground(tried: Tried, grid: Grid) -> NDArray[np.bool_]:
    """Return whether the corners of each pad and bed have heights.

    Parameters
    ----------
    tried : Tried
        Pads and beds; not none.
    grid : Grid
        Heights [m].

    Returns
    -------
    ndarray of bool
    """
    corners = shapely.get_coordinates(tried.both)
    known = np.isfinite(heights_at(grid, *corners.T)).reshape(tried.pads.size, -1)
    return np.asarray(known.all(axis=1))


def _heights(grid: Grid, rectangles: Shapes) -> Values:
    """Return heights on a net over each rectangle [m]."""
    corners = shapely.get_coordinates(rectangles).reshape(-1, 5, 2)
    start = corners[:, 0][:, None]
    along = (corners[:, 1] - corners[:, 0])[:, None]
    across = (corners[:, 3] - corners[:, 0])[:, None]
    shares = np.linspace(0.0, 1.0, _NET)
    first, second = (one.ravel() for one in np.meshgrid(shares, shares))
    places = start + along * first[None, :, None] + across * second[None, :, None]
    return heights_at(grid, places[..., 0], places[..., 1])


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
