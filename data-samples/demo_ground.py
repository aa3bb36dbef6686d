"""Ground of the invented demo farm, as an airborne survey would show it.

`true_ground` is smooth and free of noise; `surveyed` adds what an airborne laser adds.
All figures of relief are invented.
"""

from __future__ import annotations

from typing import Final

import demo_plan as plan
import numpy as np
from demo_cells import (
    Cells,
    along,
    bell,
    below,
    centres,
    correlated,
    distance,
    rounded,
    smoothed,
)
from demo_plan import Numbers
from numpy.typing import NDArray
from shapely import LineString, Polygon, union_all

SEED: Final = 20250214

#: Slopes of the bed, of cut and filled banks, and of the track's bank [m/m].
STREAM_FALL: Final = 0.009
YARD_BATTER: Final = 0.4
TRACK_BATTER: Final = 0.6

#: How far the track is raised over its culvert [m].
TRACK_RISE_M: Final = 0.5

STREAM_DEPTH_M: Final = 0.8
STREAM_HALF_WIDTH_M: Final = 1.6
DITCH_DEPTH_M: Final = 0.5
DITCH_HALF_WIDTH_M: Final = 1.0

#: Natural hollows: centre, radii and depth [m].
HOLLOWS: Final = (
    ((384.0, 287.0), (8.5, 6.5), 1.15),
    ((262.0, 322.0), (6.0, 7.5), 0.95),
)

#: Reaches that the stream has left: line, depth and half width [m].
OLD_CHANNELS: Final = (
    (
        LineString([(108, 113), (118, 119), (130, 118), (141, 109), (147, 101)]),
        0.40,
        2.2,
    ),
    (LineString([(250, 70), (262, 57), (277, 58), (285, 66)]), 0.32, 2.0),
)

OLD_RIDGES: Final = Polygon(
    [(4, 62), (60, 60), (120, 50), (196, 45), (190, -9), (4, -9)]
)

#: Arable fields: outline, direction of work [radians] and first wheeling [m].
WHEELED_FIELDS: Final = (
    (
        Polygon([(-9, 274), (120, 281), (285, 299), (290, 369), (-9, 369)]),
        np.radians(98.0),
        7.0,
    ),
    (
        Polygon([(356, 202), (449, 208), (449, 92), (380, 98), (352, 108)]),
        np.radians(12.0),
        3.0,
    ),
)

#: A building's ground is bridged from the cells within this distance of it [m].
RING_M: Final = 2.0

#: Deviation of the laser's footprint, which rounds what it sees [m].
BEAM_M: Final = 0.3

#: The corner outside the survey: its two sides together are shorter than this [m].
NOT_FLOWN_M: Final = 16.0


def stream_bed(x: Numbers) -> Numbers:
    """Return the height of the stream's bed [m]: it falls with the valley."""
    return np.asarray(38.4 - STREAM_FALL * (x - 20.0 * np.sin(x / 47.0)))


def _side_slope(far_m: Numbers, *, north: bool) -> Numbers:
    """Return the slope of a valley side by the distance from the axis [m/m]."""
    foot = 1.0 / (1.0 + np.exp(-(far_m - 27.0) / 3.0))
    brow = 1.0 / (1.0 + np.exp(-(far_m - 225.0) / 22.0))
    bench = 0.036 * bell(far_m - 122.0, 42.0) if north else 0.0
    steep = 0.062 if north else 0.080
    bluff = 0.045 * bell(far_m - 31.0, 5.0)
    return np.asarray(0.006 + foot * (steep - bench) * (1.0 - 0.5 * brow) + bluff)


def _valley() -> Numbers:
    """Return the valley: a flood plain, and sides that ease to a bench and a brow."""
    x, y = centres()
    aside = y - plan.valley_axis(x)
    table_m = np.arange(0.0, 320.0, 0.5)
    rise = np.zeros_like(aside)
    for north in (True, False):
        slope = _side_slope(table_m, north=north)
        height_m = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) * 0.25)])
        beside = (aside > 0) == north
        rise[beside] = np.interp(np.abs(aside[beside]), table_m, height_m)
    return stream_bed(x) + STREAM_DEPTH_M + rise


def natural_ground() -> Numbers:
    """Return the ground before anybody farmed it [m]."""
    random = np.random.default_rng(SEED)
    x, y = centres()
    aside = 1.0 - bell(y - plan.valley_axis(x), 24.0)  # 0 on the flood plain
    ground = _valley()
    ground += (0.05 + 0.36 * aside) * correlated(random, 170.0, 55.0)
    ground += (0.03 + 0.06 * aside) * correlated(random, 55.0, 15.0)
    ground -= 1.15 * aside * bell(distance(plan.DITCH), 15.0)
    ground -= 0.95 * aside * bell(distance(plan.SPRING_RUN), 7.0)
    ground -= 0.25 * bell(distance(plan.SPRING_RUN), 0.9)
    for line, depth_m, reach_m in OLD_CHANNELS:
        ground -= depth_m * bell(distance(line), reach_m)
    for at, radii, depth_m in HOLLOWS:
        radius = np.hypot((x - at[0]) / radii[0], (y - at[1]) / radii[1])
        ground -= depth_m * bell(radius, 1.0)
    return ground


def _main_plane(u: Numbers, v: Numbers) -> Numbers:
    """Return the main yard's falls before it was dished [m]."""
    across = np.interp(
        u,
        [-60.0, 0.0, 48.0, 56.0, 63.4, 77.0, 130.0],
        [1.30, 0.60, 0.00, 0.11, 0.03, 0.18, 0.60],
    )
    return np.asarray(0.016 * v + across)


def _main_yard(u: Numbers, v: Numbers) -> Numbers:
    """Return the main yard's shape: falls of 1 to 2.5 % to dished lines [m]."""
    x, y = centres()
    shape = _main_plane(u, v)
    for line, start_m, end_m in (
        (plan.DISH_TO_G1, 0.03, 0.10),
        (plan.DISH_TO_G2, 0.04, 0.08),
        (plan.DISH_TO_DROP, 0.02, 0.03),
    ):
        ends = np.array([line.coords[0], line.coords[-1]])
        start, end = _main_plane(*plan.yard_axes(ends[:, 0], ends[:, 1]))
        part = along(line) / line.length
        dished = (start - start_m) * (1 - part) + (end - end_m) * part
        shape = np.minimum(shape, dished + 0.028 * distance(line))
    shape += 0.04 * bell(distance(plan.CROWN), 0.6)
    for gully in (plan.G1, plan.G2):
        shape -= 0.05 * bell(np.hypot(x - gully[0], y - gully[1]), 0.8)
    return shape


def _east_apron(u: Numbers, v: Numbers) -> Numbers:
    """Return the old filling apron's shape: it falls to its channel drain [m]."""
    aside = u - 103.0
    fall = np.where(aside > 0, 0.026 * aside, -0.013 * aside)
    beyond = np.maximum(np.maximum(49.0 - v, v - 73.0), 0.0)
    return np.asarray(fall + 0.02 * beyond + 0.003 * np.clip(73.0 - v, 0.0, 24.0))


def _levelled(
    ground: Numbers, made: Numbers, outside_m: Numbers, *, batter: float
) -> Numbers:
    """Return ground cut and filled to a made level, with banks around it."""
    bank_m = batter * outside_m
    return np.clip(ground, made - bank_m, made + bank_m)


def with_yard(ground: Numbers) -> Numbers:
    """Return the ground with the farmstead's terraces, where cut balances fill."""
    u, v = plan.yard_axes(*centres())
    for terrace, shape in (
        (plan.HOUSE_TERRACE, 0.012 * v - 0.004 * u),
        (plan.EAST_TERRACE, _east_apron(u, v)),
        (plan.MAIN_TERRACE, _main_yard(u, v)),
    ):
        outside_m = distance(terrace)
        inside = outside_m == 0.0
        made = shape + np.mean(ground[inside] - shape[inside])
        ground = _levelled(ground, made, outside_m, batter=YARD_BATTER)
    # Banks slump and round off; concrete keeps its falls.
    firm = union_all([plan.MAIN_TERRACE, plan.EAST_TERRACE]).buffer(-1.5)
    loose = np.clip(distance(firm) / 1.5, 0.0, 1.0)
    return loose * rounded(ground, 0.8) + (1.0 - loose) * rounded(ground, 0.25)


def with_track(ground: Numbers) -> Numbers:
    """Return the ground with the track, on a bank where it crosses the ditch."""
    line = plan.stretch(plan.TRACK, 0.0, plan.TRACK.length - 26.0)
    natural = below(ground, line)
    to_yard = np.minimum(np.arange(natural.size)[::-1] / 14.0, 1.0)
    profile = to_yard * smoothed(natural, 61) + (1.0 - to_yard) * natural
    crossing_m = line.project(plan.TRACK.intersection(plan.DITCH))
    profile += TRACK_RISE_M * bell(np.arange(natural.size) - crossing_m, 12.0)
    aside = distance(line)
    level = np.interp(along(line), np.arange(natural.size), profile)
    level -= 0.012 * np.minimum(aside, 2.0) + 0.03 * bell(aside - 0.85, 0.3)
    outside_m = np.maximum(aside - plan.TRACK_WIDTH_M / 2, 0.0)
    return _levelled(ground, level, outside_m, batter=TRACK_BATTER)


def ditch_bed(ground: Numbers) -> Numbers:
    """Return the ditch's bed at each metre from its head: it never rises [m]."""
    bed = smoothed(below(ground, plan.DITCH), 21) - DITCH_DEPTH_M
    mouth = float(stream_bed(np.array(plan.DITCH.coords[-1][0]))) + 0.05
    to_mouth = np.minimum(np.arange(bed.size)[::-1] / 14.0, 1.0)
    bed = to_mouth * bed + (1.0 - to_mouth) * mouth
    return np.minimum.accumulate(np.maximum(bed, mouth))


def _cut(ground: Numbers, bed: Numbers, aside_m: Numbers, bank_top_m: float) -> Numbers:
    """Return ground with a channel of sloping banks cut down to its bed."""
    bed_half_m = 0.4 * bank_top_m
    part = np.clip((bank_top_m - aside_m) / (bank_top_m - bed_half_m), 0.0, 1.0)
    return np.minimum(ground, ground * (1.0 - part) + bed * part)


def with_channels(ground: Numbers, ditch_bed_m: Numbers) -> Numbers:
    """Return the ground with stream and ditch cut into it, their banks uneven."""
    random = np.random.default_rng([SEED, 2])
    x, _ = centres()
    uneven_m = 0.16 * correlated(random, 14.0, 2.5)
    at = along(plan.DITCH)
    bed = np.interp(at, np.arange(ditch_bed_m.size), ditch_bed_m)
    aside_m = np.abs(distance(plan.DITCH) + 0.6 * uneven_m)
    cut = _cut(ground, bed, aside_m, DITCH_HALF_WIDTH_M)
    under = (at > plan.CULVERT_FROM_M) & (at < plan.CULVERT_TO_M)
    ground = np.where(under, ground, cut)
    aside_m = np.abs(distance(plan.STREAM) + uneven_m)
    return _cut(ground, stream_bed(x), aside_m, STREAM_HALF_WIDTH_M)


def _with_work(ground: Numbers) -> Numbers:
    """Return the ground with old ridges, wheelings and the banks under hedges."""
    random = np.random.default_rng([SEED, 3])
    x, y = centres()
    inside = np.clip((22.0 - distance(OLD_RIDGES)) / 22.0, 0.0, 1.0)
    uneven = correlated(random, 40.0, 6.0)
    across = x + 2.2 * np.sin(y / 11.0) + 0.12 * y + 0.35 * uneven
    height_m = 0.075 * inside**4 * (1.0 + 0.3 * uneven)
    ground = ground + height_m * np.sin(2 * np.pi * across / 7.3)
    for field, turn, offset_m in WHEELED_FIELDS:
        across = x * np.cos(turn) + y * np.sin(turn) - offset_m
        from_pair = np.abs(np.abs((across + 12.0) % 24.0 - 12.0) - 0.9)
        ground -= 0.035 * bell(from_pair, 0.3) * (distance(field) == 0.0)
    for hedge in plan.HEDGES:
        aside_m = distance(hedge) + 0.25 * uneven
        ground += (0.34 + 0.10 * uneven) * bell(aside_m, 0.9)
    return ground


def true_ground() -> Numbers:
    """Return the ground without buildings and without any error of survey [m]."""
    ground = with_yard(natural_ground())
    bed_m = ditch_bed(ground)
    return with_channels(with_track(_with_work(ground)), bed_m)


def _bridged(ground: Numbers, building: Polygon) -> Numbers:
    """Return the ground with a plane under a building, as a survey interpolates it."""
    x, y = centres()
    outside_m = distance(building)
    ring = (outside_m > 0.0) & (outside_m < RING_M)
    under = outside_m <= plan.CELL_SIZE_M / 2

    def terms(cells: Cells) -> Numbers:
        return np.column_stack([np.ones(int(cells.sum())), x[cells], y[cells]])

    plane = np.linalg.lstsq(terms(ring), ground[ring], rcond=None)[0]
    bridged = ground.copy()
    bridged[under] = terms(under) @ plane
    return bridged


def surveyed(ground: Numbers, seed: int = SEED) -> NDArray[np.float32]:
    """Return the ground as a survey shows it.

    It is blurred by the beam's width, noisy, bridged under buildings, and has a gap.

    Parameters
    ----------
    ground : ndarray of float64, shape (rows, columns)
        The true ground [m].
    seed : int
        Start of the survey's noise.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        Heights to the millimetre [m]; NaN in the corner that was not flown.
    """
    x, y = centres()
    random = np.random.default_rng([seed, 1])
    # 0 on concrete and stone, 1 in the fields, where stubble and grass scatter more.
    soft = np.clip(distance(plan.HARD_GROUND) / 1.5, 0.0, 1.0)
    seen = rounded(ground, BEAM_M)
    seen += (0.005 + 0.010 * soft) * random.standard_normal(ground.shape)
    seen += (0.006 + 0.016 * soft) * correlated(random, 20.0, 5.0)
    for building, _kind, _name in plan.BUILDINGS.values():
        seen = _bridged(seen, building)
    not_flown = (plan.WIDTH_M - x) + (plan.HEIGHT_M - y) < NOT_FLOWN_M
    seen[not_flown] = np.nan
    return np.round(seen, 3).astype(np.float32)
