"""Words that several pages show; those of one page alone stand in a file beside."""

from __future__ import annotations

from collections.abc import Mapping
from string import ascii_uppercase
from typing import Final

# What a layer in a desktop GIS says in the same words.
from pathways.legend import GROUND_STATES as GROUND_STATES
from pathways.legend import OUTCOMES as OUTCOMES
from pathways.legend import REACH_BAND as REACH_BAND
from pathways.legend import VERDICTS as VERDICTS

#: Longest name, and longest sentence, of a user that is shown in one place.
LONGEST_SHOWN: Final = 200
LONGEST_SENTENCE: Final = 2000

#: Characters that turn the direction of writing and so could hide what a name says
#: (Unicode Standard Annex 9, table of explicit directional formatting characters).
_DIRECTION_MARKS: Final = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)

#: Why a way is not known, to be read after "Not known: ".
WHY: Final[Mapping[str, str]] = {
    "leaves_grid": "the way leaves the ground whose heights were given",
    "meets_no_data": "the way meets a gap in the heights",
    "no_water_in_grid": "no water was drawn on this ground",
    "ground_too_flat": "the ground is too flat to tell which way liquid runs",
    "shut_in": "walls or banks shut the liquid in, and no way out was drawn",
    "off_grid": "the place lies outside the ground whose heights were given",
    "drains_in_a_circle": "the drains as drawn lead back to where they began",
    "not_traced": "this source was drawn but not traced",
}

#: Ends of a version of the ground that are neither water nor a drain.
OTHER_ENDS: Final[Mapping[str, str]] = {
    "contained": "a tank that holds it",
    "leaves_grid": "the edge of the ground that was given",
    "meets_no_data": "a gap in the heights",
    "shut_in": "a yard shut in by walls",
    "over_budget": "a place that was not found in time",
    "drains_in_a_circle": "drains that lead back to where they began",
}

#: Whether a site meets the rules, in a list.
SHORT_VERDICTS: Final[Mapping[str, str]] = {
    "true": "Kept, as far as checked",
    "false": "Breaks a rule",
    "marginal": "Too close to call",
    "no_rule_read": "Not decided",
}

#: Criteria of sites in a farmer's words; the others are said by their names.
CRITERIA: Final[Mapping[str, str]] = {
    "distance_to_supplies": "farthest of tap, power, store and way in",
    "critical_volume": "least loss that gets to water",
    "upslope_area": "ground above that drains onto it",
    "chance_of_water": "share of the versions of the ground that may reach water",
    "hollow_depth": "deepest puddle",
    "ways_crossed": "ways of a spill that a full sprayer crosses",
    "time_along_flow": "time that storm water takes",
    "earth_moved": "earth to be moved for the pad",
    "cross_slope": "slope across the pad",
    "fall_to_bed": "fall from pad to bed",
    "depth_to_water": "depth to ground water in winter",
}

RULE_VERDICTS: Final[Mapping[str, str]] = {
    "true": "Met",
    "false": "Not met",
    "marginal": "Too close to call",
    "no_rule_read": "Not checked",
}

STANDINGS: Final[Mapping[str, str]] = {
    "measured": "measured",
    "read": "read at the source",
    "given": "given by you",
    "computed": "worked out here",
    "second_hand": "known at second hand",
    "from_memory": "from memory, to be checked",
    "common_practice": "common practice, no source",
    "assumed": "assumed",
}

STARTS: Final[Mapping[str, str]] = {
    "point": "",
    "lowest_edge": "from its lowest edge",
    "nearest_water": "from its edge nearest to water",
    "door": "from its door",
}

RELEASES: Final[Mapping[str, str]] = {
    "dregs": "dregs of a container, neat",
    "container": "a container, neat",
    "overfill": "an overfill",
    "full_tank": "the full sprayer",
    "stated": "the largest loss stated",
}

NOT_YET_ASSESSED: Final[Mapping[str, str]] = {
    "sizing": "how big a pad, tank and bed must be",
}

LAYERS: Final[Mapping[str, str]] = {
    "relief": "Shaded ground",
    "aerial": "Aerial picture",
    "setbacks": "Edges of the distances that rules ask for",
    "contours": "Lines of equal height, every {step}",
    "sources": "Where a spill can begin",
    "watercourses": "Water",
    "water_supplies": "Wells, boreholes, springs",
    "buildings": "Buildings",
    "barriers": "Walls, kerbs, banks",
    "inlets": "Gullies and drains",
    "pipes": "Pipes and land drains",
    "tanks": "Tanks and sumps",
    "surfaces": "Cover of the ground",
    "exclusions": "Barred or questioned ground",
    "search_area": "Where a pad could go",
    "candidates": "Sites already in mind",
    "access": "Gates, doors, supplies",
    "spot_levels": "Surveyed heights",
    "observations": "Seen on the ground",
    "ways": "Where a spill runs",
    "reach": "How sure that is: versions of the ground that pass here",
    "alternatives": "Other ways it may take",
    "hollows": "Hollows that fill first",
    "sites": "Sites for a pad and bed",
}

#: Stands beside the verdict of a way whose end the heights do not decide.
#: Stands beside the verdict of a way where less is enough by another.
LESS: Final = (
    "By another way that it may take, less is enough to get there: {least} {state}, "
    "not {own}. See below."
)

UNDECIDED: Final = (
    "The ground cannot decide where all of it goes: see how sure that is, below."
)

#: Stands beside the verdict of a way that a tank holds, if an inlet lets some run past.
RUNS_PAST: Final = "Some of it can run past the inlet: see what a spill does, below."

#: Ends the verdict of such a way where it stands alone.
NOT_IN_RAIN: Final = "; in rain it runs on past it"
#: Stands beside the verdict of a way that a tank holds.
IN_RAIN: Final = (
    "In dry weather only, and if the tank is emptied: in rain it runs on past it."
)
#: Stands beside the verdict of a way that is not the shortest that it may take.
SOONER: Final = "By another way that it may take it is there after {length}: see below."

#: Where the versions of the ground part, in the picture of how sure a way is.
REACH_PARTS: Final = "Here the ways of the versions part most"

#: What a kind is called in a sentence, where it is not the kind itself.
KINDS: Final[Mapping[str, str]] = {
    "spz1": "inner protection zone of a water source",
    "spz2": "outer protection zone of a water source",
    "closed": "building",
    "open_sided": "open-sided building",
    "culverted": "water in a culvert",
    "surfaces_unknown": "ground with no cover drawn",
    "unknown": "ground with no cover drawn",
    "short_grass": "short grass",
    "arable": "arable land",
    "water": "water point",
    "power": "power supply",
    "door": "door",
    "flow_seen": "water seen running",
    "ponding_seen": "water seen standing",
    "dye_arrived": "dye arrived",
    "dye_absent": "dye did not arrive",
    "outfall_seen": "outfall seen",
    "bund": "bank",
    "drive_over_bund": "drive-over bank",
    "other": "other place",
}

LEGS: Final[Mapping[str, str]] = {
    "surface": "Over the ground (the pattern tells where it ends)",
    "pipe": "Through a pipe",
    "observed": "As seen on the ground",
    "joined": "Straight line where no pipe is drawn",
}

USES: Final[Mapping[str, str]] = {
    "filling": "filling",
    "pad": "pad",
    "bed": "bed",
    "store": "store",
}

UNITS: Final[Mapping[str, str]] = {
    "metric": "metres and litres",
    "us": "feet and US gallons",
    "imperial": "feet and imperial gallons",
}

#: Headings, buttons and sentences of the page itself.
PAGE: Final[Mapping[str, str]] = {
    "title": "{farm}: where a spill runs",
    "kicker": "Where a spill runs, and where a filling pad could go",
    "map": "Map of the farm; north is up",
    "cautions": "Before you rely on this",
    "sources": "Where a spill can begin",
    "sources_hint": "Worst first. Choose one to see its way on the map.",
    "source": "Place",
    "outcome": "Where it ends",
    "length": "How far",
    "sites": "Sites for a pad and bed",
    "sites_hint": "The order in which to look at them, not a recommendation. Not "
    "decided: a rule was not read, or nobody looked; ask your regulator. Choose one to "
    "see why it stands there. First in: in how many of 100 draws it is first when "
    "weights and ground are varied; none where it breaks a rule or stands alone.",
    "site": "Site",
    "rules": "Rules",
    "first": "First in",
    "layout": "Pad and bed, laid out",
    "no_sources": "No source was drawn, so no way was traced.",
    "no_sites": "No site was compared.",
    "story": "The way, told",
    "nothing_chosen": "Choose a place or a site to read about it.",
    "warnings": "Warnings about what was given",
    "assumptions": "What was assumed",
    "without_building": "Without building, or before",
    "not_yet": "Not yet assessed: {what}.",
    "legend": "What the map shows",
    "whole": "Show everything",
    "back": "Back to the lists",
    "north": "N",
    "existing": "in use today",
    "here": "Here: {name}",
    "tap": "From anywhere",
    "watch": "State of the ground, and the spills through time",
    "state": "A spill",
    "play": "Play the spills",
    "pause": "Pause",
    "no_play": "Put away",
    "time": "Time since the spill",
    "clock_s": "{s} s",
    "clock_min": "{min} min {s} s",
    "clock_h": "{h} h {min} min",
    "front_runs": "{loss}: {length}",
    "front_waits": "{loss}: {length}, filling a hollow or a tank",
    "front_there": "{loss}: {length}, at its end",
    "front_held": "{loss}: {length}, held in a tank",
    "front_nearly_used_up": "{loss}: {length}, used up until the next rain, though "
    "some may get there",
    "front_used_up": "{loss}: {length}, used up until the next rain",
    "time_note": "All begun together, with middle values of everything. The first of "
    "it can be there sooner: the way, told, says how soon.",
    "lists": "Places, sites and notes",
    "tools": "Units and paper",
    "units": "Numbers in",
    "units_note": "Converted and rounded: the numbers in metres and litres decide. "
    "Distances of rules, heights on the map and quoted texts stay in metres.",
    "print": "Print",
    "keep_off": "{uses}: keep {distance} off",
    "all_within": " All of this ground lies within that distance.",
    "relief_note": "slopes drawn {times} times as steep as they are",
    "no_script": "This page draws its map with a script. Allow scripts to see it.",
}


def shown(text: str, *, longest: int = LONGEST_SHOWN) -> str:
    """Return a user's text as a page may show it: no hidden marks, not endless.

    Examples
    --------
    >>> shown("Top" + chr(10) + "Yard" + chr(0x202E))
    'Top␊Yard⟨202E⟩'
    """
    visible = "".join(_visible(one) for one in text[: longest + 1])
    return visible if len(text) <= longest else visible[:longest] + "…"


def _visible(character: str) -> str:
    code = ord(character)
    if code < 0x20:  # noqa: PLR2004 - the C0 controls have pictures at U+2400
        return chr(0x2400 + code)
    controls = 0x7F <= code <= 0x9F  # noqa: PLR2004
    surrogate = 0xD800 <= code <= 0xDFFF  # noqa: PLR2004
    if controls or surrogate or character in _DIRECTION_MARKS:
        return f"⟨{code:04X}⟩"
    return character


def plain(code: str, catalogue: Mapping[str, str] = KINDS) -> str:
    """Return the words for a code; a text that is no code stays as it is.

    Examples
    --------
    >>> plain("filling_point")
    'filling point'
    """
    told = catalogue.get(code, code if " " in code else code.replace("_", " "))
    return shown(told, longest=LONGEST_SENTENCE)


def not_known(why: str = "") -> str:
    """Return the verdict on a way whose end is not known, and why.

    Examples
    --------
    >>> not_known("meets_no_data")
    'Not known: the way meets a gap in the heights'
    """
    unknown = OUTCOMES["not_known"]
    return f"{unknown}: {plain(why, WHY)}" if why else unknown


def listed(things: list[str]) -> str:
    """Join things as a sentence does.

    Examples
    --------
    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    if len(things) <= 1:
        return "".join(things)
    return ", ".join(things[:-1]) + " and " + things[-1]


def capital(sentence: str) -> str:
    """Return a sentence with a capital at its start."""
    return sentence[:1].upper() + sentence[1:]


def letter(number: int) -> str:
    """Return the letter of a thing by its place in a list, from 0.

    Examples
    --------
    >>> letter(0), letter(25), letter(26)
    ('A', 'Z', 'AA')
    """
    more, last = divmod(number, len(ascii_uppercase))
    return (letter(more - 1) if more else "") + ascii_uppercase[last]
