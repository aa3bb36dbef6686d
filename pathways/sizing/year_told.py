"""What a year of weather on pad, tank and bed means, in sentences."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from pathways.sizing.balance import Balance
from pathways.sizing.brief import Brief
from pathways.sizing.pad import Pad
from pathways.sizing.weather import DROP_L, MONTH_NAMES, MONTHS, Weather

Values = NDArray[np.float64]

#: Days of a mean month.
_DAYS_PER_MONTH = 365.25 / MONTHS


def says_of(
    weather: Weather, by_month_l: Mapping[str, Values], rain_l: float
) -> list[str]:
    """Return what the record shows.

    Parameters
    ----------
    weather : Weather
        The record.
    by_month_l : mapping of str to ndarray of float64, shape (12,)
        Means of each month [l].
    rain_l : float
        Rain from the pad in a mean year [l].

    Returns
    -------
    list of str
    """
    comes = by_month_l["pad_rain_l"] + by_month_l["washings_l"]
    stored = by_month_l["stored_l"]
    highest = (
        f", and the tank stands highest in {MONTH_NAMES[int(stored.argmax())]}"
        if stored.max() > DROP_L
        else ""
    )
    return [
        f"Most comes in {MONTH_NAMES[int(comes.argmax())]} ({comes.max():,.0f} l)"
        f"{highest}.",
        f"The record: {weather.says}; {weather.years:.0f} years."
        if weather.is_daily
        else f"The record: {weather.says}.",
        *([_roof(rain_l)] if rain_l > DROP_L else []),
    ]


def _roof(rain_l: float) -> str:
    return (
        f"A roof over the pad would keep {rain_l:,.0f} l a year off it: so much less "
        "goes through tank and bed, and the pad need not hold the storm."
    )


def cautions_of(
    brief: Brief, pad: Pad, weather: Weather, balance: Balance
) -> list[str]:
    """Return what must be said with it: storms, the cap, the valve.

    Parameters
    ----------
    brief : Brief
        Whose rules apply.
    pad : Pad
        For the storm on it.
    weather : Weather
        The record.
    balance : Balance
        Water of each step.

    Returns
    -------
    list of str
    """
    told = []
    if not weather.is_daily:
        told.append(
            "A mean year has neither wet years nor storms in it: the tank must have "
            f"room for the storm on the pad besides ({pad.storm_l:,.0f} l), and more "
            "in a wet year. Give a daily record ([climate] daily_file) to see them."
        )
    given_l = brief.washings_l
    cap, washings_l = brief.yearly_cap, 0.0 if given_l is None else float(given_l.sum())
    if cap is not None and not cap.allows(washings_l):
        told.append(
            f"{washings_l:,.0f} l of washings a year exceed the cap of "
            f"{cap.limit:,.0f} {cap.unit} [{cap.citation.text}]: without a permit they "
            "may not be treated so; ask your regulator before anything is built."
        )
    elif cap is not None:
        told.append(
            f"{washings_l:,.0f} l of washings a year are within the cap of "
            f"{cap.limit:,.0f} {cap.unit}; rain does not count there "
            f"[{cap.citation.text}]. Keep a log of volumes."
        )
    told += _on_the_valve(brief, weather, balance)
    return told


def _on_the_valve(brief: Brief, weather: Weather, balance: Balance) -> list[str]:
    """Return what a diversion valve could save, and what it does when left on clean."""
    rain_l = weather.per_year(balance.pad_rain_l)
    washings_l = weather.per_year(balance.washings_l)
    if not rain_l:
        return []
    busy = np.minimum(np.array(brief.settings.washings.times) / _DAYS_PER_MONTH, 1.0)
    by_month_l = weather.by_month(balance.pad_rain_l)
    dirty_l = float((by_month_l * busy).sum())
    return [
        f"If a diversion valve led the rain of days without washing away, about "
        f"{dirty_l:,.0f} of {rain_l:,.0f} l a year would go into the tank; that is "
        "never counted on.",
        f"Left on clean, the same valve lets all {washings_l:,.0f} l of washings a "
        "year out by the clean drain: it must rest on the tank, be labelled and seen.",
    ]
