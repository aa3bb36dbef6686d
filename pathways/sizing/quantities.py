"""What to order and dig, from the sizes; what to ask before anybody digs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from pathways.sizing.bed import Bed
from pathways.sizing.brief import Brief
from pathways.sizing.figure import Chapter, Figure
from pathways.sizing.pad import Pad
from pathways.sizing.year import Year

_SECONDS_PER_HOUR: Final = 3600.0

#: What a contractor asks and a drawing must settle; common practice, no source.
ASK_FIRST: Final = (
    "Services: have cables, gas, water and drains located before anybody digs.",
    "Land drains: look for them in the trench; block or lead them round the hole.",
    "Excavation: no one stands in a hole deeper than about 1 m without support or a "
    "safe slope.",
    "Joints: where the slab is divided, sealed against what is handled on it.",
    "Concrete: grade and reinforcement for the heaviest axle, by your engineer.",
    "Spoil: where it lies; not in a flood zone and not above the water.",
    "Planning, archaeology, building control, insurance: ask early.",
)

#: Lists to keep once it works.
RECORDS: Final = (
    ("Washings log", ("date", "sprayer", "litres", "product", "by")),
    (
        "Inspection, monthly when in use",
        (
            "date",
            "kerbs and joints",
            "valve on tank",
            "pump and float",
            "tank level",
            "by",
        ),
    ),
    ("Mix: topped up and replaced", ("date", "m³ added", "depth after", "by")),
    (
        "Drains, covers and spill kit, each half-year and after storms",
        ("date", "lids and gullies", "covers seal", "kit complete", "outfalls", "by"),
    ),
    (
        "Spills and near misses",
        ("date", "where", "what, litres", "where it went", "who was told", "by"),
    ),
    ("Waste taken away", ("date", "what", "litres or kg", "carrier", "note no.")),
)


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing to order or to dig.

    Parameters
    ----------
    name : str
        Also its name in the farm's price file.
    amount : float
        How much.
    unit : str
        As people order it.
    how : str
        How it was found.
    price : float or None
        Of all of it, in the money of the farm's price file; None where it is not there.
    """

    name: str
    amount: float
    unit: str
    how: str
    price: float | None = None


def items_of(
    brief: Brief, pad: Pad, bed: Bed | None, year: Year | None
) -> tuple[Item, ...]:
    """Return what to order and dig.

    Parameters
    ----------
    brief : Brief
        Thicknesses, laps, prices.
    pad : Pad
        As sized.
    bed : Bed or None
        As sized; without one only the pad is told.
    year : Year or None
        For the tank.

    Returns
    -------
    tuple of Item
        Without waste but for laps, settling and compaction.
    """
    items = [] if bed is not None and bed.is_direct else list(_of_the_pad(brief, pad))
    if bed is not None and bed.is_direct:
        items.append(
            Item(
                name="grid to stand on",
                amount=pad.area_m2,
                unit="m²",
                how="over the bed, for the sprayer's axles; to be designed",
            )
        )
    if bed is not None:
        items += _of_the_bed(brief, bed)
    if year is not None:
        items += _of_the_tank(brief, pad, bed, year)
    prices = brief.prices or {}
    return tuple(
        Item(
            name=one.name,
            amount=one.amount,
            unit=one.unit,
            how=one.how,
            price=one.amount * prices[one.name] if one.name in prices else None,
        )
        for one in items
    )


def _of_the_pad(brief: Brief, pad: Pad) -> Iterator[Item]:
    assumed = brief.assumed
    wide_m = assumed["construction", "kerb_width_m"]
    length_m, width_m = pad.length_m + 2 * wide_m, pad.width_m + 2 * wide_m
    area_m2 = length_m * width_m
    slab_m = assumed["construction", "slab_m"]
    under_m = assumed["construction", "hardcore_m"]
    sand_m = assumed["construction", "sand_m"]
    laps = 1 + assumed["construction", "lap_share"]
    round_m = 2 * (length_m + width_m) - 4 * wide_m
    kerb_m3 = round_m * wide_m * pad.kerb_m
    membrane = brief.assumed.table["construction", "membrane_gauge"]
    outer = f"{length_m:.1f} by {width_m:.1f} m with its kerbs"
    yield Item(
        name="concrete, slab",
        amount=area_m2 * slab_m,
        unit="m³",
        how=f"{outer}, {1000 * slab_m:.0f} mm",
    )
    yield Item(
        name="concrete, kerbs",
        amount=kerb_m3,
        unit="m³",
        how=f"{round_m:.1f} m of kerb, "
        f"{1000 * wide_m:.0f} by {1000 * pad.kerb_m:.0f} mm",
    )
    yield Item(name="mesh", amount=area_m2 * laps, unit="m²", how=f"{outer}, with laps")
    yield Item(
        name="membrane under the slab",
        amount=area_m2 * laps,
        unit="m²",
        how=f"{outer}, with laps; {membrane.value:.0f} gauge ({membrane.source})",
    )
    yield Item(
        name="sand under the slab",
        amount=area_m2 * sand_m,
        unit="m³",
        how=f"{1000 * sand_m:.0f} mm",
    )
    yield Item(
        name="hardcore",
        amount=area_m2 * under_m * assumed["construction", "compaction"],
        unit="m³",
        how=f"{1000 * under_m:.0f} mm compacted",
    )
    yield Item(
        name="excavation, pad",
        amount=area_m2 * (slab_m + under_m + sand_m),
        unit="m³",
        how="level ground; cut and fill of the site come besides",
    )


def _of_the_bed(brief: Brief, bed: Bed) -> list[Item]:
    assumed = brief.assumed
    over_m = assumed["bed", "liner_overlap_m"]
    liner = assumed.table["bed", "liner_mm"]
    laid_m = bed.side_m + 2 * bed.depth_m + 2 * over_m
    dug_m3 = bed.area_m2 * (bed.depth_m + assumed["bed", "sand_m"])
    figures = {one.what: one for one in bed.chapter.figures}
    found = [
        Item(
            name="excavation, bed",
            amount=dug_m3,
            unit="m³",
            how=f"upright sides, {bed.depth_m:g} m and the sand",
        ),
        Item(
            name="spoil of the bed, loose",
            amount=dug_m3 * assumed["construction", "bulking"],
            unit="m³",
            how="loosened",
        ),
        Item(
            name="liner",
            amount=laid_m**2,
            unit="m²",
            how=f"a square bed of {bed.side_m:.1f} m, its sides, and {over_m:g} m over "
            f"the rim; {liner.value:g} mm thick ({liner.source})",
        ),
        Item(
            name="fleece under the liner", amount=laid_m**2, unit="m²", how="as liner"
        ),
        Item(
            name="sand under the liner",
            amount=bed.area_m2 * assumed["bed", "sand_m"],
            unit="m³",
            how=f"{1000 * assumed['bed', 'sand_m']:.0f} mm",
        ),
    ]
    for name in ("straw", "topsoil", "compost, without peat"):
        figure = figures[name]
        found.append(
            Item(name=name, amount=figure.value or 0.0, unit="m³", how=figure.how)
        )
    found.append(Item(name="turf", amount=bed.area_m2, unit="m²", how="on the mix"))
    return found


def _of_the_tank(brief: Brief, pad: Pad, bed: Bed | None, year: Year) -> Iterator[Item]:
    if bed is None or bed.is_direct or not math.isfinite(year.needed_l):
        return
    is_daily = brief.weather is not None and brief.weather.is_daily
    # A record of days may have seen a storm as great; a mean month has seen none.
    working_l = (
        max(year.needed_l, pad.storm_l) if is_daily else year.needed_l + pad.storm_l
    )
    # A loss can come when the tank is as full as it ever is.
    loss_l = max(0.0, pad.loss_l - pad.held_l)
    yield Item(
        name="tank",
        amount=working_l + loss_l,
        unit="l",
        how=f"{working_l:,.0f} l for washings, rain and the storm on the pad, and "
        f"{loss_l:,.0f} l of a loss that the pad does not hold",
    )
    pipe_m = brief.assumed["pump", "pipe_m"]
    yield Item(name="pipe and duct", amount=pipe_m, unit="m", how="assumed; measure it")


def pump_of(brief: Brief, bed: Bed) -> tuple[Figure, Figure]:
    """Return flow and head of the pump that doses a bed.

    Parameters
    ----------
    brief : Brief
        Hours, and the head that spreading needs.
    bed : Bed
        Dose and depth.

    Returns
    -------
    tuple of Figure
        Flow [l/s] and head [m]; the pump in the bed's sump lifts as high.
    """
    hours = brief.assumed.table["pump", "hours"]
    spread = brief.assumed.table["pump", "spread_m"]
    sump = brief.assumed.table["bed", "sump_m"]
    day_l = bed.dose_l_per_m2 * bed.area_m2
    flow = day_l / (hours.value * _SECONDS_PER_HOUR)
    return (
        Figure(
            what="flow of the dosing pump",
            value=flow if math.isfinite(flow) else None,
            unit="l/s",
            how=f"{day_l:,.0f} l in {hours.value:g} h"
            if math.isfinite(flow)
            else "a direct bed is not dosed",
            standing=hours.standing,
            source=hours.source,
        ),
        Figure(
            what="head of a pump in the sump",
            value=bed.depth_m + sump.value + spread.value,
            unit="m",
            how=f"{bed.depth_m:g} m of mix, {sump.value:g} m of sump, {spread.value:g} "
            "m to spread it; friction and levels of the site besides",
            standing=spread.standing,
            source=f"{sump.source}; {spread.source}",
        ),
    )


def quantities_of(brief: Brief, bed: Bed | None, items: tuple[Item, ...]) -> Chapter:
    """Return the chapter on what to order, with its total if prices were given.

    Parameters
    ----------
    brief : Brief
        Axle load and prices.
    bed : Bed or None
        As sized.
    items : tuple of Item
        From `items_of`.

    Returns
    -------
    Chapter
    """
    figures: tuple[Figure, ...] = () if bed is None else pump_of(brief, bed)
    axle_t = brief.settings.sprayer.axle_load_t
    axle = (
        "the heaviest axle is not given ([sprayer] axle_load_t)"
        if axle_t is None
        else f"the heaviest axle carries {axle_t:g} t"
    )
    says = [f"For the slab: {axle}."]
    priced = [one.price for one in items if one.price is not None]
    unused = sorted(set(brief.prices or {}) - {one.name for one in items})
    cautions = [
        "Sizes from a grid and from assumptions are for planning and prices, not for "
        "construction: have levels surveyed and works designed."
    ]
    if priced:
        missing = [one.name for one in items if one.price is None]
        figures += (
            Figure(
                what="sum of your prices",
                value=sum(priced),
                unit="",
                how=f"{len(priced)} of {len(items)} items",
                standing="given",
                source="farm.toml [output] price_file",
            ),
        )
        if missing:
            cautions.append(
                f"Without a price, so not in the sum: {', '.join(missing)}."
            )
    if unused:
        cautions.append(
            f"Prices that fit nothing in the list, so not used: {', '.join(unused)}. "
            "Names are those of the list, prices those of one unit there."
        )
    return Chapter(
        title="What to order",
        figures=figures,
        says=tuple(says),
        cautions=tuple(cautions),
    )
