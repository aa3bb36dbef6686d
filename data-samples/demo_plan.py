"""Plan of the invented demo farm: where its water, yard and buildings lie.

Places are metres east (x) and north (y) of the grid's south-west corner. The farmstead
has its own axes, turned a little as real ones are: u along the yard, v up the slope.
Ground and drawing are both made from this plan, so that they agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon, box, union_all

Numbers = NDArray[np.float64]

#: Open sea about 50 km west of the Isles of Scilly, on the British National Grid.
WEST_M: Final = 28000.0
SOUTH_M: Final = 24000.0
CRS: Final = "EPSG:27700"
WIDTH_M: Final = 440.0
HEIGHT_M: Final = 360.0
CELL_SIZE_M: Final = 0.5

GROUND: Final = box(0.0, 0.0, WIDTH_M, HEIGHT_M)

_YARD_X, _YARD_Y = 190.0, 165.0
_YARD_TURN = np.radians(8.0)


def yard_point(u: float, v: float) -> tuple[float, float]:
    """Return x and y of a place in the farmstead's own axes [m]."""
    cosine, sine = np.cos(_YARD_TURN), np.sin(_YARD_TURN)
    return (
        float(_YARD_X + u * cosine - v * sine),
        float(_YARD_Y + u * sine + v * cosine),
    )


def yard_axes(
    x: Numbers,
    y: Numbers,
) -> tuple[
    Numbers,
    Numbers,
]:
    """Return u and v of places: the inverse of `yard_point`."""
    cosine, sine = np.cos(_YARD_TURN), np.sin(_YARD_TURN)
    east, north = x - _YARD_X, y - _YARD_Y
    return east * cosine + north * sine, north * cosine - east * sine


def yard_line(*places: tuple[float, float]) -> LineString:
    """Return a line through places in the farmstead's axes."""
    return LineString([yard_point(u, v) for u, v in places])


def yard_polygon(*places: tuple[float, float]) -> Polygon:
    """Return a polygon with corners in the farmstead's axes."""
    return Polygon([yard_point(u, v) for u, v in places])


def _worn(made: Polygon) -> Polygon:
    """Return made ground with its corners rounded, inwards and outwards."""
    return made.buffer(3.0).buffer(-6.0).buffer(3.0)


def yard_rectangle(u0: float, v0: float, u1: float, v1: float) -> Polygon:
    """Return a rectangle along the farmstead's axes."""
    return yard_polygon((u0, v0), (u1, v0), (u1, v1), (u0, v1))


def _bent(places: Sequence[tuple[float, float]], *, spacing_m: float) -> LineString:
    """Return a smooth line through places (Catmull and Rom's spline)."""
    nodes = np.array([places[0], *places, places[-1]])
    pieces = []
    for before, start, end, after in zip(
        nodes, nodes[1:], nodes[2:], nodes[3:], strict=False
    ):
        count = max(2, int(np.hypot(*(end - start)) / spacing_m))
        t = np.linspace(0.0, 1.0, count, endpoint=False)[:, None]
        pieces.append(
            0.5
            * (
                2 * start
                + (end - before) * t
                + (2 * before - 5 * start + 4 * end - after) * t**2
                + (3 * start - before - 3 * end + after) * t**3
            )
        )
    return LineString(np.vstack([*pieces, nodes[-1][None, :]]))


def _meandering_stream() -> LineString:
    """Return the stream's centre line from west to east.

    Its direction swings as a sine of the distance along it (Langbein and Leopold 1966,
    River meanders - theory of minimum variance, USGS Professional Paper 422-H); the
    wavelength is about twelve channel widths, and both drift so that no bend repeats.
    """
    along_m = np.arange(0.0, 640.0)
    phase = 2 * np.pi * along_m / 57.0 + 1.1 * np.sin(along_m / 61.0) + 0.4
    swing = 0.95 + 0.25 * np.sin(along_m / 83.0 + 1.0) + 0.12 * np.sin(along_m / 29.0)
    direction = swing * np.sin(phase) + 0.35 * np.sin(along_m / 24.0 + 2.0)
    x = np.cumsum(np.cos(direction))
    y = np.cumsum(np.sin(direction))
    x = -12.0 + (x - x[0]) * (WIDTH_M + 24.0) / (x[-1] - x[0])
    drift = np.polynomial.Polynomial.fit(x, y, 3)(x)
    return LineString(np.column_stack([x, y - drift + valley_axis(x)]))


def valley_axis(
    x: Numbers,
) -> Numbers:
    """Return y of the valley's axis, from which its sides rise [m]."""
    return np.asarray(96.0 - 0.06 * x + 7.0 * np.sin(x / 88.0 + 0.6))


STREAM: Final = _meandering_stream()

_DITCH_PLACES = (
    (301.5, 366.0),
    (302.5, 330.0),
    (306.0, 292.0),
    (311.0, 262.0),
    (314.0, 236.0),
    (320.0, 206.0),
    (326.5, 176.0),
    (332.0, 148.0),
    (339.0, 120.0),
    (346.0, 100.0),
)


def _ditch() -> LineString:
    """Return the ditch's centre line, down to the middle of the stream."""
    line = _bent([*_DITCH_PLACES, (352.0, 60.0)], spacing_m=3.0)
    met = line.intersection(STREAM)
    first = min(
        (point for point in getattr(met, "geoms", [met])),
        key=line.project,
    )
    reach_m = line.project(first)
    kept = [
        place for place in line.coords if line.project(Point(place)) < reach_m - 0.5
    ]
    return LineString([*kept, (first.x, first.y)])


DITCH: Final = _ditch()

TRACK: Final = _bent(
    [
        (448.0, 219.0),
        (410.0, 214.5),
        (370.0, 206.0),
        (338.0, 204.5),
        (312.0, 205.5),
        yard_point(104.0, 27.5),
        yard_point(77.0, 29.0),
    ],
    spacing_m=4.0,
)
TRACK_WIDTH_M: Final = 4.0

#: The culvert reaches a little beyond the foot of the track's bank on either side.
CULVERT_LENGTH_M: Final = 9.0

_CROSSING = DITCH.intersection(TRACK)
CULVERT_FROM_M: Final = float(DITCH.project(_CROSSING)) - CULVERT_LENGTH_M / 2
CULVERT_TO_M: Final = CULVERT_FROM_M + CULVERT_LENGTH_M


def stretch(line: LineString, from_m: float, to_m: float) -> LineString:
    """Return the part of a line between two distances along it [m]."""
    inner = [
        place for place in line.coords if from_m < line.project(Point(place)) < to_m
    ]
    ends = (line.interpolate(from_m), line.interpolate(to_m))
    return LineString([ends[0].coords[0], *inner, ends[1].coords[0]])


#: Buildings by id: ground plan, kind and name.
BUILDINGS: Final = {
    "B1": (yard_rectangle(6.0, 66.0, 50.0, 82.0), "closed", "Long Barn"),
    "B2": (yard_rectangle(-24.0, 22.0, -5.0, 58.0), "closed", "Grain store"),
    "B3": (yard_rectangle(64.0, 60.0, 77.0, 70.0), "closed", "Spray store"),
    "B4": (yard_rectangle(80.0, 3.0, 101.0, 21.0), "open_sided", "Dutch barn"),
    "B5": (
        yard_polygon((-50, 68), (-36, 68), (-36, 72), (-40, 72), (-40, 78), (-50, 78)),
        "closed",
        "Gannet Hollow House",
    ),
}

#: Made ground: the terrace of the main yard, and the apron of the old filling place.
MAIN_TERRACE: Final = _worn(
    yard_polygon(
        (-26, 0), (104, -1), (105, 37), (79, 36), (80, 73), (54, 71), (54, 85),
        (1, 86), (-2, 62), (-27, 61),
    )
)  # fmt: skip
EAST_TERRACE: Final = _worn(yard_rectangle(82.0, 44.0, 127.0, 78.0))
HOUSE_TERRACE: Final = yard_rectangle(-51.0, 67.0, -35.0, 79.0).buffer(2.0)

MAIN_CONCRETE: Final = yard_polygon(
    (-4, 8), (77, 8), (77, 60), (64, 60), (64, 66), (-4, 66)
)
EAST_CONCRETE: Final = yard_rectangle(101.0, 46.0, 126.0, 76.0)
STACK_YARD: Final = yard_polygon(
    (77, 1), (103, 1), (103, 36), (101, 46), (101, 76), (84, 76), (84, 46), (77, 36)
)
DIESEL_STAND: Final = yard_rectangle(-25.0, 1.0, -5.0, 12.0)
TRACK_GROUND: Final = TRACK.buffer(TRACK_WIDTH_M / 2, cap_style="flat")
HARD_GROUND: Final = union_all(
    [MAIN_CONCRETE, EAST_CONCRETE, STACK_YARD, DIESEL_STAND, TRACK_GROUND]
)

# Lines along which the concrete of the main yard is dished.
DISH_TO_G1: Final = yard_line((17.0, 60.0), (34.0, 41.0), (48.0, 26.0))
DISH_TO_DROP: Final = yard_line((63.5, 46.0), (63.4, 30.0), (63.2, 8.0), (63.0, 0.0))
DISH_TO_G2: Final = yard_line((70.0, 59.0), (67.6, 46.0), (66.5, 38.0))
#: The washdown bay's concrete is crowned, so that it does not drain to the store gully.
CROWN: Final = yard_line((65.3, 47.0), (65.1, 38.0), (65.0, 31.0))
CHANNEL_DRAIN: Final = yard_line((103.0, 49.0), (103.0, 73.0))

G1: Final = yard_point(48.0, 26.0)
G2: Final = yard_point(66.5, 38.0)
F1: Final = yard_point(20.0, 57.0)
F2: Final = yard_point(120.5, 61.0)
S1: Final = yard_point(71.0, 65.0)
S1_DOOR: Final = yard_point(70.0, 60.0)
W1: Final = yard_point(63.6, 40.8)
DIESEL_TANK: Final = yard_rectangle(-18.0, 2.5, -15.0, 4.5)

KERBS: Final = {
    "K1": yard_line((-4.0, 8.0), (61.5, 8.0)),
    "K2": yard_line((64.8, 8.0), (77.0, 8.0)),
}
WALL: Final = yard_line((77.0, 8.0), (77.0, 60.0))
GATE: Final = yard_point(77.0, 29.0)

SPRING: Final = (46.0, 158.0)
SPRING_RUN: Final = _bent(
    [SPRING, (50.0, 142.0), (48.0, 126.0), (54.0, 112.0), (57.0, 88.0)], spacing_m=4.0
)

#: Banks under the hedges, with gateways left open.
HEDGES: Final = (
    LineString([(-5.0, 264.0), (60.0, 268.0), (124.0, 271.0)]),
    LineString([(132.0, 271.5), (178.0, 276.0), (240.0, 284.0), (291.0, 290.0)]),
    LineString([(99.0, 269.0), (101.0, 236.0)]),
    LineString([(101.5, 228.0), (104.0, 180.0), (109.0, 128.0)]),
    LineString([(449.0, 225.0), (410.0, 220.0), (368.0, 211.5), (345.0, 210.0)]),
    LineString([(-5.0, 42.0), (90.0, 36.0), (150.0, 33.0)]),
    LineString([(158.0, 32.6), (240.0, 27.0), (330.0, 22.0), (445.0, 10.0)]),
    LineString([(206.0, 29.0), (212.0, 54.0), (214.0, 66.0)]),
)
