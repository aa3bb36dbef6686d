"""Feet and gallons for readers who want them; metric numbers are what was found."""

from __future__ import annotations

from typing import Any

from pathways.pages import words
from pathways.units import (
    CENTIMETRES_PER_METRE,
    INCHES_PER_FOOT,
    LITRES_PER_CUBIC_METRE,
    LITRES_PER_IMPERIAL_GALLON,
    LITRES_PER_US_GALLON,
    METRES_PER_FOOT,
    MILLIMETRES_PER_METRE,
)


def other_units() -> list[dict[str, Any]]:
    """Return the systems of units that a page offers, the metric one first.

    Returns
    -------
    list of dict
        `name`, and `units`: for each metric unit the name of the other and by how much
        a number is multiplied; None of the metric system.
    """
    inches_per_metre = INCHES_PER_FOOT / METRES_PER_FOOT
    feet = {
        "mm": {"name": "in", "times": inches_per_metre / MILLIMETRES_PER_METRE},
        "cm": {"name": "in", "times": inches_per_metre / CENTIMETRES_PER_METRE},
        "m": {"name": "ft", "times": 1 / METRES_PER_FOOT},
        "m²": {"name": "sq ft", "times": METRES_PER_FOOT**-2},
    }
    offered: list[dict[str, Any]] = [{"name": words.UNITS["metric"], "units": None}]
    for system, gallon_l in (
        ("us", LITRES_PER_US_GALLON),
        ("imperial", LITRES_PER_IMPERIAL_GALLON),
    ):
        gallons = {
            "l": {"name": "gal", "times": 1 / gallon_l},
            "m³": {"name": "gal", "times": LITRES_PER_CUBIC_METRE / gallon_l},
        }
        offered.append({"name": words.UNITS[system], "units": feet | gallons})
    return offered
