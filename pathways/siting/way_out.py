"""The nearest free place for a site that breaks a binding rule."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import box

from pathways.rules import Rulebook
from pathways.siting.layout import Layout, on_known_ground, try_places
from pathways.siting.receptors import Surroundings
from pathways.siting.search import blocked_ground, hard_ground, keeps_rules
from pathways.siting.setbacks import judge, meets_rules
from pathways.siting.site import Place, Verdict
from pathways.siting.whereabouts import point_of_compass
from pathways.terrain.landscape import Terrain

#: Round a site places are tried this many times less densely than in a search.
_COARSER = 2.0


@dataclass(frozen=True, kw_only=True)
class WayOut:
    """Where the nearest free place lies that breaks no distance.

    Parameters
    ----------
    distance_m : float
        From the middle of the site to that of the pad [m].
    towards : str
        Point of the compass.
    meets_rules : {"true", "no_rule_read"}
        What the rules say of that place; never that it breaks or may break one.
    """

    distance_m: float
    towards: str
    meets_rules: Verdict


def nearest_way_out(
    place: Place,
    terrain: Terrain,
    surroundings: Surroundings,
    rulebook: Rulebook,
    layout: Layout,
    reach_m: float,
) -> WayOut | None:
    """Find the nearest free place round a site that breaks no distance.

    Parameters
    ----------
    place : Place
        A site that breaks one.
    terrain : Terrain
        Ground, and what is built on it; beyond its grid nothing is known.
    surroundings : Surroundings
        What rules ask distance to.
    rulebook : Rulebook
        With the farm's own distances.
    layout : Layout
        Sizes, the step, of which twice is taken, and the error of the drawing.
    reach_m : float
        How far round the site is looked [m].

    Returns
    -------
    WayOut or None
        None where none was found on that net. Who owns the ground is not asked.
    """
    grid, middle = terrain.grid, place.ground.centroid
    area = middle.buffer(reach_m) & box(*grid.extent)
    coarse = replace(layout, step_m=_COARSER * layout.step_m)
    tried = try_places(area, blocked_ground(terrain), coarse, hard_ground(terrain))
    if tried.pads.size:
        band_m = layout.position_error_m
        tried = tried.only(keeps_rules(tried, surroundings, rulebook, band_m))
    if tried.pads.size:
        tried = tried.only(on_known_ground(tried, grid))
    if not tried.pads.size:
        return None
    centres = shapely.get_coordinates(shapely.centroid(tried.pads))
    away = centres - shapely.get_coordinates(middle)
    distances_m = np.hypot(*away.T)
    both = tried.both
    for nearest in np.argsort(distances_m, kind="stable"):
        verdict = meets_rules(
            judge(
                place.uses,
                both[nearest],
                surroundings,
                rulebook,
                layout.position_error_m,
            )
        )
        if verdict in ("true", "no_rule_read"):
            return WayOut(
                distance_m=float(distances_m[nearest]),
                towards=point_of_compass(*away[nearest]),
                meets_rules=verdict,
            )
    return None
