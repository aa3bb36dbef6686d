"""Lines along which a large piece of ground drains, where no water was drawn.

They are what the heights suggest, not water that somebody saw: a page offers them to be
accepted one by one or drawn anew.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from pathways.assumed import AssumedValues
from pathways.features import Features
from pathways.grid import Grid
from pathways.terrain.drainage import GROUND, Drainage, accumulate
from pathways.terrain.landscape import Terrain

#: A line may leave the middles of its cells by this part of a cell when it is smoothed.
_SMOOTHED: Final = 0.75
#: Lines shorter than this many cells are the stubs of a slope and no valley.
_LEAST_CELLS: Final = 10


def valley_lines(grid: Grid, assumed: AssumedValues) -> tuple[LineString, ...]:
    """Return the lines onto which at least so much ground drains, the longest first.

    Parameters
    ----------
    grid : Grid
        The ground.
    assumed : AssumedValues
        With ``[valley_lines] least_area_m2``, the ground above the head of a line [m²].

    Returns
    -------
    tuple of LineString
        Each from its head, or from where two join, down to the next; none on ground
        too small or too flat to gather so much.
    """
    drainage = Terrain(grid, Features(), assumed).flow.drainage
    above_m2 = accumulate(drainage) * grid.cell_size_m**2
    least_m2 = assumed["valley_lines", "least_area_m2"]
    in_valley = ((above_m2 >= least_m2) & (drainage.kinds == GROUND)).ravel()
    lines = [
        _line(cells, grid)
        for cells in _stretches(drainage, in_valley)
        if len(cells) >= _LEAST_CELLS
    ]
    return tuple(sorted(lines, key=lambda line: (-line.length, line.coords[0])))


def _stretches(drainage: Drainage, in_valley: NDArray[np.bool_]) -> list[list[int]]:
    """Return the cells of each stretch between heads, joints and ends."""
    cells = np.flatnonzero(in_valley)
    steps = drainage.steps.ravel()[cells]
    moves = steps < len(drainage.offsets)
    below = np.where(
        moves,
        cells + drainage.offsets[np.minimum(steps, len(drainage.offsets) - 1)],
        -1,
    )
    next_of = dict(zip(cells.tolist(), below.tolist(), strict=True))
    ways_in = np.bincount(below[(below >= 0)], minlength=in_valley.size)
    # A stretch begins where no way in, or more than one, comes from the valley.
    found = []
    for first in cells[ways_in[cells] != 1].tolist():
        stretch = [first]
        here = next_of[first]
        while here >= 0 and len(stretch) <= cells.size:
            stretch.append(here)
            if here not in next_of or ways_in[here] != 1:
                break
            here = next_of[here]
        found.append(stretch)
    return found


def _line(cells: list[int], grid: Grid) -> LineString:
    rows, columns = np.divmod(np.array(cells), grid.columns)
    line = shapely.linestrings(
        grid.west_m + (columns + 0.5) * grid.cell_size_m,
        grid.north_m - (rows + 0.5) * grid.cell_size_m,
    )
    return line.simplify(_SMOOTHED * grid.cell_size_m)
