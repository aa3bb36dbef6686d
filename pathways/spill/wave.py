"""What stays of a spill on its way: the kinematic wave with Green-Ampt's uptake.

The same course as in `pathways.spill.losses`, followed through time: more soaks in
while liquid lies on the ground, and a front loses speed as it thins.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from pathways.spill import _kernels
from pathways.spill.course import Course, Store, Stretch
from pathways.spill.ground_states import uptake_of
from pathways.spill.losses import Conditions, free_capacity_m3, kerb_spread_m
from pathways.spill.times import time_in_pipes_s
from pathways.units import MILLIMETRES_PER_METRE

#: Cells of the scheme: about this many on a way, none longer or shorter than this [m].
_CELLS: Final = 300
_LONGEST_CELL_M: Final = 2.0
_SHORTEST_CELL_M: Final = 0.25
#: A release is followed until this share of it still moves, or for this long after it
#: has run out [s]; one that runs out for longer than this is not followed at all.
_STILL: Final = 1e-3
LONGEST_S: Final = 6 * 3600.0


@dataclass(frozen=True, kw_only=True)
class Wave:
    """Where the volume of a release is when it has come to rest [m³].

    `stores_m3` is in hollows and tanks, and `moving_m3` is what still moves when it is
    no longer followed; the five add up to the volume. `first_s` is when a thousandth of
    it had arrived, pipes counted, None where that never happens, and `reach_m` how far
    over the ground any of it came.
    """

    film_m3: float
    soaked_m3: float
    stores_m3: float
    moving_m3: float
    arrives_m3: float
    first_s: float | None
    reach_m: float


def wave_along(
    course: Course,
    given: Conditions,
    volume_m3: float,
    rate_m3_per_s: float,
    *,
    cells: int = _CELLS,
) -> Wave:
    """Follow a release down a course by the kinematic wave.

    Parameters
    ----------
    course : Course
        The way; pipes pass on what they get at once, and inlets take all of it.
    given : Conditions
        State of the ground; of its draws the first is taken.
    volume_m3 : float
        What is let go [m³].
    rate_m3_per_s : float
        How fast [m³/s].
    cells : int
        About how many cells the scheme has.

    Returns
    -------
    Wave
        By h_t + (sqrt(S) / n h^(5/3))_x = -f with the film of each cover filled first
        and f after Green and Ampt (Chow, Maidment & Mays 1988, equation 4.3.7),
        implicit in time; explicit upwind differences, which conserve volume.
    """
    chain = _Chain(course, given, rate_m3_per_s, cells)
    pipes_s = time_in_pipes_s(course, given.assumed, fall_error_m=given.fall_error_m)
    if not chain.store_m3.size:  # no open ground: it is where it ends
        held_m3 = min(volume_m3, chain.behind_m3)
        arrives_m3 = volume_m3 - held_m3
        first_s = pipes_s if arrives_m3 > 0 else None
        return Wave(
            film_m3=0.0,
            soaked_m3=0.0,
            stores_m3=held_m3,
            moving_m3=0.0,
            arrives_m3=arrives_m3,
            first_s=first_s,
            reach_m=0.0,
        )
    duration_s = volume_m3 / rate_m3_per_s
    film, soaked, arrived_m3, moving_m3, first_s, reach_m = _kernels.wave(
        chain.table,
        volume_m3,
        duration_s,
        duration_s + LONGEST_S,
        _STILL,
    )
    behind_m3 = min(arrived_m3, chain.behind_m3)
    past = arrived_m3 > behind_m3 and np.isfinite(first_s)
    return Wave(
        film_m3=float(film.sum()),
        soaked_m3=float(soaked.sum()),
        stores_m3=float(chain.before_m3 - chain.store_m3.sum() + behind_m3),
        moving_m3=float(moving_m3),
        arrives_m3=float(arrived_m3 - behind_m3),
        first_s=float(first_s) + pipes_s if past else None,
        reach_m=float(reach_m),
    )


class _Chain:
    """A course as cells, one after another."""

    def __init__(
        self, course: Course, given: Conditions, rate_m3_per_s: float, cells: int
    ) -> None:
        size_m = float(
            np.clip(course.over_ground_m / cells, _SHORTEST_CELL_M, _LONGEST_CELL_M)
        )
        rows: list[tuple[float, ...]] = []
        waiting_m3 = 0.0
        for part in course.parts:
            if isinstance(part, Store):
                waiting_m3 += free_capacity_m3(part, given.state)
            if not isinstance(part, Stretch):
                continue
            count = max(1, round(part.length_m / size_m))
            values = self._values(part, given, rate_m3_per_s)
            for _ in range(count):
                rows.append((part.length_m / count, *values, waiting_m3))
                waiting_m3 = 0.0
        self.table = np.ascontiguousarray(np.array(rows).reshape(-1, 7).T)
        self.store_m3 = self.table[-1]
        self.before_m3 = float(self.store_m3.sum())
        self.behind_m3 = waiting_m3  # in stores behind the last stretch

    @staticmethod
    def _values(
        part: Stretch, given: Conditions, rate_m3_per_s: float
    ) -> tuple[float, ...]:
        """Return width, speed factor, film, conductivity, suction by deficit."""
        width_m = float(given.draws.widths_m[part.material.width][0])
        if part.kerb is not None:
            spread_m = kerb_spread_m(part, rate_m3_per_s, given.assumed)
            width_m = min(width_m, spread_m)
        film_mm = given.draws.film_mm(part.material.retention_mm)[0]
        uptake = uptake_of(part.material, given.state, given.soil, given.assumed)
        conductivity = (
            uptake.conductivity_mm_per_h * given.draws.conductivity_factors[0]
        )
        return (
            width_m,
            np.sqrt(part.slope) / part.material.manning_n.value,
            film_mm * given.state.film_share / MILLIMETRES_PER_METRE,
            conductivity / MILLIMETRES_PER_METRE / 3600.0,
            uptake.suction_deficit_mm / MILLIMETRES_PER_METRE,
        )
