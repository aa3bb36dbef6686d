"""Every word of a way that is followed from a place that somebody tapped."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

#: Sentences that the page puts together for a place that is tapped.
ANYWHERE: Final[Mapping[str, str]] = {
    "letter": "✛",
    "title": "From the place you tapped",
    "hint": "Tap the ground anywhere to see the way of a spill from there.",
    "from_middle": "From the middle of the map",
    "wait": "The ground is being made ready.",
    "too_old": "This browser cannot unpack the ground, so a tap shows nothing; a newer "
    "one can.",
    "outside": "That place lies outside the ground whose heights were given.",
    "closed": "A roof, a wall or a kerb takes up this place, or its height is not "
    "known. Tap the ground beside it.",
    "start": "Starts here.",
    "here": "This place lies in the water itself, or in a drain.",
    "summary": "{length} to there; {falls} on the way over the ground.",
    "to": ": {receptor}",
    "no_amounts": "How much gets there, and how soon, is told for drawn sources only. "
    "To have it for this place, draw a source here.",
    "enters": "Enters {what}.",
    "seen": "From here it follows what was seen on the ground ({date}).",
    "no_date": "no date given",
    "stretch": "{length} over {covers}",
    "falls": "falls {drop}",
    "level": "hardly falls",
    "no_drop": "fall not known",
    "pool": "A hollow holds up to {volume}, {deep}, before it goes on.",
    "leg_pipe": "{length} through {what}",
    "leg_observed": "{length} as seen on the ground",
    "leg_joined": "{length} in a straight line, for no pipe is drawn",
    "leg_surface": "{length} over the ground",
    "beside_opening": "{what} lies near the way and may take it. Then: {then}.",
    "beside_land_drain": "{what} lies under the way and takes water along it. Then: "
    "{then}.",
    "beside_kerb": ", along {what}",
    "beside_supply": "It passes near {what}.",
    "use_unknown": "Its use is not known: it is treated as a domestic supply.",
    "by_drain": "by {what} under it",
    "past": "Past {what}, blocked, frozen or overwhelmed. Then: {then}.",
    "past_over_wall": "Past {what}, blocked, frozen or overwhelmed, then over the wall "
    "that shuts it in. Then: {then}.",
    "beside_flow_near": "{what} was drawn near the way, and outweighs what the ground "
    "suggests. Then: {then}.",
    "every_drain": "every drain",
    "over_wall": "Over the wall that shuts it in. Then: {then}.",
    "by_fall": "By the fall of the ground, not by the steepest steps. Then: {then}.",
    "by_grid": "What the ground alone suggests; what was seen overrules it: {then}.",
    "too_large": "This ground is too large to be carried in a page, so a tap shows "
    "nothing. Cut out the ground about the farm and run it again.",
    "failed": "The ground in this page cannot be read, so a tap shows nothing.",
    "site_way": "Thin broken line: the way of a spill from its middle, over the ground "
    "as it is. {verdict}.",
    "beside_barrier": "it runs over {what} there; a higher one would turn it aside.",
    "beside_well_head": "{what} lies on the way: what runs here can go into it.",
    "beside_water": "{what} lies near the way and may be drawn off its bed: treat it "
    "as reached.",
    "worse": "Something near the way may take it elsewhere, which is worse: see below.",
    "others": "What may take it another way",
    "sure": "How sure that is",
    "all_round": "All {count} places within {reach} of here end there too.",
    "not_all_round": "Of {count} places within {reach} of here {same} end there; "
    "others end so: {ends}. Treat each of these ends as possible.",
    "no_versions": "Errors of the heights were not tried for this place, as they are "
    "for drawn sources.",
    "flat": "The ground cannot decide here: {share} of the way is level.",
    "parted": "The line and the steepest steps part on the way: here the ground hardly "
    "decides where liquid runs.",
    "care": "Take care",
}
