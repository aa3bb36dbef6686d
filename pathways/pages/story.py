"""The way of a spill, and the case for a site, told in sentences.

A way is told by staging posts: where it starts, where it goes into a drain, fills a
hollow or comes out again, and where it ends; and by the stretch after each.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from pathways.features import Features
from pathways.pages import amounts, words
from pathways.pages.enough import enough_by_other_ways
from pathways.pages.naming import (
    DRAINS,
    RECEPTORS,
    find_feature,
    receptor_name,
    thing,
    verdict_of,
    way_title,
)
from pathways.pages.parts import Part
from pathways.pages.posts import (
    Post,
    covers_along,
    entered_last,
    legs_told,
    pipe_name,
    small_hollows_told,
    staging_posts,
)
from pathways.pages.spill_story import spill_headline, spill_parts
from pathways.spill.spill import Spill
from pathways.terrain.pathway import Alternative, End, Nearby, Pathway


@dataclass(frozen=True, kw_only=True)
class Story:
    """What is told of one way or one site."""

    title: str
    verdict: str
    summary: str
    posts: tuple[Post, ...] = ()
    parts: tuple[Part, ...] = field(default=())


def way_story(
    pathway: Pathway, features: Features, spill: Spill | None = None
) -> Story:
    """Tell the way of one source's liquid, and what a spill does on it."""
    return Story(
        title=way_title(pathway),
        verdict=verdict_of(pathway, features),
        summary=" ".join(
            filter(
                None,
                (
                    _summary(pathway, features),
                    spill_headline(pathway, spill, features),
                ),
            )
        ),
        posts=staging_posts(pathway, features, () if spill is None else spill.kerbs),
        parts=tuple(
            part
            for part in (
                *spill_parts(pathway, spill, features),
                Part(heading="How sure that is", lines=_how_sure(pathway, features)),
                Part(heading="Along the way", lines=_along(pathway, features)),
                Part(
                    heading="It may also take another way",
                    lines=tuple(
                        _alternative(one, features) + enough
                        for one, enough in zip(
                            pathway.alternatives,
                            enough_by_other_ways(pathway, spill),
                            strict=True,
                        )
                    ),
                ),
                Part(
                    heading="Take care",
                    lines=tuple(words.plain(one) for one in pathway.cautions),
                ),
            )
            if part.lines
        ),
    )


def _ending(way: Pathway | Alternative, features: Features) -> str:
    """Return the last clause of a way, such as "reaches the stream Holt Brook"."""
    ends_at = receptor_name(way, features)
    known = {
        "reaches_water": f"reaches {ends_at or 'water'}",
        "enters_piped_drain": _with(
            "goes into a piped drain whose outlet is not known", ends_at
        ),
        "enters_ground": _with("goes into the ground", ends_at),
        "not_known": "goes on to nobody knows where",
        "stops_on_surface": "stays on the surface until the next rain",
        "contained": f"is held by {ends_at or 'what is built there'}",
    }
    return known[way.outcome]


def _with(clause: str, thing: str) -> str:
    return f"{clause} ({thing})" if thing else clause


def _summary(pathway: Pathway, features: Features) -> str:
    clauses = [clause for leg in _clauses(pathway, features) for clause in leg]
    last = entered_last(pathway, features)
    clauses += [f"enters {last}"] if last else []
    ending = _ending(pathway, features)
    if pathway.outcome == "not_known":
        ending = "from there its way is not known"
    length = amounts.metres(pathway.length_m)
    told = f"{way_title(pathway)}: "
    if clauses:
        told += f"liquid {', then '.join(clauses)}, and {ending}"
        told += "" if pathway.outcome == "not_known" else f" after {length}"
    elif pathway.outcome == "not_known":
        told += "the way of its liquid is not known"
    else:
        told += f"liquid {ending} where it is spilt"
    return f"{told}. {_straight(pathway)}{_why(pathway)}"


def _straight(pathway: Pathway) -> str:
    if pathway.straight_line_m is None:
        return "How far it is to water in a straight line is not known."
    distance = amounts.metres(pathway.straight_line_m)
    return f"In a straight line the nearest water is {distance} away."


def _why(pathway: Pathway) -> str:
    if pathway.outcome != "not_known":
        return ""
    says = f" Why it is not known: {words.plain(pathway.why, words.WHY)}."
    if pathway.overtops_at_m is not None:
        says += (
            f" It would run over at a level of {pathway.overtops_at_m:.2f} m; where it "
            "goes then is told among the other ways."
        )
    return f"{says} Take it that it can reach water until somebody shows otherwise."


def _clauses(pathway: Pathway, features: Features) -> Iterator[list[str]]:
    """Yield the clauses of each leg, such as "enters gully G2"."""
    for leg, entered in legs_told(pathway, features):
        length = amounts.metres(leg.line.length)
        clauses = [f"enters {entered}"] if entered else []
        if leg.kind == "pipe":
            yield [*clauses, f"runs {length} through {pipe_name(leg, features)}"]
        elif leg.kind == "observed":
            yield [*clauses, f"follows for {length} what was seen on the ground"]
        elif leg.kind == "joined":
            yield [*clauses, f"goes {length} in a straight line, for no pipe is drawn"]
        elif leg.line.length > 0:
            yield [*clauses, f"runs {length} over {covers_along(leg.line, features)}"]


def _how_sure(pathway: Pathway, features: Features) -> tuple[str, ...]:
    """Say in how many versions of the ground it goes so, the cautious first."""
    lines = []
    for arrival in pathway.arrivals:
        water, may = arrival.reaches_water, arrival.may_reach_water
        open_ends = may.hits > water.hits
        lines.append(
            f"{amounts.versions(may)} of the ground ({arrival.says}), with the drains "
            "and kerbs as drawn, it reaches water"
            + (
                " or ends where nobody knows how it goes on: treat both as reaching "
                "water."
                if open_ends
                else "."
            )
        )
        ends = [
            f"{_end_name(one, features)} in {amounts.share_in_words(one.share)}"
            for one in arrival.ends
            if one.share.probability >= _WORTH_NAMING
        ]
        if len(ends) > 1 or (ends and open_ends):
            lines.append(f"It ends in {words.listed(ends)}.")
        if not arrival.decided:
            lines.append(
                "The ground cannot decide: treat each of these ends as possible."
            )
        if arrival.parts_at is not None:
            beside = thing(
                features, arrival.parts_near, layers=("barriers", "inlets", "access")
            )
            where = f" beside {beside}" if beside else ""
            lines.append(f"The ways part most at the mark on the map{where}.")
    return tuple(dict.fromkeys(lines))


def _end_name(end: End, features: Features) -> str:
    """Return what an end is called in a sentence."""
    if end.id:
        name = thing(features, end.id, layers=(*RECEPTORS, "inlets", "pipes"))
        return f"the drain of {name}" if end.kind == "drain" else name
    return words.OTHER_ENDS[end.kind]


#: An end in fewer versions than this share is not named.
_WORTH_NAMING = 0.02


def _along(pathway: Pathway, features: Features) -> tuple[str, ...]:
    lines = []
    if pathway.length_m > 0 and pathway.drop_m > 0:
        slope = pathway.mean_slope or pathway.drop_m / pathway.length_m
        lines.append(
            f"It falls {amounts.metres(pathway.drop_m)} on the way, "
            f"{amounts.fall(slope)} on average."
        )
    covers = [
        f"{amounts.metres(length_m)} {words.plain(kind)}"
        for kind, length_m in pathway.surfaces
    ]
    if covers:
        lines.append(f"It runs over {words.listed(covers)}.")
    if told := small_hollows_told(pathway):
        lines.append(told)
    lines += [
        f"It passes {amounts.metres(one.distance_m)} from {_near(one, features)}."
        for one in pathway.passes_near
    ]
    return tuple(lines)


def _near(nearby: Nearby, features: Features) -> str:
    layers = ("water_supplies", "inlets", "watercourses", "pipes", "tanks")
    if find_feature(features, nearby.id, layers) is not None:
        return thing(features, nearby.id, layers=layers)
    return f"{words.plain(nearby.kind)} {words.shown(nearby.id)}"


def _alternative(way: Alternative, features: Features) -> str:
    why = words.capital(words.plain(way.why)).rstrip(".")
    drains = [thing(features, one, layers=DRAINS) for one in way.via]
    by = f" by way of {words.listed(drains)}" if drains else ""
    length = amounts.metres(way.length_m)
    verdict = verdict_of(way, features)
    return f"{why}: then its way is {length} long{by}. {verdict}" + (
        f" ({receptor_name(way, features)})."
        if way.receptor_id and way.outcome != "contained"
        else "."
    )
