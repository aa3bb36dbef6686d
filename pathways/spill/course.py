"""What a spill meets on its way, in order: covers, hollows, kerbs, inlets, pipes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from shapely import LineString, Point

from pathways.features import Barrier, Tank
from pathways.materials import NOT_DRAWN, Materials, SurfaceMaterial
from pathways.terrain.barriers import ALONG_REACHES, GUIDING
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Alternative, Hollow, Leg, Pathway
from pathways.terrain.telling import covered_parts
from pathways.units import LITRES_PER_CUBIC_METRE, MILLIMETRES_PER_METRE

#: Places of a line at which a height is looked for where its end has none.
_TRIES = 100
#: Shorter stretches are left to the one before [m].
_LEAST_STRETCH_M = 0.01


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """Open ground of one cover; `kerb` is what guides liquid along it, if anything.

    `slope` is its own; times go by `fast_slope`, which is no less than that of the
    whole run over open ground: cutting a way into stretches slows nothing down.
    """

    material: SurfaceMaterial
    length_m: float
    slope: float
    kerb: Barrier | None = None
    run_slope: float = 0.0

    @property
    def fast_slope(self) -> float:
        """The steeper of its own slope and that of the whole run [m/m]."""
        return max(self.slope, self.run_slope)


@dataclass(frozen=True, kw_only=True)
class Store:
    """A hollow that fills before liquid goes on, or a tank that is counted on."""

    kind: Literal["hollow", "tank"]
    id: str
    capacity_m3: float


@dataclass(frozen=True, kw_only=True)
class Mouth:
    """An inlet by which liquid leaves the ground.

    `width_m` is that of its grating across the flow. `into_tank` is whether a tank that
    is counted on follows: then what runs past the inlet is what matters.
    """

    id: str
    width_m: float
    into_tank: bool


@dataclass(frozen=True, kw_only=True)
class Conduit:
    """A pipe, or the straight line that stands in for one; it loses nothing."""

    id: str
    length_m: float
    slope: float
    diameter_m: float


Part = Stretch | Store | Mouth | Conduit


@dataclass(frozen=True)
class Course:
    """A way as a spill meets it.

    Parameters
    ----------
    parts : tuple of Stretch, Store, Mouth or Conduit
        In the order of the way.
    """

    parts: tuple[Part, ...]

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """The parts over open ground."""
        return tuple(one for one in self.parts if isinstance(one, Stretch))

    @property
    def over_ground_m(self) -> float:
        """Length over open ground [m]."""
        return float(sum(one.length_m for one in self.stretches))


def course_of(
    terrain: Terrain, way: Pathway | Alternative, materials: Materials
) -> Course:
    """Return what a spill meets on a way.

    Parameters
    ----------
    terrain : Terrain
        The farm on which the way was traced.
    way : Pathway or Alternative
        The way; of an alternative no hollows are told, so none are counted on.
    materials : Materials
        Covers of the ground.

    Returns
    -------
    Course
        Stretches end where the cover changes, a kerb begins or ends, or a hollow lies.
        Hollows less deep than the assumed least are left out: heights do not bear them
        out.
    """
    builder = _Builder(terrain, way, materials)
    return Course(tuple(_leaking_into_tanks(list(builder.parts()))))


@dataclass(frozen=True)
class _Builder:
    terrain: Terrain
    way: Pathway | Alternative
    materials: Materials

    def parts(self) -> Iterator[Part]:
        """Yield the parts of all legs in order."""
        hollows = self._hollows()
        told: set[str] = set()  # tanks: each takes what it has free only once
        for number, leg in enumerate(self.way.legs):
            if self._lies_open(leg):
                stops = [
                    (at_m, Store(kind="hollow", id=one.held_by, capacity_m3=litres))
                    for at_m, one in hollows.get(number, [])
                    for litres in [one.capacity_l / LITRES_PER_CUBIC_METRE]
                ]
                yield from self._over_ground(leg.line, stops)
            else:
                yield self._conduit(leg)
            if leg.enters:
                yield from self._mouth(leg.enters)
            if leg.tank and leg.tank not in told:
                told.add(leg.tank)
                yield self._tank(leg.tank)

    def _hollows(self) -> dict[int, list[tuple[float, Hollow]]]:
        """Return the hollows that are counted on, by leg."""
        if not isinstance(self.way, Pathway):
            return {}
        least_m = self.terrain.assumed["spill", "least_hollow_m"]
        # A way that comes back to a hollow meets it full.
        once = {
            (one.level_m, one.area_m2, one.capacity_l): one
            for one in reversed(self.way.hollows)
            if one.depth_m >= least_m
        }
        return self.way.hollows_by_leg(reversed(once.values()))

    def _lies_open(self, leg: Leg) -> bool:
        """Whether a leg wets ground; by what way dye came nobody saw."""
        if leg.kind == "observed":
            seen = (one for one in self.terrain.features.observations)
            return any(
                one.id == leg.through and one.kind == "flow_seen" for one in seen
            )
        return leg.kind == "surface"

    def _over_ground(
        self, line: LineString, stops: list[tuple[float, Store]]
    ) -> Iterator[Part]:
        """Yield the stretches of one leg and the hollows between them."""
        covers = covered_parts(line, self.terrain.features.surfaces)
        kerbs = self._kerbs_along(line)
        cuts = {0.0, line.length}
        cuts |= {one.from_m for one in covers} | {one.until_m for one in covers}
        cuts |= {at_m for from_m, until_m, _ in kerbs for at_m in (from_m, until_m)}
        cuts |= {at_m for at_m, _ in stops}
        waiting = list(stops)
        places = sorted(min(max(one, 0.0), line.length) for one in cuts)
        run_slope = self._slope(line, 0.0, line.length) if line.length else 0.0
        for from_m, until_m in itertools.pairwise(places):
            while waiting and waiting[0][0] <= from_m:
                yield waiting.pop(0)[1]
            if until_m - from_m < _LEAST_STRETCH_M:
                continue
            middle_m = (from_m + until_m) / 2
            cover = next(
                (one for one in covers if one.from_m <= middle_m <= one.until_m), None
            )
            surface = None if cover is None else cover.surface
            yield Stretch(
                material=self.materials.surface(NOT_DRAWN)
                if surface is None
                else self.materials.surface(surface.kind, surface.condition),
                length_m=until_m - from_m,
                slope=self._slope(line, from_m, until_m),
                run_slope=run_slope,
                kerb=next(
                    (kerb for low, high, kerb in kerbs if low <= middle_m <= high), None
                ),
            )
        yield from (store for _, store in waiting)

    def _kerbs_along(self, line: LineString) -> list[tuple[float, float, Barrier]]:
        """Return where a line runs along a barrier, and which."""
        reach_m = self.terrain.kerb_reach_m
        found = []
        for barrier in self.terrain.features.barriers:
            if barrier.kind not in GUIDING:
                continue
            near = line.intersection(barrier.geometry.buffer(reach_m))
            for part in getattr(near, "geoms", [near]):
                if part.length > ALONG_REACHES * reach_m:
                    ends = [line.project(Point(part.coords[at])) for at in (0, -1)]
                    found.append((min(ends), max(ends), barrier))
        return found

    def _slope(self, line: LineString, from_m: float, until_m: float) -> float:
        """Return the fall of a part of a line [m/m], at least the least.

        Hollows are taken as full: liquid runs on from their surface.
        """
        first_m, last_m = (self._height_near(line, at) for at in (from_m, until_m))
        least = self.terrain.assumed["spill", "least_slope"]
        slope = (first_m - last_m) / (until_m - from_m)
        return slope if slope > least else least

    def _height_near(self, line: LineString, at_m: float) -> float:
        """Return the height at a place of a line, else at the nearest known one."""
        here = self._height_m(line.interpolate(at_m))
        if not math.isnan(here):
            return here
        tried = [line.length * one / _TRIES for one in range(_TRIES + 1)]
        known = [
            (abs(one - at_m), height_m)
            for one in tried
            for height_m in [self._height_m(line.interpolate(one))]
            if not math.isnan(height_m)
        ]
        return min(known)[1] if known else math.nan

    def _height_m(self, place: Point) -> float:
        cell = self.terrain.grid.cell_at(place.x, place.y)
        if cell is None:
            return math.nan
        filled_m = float(self.terrain.flow.drainage.filled_m[cell])
        return filled_m if math.isfinite(filled_m) else math.nan

    def _conduit(self, leg: Leg) -> Conduit:
        pipe = next(
            (one for one in self.terrain.features.pipes if one.id == leg.through), None
        )
        diameter_m = self.terrain.assumed["spill", "pipe_diameter_m"]
        if pipe is not None and pipe.diameter_mm:
            diameter_m = pipe.diameter_mm / MILLIMETRES_PER_METRE
        length_m = leg.line.length
        least = self.terrain.assumed["spill", "pipe_least_slope"]
        slope = self._slope(leg.line, 0.0, length_m) if length_m else least
        return Conduit(
            id=leg.through,
            length_m=length_m,
            slope=max(slope, least),
            diameter_m=diameter_m,
        )

    def _mouth(self, name: str) -> Iterator[Mouth]:
        """Yield the inlet by which the ground is left; the end of a pipe is none."""
        inlets = self.terrain.features.inlets
        inlet = next((one for one in inlets if one.id == name), None)
        if inlet is None:
            return
        width_m = self.terrain.assumed["spill", "grating_width_m"]
        if inlet.geometry.length > 0:  # a channel drain lies across what comes
            width_m = inlet.geometry.length
        yield Mouth(id=inlet.id, width_m=width_m, into_tank=False)

    def _tank(self, name: str) -> Store:
        tank = next(one for one in self.terrain.features.tanks if one.id == name)
        passes_on = bool(self.terrain.drains.outlets_of(tank))
        capacity_m3 = 0.0 if passes_on else _counted_on_m3(tank)
        return Store(kind="tank", id=name, capacity_m3=capacity_m3)


def _counted_on_m3(tank: Tank) -> float:
    """Return what a tank can be relied on to take: nothing unless that is known."""
    if not tank.maintained or tank.free_l is None:
        return 0.0
    return tank.free_l / LITRES_PER_CUBIC_METRE


def _leaking_into_tanks(parts: list[Part]) -> Iterator[Part]:
    """Yield parts, inlets marked whose drain leads into a tank that is counted on."""
    for number, part in enumerate(parts):
        if not isinstance(part, Mouth):
            yield part
            continue
        below = itertools.takewhile(
            lambda one: not isinstance(one, Stretch), parts[number + 1 :]
        )
        held = any(isinstance(one, Store) and one.capacity_m3 > 0 for one in below)
        yield replace(part, into_tank=held)
