"""Words and colours of what is found: the same on a page and in a desktop GIS.

Colours: M. Okabe and K. Ito, "Color Universal Design", 2002/2008 (the set of eight,
https://jfly.uni-koeln.de/color/). No way is green: green would say that all is well,
and no outcome does.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

BLACK: Final = "#000000"
ORANGE: Final = "#E69F00"
SKY_BLUE: Final = "#56B4E9"
BLUISH_GREEN: Final = "#009E73"
YELLOW: Final = "#F0E442"
BLUE: Final = "#0072B2"
VERMILLION: Final = "#D55E00"
REDDISH_PURPLE: Final = "#CC79A7"

#: Where a way ends, worst first, in words.
OUTCOMES: Final[Mapping[str, str]] = {
    "reaches_water": "Reaches water",
    "enters_piped_drain": (
        "Enters a piped drain with unknown outlet: treat it as reaching water"
    ),
    "enters_ground": "Goes into the ground",
    "not_known": "Not known",
    "stops_on_surface": "Stays on the surface until the next rain",
    "contained": "Held while what holds it is maintained",
}

#: Colour and pattern (dash, gap, ... in pixels) of a way by where it ends.
WAYS: Final[Mapping[str, Mapping[str, str | float | None]]] = {
    "reaches_water": {"colour": VERMILLION, "pattern": None},
    "enters_piped_drain": {"colour": REDDISH_PURPLE, "pattern": "18 9"},
    "enters_ground": {"colour": ORANGE, "pattern": "14 8 3 8"},
    "not_known": {"colour": BLACK, "pattern": "3 9"},
    "stops_on_surface": {"colour": YELLOW, "pattern": "9 9"},
    "contained": {"colour": SKY_BLUE, "pattern": "18 8 3 8 3 8"},
}

#: Whether a site meets the rules, in words.
VERDICTS: Final[Mapping[str, str]] = {
    "true": "Meets every rule that was checked",
    "false": "Does not meet the rules",
    "marginal": "Too close to call: measure on the ground",
    "no_rule_read": "Not decided: a rule or a layer is missing; ask your regulator",
}

#: States of the ground, to be read after "lost" or "on ground".
GROUND_STATES: Final[Mapping[str, str]] = {
    "raining": "in rain",
    "saturated": "on saturated or frozen ground",
    "wet": "on wet ground",
    "dry": "on dry ground",
}

#: Shares of the versions of the ground from which a cell is shown, and the colours of
#: the bands (red, green, blue, opacity). Cividis, light to dark: Nunez, Anderton &
#: Renslow 2018, doi 10.1371/journal.pone.0199239 (values from memory); readable in grey
#: and by people who see few colours.
REACH_BANDS: Final = (0.05, 0.25, 0.5, 0.75, 0.95)
REACH_COLOURS: Final = (
    (254, 232, 56, 150),
    (188, 175, 111, 170),
    (124, 123, 120, 185),
    (65, 77, 107, 200),
    (0, 34, 78, 215),
)

#: What a band is called.
REACH_BAND: Final = "{share} of 100 versions or more"
