"""What follows where liquid leaves the ground by an opening, or runs as it was seen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely
from shapely import Geometry, LineString, Point

from pathways.terrain.landscape import Terrain
from pathways.terrain.network_beside import along_legs
from pathways.terrain.network_parts import Beside, Onwards, Past, Seen
from pathways.terrain.pathway import Leg
from pathways.terrain.surface import NOBODY, open_cell_near
from pathways.terrain.way import Premise, Way, down, follow, in_water


def openings_onwards(terrain: Terrain) -> tuple[Onwards, ...]:
    """Return what each opening leads to.

    Parameters
    ----------
    terrain : Terrain
        Ground and drains.

    Returns
    -------
    tuple of Onwards
        In the order of `Drains.openings`; those whose drains come back to them bear the
        whole way.
    """
    count = range(len(terrain.drains.openings))
    openings = tuple(_down_opening(terrain, index) for index in count)
    return _circles_cut(terrain, openings)


def _down_opening(terrain: Terrain, index: int) -> Onwards:
    """Return what an opening leads to, entered at its middle."""
    entered = _middle_of(terrain, index)
    at = Leg(kind="surface", line=LineString([entered, entered]))
    way, place = down(terrain, Way(legs=(at,)), index, None)
    way = replace(way, legs=way.legs[1:])
    if way.ends:
        return Onwards(way=way, cell=None)
    return _coming_out(terrain, way, place)


def _middle_of(terrain: Terrain, index: int) -> Point:
    shape = terrain.drains.openings[index].geometry
    if isinstance(shape, Point):
        return shape
    return Point(shape.interpolate(0.5, normalized=True))


def _coming_out(terrain: Terrain, way: Way, place: Point) -> Onwards:
    """Return a way that comes out on the ground, or why it does so nowhere."""
    cell = open_cell_near(terrain.flow.ground, place, terrain.barriers)
    if cell is not None:
        return Onwards(way=way, cell=cell)
    off = terrain.grid.cell_at(place.x, place.y) is None
    why = "leaves_grid" if off else "meets_no_data"
    return Onwards(way=replace(way, outcome="not_known", why=why, ends=True), cell=None)


def _circles_cut(
    terrain: Terrain, openings: tuple[Onwards, ...]
) -> tuple[Onwards, ...]:
    """Return openings, those whose drains come back to them with their whole way.

    `follow` routes anew past an opening that was taken already; steps cannot.
    """
    ends = terrain.flow.ground.opening_at.ravel()
    after: list[int] = []
    for one in openings:
        last = NOBODY
        if one.cell is not None:
            last = int(ends[terrain.flow.drainage.way_from(one.cell)[-1]])
        after.append(last)
    cut = []
    for index, one in enumerate(openings):
        if not _comes_back(index, after):
            cut.append(one)
            continue
        way = follow(terrain, _middle_of(terrain, index))
        # Its first leg only leads from the opening to itself.
        cut.append(Onwards(way=replace(way, legs=way.legs[1:]), cell=None))
    return tuple(cut)


def _comes_back(index: int, after: Sequence[int]) -> bool:
    """Whether the openings after one lead back to it."""
    here = after[index]
    for _ in after:
        if here in (index, NOBODY):
            break
        here = after[here]
    return here == index


def ways_past(
    terrain: Terrain, index: int, onwards: Onwards, kept: frozenset[frozenset[int]]
) -> tuple[Past, ...]:
    """Return the ways past an opening.

    Parameters
    ----------
    terrain : Terrain
        Ground and drains.
    index : int
        The opening, as a place in `Drains.openings`.
    onwards : Onwards
        What it leads to.
    kept : frozenset of frozenset of int
        Flows that stay when this is done; others take memory for nothing.

    Returns
    -------
    tuple of Past
        Past it alone and past all openings of the farm, each over walls too where they
        shut it in.
    """
    if not terrain.drains.openings[index].captures:
        return ()
    place = _middle_of(terrain, index)
    every = terrain.all_openings
    blocked = [(terrain.drains.openings[index].id, frozenset({index}))]
    if len(every) > 1:
        blocked.append(("", every))
    found = []
    if onwards.way.why == "shut_in":
        over = follow(terrain, place, premise=Premise(over_walls=True))
        found.append(Past(blocked="", is_blocked=False, over_walls=True, way=over))
    for name, openings in blocked:
        way = follow(terrain, place, premise=Premise(blocked=openings))
        found.append(Past(blocked=name, is_blocked=True, over_walls=False, way=way))
        if way.why == "shut_in":
            premise = Premise(blocked=openings, over_walls=True)
            over = follow(terrain, place, premise=premise)
            found.append(Past(blocked=name, is_blocked=True, over_walls=True, way=over))
    terrain.forget_flows(kept | {every})
    return tuple(found)


def seen_onwards(terrain: Terrain, index: int, beside: Sequence[Beside]) -> Seen:
    """Return an observed line with every place at which liquid on it goes on.

    Parameters
    ----------
    terrain : Terrain
        Ground and drains.
    index : int
        Place in `Features.observations`.
    beside : sequence of Beside
        What may lie along it.

    Returns
    -------
    Seen
        Its last place is its end.
    """
    observation = terrain.features.observations[index]
    line = observation.geometry
    places: list[tuple[float, int | None]] = [
        (along_m, water)
        for water, outline in enumerate(terrain.waters)
        if not terrain.features.watercourses[water].culverted
        for along_m in _entries(line, outline)
    ]
    at_end = terrain.water_near(Point(line.coords[-1]), terrain.observation_reach_m)
    places.append((line.length, at_end))
    ends = []
    for along_m, water in sorted(places, key=lambda one: one[0]):
        leg = Leg(kind="observed", line=line, through=observation.id)
        way = Way(legs=(leg,))
        if water is None:
            onwards = _coming_out(terrain, way, Point(line.coords[-1]))
        else:
            onwards = Onwards(way=in_water(terrain, way, water), cell=None)
        ends.append(
            (
                along_m,
                replace(onwards, beside=along_legs(terrain, onwards.way.legs, beside)),
            )
        )
    return Seen(index=index, line=line, ends=tuple(ends))


def _entries(line: LineString, outline: Geometry) -> Iterator[float]:
    """Yield where along a line it comes into a shape [m]."""
    for part in shapely.get_parts(line.intersection(outline)):
        if not part.is_empty:
            yield min(
                line.project(Point(place)) for place in shapely.get_coordinates(part)
            )
