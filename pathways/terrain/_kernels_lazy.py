"""Compiled tracing from one source, which touches only its way and the pools on it.

The minimum spanning tree of `_kernels` is grown from the source alone (Prim 1957): go
down the steepest steps; at a pit, raise the water with a heap of cells by height and
number; the first cell with a lower dry neighbour is the pass. Pools that meet merge. So
the way is the one that routing the whole grid gives, with level ground led by number.

An error may be added to the heights. It is a function of the cell and the realisation
alone, evaluated when a cell is first touched: no field is made, and any realisation can
be repeated by itself.
"""

from __future__ import annotations

import numpy as np
from numpy import float32, int64, uint64

from pathways.terrain._jit import borrowed, inlined, kernel
from pathways.terrain._kernels import (
    _LOW_HALF,
    _PER_DIAGONAL,
    COLUMN_STEP,
    ROW_STEP,
    _grown,
    _ordered_bits,
    _step_between,
)

#: How a trace ends.
REACHED_END = 0
RAN_DRY = 1  # the volume is used up in a pool
OVER_BUDGET = 2
SHUT_IN = 3

#: One record a cell: realised height and the trace that evaluated it, the trace that
#: flooded it, and its basin. Sixteen bytes keep what is used together in one place.
RECORD = np.dtype(
    [("height", "f4"), ("known_in", "i4"), ("state", "i4"), ("basin", "i4")]
)

#: A basin of the tree: its pit (-1: an end), its parent, and the link to the parent.
_BASIN = np.dtype([("pit", "i8"), ("parent", "i8"), ("leaves", "i8"), ("enters", "i8")])
#: A pool that has spilled: the key at which, its cells, the sum of their heights, what
#: it holds, and its pit.
_POOL = np.dtype(
    [("key", "u8"), ("cells", "i8"), ("sum", "f8"), ("held", "f8"), ("pit", "i8")]
)

_END, _HOLE = 1, 2
_TRIALS = 8  # realisations after which a source that keeps going over is not tried

#: What tells the two lattices of a realisation apart.
_SHORT, _LONG = 0x5BD1E995, 0xC2B2AE35

#: Of the array of errors: two counts (classes, ties), then for each class of ground the
#: nugget, short and long standard deviation [m] and the short and long spacing [cells],
#: then for each surveyed level its row, column, class and pull, then the correlation of
#: a lattice field along one axis at 0 to 2 spacings. One array, because each more that
#: is passed to the small functions below costs as much as their arithmetic. Empty: no
#: error.
_HEADER, _PER_CLASS, _PER_TIE = 2, 5, 4

#: Of the array of covers: bits 0 and 1 the kind of cell (`drainage.GROUND`, `END`,
#: `HOLE`), bits 2 and 3 what stays hard under an error (0 nothing, 1 a barrier, 2 water
#: or an opening), bits 4 to 7 the class of ground.
_DOWN = 9  # the way of a basin ends in an end


@kernel
def _mixed(bits):
    """Return 64 well mixed bits of a counter (splitmix64; Steele et al. 2014)."""
    bits = bits + uint64(0x9E3779B97F4A7C15)
    bits = (bits ^ (bits >> uint64(30))) * uint64(0xBF58476D1CE4E5B9)
    bits = (bits ^ (bits >> uint64(27))) * uint64(0x94D049BB133111EB)
    return bits ^ (bits >> uint64(31))


@kernel
def _normal(bits):
    """Return a number that is nearly standard normal, from 64 mixed bits.

    The sum of four uniform numbers of 16 bits (Irwin-Hall): mean 0, variance 1, within
    3.5, which suits an error that has its limits.
    """
    low = uint64(0xFFFF)
    total = (
        int64(bits & low)
        + int64((bits >> uint64(16)) & low)
        + int64((bits >> uint64(32)) & low)
        + int64(bits >> uint64(48))
    )
    return (total - 131070) / 37837.22


@inlined
def _lattice(row, column, seed, spacing, shift):
    """Return a standard normal field that is correlated over a lattice's spacing.

    Independent numbers on a square lattice are weighted by distance (bilinear) and
    brought to variance 1. The lattice is shifted at random in each realisation, so that
    no place is special.
    """
    key = _mixed(seed ^ shift)
    i, above, below = _shares(_lattice_row(row, spacing, key))
    j, left, right = _shares(_lattice_column(column, spacing, key))
    return left * (above * _node(key, i, j) + below * _node(key, i + 1, j)) + right * (
        above * _node(key, i, j + 1) + below * _node(key, i + 1, j + 1)
    )


@inlined
def _lattice_row(row, spacing, key):
    """Return where a row lies on a lattice that is shifted by its key [spacings]."""
    return row / spacing + float(key & uint64(0xFFFFF)) / 1048576.0


@inlined
def _lattice_column(column, spacing, key):
    """Return where a column lies on a lattice that is shifted by its key [spacings]."""
    return column / spacing + float((key >> uint64(20)) & uint64(0xFFFFF)) / 1048576.0


@inlined
def _own_normal(cell, seed):
    """Return the number of one cell that no other shares."""
    return _normal(_mixed(uint64(cell) ^ (seed * uint64(0x9E3779B97F4A7C15))))


@inlined
def _node(key, i, j):
    """Return the number of one node of a lattice."""
    return _normal(
        _mixed(key ^ (uint64(i + 1048576) << uint64(32)) ^ uint64(j + 1048576))
    )


@inlined
def _shares(place):
    """Return the node before a place along one axis, its share and the next one's.

    The squares of the shares add up to 1, so that the field keeps its variance.
    """
    node = int64(np.floor(place))
    after = place - node
    before = 1.0 - after
    norm = np.sqrt(before * before + after * after)
    return node, before / norm, after / norm


@inlined
def free_error(cell, covers, columns, seed, errors):
    """Return the error of one cell before it is tied to surveyed levels [m]."""
    row = cell // columns
    column = cell - row * columns
    part = _HEADER + _PER_CLASS * (covers[cell] >> 4)
    error = 0.0
    if errors[part] > 0.0:
        error += errors[part] * _own_normal(cell, seed)
    if errors[part + 1] > 0.0:
        error += errors[part + 1] * _lattice(
            float(row), float(column), seed, errors[part + 3], uint64(_SHORT)
        )
    if errors[part + 2] > 0.0:
        error += errors[part + 2] * _lattice(
            float(row), float(column), seed, errors[part + 4], uint64(_LONG)
        )
    return error


@inlined
def _tied_error(cell, covers, columns, seed, errors):
    """Return the error of one cell, tied to surveyed levels (kriging of the error)."""
    error = free_error(cell, covers, columns, seed, errors)
    return _pulled(error, cell, covers, columns, errors)


@inlined
def _pulled(error, cell, covers, columns, errors):
    """Return the error of one cell with the pull of surveyed levels added [m].

    Each level pulls by its covariance with the cell (`covariance`), written out so that
    nothing is divided for each level.
    """
    ties = int64(errors[1])
    if ties == 0:
        return error
    row = cell // columns
    column = cell - row * columns
    own = _HEADER + _PER_CLASS * (covers[cell] >> 4)
    first = _HEADER + _PER_CLASS * int64(errors[0])
    table = first + _PER_TIE * ties
    last = errors.size - 1 - table
    for part in range(2):
        if not errors[own + 1 + part] > 0.0:
            continue
        scale = last / (2.0 * errors[own + 3 + part])
        pull = 0.0
        for tie in range(first, table, _PER_TIE):
            along = _correlation(errors, table, abs(row - errors[tie]) * scale)
            if along > 0.0:
                other = _HEADER + _PER_CLASS * int64(errors[tie + 2])
                across = abs(column - errors[tie + 1]) * scale
                along *= _correlation(errors, table, across)
                pull += errors[tie + 3] * errors[other + 1 + part] * along
        error += errors[own + 1 + part] * pull
    for tie in range(first, table, _PER_TIE):
        if row == errors[tie] and column == errors[tie + 1]:
            other = _HEADER + _PER_CLASS * int64(errors[tie + 2])
            error += errors[tie + 3] * errors[own] * errors[other]
    return error


@kernel
def covariance(down, right, kind, other_kind, errors):
    """Return the covariance of the errors of two cells [m2]."""
    one = _HEADER + _PER_CLASS * kind
    other = _HEADER + _PER_CLASS * other_kind
    table = _HEADER + _PER_CLASS * int64(errors[0]) + _PER_TIE * int64(errors[1])
    last = errors.size - 1 - table
    total = 0.0
    if down == 0.0 and right == 0.0:
        total = errors[one] * errors[other]
    for part in range(2):
        deviation = errors[one + 1 + part] * errors[other + 1 + part]
        if deviation <= 0.0:
            continue
        scale = last / (2.0 * errors[one + 3 + part])
        total += (
            deviation
            * _correlation(errors, table, down * scale)
            * _correlation(errors, table, right * scale)
        )
    return total


@inlined
def _correlation(errors, table, place):
    """Return the correlation of a lattice field along one axis, interpolated.

    `place` counts entries of the table that begins at `table`.
    """
    lower = int64(place)
    if lower >= errors.size - 1 - table:
        return 0.0
    here = errors[table + lower]
    return here + (place - lower) * (errors[table + lower + 1] - here)


@kernel
def realised(cell, heights, covers, columns, seed, errors):
    """Return the height of a cell in one realisation [m].

    What stays hard takes the error of the cells beside it: a barrier the greatest, so
    that its crest keeps at least its height above each of them, water and openings the
    least, so that they stay as low.
    """
    height = heights[cell]
    role = (covers[cell] >> 2) & 3
    if errors.size == 0 or covers[cell] & 3 == _HOLE:
        return height
    chosen = _tied_error(cell, covers, columns, seed, errors)
    if role == 0:
        return float32(height + chosen)
    for step in range(8):
        other = cell + ROW_STEP[step] * columns + COLUMN_STEP[step]
        if other < 0 or other >= heights.size:
            continue
        if covers[other] & 3 == _HOLE or (covers[other] >> 2) & 3 != 0:
            continue
        error = _tied_error(other, covers, columns, seed, errors)
        if role == 1:
            chosen = error if error > chosen else chosen
        else:
            chosen = error if error < chosen else chosen
    return float32(height + chosen)


@kernel
def realise(heights, covers, columns, seed, errors, out):
    """Write the heights of all cells in one realisation, each as `realised` gives it.

    Whatever the cells of a column share is made once for all, and of a row once for it.
    """
    heights = borrowed(heights)
    covers = borrowed(covers)
    errors = borrowed(errors)
    if errors.size == 0:
        out[:] = heights
        return
    classes = int64(errors[0])
    keys = np.empty(2, np.uint64)
    keys[0] = _mixed(seed ^ uint64(_SHORT))
    keys[1] = _mixed(seed ^ uint64(_LONG))
    at = np.zeros((classes, 2, columns), np.int64)  # nodes from the first on
    left = np.zeros((classes, 2, columns))
    right = np.zeros((classes, 2, columns))
    nodes = np.zeros((classes, 2, columns + 2))  # as they weigh in one row
    for kind in range(classes):
        for part in range(2):
            spacing = errors[_HEADER + _PER_CLASS * kind + 3 + part]
            first = _shares(_lattice_column(0.0, spacing, keys[part]))[0]
            for column in range(columns):
                x = _lattice_column(float(column), spacing, keys[part])
                j, left[kind, part, column], right[kind, part, column] = _shares(x)
                at[kind, part, column] = j - first
    for row in range(heights.size // columns):
        for kind in range(classes):
            for part in range(2):
                spacing = errors[_HEADER + _PER_CLASS * kind + 3 + part]
                key = keys[part]
                i, above, below = _shares(_lattice_row(float(row), spacing, key))
                first = _shares(_lattice_column(0.0, spacing, key))[0]
                for place in range(at[kind, part, columns - 1] + 2):
                    j = first + place
                    nodes[kind, part, place] = above * _node(key, i, j) + below * _node(
                        key, i + 1, j
                    )
        for column in range(columns):
            cell = row * columns + column
            cover = covers[cell]
            if cover & 3 == _HOLE or (cover >> 2) & 3 != 0:
                out[cell] = realised(cell, heights, covers, columns, seed, errors)
                continue
            kind = cover >> 4
            own = _HEADER + _PER_CLASS * kind
            error = 0.0
            if errors[own] > 0.0:
                error += errors[own] * _own_normal(cell, seed)
            for part in range(2):
                if errors[own + 1 + part] > 0.0:
                    place = at[kind, part, column]
                    error += errors[own + 1 + part] * (
                        left[kind, part, column] * nodes[kind, part, place]
                        + right[kind, part, column] * nodes[kind, part, place + 1]
                    )
            if errors[1] > 0.0:
                error = _pulled(error, cell, covers, columns, errors)
            out[cell] = float32(heights[cell] + error)


@inlined
def _height(
    cell,
    heights,
    covers,
    columns,
    seed,
    errors,
    records,
    trace,
):
    """Return the realised height of a cell, evaluated on first touch."""
    if records[cell]["known_in"] != trace:
        records[cell]["height"] = realised(
            cell,
            heights,
            covers,
            columns,
            seed,
            errors,
        )
        records[cell]["known_in"] = trace
    return records[cell]["height"]


@inlined
def _rank(height, cell):
    """Return a number that sorts by height, then by cell."""
    bits = float32(height).view(np.uint32)
    return (_ordered_bits(bits) << uint64(32)) | uint64(cell)


@inlined
def _push(heap, size, key):
    """Add a key to a heap of four branches; returns its new size."""
    place = size
    while place > 0:
        parent = (place - 1) >> 2
        if heap[parent] <= key:
            break
        heap[place] = heap[parent]
        place = parent
    heap[place] = key
    return size + 1


@inlined
def _pop(heap, size):
    """Take the least key off a heap; returns it and the heap's new size."""
    least = heap[0]
    size -= 1
    last = heap[size]
    place = 0
    while True:
        first = 4 * place + 1
        if first >= size:
            break
        child = first
        for other in range(first + 1, min(first + 4, size)):
            if heap[other] < heap[child]:
                child = other
        if heap[child] >= last:
            break
        heap[place] = heap[child]
        place = child
    heap[place] = last
    return least, size


@kernel
def _look_about(cell, heights, covers, columns, seed, errors, records, trace, around):
    """Write the realised heights of a cell's eight neighbours; return its own.

    Once for each cell that is looked at: to pass the arrays for each neighbour would
    cost more than all the rest.
    """
    for step in range(8):
        other = cell + (ROW_STEP[step] * columns + COLUMN_STEP[step])
        if records[other]["known_in"] != trace:
            records[other]["height"] = realised(
                other, heights, covers, columns, seed, errors
            )
            records[other]["known_in"] = trace
        around[step] = records[other]["height"]
    if records[cell]["known_in"] != trace:
        records[cell]["height"] = realised(cell, heights, covers, columns, seed, errors)
        records[cell]["known_in"] = trace
    return records[cell]["height"]


@inlined
def _steepest(height, around):
    """Return the steepest step of a cell, as `find_steps` and `number_levels` do."""
    best = float32(0.0)
    chosen = 8
    for step in range(8):
        fall = height - around[step]
        if step & 1:
            fall = fall * _PER_DIAGONAL
        if fall > best:
            best = fall
            chosen = step
    if chosen == 8:
        for step in range(4, 8):
            if around[step] == height:
                return step
    return chosen


@kernel
def _onwards(cell, heights, covers, columns, seed, errors, records, trace, around):
    """Return by how much the cell's number changes with its steepest step."""
    height = _look_about(
        cell, heights, covers, columns, seed, errors, records, trace, around
    )
    step = _steepest(height, around)
    return ROW_STEP[step] * columns + COLUMN_STEP[step]


@kernel
def _prefers(
    cell,
    one,
    other,
    heights,
    covers,
    columns,
    seed,
    errors,
    records,
    trace,
):
    """Whether the step from a cell to `one` is preferred to that to `other`."""
    step_one = _step_between(one - cell, columns)
    step_other = _step_between(other - cell, columns)
    height = _height(
        cell,
        heights,
        covers,
        columns,
        seed,
        errors,
        records,
        trace,
    )
    fall_one = height - _height(
        one,
        heights,
        covers,
        columns,
        seed,
        errors,
        records,
        trace,
    )
    fall_other = height - _height(
        other,
        heights,
        covers,
        columns,
        seed,
        errors,
        records,
        trace,
    )
    if step_one & 1:
        fall_one = fall_one * _PER_DIAGONAL
    if step_other & 1:
        fall_other = fall_other * _PER_DIAGONAL
    if fall_one != fall_other:
        return fall_one > fall_other
    if fall_one == 0.0:
        return ((step_one + 4) & 7) < ((step_other + 4) & 7)
    return step_one < step_other


@kernel
def trace_lazily(
    source,
    volume,
    heights,
    covers,
    columns,
    seed,
    errors,
    trace,
    records,
    marks,
    way,
    budget,
    pools,
):
    """Trace liquid from a cell to its end, or until its volume is used up.

    Parameters stand for: `volume` in metre cells (volume by cell area; infinite:
    hollows overflow), `trace` a number not used before on these `records` and `marks`
    (so that they need no clearing), `budget` the most cells that may be touched.

    Writes the cells of the way, and for each pool that holds liquid at the end one of
    its cells and its level. Returns how it ended, the length of the way, the number of
    pools, the cells touched, and what is held in pools (metre cells).
    """
    heights = borrowed(heights)
    covers = borrowed(covers)
    errors = borrowed(errors)
    records = borrowed(records)
    marks = borrowed(marks)
    way = borrowed(way)
    # Arrays that are made here and can grow are owned by a list and used uncounted: a
    # counted one costs two atomic instructions each time round the loop.
    heap_owned = [np.empty(512, np.uint64)]
    heap = borrowed(heap_owned[0])
    heap_size = 0
    room_owned = [np.empty(8, np.float32)]
    around = borrowed(room_owned[0])
    tree_owned = [np.empty(64, _BASIN)]
    tree = borrowed(tree_owned[0])
    basins = 0
    stack_owned = [np.empty(64, _POOL)]
    stack = borrowed(stack_owned[0])  # pools that have spilled, the last one on top
    stacked = 0
    pit_of_pool = int64(-1)
    cells = 0  # of the pool that is being filled
    height_sum = 0.0
    held = 0.0
    touched = 0
    status = -1
    level = np.nan
    last_key = uint64(0)
    # the next basin to be entered
    from_basin = int64(-1)
    from_cell = int64(-1)
    to_cell = int64(source)
    enters = True
    flooded = 2 * trace + 1  # state of a cell under water; one less: in the heap
    while True:
        if enters:
            enters = False
            if basins == tree.size:
                tree_owned.append(_grown(tree, 2 * basins))
                tree = borrowed(tree_owned[-1])
            basin = basins
            basins += 1
            tree[basin]["parent"] = from_basin
            tree[basin]["leaves"] = from_cell
            tree[basin]["enters"] = to_cell
            cell = to_cell
            step = _DOWN
            while True:
                touched += 1
                if covers[cell] & 3 == _END:
                    step = _DOWN
                    break
                height = _look_about(
                    cell, heights, covers, columns, seed, errors, records, trace, around
                )
                step = _steepest(height, around)
                if step == 8:
                    break
                cell = cell + (ROW_STEP[step] * columns + COLUMN_STEP[step])
            if step == _DOWN:
                tree[basin]["pit"] = -1
                status = REACHED_END
                break
            tree[basin]["pit"] = cell
            if cells > 0:  # the pool that has just spilled
                if stacked == stack.size:
                    stack_owned.append(_grown(stack, 2 * stacked))
                    stack = borrowed(stack_owned[-1])
                top = float(records[int64(last_key & _LOW_HALF)]["height"])
                stack[stacked]["key"] = last_key
                stack[stacked]["cells"] = cells
                stack[stacked]["sum"] = height_sum
                stack[stacked]["held"] = cells * top - height_sum
                stack[stacked]["pit"] = pit_of_pool
                held += stack[stacked]["held"]
                stacked += 1
            cells = 0
            height_sum = 0.0
            pit_of_pool = cell
            records[cell]["basin"] = basin
            records[cell]["state"] = flooded - 1
            if heap_size + 9 > heap.size:
                heap_owned.append(_grown(heap, 2 * heap.size))
                heap = borrowed(heap_owned[-1])
            heap_size = _push(heap, heap_size, _rank(records[cell]["height"], cell))
        if heap_size == 0:
            status = SHUT_IN
            break
        key, heap_size = _pop(heap, heap_size)
        cell = int64(key & _LOW_HALF)
        while stacked > 0 and key >= stack[stacked - 1]["key"]:
            # The water has come up to a pool that had spilled: the two are one.
            top = float(records[int64(stack[stacked - 1]["key"] & _LOW_HALF)]["height"])
            if cells > 0 and cells * top - height_sum > volume - held:
                level = (volume - held + height_sum) / cells
                status = RAN_DRY
                break
            stacked -= 1
            cells += stack[stacked]["cells"]
            height_sum += stack[stacked]["sum"]
            held -= stack[stacked]["held"]
        if status == RAN_DRY:
            break
        height = records[cell]["height"]  # known: it stands in the heap
        if cells > 0 and cells * float(height) - height_sum > volume - held:
            level = (volume - held + height_sum) / cells
            status = RAN_DRY
            break
        last_key = key
        if heap_size + 10 > heap.size:
            heap_owned.append(_grown(heap, 2 * heap.size))
            heap = borrowed(heap_owned[-1])
        is_end = covers[cell] & 3 == _END
        fresh = records[cell]["state"] != flooded
        if fresh:
            touched += 1
            if touched > budget:
                status = OVER_BUDGET
                break
        # One look about: the cell's own steepest step, its steepest neighbour under
        # water, its steepest lower neighbour that is dry, and the higher ones.
        own_step = 8
        wet = int64(-1)
        dry = int64(-1)
        higher = 0
        if is_end:
            own_step = _DOWN
            for step in range(8):
                other = cell + (ROW_STEP[step] * columns + COLUMN_STEP[step])
                if other < 0 or other >= heights.size:
                    continue
                sideways = other % columns - cell % columns
                if sideways > 1 or sideways < -1:
                    continue
                if records[other]["state"] == flooded and (
                    wet < 0
                    or _prefers(
                        cell,
                        other,
                        wet,
                        heights,
                        covers,
                        columns,
                        seed,
                        errors,
                        records,
                        trace,
                    )
                ):
                    wet = other
        else:
            best = float32(-1.0)
            best_wet = float32(-1.0)
            best_dry = float32(-1.0)
            wet_step = 8
            dry_step = 8
            _look_about(
                cell, heights, covers, columns, seed, errors, records, trace, around
            )
            for turn in range(8):
                step = (turn + 4) & 7  # of equal height the lower number comes first
                if around[step] == np.inf:  # a hole
                    continue
                other = cell + (ROW_STEP[step] * columns + COLUMN_STEP[step])
                fall = height - around[step]
                if fall < 0 or (fall == 0 and other > cell):
                    if fresh and records[other]["state"] < flooded - 1:
                        higher |= 1 << step
                    continue
                if step & 1:
                    fall = fall * _PER_DIAGONAL
                if fall > best or (fall == best and fall > 0 and step < own_step):
                    best = fall
                    own_step = step
                if records[other]["state"] == flooded:
                    if fall > best_wet or (
                        fall == best_wet and fall > 0 and step < wet_step
                    ):
                        best_wet = fall
                        wet = other
                        wet_step = step
                elif fall > best_dry or (
                    fall == best_dry and fall > 0 and step < dry_step
                ):
                    best_dry = fall
                    dry = other
                    dry_step = step
        if fresh:
            if is_end or (
                own_step < 8
                and records[
                    cell + (ROW_STEP[own_step] * columns + COLUMN_STEP[own_step])
                ]["state"]
                != flooded
            ):
                # The cell belongs to another basin: that is entered over the cell.
                if not is_end:
                    heap_size = _push(heap, heap_size, key)
                from_basin = int64(records[wet]["basin"])
                from_cell = wet
                to_cell = cell
                enters = True
                continue
            if own_step < 8:
                records[cell]["basin"] = records[
                    cell + (ROW_STEP[own_step] * columns + COLUMN_STEP[own_step])
                ]["basin"]
            records[cell]["state"] = flooded
            cells += 1
            height_sum += float(height)
            for step in range(8):
                if (higher >> step) & 1:
                    other = cell + (ROW_STEP[step] * columns + COLUMN_STEP[step])
                    records[other]["state"] = flooded - 1
                    heap_size = _push(
                        heap, heap_size, _rank(records[other]["height"], other)
                    )
        if dry >= 0:  # it spills; the cell stays in the heap while it can spill again
            heap_size = _push(heap, heap_size, key)
            from_basin = int64(records[cell]["basin"])
            from_cell = cell
            to_cell = dry
            enters = True
    if status == REACHED_END and cells > 0:
        top = float(records[int64(last_key & _LOW_HALF)]["height"])
        held += cells * top - height_sum
        level = top
    if status == RAN_DRY:
        held = volume
    count = _way_down_the_tree(
        status,
        basins,
        tree,
        heights,
        covers,
        columns,
        seed,
        errors,
        trace,
        records,
        marks,
        way,
        around,
    )
    found = 0
    for entry in range(stacked):
        if found < pools.shape[0]:
            pools[found, 0] = stack[entry]["pit"]
            pools[found, 1] = records[int64(stack[entry]["key"] & _LOW_HALF)]["height"]
        found += 1
    if cells > 0:
        if found < pools.shape[0]:
            pools[found, 0] = pit_of_pool
            pools[found, 1] = level
        found += 1
    heap_owned.clear()  # held to the last
    room_owned.clear()
    tree_owned.clear()
    stack_owned.clear()
    return status, count, found, touched, held


@kernel
def _way_down_the_tree(
    status,
    basins,
    tree,
    heights,
    covers,
    columns,
    seed,
    errors,
    trace,
    records,
    marks,
    way,
    around,
):
    """Write the cells of the way through the tree of basins; return how many."""
    if status == SHUT_IN:
        basins = 1  # all that is sure is the way down to the first pit
    sequence = np.empty(basins, np.int64)
    length = 0
    basin = basins - 1
    while basin >= 0:
        sequence[length] = basin
        length += 1
        basin = tree[basin]["parent"]
    climb = np.empty(256, np.int64)
    count = 0
    for entry in range(length - 1, -1, -1):
        basin = sequence[entry]
        climbed = 0
        if entry > 0:  # from the pass down to the pit; the way climbs it
            cell = tree[sequence[entry - 1]]["leaves"]
            while True:
                if climbed == climb.size:
                    climb = _grown(climb, 2 * climbed)
                climb[climbed] = cell
                marks[cell] = trace
                climbed += 1
                if cell == tree[basin]["pit"]:
                    break
                cell = cell + _onwards(
                    cell, heights, covers, columns, seed, errors, records, trace, around
                )
        cell = tree[basin]["enters"]
        while True:
            if entry > 0 and marks[cell] == trace:
                place = 0
                while climb[place] != cell:
                    place += 1
                while place >= 0:
                    if count < way.size:
                        way[count] = climb[place]
                    count += 1
                    place -= 1
                break
            if count < way.size:
                way[count] = cell
            count += 1
            if covers[cell] & 3 == _END or cell == tree[basin]["pit"]:
                break
            cell = cell + _onwards(
                cell, heights, covers, columns, seed, errors, records, trace, around
            )
    return count


@kernel
def tie(covers, columns, seed, errors, levels, inverse):
    """Tie the error of one realisation to surveyed levels; in place.

    `levels` has a row for each: observed error and its standard error [m]; `inverse` is
    the inverse of their covariances. Each level is observed anew, with its own error.
    """
    ties = len(levels)
    first = _HEADER + _PER_CLASS * int64(errors[0])
    missed = np.empty(ties)
    for one in range(ties):
        place = first + _PER_TIE * one
        cell = int64(errors[place]) * columns + int64(errors[place + 1])
        observed = levels[one, 0] + levels[one, 1] * _normal(
            _mixed(seed ^ uint64(0x27D4EB2F165667C5) ^ uint64(one))
        )
        missed[one] = observed - free_error(cell, covers, columns, seed, errors)
    for one in range(ties):
        pull = 0.0
        for other in range(ties):
            pull += inverse[one, other] * missed[other]
        errors[first + _PER_TIE * one + 3] = pull


@kernel
def run_realisations(
    starts,
    active,
    seeds,
    heights,
    covers,
    columns,
    errors,
    levels,
    inverse,
    ends_at,
    onward_cells,
    onward_ends,
    other_ends,
    trace,
    records,
    marks,
    way,
    budget,
    pools,
    visits,
    square_side,
    square_visits,
    square_marks,
    chain,
    chain_begins,
    along,
    cell_marks,
    passed,
    reached,
    lengths,
):
    """Trace the active sources in each realisation, through drains too.

    `ends_at` gives each end cell its number; numbers of openings come first, and
    `onward_cells` (source, opening) leads from each to the cell where its drains come
    out, or -1 where they end in `onward_ends`. `other_ends` are the numbers of: shut
    in, over budget, drains in a circle. Adds to `visits` (source, cell), to
    `square_visits` (source, square of cells) and to `along` (`count_along`), to each at
    most once for each realisation and not at all for one that goes over budget, and
    writes the end and length [cells] of each source in each realisation.

    A source that goes over the budget is left to the routed grid. That grid serves all
    sources, so those after it are left to it too; and a source that went over in most
    of the first realisations is no longer tried. Returns the number of the last trace.
    """
    tried = np.zeros(active.size, np.int64)
    overrun = np.zeros(active.size, np.int64)
    openings = onward_cells.shape[1]
    for number in range(seeds.size):
        seed = seeds[number]
        if len(levels) > 0:
            tie(covers, columns, seed, errors, levels, inverse)
        routed = False
        for entry in range(active.size):
            if tried[entry] >= _TRIALS and 2 * overrun[entry] > tried[entry]:
                routed = True
        for entry in range(active.size):
            source = active[entry]
            if routed:
                reached[number, entry] = other_ends[1]
                lengths[number, entry] = 0.0
                continue
            tried[entry] += 1
            cell = starts[source]
            length = 0.0
            end = other_ends[2]
            mine = trace + 1  # marks what this source passes in this realisation
            found = 0
            for _ in range(openings + 2):
                trace += 1
                status, count, _, _, _ = trace_lazily(
                    cell,
                    np.inf,
                    heights,
                    covers,
                    columns,
                    seed,
                    errors,
                    trace,
                    records,
                    marks,
                    way,
                    budget,
                    pools,
                )
                if status == OVER_BUDGET or count > way.size:
                    end = other_ends[1]
                    overrun[entry] += 1
                    routed = True
                    break
                for place in range(count):
                    if cell_marks[way[place]] != mine:
                        cell_marks[way[place]] = mine
                        passed[found] = way[place]
                        found += 1
                length += _chords(way, count, columns)
                if status == SHUT_IN:
                    end = other_ends[0]
                    break
                last = ends_at[way[count - 1]]
                if last >= openings:
                    end = last
                    break
                if onward_cells[source, last] < 0:
                    end = onward_ends[source, last]
                    break
                cell = onward_cells[source, last]
            if end == other_ends[1]:
                found = 0
            for place in range(found):
                visits[source, passed[place]] += 1
                square = square_of(passed[place], columns, square_side)
                if square_marks[square] != mine:
                    square_marks[square] = mine
                    square_visits[source, square] += 1
            if found > 0:
                count_along(
                    chain,
                    chain_begins[source],
                    chain_begins[source + 1],
                    square_marks,
                    mine,
                    (columns + square_side - 1) // square_side,
                    along,
                )
            reached[number, entry] = end
            lengths[number, entry] = length
    return trace


@kernel
def square_of(cell, columns, side):
    """Return the number of the square of cells that holds a cell."""
    across = (columns + side - 1) // side
    return cell // columns // side * across + cell % columns // side


@kernel
def count_along(chain, first, last, marks, mark, across, along):
    """Add one to the places of a chain of squares that bear a mark, or lie beside it.

    `across` is the number of squares in a row.
    """
    for place in range(first, last):
        row = chain[place] // across
        column = chain[place] % across
        found = False
        for beside in range(max(0, row - 1), row + 2):
            for other in range(max(0, column - 1), min(across, column + 2)):
                square = beside * across + other
                if square < marks.size and marks[square] == mark:
                    found = True
        if found:
            along[place] += 1


@kernel
def _chords(way, count, columns):
    """Return the length of a way by chords of a few steps [cells].

    Steps in eight directions are up to 8 % longer than the way that they follow.
    """
    total = 0.0
    before = way[0]
    place = 0
    while place < count - 1:
        place = min(place + 5, count - 1)
        here = way[place]
        down = here // columns - before // columns
        right = here % columns - before % columns
        total += np.sqrt(float(down * down + right * right))
        before = here
    return total
