"""Compiled passes over a grid: where each cell's water goes.

A grid is routed through its *basin graph*, without a queue over all cells:

1. `find_steps`: the steepest way down from each cell; a cell without one is a pit or
   lies on a plateau.
2. `drain_plateaus`: cells of a plateau go the fewest steps to where it drains.
3. `merge_small_pits`: a pit whose lowest neighbour drains elsewhere joins it at once.
4. `label_basins`: which pit, or which end, each cell drains to.
5. `mark_passes`, `list_passes`: the lowest pass between each two basins that touch.
6. `join_basins`: minimum spanning tree of the basins, rooted at the ends (Boruvka
   1926); the highest pass on the way to the root is the level at which a basin spills.
7. `carve`: the way from each pit to its pass is turned round, so that every cell drains
   without raising or cutting the ground.
8. `fill`: the filled surface is the ground or the spill level, whichever is higher.

Every pass has one order of ties: cells by height, then by number; links at one pass by
steepness, then by step. Nothing depends on threads or on the window that is routed.

Steps are numbered 0 to 7 from east clockwise; `PIT` and `ENDS` are no steps.
"""

from __future__ import annotations

import numpy as np
from numpy import float32, int32, int64, uint8, uint32, uint64

from pathways.terrain._jit import borrowed, kernel

ROW_STEP = np.array([0, 1, 1, 1, 0, -1, -1, -1], np.int64)
COLUMN_STEP = np.array([1, 1, 0, -1, -1, -1, 0, 1], np.int64)

PIT = 8  # no way down found yet
ENDS = 9  # the way ends here: edge, no data, water, inlet
NOT_GROUND = 255  # no data, or inside a building

PASSES = 1  # a way passes a marked place
MISSES = 2  # it does not

EXTERIOR = 1  # label of every cell that drains to an end
_PER_DIAGONAL = float32(0.70710677)  # 1 / sqrt(2)
_LOW_HALF = uint64(0xFFFFFFFF)
_CHOSEN = 16
_DONE = 255  # more than flow into any cell
_ROWS_AT_ONCE = 32  # rows searched at once for cells that nothing flows into
_LOWEST_BIT = np.array([0, 0, 1, 0, 2, 0, 1, 0, 3, 0, 1, 0, 2, 0, 1, 0], np.int64)
_LONGEST_SEARCH = 16  # entries of a basin's list of passes that are searched


@kernel
def _ordered_bits(bits):
    """Return an unsigned number that sorts as the float32 with these bits does."""
    if bits & uint32(0x80000000):
        return uint64(uint32(~bits))
    return uint64(bits | uint32(0x80000000))


@kernel
def _grown(array, size):
    """Return a copy with room for `size` entries."""
    larger = np.empty(size, array.dtype)
    larger[: array.size] = array
    return larger


@kernel
def _step_between(difference, columns):
    """Return the step that leads to the cell `difference` numbers further on."""
    if difference == 1:
        return 0
    if difference == columns + 1:
        return 1
    if difference == columns:
        return 2
    if difference == columns - 1:
        return 3
    if difference == -1:
        return 4
    if difference == -columns - 1:
        return 5
    if difference == -columns:
        return 6
    return 7


@kernel
def _is_steeper(heights, here, one, other, columns):
    """Whether `here` to `one` is preferred to `here` to `other`."""
    step_one = _step_between(one - here, columns)
    step_other = _step_between(other - here, columns)
    fall_one = heights[here] - heights[one]
    fall_other = heights[here] - heights[other]
    if step_one & 1:
        fall_one = fall_one * _PER_DIAGONAL
    if step_other & 1:
        fall_other = fall_other * _PER_DIAGONAL
    if fall_one != fall_other:
        return fall_one > fall_other
    if fall_one == 0.0:  # as in `number_levels`: west, north-west, north, north-east
        return ((step_one + 4) & 7) < ((step_other + 4) & 7)
    return step_one < step_other


@kernel
def find_steps(heights, kinds, steps, first_row, last_row):
    """Write the steepest step of each cell of some rows.

    `kinds`: 0 ground, 1 end, 2 not ground. Holes in the ground must be NaN or infinite
    in `heights`, so that nothing falls into them. Whole rows are compared as views: the
    inner loop then runs on vectors.
    """
    rows, columns = heights.shape
    for row in range(first_row, last_row):
        if 0 < row < rows - 1:
            centre = heights[row, 1 : columns - 1]
            east = heights[row, 2:columns]
            west = heights[row, 0 : columns - 2]
            north = heights[row - 1, 1 : columns - 1]
            north_east = heights[row - 1, 2:columns]
            north_west = heights[row - 1, 0 : columns - 2]
            south = heights[row + 1, 1 : columns - 1]
            south_east = heights[row + 1, 2:columns]
            south_west = heights[row + 1, 0 : columns - 2]
            out = steps[row, 1 : columns - 1]
            for column in range(columns - 2):
                here = centre[column]
                best = float32(0.0)
                step = int32(8)
                fall = here - east[column]
                step = int32(0) if fall > best else step
                best = fall if fall > best else best
                fall = (here - south_east[column]) * _PER_DIAGONAL
                step = int32(1) if fall > best else step
                best = fall if fall > best else best
                fall = here - south[column]
                step = int32(2) if fall > best else step
                best = fall if fall > best else best
                fall = (here - south_west[column]) * _PER_DIAGONAL
                step = int32(3) if fall > best else step
                best = fall if fall > best else best
                fall = here - west[column]
                step = int32(4) if fall > best else step
                best = fall if fall > best else best
                fall = (here - north_west[column]) * _PER_DIAGONAL
                step = int32(5) if fall > best else step
                best = fall if fall > best else best
                fall = here - north[column]
                step = int32(6) if fall > best else step
                best = fall if fall > best else best
                fall = (here - north_east[column]) * _PER_DIAGONAL
                step = int32(7) if fall > best else step
                best = fall if fall > best else best
                out[column] = uint8(step)
        for column in range(columns):
            if kinds[row, column] == 1:
                steps[row, column] = ENDS
            elif kinds[row, column] == 2:
                steps[row, column] = NOT_GROUND


@kernel
def number_levels(heights, steps, offsets):
    """Lead level ground to the equally high neighbour of lower number; in place.

    The plain rule for ground with a random error, on which two cells are level by
    chance only: there it saves looking round.
    """
    for cell in range(steps.size):
        if steps[cell] != PIT:
            continue
        for step in range(4, 8):
            if heights[cell + offsets[step]] == heights[cell]:
                steps[cell] = step
                break


@kernel
def drain_plateaus(heights, steps, offsets):
    """Lead level ground to where it drains, by the fewest steps; in place.

    Cells without a lower neighbour that touch an equally high cell that drains are
    reached first, then their neighbours, and so on. Level ground that drains nowhere
    keeps one pit, its first cell, to which the rest leads. Returns the pits that have
    level ground about them.
    """
    size = steps.size
    count = 0
    for cell in range(size):
        if steps[cell] == PIT:
            count += 1
    waiting = np.empty(count, np.int32)
    ends = 0
    # First ring: next to an equally high cell that drains already.
    for cell in range(size):
        if steps[cell] != PIT:
            continue
        for turn in range(8):
            step = (2 * turn) % 8 + turn // 4  # straight steps before diagonal ones
            other = cell + offsets[step]
            if heights[other] == heights[cell] and (
                steps[other] < PIT or steps[other] == ENDS
            ):
                steps[cell] = _CHOSEN + step  # it drains only when all are found
                waiting[ends] = cell
                ends += 1
                break
    for entry in range(ends):
        steps[int64(waiting[entry])] -= _CHOSEN
    # waiting holds the first ring; the rest follows ring by ring.
    ends = _spread(heights, steps, offsets, waiting, 0, ends)
    level_pits = np.empty(64, np.int32)
    pits = 0
    for cell in range(size):
        if steps[cell] != PIT:
            continue
        level = False
        for step in range(8):
            other = cell + offsets[step]
            if heights[other] == heights[cell] and steps[other] == PIT:
                level = True
        if not level:
            continue
        if pits == level_pits.size:
            level_pits = _grown(level_pits, 2 * pits)
        level_pits[pits] = cell
        pits += 1
        waiting[0] = cell
        steps[cell] = ENDS  # seen; set back below
        _spread(heights, steps, offsets, waiting, 0, 1)
        steps[cell] = PIT
    return level_pits[:pits]


@kernel
def _spread(heights, steps, offsets, waiting, begins, ends):
    """Lead pits on level ground, ring by ring, towards the cells in `waiting`.

    Each cell takes a straight step towards the ring before it where there is one, a
    diagonal one else. While a ring is chosen, its steps stand `_CHOSEN` higher, so that
    no cell leads to one of its own ring.
    """
    while begins < ends:
        ring_ends = ends
        for entry in range(begins, ring_ends):
            cell = int64(waiting[entry])
            for step in range(8):
                other = cell + offsets[step]
                if steps[other] == PIT and heights[other] == heights[cell]:
                    steps[other] = _CHOSEN
                    waiting[ends] = other
                    ends += 1
        for entry in range(ring_ends, ends):
            cell = int64(waiting[entry])
            for turn in range(8):
                step = (2 * turn) % 8 + turn // 4
                other = cell + offsets[step]
                if heights[other] == heights[cell] and (
                    steps[other] < PIT or steps[other] == ENDS
                ):
                    steps[cell] = _CHOSEN + step
                    break
        for entry in range(ring_ends, ends):
            steps[int64(waiting[entry])] -= _CHOSEN
        begins = ring_ends
    return ends


@kernel
def merge_small_pits(heights, steps, offsets):
    """Lead a pit over its lowest neighbour where that drains elsewhere; in place.

    The lowest neighbour of a pit is the lowest pass out of it, so the way is the one
    that the basin graph would find. Returns the pits so merged: their own height is
    below the filled surface.
    """
    size = steps.size
    merged = np.empty(1024, np.int32)
    count = 0
    for cell in range(size):
        if steps[cell] != PIT:
            continue
        lowest = _lowest_neighbour(heights, cell, offsets)
        other = cell + offsets[lowest]
        if not heights[other] > heights[cell] or steps[other] >= PIT:
            continue
        if heights[other] == np.inf or steps[other] == ((lowest + 4) & 7):
            continue
        if count == merged.size:
            merged = _grown(merged, 2 * count)
        merged[count] = cell
        count += 1
    for entry in range(count):  # only now: the neighbours' own steps were needed above
        cell = int64(merged[entry])
        steps[cell] = _lowest_neighbour(heights, cell, offsets)
    return merged[:count]


@kernel
def _lowest_neighbour(heights, cell, offsets):
    """Return the step to the lowest neighbour; the lower number where two are level."""
    lowest = 0
    height = heights[cell + offsets[0]]
    for step in range(1, 8):
        other = heights[cell + offsets[step]]
        if other < height or (other == height and offsets[step] < offsets[lowest]):
            height = other
            lowest = step
    return lowest


@kernel
def label_basins(steps, labels, offsets):
    """Give each basin a number.

    0 is no ground, 1 drains to an end, from 2 on there is one for each pit, in the
    order of their first cells. `labels` must be zero. Returns the pit of each number.

    No way is followed: each cell takes the number of the cell that it steps to, or
    gives it its own; numbers that meet are joined later. Selections stand where
    branches could not be foretold. Work arrays are touched only as far as needed.
    """
    size = steps.size
    joined = np.empty(size + 2, np.int32)  # the number that each is joined to
    met_one = np.empty(size, np.int32)
    met_other = np.empty(size, np.int32)
    pit_cells = np.empty(size, np.int32)
    joined[0] = 0
    joined[EXTERIOR] = EXTERIOR
    found = 2
    met = 0
    count = 0
    for cell in range(size):
        step = steps[cell]
        own = labels[cell]
        if step < PIT:
            other = cell + offsets[step]
            beside = labels[other]
            number = own if own != 0 else beside
            joined[found] = found
            fresh = number == 0
            number = found if fresh else number
            found += fresh
            labels[cell] = number
            labels[other] = beside if beside != 0 else number
            met_one[met] = number
            met_other[met] = beside
            met += (beside != number) & (beside != 0)
        elif step == PIT:
            pit_cells[count] = cell
            count += 1
            if own == 0:
                labels[cell] = found
                joined[found] = found
                found += 1
        elif step != NOT_GROUND:
            labels[cell] = EXTERIOR
            met_one[met] = EXTERIOR
            met_other[met] = own
            met += own != 0
    for entry in range(met):
        _join(joined, met_one[entry], met_other[entry])
    basins = 2
    for number in range(2, found):  # a number is joined to a lower one, or is a root
        if joined[number] == number:
            joined[number] = basins
            basins += 1
        else:
            joined[number] = joined[joined[number]]
    for cell in range(size):
        labels[cell] = joined[labels[cell]]
    pits = np.full(basins, -1, np.int32)
    for entry in range(count):
        pits[labels[pit_cells[entry]]] = pit_cells[entry]
    return pits


@kernel
def _join(joined, one, other):
    """Join two sets of numbers under the lowest, and shorten the ways to it.

    Rem's algorithm (Dijkstra 1976, A discipline of programming, chapter 23): the two
    ways up are followed together, always the one that stands higher.
    """
    while joined[one] != joined[other]:
        if joined[one] < joined[other]:
            one, other = other, one
        above = joined[one]
        joined[one] = joined[other]
        if above == one:  # a root
            break
        one = above


@kernel
def mark_passes(heights, labels, marks, first_row, last_row):
    """Mark the links between two basins that may be their lowest pass.

    Bit 0 is the link to the east, 1 south-east, 2 south, 3 south-west. A link is left
    out where a common neighbour gives a lower pass between the same two basins.
    """
    rows, columns = heights.shape
    for row in range(first_row, last_row):
        if row == 0 or row == rows - 1:
            for column in range(columns):
                marks[row, column] = _all_links(labels, row, column)
            continue
        h_c = heights[row, 1 : columns - 1]
        h_e = heights[row, 2:columns]
        h_w = heights[row, 0 : columns - 2]
        h_n = heights[row - 1, 1 : columns - 1]
        h_ne = heights[row - 1, 2:columns]
        h_s = heights[row + 1, 1 : columns - 1]
        h_se = heights[row + 1, 2:columns]
        h_sw = heights[row + 1, 0 : columns - 2]
        b_c = labels[row, 1 : columns - 1]
        b_e = labels[row, 2:columns]
        b_w = labels[row, 0 : columns - 2]
        b_n = labels[row - 1, 1 : columns - 1]
        b_ne = labels[row - 1, 2:columns]
        b_s = labels[row + 1, 1 : columns - 1]
        b_se = labels[row + 1, 2:columns]
        b_sw = labels[row + 1, 0 : columns - 2]
        out = marks[row, 1 : columns - 1]
        for j in range(columns - 2):
            height = h_c[j]
            basin = b_c[j]
            top = height if height > h_e[j] else h_e[j]
            high = basin if height > h_e[j] else b_e[j]
            to_east = (
                int32(basin != b_e[j])
                & (int32(1) - (int32(h_n[j] < top) & int32(b_n[j] == high)))
                & (int32(1) - (int32(h_ne[j] < top) & int32(b_ne[j] == high)))
                & (int32(1) - (int32(h_s[j] < top) & int32(b_s[j] == high)))
                & (int32(1) - (int32(h_se[j] < top) & int32(b_se[j] == high)))
            )
            top = height if height > h_se[j] else h_se[j]
            high = basin if height > h_se[j] else b_se[j]
            to_south_east = (
                int32(basin != b_se[j])
                & (int32(1) - (int32(h_e[j] < top) & int32(b_e[j] == high)))
                & (int32(1) - (int32(h_s[j] < top) & int32(b_s[j] == high)))
            )
            top = height if height > h_s[j] else h_s[j]
            high = basin if height > h_s[j] else b_s[j]
            to_south = (
                int32(basin != b_s[j])
                & (int32(1) - (int32(h_w[j] < top) & int32(b_w[j] == high)))
                & (int32(1) - (int32(h_sw[j] < top) & int32(b_sw[j] == high)))
                & (int32(1) - (int32(h_e[j] < top) & int32(b_e[j] == high)))
                & (int32(1) - (int32(h_se[j] < top) & int32(b_se[j] == high)))
            )
            top = height if height > h_sw[j] else h_sw[j]
            high = basin if height > h_sw[j] else b_sw[j]
            to_south_west = (
                int32(basin != b_sw[j])
                & (int32(1) - (int32(h_w[j] < top) & int32(b_w[j] == high)))
                & (int32(1) - (int32(h_s[j] < top) & int32(b_s[j] == high)))
            )
            out[j] = uint8(
                to_east | (to_south_east << 1) | (to_south << 2) | (to_south_west << 3)
            )
        marks[row, 0] = _all_links(labels, row, 0)
        marks[row, columns - 1] = _all_links(labels, row, columns - 1)


@kernel
def _all_links(labels, row, column):
    """Return the marks of one cell, none left out."""
    rows, columns = labels.shape
    basin = labels[row, column]
    marks = 0
    if column < columns - 1 and basin != labels[row, column + 1]:
        marks |= 1
    if row < rows - 1:
        if column < columns - 1 and basin != labels[row + 1, column + 1]:
            marks |= 2
        if basin != labels[row + 1, column]:
            marks |= 4
        if column > 0 and basin != labels[row + 1, column - 1]:
            marks |= 8
    return marks


@kernel
def list_passes(heights, bits, labels, marks, columns, basins):
    """List the lowest pass between each two basins that touch.

    Returns the sort key of each pass (height, then number, of its higher cell), its
    lower cell and the two basins. A pair may stand in the list twice: the spanning tree
    takes the lower one. Links with a cell that is no ground are left out.
    """
    # Lists own what grows, so that no reference is counted in the loop (`borrowed`).
    room = max(1024, 3 * basins)
    owned_keys = [np.empty(room, np.uint64)]
    owned = [np.empty(room, np.int32) for _ in range(4)]
    keys = borrowed(owned_keys[0])
    lower_cells = borrowed(owned[0])
    first_basins = borrowed(owned[1])
    second_basins = borrowed(owned[2])
    following = borrowed(owned[3])
    heads = np.full(basins, -1, np.int32)
    links = np.array([1, columns + 1, columns, columns - 1], np.int64)
    marked = np.empty(labels.size, np.int32)
    marked_count = 0
    for cell in range(labels.size):
        marked[marked_count] = cell
        marked_count += marks[cell] != 0
    count = 0
    for place in range(marked_count):
        cell = int64(marked[place])
        mark = marks[cell]
        basin = labels[cell]
        if basin == 0:
            continue
        key_here = (_ordered_bits(bits[cell]) << uint64(32)) | uint64(cell)
        while mark != 0:
            other = cell + links[_LOWEST_BIT[mark]]
            mark &= mark - 1
            other_basin = labels[other]
            if other_basin == 0:
                continue
            key_there = (_ordered_bits(bits[other]) << uint64(32)) | uint64(other)
            if key_here > key_there:
                key = key_here
                lower = other
            else:
                key = key_there
                lower = cell
            high = basin if basin > other_basin else other_basin
            low = other_basin if basin > other_basin else basin
            entry = heads[high]
            before = -1
            searched = 0
            while entry >= 0 and second_basins[entry] != low:
                if searched == _LONGEST_SEARCH:
                    break
                before = entry
                entry = following[entry]
                searched += 1
            if entry >= 0 and second_basins[entry] == low:
                if before >= 0:  # to the front: neighbours come up again soon
                    following[before] = following[entry]
                    following[entry] = heads[high]
                    heads[high] = entry
                if key < keys[entry]:
                    keys[entry] = key
                    lower_cells[entry] = lower
                elif key == keys[entry]:
                    top = int64(key & _LOW_HALF)
                    held = int64(lower_cells[entry])
                    if _is_steeper(heights, top, lower, held, columns):
                        lower_cells[entry] = lower
                continue
            if count == keys.size:
                owned_keys[0] = _grown(keys, 2 * count)
                keys = borrowed(owned_keys[0])
                for which in range(4):
                    owned[which] = _grown(owned[which], 2 * count)
                lower_cells = borrowed(owned[0])
                first_basins = borrowed(owned[1])
                second_basins = borrowed(owned[2])
                following = borrowed(owned[3])
            keys[count] = key
            lower_cells[count] = lower
            first_basins[count] = high
            second_basins[count] = low
            following[count] = heads[high]
            heads[high] = count
            count += 1
    return (
        owned_keys[0][:count],
        owned[0][:count],
        owned[1][:count],
        owned[2][:count],
    )


@kernel
def _root_of(parents, basin):
    """Return the representative of a joined set of basins, and shorten the way."""
    while parents[basin] != basin:
        parents[basin] = parents[parents[basin]]
        basin = parents[basin]
    return basin


@kernel
def _tree_of_passes(
    heights, keys, lower_cells, first_basins, second_basins, basins, columns
):
    """Return 1 for each pass that belongs to the minimum spanning tree (Boruvka)."""
    passes = keys.size
    parents = np.arange(basins).astype(np.int32)
    active = np.arange(passes).astype(np.int32)
    ones = first_basins.copy()
    others = second_basins.copy()
    chosen = np.zeros(passes, np.uint8)
    best = np.full(basins, -1, np.int32)
    left = passes
    while left > 0:
        kept = 0
        for entry in range(left):
            one_pass = active[entry]
            one = _root_of(parents, ones[one_pass])
            other = _root_of(parents, others[one_pass])
            if one == other:
                continue
            ones[one_pass] = one
            others[one_pass] = other
            active[kept] = one_pass
            kept += 1
            for side in range(2):
                root = one if side == 0 else other
                held = best[root]
                if held < 0 or keys[one_pass] < keys[held]:
                    best[root] = one_pass
                elif keys[one_pass] == keys[held]:
                    top = int64(keys[one_pass] & _LOW_HALF)
                    if _is_steeper(
                        heights,
                        top,
                        int64(lower_cells[one_pass]),
                        int64(lower_cells[held]),
                        columns,
                    ):
                        best[root] = one_pass
        left = kept
        for entry in range(left):
            one_pass = active[entry]
            for side in range(2):
                root = ones[one_pass] if side == 0 else others[one_pass]
                if best[root] != one_pass:
                    continue
                one = _root_of(parents, ones[one_pass])
                other = _root_of(parents, others[one_pass])
                if one != other:
                    chosen[one_pass] = 1
                    if one < other:
                        parents[other] = one
                    else:
                        parents[one] = other
        for entry in range(left):
            one_pass = active[entry]
            best[ones[one_pass]] = -1
            best[others[one_pass]] = -1
    return chosen


@kernel
def join_basins(heights, keys, lower_cells, first_basins, second_basins, pits, columns):
    """Join the basins at their lowest passes.

    Returns for each basin the pass by which it spills (-1: none), the level at which it
    spills (infinite where it never does: shut in), and the basin it spills into (-1).
    A group of basins that is shut in is joined into the one with the lowest pit.
    """
    basins = pits.size
    chosen = _tree_of_passes(
        heights, keys, lower_cells, first_basins, second_basins, basins, columns
    )
    starts = np.zeros(basins + 1, np.int32)
    for one_pass in range(keys.size):
        if chosen[one_pass]:
            starts[first_basins[one_pass] + 1] += 1
            starts[second_basins[one_pass] + 1] += 1
    for basin in range(basins):
        starts[basin + 1] += starts[basin]
    touching = np.empty(starts[basins], np.int32)
    filled = starts[:basins].copy()
    for one_pass in range(keys.size):
        if chosen[one_pass]:
            touching[filled[first_basins[one_pass]]] = one_pass
            filled[first_basins[one_pass]] += 1
            touching[filled[second_basins[one_pass]]] = one_pass
            filled[second_basins[one_pass]] += 1
    spill_pass = np.full(basins, -1, np.int32)
    spill_level = np.full(basins, np.inf, np.float32)
    spills_into = np.full(basins, -1, np.int32)
    seen = np.zeros(basins, np.uint8)
    queue = np.empty(basins, np.int32)
    spill_level[EXTERIOR] = -np.inf
    seen[EXTERIOR] = 1
    queue[0] = EXTERIOR
    ends = 1
    begins = 0
    root = 2
    while True:
        while begins < ends:
            basin = queue[begins]
            begins += 1
            for entry in range(starts[basin], starts[basin + 1]):
                one_pass = touching[entry]
                other = second_basins[one_pass]
                if first_basins[one_pass] != basin:
                    other = first_basins[one_pass]
                if seen[other]:
                    continue
                seen[other] = 1
                spill_pass[other] = one_pass
                spills_into[other] = basin
                top = heights[int64(keys[one_pass] & _LOW_HALF)]
                level = spill_level[basin]
                spill_level[other] = top if top > level else level
                queue[ends] = other
                ends += 1
        # What is left is shut in: the lowest pit of each group is where it all goes.
        while root < basins and seen[root]:
            root += 1
        if root >= basins:
            break
        lowest = _lowest_of_group(
            heights, root, starts, touching, first_basins, second_basins, pits
        )
        seen[lowest] = 1
        queue[ends] = lowest
        ends += 1
    return spill_pass, spill_level, spills_into


@kernel
def _lowest_of_group(
    heights, root, starts, touching, first_basins, second_basins, pits
):
    """Return the basin with the lowest pit among those joined to `root`."""
    reached = np.zeros(pits.size, np.uint8)
    queue = np.empty(pits.size, np.int32)
    queue[0] = root
    reached[root] = 1
    begins = 0
    ends = 1
    lowest = root
    while begins < ends:
        basin = queue[begins]
        begins += 1
        if heights[pits[basin]] < heights[pits[lowest]]:
            lowest = basin
        for entry in range(starts[basin], starts[basin + 1]):
            one_pass = touching[entry]
            for side in range(2):
                other = first_basins[one_pass]
                if side == 1:
                    other = second_basins[one_pass]
                if not reached[other]:
                    reached[other] = 1
                    queue[ends] = other
                    ends += 1
    return lowest


@kernel
def carve(
    heights,
    steps,
    labels,
    keys,
    lower_cells,
    spill_pass,
    pits,
    level_pits,
    offsets,
    columns,
):
    """Turn the way from each pit to its pass round, so that the pit drains; in place.

    Where a pit lies in level ground, the way enters that ground at its nearest point,
    and the ground is led there afresh.
    """
    is_level = np.zeros(spill_pass.size, np.uint8)
    for entry in range(level_pits.size):
        is_level[labels[level_pits[entry]]] = 1
    waiting = np.empty(1024, np.int32)
    for basin in range(2, spill_pass.size):
        one_pass = spill_pass[basin]
        if one_pass < 0:
            continue
        higher = int64(keys[one_pass] & _LOW_HALF)
        lower = int64(lower_cells[one_pass])
        if labels[higher] == basin:
            cell = higher
            target = lower
        else:
            cell = lower
            target = higher
        step = _step_between(target - cell, columns)
        floor = heights[pits[basin]]
        while True:
            old = steps[cell]
            if is_level[basin] and _lies_level(heights, steps, offsets, cell, floor):
                waiting = _lead_level_ground(
                    heights, steps, labels, offsets, cell, waiting
                )
                steps[cell] = step
                break
            steps[cell] = step
            if old >= PIT:
                break
            cell = cell + offsets[old]
            step = (old + 4) & 7


@kernel
def _lies_level(heights, steps, offsets, cell, floor):
    """Whether a cell is joined to its pit by level ground, not only as low as it."""
    while heights[cell] == floor:
        if steps[cell] == PIT:
            return True
        cell = cell + offsets[steps[cell]]
    return False


@kernel
def _lead_level_ground(heights, steps, labels, offsets, cell, waiting):
    """Lead level ground, ring by ring, to one of its cells; returns the work space.

    The ground about one pit is level, joined, and all of one basin, so each of its
    cells is met once: those that are led anew are marked with `ENDS` on the way.
    """
    floor = heights[cell]
    basin = labels[cell]
    waiting[0] = cell
    begins = 0
    ends = 1
    steps[cell] = ENDS
    while begins < ends:  # collect and mark
        here = int64(waiting[begins])
        begins += 1
        if ends + 8 > waiting.size:
            waiting = _grown(waiting, 2 * waiting.size)
        for step in range(8):
            other = here + offsets[step]
            if (
                heights[other] == floor
                and labels[other] == basin
                and steps[other] < ENDS
            ):
                steps[other] = ENDS
                waiting[ends] = other
                ends += 1
    for entry in range(1, ends):
        steps[int64(waiting[entry])] = PIT
    _spread(heights, steps, offsets, waiting, 0, 1)
    return waiting


@kernel
def fill(heights, labels, spill_level, filled, first, last):
    """Write the filled surface of some cells: the ground, or the level of its basin.

    What is no ground becomes NaN, and what is shut in infinite. `filled` may lie in the
    same memory as `labels`: each is read once, before it is written.
    """
    for cell in range(first, last):
        if labels[cell] == 0:
            filled[cell] = np.nan
            continue
        level = spill_level[labels[cell]]
        height = heights[cell]
        filled[cell] = level if level > height else height


@kernel
def levels_of_small_pits(heights, labels, spill_level, merged, offsets):
    """Return the filled surface of the pits that were merged at once."""
    levels = np.empty(merged.size, np.float32)
    for entry in range(merged.size):
        cell = int64(merged[entry])
        rim = heights[cell + offsets[_lowest_neighbour(heights, cell, offsets)]]
        level = spill_level[labels[cell]]
        levels[entry] = level if level > rim else rim
    return levels


@kernel
def count_inflows(steps, inflows):
    """Write how many neighbours step into each cell; whole rows at a time inside."""
    rows, columns = steps.shape
    for row in range(rows):
        if 0 < row < rows - 1:
            east = steps[row, 2:columns]
            west = steps[row, 0 : columns - 2]
            north_west = steps[row - 1, 0 : columns - 2]
            north = steps[row - 1, 1 : columns - 1]
            north_east = steps[row - 1, 2:columns]
            south_west = steps[row + 1, 0 : columns - 2]
            south = steps[row + 1, 1 : columns - 1]
            south_east = steps[row + 1, 2:columns]
            out = inflows[row, 1 : columns - 1]
            for column in range(columns - 2):
                out[column] = uint8(
                    uint8(west[column] == 0)
                    + uint8(north_west[column] == 1)
                    + uint8(north[column] == 2)
                    + uint8(north_east[column] == 3)
                    + uint8(east[column] == 4)
                    + uint8(south_east[column] == 5)
                    + uint8(south[column] == 6)
                    + uint8(south_west[column] == 7)
                )
            inflows[row, 0] = _inflows_of(steps, row, 0)
            inflows[row, columns - 1] = _inflows_of(steps, row, columns - 1)
        else:
            for column in range(columns):
                inflows[row, column] = _inflows_of(steps, row, column)


@kernel
def _inflows_of(steps, row, column):
    """Return how many neighbours step into one cell, which may lie on the rim."""
    rows, columns = steps.shape
    count = 0
    for step in range(8):
        from_row = row - ROW_STEP[step]
        from_column = column - COLUMN_STEP[step]
        if 0 <= from_row < rows and 0 <= from_column < columns:
            count += steps[from_row, from_column] == step
    return count


@kernel
def accumulate(steps, inflows, amounts, columns, offsets):
    """Pass each cell's amount down its way and add up; in place.

    `inflows` is used up. A cell is passed on once, when all that flows into it has
    arrived: some rows are searched for cells with no inflow, and what becomes ready
    below them queues up behind. Nothing but the end of the queue is a branch that could
    not be foretold, and cells of the queue need not wait for each other.
    """
    ready = np.empty(steps.size, np.int32)
    for first in range(0, steps.size, _ROWS_AT_ONCE * columns):
        begins = 0
        ends = 0
        for cell in range(first, min(steps.size, first + _ROWS_AT_ONCE * columns)):
            ready[ends] = cell
            ends += (inflows[cell] == 0) & (steps[cell] < PIT)
        while begins < ends:
            cell = int64(ready[begins])
            begins += 1
            inflows[cell] = _DONE
            other = cell + offsets[steps[cell]]
            amounts[other] += amounts[cell]
            inflows[other] -= 1
            ready[ends] = other
            ends += (inflows[other] == 0) & (steps[other] < PIT)


@kernel
def follow(steps, start, offsets, way):
    """Write the cells from `start` to where the way ends; return how many there are.

    At most `way.size` cells are written; a larger count asks for more room.
    """
    cell = start
    count = 0
    while count <= steps.size:
        if count < way.size:
            way[count] = cell
        count += 1
        step = steps[cell]
        if step >= PIT:
            break
        cell = cell + offsets[step]
    return count


@kernel
def mark_ways_through(steps, state, offsets):
    """Mark each cell whose way passes a marked one; in place.

    `state` is `PASSES` in the marked cells and 0 elsewhere; each cell is followed only
    as far as one whose state is known.
    """
    for first in range(steps.size):
        if state[first] != 0 or steps[first] == NOT_GROUND:
            continue
        cell = first
        while state[cell] == 0 and steps[cell] < PIT:
            cell = cell + offsets[steps[cell]]
        found = state[cell] if state[cell] != 0 else MISSES
        cell = first
        while state[cell] == 0:
            state[cell] = found
            if steps[cell] >= PIT:
                break
            cell = cell + offsets[steps[cell]]


@kernel
def pool_about(heights, filled, seed, offsets, kinds, waiting, seen):
    """Return cells, sum of depths [m] and greatest depth [m] of the pool at `seed`.

    The pool is the joined ground that fills to the same level. `seen` is a work array
    of zeros that comes back dirty; `waiting` must have room for every cell of the pool.
    """
    level = filled[seed]
    waiting[0] = seed
    seen[seed] = 1
    begins = 0
    ends = 1
    depths = 0.0
    deepest = float32(0.0)
    while begins < ends:
        cell = int64(waiting[begins])
        begins += 1
        depth = level - heights[cell]
        depths += depth
        deepest = depth if depth > deepest else deepest
        if kinds[cell] != 0:
            continue
        for step in range(8):
            other = cell + offsets[step]
            if (
                not seen[other]
                and kinds[other] == 0
                and filled[other] == level
                and heights[other] < level
            ):
                seen[other] = 1
                waiting[ends] = other
                ends += 1
    return ends, depths, deepest


@kernel
def steepest_facet(cell, filled, kinds, offsets):
    """Return the steepest descent on the eight triangular facets about a cell.

    Tarboton 1997, equations 1 to 4: the fall [m a cell], the angle from the facet's
    straight neighbour towards its diagonal one [radians], and the steps to the two; a
    step of -1 where no facet falls.
    """
    steepest = 0.0
    angle = 0.0
    straight = -1
    diagonal = -1
    for facet in range(8):
        one = 2 * ((facet + 1) // 2 % 4)  # the facet's straight neighbour
        two = facet | 1  # and its diagonal one
        a = cell + offsets[one]
        b = cell + offsets[two]
        if kinds[a] == 2 or kinds[b] == 2:
            continue
        along = float(filled[cell]) - float(filled[a])
        across = float(filled[a]) - float(filled[b])
        r = np.arctan2(across, along)
        fall = np.sqrt(along * along + across * across)
        if r < 0.0:
            r = 0.0
            fall = along
        elif r > np.pi / 4:
            r = np.pi / 4
            fall = (along + across) / np.sqrt(2.0)
        if fall > steepest:
            steepest = fall
            angle = r
            straight = one
            diagonal = two
    return steepest, angle, straight, diagonal


@kernel
def code_falls(heights, filled, steps, kinds, offsets, falls):
    """Write the direction of steepest descent of every cell as one byte.

    32 times the facet (0 to 7, see `steepest_facet`) and the angle on it in thirtieths
    of 45 degrees; 31 in place of the angle where `guided_way` would take the drainage
    step, with 0 for level ground, 1 in hollows and 2 at ends in place of the facet.
    """
    for cell in range(heights.size):
        falls[cell] = 31
        if steps[cell] >= PIT:
            falls[cell] = 2 * 32 + 31
            continue
        if filled[cell] != heights[cell]:
            falls[cell] = 32 + 31
            continue
        _, angle, straight, diagonal = steepest_facet(cell, filled, kinds, offsets)
        if straight < 0:
            continue
        facet = diagonal - 1 if straight == diagonal - 1 else diagonal
        falls[cell] = 32 * facet + int(np.rint(angle / (np.pi / 4) * 30.0))


@kernel
def guided_way(
    heights, filled, steps, kinds, start, east, north, offsets, way, deviations
):
    """Follow the fall of the filled ground from a cell, true on planes.

    The direction of steepest descent is taken on the triangular facets about a cell
    (`steepest_facet`), and of the facet's two neighbours the one is
    stepped to that keeps the sum of the sideways deviations least (Orlandini et al.
    2003, eqs 1 to 3, damping 1). In a hollow, on level ground, and where a facet has no
    fall, the drainage step is taken and the deviation forgotten. `east` and `north` say
    how far the first cell's centre lies from where the way begins [cells]. Writes the
    cells, and the deviation of each centre to the right of the way [cells]; returns how
    many there are.
    """
    cell = start
    count = 0
    deviation = 0.0
    while count < way.size:
        way[count] = cell
        deviations[count] = deviation
        count += 1
        if steps[cell] >= PIT:
            break
        level = filled[cell]
        angle = 0.0
        straight = -1
        diagonal = -1
        turn = 1.0
        if level == heights[cell]:
            _, angle, straight, diagonal = steepest_facet(cell, filled, kinds, offsets)
            # clockwise from the straight neighbour to the diagonal one: right
            turn = 1.0 if (straight + 1) & 7 == diagonal else -1.0
        if straight < 0:
            cell = cell + offsets[steps[cell]]
            deviation = 0.0
            continue
        if count == 1:  # the way begins off the centre of its first cell
            x = np.cos(angle) * COLUMN_STEP[straight] + np.sin(angle) * (
                COLUMN_STEP[diagonal] - COLUMN_STEP[straight]
            )
            y = -np.cos(angle) * ROW_STEP[straight] - np.sin(angle) * (
                ROW_STEP[diagonal] - ROW_STEP[straight]
            )
            deviation = east * y - north * x
            deviations[0] = deviation
        # Going straight leaves the true direction on one hand, diagonal on the other.
        if_straight = deviation - turn * np.sin(angle)
        if_diagonal = deviation + turn * np.sqrt(2.0) * np.sin(np.pi / 4 - angle)
        lower_straight = filled[cell + offsets[straight]] < level
        lower_diagonal = filled[cell + offsets[diagonal]] < level
        if lower_straight and (
            not lower_diagonal or abs(if_straight) <= abs(if_diagonal)
        ):
            cell = cell + offsets[straight]
            deviation = if_straight
        elif lower_diagonal:
            cell = cell + offsets[diagonal]
            deviation = if_diagonal
        else:
            cell = cell + offsets[steps[cell]]
            deviation = 0.0
    return count
