"""Walls, kerbs and banks, with their gates and gaps open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, LineString, Point
from shapely.ops import nearest_points

from pathways.assumed import AssumedValues
from pathways.errors import Notice
from pathways.features import Access, Barrier, Features
from pathways.grid import Cell, Grid
from pathways.terrain.cells import building_cells, cells_along

#: A gap narrower than this many cells can vanish between them, so it is opened by hand.
_VANISHING_GAP_CELLS = 2.0
#: How far across a barrier's cells a gap is opened [cells].
_ACROSS_CELLS = 1.5
#: How far inside a building a wall that ends at it is led [cells].
_JOINING_CELLS = 3.0
_NO_BARRIER = -1
#: Barriers that guide what runs along them.
GUIDING = frozenset({"kerb", "wall", "bund", "drive_over_bund"})
#: A way that only crosses the reach of a kerb is there for twice the reach or little
#: more; one that is there for longer runs along it.
ALONG_REACHES = 2.5
#: A barrier's end faces what lies within this angle of its own direction (cosine).
_FACING = 0.5


@dataclass(frozen=True)
class _Gap:
    """Where liquid passes between the end of a barrier and what the end faces."""

    places: tuple[Point, ...]
    across: tuple[float, float]  # unit vector along the flow through the gap
    barriers: frozenset[int]


@dataclass(frozen=True)
class OpenBarriers:
    """Barriers as water meets them: cut at gates, joined where they touch.

    `pieces` are (place in `Features.barriers`, line).
    """

    pieces: tuple[tuple[int, Geometry], ...]
    walls: Geometry  # outlines of closed buildings
    gaps: tuple[_Gap, ...] = ()
    notices: tuple[Notice, ...] = field(default=())

    @cached_property
    def _lines(self) -> Geometry:
        lines = shapely.union_all([line for _, line in self.pieces] + [self.walls])
        shapely.prepare(lines)
        return lines

    def part(self, one: Point, other: Point) -> bool:
        """Whether a barrier or wall lies between two places."""
        return bool(shapely.crosses(self._lines, LineString([one, other])))

    def crossed_by(self, line: LineString) -> bool:
        """Whether a line crosses a barrier or wall."""
        return bool(shapely.crosses(self._lines, line))

    def cells(self, grid: Grid) -> Iterator[tuple[int, NDArray[np.int64]]]:
        """Yield each barrier and the cells that it raises."""
        opened: dict[int, list[NDArray[np.int64]]] = {}
        reach = _ACROSS_CELLS * grid.cell_size_m
        for gap in self.gaps:
            for place in gap.places:
                dx, dy = gap.across[0] * reach, gap.across[1] * reach
                way = LineString(
                    [(place.x - dx, place.y - dy), (place.x + dx, place.y + dy)]
                )
                for index in gap.barriers:
                    opened.setdefault(index, []).append(cells_along(way, grid))
        for index, line in self.pieces:
            cells = np.unique(cells_along(line, grid))
            for way_cells in opened.get(index, ()):
                cells = np.setdiff1d(cells, way_cells)
            yield index, cells


def open_barriers(
    features: Features, assumed: AssumedValues, grid: Grid
) -> OpenBarriers:
    """Cut gates out of barriers, join what touches and keep gaps open.

    Parameters
    ----------
    features : Features
        Barriers, gates and buildings.
    assumed : AssumedValues
        Width of a gate, and how near is joined.
    grid : Grid
        Where the cells are: gaps narrower than two of them are opened by hand.

    Returns
    -------
    OpenBarriers
        Pieces of barriers and the gaps between them.
    """
    pieces, notices = _cut_at_gates(features, assumed, grid.cell_size_m)
    walls = features.closed_buildings
    joined, gaps = _join_or_open(pieces, walls, assumed, grid)
    notices += _narrow_passages(features, assumed, grid.cell_size_m)
    return OpenBarriers(
        tuple(pieces + joined), walls.boundary, tuple(gaps), tuple(notices)
    )


def _cut_at_gates(
    features: Features, assumed: AssumedValues, cell_size_m: float
) -> tuple[list[tuple[int, Geometry]], list[Notice]]:
    """Return the pieces of all barriers, and gates that stand in none."""
    lines: list[Geometry] = [
        shapely.remove_repeated_points(one.geometry) for one in features.barriers
    ]
    notices = []
    reach = max(assumed["drawing", "gate_reach_m"], 4 * cell_size_m)
    for gate in features.access:
        if gate.kind != "gate":
            continue
        near = [
            index
            for index, barrier in enumerate(features.barriers)
            if barrier.geometry.distance(gate.geometry) <= reach
        ]
        if not near:
            notices.append(_gate_without_barrier(gate, features.barriers, reach))
            continue
        nearest = min(
            near,
            key=lambda one: features.barriers[one].geometry.distance(gate.geometry),
        )
        lines[nearest] = lines[nearest].difference(
            _opening_of(gate, features.barriers[nearest], assumed)
        )
    return [
        (index, part)
        for index, line in enumerate(lines)
        for part in shapely.get_parts(line)
        if part.length > 0
    ], notices


def _opening_of(gate: Access, barrier: Barrier, assumed: AssumedValues) -> Geometry:
    """Return the area that a gate cuts out of its barrier."""
    if isinstance(gate.geometry, Point):
        width_m = gate.width_m or assumed["drawing", "gate_width_m"]
        _, on_barrier = nearest_points(gate.geometry, barrier.geometry)
        return on_barrier.buffer(width_m / 2)
    ends = [Point(place) for place in shapely.get_coordinates(gate.geometry)[[0, -1]]]
    feet = [nearest_points(end, barrier.geometry)[1] for end in ends]
    middle = Point((feet[0].x + feet[1].x) / 2, (feet[0].y + feet[1].y) / 2)
    width_m = max(feet[0].distance(feet[1]), gate.width_m or 0.0)
    if width_m < gate.geometry.length / 2:  # drawn across its wall, not along it
        width_m = gate.width_m or assumed["drawing", "gate_width_m"]
    return middle.buffer(width_m / 2)


def _gate_without_barrier(
    gate: Access, barriers: tuple[Barrier, ...], reach_m: float
) -> Notice:
    """Return the warning for a gate that opens nothing."""
    text = f"gate {gate.title!r} lies more than {reach_m:.0f} m from every barrier"
    if barriers:
        nearest = min(barriers, key=lambda one: one.geometry.distance(gate.geometry))
        text += (
            f" (nearest: {nearest.title!r}, "
            f"{nearest.geometry.distance(gate.geometry):.1f} m)"
        )
    return Notice(
        "gate_without_barrier",
        text + " and opens none; draw it on its wall",
        f"access {gate.id}",
    )


def _join_or_open(
    pieces: list[tuple[int, Geometry]],
    buildings: Geometry,
    assumed: AssumedValues,
    grid: Grid,
) -> tuple[list[tuple[int, Geometry]], list[_Gap]]:
    """Join ends that touch something, and note the gaps before other ends."""
    joined: list[tuple[int, Geometry]] = []
    gaps: list[_Gap] = []
    touch_m = assumed["drawing", "joined_m"]
    cell_size_m = grid.cell_size_m
    for number, (index, line) in enumerate(pieces):
        if line.is_ring:
            continue
        others = [other for place, other in enumerate(pieces) if place != number]
        for end in _ends_of(line):
            beside = [*others, (index, end.far), (_NO_BARRIER, buildings)]
            beside = [
                (other_index, other)
                for other_index, other in beside
                if not other.is_empty
                and other.distance(end.tip) <= _VANISHING_GAP_CELLS * cell_size_m
            ]
            touched = [one for one in beside if one[1].distance(end.tip) <= touch_m]
            for _, other in touched:
                foot = nearest_points(end.tip, other)[1]
                inside = _into(foot, other, grid)
                joined.append((index, LineString([end.tip, foot, inside])))
            if touched:  # an end that touches one thing lets nothing round it
                continue
            gaps += [
                gap
                for other_index, other in beside
                if (gap := _gap_before(end, index, other_index, other, cell_size_m))
            ]
    return joined, gaps


@dataclass(frozen=True)
class _End:
    """One end of a line: its tip, a unit vector outwards, and the other end."""

    tip: Point
    outwards: tuple[float, float]
    far: Point


def _ends_of(line: Geometry) -> tuple[_End, _End]:
    """Return both ends of a line."""
    places = shapely.get_coordinates(line)
    ends = []
    for tip, before, far in (
        (places[0], places[1], places[-1]),
        (places[-1], places[-2], places[0]),
    ):
        x, y = (tip - before) / np.hypot(*(tip - before))
        ends.append(_End(Point(tip), (float(x), float(y)), Point(far)))
    return ends[0], ends[1]


def _into(foot: Point, shape: Geometry, grid: Grid) -> Point:
    """Return the centre of the nearest cell that belongs to a building."""
    if shape.area == 0:
        return foot
    reach = _JOINING_CELLS * grid.cell_size_m
    cells = building_cells(shape.intersection(foot.buffer(reach)), grid)
    if not cells.size:
        return foot
    centres = [
        Point(grid.centre_of(Cell(*divmod(int(cell), grid.columns)))) for cell in cells
    ]
    return min(centres, key=foot.distance)


def _narrow_passages(
    features: Features, assumed: AssumedValues, cell_size_m: float
) -> list[Notice]:
    """Return warnings for passages between walls that the cells may close."""
    walls = [one for one in features.barriers if one.kind == "wall"]
    found = []
    for number, one in enumerate(walls):
        for other in walls[number + 1 :]:
            width_m = one.geometry.distance(other.geometry)
            touch_m = assumed["drawing", "joined_m"]
            if touch_m < width_m < _VANISHING_GAP_CELLS * cell_size_m:
                text = (
                    f"the passage between walls {one.id!r} and {other.id!r} is "
                    f"{width_m:.1f} m wide, less than two cells: it may be taken as "
                    "closed; use a finer grid, or draw a gate in it"
                )
                found.append(Notice("narrow_passage", text, f"barriers {one.id}"))
    return found


def _gap_before(
    end: _End, index: int, other_index: int, other: Geometry, cell_size_m: float
) -> _Gap | None:
    """Return the gap between an end and something that it faces, if it does."""
    foot = nearest_points(end.tip, other)[1]
    length = end.tip.distance(foot)
    if length == 0:
        return None
    x, y = (foot.x - end.tip.x) / length, (foot.y - end.tip.y) / length
    if x * end.outwards[0] + y * end.outwards[1] < _FACING:
        return None
    middle = Point((end.tip.x + foot.x) / 2, (end.tip.y + foot.y) / 2)
    if any(foot.equals(tip) for tip in _tips(other)):
        return _Gap((middle,), (-y, x), frozenset({index, other_index}))
    # The end faces the side of something, which stays whole: the end itself gives way.
    back = Point(
        end.tip.x - end.outwards[0] * cell_size_m,
        end.tip.y - end.outwards[1] * cell_size_m,
    )
    return _Gap((middle, end.tip, back), (-y, x), frozenset({index}))


def _tips(shape: Geometry) -> list[Point]:
    """Return the ends of a line, or a point itself; nothing of an area."""
    if shape.area > 0:
        return []
    places = shapely.get_coordinates(shape)
    return [Point(places[0]), Point(places[-1])]
