"""The first page: the answer, what to do first, the yard."""

from __future__ import annotations

from collections.abc import Iterator

from pathways.assessment import Assessment
from pathways.features import Inlet
from pathways.pages import amounts, words
from pathways.pages.naming import called
from pathways.pages.plan import plan_picture
from pathways.pages.report.blocks import Lines, Paragraph, Picture, Section
from pathways.pages.report.checks import checks_on_this_farm
from pathways.pages.report.report_words import ON_FOOT, SAYS, TITLES
from pathways.pages.report.told import (
    REACHES,
    ends_told,
    letters_of,
    ways_of,
)
from pathways.pages.spill_story import goal
from pathways.siting.without_building import WayWithout
from pathways.sizing.design import Design

#: So much is told to be done first.
_FIRST = 3
#: So many drains are named in a sentence.
_FEW = 3
#: Longest name, and longest thing to do, for which the first page has room.
_A_NAME, _A_THING = 70, 240


def first_page(assessment: Assessment) -> Iterator[Section]:
    """Yield what is printed on the first page."""
    yield _section("answer", Lines(lines=tuple(_answer(assessment))))
    where = SAYS["more_below"].format(title=TITLES["without"])
    yield _section(
        "first",
        Lines(lines=tuple(_first_things(assessment)), look="counted"),
        *([Paragraph(text=where)] if assessment.ways_without else []),
    )
    letters = letters_of(assessment)
    plan = plan_picture(
        assessment, [letters[one] for one in range(len(assessment.pathways))]
    )
    if plan:
        picture = Picture(svg=plan, title=SAYS["plan"], says=SAYS["plan_says"])
        yield _section("yard", picture)


def _section(key: str, *blocks: Lines | Paragraph | Picture) -> Section:
    return Section(key=key, title=TITLES[key], blocks=blocks, page="first")


def _answer(assessment: Assessment) -> Iterator[str]:
    """Yield the answer in five sentences, the worst first."""
    told = assessment.told
    if not told:
        yield SAYS["no_way"]
    yield from _worst(assessment)
    reaching = [one for one, _ in told if one.outcome in REACHES]
    if told:
        key = "count" if reaching else "none_reaches"
        if len(told) == 1:
            key += "_one"
        yield SAYS[key].format(all=len(told), reach=len(reaching))
    ends = list(ends_told(assessment))
    if ends:
        length_m, title, end = min(ends)
        yield SAYS["shortest"].format(
            title=_short(title), length=amounts.metres(length_m), ends=end
        )
    if told:
        yield _how_sure(assessment)
    yield _to_build(assessment)


def _worst(assessment: Assessment) -> Iterator[str]:
    """Yield the way whose loss is soonest at the worst end, of those with times."""
    timed = [
        (way, way.spill)
        for way in ways_of(assessment)
        if way.spill is not None and way.pathway.outcome in REACHES
    ]
    worst = [one for one in timed if one[0].pathway.outcome == "reaches_water"] or timed
    if worst:
        way, spill = min(worst, key=lambda one: one[1].soonest_s)
        yield SAYS["worst"].format(
            letter=way.letter,
            title=_short(way.title),
            volume=amounts.volume(spill.largest.volume_l),
            goal=_short(goal(way.pathway, assessment.farm.features)),
            time=amounts.in_as_little_as(spill.soonest_s),
        )


def _how_sure(assessment: Assessment) -> str:
    """Say what leaves the answer open."""
    ways = ways_of(assessment)
    is_open = sum(one.is_open for one in ways)
    unknown = [
        one for one in assessment.farm.features.inlets if one.drains_to == "unknown"
    ]
    what = []
    if is_open:
        what.append(SAYS["ways_open"].format(count=is_open, all=len(ways)))
    if unknown:
        what.append(SAYS["drains_open"].format(names=_few(unknown)))
    if not what:
        return SAYS["sure_so_far"]
    return SAYS["not_sure"].format(what="; ".join(what))


def _few(drains: list[Inlet]) -> str:
    """Return the names of some drains, not endless."""
    names = [_short(called(one, words.plain(one.kind))) for one in drains[:_FEW]]
    if len(drains) > _FEW:
        names.append(SAYS["and_more"].format(count=len(drains) - _FEW))
    return words.listed(names)


def _short(text: str, longest: int = _A_NAME) -> str:
    """Return a text that the first page has room for; the chapters tell it whole."""
    return words.shown(text, longest=longest)


def _to_build(assessment: Assessment) -> str:
    sizes = ""
    if assessment.design is not None:
        sizes = SAYS["sizes"].format(what=", ".join(_sizes(assessment.design)))
    new = [one for one in assessment.sites if not one.existing]
    if not new:
        return SAYS["no_site"].format(sizes=sizes)
    best = new[0]
    if best.meets_rules == "false":  # the order puts those that break a rule last
        return SAYS["none_keeps"].format(count=len(new), sizes=sizes)
    first = amounts.first_of_a_hundred(best.rank_acceptability)
    return SAYS["site"].format(
        name=_short(best.name or best.site_id),
        verdict=words.SHORT_VERDICTS[best.meets_rules].lower(),
        first=SAYS["draws"].format(first=first) if best.rank_acceptability else "",
        sizes=sizes,
    )


def _sizes(design: Design) -> Iterator[str]:
    pad, bed = design.pad, design.bed
    yield SAYS["pad"].format(
        length=f"{pad.length_m:g}",
        width=f"{pad.width_m:g}",
        kerb=f"{1000 * pad.kerb_m:.0f}",
    ) + (SAYS["pad_short"] if pad.left_over_l > 0 else "")
    tank_l = next((one.amount for one in design.items if one.name == "tank"), None)
    if tank_l is not None:
        yield SAYS["tank"].format(litres=f"{tank_l:,.0f}")
    elif bed is None or not bed.is_direct:
        yield SAYS["no_tank"]
    yield (
        SAYS["no_bed"]
        if bed is None
        else SAYS["bed"].format(area=f"{bed.area_m2:g}", depth=f"{bed.depth_m:g}")
    )


def _first_things(assessment: Assessment) -> list[str]:
    """Return what to do first: what costs nothing comes first.

    The ways without building stand in that order in their table; to look where a drain
    goes costs nothing either.
    """
    without = [_shortly(one) for one in assessment.ways_without]
    walk = [_short(one, _A_THING) for one in checks_on_this_farm(assessment)]
    return [*without[:1], *(walk or ON_FOOT)[:1], *without[1:], *ON_FOOT][:_FIRST]


def _shortly(one: WayWithout) -> str:
    return SAYS["first_short"].format(title=one.title, says=one.says)
