"""The interactive map of one farm: one file that opens without a network."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any, Final

import folium
from branca.element import MacroElement
from folium.template import Template
from shapely import Geometry

from pathways.aerial import AerialPicture
from pathways.assessment import Assessment
from pathways.features import Feature, Features
from pathways.pages import amounts, palette, words
from pathways.pages.anywhere import ground_values
from pathways.pages.certainty import reach_picture
from pathways.pages.naming import called, verdict_of, way_title
from pathways.pages.notes import assumption_told, notice_told, without_told
from pathways.pages.offline import (
    OfflineFigure,
    json_inside,
    script_tag,
    style_tag,
    template_text,
)
from pathways.pages.other_units import other_units
from pathways.pages.places import Places
from pathways.pages.posts import hollow_told, notable_hollows
from pathways.pages.relief import Relief, photo, relief
from pathways.pages.site_story import site_story
from pathways.pages.spill_story import state_headlines
from pathways.pages.story import Story, way_story
from pathways.siting.site import Site, shared_reasons
from pathways.spill.ground_states import STATE_NAMES
from pathways.spill.spill import Spill
from pathways.terrain.pathway import Alternative, Leg, Pathway

Values = dict[str, Any]

#: In the order in which they use each other.
_SCRIPTS: Final = (
    "pieces.js",
    "ground.js",
    "tap.js",
    "units.js",
    "story.js",
    "play.js",
    "tapping.js",
    "map.js",
)


#: Corners of the edge of a setback that stand out less are left out [m].
_EDGE_REACH_M: Final = 0.1


class _Shown(MacroElement):
    """Hand folium's map and picture over to the page's own script."""

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "showFarm({{ this.map.get_name() }}, {{ this.picture.get_name() }});"
        "{% endmacro %}"
    )

    def __init__(
        self, map_: folium.Map, picture: folium.raster_layers.ImageOverlay
    ) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = "Shown"
        self.map = map_
        self.picture = picture


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
    data = _data(assessment, ground)
    figure = OfflineFigure(
        "map.html",
        {
            "title": data["title"],
            "words": words.PAGE,
            "data": json_inside(data),
            "sheet": style_tag(template_text("map.css")),
            "code": "\n".join(script_tag(template_text(name)) for name in _SCRIPTS),
        },
    )
    figure.add_child(_folium_map(ground))
    return figure.render()


def _folium_map(ground: Relief) -> folium.Map:
    south, west = ground.south_west
    north, east = ground.north_east
    map_ = folium.Map(
        location=[(south + north) / 2, (west + east) / 2],
        zoom_start=17,
        max_zoom=23,
        tiles=None,
        zoom_snap=0.25,
        zoom_delta=0.5,
        attribution_control=False,
    )
    picture = folium.raster_layers.ImageOverlay(
        ground.data_uri, [list(ground.south_west), list(ground.north_east)]
    )
    picture.add_to(map_)
    _Shown(map_, picture).add_to(map_)
    return map_


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
        "units": other_units(),
        "open_layers": sorted(_OPEN),
        "states": [
            {"key": one, "name": words.capital(words.GROUND_STATES[one])}
            for one in STATE_NAMES
        ],
        "layers": [*_layers(farm.features, places)],
        "ways": _ways(assessment, places),
        "sites": _sites(assessment, places),
        "setbacks": _setbacks(assessment, places),
        "picture": _picture(farm.picture),
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


def _picture(picture: AerialPicture | None) -> Values | None:
    if picture is None:
        return None
    uri, corners = photo(picture)
    return {"uri": uri, "corners": corners}


def _layers(features: Features, places: Places) -> Iterable[Values]:
    for layer in palette.ORDER:
        drawn = [
            _feature(layer, one, places)
            for one in getattr(features, layer)
            if not one.geometry.is_empty
        ]
        if drawn:
            yield {"key": layer, "name": words.LAYERS[layer], "things": drawn}


def _feature(layer: str, feature: Feature, places: Places) -> Values:
    kind = getattr(feature, "kind", "")
    if getattr(feature, "culverted", False):
        kind = "culverted"
    said = words.plain(kind) if kind else _name_of_one(layer)
    detail = getattr(feature, "label", "") or called(feature, said)
    level_m = getattr(feature, "level_m", None)
    height_m = getattr(feature, "height_m", None)
    if level_m is not None:
        detail = f"{detail}: {level_m:.2f} m"
    if height_m is not None:
        detail = f"{detail}, {amounts.metres(height_m)} high"
    return {
        "kind": words.capital(said),
        "says": words.capital(words.shown(detail)),
        "label": words.shown(feature.name) if layer in _LABELLED else "",
        "style": dict(palette.style_of(layer, kind)),
        "geometry": places.geometry(feature.geometry),
    }


#: Layers whose names stand on the map, so that people find their way about.
_LABELLED: Final = frozenset({"watercourses", "buildings"})

#: Layers whose areas merely cover the ground: a tap goes through them.
_OPEN: Final = frozenset({"surfaces", "exclusions", "search_area"})


def _name_of_one(layer: str) -> str:
    return {
        "tanks": "tank",
        "search_area": "search area",
        "candidates": "site in mind",
        "spot_levels": "surveyed height",
    }.get(layer, layer)


def _ways(assessment: Assessment, places: Places) -> list[Values]:
    features = assessment.farm.features
    worst_first = [assessment.told[place] for place in assessment.worst_first]
    ways = [_way(one, spill, features, places) for one, spill in worst_first]
    traced = {one.source_id for one in assessment.pathways}
    ways += [
        _not_traced(source, places)
        for source in features.sources
        if source.id not in traced
    ]
    return [{"letter": words.letter(number), **way} for number, way in enumerate(ways)]


def _unsure(pathway: Pathway, spill: Spill | None) -> str:
    """Say beside the verdict what makes it doubtful, or nothing."""
    past = spill is not None and any(one.past_inlets_l > 0 for one in spill.fates)
    sooner_m = _sooner_m(pathway)
    sooner = sooner_m < pathway.length_m
    doubts = (
        (words.IN_RAIN, _runs_on(pathway, spill)),
        (
            words.SOONER.format(length=amounts.metres(sooner_m)) if sooner else "",
            sooner,
        ),
        (words.UNDECIDED, any(not one.decided for one in pathway.arrivals)),
        (words.RUNS_PAST, past),
    )
    return " ".join(says for says, applies in doubts if applies)


def _sooner_m(pathway: Pathway) -> float:
    """Return the length of the shortest other way that liquid may take [m]."""
    return min((one.length_m for one in pathway.alternatives), default=math.inf)


def _how_far(pathway: Pathway) -> str:
    """Say how far it is, and by the shortest other way that it may take."""
    far, sooner_m = amounts.metres(pathway.length_m), _sooner_m(pathway)
    if sooner_m < pathway.length_m:
        return f"{far} or {amounts.metres(sooner_m)}"
    return far


def _runs_on(pathway: Pathway, spill: Spill | None) -> bool:
    """Whether a tank that holds it in dry weather does not in rain."""
    in_rain = spill is not None and any(
        one.state == "raining" and one.gets_past_l[-1] > 0 for one in spill.fates
    )
    return pathway.outcome == "contained" and in_rain


def _reach(pathway: Pathway, places: Places) -> Values:
    """Return the picture of the more cautious scenario, and where its ways part."""
    if not pathway.arrivals:
        return {"reach": None, "parts": None}
    arrival = pathway.arrivals[0]
    parts = arrival.parts_at
    return {
        "reach": reach_picture(places.grid, arrival),
        "parts": None if parts is None else places.point(*parts),
    }


def _way(
    pathway: Pathway, spill: Spill | None, features: Features, places: Places
) -> Values:
    return {
        "title": way_title(pathway),
        "outcome": words.OUTCOMES[pathway.outcome],
        "verdict": verdict_of(pathway, features)
        + (words.NOT_IN_RAIN if _runs_on(pathway, spill) else ""),
        "unsure": _unsure(pathway, spill),
        **_reach(pathway, places),
        "length": _how_far(pathway),
        "style": dict(palette.OUTCOMES[pathway.outcome]),
        "legs": _legs(pathway.legs, places),
        "start": places.point(*pathway.start),
        "end": places.point(*pathway.end),
        "hollows": [
            {
                "place": places.point(one.easting_m, one.northing_m),
                "says": f"{hollow_told(one)}.",
            }
            for one in notable_hollows(pathway)
        ],
        "alternatives": [
            _alternative(one, features, places) for one in pathway.alternatives
        ],
        "story": _told(way_story(pathway, features, spill), places),
        "by_state": state_headlines(spill),
        "lengths_m": [round(one.line.length, 2) for one in _drawn(pathway.legs)],
        "fronts": _fronts(spill),
    }


def _fronts(spill: Spill | None) -> Values:
    """Return where the front of the largest loss is through time, by state."""
    if spill is None:
        return {}
    return {
        state: [[round(along_m, 2), round(time_s, 1)] for along_m, time_s in moments]
        for state, moments in spill.fronts
    }


def _not_traced(source: Feature, places: Places) -> Values:
    """Return the row of a source without a way: absent is not harmless."""
    verdict = f"{words.OUTCOMES['not_known']}: {words.WHY['not_traced']}"
    centre = source.geometry.representative_point()
    place = places.point(centre.x, centre.y)
    title = words.shown(source.title)
    story = Story(title=title, verdict=verdict, summary="")
    return {
        "title": title,
        "outcome": words.OUTCOMES["not_known"],
        "verdict": verdict,
        "length": "",
        "style": dict(palette.OUTCOMES["not_known"]),
        "legs": [],
        "start": place,
        "end": place,
        "hollows": [],
        "alternatives": [],
        "by_state": {},
        "lengths_m": [],
        "fronts": {},
        "story": _told(story, places),
    }


def _drawn(legs: Iterable[Leg]) -> list[Leg]:
    return [one for one in legs if not one.line.is_empty]


def _legs(legs: Iterable[Leg], places: Places) -> list[Values]:
    return [
        {"kind": one.kind, "geometry": places.geometry(one.line)}
        for one in _drawn(legs)
    ]


def _alternative(
    alternative: Alternative, features: Features, places: Places
) -> Values:
    return {
        "outcome": words.OUTCOMES[alternative.outcome],
        "style": dict(palette.OUTCOMES[alternative.outcome]),
        "says": f"{words.LAYERS['alternatives']}: "
        f"{words.plain(alternative.why)}. {verdict_of(alternative, features)}.",
        "legs": _legs(alternative.legs, places),
    }


def _sites(assessment: Assessment, places: Places) -> list[Values]:
    """Return the sites as listed: numbered, for those that tie share a rank."""
    shared = shared_reasons(assessment.sites)
    return [
        _site(one, site_story(one, number, shared), str(number), places)
        for number, one in enumerate(assessment.sites, start=1)
    ]


def _site(site: Site, story: Story, number: str, places: Places) -> Values:
    parts = [one for one in (site.pad, site.bed) if one is not None]
    return {
        "letter": number,
        "title": story.title.partition(": ")[2],
        "verdict": words.SHORT_VERDICTS[site.meets_rules],
        "first": amounts.first_of_a_hundred(site.rank_acceptability),
        "layout": [places.geometry(one) for one in parts],
        "place": places.point(site.easting_m, site.northing_m),
        "geometry": places.geometry(site.footprint),
        "story": _told(story, places),
    }


def _setbacks(assessment: Assessment, places: Places) -> list[Values]:
    """Return the edges of the distances of rules; one edge may bear several rules.

    Ground that is barred as a whole is drawn already, as an exclusion.
    """
    edges: list[Values] = []
    areas: list[Geometry] = []
    for one in assessment.setbacks:
        if not one.distance_m > 0:
            continue
        says = words.capital(words.plain(one.says))
        same = [number for number, area in enumerate(areas) if area.equals(one.area)]
        if same:
            edges[same[0]]["says"].append(says)
            continue
        areas.append(one.area)
        thinned = one.area.boundary.simplify(_EDGE_REACH_M)
        edges.append(
            {
                "label": words.PAGE["keep_off"].format(
                    distance=amounts.metres_needed(one.distance_m)
                ),
                "says": [says],
                "geometry": places.geometry(thinned),
            }
        )
    return edges


def _told(story: Story, places: Places) -> Values:
    told = asdict(story)
    for number, post in enumerate(told["posts"]):
        post["at"] = amounts.metres(post.pop("at_m"))
        here = post.pop("easting_m"), post.pop("northing_m")
        post["place"] = places.point(*here)
        if post["then"]:
            after = story.posts[number + 1]
            there = after.easting_m, after.northing_m
            is_open = post["then"]["kind"] == "surface"
            post["then"]["falls"] = (
                amounts.falls(places.grid, here, there) if is_open else ""
            )
            post["then"]["strip"] = [
                _strip(kind, length_m) for kind, length_m in post["then"].pop("over")
            ]
    return told


def _strip(kind: str, length_m: float) -> Values:
    """Return a piece of the strip of covers beside a way."""
    if kind in words.LEGS:
        return {"name": "", "kind": kind, "length": round(length_m, 2)}
    return {
        "name": words.plain(kind),
        "kind": "surface",
        "style": dict(palette.style_of("surfaces", kind)),
        "length": round(length_m, 2),
    }
