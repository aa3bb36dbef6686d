"""Ways of spills, and what is told of them, as values of the map page."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from pathways.assessment import Assessment
from pathways.features import Feature, Features
from pathways.pages import amounts, palette, words
from pathways.pages.certainty import reach_picture
from pathways.pages.enough import less_by_another_way
from pathways.pages.naming import verdict_of, way_title
from pathways.pages.places import Places
from pathways.pages.posts import hollow_told, notable_hollows
from pathways.pages.spill_story import state_headlines
from pathways.pages.story import Story, way_story
from pathways.spill.ground_states import StateName
from pathways.spill.spill import Spill
from pathways.terrain.pathway import Alternative, Leg, Pathway

Values = dict[str, Any]


def way_values(assessment: Assessment, places: Places) -> list[Values]:
    """Return the ways as the map shows and tells them, the worst first.

    Parameters
    ----------
    assessment : Assessment
        What was found.
    places : Places
        Of its grid.

    Returns
    -------
    list of dict
        One a pathway, and one a source that was not traced.
    """
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
    less = "" if spill is None else less_by_another_way(pathway, spill)
    doubts = (
        (words.IN_RAIN, _runs_on(pathway, spill)),
        (
            words.SOONER.format(length=amounts.metres(sooner_m)) if sooner else "",
            sooner,
        ),
        (less, bool(less)),
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
        "story": story_values(way_story(pathway, features, spill), places),
        "by_state": state_headlines(spill),
        "lengths_m": [round(one.line.length, 2) for one in _drawn(pathway.legs)],
        "fronts": _fronts(spill),
    }


def _fronts(spill: Spill | None) -> Values:
    """Return where the front of a loss is through time, by state of the ground.

    It is that of the loss stated for the place, or of the largest.
    """
    if spill is None:
        return {}
    return {
        state: {
            "loss": amounts.volume(spill.largest.volume_l),
            "ends": _front_ends(spill, state),
            "moments": [
                [round(along_m, 2), round(time_s, 1)] for along_m, time_s in moments
            ],
        }
        for state, moments in spill.fronts
    }


def _front_ends(spill: Spill, state: StateName) -> str:
    """Return what becomes of the front: there, held by a tank, or used up."""
    fate = spill.fate(spill.largest.name, state)
    if fate.arrives_l > 0:
        return "there"
    if fate.tanks_l > 0:
        return "held"
    # The front goes by middle values; with others some may come to the end.
    return "nearly_used_up" if fate.gets_past_l[-1] > 0 else "used_up"


def _not_traced(source: Feature, places: Places) -> Values:
    """Return the row of a source without a way: absent is not harmless."""
    verdict = words.not_known("not_traced")
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
        "story": story_values(story, places),
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


def story_values(story: Story, places: Places) -> Values:
    """Return a story as the page's script tells it.

    Parameters
    ----------
    story : Story
        Of a way or of a site.
    places : Places
        Of the grid.

    Returns
    -------
    dict
        Posts with their place, the fall and the strip of covers after each.
    """
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
