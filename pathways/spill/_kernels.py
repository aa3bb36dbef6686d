"""The kinematic wave, one pass at a time.

Kernels take arrays and numbers and give arrays and numbers; they trust what they get.
"""

from __future__ import annotations

import numpy as np

from pathways.terrain._jit import kernel

#: Share of the Courant number that is used.
_COURANT = 0.9


@kernel
def wave(chain, volume_m3, duration_s, longest_s, still_share):
    """Run a release down a chain of cells by the explicit upwind scheme.

    The rows of ``chain`` give of each cell its length and width [m], sqrt(S) / n, the
    film that stays [m], conductivity [m/s] and suction by deficit [m] of its ground,
    and what a store at its upper end takes before anything enters [m³]; that row is
    used up. Volume is conserved: what was let go is the sum of film, soaked, stored,
    moving and arrived.

    Returns film and soaked volume by cell, arrived and moving volume [m³], when a
    thousandth of the release had arrived [s, infinite if never] and how far any came
    [m].
    """
    length_m, width_m, speed_factor, film_m = chain[0], chain[1], chain[2], chain[3]
    conductivity_m_per_s, suction_deficit_m, store_m3 = chain[4], chain[5], chain[6]
    count = length_m.size
    depth = np.zeros(count)
    soaked = np.zeros(count)
    inflow = np.zeros(count + 1)
    rate = volume_m3 / duration_s
    let_go = 0.0
    arrived = 0.0
    first_s = np.inf
    now_s = 0.0
    reached = 0
    area = length_m * width_m
    while now_s < longest_s:
        step_s = longest_s - now_s
        moving = 0.0
        for cell in range(reached):
            free = depth[cell] - film_m[cell]
            inflow[cell + 1] = 0.0
            if free > 0.0:
                pace = speed_factor[cell] * free ** (2.0 / 3.0)
                inflow[cell + 1] = pace * free * width_m[cell]
                moving += free * area[cell]
                step_s = min(step_s, _COURANT * length_m[cell] / (5.0 / 3.0 * pace))
        inflow[0] = rate if let_go < volume_m3 else 0.0
        if inflow[0] == 0.0 and moving <= still_share * volume_m3:
            break
        if reached == 0 or inflow[0] > 0.0:
            # The front enters an empty cell: no faster than its own normal depth.
            unit = rate / width_m[0]
            normal = (unit / speed_factor[0]) ** 0.6
            step_s = min(step_s, _COURANT * length_m[0] * normal / unit)
            step_s = min(step_s, (volume_m3 - let_go) / rate)
            let_go += rate * step_s
            if volume_m3 - let_go < 1e-12 * volume_m3:
                let_go = volume_m3
        now_s += step_s
        last = min(reached + 1, count)
        for cell in range(last):
            enters = inflow[cell] * step_s if cell <= reached else 0.0
            held = min(enters, store_m3[cell])
            store_m3[cell] -= held
            enters -= held
            leaves = inflow[cell + 1] * step_s if cell < reached else 0.0
            depth[cell] += (enters - leaves) / area[cell]
            if depth[cell] > 0.0 and conductivity_m_per_s[cell] > 0.0:
                k_t = conductivity_m_per_s[cell] * step_s
                half = 0.5 * (soaked[cell] + k_t)
                would = half + np.sqrt(half * half + k_t * suction_deficit_m[cell])
                taken = min(would - soaked[cell], depth[cell])
                soaked[cell] += taken
                depth[cell] -= taken
        if reached == count:
            arrived += inflow[count] * step_s
            if first_s == np.inf and arrived >= 1e-3 * volume_m3:
                first_s = now_s
        elif depth[reached] > 0.0 or inflow[reached] > 0.0:
            reached += 1
    moving = 0.0
    far_m = 0.0
    for cell in range(count):
        free = depth[cell] - film_m[cell]
        if free > 0.0:
            moving += free * area[cell]
            depth[cell] = film_m[cell]
        if depth[cell] > 0.0 or soaked[cell] > 0.0:
            far_m += length_m[cell]
    return depth * area, soaked * area, arrived, moving, first_s, far_m
