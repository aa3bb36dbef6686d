"""Closed forms of flow along a kerb and into a grating; SI units throughout."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Values = NDArray[np.float64]

#: Constant of the gutter formula in SI units: HEC-22 equation 4-2.
GUTTER_CONSTANT: Final = 0.376


def gutter_spread_m(
    rate_m3_per_s: ArrayLike,
    manning_n: ArrayLike,
    cross_slope: ArrayLike,
    slope: ArrayLike,
) -> Values:
    """Return the width of flow along a kerb [m].

    Parameters
    ----------
    rate_m3_per_s : array_like
        Flow [m³/s].
    manning_n : array_like
        Roughness [s/m^(1/3)].
    cross_slope : array_like
        Fall towards the kerb [m/m].
    slope : array_like
        Fall along the kerb [m/m].

    Returns
    -------
    ndarray of float64
        HEC-22 equation 4-2 solved for the spread; the depth at the kerb is the spread
        times the cross slope.
    """
    q_n = np.asarray(rate_m3_per_s) * np.asarray(manning_n) / GUTTER_CONSTANT
    spread: Values = (q_n / (np.asarray(cross_slope) ** 1.67 * np.sqrt(slope))) ** (
        1 / 2.67
    )
    return spread


def gutter_rate_m3_per_s(
    spread_m: ArrayLike, manning_n: ArrayLike, cross_slope: ArrayLike, slope: ArrayLike
) -> Values:
    """Return the flow along a kerb of a given width [m³/s].

    Parameters
    ----------
    spread_m : array_like
        Width of the flow [m].
    manning_n, cross_slope, slope : array_like
        As for `gutter_spread_m`.

    Returns
    -------
    ndarray of float64
        HEC-22 equation 4-2.
    """
    rate: Values = (
        GUTTER_CONSTANT
        / np.asarray(manning_n)
        * np.asarray(cross_slope) ** 1.67
        * np.sqrt(slope)
        * np.asarray(spread_m) ** 2.67
    )
    return rate


def frontal_share(spread_m: ArrayLike, inlet_width_m: ArrayLike) -> Values:
    """Return the share of the flow along a kerb that runs over an inlet's width.

    Parameters
    ----------
    spread_m : array_like
        Width of the flow [m].
    inlet_width_m : array_like
        Width of the grating across the flow [m].

    Returns
    -------
    ndarray of float64
        1 - (1 - W/T)^(8/3), the share of a triangular section (HEC-22 equation 4-16
        prints 2.67); 1 where the flow is no wider than the grating. What runs beside it
        is taken to pass: a grating takes some of it, so this is the least.
    """
    share = np.minimum(np.divide(inlet_width_m, np.maximum(spread_m, 1e-9)), 1.0)
    frontal: Values = 1.0 - (1.0 - share) ** (8 / 3)
    return frontal
