"""Rain and evaporation, day by day or month by month."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

MONTHS: Final = 12
MONTH_NAMES: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
#: Less than this is no water [l].
DROP_L: Final = 1e-6
#: Days of each month of a mean year; the quarter of a day goes to February.
DAYS_OF_MONTH: Final = (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@dataclass(frozen=True, kw_only=True)
class Weather:
    """A record of weather in steps of a day or of a month.

    Parameters
    ----------
    days : ndarray of float64
        Length of each step [days].
    year, month : ndarray of int64
        When each step lies; months from 1. Of normals the year is 1.
    rain_mm, evaporation_mm : ndarray of float64
        Rain and reference evapotranspiration of each step [mm].
    is_daily : bool
        Whether steps are days.
    says : str
        What the record is.
    evaporation_says : str
        Where evaporation comes from.
    """

    days: Values
    year: NDArray[np.int64]
    month: NDArray[np.int64]
    rain_mm: Values
    evaporation_mm: Values
    is_daily: bool
    says: str
    evaporation_says: str

    @property
    def years(self) -> float:
        """How many years it covers."""
        return float(self.days.sum() / sum(DAYS_OF_MONTH))

    def by_month(self, values: Values) -> Values:
        """Return what a month has on average.

        Parameters
        ----------
        values : ndarray of float64
            One a step.

        Returns
        -------
        ndarray of float64, shape (12,)
            Sum of each month's steps a day, times the days of the month: a month that
            the record holds in part counts by its days.
        """
        sums = np.bincount(self.month - 1, values, MONTHS)
        days = np.bincount(self.month - 1, self.days, MONTHS)
        means: Values = sums / np.maximum(days, 1e-9) * np.array(DAYS_OF_MONTH)
        return means

    def per_year(self, values: Values) -> float:
        """Return what a mean year has, each month counted once.

        Parameters
        ----------
        values : ndarray of float64
            One a step.

        Returns
        -------
        float
            Whatever part of a year the record begins and ends in.
        """
        return float(self.by_month(values).sum())


def of_normals(
    rain_mm: Values, evaporation_mm: Values, *, evaporation_says: str
) -> Weather:
    """Return a mean year from twelve months.

    Parameters
    ----------
    rain_mm, evaporation_mm : ndarray of float64, shape (12,)
        Means of each month [mm].
    evaporation_says : str
        Where evaporation comes from.

    Returns
    -------
    Weather
        Its wet years and its storms are not in it.
    """
    return Weather(
        days=np.array(DAYS_OF_MONTH),
        year=np.ones(MONTHS, np.int64),
        month=np.arange(1, MONTHS + 1),
        rain_mm=np.asarray(rain_mm, np.float64),
        evaporation_mm=np.asarray(evaporation_mm, np.float64),
        is_daily=False,
        says="a mean year by months",
        evaporation_says=evaporation_says,
    )
