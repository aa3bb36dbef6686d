"""Levels of the pad's corners, and where a site is known, in its datum."""

from __future__ import annotations

from pathways.assumed import AssumedValue
from pathways.sizing.figure import Chapter, Figure
from pathways.sizing.pad import Pad

_NOT_FOR_CONSTRUCTION = (
    "NOT FOR CONSTRUCTION: levels come from a grid, which cannot set out a fall of 1 "
    "in 100. Have a bench mark set and levels surveyed first."
)
_CORNERS = (
    "the lowest corner, at the sump",
    "the next",
    "the opposite one",
    "the last",
)


def levels_of(
    pad: Pad, sump: AssumedValue, middle_level_m: float | None, site: str
) -> Chapter:
    """Return the levels of a pad's corners.

    Parameters
    ----------
    pad : Pad
        As sized.
    sump : AssumedValue
        From the pad's lowest corner down to the outlet [m].
    middle_level_m : float or None
        Height at which the finished pad's middle balances cut and fill [m]; None where
        no site is known.
    site : str
        What the site is called.

    Returns
    -------
    Chapter
        Levels above the sump, and those in the grid's datum.
    """
    corners = pad.corner_levels_m
    mean_m = sum(corners) / len(corners)
    figures = []
    for name, above_m in zip(_CORNERS, corners, strict=True):
        level = ""
        if middle_level_m is not None:
            level = f"{middle_level_m + above_m - mean_m:.2f} m in the grid's datum"
        figures.append(
            Figure(
                what=f"level of {name}",
                value=above_m,
                unit="m",
                how=f"above the sump's corner; {level}" if level else "above the sump",
                source=f"by the falls; {site}" if level else "by the falls",
            )
        )
    figures.append(
        Figure(
            what="top of the kerb, nowhere lower than",
            value=pad.kerb_m,
            unit="m",
            how="above the sump's corner; where the pad lies higher, the kerb still "
            "stands above it, to keep clean water off",
        )
    )
    figures.append(
        Figure(
            what="invert of the sump's outlet",
            value=-sump.value,
            unit="m",
            how="below the sump's corner; pipes fall from there to the tank",
            standing=sump.standing,
            source=sump.source,
        )
    )
    return Chapter(
        title="Levels", figures=tuple(figures), cautions=(_NOT_FOR_CONSTRUCTION,)
    )
