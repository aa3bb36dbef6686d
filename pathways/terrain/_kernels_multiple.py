"""Compiled accumulation over several neighbours at once."""

from __future__ import annotations

import numpy as np
from numpy import int64

from pathways.terrain._jit import kernel
from pathways.terrain._kernels import PIT

_HOLE = 2
_PER_DIAGONAL = 0.7071067811865476  # 1 / sqrt(2)


@kernel
def shares_of(cell, heights, filled, kinds, offsets, exponent, shares):
    """Write the share of each step of a cell; whether it flows several ways.

    Shares are the slopes to all lower neighbours of the filled surface to a power
    (Freeman 1991, eq. 1). A cell under water, or with none lower, flows one way.
    """
    level = filled[cell]
    if level != heights[cell]:
        return False
    total = 0.0
    for step in range(8):
        shares[step] = 0.0
        other = cell + offsets[step]
        if kinds[other] == _HOLE or not filled[other] < level:
            continue
        slope = float(level) - float(filled[other])
        if step & 1:
            slope *= _PER_DIAGONAL
        shares[step] = slope**exponent
        total += shares[step]
    if total <= 0.0:
        return False
    for step in range(8):
        shares[step] /= total
    return True


@kernel
def accumulate_multiple(heights, filled, kinds, steps, offsets, exponent, amounts):
    """Pass each cell's amount to its lower neighbours and add up; in place.

    Several ways lead strictly down the filled surface, single ones never up it, so
    there is no ring. Cells are taken when all that flows into them has arrived. Returns
    how many cells were taken: all that are ground.
    """
    size = steps.size
    inflows = np.zeros(size, np.uint8)
    shares = np.empty(8)
    for cell in range(size):
        if steps[cell] >= PIT:
            continue
        if shares_of(cell, heights, filled, kinds, offsets, exponent, shares):
            for step in range(8):
                if shares[step] > 0.0:
                    inflows[cell + offsets[step]] += 1
        else:
            inflows[cell + offsets[steps[cell]]] += 1
    waiting = np.empty(1024, np.int32)
    taken = 0
    for first in range(size):
        if inflows[first] != 0 or kinds[first] == _HOLE:
            continue
        inflows[first] = 255  # taken
        waiting[0] = first
        count = 1
        while count > 0:
            count -= 1
            cell = int64(waiting[count])
            taken += 1
            if steps[cell] >= PIT:
                continue
            if count + 8 > waiting.size:
                larger = np.empty(2 * waiting.size, np.int32)
                larger[: waiting.size] = waiting
                waiting = larger
            if shares_of(cell, heights, filled, kinds, offsets, exponent, shares):
                for step in range(8):
                    if shares[step] > 0.0:
                        other = cell + offsets[step]
                        amounts[other] += amounts[cell] * shares[step]
                        inflows[other] -= 1
                        if inflows[other] == 0:
                            inflows[other] = 255
                            waiting[count] = other
                            count += 1
            else:
                other = cell + offsets[steps[cell]]
                amounts[other] += amounts[cell]
                inflows[other] -= 1
                if inflows[other] == 0:
                    inflows[other] = 255
                    waiting[count] = other
                    count += 1
    return taken
