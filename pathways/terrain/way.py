"""One way of liquid from a place: over the ground, through drains, as it was seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point
from shapely.ops import nearest_points, substring

from pathways.features import Observation
from pathways.terrain.drains import Lead
from pathways.terrain.hollows import hollows_along
from pathways.terrain.landscape import Flow, Terrain
from pathways.terrain.line import cut_at, drawn_line, ending_at
from pathways.terrain.pathway import Hollow, Leg, Outcome
from pathways.terrain.seen import dye_cautions, dye_lead, meeting
from pathways.terrain.surface import NOBODY, Ground, Role, open_cell_near

#: Line and drainage network may end this many cells apart before a reader is told.
_PARTED_CELLS = 5

#: A way on which no two heights differ by this is led by nothing: heights are given to
#: about this much [m].
_FLAT_M = 0.01

PARTED = (
    "The line and the network of steepest steps part on the way: here the ground "
    "hardly decides where liquid runs."
)


@dataclass(frozen=True, kw_only=True)
class Way:
    """Where liquid from one place goes, and by what."""

    outcome: Outcome = "not_known"
    why: str = ""
    receptor_id: str = ""
    receptor_kind: str = ""
    legs: tuple[Leg, ...] = ()
    via: tuple[str, ...] = ()
    hollows: tuple[Hollow, ...] = ()
    taken: tuple[int, ...] = ()  # openings, as places in Drains.openings
    observed: tuple[Observation, ...] = ()  # observations that overruled the grid
    cautions: tuple[str, ...] = ()
    overtops_at_m: float | None = None
    ends: bool = False

    @property
    def length_m(self) -> float:
        """Length in plan [m]."""
        return float(sum(leg.line.length for leg in self.legs))

    @property
    def over_ground_m(self) -> float:
        """Length over the ground, pipes left out [m]."""
        return float(sum(leg.line.length for leg in self.legs if leg.kind != "pipe"))

    def and_then(self, leg: Leg | None, **changes: object) -> Way:
        """Return the way with one more leg and other changes."""
        legs = (*self.legs, leg) if leg is not None else self.legs
        return replace(self, legs=legs, **changes)  # type: ignore[arg-type]


@dataclass(frozen=True)
class _Run:
    """A stretch over the ground: its cells, its line, and whether the two agree."""

    cells: NDArray[np.int64]
    line: LineString
    parted: bool


@dataclass(frozen=True)
class Premise:
    """What is taken for granted when a way is followed.

    Parameters
    ----------
    blocked : frozenset of int
        Openings taken as blocked, as places in `Drains.openings`.
    as_seen : bool
        Let observed flow lines overrule the grid.
    over_walls : bool
        Let liquid overtop walls; else a yard that they shut in ends the way.
    by_fall : bool
        Where the fall of the ground and the network of steepest steps end differently,
        go by the fall.
    """

    blocked: frozenset[int] = frozenset()
    as_seen: bool = True
    over_walls: bool = False
    by_fall: bool = False


AS_DRAWN = Premise()


def follow(
    terrain: Terrain,
    start: Point,
    *,
    volume_l: float | None = None,
    premise: Premise = AS_DRAWN,
) -> Way:
    """Follow liquid from a place to where its way ends.

    Parameters
    ----------
    terrain : Terrain
        Ground, drains and what was seen.
    start : shapely.Point
        Where the liquid is.
    volume_l : float, optional
        What is spilt [l]; a tank holds it only when the volume is known.
    premise : Premise
        What is taken for granted.

    Returns
    -------
    Way
        Legs end to end, and how it ends.
    """
    way = Way()
    place = start
    blocked = premise.blocked
    seen: set[int] = set()
    # Each turn uses up an opening or an observation; once all are used it must end.
    turns = 2 * len(terrain.drains.openings) + len(terrain.features.observations) + 3
    for _ in range(turns):
        flow = terrain.flow_past(blocked)
        cell = open_cell_near(flow.ground, place, terrain.barriers)
        if cell is None:
            return _off_ground(terrain, way, place)
        run = _run(flow, place, cell, by_fall=premise.by_fall)
        run = _kept_off_walls(terrain, flow, run)
        met = meeting(terrain, run.line, seen) if premise.as_seen else None
        if met is not None and _walled_off(terrain, flow, run, met[1], premise):
            met = None
        if met is not None:
            way, place = _as_seen(terrain, flow, way, run, met)
            seen.add(met[0])
            if way.ends:
                return way
            continue
        before = way
        way, opening = _to_the_end(
            terrain, flow, way, run, over_walls=premise.over_walls
        )
        if opening is None:
            return way
        if opening in way.taken:
            # Its drains come back to it: what arrives again goes past it.
            blocked = blocked | {opening}
            place = Point(run.line.coords[0])
            way = before
            continue
        way, place = down(terrain, way, opening, volume_l)
        if way.ends:
            return way
    return replace(way, outcome="not_known", why="drains_in_a_circle", ends=True)


def _off_ground(terrain: Terrain, way: Way, place: Point) -> Way:
    """Return a way that cannot go on, because there is no ground."""
    off = terrain.grid.cell_at(place.x, place.y) is None
    if off and way.legs:
        return replace(way, outcome="not_known", why="leaves_grid", ends=True)
    why = "off_grid" if off else "meets_no_data"
    return replace(way, outcome="not_known", why=why, ends=True)


def _run(flow: Flow, place: Point, cell: int, *, by_fall: bool) -> _Run:
    """Follow the ground from a cell; topology decides where it ends.

    The line guided by the fall of the ground is drawn where it ends at the same water,
    drain or edge as the network of steps does; else the network's own line.
    """
    steps = flow.drainage.way_from(cell)
    size = flow.ground.grid.cell_size_m
    centre_east, centre_north = flow.ground.place(cell)
    guided, deviations = flow.drainage.guided_way_from(
        cell,
        east_cells=(centre_east - place.x) / size,
        north_cells=(centre_north - place.y) / size,
    )
    end, guided_end = int(steps[-1]), int(guided[-1])
    differ = _ending(flow.ground, end) != _ending(flow.ground, guided_end)
    if differ and not by_fall:
        return _Run(steps, drawn_line(flow.ground, place, steps, None), parted=True)
    ends_m = Point(flow.ground.place(end)).distance(
        Point(flow.ground.place(guided_end))
    )
    parted = ends_m > _PARTED_CELLS * size
    line = drawn_line(flow.ground, place, guided, deviations)
    return _Run(guided, line, parted)


def _kept_off_walls(terrain: Terrain, flow: Flow, run: _Run) -> _Run:
    """Redraw a line that cuts a corner over a barrier which its cells go round."""
    if not terrain.barriers.crossed_by(run.line):
        return run
    start = Point(run.line.coords[0])
    line = drawn_line(flow.ground, start, run.cells, None, smooth=False)
    return replace(run, line=line)


def _ending(ground: Ground, cell: int) -> tuple[int, int, int]:
    """Return what a way that ends in a cell ends in."""
    return (
        int(ground.roles.ravel()[cell]),
        int(ground.water_at.ravel()[cell]),
        int(ground.opening_at.ravel()[cell]),
    )


def _cells_until(ground: Ground, run: _Run, at_m: float) -> NDArray[np.int64]:
    """Return the cells of a stretch up to a distance along its line."""
    along = np.array(
        [run.line.project(Point(ground.place(int(cell)))) for cell in run.cells]
    )
    return run.cells[along <= at_m]


def _walled_off(
    terrain: Terrain, flow: Flow, run: _Run, at_m: float, premise: Premise
) -> bool:
    """Whether a wall shuts a way in before it comes to a place on its line."""
    if premise.over_walls:
        return False
    wall = _wall_on(terrain, flow.ground, run.cells)
    if wall is None:
        return False
    place = Point(flow.ground.place(int(run.cells[wall])))
    return bool(run.line.project(place) <= at_m)


def _into_water(terrain: Terrain, way: Way, water: int, place: Point) -> Way:
    """End a way in water near a place."""
    shore = nearest_points(place, terrain.waters[water])[1]
    leg = None
    if place.distance(shore) > 0:
        leg = Leg(kind="joined", line=LineString([place, shore]))
    return in_water(terrain, way.and_then(leg), water)


def in_water(terrain: Terrain, way: Way, water: int) -> Way:
    """Return a way that ends in water.

    Parameters
    ----------
    terrain : Terrain
        Names the waters.
    way : Way
        The way as far as there.
    water : int
        Place in `Features.watercourses`.

    Returns
    -------
    Way
        With its outcome.
    """
    feature = terrain.features.watercourses[water]
    return replace(
        way,
        outcome="reaches_water",
        receptor_id=feature.id,
        receptor_kind=feature.kind,
        ends=True,
    )


def _to_the_end(
    terrain: Terrain, flow: Flow, way: Way, run: _Run, *, over_walls: bool
) -> tuple[Way, int | None]:
    """Add a stretch over the ground; returns the opening that it ends in, if any."""
    wall = None if over_walls else _wall_on(terrain, flow.ground, run.cells)
    cells, line = run.cells, run.line
    if wall is not None:
        cells = cells[: wall + 1]
        line = drawn_line(flow.ground, Point(line.coords[0]), cells, None)
    cautions = (*way.cautions, PARTED) if run.parted else way.cautions
    way = replace(
        way,
        cautions=tuple(dict.fromkeys(cautions)),
        hollows=(
            *way.hollows,
            *hollows_along(flow.ground, flow.drainage, terrain.features, cells),
        ),
    )
    leg = Leg(kind="surface", line=line)
    if wall is not None:
        level = float(flow.drainage.filled_m.ravel()[cells[max(wall - 1, 0)]])
        return way.and_then(leg, why="shut_in", overtops_at_m=level, ends=True), None
    last = int(cells[-1])
    role = flow.ground.roles.ravel()[last]
    if role == Role.WATER:
        index = int(flow.ground.water_at.ravel()[last])
        feature = terrain.features.watercourses[index]
        return way.and_then(
            Leg(kind="surface", line=ending_at(line, terrain.waters[index])),
            outcome="reaches_water",
            receptor_id=feature.id,
            receptor_kind=feature.kind,
            ends=True,
        ), None
    if role == Role.OPENING:
        index = int(flow.ground.opening_at.ravel()[last])
        shape = terrain.drains.openings[index].geometry
        return way.and_then(Leg(kind="surface", line=ending_at(line, shape))), index
    whys = {Role.EDGE: "leaves_grid", Role.BESIDE_NO_DATA: "meets_no_data"}
    why = whys.get(Role(role), "shut_in")
    heights = flow.ground.heights_m.ravel()[cells]
    if why == "leaves_grid" and len(cells) > 1 and np.ptp(heights) < _FLAT_M:
        why = "ground_too_flat"
    return way.and_then(leg, why=why, ends=True), None


def _wall_on(terrain: Terrain, ground: Ground, cells: NDArray[np.int64]) -> int | None:
    """Return where on a way it climbs over a wall, or None."""
    barriers = ground.barrier_at.ravel()[cells]
    for index in np.flatnonzero(barriers != NOBODY):
        if terrain.features.barriers[barriers[index]].kind == "wall":
            return int(index)
    return None


def down(
    terrain: Terrain, way: Way, opening: int, volume_l: float | None
) -> tuple[Way, Point]:
    """Go down an opening, to where its drains end or come out.

    Parameters
    ----------
    terrain : Terrain
        Has the drains.
    way : Way
        The way as far as the opening; its last leg ends there.
    opening : int
        Which one, as a place in `Drains.openings`.
    volume_l : float or None
        What is spilt [l].

    Returns
    -------
    way : Way
        With the legs underground, and its end if it ends there.
    place : shapely.Point
        Where it goes on if it does not.
    """
    it = terrain.drains.openings[opening]
    entered = Point(way.legs[-1].line.coords[-1])
    by_dye = dye_lead(terrain, it, entered)
    lead = by_dye or terrain.drains.lead_of(it, entered)
    via = (it.id, *(one for one in lead.via if one != it.id))
    way = replace(
        way,
        legs=legs_down(way.legs, lead, enters=it.id),
        via=(*way.via, *via),
        taken=(*way.taken, opening),
        cautions=(*way.cautions, *dye_cautions(terrain, it)),
    )
    place = (
        lead.place if lead.place is not None else Point(way.legs[-1].line.coords[-1])
    )
    return ended_by(terrain, way, lead, volume_l), place


def legs_down(before: Sequence[Leg], lead: Lead, *, enters: str) -> tuple[Leg, ...]:
    """Return legs and those that lead on from them underground.

    Parameters
    ----------
    before : sequence of Leg
        The way as far as the opening; may be empty where liquid begins in a drain.
    lead : Lead
        Where the drain leads.
    enters : str
        Id of the opening; empty where there is none.

    Returns
    -------
    tuple of Leg
        The leg that meets the opening names it, and the last one the tank, if the drain
        ends in one.
    """
    legs = list(before)
    if legs and enters:
        legs[-1] = replace(legs[-1], enters=enters)
    legs += [
        Leg(kind="pipe" if through else "joined", line=line, through=through)
        for through, line in lead.lines
    ]
    if legs and lead.ends == "tank":
        legs[-1] = replace(legs[-1], tank=lead.receptor_id)
    return tuple(legs)


def ended_by(terrain: Terrain, way: Way, lead: Lead, volume_l: float | None) -> Way:
    """Return a way as the end of its drains leaves it."""
    if lead.ends == "water":
        return replace(
            way,
            outcome="reaches_water",
            receptor_id=lead.receptor_id,
            receptor_kind=lead.receptor_kind,
            ends=True,
        )
    if lead.ends == "unknown":
        return replace(
            way,
            outcome="enters_piped_drain",
            receptor_id=way.via[-1] if way.via else "",
            receptor_kind="piped_drain",
            ends=True,
        )
    if lead.ends == "ground":
        return replace(
            way,
            outcome="enters_ground",
            receptor_id=lead.receptor_id or (way.via[-1] if way.via else ""),
            receptor_kind=lead.receptor_kind,
            ends=True,
        )
    if lead.ends == "tank":
        return _into_tank(terrain, way, lead, volume_l)
    return way


def tank_is_sure(terrain: Terrain, lead: Lead, volume_l: float | None) -> bool:
    """Whether the tank at the end of drains is sure to take all of a volume.

    Parameters
    ----------
    terrain : Terrain
        Has the tanks.
    lead : Lead
        Ends in a tank.
    volume_l : float or None
        What arrives [l]; nothing is sure of a volume that is not known.

    Returns
    -------
    bool
        True only for a tank that is maintained and has that much free.
    """
    tank = next(one for one in terrain.features.tanks if one.id == lead.receptor_id)
    if not tank.maintained or tank.free_l is None or volume_l is None:
        return False
    return tank.free_l >= volume_l


def _into_tank(terrain: Terrain, way: Way, lead: Lead, volume_l: float | None) -> Way:
    """End a way in a tank that is sure to take all of it; else it overflows."""
    tank = next(one for one in terrain.features.tanks if one.id == lead.receptor_id)
    if tank_is_sure(terrain, lead, volume_l):
        return replace(
            way,
            outcome="contained",
            receptor_id=tank.id,
            receptor_kind="tank",
            ends=True,
        )
    lacks = []
    if not tank.maintained:
        lacks.append("it is not said to be maintained")
    if tank.free_l is None:
        lacks.append("what it can still take is not known")
    if volume_l is None:
        lacks.append("the volume of the spill is not known")
    if not lacks:
        lacks.append(f"it takes {tank.free_l:.0f} l of {volume_l:.0f} l")
    caution = (
        f"Tank {tank.title} is not counted on ({'; '.join(lacks)}): the way goes on as "
        "if it overflowed."
    )
    return replace(way, cautions=(*way.cautions, caution))


def first_water_on(terrain: Terrain, line: LineString) -> int | None:
    """Return the open water that a line comes to first, or None.

    Parameters
    ----------
    terrain : Terrain
        Has the waters.
    line : shapely.LineString
        In the direction of flow.

    Returns
    -------
    int or None
        Place in `Features.watercourses`.
    """
    met = [
        (ending_at(line, outline).length, index)
        for index, outline in enumerate(terrain.waters)
        if not terrain.features.watercourses[index].culverted
        and outline.intersects(line)
    ]
    return min(met)[1] if met else None


def _as_seen(
    terrain: Terrain, flow: Flow, way: Way, run: _Run, met: tuple[int, float, float]
) -> tuple[Way, Point]:
    """Go on as it was seen: to the observed line, and down it to its end."""
    index, at, along = met
    observation = terrain.features.observations[index]
    before = cut_at(run.line, at)
    if before.length > 0:
        way = way.and_then(Leg(kind="surface", line=before))
    rest = substring(observation.geometry, along, observation.geometry.length)
    joined = LineString([before.coords[-1], *rest.coords])
    wet = first_water_on(terrain, joined)
    if wet is not None:  # flow that was seen to cross water has reached it
        joined = ending_at(joined, terrain.waters[wet])
    before_cells = _cells_until(flow.ground, run, at)
    hollows = hollows_along(flow.ground, flow.drainage, terrain.features, before_cells)
    if before_cells.size:
        # A hollow in which flow was seen to begin holds nothing: it was seen to leave.
        stands_m = float(flow.drainage.filled_m.ravel()[before_cells[-1]])
        hollows = tuple(one for one in hollows if one.level_m != stands_m)
    way = way.and_then(
        Leg(kind="observed", line=joined, through=observation.id),
        observed=(*way.observed, observation),
        hollows=(*way.hollows, *hollows),
    )
    place = Point(joined.coords[-1])
    water = terrain.water_near(place, terrain.observation_reach_m)
    if water is None:
        return way, place
    return _into_water(terrain, way, water, place), place
