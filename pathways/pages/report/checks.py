"""What to check on foot, derived from what was drawn and what was found."""

from __future__ import annotations

from collections.abc import Iterator

from pathways.assessment import Assessment
from pathways.features import Inlet
from pathways.pages import amounts, words
from pathways.pages.naming import called, thing
from pathways.pages.report.blocks import Block, Heading, Lines, Section
from pathways.pages.report.report_words import ON_FOOT, SAYS, TITLES
from pathways.pages.report.told import ToldWay, ways_of


def on_foot(assessment: Assessment) -> Iterator[Section]:
    """Yield the list of what to check on foot, this farm's own first."""
    here = tuple(dict.fromkeys(checks_on_this_farm(assessment)))
    blocks: list[Block] = []
    if here:
        blocks += [Heading(text=SAYS["this_farm"]), Lines(lines=here, look="boxes")]
    blocks += [Heading(text=SAYS["general"]), Lines(lines=ON_FOOT, look="boxes")]
    yield Section(key="on_foot", title=TITLES["on_foot"], blocks=tuple(blocks))


def checks_on_this_farm(assessment: Assessment) -> Iterator[str]:
    """Yield what feet must find out here: drains, pipes, ways, tanks, wells.

    Parameters
    ----------
    assessment : Assessment
        What was found.

    Yields
    ------
    str
        A sentence; what is most likely to change an answer comes first.
    """
    features = assessment.farm.features
    order = {name: number for number, name in enumerate(_INLETS)}
    told = [(_state_of(one), one) for one in features.inlets]
    for state, inlet in sorted(
        (one for one in told if one[0]), key=lambda one: order[one[0]]
    ):
        what = words.capital(called(inlet, words.plain(inlet.kind)))
        yield SAYS[state].format(what=what)
    for notice in dict.fromkeys((*assessment.farm.notices, *assessment.notices)):
        if notice.code.startswith("pipe_"):
            yield SAYS["pipe_notice"].format(text=words.plain(notice.text).rstrip("."))
    for way in ways_of(assessment):
        yield from _way(way, assessment)
    for tank in features.tanks:
        if not tank.maintained or tank.free_l is None:
            what = words.capital(called(tank, "tank"))
            yield SAYS["tank_kept"].format(what=what)
    if not any(one.kind == "land_drain" for one in features.pipes):
        yield SAYS["no_land_drains"]
    yield from _wells(assessment)


#: States of an inlet that ask for a look, the worst first.
_INLETS = ("unknown_outlet", "is_soakaway", "is_covered", "is_capped")


def _state_of(inlet: Inlet) -> str:
    named = {
        "unknown": "unknown_outlet",
        "soakaway": "is_soakaway",
        "capped": "is_capped",
    }
    return named.get(inlet.drains_to, "is_covered" if inlet.covered else "")


def _way(way: ToldWay, assessment: Assessment) -> Iterator[str]:
    """Yield that the end of a way is not known, or not decided by the heights."""
    pathway = way.pathway
    if pathway.outcome == "not_known":
        why = words.plain(pathway.why, words.WHY)
        yield SAYS["way_unknown"].format(letter=way.letter, title=way.title, why=why)
        return
    undecided = [one for one in pathway.arrivals if not one.decided]
    if undecided:
        beside = thing(
            assessment.farm.features,
            undecided[0].parts_near,
            layers=("barriers", "inlets", "access"),
        )
        where = SAYS["way_parts"].format(beside=beside) if beside else ""
        yield SAYS["way_open"].format(letter=way.letter, title=way.title, where=where)


def _wells(assessment: Assessment) -> Iterator[str]:
    """Yield for each source the nearest supply that is drawn, and how near it is."""
    features = assessment.farm.features
    for source in features.sources:
        kind = words.capital(words.plain(source.kind))
        name = words.shown(source.name) or f"{kind} {words.shown(source.id)}"
        if not features.water_supplies:
            yield SAYS["no_wells"].format(source=name)
            continue
        nearest = min(
            features.water_supplies,
            key=lambda one: one.geometry.distance(source.geometry),
        )
        yield SAYS["near_well"].format(
            source=name,
            supply=called(nearest, words.plain(nearest.kind)),
            length=amounts.metres_there(nearest.geometry.distance(source.geometry)),
        )
