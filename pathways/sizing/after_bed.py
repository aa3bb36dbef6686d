"""Where treated water goes after the bed."""

from __future__ import annotations

from typing import Final

from pathways.sizing.brief import Brief
from pathways.sizing.figure import Chapter, Figure, weakest
from pathways.sizing.weather import MONTH_NAMES
from pathways.sizing.year import Year
from pathways.units import LITRES_PER_CUBIC_METRE, MILLIMETRES_PER_METRE

_HOURS_PER_DAY: Final = 24.0
#: Of a soil that is not in the table nothing is said.
_SOILS: Final = ("sandy_loam", "loam", "clay_loam", "clay")
_NO_RULE: Final = (
    "No distance for ground that takes treated water was read: keep it as far from "
    "water, wells and drains as the bed, and ask."
)


def trickle_area_m2(
    volume_l_per_day: float, infiltration_mm_per_h: float, duty: float
) -> float:
    """Return the ground that takes trickled water day by day.

    Parameters
    ----------
    volume_l_per_day : float
        Water to be got rid of [l/day].
    infiltration_mm_per_h : float
        Basic infiltration of the soil [mm/h].
    duty : float
        Long-term acceptance over that, 0 to 1.

    Returns
    -------
    float
        V / (duty f 24 h) [m²].

    Examples
    --------
    >>> [round(trickle_area_m2(500.0, rate, 0.1)) for rate in (1.0, 5.0, 10.0, 20.0)]
    [208, 42, 21, 10]
    """
    day_m = duty * infiltration_mm_per_h * _HOURS_PER_DAY / MILLIMETRES_PER_METRE
    return volume_l_per_day / LITRES_PER_CUBIC_METRE / day_m


def after_bed_of(brief: Brief, year: Year) -> Chapter:
    """Say how much ground the treated water needs, and when it takes none.

    Parameters
    ----------
    brief : Brief
        Soil and weather.
    year : Year
        What leaves the bed.

    Returns
    -------
    Chapter
        Not resolved where the soil is not given or its infiltration was not read.
    """
    texture = brief.settings.soil.texture
    if brief.weather is None or not brief.weather.is_daily:
        why = "a mean month hides its wet days; give a daily record"
        area = Figure(what="ground for trickling", value=None, unit="m²", how=why)
    elif texture not in _SOILS:
        why = (
            "[soil] texture is not given"
            if texture is None
            else f"no infiltration of {texture.replace('_', ' ')} was "
            "read; have it measured"
        )
        area = Figure(what="ground for trickling", value=None, unit="m²", how=why)
    else:
        rate = brief.assumed.table["acceptance", f"{texture}_mm_per_h"]
        duty = brief.assumed.table["acceptance", "duty"]
        safety = brief.assumed.table["acceptance", "safety_factor"]
        per_day_l = year.most_effluent_l_per_day
        area = Figure(
            what="ground for trickling",
            value=safety.value * trickle_area_m2(per_day_l, rate.value, duty.value),
            unit="m²",
            how=f"{per_day_l:,.0f} l on the wettest day, "
            f"{duty.value:g} of {rate.value:g} mm/h",
            standing=weakest([rate.standing, duty.standing, safety.standing]),
            source=f"{rate.source}; {duty.source}",
        )
    return Chapter(
        title="After the bed",
        figures=(area,),
        says=tuple(_when(brief)),
        cautions=(_not_clean(brief), _NO_RULE),
    )


def _not_clean(brief: Brief) -> str:
    removed = brief.assumed.table["bed", "removed_share"]
    return (
        f"Water that leaves a bed is cleaner, not clean: {100 * removed.value:.1f} % "
        f"were removed in one that was measured ({removed.source}). Where it goes "
        "needs your regulator's word; never to a watercourse or a drain. To use it "
        "again for the next filling is the surest."
    )


def _when(brief: Brief) -> list[str]:
    """Return in which months soil has no room for it."""
    weather = brief.weather
    if weather is None:
        return []
    rain = weather.by_month(weather.rain_mm)
    air = weather.by_month(weather.evaporation_mm)
    wet = [name for name, one in zip(MONTH_NAMES, rain > air, strict=True) if one]
    if not wet:
        return ["In no month of a mean year is there more rain than evaporation."]
    return [
        f"In {', '.join(wet)} there is more rain than evaporation: the soil has no "
        "room for it, so it must be stored or used again."
    ]
