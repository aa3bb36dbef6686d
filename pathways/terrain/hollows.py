"""Hollows on a way: what must fill before liquid goes on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pathways.features import Features
from pathways.terrain import _kernels
from pathways.terrain.drainage import Drainage
from pathways.terrain.pathway import Hollow
from pathways.terrain.surface import NOBODY, Ground
from pathways.units import LITRES_PER_CUBIC_METRE

#: Shallower hollows are not told: heights are given to about this much [m].
_SHALLOWEST_M = 0.01

#: Hollows that hold less are told together [l] (judgement: some buckets full).
NOTABLE_L = 50.0


@dataclass(frozen=True, kw_only=True)
class Pool:
    """A hollow of the ground, whoever runs into it."""

    depth_m: float
    capacity_l: float


def pools_of(
    ground: Ground, drainage: Drainage
) -> tuple[NDArray[np.uint16], tuple[Pool, ...]]:
    """Return the hollows of a whole ground that hold enough to be told one by one.

    Parameters
    ----------
    ground : Ground
        Conditioned ground.
    drainage : Drainage
        Its filled surface.

    Returns
    -------
    at : ndarray of uint16, shape (rows, columns)
        0, or 1 and the place of the cell's hollow in the second. Of more than 65,535
        the largest are kept.
    pools : tuple of Pool
        The largest first.
    """
    heights, filled = drainage.heights_m.ravel(), drainage.filled_m.ravel()
    litres_per_metre = ground.grid.cell_size_m**2 * LITRES_PER_CUBIC_METRE
    seen = np.zeros(heights.size, np.uint8)
    waiting = np.empty(heights.size, np.int32)
    kinds = drainage.kinds.ravel()
    under = np.isfinite(filled) & (filled > heights)
    found = []
    for seed in np.flatnonzero(under):
        if seen[seed]:
            continue
        count, depths_m, deepest_m = _kernels.pool_about(
            heights, filled, seed, drainage.offsets, kinds, waiting, seen
        )
        capacity_l = float(depths_m) * litres_per_metre
        if capacity_l >= NOTABLE_L and deepest_m >= _SHALLOWEST_M:
            pool = Pool(depth_m=float(deepest_m), capacity_l=capacity_l)
            found.append((-capacity_l, int(seed), pool, waiting[:count].copy()))
    found.sort(key=lambda one: one[:2])
    at = np.zeros(heights.size, np.uint16)
    del found[np.iinfo(at.dtype).max :]
    for place, (_, _, _, cells) in enumerate(found, start=1):
        at[cells] = place
    return at.reshape(drainage.heights_m.shape), tuple(one[2] for one in found)


def hollows_along(
    ground: Ground, drainage: Drainage, features: Features, cells: NDArray[np.int64]
) -> tuple[Hollow, ...]:
    """Return the hollows that a way fills, in its order.

    Parameters
    ----------
    ground : Ground
        Conditioned ground.
    drainage : Drainage
        Its filled surface.
    features : Features
        Barriers, which may hold a hollow.
    cells : ndarray of int64
        Cell numbers along the way.

    Returns
    -------
    tuple of Hollow
        Depth and capacity are to the level at which the hollow spills.
    """
    heights, filled = drainage.heights_m.ravel(), drainage.filled_m.ravel()
    under = (filled[cells] > heights[cells]) & np.isfinite(filled[cells])
    begins = np.flatnonzero(under & ~np.concatenate([[False], under[:-1]]))
    seen = np.zeros(heights.size, np.uint8)
    waiting = np.empty(heights.size, np.int32)
    kinds = drainage.kinds.ravel()
    found = []
    for first in begins:
        seed = int(cells[first])
        if seen[seed]:
            continue
        count, depths_m, deepest_m = _kernels.pool_about(
            heights, filled, seed, drainage.offsets, kinds, waiting, seen
        )
        if deepest_m < _SHALLOWEST_M:
            continue
        easting_m, northing_m = ground.place(seed)
        area_m2 = count * ground.grid.cell_size_m**2
        found.append(
            Hollow(
                easting_m=easting_m,
                northing_m=northing_m,
                depth_m=float(deepest_m),
                capacity_l=float(depths_m)
                * ground.grid.cell_size_m**2
                * LITRES_PER_CUBIC_METRE,
                level_m=float(filled[seed]),
                area_m2=area_m2,
                held_by=_holder(ground, features, filled, cells[first:], under[first:]),
            )
        )
    return tuple(found)


def _holder(
    ground: Ground,
    features: Features,
    filled: NDArray[np.float32],
    cells: NDArray[np.int64],
    under: NDArray[np.bool_],
) -> str:
    """Return the id of the barrier over which a hollow spills, or nothing."""
    out = np.flatnonzero(~under)
    if not out.size or filled[cells[out[0]]] < filled[cells[0]]:
        return ""
    barrier = ground.barrier_at.ravel()[cells[out[0]]]
    return features.barriers[barrier].id if barrier != NOBODY else ""
