"""Compiled passes that nest the hollows of a ground."""

from __future__ import annotations

import numpy as np
from numpy import int64

from pathways.terrain._jit import kernel
from pathways.terrain._kernels import _LOW_HALF, EXTERIOR, _root_of

_FIRST = 2  # basins below are no hollows: no ground, and what drains to an end


@kernel
def nest(heights, pits, keys, first_basins, second_basins, order):
    """Join basins at their passes, lowest first; each joint of two is a hollow.

    Hollow h is basin h + 2 for the basins, those made of two follow. A pair whose one
    side drains to an end lets the other spill for good. `order` sorts `keys`. Returns
    of each hollow its pit, its pass (-1: shut in), its parent (-1) and its two children
    (-1).
    """
    basins = pits.size
    leaves = basins - _FIRST
    room = 2 * leaves
    pit_cells = np.full(room, -1, np.int64)
    pass_cells = np.full(room, -1, np.int64)
    parents = np.full(room, -1, np.int64)
    children = np.full((room, 2), -1, np.int64)
    for leaf in range(leaves):
        pit_cells[leaf] = pits[leaf + _FIRST]
    joined = np.arange(basins).astype(np.int32)  # basins to the basin that stands first
    hollow_of = np.arange(-_FIRST, leaves)  # of the basin that stands first
    count = leaves
    for place in range(order.size):
        entry = order[place]
        one = _root_of(joined, first_basins[entry])
        other = _root_of(joined, second_basins[entry])
        if one == other:
            continue
        if one > other:
            one, other = other, one
        joined[other] = one  # what drains has the lowest number, so it stands first
        top = int64(keys[entry] & _LOW_HALF)
        second = hollow_of[other]
        pass_cells[second] = top
        if one == EXTERIOR:
            continue
        first = hollow_of[one]
        pass_cells[first] = top
        parents[first] = count
        parents[second] = count
        children[count, 0] = first
        children[count, 1] = second
        lower = pit_cells[first]
        if heights[pit_cells[second]] < heights[lower]:
            lower = pit_cells[second]
        pit_cells[count] = lower
        hollow_of[one] = count
        count += 1
    return (
        pit_cells[:count],
        pass_cells[:count],
        parents[:count],
        children[:count],
    )


@kernel
def measure(heights, labels, parents, spill_levels):
    """Return how many cells of each hollow lie below its spill level, and their sum.

    The sum is of heights. A cell is counted in the smallest hollow that puts it under
    water, then hollows are added up into those that hold them.
    """
    count = parents.size
    cells = np.zeros(count, np.int64)
    sums = np.zeros(count)
    outermost = np.arange(count)
    for hollow in range(count - 1, -1, -1):  # a parent stands after its children
        if parents[hollow] >= 0:
            outermost[hollow] = outermost[parents[hollow]]
    for cell in range(labels.size):
        hollow = int64(labels[cell]) - _FIRST
        if hollow < 0 or not heights[cell] < spill_levels[outermost[hollow]]:
            continue
        while not heights[cell] < spill_levels[hollow]:
            hollow = parents[hollow]
        cells[hollow] += 1
        sums[hollow] += heights[cell]
    for hollow in range(count):
        if parents[hollow] >= 0:
            cells[parents[hollow]] += cells[hollow]
            sums[parents[hollow]] += sums[hollow]
    return cells, sums
