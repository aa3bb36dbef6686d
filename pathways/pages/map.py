"""The interactive map of one farm: one file that opens without a network."""

from __future__ import annotations

from typing import Any, Final

import folium

from pathways.assessment import Assessment
from pathways.pages import palette, words
from pathways.pages.anywhere import ground_values, no_ground
from pathways.pages.map_layers import (
    OPEN_LAYERS,
    layer_values,
    picture_value,
    setback_values,
    site_values,
)
from pathways.pages.map_ways import way_values
from pathways.pages.notes import assumption_told, notice_told, without_told
from pathways.pages.other_units import other_units
from pathways.pages.places import Places
from pathways.pages.relief import Relief, relief
from pathways.pages.web_map import Handover, bare_map, page_around
from pathways.spill.ground_states import STATE_NAMES

Values = dict[str, Any]

#: In the order in which they use each other.
_SCRIPTS: Final = (
    "pieces.js",
    "ground.js",
    "tap.js",
    "units.js",
    "story.js",
    "play.js",
    "legend.js",
    "tapping.js",
    "map.js",
)


def map_page(assessment: Assessment) -> str:
    """Return the map page of a farm as the text of one HTML file.

    Parameters
    ----------
    assessment : Assessment
        What was found out. Equal assessments give equal pages, byte for byte.

    Returns
    -------
    str
        A page that asks nothing of the network and runs no script but its own.

    Raises
    ------
    OutputError
        If the page would need something from the internet.
    """
    ground = relief(assessment.farm.grid)
    map_ = bare_map(ground, max_zoom=23)
    picture = folium.raster_layers.ImageOverlay(
        ground.data_uri, [list(ground.south_west), list(ground.north_east)]
    )
    picture.add_to(map_)
    Handover("showFarm", map_, picture).add_to(map_)
    data = _data(assessment, ground)
    return page_around(map_, "map.html", data, words.PAGE, _SCRIPTS)


def _data(assessment: Assessment, ground: Relief) -> Values:
    farm = assessment.farm
    places = Places(farm.grid)
    name = words.shown(farm.settings.farm.name or farm.settings.farm.id)
    not_yet = [
        words.plain(one, words.NOT_YET_ASSESSED) for one in assessment.not_yet_assessed
    ]
    steeper = words.PAGE["relief_note"].format(times=f"{ground.times_steeper:.0f}")
    return {
        "farm": name,
        "title": words.PAGE["title"].format(farm=name),
        "words": dict(words.PAGE),
        "names": dict(words.LAYERS),
        "relief_note": steeper if ground.times_steeper > 1 else "",
        "styles": {
            "hollow": dict(palette.HOLLOW),
            "site": dict(palette.SITE),
            "layout": dict(palette.LAYOUT),
            "parts": dict(palette.PARTS),
            "contour": palette.CONTOUR,
            "setbacks": palette.SETBACKS,
        },
        "reach_bands": [
            {
                "says": words.REACH_BAND.format(share=round(100 * share)),
                "style": palette.area(
                    "#444444", f"#{red:02X}{green:02X}{blue:02X}", opacity / 255
                ),
            }
            for share, (red, green, blue, opacity) in zip(
                palette.REACH_BANDS, palette.REACH_COLOURS, strict=True
            )
        ],
        "reach_parts": words.REACH_PARTS,
        "leg_words": dict(words.LEGS),
        "ground": ground_values(assessment, places),
        "no_ground": no_ground(assessment),
        "units": other_units(),
        "open_layers": sorted(OPEN_LAYERS),
        "states": [
            {"key": one, "name": words.capital(words.GROUND_STATES[one])}
            for one in STATE_NAMES
        ],
        "layers": [*layer_values(farm.features, places)],
        "ways": way_values(assessment, places),
        "sites": site_values(assessment, places),
        "setbacks": setback_values(assessment, places),
        "picture": picture_value(farm.picture),
        "cautions": [words.plain(one) for one in assessment.cautions],
        "warnings": [
            notice_told(one)
            for one in dict.fromkeys((*farm.notices, *assessment.notices))
        ],
        "assumptions": [assumption_told(one) for one in assessment.assumptions],
        "without_building": [without_told(one) for one in assessment.ways_without],
        "not_yet": words.PAGE["not_yet"].format(what="; ".join(not_yet))
        if not_yet
        else "",
    }
