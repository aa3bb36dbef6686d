"""The staging posts of a way, and the stretch after each."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from shapely import Geometry, LineString, Point
from shapely.ops import substring

from pathways.features import Features
from pathways.materials import NOT_DRAWN
from pathways.pages import amounts, words
from pathways.pages.naming import receptor_name, thing, verdict_of, way_title
from pathways.spill.kerbs import KerbFlow
from pathways.terrain.hollows import NOTABLE_L
from pathways.terrain.pathway import Alternative, Hollow, Leg, Pathway
from pathways.terrain.telling import stretches_over

#: Share of a stretch under no drawn cover from which that is said [-].
_WORTH_SAYING = 0.1


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """From one staging post to the next.

    `over` is what it lies on and for how long [m], in its order.
    """

    kind: str
    says: str
    over: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Post:
    """A staging post: how far along, where, and what happens there."""

    at_m: float
    easting_m: float
    northing_m: float
    says: str
    then: Stretch | None = None


def covers_along(way: LineString, features: Features) -> str:
    """Return what a stretch runs over, in the order in which it comes to each.

    Only names are told here: lengths by cover are the pathway's own.
    """
    if not features.surfaces:
        return "the ground"
    kinds = [
        "ground with no cover drawn" if kind == NOT_DRAWN else words.plain(kind)
        for kind, length_m in stretches_over(way, features.surfaces)
        if kind != NOT_DRAWN or length_m > _WORTH_SAYING * way.length
    ]
    return words.listed(list(dict.fromkeys(kinds))) or "the ground"


def legs_told(
    pathway: Pathway | Alternative, features: Features
) -> list[tuple[Leg, str]]:
    """Return each leg with what liquid enters at its start, such as "gully G2"."""
    waiting = list(pathway.via)
    told = []
    for leg in pathway.legs:
        entered, waiting = _entered(leg, waiting, features)
        told.append((leg, entered))
    return told


def entered_last(pathway: Pathway, features: Features) -> str:
    """Return what liquid enters where the drawn way ends."""
    waiting = [one for one in pathway.via if one != pathway.receptor_id]
    for leg in pathway.legs:
        waiting = _entered(leg, waiting, features)[1]
    return _openings(waiting, features)


def _entered(leg: Leg, waiting: list[str], features: Features) -> tuple[str, list[str]]:
    """Return what is entered at a leg's start, and what still waits to be entered."""
    openings = {one.id for one in features.inlets}
    if leg.kind == "pipe" and leg.through in waiting:
        count = waiting.index(leg.through)
        return _openings(waiting[:count], features), waiting[count + 1 :]
    if leg.kind == "joined":
        before = list(itertools.takewhile(openings.__contains__, waiting))
        return _openings(before, features), waiting[len(before) :]
    return "", waiting


def _openings(ids: list[str], features: Features) -> str:
    openings = {one.id for one in features.inlets}
    return words.listed(
        [thing(features, one, layers=("inlets",)) for one in ids if one in openings]
    )


def staging_posts(
    pathway: Pathway, features: Features, kerbs: Sequence[KerbFlow] = ()
) -> tuple[Post, ...]:
    """Return the posts of a way from its start to its end.

    Parameters
    ----------
    pathway : Pathway
        The way.
    features : Features
        Names of things.
    kerbs : sequence of KerbFlow
        Kerbs that it runs along.

    Returns
    -------
    tuple of Post
        Each but the last with the stretch after it.
    """
    stops = _stops(pathway, features)
    verdict = verdict_of(pathway, features)
    last = entered_last(pathway, features)
    entering = f"Enters {last}. " if last else ""
    end = Post(
        at_m=pathway.length_m,
        easting_m=pathway.end[0],
        northing_m=pathway.end[1],
        says=f"{entering}{words.capital(verdict)}{_at_end(pathway, features)}.",
    )
    if not stops:
        return (end,)
    posts = []
    for number, (at_m, place, says, leg, begins_m) in enumerate(stops):
        until_m = stops[number + 1][0] if number + 1 < len(stops) else end.at_m
        part = substring(leg.line, at_m - begins_m, until_m - begins_m)
        posts.append(
            Post(
                at_m=at_m,
                easting_m=place.x,
                northing_m=place.y,
                says=says,
                then=Stretch(
                    kind=leg.kind,
                    says=_stretch(leg, part, features)
                    + _along_kerbs((at_m, until_m), kerbs, features),
                    over=_over(leg, part, features),
                ),
            )
        )
    return (*posts, end)


def _at_end(pathway: Pathway, features: Features) -> str:
    ends_at = receptor_name(pathway, features)
    if not ends_at or pathway.outcome in ("contained", "not_known"):
        return ""
    return f": {ends_at}"


def _stops(
    pathway: Pathway, features: Features
) -> list[tuple[float, Point, str, Leg, float]]:
    """Return distance, place and sentence of every post but the last, with its leg.

    The last value is the distance at which that leg begins.
    """
    stops: list[tuple[float, Point, str, Leg, float]] = []
    passed_m = 0.0
    before: Leg | None = None
    hollows = pathway.hollows_by_leg(notable_hollows(pathway))
    for number, (leg, entered) in enumerate(legs_told(pathway, features)):
        says = _post_says(pathway, before, leg, entered, features)
        stops.append((passed_m, leg.line.interpolate(0), says, leg, passed_m))
        for along_m, hollow in hollows.get(number, []):
            place = leg.line.interpolate(along_m)
            at_m = passed_m + along_m
            told = f"{hollow_told(hollow)}."
            stops.append((at_m, place, told, leg, passed_m))
        passed_m += leg.line.length
        before = leg
    return stops


def _post_says(
    pathway: Pathway, before: Leg | None, leg: Leg, entered: str, features: Features
) -> str:
    if before is None:
        says = f"Starts: {way_title(pathway)}"
        return f"{says}, and enters {entered}." if entered else f"{says}."
    return post_after(before, leg, entered, features)


def post_after(before: Leg, leg: Leg, entered: str, features: Features) -> str:
    """Say what happens where one leg ends and the next begins.

    Parameters
    ----------
    before, leg : Leg
        The one that ends and the one that begins.
    entered : str
        What liquid enters there, from `legs_told`.
    features : Features
        Names of things.

    Returns
    -------
    str
        A sentence.
    """
    if entered:
        return f"Enters {entered}."
    if leg.kind == "surface" and before.kind == "pipe":
        return f"Comes out of {pipe_name(before, features)}."
    return {
        "surface": "Runs on over the ground.",
        "pipe": f"Goes into {pipe_name(leg, features)}.",
        "observed": "From here it follows what was seen on the ground.",
        "joined": "From here no pipe is drawn; a straight line stands in for it.",
    }[leg.kind]


def _stretch(leg: Leg, part: Geometry, features: Features) -> str:
    length = amounts.metres(part.length)
    if leg.kind == "surface" and part.length > 0:
        return f"{length} over {covers_along(part, features)}"
    return {
        "surface": length,
        "pipe": f"{length} through {pipe_name(leg, features)}",
        "observed": f"{length} as seen on the ground",
        "joined": f"{length} in a straight line, for no pipe is drawn",
    }[leg.kind]


def _along_kerbs(
    stretch_m: tuple[float, float], kerbs: Sequence[KerbFlow], features: Features
) -> str:
    """Say which kerbs guide a stretch, or nothing."""
    names = [
        thing(features, one.id, layers=("barriers",)) or "a kerb"
        for one in kerbs
        if any(
            min(until_m, stretch_m[1]) - max(from_m, stretch_m[0]) > 0
            for from_m, until_m in one.along
        )
    ]
    return f", along {words.listed(names)}" if names else ""


def _over(
    leg: Leg, part: Geometry, features: Features
) -> tuple[tuple[str, float], ...]:
    """Return the covers of a stretch; of a pipe only how long it is."""
    if leg.kind != "surface" or not part.length > 0:
        return ((leg.kind, part.length),)
    return tuple(stretches_over(part, features.surfaces))


def notable_hollows(pathway: Pathway) -> tuple[Hollow, ...]:
    """Return the hollows that are worth a place on the map.

    A survey shows many that hold a bucketful: those are told together, in one line.
    """
    return tuple(
        one for one in pathway.hollows if one.held_by or one.capacity_l >= NOTABLE_L
    )


def small_hollows_told(pathway: Pathway) -> str:
    """Say how many small hollows there are and what they hold, or nothing."""
    notable = notable_hollows(pathway)
    small = [one for one in pathway.hollows if one not in notable]
    if not small:
        return ""
    litres = amounts.litres(sum(one.capacity_l for one in small))
    many = (
        "One small hollow holds"
        if len(small) == 1
        else (f"{len(small)} small hollows together hold")
    )
    return f"{many} up to {litres} more."


def hollow_told(hollow: Hollow) -> str:
    """Say what a hollow holds."""
    says = (
        f"A hollow holds up to {amounts.litres(hollow.capacity_l)}, "
        f"{amounts.deep(hollow.depth_m)}, before it goes on"
    )
    return f"{says} over {words.shown(hollow.held_by)}" if hollow.held_by else says


def pipe_name(leg: Leg, features: Features) -> str:
    """Return what the pipe of a leg is called."""
    return thing(features, leg.through, layers=("pipes", "observations")) or "a pipe"
