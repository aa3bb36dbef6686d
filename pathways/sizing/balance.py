r"""Water through pad, tank and bed, step by step.

```
rain on the pad + washings -> tank -> dose -> bed -> evaporation, effluent
                                  \-> overflow      + rain on the bed
```
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pathways.sizing.weather import Weather

Values = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Plant:
    """What water meets on its way.

    Parameters
    ----------
    pad_m2, bed_m2, bed_rain_m2 : float
        Pad and bed, and how much of the bed rain falls on; under a roof nought [m²].
    initial_loss_mm : float
        Rain of a day that wets the pad and dries off it [mm]; of months none.
    runoff_share : float
        Share of a month's rain that runs off; of days all after the loss.
    washings_l : ndarray of float64, shape (12,)
        Washings of each month [l].
    dose_l_per_m2 : float
        What the bed may be given in a day [l/m²].
    tank_l : float
        What the tank holds; infinite to find what it should.
    moisture_l : float
        What the bed's mix holds against gravity [l].
    crop_factor : float
        Evaporation of the bed over the reference.
    """

    pad_m2: float
    bed_m2: float
    bed_rain_m2: float
    initial_loss_mm: float
    runoff_share: float
    washings_l: Values
    dose_l_per_m2: float
    tank_l: float
    moisture_l: float
    crop_factor: float


@dataclass(frozen=True, kw_only=True)
class Balance:
    """Water of each step [l].

    Parameters
    ----------
    pad_rain_l, washings_l, bed_rain_l : ndarray of float64
        What comes in.
    dose_l, overflow_l, evaporation_l, effluent_l : ndarray of float64
        What goes on, and what leaves.
    stored_l, moisture_l : ndarray of float64
        What tank and bed hold at the end of each step.
    highest_l : ndarray of float64
        The most that the tank would hold within each step.
    before_l : ndarray of float64, shape (2,)
        What tank and bed held before the first step.
    """

    pad_rain_l: Values
    washings_l: Values
    bed_rain_l: Values
    dose_l: Values
    overflow_l: Values
    evaporation_l: Values
    effluent_l: Values
    stored_l: Values
    moisture_l: Values
    highest_l: Values
    before_l: Values

    @property
    def error_l(self) -> float:
        """What came in less what left and what is still there [l]."""
        came = self.pad_rain_l + self.washings_l + self.bed_rain_l
        left = self.overflow_l + self.evaporation_l + self.effluent_l
        stays = self.stored_l[-1] + self.moisture_l[-1] - self.before_l.sum()
        return float(came.sum() - left.sum() - stays)


def pad_rain_l(weather: Weather, plant: Plant) -> Values:
    """Return the rain that runs off the pad in each step [l].

    Parameters
    ----------
    weather : Weather
        Days or months.
    plant : Plant
        Area, and what is lost of a day or a month.

    Returns
    -------
    ndarray of float64
        One a step.
    """
    if weather.is_daily:
        runs_mm = np.maximum(weather.rain_mm - plant.initial_loss_mm, 0.0)
    else:
        runs_mm = plant.runoff_share * weather.rain_mm
    found: Values = runs_mm * plant.pad_m2
    return found


def washings_l(weather: Weather, by_month_l: Values) -> Values:
    """Return the washings of each step [l], spread evenly over their month.

    Parameters
    ----------
    weather : Weather
        Days or months.
    by_month_l : ndarray of float64, shape (12,)
        Washings of each month [l].

    Returns
    -------
    ndarray of float64
        One a step; a month of which the record has only some days gets its share.
    """
    if not weather.is_daily:
        return np.asarray(by_month_l, np.float64)[weather.month - 1]
    key = weather.year * 100 + weather.month
    _, place, days = np.unique(key, return_inverse=True, return_counts=True)
    full = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    span = np.maximum(days[place], full[weather.month - 1])
    found: Values = np.asarray(by_month_l)[weather.month - 1] / span
    return found


def settled_run(weather: Weather, plant: Plant) -> Balance:
    """Run a record twice, the second time from what the first left.

    Parameters
    ----------
    weather : Weather
        Days or months.
    plant : Plant
        Areas, tank, doses.

    Returns
    -------
    Balance
        Of the second run: a tank that is empty and a bed that is dry on the first day
        would make the first year too easy.
    """
    first = run_through(weather, plant)
    return run_through(weather, plant, (first.stored_l[-1], first.moisture_l[-1]))


def run_through(
    weather: Weather, plant: Plant, before_l: tuple[float, float] = (0.0, 0.0)
) -> Balance:
    """Follow water through pad, tank and bed.

    Parameters
    ----------
    weather : Weather
        Days or months.
    plant : Plant
        Areas, tank, doses.
    before_l : tuple of float
        What tank and bed hold before the first step [l].

    Returns
    -------
    Balance
        Of a day the tank overflows before the day's dose is drawn; of a month, whose
        water comes and goes evenly, after it.
    """
    steps = weather.days.size
    rain_l, wash_l = pad_rain_l(weather, plant), washings_l(weather, plant.washings_l)
    bed_rain_l = weather.rain_mm * plant.bed_rain_m2
    most_dose_l = plant.dose_l_per_m2 * plant.bed_m2 * weather.days
    most_air_l = plant.crop_factor * weather.evaporation_mm * plant.bed_m2
    dose, over, air, out = (np.empty(steps) for _ in range(4))
    stored, moist, highest = (np.empty(steps) for _ in range(3))
    in_tank, in_bed = before_l
    for step in range(steps):
        before = in_tank
        held = in_tank + rain_l[step] + wash_l[step]
        if weather.is_daily:
            highest[step] = held
            over[step] = max(0.0, held - plant.tank_l)
            dose[step] = min(held - over[step], most_dose_l[step])
            in_tank = held - over[step] - dose[step]
        else:
            dose[step] = min(held, most_dose_l[step])
            in_tank = held - dose[step]
            highest[step] = max(before, in_tank)
            over[step] = max(0.0, in_tank - plant.tank_l)
            in_tank -= over[step]
        wet = in_bed + bed_rain_l[step] + dose[step]
        air[step] = min(wet, most_air_l[step])
        out[step] = max(0.0, wet - air[step] - plant.moisture_l)
        in_bed = wet - air[step] - out[step]
        stored[step], moist[step] = in_tank, in_bed
    return Balance(
        pad_rain_l=rain_l,
        washings_l=wash_l,
        bed_rain_l=bed_rain_l,
        dose_l=dose,
        overflow_l=over,
        evaporation_l=air,
        effluent_l=out,
        stored_l=stored,
        moisture_l=moist,
        highest_l=highest,
        before_l=np.array(before_l, np.float64),
    )
