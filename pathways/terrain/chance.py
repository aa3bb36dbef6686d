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

from pathways.terrain.drainage import PIT
from pathways.terrain.pathway import Arrival, End, Reach
from pathways.terrain.shares import share_of
from pathways.terrain.surface import open_cell_near
from pathways.terrain.versions import BLOCK, Block, Versions

#: Half-width of the 95 % interval at which a share is known well enough.
WANTED_HALF_WIDTH: Final = 0.03
#: Never more versions than this, however the share lies.
MOST_VERSIONS: Final = 2000
#: Over how many steps a loss of ways is measured, and the share that is worth telling.
_PARTING_STEPS: Final = 8
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
    visits = np.zeros((begins.size, ground.roles.size), np.int32)
    block_visits = np.zeros((begins.size, versions.blocks), np.int32)
    blocks: list[Block] = []
    running = versions.runs(
        begins,
        [volumes_l[number] for number in usable],
        visits,
        block_visits,
        threads,
    )
    block = next(running)
    for _ in range(max(1, most // BLOCK) - 1):
        blocks.append(block)
        unknown = [
            place
            for place in block.active
            if not _known(versions, _of_place(blocks, int(place)))
        ]
        if not unknown:
            break
        block = running.send(np.array(unknown, np.int64))
    else:
        blocks.append(block)
    running.close()
    found: list[Arrival | None] = [None] * len(starts)
    for place, number in enumerate(usable):
        found[number] = _arrival(
            versions,
            _of_place(blocks, place),
            visits[place],
            block_visits[place],
            int(begins[place]),
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
    visits: NDArray[np.int32],
    block_visits: NDArray[np.int32],
    start: int,
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
    visited = np.flatnonzero(visits)
    reached = np.flatnonzero(block_visits)
    parts_at, parts_near = _parting(versions, visits, start, runs)
    return Arrival(
        scenario=versions.scenario.name,
        says=versions.scenario.says,
        reaches_water=share_of(int(water.sum()), runs),
        may_reach_water=share_of(int(versions.may_be_water(block.reached).sum()), runs),
        ends=tuple(sorted(ends, key=lambda one: (-one.share.hits, one.kind, one.id))),
        length_m=quantiles,
        parts_at=parts_at,
        parts_near=parts_near,
        visited=(visited, (visits[visited] / runs).astype(np.float32)),
        reach=Reach(
            versions.block_side,
            reached,
            (block_visits[reached] / runs).astype(np.float32),
        ),
    )


def _parting(
    versions: Versions, visits: NDArray[np.int32], start: int, runs: int
) -> tuple[tuple[float, float] | None, str]:
    """Return where ways part most, and what is drawn beside that place.

    The most used way is followed from the start; ways part where it loses the largest
    share of the versions over a few steps.
    """
    chain = _most_used(versions, visits, start)
    shares = visits[chain] / runs
    losses = shares[:-_PARTING_STEPS] - shares[_PARTING_STEPS:]
    if not losses.size or losses.max() < _WORTH_TELLING:
        return None, ""
    place = versions.terrain.flow.ground.place(int(chain[int(losses.argmax())]))
    return place, _beside(versions, Point(place))


def _most_used(
    versions: Versions, visits: NDArray[np.int32], start: int
) -> NDArray[np.int64]:
    """Follow the most visited neighbour from a cell."""
    chain = [start]
    seen = {start}
    drainage = versions.terrain.flow.drainage
    steps = drainage.steps.ravel()
    while steps[chain[-1]] <= PIT:
        beside = [int(chain[-1] + one) for one in drainage.offsets]
        onward = [one for one in beside if one not in seen and visits[one] > 0]
        if not onward:
            break
        chain.append(max(onward, key=lambda one: (visits[one], -one)))
        seen.update(beside)
    return np.array(chain, np.int64)


def _beside(versions: Versions, place: Point) -> str:
    """Return the id of the barrier, gate or inlet beside a place, or nothing."""
    features = versions.terrain.features
    near_m = 3 * versions.terrain.grid.cell_size_m
    things = [
        (one.geometry.distance(place), one.id)
        for one in (
            *features.barriers,
            *features.inlets,
            *(one for one in features.access if one.kind == "gate"),
        )
    ]
    return min((one for one in things if one[0] <= near_m), default=(0.0, ""))[1]
