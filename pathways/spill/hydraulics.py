"""Closed forms of flow over ground and in pipes; SI units throughout.

Each takes numbers or arrays that broadcast. Slopes are in metres a metre, depths and
widths in metres, rates in cubic metres a second.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pathways.units import METRES_PER_FOOT

Values = NDArray[np.float64]

#: Standard gravity [m/s²] (CGPM 1901).
GRAVITY_M_PER_S2: Final = 9.80665
#: Kinematic viscosity of water at 10 °C [m²/s] (handbook value, from memory).
VISCOSITY_M2_PER_S: Final = 1.307e-6
#: Below this Reynolds number a film is laminar [-] (handbook value, from memory).
LAMINAR_REYNOLDS: Final = 500.0


def manning_depth_m(
    rate_m3_per_s: ArrayLike, width_m: ArrayLike, manning_n: ArrayLike, slope: ArrayLike
) -> Values:
    """Return the normal depth of a wide sheet of flow by Manning's equation [m].

    Parameters
    ----------
    rate_m3_per_s : array_like
        Flow [m³/s].
    width_m : array_like
        Width [m].
    manning_n : array_like
        Roughness [s/m^(1/3)].
    slope : array_like
        Slope [m/m].

    Returns
    -------
    ndarray of float64
        y = (q n / sqrt S)^0.6 with q the flow a metre of width.
    """
    unit = np.divide(rate_m3_per_s, width_m)
    depth: Values = (unit * np.asarray(manning_n) / np.sqrt(slope)) ** 0.6
    return depth


def film_speed_m_per_s(unit_rate_m2_per_s: ArrayLike, slope: ArrayLike) -> Values:
    """Return the mean speed of a laminar film down a slope [m/s].

    Parameters
    ----------
    unit_rate_m2_per_s : array_like
        Flow a metre of width [m²/s].
    slope : array_like
        Slope [m/m].

    Returns
    -------
    ndarray of float64
        g S y² / (3 ν), with y = (3 ν q / (g S))^(1/3) (Nusselt 1916, from memory).
    """
    unit, pull = np.asarray(unit_rate_m2_per_s), GRAVITY_M_PER_S2 * np.asarray(slope)
    depth = np.cbrt(3 * VISCOSITY_M2_PER_S * unit / pull)
    speed: Values = pull * depth**2 / (3 * VISCOSITY_M2_PER_S)
    return speed


def spill_speed_m_per_s(
    rate_m3_per_s: ArrayLike, width_m: ArrayLike, manning_n: ArrayLike, slope: ArrayLike
) -> Values:
    """Return how fast a spill of steady rate runs over ground [m/s].

    Manning's equation overstates the speed of the thinnest films, so where the Reynolds
    number is below 500 the slower of it and the laminar film is taken.

    Parameters
    ----------
    rate_m3_per_s : array_like
        Flow [m³/s]; nought gives nought.
    width_m : array_like
        Width of the wetted path [m].
    manning_n : array_like
        Roughness [s/m^(1/3)].
    slope : array_like
        Slope [m/m], more than nought.

    Returns
    -------
    ndarray of float64
        Mean speed.
    """
    unit = np.maximum(np.divide(rate_m3_per_s, width_m), 0.0)
    steep = np.asarray(slope)
    depth = manning_depth_m(unit, 1.0, manning_n, steep)
    turbulent = np.divide(unit, depth, out=np.zeros_like(unit + depth), where=depth > 0)
    film = film_speed_m_per_s(unit, steep)
    thin = unit / VISCOSITY_M2_PER_S < LAMINAR_REYNOLDS
    speed: Values = np.where(thin, np.minimum(turbulent, film), turbulent)
    return speed


def runoff_speed_m_per_s(velocity_m_per_s: ArrayLike, slope: ArrayLike) -> Values:
    """Return the speed of shallow concentrated storm runoff, V = k sqrt S [m/s].

    Parameters
    ----------
    velocity_m_per_s : array_like
        Constant k of the cover [m/s] (NEH 630 table 15-3; TR-55 appendix F).
    slope : array_like
        Slope [m/m].

    Returns
    -------
    ndarray of float64
        Speed.
    """
    speed: Values = np.asarray(velocity_m_per_s) * np.sqrt(slope)
    return speed


def channel_speed_m_per_s(
    manning_n: ArrayLike, hydraulic_radius_m: ArrayLike, slope: ArrayLike
) -> Values:
    """Return the speed in a channel or pipe by Manning's equation [m/s].

    Parameters
    ----------
    manning_n : array_like
        Roughness [s/m^(1/3)].
    hydraulic_radius_m : array_like
        Area over wetted perimeter [m]; a quarter of the diameter of a full pipe.
    slope : array_like
        Slope [m/m].

    Returns
    -------
    ndarray of float64
        V = R^(2/3) S^(1/2) / n.
    """
    speed: Values = (
        np.asarray(hydraulic_radius_m) ** (2 / 3)
        * np.sqrt(slope)
        / np.asarray(manning_n)
    )
    return speed


def sheet_flow_time_s(
    manning_n: float, length_m: float, rain_mm: float, slope: float
) -> float:
    """Return the travel time of sheet flow under a storm [s].

    Parameters
    ----------
    manning_n : float
        Roughness [s/m^(1/3)].
    length_m : float
        Length of the sheet [m]; NEH 630 chapter 15 allows 30.5 m.
    rain_mm : float
        Rain of 24 hours that comes every other year [mm].
    slope : float
        Slope [m/m].

    Returns
    -------
    float
        TR-55 (1986) equation 3-3, in metric units.
    """
    # 0.007 h with feet and inches
    feet = length_m / METRES_PER_FOOT
    inches = rain_mm / (1000 * METRES_PER_FOOT / 12)
    hours: float = 0.007 * (manning_n * feet) ** 0.8 / (inches**0.5 * slope**0.4)
    return 3600 * hours


def kinematic_sheet_time_s(
    manning_n: float, length_m: float, intensity_mm_per_h: float, slope: float
) -> float:
    """Return the travel time of sheet flow by the kinematic wave [s].

    Parameters
    ----------
    manning_n : float
        Roughness [s/m^(1/3)].
    length_m : float
        Length of the sheet [m].
    intensity_mm_per_h : float
        Steady rain that runs off [mm/h].
    slope : float
        Slope [m/m].

    Returns
    -------
    float
        Exact for q = S^0.5 h^(5/3) / n: the printed constant of HEC-22 equation 3-3,
        6.92, is 1 % lower.
    """
    rain_m_per_s = intensity_mm_per_h / 3.6e6
    return float((manning_n * length_m / (slope**0.5 * rain_m_per_s ** (2 / 3))) ** 0.6)


def emptying_time_s(
    volume_m3: float,
    height_m: float,
    hole_diameter_m: float,
    discharge_coefficient: float,
) -> float:
    """Return how long an upright tank takes to empty through a hole at its bottom [s].

    Parameters
    ----------
    volume_m3 : float
        What is in it [m³].
    height_m : float
        How high it stands [m].
    hole_diameter_m : float
        Diameter of the hole [m].
    discharge_coefficient : float
        Of the hole [-].

    Returns
    -------
    float
        (A_t / (C A_o)) sqrt(2 H / g), from Torricelli's law.
    """
    hole_m2 = np.pi * hole_diameter_m**2 / 4
    tank_m2 = volume_m3 / height_m
    return float(
        tank_m2
        / (discharge_coefficient * hole_m2)
        * np.sqrt(2 * height_m / GRAVITY_M_PER_S2)
    )


def turbulent_front_m(
    volume_m2: ArrayLike, manning_n: float, slope: float, time_s: ArrayLike
) -> Values:
    """Return how far a volume that was let go at once has run by Manning's law [m].

    Parameters
    ----------
    volume_m2 : array_like
        Volume a metre of width [m²].
    manning_n : float
        Roughness [s/m^(1/3)].
    slope : float
        Slope [m/m].
    time_s : array_like
        Since it was let go [s].

    Returns
    -------
    ndarray of float64
        (2.5 A)^0.4 (5 a t / 3)^0.6 with a = sqrt S / n: the kinematic wave's shock.
    """
    a = np.sqrt(slope) / manning_n
    front: Values = (2.5 * np.asarray(volume_m2)) ** 0.4 * (
        5 * a * np.asarray(time_s) / 3
    ) ** 0.6
    return front


def laminar_front_m(volume_m2: ArrayLike, slope: float, time_s: ArrayLike) -> Values:
    """Return how far a volume that was let go at once has run as a laminar film [m].

    Parameters
    ----------
    volume_m2 : array_like
        Volume a metre of width [m²].
    slope : float
        Slope [m/m].
    time_s : array_like
        Since it was let go [s].

    Returns
    -------
    ndarray of float64
        (9 A² g S t / (4 ν))^(1/3) (Huppert 1982, Nature 300:427).
    """
    pull = GRAVITY_M_PER_S2 * slope / VISCOSITY_M2_PER_S
    front: Values = np.cbrt(
        9 * np.asarray(volume_m2) ** 2 * pull * np.asarray(time_s) / 4
    )
    return front
