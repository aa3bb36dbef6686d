"""How much of a storm runs off, and how fast: curve number and rational method."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def curve_number_runoff_mm(
    rain_mm: ArrayLike, curve_number: ArrayLike
) -> NDArray[np.float64]:
    """Return how much of a storm runs off [mm].

    Parameters
    ----------
    rain_mm : array_like
        Rain of the event [mm].
    curve_number : array_like
        0 to 100 [-].

    Returns
    -------
    ndarray of float64
        (P - 0.2 S)² / (P + 0.8 S) with S = 25400 / CN - 254 mm (TR-55 equations 2-3 and
        2-4), nought below 0.2 S. Weak for small storms and little runoff.
    """
    rain = np.asarray(rain_mm, np.float64)
    storage = 25400.0 / np.asarray(curve_number, np.float64) - 254.0
    above = np.maximum(rain - 0.2 * storage, 0.0)
    bottom = rain + 0.8 * storage
    runoff: NDArray[np.float64] = np.divide(
        above**2, bottom, out=np.zeros_like(bottom), where=bottom > 0
    )
    return runoff


def composite_curve_number(pervious: float, impervious_share: float) -> float:
    """Return the curve number of ground of which a connected part is sealed.

    Parameters
    ----------
    pervious : float
        Curve number of the rest.
    impervious_share : float
        Sealed share, 0 to 1.

    Returns
    -------
    float
        CNp + P (98 - CNp) (TR-55 appendix F).
    """
    return pervious + impervious_share * (98.0 - pervious)


def rational_peak_l_per_s(
    runoff_coefficient: ArrayLike, intensity_mm_per_h: ArrayLike, area_m2: ArrayLike
) -> NDArray[np.float64]:
    """Return the peak flow of a storm [l/s].

    Parameters
    ----------
    runoff_coefficient : array_like
        C [-].
    intensity_mm_per_h : array_like
        Rain over the time of concentration [mm/h].
    area_m2 : array_like
        Area [m²], up to 80 ha.

    Returns
    -------
    ndarray of float64
        C i A (HEC-22 equation 3-1 in SI units).
    """
    peak: NDArray[np.float64] = (
        np.asarray(runoff_coefficient)
        * np.asarray(intensity_mm_per_h)
        * np.asarray(area_m2)
        / 3600.0
    )
    return peak
