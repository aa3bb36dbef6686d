"""Pad, tank and bed together: one design, chapter by chapter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pathways.features import Source
from pathways.sizing.after_bed import after_bed_of
from pathways.sizing.bed import Bed, bed_of
from pathways.sizing.brief import Brief
from pathways.sizing.figure import Chapter
from pathways.sizing.flotation import Flotation, flotation_of
from pathways.sizing.levels import levels_of
from pathways.sizing.pad import Pad, pad_of
from pathways.sizing.quantities import Item, items_of, quantities_of
from pathways.sizing.stores import stores_of
from pathways.sizing.year import Year, pad_rain_l_per_year, year_of


@dataclass(frozen=True, kw_only=True)
class Design:
    """One design of pad, tank and bed.

    Parameters
    ----------
    pad : Pad
        The pad.
    bed : Bed or None
        None where washings or rain are not given.
    year : Year or None
        Water through the year; None where that is not known.
    flotation : Flotation or None
        None without a bed.
    items : tuple of Item
        What to order.
    chapters : tuple of Chapter
        All numbers with where they come from, in the order in which they are told.
    missing : tuple of str
        What must be given before the rest is resolved.
    tank_there_l : float or None
        What a tank that is there holds [l].
    """

    pad: Pad
    bed: Bed | None
    year: Year | None
    flotation: Flotation | None
    items: tuple[Item, ...]
    chapters: tuple[Chapter, ...]
    missing: tuple[str, ...]
    tank_there_l: float | None = None

    @property
    def in_short(self) -> tuple[str, ...]:
        """The design in a few lines, what is open among them."""
        pad, bed, flotation = self.pad, self.bed, self.flotation
        lines = [
            f"Pad {pad.length_m:g} by {pad.width_m:g} m within its kerbs"
            f"{', under a roof' if pad.has_roof else ''}: it is to hold "
            f"{pad.loss_l:,.0f} l and {pad.storm_l:,.0f} l of a storm, and holds "
            f"{pad.held_l:,.0f} l behind a kerb of {1000 * pad.kerb_m:.0f} mm."
        ]
        if pad.left_over_l > 0:
            lines[0] += (
                f" The pad alone does NOT hold it: {pad.left_over_l:,.0f} l more must "
                "find room in an empty tank, or behind a higher kerb."
            )
        lines += [
            f"Tank of {one.amount:,.0f} l at least: {one.how}."
            for one in self.items
            if one.name == "tank"
        ]
        wanted_l = next((one.amount for one in self.items if one.name == "tank"), 0.0)
        if self.tank_there_l is not None and self.tank_there_l < wanted_l:
            lines.append(
                f"The tank that is there holds {self.tank_there_l:,.0f} l: TOO SMALL "
                f"by {wanted_l - self.tank_there_l:,.0f} l."
            )
        if bed is None:
            lines.append("Bed and tank: not resolved, see what is missing.")
        elif not bed.is_direct and not wanted_l:
            lines.append(
                "Tank: NOT RESOLVED. More comes in a year than a bed of this size may "
                "be given, so no tank is enough: a larger bed, a roof, or less."
                if self.year is not None
                else "Tank: not resolved, see what is missing."
            )
        if bed is not None:
            under = ", under the sprayer" if bed.is_direct else ""
            lines.append(f"Bed {bed.area_m2:g} m², {bed.depth_m:g} m deep{under}.")
        if flotation is not None:
            floats = {
                None: "Whether the bed floats in winter is not resolved.",
                True: "The bed FLOATS in winter, even when it is full.",
                False: "Full, the bed stays down at the water level given.",
            }
            lines.append(floats[flotation.floats])
        return tuple(lines)


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where it is built, as far as that is known.

    Parameters
    ----------
    name : str
        What the site is called.
    level_m : float or None
        Height of the finished pad's middle [m].
    depth_to_water_m : float or None
        From the ground to the water in winter [m].
    """

    name: str = ""
    level_m: float | None = None
    depth_to_water_m: float | None = None


def pad_and_bed_of(brief: Brief) -> tuple[Pad, Bed | None]:
    """Size pad and bed alone, as a search for their place needs them.

    Parameters
    ----------
    brief : Brief
        What they are made for.

    Returns
    -------
    tuple of Pad and Bed or None
        No bed where nothing is known to be treated.

    Raises
    ------
    SettingsError
        If sizes that were given are impossible.
    """
    pad = pad_of(brief)
    return pad, bed_of(brief, pad, pad_rain_l_per_year(brief, pad))


def design_of(
    brief: Brief, spot: Spot | None = None, sources: Iterable[Source] = ()
) -> Design:
    """Size pad, tank and bed.

    Parameters
    ----------
    brief : Brief
        What it is made for.
    spot : Spot or None
        Where it is built; without it levels are above the sump only.
    sources : iterable of Source
        Stores, whose bunds are sized too.

    Returns
    -------
    Design
        What cannot be resolved is named in `missing`, never guessed.

    Raises
    ------
    SettingsError
        If sizes that were given are impossible.
    """
    spot = spot or Spot()
    pad, bed = pad_and_bed_of(brief)
    year = None if bed is None else year_of(brief, pad, bed)
    depth_m = spot.depth_to_water_m
    if depth_m is None:
        depth_m = brief.settings.soil.depth_to_water_m
    flotation = None if bed is None else flotation_of(brief, bed, depth_m)
    items = items_of(brief, pad, bed, year)
    sump = brief.assumed.table["construction", "pad_sump_m"]
    chapters = [pad.chapter, levels_of(pad, sump, spot.level_m, spot.name)]
    chapters += [] if bed is None else [bed.chapter]
    chapters += [] if year is None else [year.chapter, after_bed_of(brief, year)]
    chapters += [] if flotation is None else [flotation.chapter]
    stores = stores_of(brief, sources)
    chapters += [] if stores is None else [stores]
    chapters.append(quantities_of(brief, bed, items))
    return Design(
        pad=pad,
        bed=bed,
        year=year,
        flotation=flotation,
        items=items,
        chapters=tuple(chapters),
        missing=tuple(_missing(brief, bed)),
        tank_there_l=brief.settings.pad.tank_l,
    )


def _missing(brief: Brief, bed: Bed | None) -> list[str]:
    told = []
    if bed is None and brief.washings_l is not None and brief.weather is not None:
        told.append(
            "there is nothing to treat: no washings are given in any month, and no "
            "rain falls on the pad; check [washings] times"
        )
    if brief.washings_l is None:
        told.append(
            "washings are not given: write [washings] times (twelve numbers) and "
            "each_l in farm.toml; they are never guessed"
        )
    if brief.weather is None:
        told.append(
            "the weather is not given: write [climate] daily_file, or rain_mm and "
            "evaporation_mm (or temperatures and latitude_degrees), in farm.toml"
        )
    return told
