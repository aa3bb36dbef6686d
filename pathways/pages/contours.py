"""Contour lines of the ground, thin enough to be carried in a page."""

from __future__ import annotations

from typing import Any, Final, cast

import numpy as np
import shapely
from contourpy import LineType, contour_generator
from numpy.typing import NDArray

from pathways.grid import Grid

Values = dict[str, Any]

#: Steps between lines that people read easily [m].
_STEPS_M: Final = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
#: About so many lines from the lowest ground to the highest (judgement: more hide it).
_MOST_LEVELS: Final = 20
#: Heights are averaged over a square of about this side first [m]: a survey's noise
#: would make every line ragged.
_SMOOTH_M: Final = 5.0
#: Corners that stand out less are left out, and shorter lines too [m].
_REACH_M: Final = 0.3
_SHORTEST_M: Final = 15.0
#: Places are carried in whole numbers of this [m].
UNIT_M: Final = 0.1


def step_between_m(span_m: float) -> float:
    """Return the height between contour lines [m]: few enough to see what lies under.

    Parameters
    ----------
    span_m : float
        From the lowest ground to the highest [m].

    Examples
    --------
    >>> step_between_m(18.0)
    1.0
    """
    fit = (one for one in _STEPS_M if span_m <= one * _MOST_LEVELS)
    return next(fit, _STEPS_M[-1])


def contour_values(grid: Grid) -> Values:
    """Return contour lines as the page carries them.

    Parameters
    ----------
    grid : Grid
        Heights as measured.

    Returns
    -------
    dict
        `step_m` between lines, and `lines` with `level_m` and `places`: x and y in
        turn, in tenths of a metre east and south of the grid's corner, each but the
        first two less the one before.
    """
    heights_m = _smoothed(grid)
    known = heights_m[np.isfinite(heights_m)]
    span_m = float(np.ptp(known)) if known.size else 0.0
    step_m = step_between_m(span_m)
    along = (np.arange(grid.columns) + 0.5) * grid.cell_size_m
    down = (np.arange(grid.rows) + 0.5) * grid.cell_size_m
    lines: list[Values] = []
    if span_m > step_m and min(heights_m.shape) > 1:
        made = contour_generator(
            x=along,
            y=down,
            z=np.ma.masked_invalid(heights_m),
            line_type=LineType.Separate,
        )
        first = np.ceil(known.min() / step_m) * step_m
        for level_m in np.arange(first, known.max(), step_m):
            found = cast("list[NDArray[np.float64]]", made.lines(float(level_m)))
            lines += _lines(found, float(level_m))
    return {"step_m": step_m, "unit_m": UNIT_M, "lines": lines}


def _lines(found: list[NDArray[np.float64]], level_m: float) -> list[Values]:
    thinned = [
        shapely.simplify(shapely.LineString(one), _REACH_M)
        for one in found
        if len(one) > 1
    ]
    return [
        {"level_m": round(level_m, 2), "places": _packed(shapely.get_coordinates(one))}
        for one in thinned
        if one.length >= _SHORTEST_M
    ]


def _packed(places_m: NDArray[np.float64]) -> list[int]:
    whole = np.rint(places_m / UNIT_M).astype(int)
    steps = np.vstack([whole[:1], np.diff(whole, axis=0)])
    return [int(one) for one in steps.ravel()]


def _smoothed(grid: Grid) -> NDArray[np.float64]:
    """Return heights averaged over a square, known ones only."""
    half = max(0, round(_SMOOTH_M / grid.cell_size_m / 2))
    heights_m = grid.heights_m.astype(np.float64)
    known = np.isfinite(heights_m)
    count = _box_sums(known.astype(np.float64), half)
    # Heights above the lowest: sums of large numbers would lose the small ones.
    lowest_m = float(np.nanmin(heights_m))
    sums = _box_sums(np.where(known, heights_m - lowest_m, 0.0), half)
    mean_m = np.full(heights_m.shape, np.nan)
    np.divide(sums, count, out=mean_m, where=known)
    return mean_m + lowest_m


def _box_sums(values: NDArray[np.float64], half: int) -> NDArray[np.float64]:
    """Return the sum of each square of `2 * half + 1` cells, cut at the edges."""
    rows, columns = values.shape
    sums = np.zeros((rows + 1, columns + 1))
    sums[1:, 1:] = values.cumsum(0).cumsum(1)
    top = np.clip(np.arange(rows) - half, 0, rows)
    bottom = np.clip(np.arange(rows) + half + 1, 0, rows)
    left = np.clip(np.arange(columns) - half, 0, columns)
    right = np.clip(np.arange(columns) + half + 1, 0, columns)
    return np.asarray(
        sums[np.ix_(bottom, right)]
        - sums[np.ix_(top, right)]
        - sums[np.ix_(bottom, left)]
        + sums[np.ix_(top, left)]
    )
