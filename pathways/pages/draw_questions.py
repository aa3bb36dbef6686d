"""Questions and answers of the drawing page's forms, in plain words.

A field or answer that is not listed here is said as `pathways.features` says it, so
that a new one appears on the page by itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

#: Kinds that are only drawn as one shape.
ONLY_AS: Final[Mapping[tuple[str, str], str]] = {
    ("observations", "flow_seen"): "LineString",
    ("access", "track"): "LineString",
}

#: Fields that name other things drawn: their layers, and words besides.
REFERS_TO: Final[Mapping[tuple[str, str], tuple[tuple[str, ...], tuple[str, ...]]]] = {
    ("inlets", "drains_to"): (
        ("pipes", "tanks", "watercourses"),
        ("unknown", "soakaway", "capped"),
    ),
    ("sources", "door"): (("access",), ()),
    ("observations", "from_id"): (("sources", "inlets"), ()),
}

#: Questions of the forms, by layer and field or by field alone.
FIELDS: Final[Mapping[tuple[str, str] | str, str]] = {
    "name": "What do people call it?",
    ("sources", "kind"): "What happens there?",
    ("sources", "volume_l"): "Largest loss that you can think of [litres]",
    ("sources", "release_l_per_min"): "How fast it would run out [litres a minute]",
    ("sources", "fills_per_year"): "Sprayer fills a year",
    ("sources", "door"): "Door by which liquid leaves, if it is indoors",
    ("watercourses", "kind"): "Which water is it?",
    ("watercourses", "drawn_at"): "What did you draw?",
    ("watercourses", "half_width_m"): "From its middle to the top of the bank [metres]",
    ("watercourses", "culverted"): "It runs in a pipe underground here",
    ("watercourses", "seasonal"): "It is dry for part of the year",
    ("water_supplies", "kind"): "Which is it?",
    ("water_supplies", "use"): "What is the water used for?",
    ("buildings", "kind"): "Does liquid pass under its walls?",
    ("buildings", "dwelling"): "People live in it",
    ("barriers", "kind"): "What is it?",
    (
        "barriers",
        "height_m",
    ): "Height above the ground beside it [metres, 0.1 is 10 cm]",
    ("inlets", "kind"): "Which opening is it?",
    ("inlets", "drains_to"): "Where does it lead?",
    ("inlets", "covered"): "A lid or mat keeps water out",
    ("pipes", "kind"): "What is it?",
    ("pipes", "diameter_mm"): "Inner diameter [millimetres]",
    ("tanks", "capacity_l"): "What it holds when empty [litres]",
    ("tanks", "free_l"): "Room in it that you can rely on [litres]",
    ("tanks", "maintained"): "Somebody inspects and empties it",
    ("surfaces", "kind"): "What covers the ground?",
    ("surfaces", "condition"): "State of a hard surface",
    ("exclusions", "kind"): "Why keep off it?",
    ("exclusions", "label"): "What should the map say?",
    ("exclusions", "standing"): "How do you know?",
    ("candidates", "depth_to_water_m"): "Depth to water in winter, by a trial pit "
    "[metres]",
    ("access", "kind"): "What is it?",
    ("access", "width_m"): "Clear width of a gate or door [metres]",
    ("spot_levels", "level_m"): "Height, counted as the survey of the ground does "
    "[metres]",
    ("spot_levels", "accuracy_m"): "How exact it is [metres, 0.02 is 2 cm]",
    ("observations", "kind"): "What did you see?",
    ("observations", "date"): "When?",
    ("observations", "by"): "Who saw it?",
    ("observations", "from_id"): "Where was the dye poured in?",
}

#: Answers that are said otherwise than elsewhere, by field and value.
VALUES: Final[Mapping[tuple[str, str], str]] = {
    ("drains_to", "unknown"): "Nobody knows: it is then taken to lead to water",
    ("drains_to", "soakaway"): "A soakaway in the ground",
    ("drains_to", "capped"): "Nowhere: it is capped off",
    ("kind", "closed"): "No: closed walls",
    ("kind", "open_sided"): "Yes: open-sided, or a roof on posts",
    ("kind", "bund"): "bank",
    ("kind", "drive_over_bund"): "bank that one drives over",
    ("kind", "spz1"): "inner protection zone of a water source",
    ("kind", "spz2"): "outer protection zone of a water source",
    ("kind", "water"): "water tap",
    ("kind", "power"): "power supply",
    ("kind", "other"): "something else",
    ("kind", "services"): "buried pipes or cables",
    ("use", "domestic_or_food_production"): "drinking, the house, or making food",
    ("use", "unknown"): "nobody knows: it is then taken as drinking water",
    ("drawn_at", "centre"): "its middle",
    ("drawn_at", "edge"): "the edge of the water",
    ("drawn_at", "bank_top"): "the top of its bank",
}
