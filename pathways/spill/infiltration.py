"""What soaks into ground: Green and Ampt's equation."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

_MOST_STEPS: Final = 60
_PRECISION: Final = 1e-14


def ponded_depth_mm(
    conductivity_mm_per_h: ArrayLike, suction_deficit_mm: ArrayLike, time_s: ArrayLike
) -> NDArray[np.float64]:
    """Return what has soaked in under standing liquid [mm].

    Parameters
    ----------
    conductivity_mm_per_h : array_like
        K [mm/h]; nought takes nothing.
    suction_deficit_mm : array_like
        Suction head times the deficit of moisture, ψ Δθ [mm].
    time_s : array_like
        How long liquid has stood [s].

    Returns
    -------
    ndarray of float64
        F of F - ψΔθ ln(1 + F / ψΔθ) = K t (Green & Ampt 1911; Chow, Maidment & Mays
        1988, equation 4.3.6), by Newton's method from above.
    """
    reach, k_t = np.broadcast_arrays(
        np.asarray(suction_deficit_mm, np.float64),
        np.asarray(conductivity_mm_per_h, np.float64) * np.asarray(time_s) / 3600.0,
    )
    # Never less than the root, so that Newton's method descends to it.
    depth = np.atleast_1d(k_t + np.sqrt(2 * reach * k_t))
    wet = np.atleast_1d((k_t > 0) & (reach > 0))
    s, target, f = np.atleast_1d(reach)[wet], np.atleast_1d(k_t)[wet], depth[wet]
    for _ in range(_MOST_STEPS):
        step = (f - s * np.log1p(f / s) - target) * (s + f) / f
        f = f - step
        if not (np.abs(step) > _PRECISION * f).any():
            break
    depth[wet] = f
    return depth.reshape(k_t.shape)


def ponded_rate_mm_per_h(
    conductivity_mm_per_h: ArrayLike,
    suction_deficit_mm: ArrayLike,
    depth_mm: ArrayLike,
) -> NDArray[np.float64]:
    """Return how fast more would soak in after a depth has [mm/h].

    Parameters
    ----------
    conductivity_mm_per_h, suction_deficit_mm : array_like
        As for `ponded_depth_mm`.
    depth_mm : array_like
        What has soaked in [mm], more than nought.

    Returns
    -------
    ndarray of float64
        K (1 + ψΔθ / F) (Chow, Maidment & Mays 1988, equation 4.3.7).
    """
    rate: NDArray[np.float64] = np.asarray(conductivity_mm_per_h) * (
        1 + np.asarray(suction_deficit_mm) / np.asarray(depth_mm)
    )
    return rate


def ponding_time_s(
    conductivity_mm_per_h: float,
    suction_deficit_mm: float,
    intensity_mm_per_h: float,
) -> float:
    """Return when steady rain begins to stand on ground [s]; infinite if never.

    Parameters
    ----------
    conductivity_mm_per_h, suction_deficit_mm : float
        As for `ponded_depth_mm`.
    intensity_mm_per_h : float
        Rain [mm/h].

    Returns
    -------
    float
        K ψΔθ / (i (i - K)) (Chow, Maidment & Mays 1988, equation 4.4.2).
    """
    if intensity_mm_per_h <= conductivity_mm_per_h:
        return float("inf")
    hours = (
        conductivity_mm_per_h
        * suction_deficit_mm
        / (intensity_mm_per_h * (intensity_mm_per_h - conductivity_mm_per_h))
    )
    return 3600 * hours


def rain_depth_mm(
    conductivity_mm_per_h: float,
    suction_deficit_mm: float,
    intensity_mm_per_h: float,
    time_s: float,
) -> float:
    """Return what has soaked in under steady rain [mm].

    Parameters
    ----------
    conductivity_mm_per_h, suction_deficit_mm, intensity_mm_per_h : float
        As for `ponding_time_s`.
    time_s : float
        Since it began to rain [s].

    Returns
    -------
    float
        All of it until it stands; afterwards F of equation 4.4.5 of Chow, Maidment &
        Mays 1988.
    """
    ponds_s = ponding_time_s(
        conductivity_mm_per_h, suction_deficit_mm, intensity_mm_per_h
    )
    if time_s <= ponds_s:
        return intensity_mm_per_h * time_s / 3600
    # The same curve as under standing liquid, entered where it holds what fell so far.
    fallen = intensity_mm_per_h * ponds_s / 3600
    s = suction_deficit_mm
    as_if_s = 3600 * (fallen - s * np.log1p(fallen / s)) / conductivity_mm_per_h
    return float(ponded_depth_mm(conductivity_mm_per_h, s, as_if_s + time_s - ponds_s))
