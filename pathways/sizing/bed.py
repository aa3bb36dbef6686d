"""The bed: how large by what was published, and what it is filled with."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pathways.assumed import AssumedValue
from pathways.errors import SettingsError
from pathways.sizing.brief import Brief
from pathways.sizing.figure import Chapter, Figure, weakest
from pathways.sizing.pad import Pad

Values = NDArray[np.float64]

#: Shares of the mix by volume: straw, topsoil, compost (published biobed guidance;
#: English grant specification RP25, read in copies).
MIX = (("straw", 0.5), ("topsoil", 0.25), ("compost, without peat", 0.25))
_UNCERTAIN = (
    "The published loadings are few, from other climates and partly unconfirmed: they "
    "give a range, not an answer. Agree the size with your adviser and regulator."
)


@dataclass(frozen=True, kw_only=True)
class Bed:
    """The bed as it is to be built.

    Parameters
    ----------
    area_m2, depth_m : float
        Of the mix [m², m].
    dose_l_per_m2 : float
        What it may be given in a day [l/m²]; infinite where nothing evens it out.
    is_direct : bool
        Whether the sprayer stands over it.
    chapter : Chapter
        All that with where it comes from.
    """

    area_m2: float
    depth_m: float
    dose_l_per_m2: float
    is_direct: bool
    chapter: Chapter

    @property
    def side_m(self) -> float:
        """Side of a square bed of its area [m]."""
        return math.sqrt(self.area_m2)


def bed_of(brief: Brief, pad: Pad, pad_rain_l_per_year: float | None) -> Bed | None:
    """Size a bed.

    Parameters
    ----------
    brief : Brief
        What it is made for.
    pad : Pad
        From which rain comes, or, of a direct bed, what it must take in.
    pad_rain_l_per_year : float or None
        Rain that runs off the pad in a mean year [l]; None where it is not known.

    Returns
    -------
    Bed or None
        None where washings or rain are not given, for it is never sized by a guess,
        and where there is nothing to treat.

    Raises
    ------
    SettingsError
        If a given size is impossible.
    """
    given = brief.settings.bed
    washings_l = brief.washings_l
    if given.area_m2 is None and (washings_l is None or pad_rain_l_per_year is None):
        return None
    is_direct = given.layout == "direct"
    depth = brief.known(given.depth_m, "[bed] depth_m", "bed", "depth_m")
    dose = brief.known(
        given.dose_l_per_m2, "[bed] dose_l_per_m2", "bed", "day_dose_l_per_m2"
    )
    by_loading = _by_loading(brief, pad_rain_l_per_year)
    if given.area_m2 is None and not any(one.value for one in by_loading):
        return None  # nothing to treat
    area = _chosen(brief, pad, by_loading)
    area_m2 = area.value or 0.0
    if is_direct and area_m2 < pad.area_m2:
        msg = (
            f"farm.toml, [bed] area_m2 is {area_m2:g}, and the sprayer that stands "
            f'over it takes {pad.area_m2:g} m²; give a larger bed, or layout = "offset"'
        )
        raise SettingsError(msg)
    figures = (
        *by_loading,
        area,
        Figure(
            what="depth of the mix",
            value=depth.value,
            unit="m",
            standing=depth.standing,
            source=depth.source,
        ),
        Figure(
            what="most that it is given in a day",
            value=None if is_direct else dose.value,
            unit="l/m²",
            how="nothing evens it out: it takes what falls" if is_direct else "",
            standing=dose.standing,
            source=dose.source,
        ),
        *_mix(brief, area_m2, depth),
    )
    cautions = [_UNCERTAIN]
    if is_direct:
        cautions.append(
            "A direct bed has no tank: rain and washings come as they come, and a pump "
            "that fails or a frozen bed stops the work."
        )
    return Bed(
        area_m2=area_m2,
        depth_m=depth.value,
        dose_l_per_m2=math.inf if is_direct else dose.value,
        is_direct=is_direct,
        chapter=Chapter(
            title="Bed",
            figures=figures,
            says=(
                "Lined, with fleece under the liner and an outlet or a sump with a "
                "float-switched pump at its low end; turf on top. Top the mix up every "
                "year; replace it after 4 to 8 years (published: 4 to 6 in England, 5 "
                "to 8 in Sweden).",
            ),
            cautions=tuple(cautions),
        ),
    )


def _by_loading(brief: Brief, pad_rain_l: float | None) -> tuple[Figure, ...]:
    """Return the area by each published loading, for what comes from the pad."""
    if brief.washings_l is None:
        return ()
    washings_l = float(brief.washings_l.sum())
    year = brief.assumed.table["bed", "year_loading_mm"]
    season = brief.assumed.table["bed", "season_loading_mm"]
    load_l = None if pad_rain_l is None else washings_l + pad_rain_l
    return (
        Figure(
            what="bed by a year's loading",
            value=None if load_l is None else load_l / year.value,
            unit="m²",
            how="the rain is not given"
            if load_l is None
            else f"{load_l:,.0f} l of washings and rain from the pad over "
            f"{year.value:,.0f} mm",
            standing=year.standing,
            source=year.source,
        ),
        Figure(
            what="bed by a season's loading",
            value=washings_l / season.value,
            unit="m²",
            how=f"{washings_l:,.0f} l of washings over {season.value:,.0f} mm",
            standing=season.standing,
            source=season.source,
        ),
    )


def _chosen(brief: Brief, pad: Pad, by_loading: tuple[Figure, ...]) -> Figure:
    """Return the area that is reckoned with."""
    given = brief.settings.bed
    what = "area of the bed"
    if given.area_m2 is not None:
        return Figure(
            what=what,
            value=given.area_m2,
            unit="m²",
            how="as given",
            standing="given",
            source="farm.toml [bed] area_m2",
        )
    if given.loading_mm_per_year is not None:
        load_l = (by_loading[0].value or 0.0) * brief.assumed["bed", "year_loading_mm"]
        area_m2 = load_l / given.loading_mm_per_year
        how = f"by the {given.loading_mm_per_year:,.0f} mm a year that were given"
        standing, source = "given", "farm.toml [bed] loading_mm_per_year"
    else:
        greatest = max(by_loading, key=lambda one: one.value or 0.0)
        area_m2 = greatest.value or 0.0
        how = "the greatest of the published ones, which is the cautious one"
        standing, source = greatest.standing, greatest.source
    if given.layout == "direct" and area_m2 < pad.area_m2:
        area_m2, how = pad.area_m2, "as large as the sprayer that stands over it"
        standing, source = "computed", "the sides of the pad"
    return Figure(
        what=what,
        value=math.ceil(area_m2),
        unit="m²",
        how=how,
        standing=standing,
        source=source,
    )


def _mix(brief: Brief, area_m2: float, depth: AssumedValue) -> tuple[Figure, ...]:
    """Return what the bed is filled with, before it settles."""
    settles = brief.assumed.table["bed", "settling_share"]
    settled_m3 = area_m2 * depth.value
    loose_m3 = settled_m3 / (1 - settles.value)
    return (
        Figure(
            what="mix to be brought",
            value=loose_m3,
            unit="m³",
            how=f"{settled_m3:.1f} m³ when it has settled by "
            f"{100 * settles.value:.0f} %",
            standing=weakest([settles.standing, depth.standing]),
            source=settles.source,
        ),
        *(
            Figure(
                what=name,
                value=share * loose_m3,
                unit="m³",
                how=f"{share:.0%} by volume".replace("%", " %"),
                standing="read",
                source="published biobed guidance: 2 straw, 1 topsoil, 1 compost",
            )
            for name, share in MIX
        ),
    )
