"""A design of pad, tank and bed as plain values."""

from __future__ import annotations

from typing import Any

from pathways.io._numbers import RATIO_DIGITS, number
from pathways.sizing.design import Design
from pathways.sizing.figure import Chapter


def design_document(design: Design | None) -> dict[str, Any] | None:
    """Return a design as plain values; None where there is none.

    Parameters
    ----------
    design : Design or None
        From `pathways.sizing.design`.

    Returns
    -------
    dict or None
        Volumes in litres where the name ends in ``_l``; what is not resolved is None.
    """
    if design is None:
        return None
    pad, bed, year, flotation = (
        design.pad,
        design.bed,
        design.year,
        design.flotation,
    )
    return {
        "pad": {
            "length_m": number(pad.length_m),
            "width_m": number(pad.width_m),
            "fall": number(pad.fall, RATIO_DIGITS),
            "falls_to_a_corner": pad.both_ways,
            "has_roof": pad.has_roof,
            "kerb_m": number(pad.kerb_m),
            "freeboard_m": number(pad.freeboard_m),
            "held_l": number(pad.held_l),
            "to_hold_l": number(pad.to_hold_l),
            "loss_l": number(pad.loss_l),
            "storm_l": number(pad.storm_l),
            "left_over_l": number(pad.left_over_l),
        },
        "bed": None
        if bed is None
        else {
            "area_m2": number(bed.area_m2),
            "depth_m": number(bed.depth_m),
            "dose_l_per_m2": number(bed.dose_l_per_m2),
            "is_direct": bed.is_direct,
        },
        "balance": None
        if year is None
        else {
            "tank_l": number(year.tank_l),
            "needed_l": number(year.needed_l),
            "effluent_l_per_year": number(year.effluent_l_per_year),
            "by_month": {
                name: [number(one) for one in values]
                for name, values in year.by_month_l.items()
            },
        },
        "flotation": None
        if flotation is None
        else {
            "head_m": number(flotation.head_m),
            "allowed_m": number(flotation.allowed_m),
            "fill_m": number(flotation.fill_m),
            "floats": flotation.floats,
        },
        "quantities": [
            {
                "name": one.name,
                "amount": number(one.amount),
                "unit": one.unit,
                "how": one.how,
                "price": number(one.price),
            }
            for one in design.items
        ],
        "chapters": [_chapter(one) for one in design.chapters],
        "in_short": list(design.in_short),
        "missing": list(design.missing),
    }


def _chapter(chapter: Chapter) -> dict[str, Any]:
    return {
        "title": chapter.title,
        "figures": [
            {
                "what": one.what,
                "value": number(one.value, RATIO_DIGITS),
                "unit": one.unit,
                "how": one.how,
                "standing": one.standing,
                "source": one.source,
            }
            for one in chapter.figures
        ],
        "says": list(chapter.says),
        "cautions": list(chapter.cautions),
    }
