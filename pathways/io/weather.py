"""Rain and evaporation: a daily record, or the twelve months of farm.toml."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pathways.errors import InputError
from pathways.io._findings import did_you_mean
from pathways.settings import ClimateSettings
from pathways.sizing.evaporation import (
    extraterrestrial_radiation_mj_per_m2,
    hargreaves_mm_per_day,
)
from pathways.sizing.weather import DAYS_OF_MONTH, MONTHS, Weather, of_normals

Values = NDArray[np.float64]

_MOST_BYTES: Final = 20_000_000
_FEWEST_DAYS: Final = 365
_RAIN, _AIR = "rain_mm", "evaporation_mm"
_LEAST, _GREATEST = "least_temperature_c", "greatest_temperature_c"
_COLUMNS: Final = ("date", _RAIN, _AIR, _LEAST, _GREATEST)
#: More than fell anywhere on Earth in a day, or evaporated [mm] (WMO: 1825 mm, from
#: memory), and the limits of temperatures [°C].
_LIMITS: Final = {
    _RAIN: (0.0, 2000.0),
    _AIR: (0.0, 30.0),
    _LEAST: (-60.0, 60.0),
    _GREATEST: (-60.0, 60.0),
}
#: Mawsynram, about 11,900 mm a year (from memory).
_WETTEST_MM: Final = 15_000.0
#: Days of the year at the middle of each month.
_MIDDLES: Final = np.cumsum(DAYS_OF_MONTH) - np.array(DAYS_OF_MONTH) / 2
_NO_EVAPORATION: Final = (
    "evaporation is not known; give evaporation_mm, or least_temperature_c, "
    "greatest_temperature_c and latitude_degrees, under [climate]"
)


def read_weather(folder: Path, climate: ClimateSettings) -> Weather | None:
    """Return the weather of a farm.

    Parameters
    ----------
    folder : Path
        Folder of the farm.
    climate : ClimateSettings
        ``[climate]`` of farm.toml.

    Returns
    -------
    Weather or None
        The daily record if one is named, else the twelve months; None where rain is
        not given at all.

    Raises
    ------
    InputError
        In one sentence: where it is wrong and how to mend it.
    """
    if climate.daily_file:
        return _daily(folder / climate.daily_file, climate)
    if not climate.rain_mm:
        return None
    found = _evaporation_of_months(climate)
    if found is None:
        raise InputError(_NO_EVAPORATION)
    evaporation_mm, says = found
    return of_normals(np.array(climate.rain_mm), evaporation_mm, evaporation_says=says)


def _evaporation_of_months(climate: ClimateSettings) -> tuple[Values, str] | None:
    """Return the reference evapotranspiration of each month, and where it is from."""
    if climate.evaporation_mm:
        return np.array(climate.evaporation_mm), "farm.toml [climate] evaporation_mm"
    if not climate.least_temperature_c or not climate.greatest_temperature_c:
        return None
    latitude = _latitude(climate)
    given = {
        _LEAST: climate.least_temperature_c,
        _GREATEST: climate.greatest_temperature_c,
    }
    _check_temperatures(given, "[climate]")
    sun = extraterrestrial_radiation_mj_per_m2(latitude, _MIDDLES)
    daily_mm = hargreaves_mm_per_day(
        climate.least_temperature_c, climate.greatest_temperature_c, sun
    )
    return daily_mm * np.array(DAYS_OF_MONTH), _by_temperature(latitude)


def _latitude(climate: ClimateSettings) -> float:
    if climate.latitude_degrees is None:
        msg = (
            "temperatures alone do not tell evaporation; give latitude_degrees under "
            "[climate]"
        )
        raise InputError(msg)
    return climate.latitude_degrees


def _by_temperature(latitude_degrees: float) -> str:
    return (
        f"from temperatures at {latitude_degrees:g} degrees (Hargreaves, FAO 56 "
        "equation 52)"
    )


@dataclass(frozen=True)
class _Record:
    dates: list[date]
    columns: dict[str, Values]


def _daily(path: Path, climate: ClimateSettings) -> Weather:
    record = _read_record(path)
    _check_temperatures(record.columns, f"'{path.name}'")
    _check_rain(record, path.name)
    days = np.array(record.dates, "datetime64[D]")
    years = days.astype("datetime64[Y]").astype(np.int64) + 1970
    months = days.astype("datetime64[M]").astype(np.int64) % MONTHS + 1
    evaporation_mm, says = _evaporation_of_days(record, months, climate)
    first, last = record.dates[0], record.dates[-1]
    return Weather(
        days=np.ones(days.size),
        year=years,
        month=months,
        rain_mm=record.columns[_RAIN],
        evaporation_mm=evaporation_mm,
        is_daily=True,
        says=f"{days.size:,} days from {first.isoformat()} to {last.isoformat()}",
        evaporation_says=says,
    )


def _check_temperatures(columns: Mapping[str, Any], where: str) -> None:
    """Refuse least temperatures above the greatest: evaporation would be nought."""
    least, greatest = columns.get(_LEAST, ()), columns.get(_GREATEST, ())
    if len(least) != len(greatest):
        return
    if (np.asarray(least) > np.asarray(greatest)).any():
        msg = f"{where}: a {_LEAST} is above its {_GREATEST}; are the two exchanged?"
        raise InputError(msg)


def _check_rain(record: _Record, where: str) -> None:
    years = len(record.dates) / sum(DAYS_OF_MONTH)
    yearly_mm = float(record.columns[_RAIN].sum()) / years
    if yearly_mm > _WETTEST_MM:
        msg = (
            f"'{where}' has {yearly_mm:,.0f} mm of rain a year, more than falls "
            "anywhere on Earth; is it in tenths of a millimetre?"
        )
        raise InputError(msg)


def _evaporation_of_days(
    record: _Record, months: NDArray[np.int64], climate: ClimateSettings
) -> tuple[Values, str]:
    if _AIR in record.columns:
        return record.columns[_AIR], "the daily record"
    if _LEAST in record.columns and _GREATEST in record.columns:
        latitude = _latitude(climate)
        numbers = np.array([one.timetuple().tm_yday for one in record.dates])
        sun = extraterrestrial_radiation_mj_per_m2(latitude, numbers)
        daily_mm = hargreaves_mm_per_day(
            record.columns[_LEAST], record.columns[_GREATEST], sun
        )
        return daily_mm, _by_temperature(latitude)
    found = _evaporation_of_months(climate)
    if found is None:
        msg = f"the daily record has no {_AIR}, and {_NO_EVAPORATION}"
        raise InputError(msg)
    monthly_mm, says = found
    return (monthly_mm / np.array(DAYS_OF_MONTH))[months - 1], f"{says}, spread evenly"


def _read_record(path: Path) -> _Record:
    if not path.is_file():
        msg = (
            f"[climate] daily_file names '{path.name}', which is not there; correct it "
            "or leave it out"
        )
        raise InputError(msg)
    if path.stat().st_size > _MOST_BYTES:
        msg = f"'{path.name}' is larger than {_MOST_BYTES:,} bytes; keep days only"
        raise InputError(msg)
    try:
        text = path.read_text("utf-8-sig")
    except UnicodeDecodeError:
        msg = f"'{path.name}' is not UTF-8 text; save it as CSV in UTF-8"
        raise InputError(msg) from None
    lines = text.splitlines()
    head = lines[0] if lines else ""
    delimiter = max(",;\t", key=head.count)
    rows = csv.reader(lines, delimiter=delimiter)
    names = _names(next(rows, []), path.name)
    return _values(names, rows, path.name)


def _names(head: Sequence[str], where: str) -> list[str]:
    names = [one.strip().lower() for one in head]
    for name in _COLUMNS:
        if names.count(name) > 1:
            msg = f"'{where}' has the column {name} twice; keep one"
            raise InputError(msg)
    for needed in ("date", _RAIN):
        if needed not in names:
            hint = did_you_mean(needed, names)
            msg = (
                f"'{where}' has no column {needed}{hint}; its first line names the "
                f"columns: {', '.join(_COLUMNS)}"
            )
            raise InputError(msg)
    _check_known(names, where)
    return names


def _check_known(names: list[str], where: str) -> None:
    for name in names:
        if name not in _COLUMNS:
            told = f"the column '{name}'" if name else "a column without a name"
            msg = (
                f"'{where}' has {told}{did_you_mean(name, _COLUMNS)}; known are "
                f"{', '.join(_COLUMNS)}: take the others out (write decimals with a "
                "point)"
            )
            raise InputError(msg)


def _values(names: list[str], rows: Iterator[list[str]], where: str) -> _Record:
    dates: list[date] = []
    found: dict[str, list[float]] = {one: [] for one in _COLUMNS[1:] if one in names}
    place = names.index("date")
    for line, row in enumerate(rows, start=2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(names):
            msg = (
                f"'{where}', line {line}: {len(row)} values for {len(names)} columns; "
                "mend that line"
            )
            raise InputError(msg)
        dates.append(_next_day(row[place], dates, f"'{where}', line {line}"))
        for name, values in found.items():
            cell = row[names.index(name)]
            values.append(_number(cell, name, f"'{where}', line {line}"))
    if len(dates) < _FEWEST_DAYS:
        msg = (
            f"'{where}' has {len(dates)} days; a year of them is the least that shows "
            "its seasons"
        )
        raise InputError(msg)
    return _Record(dates, {name: np.array(values) for name, values in found.items()})


def _next_day(cell: str, dates: list[date], where: str) -> date:
    try:
        day = date.fromisoformat(cell.strip())
    except ValueError:
        msg = f"{where}: '{cell.strip()[:40]}' is no date; write it as 2024-01-31"
        raise InputError(msg) from None
    if dates and day != dates[-1] + timedelta(days=1):
        expected = dates[-1] + timedelta(days=1)
        msg = (
            f"{where}: {day.isoformat()} follows on {dates[-1].isoformat()}, where "
            f"{expected.isoformat()} should; days that are missing are never made up"
        )
        raise InputError(msg)
    return day


def _number(cell: str, name: str, where: str) -> float:
    low, high = _LIMITS[name]
    try:
        value = math.nan if "_" in cell else float(cell)
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        said = cell.strip()[:40] or "nothing"
        msg = f"{where}: {name} is {said}; it must be a number from {low:g} to {high:g}"
        raise InputError(msg)
    return value


def read_prices(folder: Path, name: str) -> dict[str, float]:
    """Return a farm's own prices.

    Parameters
    ----------
    folder : Path
        Folder of the farm.
    name : str
        ``[output] price_file``; empty for none.

    Returns
    -------
    dict of str to float
        Price of one unit, by the name of what is ordered.

    Raises
    ------
    InputError
        In one sentence.
    """
    if not name:
        return {}
    path = folder / name
    if not path.is_file():
        msg = f"[output] price_file names '{path.name}', which is not there; correct it"
        raise InputError(msg)
    try:
        rows = list(csv.reader(path.read_text("utf-8-sig").splitlines()))
    except UnicodeDecodeError:
        msg = f"'{path.name}' is not UTF-8 text; save it as CSV in UTF-8"
        raise InputError(msg) from None
    if not rows or [one.strip().lower() for one in rows[0]] != ["item", "price"]:
        msg = f"'{path.name}' must begin with the line: item,price"
        raise InputError(msg)
    prices: dict[str, float] = {}
    for line, row in enumerate(rows[1:], start=2):
        item = row[0].strip() if row else ""
        if item in prices:
            msg = f"'{path.name}', line {line}: {item} has a price already; keep one"
            raise InputError(msg)
        try:
            price = math.nan if "_" in row[1] else float(row[1])
        except (ValueError, IndexError):
            price = math.nan
        if not 0 <= price < math.inf or len(row) != 2:  # noqa: PLR2004 - item, price
            msg = (
                f"'{path.name}', line {line}: it is no item and price of 0 or more; "
                "mend that line (put an item with a comma in quotes)"
            )
            raise InputError(msg)
        prices[item] = price
    return prices
