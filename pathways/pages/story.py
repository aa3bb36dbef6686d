"""The way of a spill, and the case for a site, told in sentences.

A way is told by staging posts: where it starts, where it goes into a drain, fills a
hollow or comes out again, and where it ends; and by the stretch after each.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from shapely import LineString, Point

from pathways.features import Features
from pathways.pages import words
from pathways.pages.naming import DRAINS, find_feature, receptor_name, thing
from pathways.terrain.pathway import Alternative, Hollow, Leg, Nearby, Pathway

#: Share of a stretch under no drawn cover from which that is said [-].
_WORTH_SAYING = 0.1


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """From one staging post to the next."""

    kind: str
    says: str


@dataclass(frozen=True, kw_only=True)
class Post:
    """A staging post: how far along, where, and what happens there."""

    at_m: float
    easting_m: float
    northing_m: float
    says: str
    then: Stretch | None = None


@dataclass(frozen=True, kw_only=True)
class Part:
    """A heading and what stands under it."""

    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Story:
    """What is told of one way or one site."""

    title: str
    verdict: str
    summary: str
    posts: tuple[Post, ...] = ()
    parts: tuple[Part, ...] = field(default=())


def way_story(pathway: Pathway, features: Features) -> Story:
    """Tell the way of one source's liquid."""
    return Story(
        title=way_title(pathway),
        verdict=verdict_of(pathway, features),
        summary=_summary(pathway, features),
        posts=staging_posts(pathway, features),
        parts=tuple(
            part
            for part in (
                Part(heading="Along the way", lines=_along(pathway, features)),
                Part(
                    heading="It may also take another way",
                    lines=tuple(
                        _alternative(one, features) for one in pathway.alternatives
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


def way_title(pathway: Pathway) -> str:
    """Return what a way is called: its source and, where told, the start there."""
    name = words.shown(pathway.source_name)
    kind = words.capital(words.plain(pathway.source_kind))
    title = name or f"{kind} {words.shown(pathway.source_id)}"
    start = words.STARTS[pathway.start_kind]
    return f"{title}, {start}" if start else title


def verdict_of(pathway: Pathway | Alternative, features: Features) -> str:
    """Return where a way ends, in words that are the same on the whole page."""
    if pathway.outcome == "not_known":
        why = getattr(pathway, "why", "")
        return f"Not known: {words.plain(why, words.WHY)}" if why else "Not known"
    if pathway.outcome == "contained" and pathway.receptor_id:
        return f"Held by {receptor_name(pathway, features)} while it is maintained"
    return words.OUTCOMES[pathway.outcome]


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
    clauses = [clause for leg in _legs_told(pathway, features) for clause in leg]
    ending = _ending(pathway, features)
    if pathway.outcome == "not_known":
        ending = "from there its way is not known"
    length = words.metres(pathway.length_m)
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
    distance = words.metres(pathway.straight_line_m)
    return f"In a straight line the nearest water is {distance} away."


def _why(pathway: Pathway) -> str:
    if pathway.outcome != "not_known":
        return ""
    says = f" Why it is not known: {words.plain(pathway.why, words.WHY)}."
    if pathway.overtops_at_m is not None:
        says += (
            f" It would run over at a level of {pathway.overtops_at_m:.2f} m, "
            "and where it goes then was not followed."
        )
    return f"{says} Take it that it can reach water until somebody shows otherwise."


def _legs_told(pathway: Pathway, features: Features) -> Iterator[list[str]]:
    """Yield the clauses of each leg, such as "enters gully G2"."""
    for leg, entered in _legs_with_inlets(pathway, features):
        length = words.metres(leg.line.length)
        clauses = [f"enters {entered}"] if entered else []
        if leg.kind == "pipe":
            yield [*clauses, f"runs {length} through {_pipe(leg, features)}"]
        elif leg.kind == "observed":
            yield [*clauses, f"follows for {length} what was seen on the ground"]
        elif leg.kind == "joined":
            yield [*clauses, f"crosses a gap of {length} in the drawing"]
        elif leg.line.length > 0:
            yield [*clauses, f"runs {length} over {covers_along(leg.line, features)}"]


def _legs_with_inlets(
    pathway: Pathway, features: Features
) -> Iterator[tuple[Leg, str]]:
    """Yield each leg with what liquid enters at its start, or nothing."""
    inlets = {one.id for one in features.inlets}
    waiting = list(pathway.via)
    for leg in pathway.legs:
        entered = ""
        if leg.kind == "pipe" and leg.through in waiting:
            before = waiting[: waiting.index(leg.through)]
            waiting = waiting[len(before) + 1 :]
            entered = words.listed(
                [
                    thing(features, one, layers=("inlets",))
                    for one in before
                    if one in inlets
                ]
            )
        yield leg, entered


def covers_along(way: LineString, features: Features) -> str:
    """Return what a stretch runs over, in the order in which it comes to each.

    Only names are told here: lengths by cover are the pathway's own.
    """
    crossed = []
    covered_m = 0.0
    for surface in features.surfaces:
        inside = way.intersection(surface.geometry)
        if inside.length > 0:
            covered_m += inside.length
            crossed.append((way.project(inside.centroid), surface.kind))
    kinds = list(dict.fromkeys(words.plain(kind) for _, kind in sorted(crossed)))
    if not kinds:
        return "the ground"
    if covered_m < (1 - _WORTH_SAYING) * way.length:
        kinds.append("ground with no cover drawn")
    return words.listed(kinds)


def staging_posts(pathway: Pathway, features: Features) -> tuple[Post, ...]:
    """Return the posts of a way from its start to its end."""
    stops = _stops(pathway, features)
    verdict = verdict_of(pathway, features)
    end = Post(
        at_m=pathway.length_m,
        easting_m=pathway.end[0],
        northing_m=pathway.end[1],
        says=f"{words.capital(verdict)}{_at_end(pathway, features)}.",
    )
    if not stops:
        return (end,)
    posts = []
    for number, (at_m, place, says, leg) in enumerate(stops):
        until_m = stops[number + 1][0] if number + 1 < len(stops) else end.at_m
        length = words.metres(max(0.0, until_m - at_m))
        posts.append(
            Post(
                at_m=at_m,
                easting_m=place.x,
                northing_m=place.y,
                says=says,
                then=Stretch(kind=leg.kind, says=_stretch(leg, length, features)),
            )
        )
    return (*posts, end)


def _at_end(pathway: Pathway, features: Features) -> str:
    ends_at = receptor_name(pathway, features)
    if not ends_at or pathway.outcome in ("contained", "not_known"):
        return ""
    return f": {ends_at}"


def _stops(pathway: Pathway, features: Features) -> list[tuple[float, Point, str, Leg]]:
    """Return distance, place, sentence and leg of every post but the last."""
    stops: list[tuple[float, Point, str, Leg]] = []
    passed_m = 0.0
    before: Leg | None = None
    hollows = _hollows_by_leg(pathway)
    for number, (leg, entered) in enumerate(_legs_with_inlets(pathway, features)):
        says = _post_says(pathway, before, leg, entered, features)
        stops.append((passed_m, leg.line.interpolate(0), says, leg))
        for along_m, hollow in hollows.get(number, []):
            place = leg.line.interpolate(along_m)
            stops.append((passed_m + along_m, place, f"{hollow_told(hollow)}.", leg))
        passed_m += leg.line.length
        before = leg
    return stops


def _post_says(
    pathway: Pathway, before: Leg | None, leg: Leg, entered: str, features: Features
) -> str:
    if before is None:
        says = f"Starts: {way_title(pathway)}"
        return f"{says}, and enters {entered}." if entered else f"{says}."
    if entered:
        return f"Enters {entered}."
    if leg.kind == "surface" and before.kind == "pipe":
        return f"Comes out of {_pipe(before, features)}."
    return {
        "surface": "Runs on over the ground.",
        "pipe": f"Goes into {_pipe(leg, features)}.",
        "observed": "From here it follows what was seen on the ground.",
        "joined": "The drawing has a short gap here.",
    }[leg.kind]


def _stretch(leg: Leg, length: str, features: Features) -> str:
    if leg.kind == "surface":
        return f"{length} over {covers_along(leg.line, features)}"
    return {
        "pipe": f"{length} through {_pipe(leg, features)}",
        "observed": f"{length} as seen on the ground",
        "joined": f"{length} where a gap was bridged",
    }[leg.kind]


def _hollows_by_leg(pathway: Pathway) -> dict[int, list[tuple[float, Hollow]]]:
    """Return the hollows beside each leg over the ground, in the order of the way."""
    found: dict[int, list[tuple[float, Hollow]]] = {}
    ground = [
        (number, leg) for number, leg in enumerate(pathway.legs) if leg.kind != "pipe"
    ]
    for hollow in pathway.hollows if ground else ():
        place = Point(hollow.easting_m, hollow.northing_m)
        number, leg = min(ground, key=lambda one: one[1].line.distance(place))
        found.setdefault(number, []).append((leg.line.project(place), hollow))
    return {
        number: sorted(those, key=lambda one: one[0]) for number, those in found.items()
    }


def hollow_told(hollow: Hollow) -> str:
    """Say what a hollow holds."""
    says = (
        f"A hollow holds up to {words.litres(hollow.capacity_l)}, "
        f"{words.deep(hollow.depth_m)}, before it goes on"
    )
    return f"{says} over {words.shown(hollow.held_by)}" if hollow.held_by else says


def _along(pathway: Pathway, features: Features) -> tuple[str, ...]:
    lines = []
    if pathway.length_m > 0 and pathway.drop_m > 0:
        slope = pathway.mean_slope or pathway.drop_m / pathway.length_m
        lines.append(
            f"It falls {words.metres(pathway.drop_m)} on the way, "
            f"{words.fall(slope)} on average."
        )
    covers = [
        f"{words.metres(length_m)} {words.plain(kind)}"
        for kind, length_m in pathway.surfaces
    ]
    if covers:
        lines.append(f"It runs over {words.listed(covers)}.")
    lines += [
        f"It passes {words.metres(one.distance_m)} from {_near(one, features)}."
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
    length = words.metres(way.length_m)
    verdict = verdict_of(way, features)
    return f"{why}: then its way is {length} long{by}. {verdict}" + (
        f" ({receptor_name(way, features)})."
        if way.receptor_id and way.outcome != "contained"
        else "."
    )


def _pipe(leg: Leg, features: Features) -> str:
    return thing(features, leg.through, layers=("pipes",)) or "a pipe"
