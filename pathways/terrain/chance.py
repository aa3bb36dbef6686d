"""How sure a way is: the same under many versions of the ground.

Heights are uncertain; kerbs, walls, buildings, water and drains are taken as drawn. In
each version the error is drawn anew (`pathways.terrain.versions`), every source is
traced from its start to its end, drains included, and what is reached is counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import Point

from pathways.terrain.drainage import PIT
from pathways.terrain.shares import Share, share_of
from pathways.terrain.surface import open_cell_near
from pathways.terrain.versions import BLOCK, Block, Versions

#: Half-width of the 95 % interval at which a share is known well enough.
WANTED_HALF_WIDTH: Final = 0.03
#: Never more versions than this, however the share lies.
MOST_VERSIONS: Final = 2000
#: A share of versions above this, or below its complement, is a decision.
_DECIDED: Final = 0.8
#: Over how many steps a loss of ways is measured, and the share that is worth telling.
_PARTING_STEPS: Final = 8
_WORTH_TELLING: Final = 0.1


@dataclass(frozen=True, kw_only=True)
class End:
    """Something that a source's liquid can end in, and how often it does."""

    id: str
    kind: str
    share: Share


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """What a source's liquid reaches under one scenario of the error.

    `reaches_water` counts every piece of water; `ends` tells each apart, the most
    frequent first. `length_m` has the 5, 50 and 95 % quantiles of the length of ways to
    water. `parts_at` is where the ways part most, None where they keep together.
    `visited` holds, for cells that any way passes, the number and the share of the
    versions.
    """

    scenario: str
    says: str
    reaches_water: Share
    ends: tuple[End, ...]
    length_m: tuple[float, float, float] | None
    parts_at: tuple[float, float] | None
    parts_near: str
    visited: tuple[NDArray[np.int64], NDArray[np.float32]]

    @property
    def decided(self) -> bool:
        """Whether the ground decides: one end takes most of the versions."""
        water = self.reaches_water
        sure = water.low > _DECIDED or water.high < 1 - _DECIDED
        return sure and self.ends[0].share.probability > _DECIDED


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
    blocks: list[Block] = []
    running = versions.blocks(
        begins, [volumes_l[number] for number in usable], visits, threads
    )
    for block in islice(running, max(1, most // BLOCK)):
        blocks.append(block)
        if _known(versions, blocks):
            break
    running.close()
    found: list[Arrival | None] = [None] * len(starts)
    for place, number in enumerate(usable):
        found[number] = _arrival(
            versions,
            Block(
                np.concatenate([one.reached[:, place] for one in blocks]),
                np.concatenate([one.lengths[:, place] for one in blocks]),
            ),
            visits[place],
            int(begins[place]),
        )
    return tuple(found)


def _known(versions: Versions, blocks: list[Block]) -> bool:
    """Whether every share that reaches water is known well enough."""
    water = versions.is_water(np.concatenate([one.reached for one in blocks]))
    shares = [share_of(int(one.sum()), len(one)) for one in water.T]
    return all((one.high - one.low) / 2 <= WANTED_HALF_WIDTH for one in shares)


def _arrival(
    versions: Versions, block: Block, visits: NDArray[np.int32], start: int
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
    parts_at, parts_near = _parting(versions, visits, start, runs)
    return Arrival(
        scenario=versions.scenario.name,
        says=versions.scenario.says,
        reaches_water=share_of(int(water.sum()), runs),
        ends=tuple(sorted(ends, key=lambda one: (-one.share.hits, one.kind, one.id))),
        length_m=quantiles,
        parts_at=parts_at,
        parts_near=parts_near,
        visited=(visited, (visits[visited] / runs).astype(np.float32)),
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
