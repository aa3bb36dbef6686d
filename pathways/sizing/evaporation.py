"""Reference evapotranspiration where only temperatures are known.

Allen, R. G., Pereira, L. S., Raes, D., Smith, M., 1998, Crop evapotranspiration, FAO
Irrigation and Drainage Paper 56.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Values = NDArray[np.float64]

#: Solar constant [MJ/(m² min)] (FAO 56, equation 21).
_SOLAR_CONSTANT: Final = 0.0820
_MINUTES_PER_DAY: Final = 24 * 60
#: Evaporation of a megajoule on a square metre [mm] (FAO 56, equation 20).
_MM_PER_MJ_PER_M2: Final = 0.408
_DAYS_PER_YEAR: Final = 365


def extraterrestrial_radiation_mj_per_m2(
    latitude_degrees: float, day_of_year: ArrayLike
) -> Values:
    """Return the sun's radiation on top of the air over a day.

    Parameters
    ----------
    latitude_degrees : float
        North positive.
    day_of_year : array_like of int
        From 1.

    Returns
    -------
    ndarray of float64
        [MJ/(m² day)] (FAO 56, equations 21 to 25). Where the sun does not set or does
        not rise, its hour angle ends at noon or midnight.
    """
    turned = 2 * np.pi * np.asarray(day_of_year, np.float64) / _DAYS_PER_YEAR
    distance = 1 + 0.033 * np.cos(turned)
    declination = 0.409 * np.sin(turned - 1.39)
    latitude = np.radians(latitude_degrees)
    cosine = np.clip(-np.tan(latitude) * np.tan(declination), -1, 1)
    sunset = np.arccos(cosine)
    found: Values = (
        _MINUTES_PER_DAY
        / np.pi
        * _SOLAR_CONSTANT
        * distance
        * (
            sunset * np.sin(latitude) * np.sin(declination)
            + np.cos(latitude) * np.cos(declination) * np.sin(sunset)
        )
    )
    return found


def hargreaves_mm_per_day(
    least_c: ArrayLike, greatest_c: ArrayLike, radiation_mj_per_m2: ArrayLike
) -> Values:
    """Return reference evapotranspiration from temperatures alone.

    Parameters
    ----------
    least_c, greatest_c : array_like of float
        Least and greatest temperature of the day, or their means of a month [°C].
    radiation_mj_per_m2 : array_like of float
        From `extraterrestrial_radiation_mj_per_m2`.

    Returns
    -------
    ndarray of float64
        0.0023 (T + 17.8) sqrt(Tmax - Tmin) Ra, never less than nought [mm/day]
        (Hargreaves & Samani 1985; FAO 56, equation 52). It tends to be too high where
        it is humid and too low where it is windy.
    """
    least, greatest = np.asarray(least_c), np.asarray(greatest_c)
    middle = (least + greatest) / 2
    span = np.maximum(greatest - least, 0.0)
    radiation_mm = _MM_PER_MJ_PER_M2 * np.asarray(radiation_mj_per_m2)
    evaporates = 0.0023 * (middle + 17.8) * np.sqrt(span) * radiation_mm
    found: Values = np.maximum(evaporates, 0.0)
    return found
