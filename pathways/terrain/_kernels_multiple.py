"""Compiled accumulation over several neighbours at once.

No sorting: a cell is taken when all that flows into it has arrived. Several ways lead
strictly down the filled surface, single ones never up it, so there is no ring and
every cell is taken once. Cells that are ready are taken in blocks, whose powers are
computed together, on vectors.
"""

from __future__ import annotations

import numpy as np
from numpy import float32, float64, int32, int64, uint8

from pathways.terrain._jit import inlined, kernel
from pathways.terrain._kernels import COLUMN_STEP, PIT, ROW_STEP

SEVERAL = 16  # a way that is no step: to all lower neighbours

_NEVER = 64  # more than can flow into a cell: it is not taken (again)
_BLOCK = 128  # cells taken together
_ROWS_AT_ONCE = 16  # rows searched for cells that nothing flows into

_DISTANCE = np.array([1, 0.70710677, 1, 0.70710677] * 2, np.float32)  # 1 / distance
_HALF_ROOT_BITS = int32(0x3F3504F3)  # float32 of 1 / sqrt(2)
# Least squares at Chebyshev nodes, off by less than 2e-7: log2(1 + x) / x from
# 1 / sqrt(2) to sqrt(2), and (2**x - 1) / x from -1 to 0; highest power first.
_LOG2 = np.array(
    [
        0.12454165,
        -0.20480939,
        0.21508825,
        -0.23924527,
        0.28800509,
        -0.36069332,
        0.48090791,
        -0.72134744,
        1.44269502,
    ],
    np.float32,
)
_EXP2 = np.array(
    [0.0001149481, 0.0012913223, 0.0095963253, 0.055498748, 0.24022598, 0.69314717],
    np.float32,
)


@kernel
def find_ways(heights, filled, steps, ways):
    """Write `SEVERAL` where a cell flows to all its lower neighbours, else its step.

    That is where it is not under water and has a lower neighbour on the filled surface.
    Cells of the rim are ends or no ground.
    """
    rows, columns = steps.shape
    for row in range(rows):
        ways[row, 0] = steps[row, 0]
        ways[row, columns - 1] = steps[row, columns - 1]
        if row == 0 or row == rows - 1:
            ways[row] = steps[row]
            continue
        ground = heights[row, 1 : columns - 1]
        centre = filled[row, 1 : columns - 1]
        east = filled[row, 2:columns]
        west = filled[row, 0 : columns - 2]
        north = filled[row - 1, 1 : columns - 1]
        north_east = filled[row - 1, 2:columns]
        north_west = filled[row - 1, 0 : columns - 2]
        south = filled[row + 1, 1 : columns - 1]
        south_east = filled[row + 1, 2:columns]
        south_west = filled[row + 1, 0 : columns - 2]
        step = steps[row, 1 : columns - 1]
        out = ways[row, 1 : columns - 1]
        for j in range(columns - 2):
            level = centre[j]
            lower = (
                int32(east[j] < level)
                | int32(south_east[j] < level)
                | int32(south[j] < level)
                | int32(south_west[j] < level)
                | int32(west[j] < level)
                | int32(north_west[j] < level)
                | int32(north[j] < level)
                | int32(north_east[j] < level)
            )
            several = lower & int32(level == ground[j]) & int32(step[j] < PIT)
            out[j] = uint8(SEVERAL) if several else step[j]


@kernel
def count_ways_in(filled, ways, inflows):
    """Write from how many neighbours each cell gets water; `_NEVER` more in an end."""
    rows, columns = ways.shape
    inflows[0] = _NEVER
    inflows[rows - 1] = _NEVER
    for row in range(1, rows - 1):
        inflows[row, 0] = _NEVER
        inflows[row, columns - 1] = _NEVER
        level = filled[row, 1 : columns - 1]
        own = ways[row, 1 : columns - 1]
        out = inflows[row, 1 : columns - 1]
        for j in range(columns - 2):
            passes_on = (own[j] < PIT) | (own[j] == SEVERAL)
            out[j] = uint8(0) if passes_on else uint8(_NEVER)
        for step in range(8):
            from_row = row - ROW_STEP[step]
            west = 1 - COLUMN_STEP[step]
            beside = filled[from_row, west : west + columns - 2]
            way = ways[from_row, west : west + columns - 2]
            for j in range(columns - 2):
                comes = int32(way[j] == step) | (
                    int32(way[j] == SEVERAL) & int32(beside[j] > level[j])
                )
                out[j] += uint8(comes)


@inlined
def _write_falls(cell, way, filled, offsets, falls, at):
    """Write the eight falls of a cell by `at`, the greatest as 1; 0 where none is.

    A single way is written as the only fall.
    """
    greatest = float32(0.0)
    for step in range(8):
        fall = (filled[cell] - filled[cell + offsets[step]]) * _DISTANCE[step]
        fall = fall if fall > float32(0.0) else float32(0.0)  # also beside a hole
        falls[at + step] = fall
        greatest = fall if fall > greatest else greatest
    if way != SEVERAL:
        greatest = float32(1.0)
        for step in range(8):
            falls[at + step] = float32(step == way)
    for step in range(8):
        falls[at + step] = falls[at + step] / greatest


@kernel
def _write_powers(falls, exponent, count, powers, work):
    """Write falls from 0 to 1 to a power; off by less than 1e-6 of the greatest.

    Three loops that run on vectors: the logarithm's whole part and the rest, the power
    in the same two parts, and their product. `work` are three rows as long as `falls`.
    """
    fall_bits = falls.view(np.int32)
    whole = work[0]
    rest = work[1]
    rest_bits = rest.view(np.int32)
    scale = work[2]
    scale_bits = scale.view(np.int32)
    for i in range(count):
        bits = fall_bits[i]
        doublings = (bits - _HALF_ROOT_BITS) >> int32(23)
        rest_bits[i] = bits - (doublings << int32(23))
        whole[i] = float32(doublings)
    for i in range(count):
        x = rest[i] - float32(1.0)
        logarithm = _LOG2[0]
        for term in range(1, 9):
            logarithm = logarithm * x + _LOG2[term]
        logarithm = (whole[i] + logarithm * x) * exponent
        logarithm = logarithm if logarithm > float32(-126.0) else float32(-126.0)
        doublings = int32(logarithm)
        x = logarithm - float32(doublings)
        power = _EXP2[0]
        for term in range(1, 6):
            power = power * x + _EXP2[term]
        powers[i] = power * x + float32(1.0)
        scale_bits[i] = (doublings + int32(127)) << int32(23)
    for i in range(count):
        power = powers[i] * scale[i]
        powers[i] = power if falls[i] > float32(0.0) else float32(0.0)


@kernel
def shares_of(cell, heights, filled, kinds, offsets, exponent, shares):
    """Write the share of each step of a cell; whether it flows several ways.

    Shares are the slopes to all lower neighbours of the filled surface to a power
    (Freeman 1991, eq. 1). A cell under water, or with none lower, flows one way.
    """
    if kinds[cell] != 0 or filled[cell] != heights[cell]:
        return False
    lower = 0
    for step in range(8):
        lower += filled[cell + offsets[step]] < filled[cell]
    if lower == 0:
        return False
    falls = np.empty(8, np.float32)
    powers = np.empty(8, np.float32)
    _write_falls(cell, SEVERAL, filled, offsets, falls, 0)
    _write_powers(falls, float32(exponent), 8, powers, np.empty((3, 8), np.float32))
    total = float64(0.0)
    for step in range(8):
        total += powers[step]
    for step in range(8):
        shares[step] = powers[step] / total
    return True


@kernel
def accumulate_multiple(filled, ways, inflows, columns, offsets, exponent, amounts):
    """Pass each cell's amount to its lower neighbours and add up; in place.

    `inflows` is used up. Returns how many cells passed something on: all of ground that
    are neither ends nor pits.
    """
    size = ways.size
    falls = np.empty(8 * _BLOCK, np.float32)
    powers = np.empty(8 * _BLOCK, np.float32)
    work = np.empty((3, 8 * _BLOCK), np.float32)
    ready = np.empty(size, np.int32)
    taken = 0
    for first in range(0, size, _ROWS_AT_ONCE * columns):
        begins = 0
        ends = 0
        for cell in range(first, min(size, first + _ROWS_AT_ONCE * columns)):
            ready[ends] = cell
            ends += inflows[cell] == 0
        while begins < ends:
            count = min(_BLOCK, ends - begins)
            for entry in range(count):
                cell = int64(ready[begins + entry])
                inflows[cell] = _NEVER
                _write_falls(cell, ways[cell], filled, offsets, falls, 8 * entry)
            _write_powers(falls, float32(exponent), 8 * count, powers, work)
            for entry in range(count):
                cell = int64(ready[begins + entry])
                at = 8 * entry
                total = float64(0.0)
                for step in range(8):
                    total += powers[at + step]
                amount = amounts[cell] / total
                for step in range(8):  # no branches: they could not be foretold
                    other = cell + offsets[step]
                    lower = falls[at + step] > float32(0.0)
                    amounts[other] += amount * powers[at + step]
                    inflows[other] -= lower
                    ready[ends] = other
                    ends += lower & (inflows[other] == 0)
            begins += count
        taken += ends
    return taken
