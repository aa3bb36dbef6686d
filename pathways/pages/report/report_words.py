"""Every word that the report says of its own, in one catalogue."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

#: Title of each chapter, by its key, in the order in which they are told.
TITLES: Final[Mapping[str, str]] = {
    "answer": "The answer in short",
    "first": "Do these first",
    "yard": "The yard",
    "today": "Places in use today",
    "ways": "Where a spill would run",
    "without": "Without building, or before",
    "sites": "Sites for a pad and a bed, in the order in which to look at them",
    "sizes": "Sizes of pad, tank and bed",
    "water": "Water through the year",
    "drains": "The drains, as drawn",
    "emergency": "If something is spilt",
    "on_foot": "To check on foot",
    "deciders": "Who decides what",
    "open": "What the input leaves open",
    "assumed": "What was assumed",
    "cautions": "Before you rely on this",
    "records": "Records to keep",
    "evidence": "For a grant or permit file",
}

SAYS: Final[Mapping[str, str]] = {
    "title": "Where a spill would run: {farm}",
    "stamp": "A screening aid: it says where to look, not that a place is safe.",
    # The answer.
    "worst": "The worst: {letter}, {title}: if {volume} are lost in rain, all of it "
    "can {goal}, the first of it {time} (a rough guide).",
    "count": "Of {all} ways from the places where a spill can begin, {reach} reach "
    "water, a drain that counts as water, the ground below, or an end that is not "
    "known; in rain nothing holds a spill back: any amount gets there.",
    "count_one": "The one way that was traced reaches water, a drain that counts as "
    "water, the ground below, or an end that is not known; in rain nothing holds a "
    "spill back: any amount gets there.",
    "none_reaches_one": "The one way that was traced was not found to reach water "
    "while what holds it is maintained and dry; in rain nothing holds a spill back.",
    "none_reaches": "None of {all} ways was found to reach water while what holds "
    "them is maintained and dry; in rain nothing holds a spill back.",
    "shortest": "The shortest: {title}, {length}. {ends}.",
    "not_sure": "Not settled: {what}; take each as reaching water until somebody "
    "shows otherwise.",
    "sure_so_far": "How sure: the heights decide these ways, with the drains as drawn; "
    "a drain that nobody drew changes them.",
    "ways_open": "where {count} of {all} ways end, for the heights do not decide it or "
    "it is not known",
    "drains_open": "where {names} comes out",
    "and_more": "{count} more",
    "no_way": "No way was traced: no source was drawn that could be followed.",
    "site": "To build, look first at {name} ({verdict}{first}){sizes}.",
    "draws": "; first in {first} draws of weights and ground",
    "none_keeps": "None of {count} new sites for a pad and a bed keeps the rules: do "
    "not build on them, look for others{sizes}.",
    "no_site": "No new site for a pad and a bed was compared{sizes}.",
    "sizes": "; to plan with, not to build from: {what}",
    "pad_short": " (alone it does NOT hold what it must)",
    "pad": "a pad of {length} by {width} m behind a kerb of {kerb} mm",
    "tank": "a tank of {litres} l at least",
    "no_tank": "a tank that is not resolved",
    "bed": "a bed of {area} m², {depth} m deep",
    "no_bed": "a bed that is not resolved",
    "otherwise": "{title}, by another way that it may take",
    "first_short": "{title}. {says}",
    "more_below": "What each needs, where that is from and what your drawing says to "
    "it: see {title}.",
    "plan_says": "Black with letters: where a spill can begin, worst first. Orange: "
    "its way. Dashed: pipes as drawn. Black squares: "
    "openings. White with numbers: sites. "
    "Blue: water.",
    "plan": "Plan of the yard",
    # Today, ways, sites.
    "today": "Site {number}, {name}: {verdict}.",
    "common": "True of every way",
    "site_heads": "Site|Rules|Score|First in",
    "sites_hint": "An order to look in, not a recommendation: the verdict on rules "
    "comes before the score. First in: in how many of 100 draws it is first when "
    "weights and ground are varied.",
    "shared": "True of every site that is not used today",
    "site_next": "What to do next at each",
    "why_there": "Why it stands there",
    "built_here": "If something is spilt or built here",
    "rules": "The rules, held against each",
    "rules_hint": "Met: as far as was checked, with the distance found. Open: a "
    "rule was not read, or nobody looked; ask your regulator. What each site was "
    "compared by besides, and what was found at each rule, stands in map.html. Empty: "
    "it does not apply there.",
    "rule_head": "Rule",
    "site_head": "Site {number}",
    "open": "Open",
    "rule_sources": "Where the rules are from, by their numbers",
    "rule_source": "{source}: {numbers}",
    "no_source": "no source",
    "needs": "{asks}: {need}",
    "only_warns": "{verdict}; it only warns",
    "if_built": "{verdict}; it would bind a pad or bed",
    "site_line": "{verdict}. {summary}",
    # Sizes.
    "sizes_hint": "For planning and prices, never for construction. How each number "
    "was found, and where it is from, stands in sizes.html beside this file.",
    "missing": "Not resolved",
    "contents": "What is in this report",
    "figure_heads": "What|How much|How it is known",
    "item_heads": "To order or dig|How much|How it was found",
    "price": "Price",
    "take_care": "Take care",
    "figure_of": "{chapter}: {what}",
    "quantities": "Quantities",
    "ask_first": "Ask before anybody digs",
    "no_design": "Sizes were not worked out.",
    "no_year": "Water through the year is not resolved: washings or weather are not "
    "given.",
    "bars": "Bars: what comes month by month. Dashed: how high the tank stands.",
    "draft": "{title}. Not for construction.",
    # Drains.
    "drains_hint": "As drawn and as worked out from the drawing. What is not known is "
    "taken as joined to water.",
    "drains_picture": "Plan of the drains",
    "drains_says": "North is up. Squares: openings. Crossed squares: covered or "
    "capped. Dashed lines: pipes, the arrow in the direction of flow as drawn. Boxes "
    "with rounded corners: tanks. Triangles: where a pipe enters water. Question "
    "mark: nobody knows how it goes on.",
    "drains_heads": "On the plan|What it is|Drains to|Not known",
    "no_drains": "No gully, pipe or tank was drawn: an unseen one can carry a spill "
    "straight to water. Look for them.",
    "outfall": "where {what} enters {water}",
    "to_water": "{water}, at {label}",
    "to_ground": "the ground (soakaway or land drain)",
    "to_surface": "the ground above: it comes out there and runs on",
    "to_nobody": "nobody knows",
    "through": "{end}, through {via}",
    "capped": "nowhere: it is capped",
    "tank_ends": "nowhere: it holds what comes",
    "not_worked_out": "not worked out; drawn as: {drains_to}",
    "nothing": "nothing",
    "inner": "{mm} mm within",
    "holds": "holds {litres}",
    "relied_on": "{litres} can be relied on",
    "width": "how wide it is",
    "lid": "whether its cover seals",
    "cap": "whether its cap holds",
    "outlet": "where it comes out: taken as joined to water",
    "soakaway": "where the soakaway lies, and what it is near",
    "overflow": "whether it is emptied: it was not said to be looked after",
    "free": "how much room can be relied on",
    "roof": "whether yard water gets into it: a roof pipe",
    "indoors": "whether the yard drains into it: it was taken not to",
    # Emergency.
    "stop": "Stop it at its source if you can do so without danger. Never wash it "
    "down.",
    "people": "Keep people, animals and flames away. Read the product's label before "
    "you touch it.",
    "cover": "Cover first: {what}. Lay the cover or the sand uphill of the opening.",
    "no_gully": "No drawn gully stands in a way: lay sand or a portable bund across "
    "the way, uphill of the water and of any drain that you see.",
    "take_up": "Take up what was spilt and what soaked it up as waste; keep it in a "
    "closed drum.",
    "in_rain": "In rain all of it goes on: what is not taken up now is in the water "
    "with the next rain.",
    "call": "Call the numbers below; say what was spilt, how much, when, and which "
    "water it can reach. Do so even if you think that you have stopped it.",
    "log": "Write it into the log of spills.",
    "block_heads": "From|Block here first|Without rain, least|In rain, least|Count on",
    "block_at": "{what}, {length} along the way",
    "block_there": "{what}, at the place itself",
    "block_other": "By another way: {what}",
    "block_along": "{what}, {length} along",
    "block_water": "Across the way, above {end}, {length} along",
    "known_end": "the end of the known way",
    "kit_between": "Kit: uphill of it, within {length}",
    "kit_here": "Kit: beside the place, uphill of it",
    "from": "{letter}: {title}",
    "losses": "{losses}: {time}",
    "not_alone": "{losses}: not without rain",
    "may_get_there": "{losses}: perhaps, time not known",
    "no_times": "not known",
    "count_none": "no time at all: its way is not known",
    "count_on": "{time} ({which})",
    "by_itself": "the loss itself",
    "by_storm": "storm water",
    "both_alike": "both alike",
    "shorter_way": "perhaps less by another way ({length}; not worked out)",
    "count_hint": "Least time without rain: of the loss itself, on the ground on which "
    "it is fastest. In rain: of storm water that carries it. Count on the shorter, the "
    "cautious one; both are fast bounds and rough guides: act at once.",
    "blocks": "Where to block, where the kit goes, how long there is",
    "numbers": "Telephone numbers, to fill in by hand",
    "kit_rule": "The kit lies between the place and the first drain, uphill of it, "
    "where nobody walks through the spill (common practice, no source).",
    "more_ways": "More ways than fit on one page: the other {count} are told under "
    "{title}.",
    # Checks.
    "unknown_outlet": "{what}: lift the lid, and pour clean water or dye. Where does "
    "it come out? Until that is known it counts as joined to water.",
    "is_covered": "{what} is drawn as covered: does the cover seal? Pour water round "
    "it.",
    "is_capped": "{what} is drawn as capped: is the cap whole, and does it hold?",
    "is_soakaway": "{what} leads to a soakaway: where is that, and what lies near it?",
    "tank_kept": "{what}: who empties it, how much room is there, and has it an "
    "overflow?",
    "pipe_notice": "Pipes as drawn: {text}.",
    "way_open": "{letter}, {title}: the heights do not decide where all of it goes. "
    "Watch it in rain{where}.",
    "way_parts": ", above all beside {beside}",
    "way_unknown": "{letter}, {title}: its end is not known ({why}). Follow it on "
    "foot.",
    "near_well": "{source}: {supply} is {length} away in a straight line. Is it in "
    "use, for what, and is its head sealed?",
    "no_wells": "{source}: no well, borehole or spring was drawn. Ask the neighbours "
    "too: private supplies are on no map.",
    "no_land_drains": "No land drain was drawn: ask whoever laid or ploughed here, and "
    "look for outfalls in the ditch.",
    "general": "On every farm",
    "this_farm": "On this farm, from what was drawn",
    # Assumed, evidence, records.
    "evidence_heads": "What is asked|Asked by|In this report|By hand|How it is known",
    "evidence_hint": "What a file of this kind usually asks. Ask yours for its own "
    "list before you send anything: this one decides nothing.",
    "evidence_none": "No list of this jurisdiction was read: the rows are general.",
    "not_here": "not in this report",
    "nothing_by_hand": "nothing besides",
    "keep_hint": "Pages to copy and fill in. How long to keep them: ask your "
    "regulator.",
    "see_picture": "The picture {title} is drawn in report.html. {says}",
    "box": "☐",
    "cell_lines": "; ",
    "to_fill_in": "______________________________",
}

#: Things that are true on every farm and that only feet find out.
ON_FOOT: Final = (
    "Every gully and manhole near a way: lift the lid, and pour dye or clean water. "
    "Where does it come out? Tell the regulator before you use dye.",
    "Land drains and their outfalls: ask whoever laid or ploughed here.",
    "Kerbs, walls and gateways: are they whole, as high, and where they were drawn?",
    "A rain walk: does water run as the map says? Draw what you see as an observation.",
    "Roof water, soakaways, wells and private supplies nearby.",
    "A trial pit at the first sites: water in it through a winter.",
    "Services: cables, gas, water, before anybody digs.",
)

#: What each of the three decides; common practice, no source.
DECIDERS: Final = (
    (
        "The regulator",
        "whether it may be done at all, by which permit or exemption; how far from "
        "water, wells and drains; where water from a bed may go; use of dye; what is "
        "told here as not decided",
    ),
    (
        "Your adviser",
        "which way of working and which of the sites suits the farm; how many washings "
        "to reckon with; whether a grant's list is met; what to do without building",
    ),
    (
        "A licensed engineer",
        "levels, slab, joints, reinforcement, tank and its anchorage, liner, falls and "
        "pipes: everything that is built from; soil and ground water at the site",
    ),
)
DECIDER_HEADS: Final = ("Who", "Decides")

#: Lines to fill in by hand; no number is known here, and none is invented.
NUMBERS: Final = (
    "Emergency services",
    "The environmental regulator's incident line",
    "Water company, and the nearest abstraction downstream",
    "Neighbours with wells, and downstream",
    "Your adviser",
    "Contractor with a pump or a tanker",
    "Who holds the keys, the product list and the drain plan",
)
