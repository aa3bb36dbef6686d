"""Years of weather on pad, tank and bed: how large the tank must be, what overflows."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pathways.sizing.balance import Balance, Plant, pad_rain_l, settled_run
from pathways.sizing.bed import Bed
from pathways.sizing.brief import Brief
from pathways.sizing.figure import Chapter, Figure, weakest
from pathways.sizing.pad import Pad
from pathways.sizing.weather import DAYS_OF_MONTH, DROP_L, MONTHS, Weather
from pathways.sizing.year_told import cautions_of, says_of
from pathways.units import LITRES_PER_CUBIC_METRE

Values = NDArray[np.float64]

#: Days of a whole year.
_YEAR = 365


@dataclass(frozen=True, kw_only=True)
class Year:
    """What a record of weather does to pad, tank and bed.

    Parameters
    ----------
    balance : Balance
        With the tank that is there or needed.
    tank_l : float
        The tank that is there, else the one that never overflowed [l].
    needed_l : float
        Tank that never overflowed in the record [l].
    by_month_l : dict of str to ndarray of float64, shape (12,)
        Means of each month, for a picture [l].
    effluent_l_per_year, most_effluent_l_per_day : float
        What leaves the bed [l].
    chapter : Chapter
        All that with where it comes from.
    """

    balance: Balance
    tank_l: float
    needed_l: float
    by_month_l: dict[str, Values]
    effluent_l_per_year: float
    most_effluent_l_per_day: float
    chapter: Chapter


def plant_of(brief: Brief, pad: Pad, bed: Bed | None) -> Plant:
    """Return what water meets on its way, with a tank without end.

    Parameters
    ----------
    brief : Brief
        Washings.
    pad : Pad
        Of a direct bed no rain falls on it.
    bed : Bed or None
        Without one nothing is dosed.

    Returns
    -------
    Plant
    """
    assumed, washings_l = brief.assumed, brief.washings_l
    area_m2 = 0.0 if bed is None else bed.area_m2
    depth_m = 0.0 if bed is None else bed.depth_m
    moisture_m3 = assumed["bed", "moisture_share"] * area_m2 * depth_m
    is_direct = bed is not None and bed.is_direct
    under_roof = is_direct and pad.has_roof
    return Plant(
        pad_m2=0.0 if is_direct else pad.open_m2,
        bed_m2=area_m2,
        bed_rain_m2=0.0 if under_roof else area_m2,
        initial_loss_mm=assumed["pad", "initial_loss_mm"],
        runoff_share=assumed["pad", "runoff_share"],
        washings_l=np.zeros(MONTHS) if washings_l is None else washings_l,
        dose_l_per_m2=0.0 if bed is None else bed.dose_l_per_m2,
        tank_l=math.inf,
        moisture_l=LITRES_PER_CUBIC_METRE * moisture_m3,
        crop_factor=assumed["bed", "crop_factor"],
    )


def pad_rain_l_per_year(brief: Brief, pad: Pad) -> float | None:
    """Return the rain that runs off a pad in a mean year [l].

    Parameters
    ----------
    brief : Brief
        Weather; without it the answer is None.
    pad : Pad
        Under a roof there is none.

    Returns
    -------
    float or None
    """
    if brief.weather is None:
        return None
    if brief.settings.bed.layout == "direct":
        return 0.0
    rain_l = pad_rain_l(brief.weather, plant_of(brief, pad, None))
    return brief.weather.per_year(rain_l)


def year_of(brief: Brief, pad: Pad, bed: Bed) -> Year | None:
    """Run a record of weather through pad, tank and bed.

    Parameters
    ----------
    brief : Brief
        Weather and washings.
    pad : Pad
        As sized.
    bed : Bed
        As sized.

    Returns
    -------
    Year or None
        None where weather or washings are not given.
    """
    weather = brief.weather
    if weather is None or brief.washings_l is None:
        return None
    plant = plant_of(brief, pad, bed)
    endless = settled_run(weather, plant)
    comes_l = weather.per_year(endless.pad_rain_l + endless.washings_l)
    most_dose_l = plant.dose_l_per_m2 * plant.bed_m2 * sum(DAYS_OF_MONTH)
    needed_l = math.inf
    if comes_l <= most_dose_l:
        # A washing comes at once, and not spread over its month as in the run.
        needed_l = float(endless.highest_l.max()) + (
            brief.settings.washings.each_l or 0.0
        )
    given_l = brief.settings.pad.tank_l
    if given_l is None:  # the tank that is asked for never overflowed
        tank_l, balance = needed_l, endless
    else:
        tank_l, balance = given_l, settled_run(weather, replace(plant, tank_l=given_l))
    return _told(brief, pad, (weather, plant), balance, endless, (needed_l, tank_l))


def _told(
    brief: Brief,
    pad: Pad,
    through: tuple[Weather, Plant],
    balance: Balance,
    endless: Balance,
    tanks_l: tuple[float, float],
) -> Year:
    weather, plant = through
    needed_l, tank_l = tanks_l
    by_month_l = {
        name: weather.by_month(getattr(balance, name))
        for name in (
            "pad_rain_l",
            "washings_l",
            "bed_rain_l",
            "evaporation_l",
            "effluent_l",
        )
    }
    by_month_l["stored_l"] = _highest_by_month(weather, balance.highest_l)
    rain_l = weather.per_year(balance.pad_rain_l)
    effluent_l = weather.per_year(balance.effluent_l)
    passes_l = float((balance.dose_l + balance.bed_rain_l).sum()) / weather.days.sum()
    moisture = brief.assumed.table["bed", "moisture_share"]
    most_l = float((balance.effluent_l / weather.days).max())
    figures = (
        *_what_comes(brief, weather, balance),
        Figure(
            what="tank that never overflowed"
            if weather.is_daily
            else "room that the seasons ask for; storms and wet years come on top",
            value=needed_l if math.isfinite(needed_l) else None,
            unit="l",
            how=f"over {weather.says}, dosed by what the bed may be given in a day, "
            "and a whole washing on top"
            if math.isfinite(needed_l)
            else "more comes in a year than the bed may be given",
            standing=_standing(brief),
            source=_source(brief, weather),
        ),
        *_enough(weather, endless),
        *_overflow(brief, weather, balance),
        Figure(
            what="evaporation of the bed",
            value=weather.per_year(balance.evaporation_l),
            unit="l a year",
            how=f"{plant.crop_factor:g} times the reference: "
            f"{weather.evaporation_says}",
            standing=brief.assumed.table["bed", "crop_factor"].standing,
            source=brief.assumed.table["bed", "crop_factor"].source,
        ),
        Figure(
            what="how long water stays in the mix, on average",
            value=plant.moisture_l / passes_l if passes_l > 0 else None,
            unit="days",
            how=f"{plant.moisture_l:,.0f} l that the mix holds over {passes_l:,.0f} l "
            "a day",
            standing=moisture.standing,
            source=moisture.source,
        ),
        Figure(
            what="water that leaves the bed",
            value=effluent_l,
            unit="l a year",
            how="what neither evaporates nor stays in the mix",
            standing=_standing(brief),
            source=_source(brief, weather),
        ),
    )
    return Year(
        balance=balance,
        tank_l=tank_l,
        needed_l=needed_l,
        by_month_l=by_month_l,
        effluent_l_per_year=effluent_l,
        most_effluent_l_per_day=most_l,
        chapter=Chapter(
            title="Water through the year",
            figures=figures,
            says=tuple(says_of(weather, by_month_l, rain_l)),
            cautions=tuple(cautions_of(brief, pad, weather, balance)),
        ),
    )


def _highest_by_month(weather: Weather, highest_l: Values) -> Values:
    return np.array(
        [
            highest_l[weather.month == number].max(initial=0.0)
            for number in range(1, MONTHS + 1)
        ]
    )


def _what_comes(brief: Brief, weather: Weather, balance: Balance) -> tuple[Figure, ...]:
    rain_l = weather.per_year(balance.pad_rain_l)
    wash_l = 0.0 if brief.washings_l is None else float(brief.washings_l.sum())
    name = "initial_loss_mm" if weather.is_daily else "runoff_share"
    loss = brief.assumed.table["pad", name]
    return (
        Figure(
            what="washings",
            value=wash_l,
            unit="l a year",
            how="as often as given, month by month",
            standing="given",
            source="farm.toml [washings]",
        ),
        Figure(
            what="rain from the pad",
            value=rain_l,
            unit="l a year",
            how="all of it counted as dirty: no diversion valve is relied on",
            standing=loss.standing,
            source=f"{loss.source}; farm.toml [climate]",
        ),
        Figure(
            what="rain on the bed",
            value=weather.per_year(balance.bed_rain_l),
            unit="l a year",
            standing="given",
            source="farm.toml [climate]",
        ),
    )


def _enough(weather: Weather, endless: Balance) -> tuple[Figure, ...]:
    """Return the tank that was enough in nine of ten years of a long record."""
    if not weather.is_daily:
        return ()
    years = np.array(
        [one for one in np.unique(weather.year) if (weather.year == one).sum() >= _YEAR]
    )
    highest_l = np.array(
        [endless.highest_l[weather.year == one].max() for one in years]
    )
    least = max(1, math.floor(0.1 * years.size))
    enough_l = float(np.sort(highest_l)[-least - 1]) if years.size > least else math.nan
    if years.size < 10:  # noqa: PLR2004 - of fewer years a tenth is none
        return ()
    return (
        Figure(
            what="tank that was enough in nine of ten years",
            value=enough_l,
            unit="l",
            how=f"it overflowed in {least} of {years.size} years",
            source="the same record",
        ),
    )


def _overflow(brief: Brief, weather: Weather, balance: Balance) -> tuple[Figure, ...]:
    """Return what a tank that is there lets over."""
    given_l = brief.settings.pad.tank_l
    if given_l is None:
        return ()
    if not weather.is_daily:
        return (
            Figure(
                what=f"whether a tank of {given_l:,.0f} l overflows",
                value=None,
                unit="",
                how="a mean month shows no storm; give a daily record",
            ),
        )
    over = balance.overflow_l > DROP_L
    return (
        Figure(
            what=f"days on which a tank of {given_l:,.0f} l overflows",
            value=float(over.sum()),
            unit="",
            how=f"of {over.size}; {float(balance.overflow_l.sum()):,.0f} l in all",
            standing="given",
            source="farm.toml [pad] tank_l",
        ),
    )


def _standing(brief: Brief) -> str:
    table = brief.assumed.table
    return weakest(
        [
            table["pad", "initial_loss_mm"].standing,
            table["bed", "moisture_share"].standing,
            "given",
        ]
    )


def _source(brief: Brief, weather: Weather) -> str:
    loss = brief.assumed.table["pad", "initial_loss_mm"]
    lost = (
        f"{loss.value:g} mm of a day's rain are lost ({loss.source})"
        if weather.is_daily
        else f"{brief.assumed['pad', 'runoff_share']:g} of a month's rain runs off"
    )
    return f"farm.toml [climate], [washings]; {lost}"
