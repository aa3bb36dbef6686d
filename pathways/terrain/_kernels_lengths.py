"""Compiled pass that tells how far each cell is from its end along its way."""

from __future__ import annotations

import numpy as np

from pathways.terrain._jit import kernel
from pathways.terrain._kernels import NOT_GROUND, PIT

_UNKNOWN = np.float32(-1.0)


@kernel
def lengths_to_end(steps, offsets, cell_size):
    """Return the length of each cell's way [m; -1: no ground] and the cell it ends in.

    Each cell is followed only as far as one whose length is known.
    """
    length = np.full(steps.size, _UNKNOWN, np.float32)
    end = np.full(steps.size, -1, np.int32)
    waiting = np.empty(steps.size, np.int32)
    for first in range(steps.size):
        if steps[first] == NOT_GROUND:
            continue
        count = 0
        cell = first
        while length[cell] < 0 and steps[cell] < PIT and count < steps.size:
            waiting[count] = cell
            count += 1
            cell = cell + offsets[steps[cell]]
        if length[cell] < 0:
            length[cell] = 0.0
            end[cell] = cell
        reach = float(length[cell])
        last = end[cell]
        while count > 0:
            count -= 1
            here = waiting[count]
            straight = steps[here] % 2 == 0
            reach += cell_size if straight else cell_size * np.sqrt(2.0)
            length[here] = reach
            end[here] = last
    return length, end
