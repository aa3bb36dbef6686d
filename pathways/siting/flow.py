"""Where liquid spilt at a site goes, and what it takes to get there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely
from shapely import Geometry, Point

from pathways.features import Source
from pathways.materials import Materials
from pathways.siting.site import Place, SiteFlow
from pathways.spill.course import Course, Store, course_of
from pathways.spill.releases import releases_of
from pathways.spill.spill import Circumstances, CriticalVolume, least_losses
from pathways.spill.times import storm_time_s
from pathways.terrain.alternatives import (
    Start,
    ways_by_land_drains,
    ways_into_unknown_drains,
)
from pathways.terrain.cells import cells_of
from pathways.terrain.landscape import Flow, Terrain
from pathways.terrain.pathway import Alternative
from pathways.terrain.tracing import lowest_of
from pathways.terrain.upslope import upslope_area_m2
from pathways.terrain.way import Way, follow


def flow_from(
    terrain: Terrain, place: Place, materials: Materials, given: Circumstances
) -> SiteFlow:
    """Return where liquid spilt at a site goes, from its lowest corner.

    Parameters
    ----------
    terrain : Terrain
        Ground, drains and what was seen.
    place : Place
        The site.
    materials : Materials
        Covers of the ground.
    given : Circumstances
        What losses depend on.

    Returns
    -------
    SiteFlow
        No tank is counted on; the least loss is that of an overfill. A
        gully of unknown outlet beside the way counts as joined to water. Where part of
        the ground is not known, nothing is.
    """
    if not _is_known(terrain, place.footprint):
        return SiteFlow(
            outcome="not_known",
            receptor_id="",
            length_m=None,
            upslope_area_m2=None,
            is_known=False,
        )
    area = place.footprint.area > 0
    start = lowest_of(terrain, place.footprint) if area else Point(place.footprint)
    way = follow(terrain, start)
    # A gully of unknown outlet beside the way counts as joined to water: the nearest
    # such end decides.
    ends = [
        one
        for one in (
            way,
            *ways_into_unknown_drains(
                terrain, place.footprint, Start("point", start), way
            ),
            *ways_by_land_drains(terrain, place.footprint),
        )
        if one.outcome in ("reaches_water", "enters_piped_drain", "enters_ground")
    ]
    nearest = min(ends, key=lambda one: one.over_ground_m, default=None)
    told = way if nearest is None else nearest
    course = _course(terrain, told, materials)
    return SiteFlow(
        outcome=told.outcome,
        receptor_id=told.receptor_id,
        length_m=None if nearest is None else nearest.over_ground_m,
        upslope_area_m2=upslope_area_m2(terrain.flow, place.footprint),
        critical=_least(course, given),
        time_s=_time_s(course, given),
        hollow_depth_m=hollow_depth_m(terrain.flow, place.footprint),
        springs=tuple(_springs_onto(terrain, place.ground)),
    )


def hollow_depth_m(flow: Flow, footprint: Geometry) -> float | None:
    """Return how deep rain stands in the deepest hollow of a place [m].

    Parameters
    ----------
    flow : Flow
        Conditioned ground and its drainage.
    footprint : shapely.Geometry
        The place; a point takes the cell that holds it.

    Returns
    -------
    float or None
        Infinite in a yard that is shut in; None where the place is off the ground.
    """
    grid = flow.ground.grid
    cells = cells_of(footprint, grid)
    filled_m = flow.drainage.filled_m.ravel()[cells]
    depths_m = filled_m - flow.drainage.heights_m.ravel()[cells]
    known = depths_m[~np.isnan(depths_m)]
    return float(known.max()) if known.size else None


def _springs_onto(terrain: Terrain, ground: Geometry) -> Iterator[str]:
    """Yield the springs whose water runs onto a place over the ground."""
    for supply in terrain.features.water_supplies:
        if supply.kind == "spring":
            way = follow(terrain, Point(supply.geometry))
            if any(
                leg.kind != "pipe" and leg.line.intersects(ground) for leg in way.legs
            ):
                yield supply.title


def _course(terrain: Terrain, way: Way, materials: Materials) -> Course | None:
    """Return what a loss meets on a way; None where nothing is known of it."""
    if way.outcome == "not_known" and not way.legs:
        return None
    told = Alternative(
        why="",
        outcome=way.outcome,
        receptor_id=way.receptor_id,
        receptor_kind=way.receptor_kind,
        length_m=way.length_m,
        via=way.via,
        legs=way.legs,
    )
    return course_of(terrain, told, materials)


def _least(course: Course | None, given: Circumstances) -> tuple[CriticalVolume, ...]:
    """Return the smallest overfill at a site that gets to the end of its way.

    Tanks are left out: no place is the better for one that is there today.
    """
    if course is None:
        return ()
    nowhere = Source(kind="filling_point", geometry=Point(0, 0))
    releases = releases_of(nowhere, given.settings, given.assumed)
    overfill = next(one for one in releases if one.name == "overfill")
    parts = tuple(
        one
        for one in course.parts
        if not (isinstance(one, Store) and one.kind == "tank")
    )
    return least_losses(replace(course, parts=parts), overfill, given)


def _is_known(terrain: Terrain, footprint: Geometry) -> bool:
    """Whether the whole of a place has heights."""
    grid = terrain.grid
    cells = cells_of(footprint, grid)
    inside = shapely.box(*grid.extent).covers(footprint)
    return bool(inside and np.isfinite(grid.heights_m.ravel()[cells]).all())


def _time_s(course: Course | None, given: Circumstances) -> float | None:
    """Return the fast bound of storm runoff to the end of a way [s]."""
    if course is None:
        return None
    return storm_time_s(course, given.assumed, fall_error_m=given.fall_error_m)
