"""Gullies, pipes, culverts and tanks: what takes surface water, and where it leads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import shapely
from shapely import Geometry, LineString, Point
from shapely.ops import nearest_points

from pathways.assumed import AssumedValues
from pathways.errors import Notice
from pathways.features import Features, Inlet, Pipe, Tank
from pathways.grid import Grid

_ENDS_WORST_LAST = ("tank", "surface", "ground", "unknown", "water")

#: Words in `Inlet.drains_to` that are no id.
NO_IDS = ("unknown", "soakaway", "capped")


@dataclass(frozen=True, kw_only=True)
class Opening:
    """Something by which surface water goes underground.

    `captures` is False where a lid, a cap or a roof pipe keeps surface water out as far
    as is known; such an opening is told as another way, never left out.
    """

    id: str
    kind: str
    geometry: Geometry
    drains_to: str
    captures: bool
    comes_first: int = 0  # where two share a cell: the worse end has the greater number

    @property
    def outlet_is_unknown(self) -> bool:
        """Whether nobody knows where it leads."""
        return self.drains_to == "unknown"


@dataclass(frozen=True, kw_only=True)
class Lead:
    """Where an opening leads: through which pipes, and how that ends.

    `ends` is "water", "tank", "surface" (it comes out on the ground at `place`),
    "ground" (soakaway) or "unknown".
    """

    ends: Literal["water", "tank", "surface", "ground", "unknown"]
    via: tuple[str, ...]
    lines: tuple[tuple[str, LineString], ...]
    receptor_id: str = ""
    receptor_kind: str = ""
    place: Point | None = None
    note: str = ""


@dataclass(frozen=True)
class Drains:
    """All drains of a farm, and where each leads."""

    features: Features
    waters: tuple[Geometry, ...]
    reach_m: float
    openings: tuple[Opening, ...]
    notices: tuple[Notice, ...] = field(default=())

    def lead_of(self, opening: Opening, entered: Point) -> Lead:
        """Return where an opening leads that is entered at a place."""
        return self._lead(opening.drains_to, entered, (), ())

    def lead_of_pipe(self, pipe: Pipe, start: Point) -> Lead:
        """Return where a pipe leads that is entered at a place along it."""
        return self._lead(pipe.id, start, (), ())

    def _lead(
        self,
        drains_to: str,
        start: Point,
        via: tuple[str, ...],
        lines: tuple[tuple[str, LineString], ...],
    ) -> Lead:
        if drains_to == "unknown":
            return Lead(ends="unknown", via=via, lines=lines, place=start)
        if drains_to == "soakaway":
            return Lead(
                ends="ground",
                via=via,
                lines=lines,
                receptor_kind="soakaway",
                place=start,
            )
        tank = next((one for one in self.features.tanks if one.id == drains_to), None)
        if tank is not None:
            return self._into_tank(tank, start, via, lines)
        for water, outline in zip(self.features.watercourses, self.waters, strict=True):
            if water.id == drains_to:
                return self._into_water(
                    water.id, water.kind, outline, start, via, lines
                )
        pipe = next((one for one in self.features.pipes if one.id == drains_to), None)
        if pipe is None or pipe.id in via:
            note = f"the drains lead in a circle at {drains_to!r}" if pipe else ""
            return Lead(ends="unknown", via=via, lines=lines, place=start, note=note)
        return self._through(pipe, start, via, lines)

    def _through(
        self,
        pipe: Pipe,
        start: Point,
        via: tuple[str, ...],
        lines: tuple[tuple[str, LineString], ...],
    ) -> Lead:
        """Follow a pipe from where it is entered to what its lower end meets."""
        via = (*via, pipe.id)
        lines = (*lines, (pipe.id, _from(start, pipe.geometry)))
        end = Point(pipe.geometry.coords[-1])
        met = self._met_at(end, pipe, via)
        if met is not None:
            drains_to, through = met
            return self._lead(drains_to, end, (*via, *through), lines)
        if pipe.kind == "culvert" or self._seen_at(end):
            return Lead(ends="surface", via=via, lines=lines, place=end)
        if pipe.kind == "land_drain":
            first = Point(pipe.geometry.coords[0])
            for water, outline in zip(
                self.features.watercourses, self.waters, strict=True
            ):
                # Drawn backwards, it seems.
                if outline.distance(first) <= self.reach_m:
                    return self._into_water(
                        water.id, water.kind, outline, first, via, lines
                    )
            return Lead(
                ends="ground",
                via=via,
                lines=lines,
                receptor_kind="land_drain",
                receptor_id=pipe.id,
                place=end,
            )
        return Lead(ends="unknown", via=via, lines=lines, place=end)

    def _met_at(
        self, end: Point, pipe: Pipe, via: tuple[str, ...]
    ) -> tuple[str, tuple[str, ...]] | None:
        """Return what a pipe's end drains to, and the inlet that lies between."""
        near: list[tuple[float, int, str, tuple[str, ...]]] = []
        # Of things that are equally near, an inlet says where it leads, so it is asked.
        near += [
            (one.geometry.distance(end), 0, one.drains_to, (one.id,))
            for one in self.features.inlets
            if one.drains_to not in ("capped", pipe.id)
        ]
        near += [
            (outline.distance(end), 1, water.id, ())
            for water, outline in zip(
                self.features.watercourses, self.waters, strict=True
            )
        ]
        near += [
            (one.geometry.distance(end), 2, one.id, ()) for one in self.features.tanks
        ]
        near += [
            (one.geometry.distance(end), 3, one.id, ())
            for one in self.features.pipes
            if one.id not in via
        ]
        near = [one for one in near if one[0] <= self.reach_m]
        return min(near)[2:] if near else None

    def outlets_of(self, tank: Tank) -> list[Pipe]:
        """Return the pipes that begin at a tank."""
        return [
            one
            for one in self.features.pipes
            if tank.geometry.distance(Point(one.geometry.coords[0])) <= self.reach_m
            and tank.geometry.distance(Point(one.geometry.coords[-1])) > self.reach_m
        ]

    def _seen_at(self, end: Point) -> bool:
        """Whether somebody saw an outfall where a pipe ends."""
        return any(
            one.kind == "outfall_seen" and one.geometry.distance(end) <= self.reach_m
            for one in self.features.observations
        )

    def _into_water(
        self,
        identity: str,
        kind: str,
        outline: Geometry,
        start: Point,
        via: tuple[str, ...],
        lines: tuple[tuple[str, LineString], ...],
    ) -> Lead:
        shore = nearest_points(start, outline)[1]
        if start.distance(shore) > 0:
            lines = (*lines, ("", LineString([start, shore])))
        return Lead(
            ends="water",
            via=via,
            lines=lines,
            receptor_id=identity,
            receptor_kind=kind,
            place=shore,
        )

    def _into_tank(
        self,
        tank: Tank,
        start: Point,
        via: tuple[str, ...],
        lines: tuple[tuple[str, LineString], ...],
    ) -> Lead:
        place = nearest_points(start, tank.geometry)[1]
        if start.distance(place) > 0:
            lines = (*lines, ("", LineString([start, place])))
        outlet = next((one for one in self.outlets_of(tank) if one.id not in via), None)
        if outlet is not None:  # a tank with an outlet passes on what it is given
            return self._through(outlet, place, (*via, tank.id), lines)
        return Lead(
            ends="tank",
            via=(*via, tank.id),
            lines=lines,
            receptor_id=tank.id,
            receptor_kind="tank",
            place=place,
        )


def _from(start: Point, line: LineString) -> LineString:
    """Return the part of a pipe below the place where it is entered."""
    at = line.project(start)
    if at <= 0:
        joined = (
            [start, *map(Point, line.coords)]
            if start.distance(Point(line.coords[0])) > 0
            else [*map(Point, line.coords)]
        )
        return LineString(joined)
    foot = line.interpolate(at)
    rest = [place for place in map(Point, line.coords) if line.project(place) > at] or [
        Point(line.coords[-1])
    ]
    places = [start, foot, *rest] if start.distance(foot) > 0 else [foot, *rest]
    return LineString(places)


def find_drains(
    features: Features,
    waters: Sequence[Geometry],
    assumed: AssumedValues,
    grid: Grid,
) -> Drains:
    """Find all openings of a farm and what their pipes lead to.

    Parameters
    ----------
    features : Features
        Inlets, pipes, tanks, watercourses and what was seen.
    waters : sequence of shapely.Geometry
        Outline of each watercourse, in the order of `Features.watercourses`.
    assumed : AssumedValues
        How near a pipe must end to something to lead into it.
    grid : Grid
        Size of a cell, and heights to tell a culvert that is drawn uphill.

    Returns
    -------
    Drains
        Openings in the order: inlets, then upper ends of pipes that stand open.
    """
    reach_m = max(assumed["drawing", "pipe_end_reach_m"], grid.cell_size_m)
    openings = [_opening_of(inlet, features) for inlet in features.inlets]
    openings = [one for one in openings if one.drains_to != "capped"]
    notices = []
    for pipe in features.pipes:
        if pipe.kind == "land_drain":
            continue
        if _fed_by_something(pipe, features, waters, reach_m):
            continue
        openings.append(
            Opening(
                id=pipe.id,
                kind="pipe_end",
                geometry=Point(pipe.geometry.coords[0]),
                drains_to=pipe.id,
                captures=True,
            )
        )
        if pipe.kind == "pipe":
            notices.append(_unfed(pipe, features))
    drains = Drains(features, tuple(waters), reach_m, tuple(openings))
    for pipe in features.pipes:
        notices += [
            notice
            for notice in (_loose_end(pipe, drains), _backwards(pipe, drains, grid))
            if notice is not None
        ]
    ranked = [
        replace(
            one,
            comes_first=_ENDS_WORST_LAST.index(
                drains.lead_of(one, one.geometry.centroid).ends
            ),
        )
        for one in openings
    ]
    return Drains(features, tuple(waters), reach_m, tuple(ranked), tuple(notices))


def _opening_of(inlet: Inlet, features: Features) -> Opening:
    """Return an inlet as an opening; one inside a barn takes no water of the yard."""
    buildings = features.closed_buildings
    indoors = not buildings.is_empty and inlet.geometry.within(buildings)
    return Opening(
        id=inlet.id,
        kind=inlet.kind,
        geometry=inlet.geometry,
        drains_to=inlet.drains_to,
        captures=not inlet.covered and inlet.kind != "downpipe" and not indoors,
    )


def _fed_by_something(
    pipe: Pipe, features: Features, waters: Sequence[Geometry], reach_m: float
) -> bool:
    """Whether the upper end of a pipe is joined to an inlet, pipe, tank or water."""
    start = Point(pipe.geometry.coords[0])
    # A culvert has a mouth of its own, wherever else something drains into it.
    if any(
        one.drains_to == pipe.id
        and (pipe.kind != "culvert" or one.geometry.distance(start) <= reach_m)
        for one in features.inlets
    ):
        return True
    if any(one.geometry.distance(start) <= reach_m for one in features.tanks):
        return True
    if any(outline.distance(start) <= reach_m for outline in waters):
        return True
    return any(
        Point(other.geometry.coords[-1]).distance(start) <= reach_m
        for other in features.pipes
        if other.id != pipe.id
    )


def _unfed(pipe: Pipe, features: Features) -> Notice:
    """Return the warning for a pipe that nothing drains to."""
    start = Point(pipe.geometry.coords[0])
    text = f"nothing drains into the upper end of pipe {pipe.id!r}"
    if features.inlets:
        nearest = min(features.inlets, key=lambda one: one.geometry.distance(start))
        text += (
            f" (nearest inlet: {nearest.id!r}, "
            f"{nearest.geometry.distance(start):.1f} m)"
        )
    text += (
        "; it is taken as an open end: draw the inlet, or set its drains_to to this "
        "pipe"
    )
    return Notice("pipe_without_inlet", text, f"pipes {pipe.id}")


#: A culvert whose ends rise by more than this along it is drawn uphill [m].
_UPHILL_M = 0.05


def _backwards(pipe: Pipe, drains: Drains, grid: Grid) -> Notice | None:
    """Return the warning for a pipe that seems to be drawn against its flow."""
    first, last = Point(pipe.geometry.coords[0]), Point(pipe.geometry.coords[-1])
    wet = [
        any(outline.distance(end) <= drains.reach_m for outline in drains.waters)
        for end in (first, last)
    ]
    cells = [grid.cell_at(end.x, end.y) for end in (first, last)]
    heights = [np.nan if one is None else float(grid.heights_m[one]) for one in cells]
    uphill = pipe.kind == "culvert" and heights[1] - heights[0] > _UPHILL_M
    if not uphill and (wet[0] <= wet[1]):
        return None
    why = "it starts at water and ends away from it" if wet[0] > wet[1] else "it rises"
    text = (
        f"{pipe.kind.replace('_', ' ')} {pipe.id!r} may be drawn backwards: {why}; "
        "draw it in the direction of flow"
    )
    return Notice("pipe_backwards", text, f"pipes {pipe.id}")


def _loose_end(pipe: Pipe, drains: Drains) -> Notice | None:
    """Return the warning for a pipe whose lower end meets nothing."""
    lead = drains.lead_of_pipe(pipe, Point(pipe.geometry.coords[0]))
    if lead.ends not in ("unknown", "ground") or lead.via[-1:] != (pipe.id,):
        return None
    end = Point(pipe.geometry.coords[-1])
    text = f"{pipe.kind.replace('_', ' ')} {pipe.id!r} ends at nothing that is drawn"
    waters = drains.features.watercourses
    if waters:
        shapes = list(zip(waters, drains.waters, strict=True))
        water, outline = min(shapes, key=lambda pair: pair[1].distance(end))
        text += (
            f" (nearest water: {water.title!r}, {shapely.distance(outline, end):.1f} m)"
        )
    text += "; find its outfall and draw the pipe to it"
    return Notice("pipe_end_loose", text, f"pipes {pipe.id}")
