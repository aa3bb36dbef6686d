"""How sure a way is: the same under many versions of the ground.

Heights are uncertain; kerbs, walls, buildings, water and drains are taken as drawn. In
each version the error is drawn anew (`pathways.terrain.versions`), every source is
traced from its start to its end, drains included, and what is reached is counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import Point

from pathways.terrain.pathway import Arrival, End, Reach
from pathways.terrain.runs import BLOCK, Block, Counts, Running
from pathways.terrain.shares import share_of
from pathways.terrain.surface import open_cell_near
from pathways.terrain.versions import Versions

#: Half-width of the 95 % interval at which a share is known well enough.
WANTED_HALF_WIDTH: Final = 0.03
#: Never more versions than this, however the share lies.
MOST_VERSIONS: Final = 2000
#: Over what length a loss of ways is measured [m], and the share that is worth telling.
_PARTING_M: Final = 10.0
_WORTH_TELLING: Final = 0.1


def arrivals(
    versions: Versions,
    starts: Sequence[Point],
    volumes_l: Sequence[float | None],
    *,
    threads: int = 1,
    most: int = MOST_VERSIONS,
) -> tuple[Arrival | None, ...]:
    """Return what is reached from each place under one scenario.

    Versions are run in blocks until the share that reaches water is known to within
    `WANTED_HALF_WIDTH` for every place, or `most` were run.

    Parameters
    ----------
    versions : Versions
        The farm and the error of its heights.
    starts : sequence of shapely.Point
        Where liquid begins its way over the ground.
    volumes_l : sequence of float or None
        Volume at each [l]; a tank holds it only when it is known.
    threads : int
        How many versions are run at once; the result does not depend on it.
    most : int
        The most versions that are run.

    Returns
    -------
    tuple of Arrival or None
        In the order of the starts; None for a place that is not on the ground.
    """
    terrain = versions.terrain
    ground = terrain.flow.ground
    cells = [open_cell_near(ground, one, terrain.barriers) for one in starts]
    usable = [number for number, cell in enumerate(cells) if cell is not None]
    if not usable:
        return tuple(None for _ in starts)
    begins = np.array([cells[number] for number in usable], np.int64)
    volumes = [volumes_l[number] for number in usable]
    running = Running(versions, begins, volumes, threads)
    blocks: list[Block] = []
    steps = running.blocks()
    block = next(steps)
    for _ in range(max(1, most // BLOCK) - 1):
        blocks.append(block)
        unknown = [
            place
            for place in block.active
            if not _known(versions, _of_place(blocks, int(place)))
        ]
        if not unknown:
            break
        block = steps.send(np.array(unknown, np.int64))
    else:
        blocks.append(block)
    steps.close()
    counts = running.counts()
    found: list[Arrival | None] = [None] * len(starts)
    for place, number in enumerate(usable):
        mine = running.chains.of(place)
        found[number] = _arrival(
            versions,
            _of_place(blocks, place),
            Counts(counts.cells[place], counts.squares[place], counts.along[mine]),
            running.chains.cells[mine],
        )
    return tuple(found)


def _of_place(blocks: list[Block], place: int) -> Block:
    """Return what one place reached in all the versions in which it was run."""
    mine = [
        (block, int(np.flatnonzero(block.active == place)[0]))
        for block in blocks
        if place in block.active
    ]
    return Block(
        np.array([place]),
        np.concatenate([block.reached[:, entry] for block, entry in mine]),
        np.concatenate([block.lengths[:, entry] for block, entry in mine]),
    )


def _known(versions: Versions, block: Block) -> bool:
    """Whether the shares that reach water and that may are known well enough."""
    for water in (
        versions.is_water(block.reached),
        versions.may_be_water(block.reached),
    ):
        share = share_of(int(water.sum()), len(water))
        if (share.high - share.low) / 2 > WANTED_HALF_WIDTH:
            return False
    return True


def _arrival(
    versions: Versions,
    block: Block,
    counts: Counts,
    chain: NDArray[np.int64],
) -> Arrival:
    """Return what was counted for one place."""
    runs = len(block.reached)
    water = versions.is_water(block.reached)
    numbers, hits = np.unique(block.reached, return_counts=True)
    ends = [
        End(
            id=versions.ends[one][0],
            kind=versions.ends[one][1],
            share=share_of(int(times), runs),
        )
        for one, times in zip(numbers, hits, strict=True)
    ]
    lengths_m = block.lengths[water] * versions.terrain.grid.cell_size_m
    quantiles = None
    if lengths_m.size:
        low, middle, high = np.quantile(lengths_m, [0.05, 0.5, 0.95])
        quantiles = (float(low), float(middle), float(high))
    visited = np.flatnonzero(counts.cells)
    reached = np.flatnonzero(counts.squares)
    parts_at, parts_near = _parting(versions, chain, counts.along / runs)
    return Arrival(
        scenario=versions.scenario.name,
        says=versions.scenario.says,
        reaches_water=share_of(int(water.sum()), runs),
        may_reach_water=share_of(int(versions.may_be_water(block.reached).sum()), runs),
        ends=tuple(sorted(ends, key=lambda one: (-one.share.hits, one.kind, one.id))),
        length_m=quantiles,
        parts_at=parts_at,
        parts_near=parts_near,
        visited=(visited, (counts.cells[visited] / runs).astype(np.float32)),
        reach=Reach(
            versions.square_side,
            reached,
            (counts.squares[reached] / runs).astype(np.float32),
        ),
    )


def _parting(
    versions: Versions, chain: NDArray[np.int64], shares: NDArray[np.float64]
) -> tuple[tuple[float, float] | None, str]:
    """Return where ways part most, and what is drawn beside that place.

    The way over the ground as measured is followed from the start; ways part where the
    largest share of the versions leaves it for good within a short stretch.
    """
    # A version that comes back further on has not left.
    staying = np.maximum.accumulate(shares[::-1])[::-1]
    side_m = versions.square_side * versions.terrain.grid.cell_size_m
    stretch = min(max(1, round(_PARTING_M / side_m)), len(staying) - 1)
    losses = staying[: len(staying) - stretch] - staying[stretch:]
    if losses.max() < _WORTH_TELLING:
        return None, ""
    middle = int(losses.argmax()) + stretch // 2
    place = versions.terrain.flow.ground.place(int(chain[middle]))
    return place, _beside(versions, Point(place))


def _beside(versions: Versions, place: Point) -> str:
    """Return the id of the barrier, gate or inlet beside a place, or nothing."""
    features = versions.terrain.features
    near_m = max(_PARTING_M / 2, 3 * versions.terrain.grid.cell_size_m)
    things = [
        (one.geometry.distance(place), one.id)
        for one in (
            *features.barriers,
            *features.inlets,
            *(one for one in features.access if one.kind == "gate"),
        )
    ]
    return min((one for one in things if one[0] <= near_m), default=(0.0, ""))[1]
