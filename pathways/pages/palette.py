"""Colours, line patterns and marks of the map.

Ways are told apart by colour, pattern and words together, so that they can be read in
grey and by people who see few colours. What layers show too is in `pathways.legend`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from pathways.legend import BLACK as BLACK
from pathways.legend import BLUE as BLUE
from pathways.legend import BLUISH_GREEN as BLUISH_GREEN
from pathways.legend import ORANGE as ORANGE
from pathways.legend import REACH_BANDS as REACH_BANDS
from pathways.legend import REACH_COLOURS as REACH_COLOURS
from pathways.legend import REDDISH_PURPLE as REDDISH_PURPLE
from pathways.legend import SKY_BLUE as SKY_BLUE
from pathways.legend import VERMILLION as VERMILLION
from pathways.legend import WAYS
from pathways.legend import YELLOW as YELLOW

Style = Mapping[str, str | float | None]

#: Colour and pattern of a way by where it ends.
OUTCOMES: Final[Mapping[str, Style]] = WAYS

#: Outlines of point marks on a square of 20 by 20.
SHAPES: Final[Mapping[str, str]] = {
    "circle": "M10 3a7 7 0 1 0 .01 0z",
    "square": "M3.5 3.5h13v13h-13z",
    "diamond": "M10 1.5 18.5 10 10 18.5 1.5 10z",
    "triangle": "M10 2 18.5 17h-17z",
    "drop": "M10 1.5C13 6 16 9 16 12.5a6 6 0 0 1-12 0C4 9 7 6 10 1.5z",
    "cross": "M7.5 2h5v5.5H18v5h-5.5V18h-5v-5.5H2v-5h5.5z",
    "bar": "M1.5 7.5h17v5h-17z",
}


def area(line: str, fill: str, opacity: float, dash: str | None = None) -> Style:
    """Return the style of an area."""
    return {
        "color": line,
        "weight": 1.5,
        "dashArray": dash,
        "fillColor": fill,
        "fillOpacity": opacity,
    }


def line(colour: str, weight: float, dash: str | None = None) -> Style:
    """Return the style of a line; an area of the same layer is filled with it."""
    return {
        "color": colour,
        "weight": weight,
        "dashArray": dash,
        "fillColor": colour,
        "fillOpacity": 0.45,
    }


def mark(shape: str, fill: str, edge: str = BLACK) -> Style:
    """Return the style of a point mark; a line of the same layer has its colour."""
    return {
        "color": fill if fill != "#FFFFFF" else edge,
        "weight": 4,
        "fillColor": fill,
        "fillOpacity": 0.8,
        "outline": SHAPES[shape],
        "edge": edge,
    }


_HARD_EDGE: Final = "#77736A"
_SOFT_EDGE: Final = "#8C8A6E"

#: Style by layer, or by (layer, kind) where kinds look different.
FEATURES: Final[Mapping[str | tuple[str, str], Style]] = {
    "surfaces": area(_SOFT_EDGE, "#C9C2A8", 0.45),
    ("surfaces", "concrete"): area(_HARD_EDGE, "#B9B9B9", 0.6),
    ("surfaces", "asphalt"): area(_HARD_EDGE, "#8D8D8D", 0.6),
    ("surfaces", "hardcore"): area(_HARD_EDGE, "#CDB491", 0.55),
    ("surfaces", "planings"): area(_HARD_EDGE, "#A89F92", 0.55),
    ("surfaces", "loose_gravel"): area(_HARD_EDGE, "#DCCBAA", 0.55),
    ("surfaces", "short_grass"): area(_SOFT_EDGE, "#C4D69A", 0.5),
    ("surfaces", "dense_grass"): area(_SOFT_EDGE, "#A5C27C", 0.5),
    ("surfaces", "arable"): area(_SOFT_EDGE, "#E4D59A", 0.5),
    ("surfaces", "bare_soil"): area(_SOFT_EDGE, "#B99470", 0.5),
    ("surfaces", "woodland"): area(_SOFT_EDGE, "#7E9C6C", 0.55),
    "exclusions": area("#7A1F5C", "#7A1F5C", 0.14, "10 5"),
    "search_area": area("#3F3F3F", "#FFFFFF", 0.12, "2 6"),
    "buildings": area("#2E2E2E", "#6B655D", 0.85),
    ("buildings", "open_sided"): area("#2E2E2E", "#6B655D", 0.3, "6 4"),
    "watercourses": line(BLUE, 6),
    ("watercourses", "ditch"): line(BLUE, 4),
    ("watercourses", "culverted"): line(BLUE, 4, "3 7"),
    "pipes": line("#4A4A4A", 3, "9 4"),
    ("pipes", "land_drain"): line("#4A4A4A", 2, "2 5"),
    "barriers": line("#5A3A1E", 5),
    ("barriers", "kerb"): line("#5A3A1E", 3),
    ("barriers", "bund"): line("#7A5A32", 6, "10 3"),
    ("barriers", "drive_over_bund"): line("#7A5A32", 6, "5 4"),
    ("barriers", "hedge_bank"): line("#4E6A37", 6, "8 3"),
    "tanks": mark("square", "#BFD7E6"),
    "inlets": mark("square", "#2B2B2B", "#FFFFFF"),
    "water_supplies": mark("drop", BLUE, "#FFFFFF"),
    "access": mark("bar", "#FFFFFF"),
    "spot_levels": mark("triangle", "#FFFFFF"),
    "observations": mark("diamond", "#5B2C83", "#FFFFFF"),
    "candidates": mark("cross", "#FFFFFF"),
    "sources": area("#000000", "#FFFFFF", 0.35),
}

#: Where ways over the versions of the ground part.
PARTS: Final = mark("triangle", "#FEE838")

#: A hollow that fills before liquid goes on.
HOLLOW: Final = mark("circle", SKY_BLUE)

#: Ground that a site would take up.
SITE: Final = area(BLACK, "#FFFFFF", 0.55)

#: Pad and bed as they were laid out on it.
LAYOUT: Final = area(BLACK, "#FFFFFF", 0.0, "4 3")

#: Lines of equal height.
CONTOUR: Final = {"color": "#6B5B45", "weight": 1, "opacity": 0.75}

#: Edges of the distances of rules, told apart by their dashes, in turn.
SETBACKS: Final = tuple(
    {"color": "#3B3B3B", "weight": 1.5, "dashArray": dashes}
    for dashes in ("7 3 1 3", "1 4", "9 4", "4 2 1 2 1 2")
)

#: Layers from the bottom of the map to its top.
ORDER: Final = (
    "surfaces",
    "exclusions",
    "search_area",
    "buildings",
    "watercourses",
    "pipes",
    "barriers",
    "tanks",
    "inlets",
    "water_supplies",
    "access",
    "spot_levels",
    "observations",
    "candidates",
    "sources",
)


def style_of(layer: str, kind: str) -> Style:
    """Return how a feature of a layer is drawn.

    Examples
    --------
    >>> style_of("watercourses", "ditch")["weight"]
    4
    """
    return FEATURES.get((layer, kind), FEATURES[layer])
