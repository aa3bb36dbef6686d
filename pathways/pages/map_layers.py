"""What is drawn, and where a pad could go, as values of the map page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from shapely import Geometry, box

from pathways.aerial import AerialPicture
from pathways.assessment import Assessment
from pathways.features import Feature, Features
from pathways.pages import amounts, palette, words
from pathways.pages.map_ways import story_values
from pathways.pages.naming import called
from pathways.pages.places import Places
from pathways.pages.relief import photo
from pathways.pages.site_story import site_story
from pathways.pages.story import Story
from pathways.siting.site import Site, shared_reasons

Values = dict[str, Any]

#: Corners of the edge of a setback that stand out less are left out [m].
_EDGE_REACH_M: Final = 0.1


def picture_value(picture: AerialPicture | None) -> Values | None:
    """Return the address of an aerial picture and its corners, if there is one.

    Parameters
    ----------
    picture : AerialPicture or None
        On the plane of the farm's grid.

    Returns
    -------
    dict or None
        `uri`, and `corners` (latitude and longitude).
    """
    if picture is None:
        return None
    uri, corners = photo(picture)
    return {"uri": uri, "corners": corners}


def layer_values(features: Features, places: Places) -> Iterable[Values]:
    """Yield the layers of the drawing that hold something, from the ground up.

    Parameters
    ----------
    features : Features
        What is drawn.
    places : Places
        Of the grid.

    Yields
    ------
    dict
        Key and name of a layer, and the things on it.
    """
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
OPEN_LAYERS: Final = frozenset({"surfaces", "exclusions", "search_area"})


def _name_of_one(layer: str) -> str:
    return {
        "tanks": "tank",
        "search_area": "search area",
        "candidates": "site in mind",
        "spot_levels": "surveyed height",
    }.get(layer, layer)


def site_values(assessment: Assessment, places: Places) -> list[Values]:
    """Return the sites as listed: numbered, for those that tie share a rank.

    Parameters
    ----------
    assessment : Assessment
        What was found.
    places : Places
        Of its grid.

    Returns
    -------
    list of dict
        In the order of their rank.
    """
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
        "story": story_values(story, places),
    }


def setback_values(assessment: Assessment, places: Places) -> list[Values]:
    """Return the edges of the distances of rules; one edge may bear several rules.

    Parameters
    ----------
    assessment : Assessment
        What was found.
    places : Places
        Of its grid.

    Returns
    -------
    list of dict
        Ground that is barred as a whole is left out: an exclusion shows it already.
    """
    ground = box(*assessment.farm.grid.extent)
    edges: list[Values] = []
    areas: list[Geometry] = []
    for one in assessment.setbacks:
        uses = [use for use in one.applies_to if use != "store"]  # none is sited
        if not one.distance_m > 0 or not uses:
            continue
        says = words.capital(words.plain(one.says))
        if one.area.covers(ground):
            says += words.PAGE["all_within"]
        same = [number for number, area in enumerate(areas) if area.equals(one.area)]
        if same:
            edges[same[0]]["says"].append(says)
            continue
        areas.append(one.area)
        thinned = one.area.boundary.simplify(_EDGE_REACH_M)
        edges.append(
            {
                "label": words.PAGE["keep_off"].format(
                    distance=amounts.metres_needed(one.distance_m),
                    uses=words.listed([words.USES[use] for use in uses]),
                ),
                "says": [says],
                "geometry": places.geometry(thinned),
            }
        )
    return edges
