"""Cells of the demo farm's grid: where they lie, how far from a line, random fields."""

from __future__ import annotations

from functools import cache
from typing import Final

import demo_plan as plan
import numpy as np
import shapely
from demo_plan import Numbers
from numpy.typing import NDArray
from shapely import Geometry, LineString

COLUMNS: Final = int(plan.WIDTH_M / plan.CELL_SIZE_M)
ROWS: Final = int(plan.HEIGHT_M / plan.CELL_SIZE_M)

Cells = NDArray[np.bool_]

#: Beyond this distance nothing that is built or dug changes the ground [m].
REACH_M: Final = 60.0


@cache
def centres() -> tuple[Numbers, Numbers]:
    """Return x and y of the cells' centres, rows from the north [m]."""
    x = (np.arange(COLUMNS) + 0.5) * plan.CELL_SIZE_M
    y = plan.HEIGHT_M - (np.arange(ROWS) + 0.5) * plan.CELL_SIZE_M
    east, north = np.meshgrid(x, y)
    return east, north


def _near(geometry: Geometry) -> tuple[slice, slice]:
    """Return the rows and columns within reach of a geometry's box."""
    west, south, east, north = shapely.bounds(geometry)
    size = plan.CELL_SIZE_M
    top = max(0, int((plan.HEIGHT_M - north - REACH_M) / size))
    left = max(0, int((west - REACH_M) / size))
    return (
        slice(top, max(top, int((plan.HEIGHT_M - south + REACH_M) / size))),
        slice(left, max(left, int((east + REACH_M) / size))),
    )


def distance(geometry: Geometry) -> Numbers:
    """Return how far cells are from a line or polygon [m].

    It is 0 inside a polygon, and infinite for cells beyond its box and `REACH_M`.
    """
    x, y = centres()
    near = _near(geometry)
    shapely.prepare(geometry)
    far = np.full(x.shape, np.inf)
    far[near] = shapely.distance(geometry, shapely.points(x[near], y[near]))
    return far


def along(line: LineString) -> Numbers:
    """Return the distance along a line of the place nearest to each cell [m].

    It is 0 for cells beyond the line's box and `REACH_M`.
    """
    x, y = centres()
    near = _near(line)
    at = np.zeros(x.shape)
    at[near] = shapely.line_locate_point(line, shapely.points(x[near], y[near]))
    return at


def heights_at(ground: Numbers, places: Numbers) -> Numbers:
    """Return the heights of the cells that hold these places (rows of x and y) [m]."""
    columns = (places[:, 0] / plan.CELL_SIZE_M).astype(int)
    rows = ((plan.HEIGHT_M - places[:, 1]) / plan.CELL_SIZE_M).astype(int)
    return np.asarray(
        ground[np.clip(rows, 0, ROWS - 1), np.clip(columns, 0, COLUMNS - 1)]
    )


def below(ground: Numbers, line: LineString) -> Numbers:
    """Return heights below a line at each metre from its start [m]."""
    steps = np.arange(0.0, line.length)
    places = shapely.line_interpolate_point(line, steps)
    return heights_at(ground, shapely.get_coordinates(places))


def bell(distance_m: Numbers, reach_m: float) -> Numbers:
    """Return 1 at no distance, falling as a normal curve of this deviation."""
    return np.asarray(np.exp(-0.5 * (distance_m / reach_m) ** 2))


def correlated(
    random: np.random.Generator, longest_m: float, shortest_m: float
) -> Numbers:
    """Return a random field of mean 0 and deviation 1 with waves of these lengths.

    White noise is filtered in proportion to the wave length to the power of 1.5, on a
    torus larger than the grid so that opposite edges do not match.
    """
    shape = (ROWS + 200, COLUMNS + 200)
    waves = np.hypot(
        np.fft.fftfreq(shape[0], plan.CELL_SIZE_M)[:, None],
        np.fft.rfftfreq(shape[1], plan.CELL_SIZE_M)[None, :],
    )
    kept = (waves > 1.0 / longest_m) & (waves < 1.0 / shortest_m)
    strength = np.zeros_like(waves)
    strength[kept] = waves[kept] ** -1.5
    spectrum = np.fft.rfft2(random.standard_normal(shape)) * strength
    made = np.fft.irfft2(spectrum, s=shape)[:ROWS, :COLUMNS]
    return np.asarray((made - made.mean()) / made.std())


def rounded(ground: Numbers, deviation_m: float) -> Numbers:
    """Return the ground with its edges rounded by a normal curve of this deviation."""
    steps = np.arange(-int(4 * deviation_m / plan.CELL_SIZE_M) - 1, 0)
    half = np.exp(-0.5 * (steps * plan.CELL_SIZE_M / deviation_m) ** 2)
    weights = np.concatenate([half, [1.0], half[::-1]])
    weights /= weights.sum()
    padded = np.pad(ground, steps.size, mode="reflect", reflect_type="odd")
    for axis in (0, 1):
        padded = np.apply_along_axis(np.convolve, axis, padded, weights, mode="valid")
    return np.asarray(padded)


def smoothed(values: Numbers, window: int) -> Numbers:
    """Return a profile with each value replaced by the mean around it."""
    padded = np.pad(values, window // 2, mode="edge")
    kernel = np.hanning(window + 2)[1:-1]
    return np.convolve(padded, kernel / kernel.sum(), mode="valid")[: values.size]
