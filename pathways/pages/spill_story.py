"""What a spill does, told: how much gets where, how soon, and what it takes."""

from __future__ import annotations

from collections.abc import Iterator

from pathways.features import Features
from pathways.pages import amounts, words
from pathways.pages.enough import alike, enough, where_less_is_enough
from pathways.pages.naming import RECEPTORS, receptor_name, thing
from pathways.pages.parts import Part, Row, Table
from pathways.spill.ground_states import STATE_NAMES, StateName
from pathways.spill.releases import Release
from pathways.spill.spill import Fate, Spill
from pathways.spill.yard_rain import RainEnd, YardRain
from pathways.terrain.pathway import Pathway
from pathways.units import LITRES_PER_CUBIC_METRE

#: Times that differ by less are told as one [-].
_SOONER = 0.8
#: All of a loss, but for what arithmetic rounds off [-].
_WHOLE = 1 - 1e-9


def spill_parts(
    pathway: Pathway, spill: Spill | None, features: Features
) -> tuple[Part, ...]:
    """Tell what losses do on a way.

    Parameters
    ----------
    pathway : Pathway
        The way.
    spill : Spill or None
        What losses do on it.
    features : Features
        Names of things.

    Returns
    -------
    tuple of Part
        The numbers, and what lies behind them; nothing where nothing is known.
    """
    if spill is None:
        return ()
    return (
        Part(
            heading="What a spill does",
            lines=tuple(_what_it_takes(pathway, spill)),
            table=_table(spill),
        ),
        Part(
            heading="Behind these numbers",
            lines=(
                *_at_kerbs(spill, features),
                *_at_inlets(spill, features),
                *_by_the_wave(spill),
                _MODELS,
            ),
        ),
        *_rain(spill.rain, features),
    )


_MODELS = (
    "The table gives what gets there in 90 of 100 possible spills (width of the wetted "
    "path, film and soil are not known better). It leaves out what soaks in after the "
    "spill has run out: that is cautious for water, and must not be used for what "
    "reaches groundwater. Each number that it rests on stands, with its source, among "
    "what was assumed."
)


def goal(pathway: Pathway, features: Features) -> str:
    """Return what can become of it, such as "be in the stream Holt Brook"."""
    name = receptor_name(pathway, features)
    return {
        "reaches_water": f"be in {name or 'the water'}",
        "enters_piped_drain": f"be in the drain of {name or 'an inlet'}",
        "enters_ground": "go into the ground",
        "contained": f"get past {name or 'what is to hold it'}",
    }.get(pathway.outcome, "get past the end of the known way")


def spill_headline(pathway: Pathway, spill: Spill | None, features: Features) -> str:
    """Tell in a sentence what the stated loss, or the largest, does in rain.

    Parameters
    ----------
    pathway, spill, features
        As for `spill_parts`.

    Returns
    -------
    str
        For a farmer; empty where nothing is known.
    """
    if spill is None:
        return ""
    sooner = ""
    if not any(leg.kind in ("pipe", "joined") for leg in pathway.legs):
        # Other versions of the ground lead by other ways; no pipe is in their times.
        times = [one.time_s[0] for one in pathway.arrivals if one.time_s is not None]
        if min(times, default=spill.soonest_s) < _SOONER * spill.soonest_s:
            sooner = " Where the ground leads it otherwise, it can be at water sooner."
    tank = (
        " No tank is counted on in rain, for rain fills it too."
        if any(one.tanks_l > 0 for one in spill.fates)
        else ""
    )
    return (
        f"If {amounts.volume(spill.largest.volume_l)} are lost here in rain, all of it "
        f"can {goal(pathway, features)}, the first of it "
        f"{amounts.in_as_little_as(spill.soonest_s)}: a rough guide.{sooner}{tank}"
    )


def state_headlines(spill: Spill | None) -> dict[StateName, str]:
    """Tell for each state of the ground what the stated loss, or the largest, does.

    Parameters
    ----------
    spill : Spill or None
        What losses do on a way.

    Returns
    -------
    dict of str to str
        By state; empty where nothing is known.
    """
    if spill is None:
        return {}
    lost = amounts.volume(spill.largest.volume_l)
    return {
        state: f"If {lost} are lost {words.GROUND_STATES[state]}: "
        f"{'; '.join(_cell(spill.fate(spill.largest.name, state), spill.largest))}."
        for state in STATE_NAMES
    }


def _what_it_takes(pathway: Pathway, spill: Spill) -> Iterator[str]:
    """Yield the smallest loss that gets there in each state, and what stays."""
    yield f"Enough to get there: {enough(spill.critical)}."
    less = [
        state
        for other, critical in zip(pathway.alternatives, spill.others, strict=True)
        if other.outcome not in ("contained", "stops_on_surface")
        for state in where_less_is_enough(spill.critical, critical)
    ]
    if less:
        states = [words.GROUND_STATES[one] for one in STATE_NAMES if one in less]
        yield (
            f"By another way that it may take, less is enough {words.listed(states)}: "
            "see below."
        )
    yield (
        "What stays on the ground or in hollows stays until the next rain, which "
        "washes it on."
    )


def _table(spill: Spill) -> Table:
    heads = ("Loss", *(words.capital(words.GROUND_STATES[one]) for one in STATE_NAMES))
    return Table(
        heads=heads,
        rows=tuple(
            Row(
                title=_loss(release),
                cells=tuple(
                    tuple(_cell(spill.fate(release.name, state), release))
                    for state in STATE_NAMES
                ),
            )
            for release in spill.releases
        ),
    )


def _loss(release: Release) -> str:
    """Return what a loss is called, with its rate."""
    name = words.RELEASES[release.name]
    volume = amounts.volume(release.volume_l)
    rate = amounts.volume(release.rate_l_per_min)
    return f"{volume}: {name}" if release.neat else f"{volume}: {name}, {rate} a minute"


def _cell(fate: Fate, release: Release) -> Iterator[str]:
    """Yield how much gets there and when, and what stays."""
    low_l, _, high_l = fate.gets_past_l
    if low_l >= release.volume_l * _WHOLE:
        yield "all gets there"
    elif not high_l > 0:
        wave = fate.wave
        most_m3 = 0.0 if wave is None else wave.arrives_m3 + wave.moving_m3
        if most_m3 > 0:
            most_l = LITRES_PER_CUBIC_METRE * most_m3
            yield f"up to {amounts.volume_at_most(most_l)} get there"
        else:
            yield "none gets there yet"
    elif not low_l > 0:
        yield f"up to {amounts.volume_at_most(min(high_l, release.volume_l))} get there"
    else:
        low = amounts.volume_at_most(low_l, down=True)
        high = amounts.volume_at_most(min(high_l, release.volume_l))
        yield f"{low} to {high} get there"
    if fate.time_s is not None and high_l > 0:
        yield amounts.in_as_little_as(fate.time_s[0])
    for amount_l, says in (
        (fate.film_l + fate.hollows_l, "stay on the ground"),
        (fate.soaks_l, "soak in"),
        (fate.tanks_l, "in the tank"),
    ):
        if amount_l > release.volume_l * (1 - _WHOLE):
            yield f"about {amounts.volume(amount_l)} {says}"


def _at_kerbs(spill: Spill, features: Features) -> Iterator[str]:
    for one in spill.kerbs:
        kerb = thing(features, one.id, layers=("barriers",)) or "the kerb"
        rate = _rate_of(spill, one.release)
        stands = (
            "it runs over" if one.overtops else "that turns it aside while it is whole"
        )
        yield (
            f"At {rate} a minute it runs {amounts.metres(one.spread_m)} wide and "
            f"{amounts.deep(one.depth_m)} along {kerb}, {amounts.metres(one.height_m)} "
            f"high: {stands}."
        )


def _at_inlets(spill: Spill, features: Features) -> Iterator[str]:
    for one in spill.inlets:
        inlet = thing(features, one.id, layers=("inlets",)) or "the inlet"
        share = f"{100 * one.captured:.0f} %"
        if one.given:
            yield f"{words.capital(inlet)} takes {share} of what comes to it, as given."
        elif one.captured < 1:
            yield (
                f"{words.capital(inlet)} is sure to take {share} of a flow that is "
                f"{amounts.metres(one.spread_m)} wide; the rest can run past: see the "
                "other ways."
            )


def _rate_of(spill: Spill, release: str) -> str:
    return next(
        amounts.volume(one.rate_l_per_min)
        for one in spill.releases
        if one.name == release
    )


def _by_the_wave(spill: Spill) -> Iterator[str]:
    """Yield what the second model says of the stated loss, or of the largest.

    It knows no inlet that lets some run past; what still moves may yet arrive.
    """
    if any(one.past_inlets_l > 0 for one in spill.fates):
        return
    told = [
        (amounts.volume(LITRES_PER_CUBIC_METRE * most_m3), state)
        for state in STATE_NAMES
        for fate in [spill.fate(spill.largest.name, state)]
        if fate.wave is not None
        for most_m3 in [fate.wave.arrives_m3 + fate.wave.moving_m3]
    ]
    if told:
        yield (
            f"Followed through time, with middle values of everything, of "
            f"{amounts.volume(spill.largest.volume_l)} there get at most: "
            f"{alike(told)}."
        )


def _rain(rain: YardRain | None, features: Features) -> Iterator[Part]:
    """Yield what the rain does that runs past the source."""
    if rain is None:
        return
    lines = [
        f"{amounts.area(rain.dirty_area_m2)} of hard ground drain past this place: "
        "rain on it counts as dirty."
    ]
    if rain.joining_area_m2 > 0:
        lines.append(
            f"Rain from {amounts.area(rain.joining_area_m2)} of ground above joins it, "
            "which a kerb or a drain above the place would lead past it."
        )
    lines += [_rain_end(one, features) for one in rain.ends]
    lines.append("Rain from roofs is not counted.")
    yield Part(heading="Rain that runs past", lines=tuple(lines))


def _rain_end(end: RainEnd, features: Features) -> str:
    name = thing(features, end.id, layers=(*RECEPTORS, "inlets", "pipes"))
    where = f"to {name}" if name else f"on: {words.plain(end.kind, words.WHY)}"
    says = f"From {amounts.area(end.area_m2)} it runs {where}"
    if end.runoff_m3 is not None:
        runoff_l = LITRES_PER_CUBIC_METRE * end.runoff_m3
        says += f", {amounts.volume(runoff_l)} of the design storm"
    if end.peak_l_per_s is not None:
        says += f", at most {amounts.volume(end.peak_l_per_s)} a second"
    return f"{says}."
