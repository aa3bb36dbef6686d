"""The filling pad: its size, its falls, what it holds behind its kerb."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pathways.sizing.brief import Brief
from pathways.sizing.figure import Chapter, Figure, weakest
from pathways.sizing.wedge import (
    height_to_hold_m,
    held_one_way_m3,
    held_to_a_corner_m3,
)
from pathways.units import LITRES_PER_CUBIC_METRE

#: Sides are told in steps of this [m].
_STEP_M = 0.1
#: Kerbs of a pad that is driven on are hardly ever higher than this [m].
_HIGH_KERB_M = 0.15


@dataclass(frozen=True, kw_only=True)
class Pad:
    """The pad as it is to be built.

    Parameters
    ----------
    length_m, width_m : float
        Inner sides [m].
    fall : float
        Of the finished pad [m/m].
    both_ways : bool
        Whether it falls to a corner, else along its length.
    has_roof : bool
        Whether no rain falls on it.
    kerb_m, freeboard_m : float
        Lowest kerb above the lowest place, and what stays dry of it [m].
    held_l : float
        What it holds up to the freeboard [l].
    to_hold_l, loss_l, storm_l : float
        What a rule asks to hold, what can be lost, and a storm's rain on it [l].
    chapter : Chapter
        All that with where it comes from.
    """

    length_m: float
    width_m: float
    fall: float
    both_ways: bool
    has_roof: bool
    kerb_m: float
    freeboard_m: float
    held_l: float
    to_hold_l: float
    loss_l: float
    storm_l: float
    chapter: Chapter

    @property
    def area_m2(self) -> float:
        """Ground plan within the kerbs [m²]."""
        return self.length_m * self.width_m

    @property
    def open_m2(self) -> float:
        """Ground plan on which rain falls [m²]."""
        return 0.0 if self.has_roof else self.area_m2

    @property
    def corner_levels_m(self) -> tuple[float, float, float, float]:
        """Height of the corners above the lowest, round from it [m]."""
        along, across = self.fall * self.length_m, self.fall * self.width_m
        if not self.both_ways:
            return 0.0, along, along, 0.0
        return 0.0, along, along + across, across

    @property
    def left_over_l(self) -> float:
        """What does not stay behind the kerb and needs a tank [l]."""
        return max(0.0, self.loss_l + self.storm_l - self.held_l)


def pad_of(brief: Brief) -> Pad:
    """Size a pad.

    Parameters
    ----------
    brief : Brief
        What it is made for.

    Returns
    -------
    Pad

    Raises
    ------
    SettingsError
        If no kerb would hold what is to be held.
    """
    given, assumed = brief.settings, brief.assumed
    length_m, width_m, sides = _sides(brief)
    fall, both_ways = given.siting.pad_fall, given.pad.falls == "to_a_corner"
    kerb = brief.known(given.pad.kerb_m, "[pad] kerb_m", "pad", "kerb_m")
    free = brief.known(given.pad.freeboard_m, "[pad] freeboard_m", "pad", "freeboard_m")
    held = held_to_a_corner_m3 if both_ways else held_one_way_m3
    height_m = max(0.0, kerb.value - free.value)
    held_l = LITRES_PER_CUBIC_METRE * held(length_m, width_m, fall, height_m)
    area_m2 = length_m * width_m
    storm_l = 0.0 if given.pad.has_roof else brief.storm.value * area_m2
    to_hold, rule = _to_hold(brief, area_m2)
    to_hold_l = to_hold.value or 0.0
    # A rule may be content with less than what a full sprayer lets go.
    loss_l = max(to_hold_l, brief.full_sprayer.value)
    needs_m = height_to_hold_m(
        (loss_l + storm_l) / LITRES_PER_CUBIC_METRE,
        length_m,
        width_m,
        fall,
        both_ways=both_ways,
    )
    where = "to one corner" if both_ways else "along its length"
    figures = (
        *sides,
        Figure(
            what="fall of the finished pad",
            value=fall,
            unit="m/m",
            how=f"{where}; 1 in {1 / fall:.0f}" if fall > 0 else where,
            standing="given" if "pad_fall" in given.siting.model_fields_set else "read",
            source="farm.toml [siting] pad_fall; at least 1 in 100 in gov.uk grant "
            "item RP24, earlier version",
        ),
        to_hold,
        Figure(
            what="rain of the storm on it",
            value=storm_l,
            unit="l",
            how="none falls under its roof"
            if given.pad.has_roof
            else f"{brief.storm.value:g} mm on {area_m2:g} m²",
            standing=brief.storm.standing,
            source=brief.storm.source,
        ),
        Figure(
            what="height of the lowest kerb or drive-over bund",
            value=kerb.value,
            unit="m",
            how="above the lowest place of the pad; the lowest of all kerbs governs",
            standing=kerb.standing,
            source=kerb.source,
        ),
        Figure(
            what="what the pad holds below its freeboard",
            value=held_l,
            unit="l",
            how=f"water {height_m:g} m deep at the lowest place, {free.value:g} m of "
            f"kerb stay dry; it falls {where}",
            standing=weakest([kerb.standing, free.standing]),
            source=free.source,
        ),
        Figure(
            what="kerb that would hold it all",
            value=needs_m + free.value,
            unit="m",
            how=f"{needs_m:.3f} m of water and the freeboard",
            standing=weakest([to_hold.standing, free.standing]),
            source="by the shape of the pad",
        ),
    )
    cautions = _cautions(needs_m + free.value, held_l, loss_l + storm_l)
    if given.bed.layout == "direct":
        cautions = [
            "A direct bed has no pad to hold a loss: what is lost goes straight into "
            "the bed and out by its sump. Keep a bung or a valve there, closed while "
            "filling."
        ]
    if loss_l > to_hold_l:
        cautions.append(
            f"The rule is content with {to_hold_l:,.0f} l; a full sprayer is "
            f"{loss_l:,.0f} l, and that is what is reckoned with."
        )
    if kerb.value > _HIGH_KERB_M:
        cautions.append(
            f"A kerb of {1000 * kerb.value:.0f} mm is high to drive over: where a "
            "sprayer goes in, the bund is the lowest, and governs."
        )
    if free.value >= kerb.value:
        cautions.append("The freeboard takes the whole kerb: the pad holds nothing.")
    says = [rule] if rule else []
    specification = assumed.table["construction", "slab_m"]
    says.append(
        "Reinforced concrete on a membrane, sand and compacted hardcore, kerbs cast "
        f"together with the slab, joints sealed ({specification.source})."
    )
    return Pad(
        length_m=length_m,
        width_m=width_m,
        fall=fall,
        both_ways=both_ways,
        has_roof=given.pad.has_roof,
        kerb_m=kerb.value,
        freeboard_m=free.value,
        held_l=held_l,
        to_hold_l=to_hold_l,
        loss_l=loss_l,
        storm_l=storm_l,
        chapter=Chapter(
            title="Pad", figures=figures, says=tuple(says), cautions=tuple(cautions)
        ),
    )


def _sides(brief: Brief) -> tuple[float, float, tuple[Figure, Figure]]:
    """Return length and width, and where they come from."""
    sprayer, given = brief.settings.sprayer, brief.settings.siting.pad_size_m
    if given:
        sides = given[0], given[1]
        how, standing, source = "as given", "given", "farm.toml [siting] pad_size_m"
    elif sprayer.length_m is not None and sprayer.width_m is not None:
        margin = brief.known(
            brief.settings.pad.margin_m, "[pad] margin_m", "pad", "margin_m"
        )
        sides = (
            _up(sprayer.length_m + 2 * margin.value),
            _up(sprayer.width_m + 2 * margin.value),
        )
        how = f"the folded sprayer and {margin.value:g} m on each side"
        standing = weakest([margin.standing, "given"])
        source = f"farm.toml [sprayer]; {margin.source}"
    else:
        table = brief.assumed.table
        length = table["siting", "pad_length_m"]
        sides = length.value, table["siting", "pad_width_m"].value
        how = "assumed; give [sprayer] length_m and width_m"
        standing, source = length.standing, length.source
    figures = tuple(
        Figure(
            what=f"{name} of the pad within its kerbs",
            value=side,
            unit="m",
            how=how,
            standing=standing,
            source=source,
        )
        for name, side in zip(("length", "width"), sides, strict=True)
    )
    return sides[0], sides[1], (figures[0], figures[1])


def _up(side_m: float) -> float:
    return round(math.ceil(round(side_m / _STEP_M, 6)) * _STEP_M, 6)


def _to_hold(brief: Brief, area_m2: float) -> tuple[Figure, str]:
    """Return what the pad is to hold, and the rule in words."""
    row = brief.containment_of("pad")
    largest = brief.full_sprayer
    if row is None:
        return (
            Figure(
                what="what the pad is to hold",
                value=largest.value,
                unit="l",
                how="one full sprayer: no rule for pads was read",
                standing=weakest([largest.standing, "assumed"]),
                source=largest.source,
            ),
            "",
        )
    held = row.held(has_roof=brief.settings.pad.has_roof)
    volume_l, clause = held.volume_l(largest.value, largest.value, area_m2)
    rule = f"{row.says} [{row.citation.text}; {row.standing.replace('_', ' ')}]"
    if row.note:
        rule += f" ({row.note})"
    if row.adds_displacement:
        rule += ". What stands in it and takes its room comes on top"
    return (
        Figure(
            what="what the pad is to hold",
            value=volume_l,
            unit="l",
            how=f"{clause}: a full sprayer of {largest.value:,.0f} l",
            standing=weakest([row.standing, largest.standing]),
            source=f"{row.id}, {row.citation.text}; {largest.source}",
        ),
        f"{rule}.",
    )


def _cautions(needs_m: float, held_l: float, to_hold_l: float) -> list[str]:
    if held_l >= to_hold_l:
        return []
    told = [
        f"The pad alone does not hold it: {to_hold_l - held_l:,.0f} l must go into a "
        "tank or sump that is empty when it happens."
    ]
    if needs_m > _HIGH_KERB_M:
        told.append(
            f"A kerb of {1000 * needs_m:.0f} mm would hold it all, which is high to "
            "drive over: volume belongs in a tank."
        )
    return told
