"""What is told of a way: what it crosses, what it passes, what to beware of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely import Geometry, LineString, Point

from pathways.features import Source, Surface
from pathways.materials import NOT_DRAWN
from pathways.terrain.alternatives import Other, Start, ground_of
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Nearby
from pathways.terrain.way import Way

_TREATED_AS_DOMESTIC = "The use of {} is not known; it is treated as a domestic supply."


def drop_of(terrain: Terrain, way: Way, start: Point) -> float:
    """Return how far a way falls, from its first known height to its last [m]."""
    size = terrain.grid.cell_size_m
    places = [start.coords[0]]
    for leg in way.legs:
        if leg.line.length > 0:
            places += shapely.segmentize(leg.line, size).coords
    cells = [terrain.grid.cell_at(*place) for place in places]
    heights = [float(terrain.grid.heights_m[one]) for one in cells if one is not None]
    known = [one for one in heights if one == one]  # NaN is no height
    return known[0] - known[-1] if known else float("nan")


def any_water_on_grid(terrain: Terrain) -> bool:
    """Whether any open water lies on the grid."""
    return bool((terrain.flow.ground.water_at >= 0).any())


def straight_line_m(terrain: Terrain, shape: Geometry) -> float | None:
    """Return the distance in plan to the nearest water's edge of any kind [m]."""
    if not terrain.waters:
        return None
    return float(min(shape.distance(outline) for outline in terrain.waters))


def surfaces_under(terrain: Terrain, way: Way) -> tuple[tuple[str, float], ...]:
    """Return the surfaces that a way crosses, in its order, and their lengths [m]."""
    stretches: list[tuple[str, float]] = []
    for leg in way.legs:
        if leg.kind not in ("surface", "observed"):
            continue
        for kind, length_m in stretches_over(leg.line, terrain.features.surfaces):
            before_m = 0.0
            if stretches and stretches[-1][0] == kind:
                before_m = stretches.pop()[1]
            stretches.append((kind, before_m + length_m))
    return tuple(stretches)


@dataclass(frozen=True, kw_only=True)
class Covered:
    """A part of a line that lies on one cover; `surface` is None where none is drawn.

    `from_m` and `until_m` are distances along the line [m].
    """

    surface: Surface | None
    from_m: float
    until_m: float

    @property
    def kind(self) -> str:
        """Kind of surface, or `NOT_DRAWN`."""
        return NOT_DRAWN if self.surface is None else self.surface.kind


def stretches_over(
    line: LineString, surfaces: Sequence[Surface]
) -> list[tuple[str, float]]:
    """Return the stretches of a line by what they lie on.

    Parameters
    ----------
    line : shapely.LineString
        Part of a way.
    surfaces : sequence of Surface
        As for `covered_parts`.

    Returns
    -------
    list of (str, float)
        Kind of surface, or `NOT_DRAWN`, and length [m], in the order of the line.
    """
    return [
        (one.kind, one.until_m - one.from_m) for one in covered_parts(line, surfaces)
    ]


def covered_parts(line: LineString, surfaces: Sequence[Surface]) -> list[Covered]:
    """Return the parts of a line by the surface that they lie on.

    Parameters
    ----------
    line : shapely.LineString
        Part of a way.
    surfaces : sequence of Surface
        Where two are drawn over each other, the smaller one lies on top.

    Returns
    -------
    list of Covered
        In the order of the line.
    """
    drawn = sorted(surfaces, key=lambda one: one.geometry.area)
    rest: Geometry = line
    found: list[Covered] = []

    def add(parts: Geometry, surface: Surface | None) -> None:
        for part in _lines(parts):
            from_m = line.project(Point(part.coords[0]))
            found.append(
                Covered(surface=surface, from_m=from_m, until_m=from_m + part.length)
            )

    for surface in drawn:
        add(rest.intersection(surface.geometry), surface)
        rest = rest.difference(surface.geometry)
    add(rest, None)
    found = [one for one in found if one.until_m > one.from_m]
    return sorted(found, key=lambda one: (one.from_m, one.kind, one.until_m))


def _lines(shape: Geometry) -> list[LineString]:
    """Return the lines of a shape."""
    return [
        part
        for part in shapely.get_parts(shape)
        if isinstance(part, LineString) and not part.is_empty
    ]


def passes_near(
    terrain: Terrain, source: Source, start: Start, way: Way
) -> tuple[Nearby, ...]:
    """Return wells, springs and inlets near a source or its way, nearest first."""
    ground = shapely.union_all([source.geometry, ground_of(way, start)])
    features, assumed = terrain.features, terrain.assumed
    near = [
        Nearby(id=one.id, kind=one.kind, distance_m=ground.distance(one.geometry))
        for one in features.water_supplies
        if ground.distance(one.geometry) <= assumed["supplies", "passes_near_m"]
    ]
    near += [
        Nearby(id=one.id, kind=one.kind, distance_m=ground.distance(one.geometry))
        for one in features.inlets
        if ground.distance(one.geometry) <= assumed["drains", "inlet_reach_m"]
        and one.id not in way.via
    ]
    return tuple(sorted(near, key=lambda one: (one.distance_m, one.id)))


def cautions_of(
    terrain: Terrain, source: Source, start: Start, way: Way, others: list[Other]
) -> tuple[str, ...]:
    """Return what a reader must know of one way."""
    cautions = list(way.cautions)
    if start.kind == "door" and source.door is None:
        cautions.append(
            "No door of its building is drawn: the way is told from the nearest wall; "
            "draw the door, for liquid may leave on another side."
        )
    cautions += [
        f"The dye result {one.title or one.kind} does not say where the dye was "
        "poured, so it decides nothing: give from_id."
        for one in terrain.features.observations
        if one.kind in ("dye_arrived", "dye_absent")
        and one.from_id is None
        and not one.geometry.length > 0
    ]
    for one in others:
        if one.top and one.way.outcome == "enters_piped_drain":
            cautions.append(
                f"{one.way.via[0]} near the way has no known outlet: treat it as "
                "joined to water until somebody shows that it is not."
            )
    for observation in way.observed:
        cautions.append(
            f"What was seen ({observation.title or observation.kind}, "
            f"{observation.date or 'no date given'}) overrules the grid here."
        )
    for hollow in way.hollows:
        if hollow.held_by:
            cautions.append(
                f"Liquid stands {hollow.depth_m:.2f} m deep "
                f"({hollow.capacity_l:.0f} l) before it overtops {hollow.held_by}."
            )
    ground = shapely.union_all([leg.line for leg in way.legs] or [source.geometry])
    for supply in terrain.features.water_supplies:
        near_m = terrain.assumed["supplies", "passes_near_m"]
        if supply.use == "unknown" and ground.distance(supply.geometry) <= near_m:
            cautions.append(_TREATED_AS_DOMESTIC.format(supply.title))
    return tuple(dict.fromkeys(cautions))
