"""Every word that the drawing page shows, in one catalogue.

What is not listed here is said as `pathways.features` says it, so that a new layer or
field appears on the page by itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

#: Layers under the headings of the panel; others follow under the last.
GROUPS: Final[tuple[tuple[str, tuple[str, ...]], ...]] = (
    ("Where a spill begins, and the water", ("sources", "watercourses")),
    ("Drains", ("inlets", "pipes", "tanks")),
    ("What turns water, and what it runs over", ("barriers", "buildings", "surfaces")),
    (
        "Wells, and where a pad could go",
        ("water_supplies", "search_area", "candidates"),
    ),
    ("Ground to keep off", ("exclusions",)),
    ("Ways in, tap and power", ("access",)),
    ("Measured, or seen on a walk in the rain", ("spot_levels", "observations")),
)
OTHER_GROUP: Final = "More"

#: What one thing of a layer is called on its button.
THINGS: Final[Mapping[str, str]] = {
    "sources": "Place where a spill can begin",
    "watercourses": "Ditch, stream, pond or other water",
    "water_supplies": "Well, borehole or spring",
    "buildings": "Building",
    "barriers": "Wall, kerb or bank",
    "inlets": "Gully or drain opening",
    "pipes": "Pipe or land drain",
    "tanks": "Tank or sump",
    "surfaces": "Concrete, grass or other cover",
    "exclusions": "Ground to keep off",
    "search_area": "Ground where a pad could go",
    "candidates": "Site that you have in mind",
    "access": "Gate, door, track, tap or power",
    "spot_levels": "Surveyed height",
    "observations": "Something seen: flow, ponding, dye",
}

#: Letters that the numbers of things begin with, one for each layer.
PREFIXES: Final[Mapping[str, str]] = {
    "sources": "S",
    "watercourses": "W",
    "water_supplies": "B",
    "buildings": "H",
    "barriers": "K",
    "inlets": "G",
    "pipes": "P",
    "tanks": "T",
    "surfaces": "C",
    "exclusions": "X",
    "search_area": "R",
    "candidates": "M",
    "access": "A",
    "spot_levels": "L",
    "observations": "O",
}

SHAPES: Final[Mapping[str, str]] = {
    "Point": "as one spot",
    "LineString": "as a line",
    "Polygon": "as an area",
}

#: How to draw each shape, and what matters where a layer is drawn.
HOW: Final[Mapping[str, str]] = {
    "Point": "Tap the spot on the map.",
    "LineString": "Tap along the line, corner by corner. Then press Finish.",
    "Polygon": "Tap each corner of the area. Then press Finish.",
    "pipes": "Tap along it in the way that the water runs: from the gully to the "
    "outlet. "
    "Then press Finish.",
    "barriers": "Tap along it. Leave a gap where there is a gap: it leaks. Then press "
    "Finish.",
    "watercourses": "Draw it where the water is, dry ditches too.",
    "observations": "Draw flow in the way that it ran: downhill.",
}

#: Layers whose lines point somewhere: always, or where they are of one kind.
DIRECTED: Final[Mapping[str, str]] = {"pipes": "", "observations": "flow_seen"}

#: Layers whose corners are put onto things of other layers that they nearly touch.
JOINS: Final[Mapping[str, tuple[str, ...]]] = {
    "pipes": ("inlets", "tanks", "watercourses"),
    "inlets": ("pipes",),
    "observations": ("inlets",),
}

#: What it means that a layer is not drawn, most important first.
MISSING: Final[Mapping[str, str]] = {
    "sources": "No place where a spill can begin. Without one there is nothing to "
    "trace.",
    "watercourses": "No water. What a spill reaches cannot be told: draw ditches and "
    "streams, dry ones too.",
    "inlets": "No gully or drain. An unseen gully can carry a spill straight to the "
    "ditch.",
    "pipes": "No pipe or land drain. Nobody can tell where the gullies lead.",
    "barriers": "No wall, kerb or bank. Water is taken to run where they may turn it.",
    "surfaces": "No ground cover. Whether liquid stays on the ground or soaks in is "
    "not "
    "known.",
    "buildings": "No building. Water is taken to run through where they stand.",
    "water_supplies": "No well, borehole or spring. The distance to them is not "
    "judged.",
    "exclusions": "No ground to keep off. Flood zones and protected ground are not "
    "judged.",
    "access": "No gate, door, tap or power. A gate opens a wall, and a pad needs a "
    "tap.",
}

#: What may be said to be not there, under each missing layer.
NONE_HERE: Final[Mapping[str, tuple[str, ...]]] = {
    "watercourses": ("watercourses",),
    "inlets": ("inlets",),
    "pipes": ("pipes",),
    "barriers": ("barriers",),
    "surfaces": ("surfaces",),
    "buildings": ("buildings",),
    "water_supplies": ("water_supplies",),
    "access": ("access",),
    "exclusions": (
        "flood_zone",
        "spz1",
        "spz2",
        "safeguard_zone",
        "habitat",
        "archaeology",
        "services",
        "other",
    ),
}

#: Name of an accepted valley line, and where it is kept that nobody saw it.
VALLEY_NAME: Final = "Valley line found in the heights, not seen"
VALLEY_NOTE: Final = "valley line {number}, found in the heights and accepted by hand"

#: Headings, buttons and sentences of the page.
PAGE: Final[Mapping[str, str]] = {
    "title": "Draw the yard: {farm}",
    "title_nameless": "Draw the yard",
    "kicker": "North is up. Nothing that you draw leaves this page until you save it.",
    "no_script": "This page draws with a script. Allow scripts to use it.",
    "map": "Map of the ground; north is up",
    "north": "N",
    "tools": "Buttons for drawing",
    "save": "Save to a file",
    "undo": "Undo the last change",
    "choose": "What do you want to draw?",
    "chosen": "What is chosen",
    "which_shape": "How do you want to draw it?",
    "cross": "Set a corner at the cross",
    "cross_spot": "Set it at the cross",
    "corner_undo": "Take back the last corner",
    "finish": "Finish",
    "cancel": "Cancel",
    "corners": "{count} set",
    "joined": "Joined to {thing}.",
    "finish_first": "Finish this first, or cancel it.",
    "cancelled": "Cancelled.",
    "bring_back": "Bring its corners back",
    "keyboard": "By keyboard: arrows move the map, + and - change its size, Enter "
    "sets a "
    "corner at the cross, Backspace takes one back, Escape cancels.",
    "too_few_line": "A line needs two corners.",
    "too_few_area": "An area needs three corners.",
    "move": "Move its corners",
    "move_spot": "Move it",
    "move_hint": "Drag a corner, or tap it and use the buttons. Tap a small ring to "
    "add "
    "a corner there.",
    "corner_to_cross": "Put this corner at the cross",
    "corner_delete": "Delete this corner",
    "corner_name": "corner {number}",
    "ring_name": "add a corner after corner {number}",
    "done": "Done",
    "delete": "Delete it",
    "deleted": "{thing} is deleted. Undo brings it back.",
    "turn": "Turn its direction round",
    "close": "Close",
    "not_answered": "choose …",
    "needed": "needed",
    "more_questions": "More, if you know it",
    "other_values": "The file also says",
    "no_number": "Write a plain number, such as 12.5.",
    "too_small": "Write {least} or more.",
    "missing": "Still missing, and why it matters",
    "nothing_missing": "Nothing that this page asks for is missing. Walk the yard in "
    "the "
    "rain before you believe it.",
    "draw_it": "Draw it",
    "none_here": "I looked: there are none here",
    "none_of": "I looked: no {what} here",
    "looked": "You looked, and there is none here: {what}",
    "none_of_these": "I looked, and some of these are not here",
    "take_back": "Take that back",
    "fault_needed": "{thing}: not answered: {question}",
    "fault_crossing": "{thing}: its edges cross each other. Move a corner.",
    "fault_reference": "{thing}: it leads to {id}, which is not drawn.",
    "drawn": "What is drawn",
    "nothing_drawn": "Nothing yet.",
    "files": "Files",
    "open": "Open a saved drawing",
    "open_ask": "There is a drawing here already. What shall become of it?",
    "open_replace": "Put the file in its place",
    "open_add": "Add the file to it",
    "open_refused": "{file} was not opened: {why}",
    "opened": "{file} is open; things in it: {count}.",
    "opened_off": "Of these {all}, {count} lie off this ground: was the file made for "
    "another farm?",
    "not_json": "it is no drawing file (no JSON); choose the features.geojson that you "
    "saved.",
    "not_collection": "it is no drawing file; choose the features.geojson that you "
    "saved.",
    "not_degrees": "it is in another system of coordinates than this page saves; put "
    "it "
    "into the farm folder instead, and write the page anew.",
    "not_ours": "it was not saved by this page, or on a machine that places things "
    "otherwise; put it into the farm folder instead, and write the page anew: "
    "pathways draw",
    "choose_hint": "Choose one, tap its corners on the map, answer its questions. "
    "Save to a file when you are done.",
    "bad_feature": "thing {number} in it has no layer that this page knows, or no "
    "shape "
    "that the layer can have; choose a file that this page saved.",
    "gpx": "Lay a phone's track under it (GPX)",
    "gpx_caution": "A phone is often several metres off, more beside buildings and "
    "under "
    "trees (common practice, no source). Use the track to find your way; do not take a "
    "kerb or a gully from it.",
    "gpx_refused": "{file} was not read: it is no GPX track; export the track as GPX "
    "1.1.",
    "gpx_empty": "{file} was not read: it holds no points.",
    "gpx_elsewhere": "{file} was not laid under the drawing: it lies outside this "
    "ground.",
    "gpx_read": "{file} lies under the drawing, as a faint dotted line. It is not "
    "saved.",
    "gpx_away": "Take the track away",
    "never_saved": "Not yet saved to a file.",
    "saved": "Last saved to a file: {time}.",
    "unsaved": "There are changes since.",
    "kept": "This browser keeps what you drew until you save.",
    "not_kept": "This browser keeps nothing for this page: save to a file often, and "
    "before you close it.",
    "twice": "This page is open twice in this browser, and each window keeps its own "
    "drawing in the place of the other's. Save to a file, and close one.",
    "restored": "Carried on from what this browser kept ({time}).",
    "start_again": "Go back to the drawing that came with the page",
    "after_save": "Put the saved file, features.geojson, into the farm folder. If the "
    "browser gave it another name, such as features (1).geojson, take the newest and "
    "name it features.geojson. Then run: pathways check",
    "save_faults": "It is saved, and {count} things in it will be refused until they "
    "are "
    "answered: see below.",
    "ground": "What lies under the drawing",
    "relief": "Shaded ground",
    "picture": "Aerial picture",
    "relief_note": "Slopes look {times} times as steep as they are.",
    "contour_note": "Each dark line joins ground of one height; from line to line it "
    "is "
    "{every} m.",
    "valleys": "Valley lines",
    "valleys_hint": "No water is drawn. The dashed lines are where the heights say "
    "that "
    "water gathers ({area} ha or more drain to them: a judgement, no source). They are "
    "not water that anybody saw. Go and look; then take the right ones or draw the "
    "water "
    "yourself.",
    "valley": "Valley line {number}, {length} m",
    "valley_take": "Take it as water",
    "valley_show": "Show it",
    "valleys_hide": "Hide the other lines",
    "whole": "Show all the ground",
}
