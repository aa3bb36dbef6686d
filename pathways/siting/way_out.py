"""The nearest free place for a site that breaks a binding rule."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, box

from pathways.grid import Grid
from pathways.rules import Rulebook
from pathways.siting.earthwork import heights_at
from pathways.siting.layout import Layout, Tried, try_places
from pathways.siting.receptors import Surroundings
from pathways.siting.search import keeps_rules
from pathways.siting.site import Place
from pathways.siting.whereabouts import point_of_compass

#: Round a site places are tried this many times less densely than in a search.
_COARSER = 2.0


@dataclass(frozen=True, kw_only=True)
class WayOut:
    """Where the nearest free place lies that keeps every binding distance.

    Parameters
    ----------
    distance_m : float
        From the middle of the site to that of the pad [m].
    towards : str
        Point of the compass.
    """

    distance_m: float
    towards: str


def nearest_way_out(
    place: Place,
    grid: Grid,
    blocked: Geometry,
    rules: tuple[Rulebook, Surroundings],
    layout: Layout,
    reach_m: float,
) -> WayOut | None:
    """Find the nearest free place round a site that keeps every binding distance.

    Parameters
    ----------
    place : Place
        A site that breaks one.
    grid : Grid
        The ground: beyond it nothing is known.
    blocked : shapely.Geometry
        Ground that no pad may touch.
    rules : tuple of (Rulebook, Surroundings)
        With the farm's own distances; what they ask distance to.
    layout : Layout
        Sizes, and the step, of which twice is taken.
    reach_m : float
        How far round the site is looked [m].

    Returns
    -------
    WayOut or None
        None where there is none within reach. Who owns the ground is not asked.
    """
    rulebook, surroundings = rules
    middle = place.ground.centroid
    area = middle.buffer(reach_m) & box(*grid.extent)
    coarse = replace(layout, step_m=_COARSER * layout.step_m)
    tried = try_places(area, blocked, coarse)
    tried = tried.only(keeps_rules(tried, surroundings, rulebook))
    if tried.pads.size:
        tried = tried.only(_on_known_ground(tried, grid))
    if not tried.pads.size:
        return None
    centres = shapely.get_coordinates(shapely.centroid(tried.pads))
    away = centres - shapely.get_coordinates(middle)
    distances_m = np.hypot(*away.T)
    nearest = int(distances_m.argmin())
    return WayOut(
        distance_m=float(distances_m[nearest]),
        towards=point_of_compass(*away[nearest]),
    )


def _on_known_ground(tried: Tried, grid: Grid) -> NDArray[np.bool_]:
    corners = shapely.get_coordinates(tried.both)
    heights = heights_at(grid, *corners.T)
    known = np.isfinite(heights).reshape(tried.pads.size, -1)
    return np.asarray(known.all(axis=1))
