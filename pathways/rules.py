"""Rulebooks: each number of law or guidance, and where it stands."""

from __future__ import annotations

#: How firmly a number is known, firmest first.
STANDINGS = (
    "measured",
    "read",
    "given",
    "computed",
    "second_hand",
    "from_memory",
    "common_practice",
    "assumed",
)
