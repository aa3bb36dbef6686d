"""One page for the day on which something is spilt."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pathways.assessment import Assessment
from pathways.features import Features
from pathways.pages import amounts, words
from pathways.pages.naming import receptor_name
from pathways.pages.parts import Row, Table
from pathways.pages.report.blocks import (
    Blanks,
    Block,
    Grid,
    Heading,
    Lines,
    Paragraph,
    Section,
)
from pathways.pages.report.report_words import NUMBERS, SAYS, TITLES
from pathways.pages.report.told import (
    REACHES,
    FirstDrain,
    ToldWay,
    first_drain,
    ways_of,
)
from pathways.spill.releases import Release
from pathways.spill.spill import Spill
from pathways.terrain.pathway import Alternative, Pathway

#: So many ways fit on one page; the worst ones.
_ON_ONE_PAGE = 6
#: Less than this leaves no room for a kit between a place and a drain [m].
_ROOM_M = 2.0
#: Times that differ by less than this share are told as alike [-].
_ALIKE = 0.01


def emergency(assessment: Assessment) -> Iterator[Section]:
    """Yield the page: what to do in order, where to block, how long there is."""
    told = ways_of(assessment)
    ways, features = told[:_ON_ONE_PAGE], assessment.farm.features
    blocks: list[Block] = [
        Lines(lines=tuple(_steps(assessment)), look="counted"),
        Heading(text=SAYS["numbers"]),
        Blanks(lines=NUMBERS),
    ]
    if ways:
        rows = tuple(_row(one, features) for one in ways)
        heads = tuple(SAYS["block_heads"].split("|"))
        blocks += [
            Heading(text=SAYS["blocks"]),
            Paragraph(text=f"{SAYS['kit_rule']} {SAYS['count_hint']}"),
            Grid(table=Table(heads=heads, rows=rows)),
        ]
    if len(told) > len(ways):
        more = SAYS["more_ways"].format(
            count=len(told) - len(ways), title=TITLES["ways"]
        )
        blocks.append(Paragraph(text=more))
    title = TITLES["emergency"]
    yield Section(key="emergency", title=title, blocks=tuple(blocks), page="own")


def _steps(assessment: Assessment) -> Iterator[str]:
    """Yield what to do, in order."""
    features = assessment.farm.features
    yield SAYS["stop"]
    yield SAYS["people"]
    entered: dict[str, None] = {}
    for way in ways_of(assessment):
        alternatives: tuple[Pathway | Alternative, ...] = way.pathway.alternatives
        for each in (way.pathway, *alternatives):
            first = first_drain(each, features)
            entered |= {} if first is None else {first.what: None}
    if entered:
        yield SAYS["cover"].format(what=words.listed(list(entered)))
    else:
        yield SAYS["no_gully"]
    yield SAYS["call"]
    yield f"{SAYS['take_up']} {SAYS['in_rain']}"
    yield SAYS["log"]


def _row(way: ToldWay, features: Features) -> Row:
    """Return where a way is blocked, how long there is, and what to count on."""
    blocks = tuple(_where_to_block(way, features))
    return Row(title=way.name, cells=(blocks, *_how_long(way)))


def _where_to_block(way: ToldWay, features: Features) -> Iterator[str]:
    """Yield the first drains of a way and of its other ways, and where the kit lies.

    The kit goes between the place and whatever liquid would enter first.
    """
    own = first_drain(way.pathway, features)
    yield _above_the_end(way, features) if own is None else _block_at(own)
    at_m = [] if own is None else [own.at_m]
    others: dict[str, None] = {}
    for other in way.pathway.alternatives:
        drain = first_drain(other, features)
        if drain is not None and (own is None or drain.id != own.id):
            length = amounts.metres(drain.at_m)
            others[SAYS["block_along"].format(what=drain.what, length=length)] = None
            at_m.append(drain.at_m)
    if others:
        yield SAYS["block_other"].format(what=words.listed(list(others)))
    reach_m = min(at_m, default=way.pathway.length_m)
    key = "kit_between" if reach_m >= _ROOM_M else "kit_here"
    yield SAYS[key].format(length=amounts.metres(reach_m))


def _block_at(drain: FirstDrain) -> str:
    what = words.capital(drain.what)
    if drain.at_m <= 0:
        return SAYS["block_there"].format(what=what)
    return SAYS["block_at"].format(what=what, length=amounts.metres(drain.at_m))


def _above_the_end(way: ToldWay, features: Features) -> str:
    """Say that a way without a drain is blocked across, before its end."""
    end = receptor_name(way.pathway, features) or SAYS["known_end"]
    length = amounts.metres(way.pathway.length_m)
    return SAYS["block_water"].format(end=end, length=length)


def _how_long(way: ToldWay) -> tuple[tuple[str, ...], ...]:
    """Return the times of the losses themselves, of storm water, and the less."""
    if way.spill is None:
        unknown = (SAYS["no_times"],)
        return unknown, unknown, (SAYS["count_none"],)
    storm_s = _in_rain_s(way, way.spill)
    alone = _alone(way, way.spill)
    timed = [one for _, one in alone if one is not None and math.isfinite(one)]
    alone_s = min(timed, default=None)
    return (
        ("; ".join(_told_together(alone)),),
        (_least(storm_s),),
        tuple(_count_on(way, storm_s, alone_s)),
    )


def _in_rain_s(way: ToldWay, spill: Spill) -> float:
    """Return the fast bound in rain, over every version of the ground [s].

    Versions have times over the ground only, so they count where no pipe is on the way.
    """
    in_rain = [
        one.time_s[0]
        for one in spill.fates
        if one.state == "raining" and one.time_s is not None
    ]
    pipes = any(leg.kind in ("pipe", "joined") for leg in way.pathway.legs)
    versions = [one.time_s[0] for one in way.pathway.arrivals if one.time_s is not None]
    return min([spill.storm_s, *in_rain, *([] if pipes else versions)])


def _may_get_there(way: ToldWay, release: Release) -> bool:
    """Whether some of a loss may get there, by another way or by the other model."""
    spill = way.spill
    if spill is None:
        return False
    by_wave = any(
        fate.wave is not None and fate.wave.arrives_m3 + fate.wave.moving_m3 > 0
        for fate in spill.fates
        if fate.release == release.name
    )
    enough_l = [
        one.low_l
        for other, critical in zip(way.pathway.alternatives, spill.others, strict=True)
        if other.outcome in REACHES
        for one in critical
        if one.state != "raining" and one.low_l is not None
    ]
    return by_wave or min(enough_l, default=math.inf) <= release.volume_l


def _alone(way: ToldWay, spill: Spill) -> list[tuple[str, float | None]]:
    """Return each loss and its least time in the states without rain [s].

    It is infinite where some may get there and when was not worked out.
    """
    found: list[tuple[str, float | None]] = []
    volumes_l = [one.volume_l for one in spill.releases]
    for release in spill.releases:
        times = [
            one.time_s[0]
            for one in spill.fates
            if one.release == release.name
            and one.state != "raining"
            and one.time_s is not None
            and one.gets_past_l[2] > 0
        ]
        loss = amounts.volume(release.volume_l)
        if not times and _may_get_there(way, release):
            times = [math.inf]
        if volumes_l.count(release.volume_l) > 1:
            loss = f"{loss} ({words.RELEASES[release.name]})"
        found.append((loss, min(times, default=None)))
    return found


def _least(time_s: float) -> str:
    """Return a least time as a table says it whose heads say that it is one."""
    says = amounts.in_as_little_as(time_s)
    return says.removeprefix("in ").removeprefix("as little as ")


def _told_together(alone: list[tuple[str, float | None]]) -> Iterator[str]:
    """Yield each time with the losses that take it."""
    by_time: dict[str, list[str]] = {}
    for loss, time_s in alone:
        if time_s is None:
            time = "not_alone"
        else:
            time = _least(time_s) if math.isfinite(time_s) else "may_get_there"
        by_time.setdefault(time, []).append(loss)
    for time, losses in by_time.items():
        key = time if time in ("not_alone", "may_get_there") else "losses"
        yield SAYS[key].format(losses=words.listed(losses), time=time)


def _count_on(way: ToldWay, storm_s: float, alone_s: float | None) -> Iterator[str]:
    """Yield the shorter time and which it is; that another way is shorter still."""
    which = "by_storm"
    if alone_s is not None and alone_s < storm_s * (1 - _ALIKE):
        which = "by_itself"
    elif alone_s is not None and alone_s <= storm_s * (1 + _ALIKE):
        which = "both_alike"
    least_s = min(storm_s, storm_s if alone_s is None else alone_s)
    yield SAYS["count_on"].format(time=_least(least_s), which=SAYS[which])
    shorter = [
        one.length_m
        for one in way.pathway.alternatives
        if one.outcome in REACHES and one.length_m < way.pathway.length_m
    ]
    if shorter:
        yield SAYS["shorter_way"].format(length=amounts.metres(min(shorter)))
