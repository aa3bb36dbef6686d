"""The plan of the drains, and beside it what drains to where and what is unknown."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pathways.assessment import Assessment
from pathways.features import Inlet, Pipe, Tank
from pathways.pages import amounts, words
from pathways.pages.naming import thing
from pathways.pages.parts import Row, Table
from pathways.pages.report.blocks import Grid, Paragraph, Picture, Section
from pathways.pages.report.drain_labels import DrainMark, drain_marks
from pathways.pages.report.drain_picture import drain_picture
from pathways.pages.report.report_words import SAYS, TITLES
from pathways.terrain.drains import Lead


def drains(assessment: Assessment) -> Iterator[Section]:
    """Yield the plan of the drains and its table; that none was drawn is told too."""
    marks = drain_marks(assessment)
    if not marks:
        told = Paragraph(text=SAYS["no_drains"], strong=True)
        yield Section(key="drains", title=TITLES["drains"], blocks=(told,))
        return
    rows = tuple(_row(one, marks, assessment) for one in marks)
    yield Section(
        key="drains",
        title=TITLES["drains"],
        page="own",
        blocks=(
            Paragraph(text=SAYS["drains_hint"]),
            Picture(
                svg=drain_picture(assessment, marks),
                title=SAYS["drains_picture"],
                says=SAYS["drains_says"],
            ),
            Grid(table=Table(heads=tuple(SAYS["drains_heads"].split("|")), rows=rows)),
        ),
    )


def _row(mark: DrainMark, marks: Sequence[DrainMark], assessment: Assessment) -> Row:
    if mark.layer == "outfalls":
        what = SAYS["outfall"].format(what=mark.title, water=mark.water)
        return Row(title=mark.label, cells=((words.capital(what),), (mark.water,), ()))
    return Row(
        title=mark.label,
        cells=(
            (mark.title, *_details(mark)),
            (_goes_to(mark, marks, assessment),),
            tuple(_unknown(mark)),
        ),
    )


def _details(mark: DrainMark) -> Iterator[str]:
    """Yield a pipe's width, a tank's room."""
    one = mark.feature
    if isinstance(one, Pipe) and one.diameter_mm:
        yield SAYS["inner"].format(mm=f"{one.diameter_mm:g}")
    if isinstance(one, Tank):
        yield SAYS["holds"].format(litres=amounts.volume(one.capacity_l))
        if one.free_l is not None:
            yield SAYS["relied_on"].format(litres=amounts.volume(one.free_l))


def _goes_to(
    mark: DrainMark, marks: Sequence[DrainMark], assessment: Assessment
) -> str:
    """Say where something drains to, and through what."""
    if mark.lead is None:
        drawn = words.shown(getattr(mark.feature, "drains_to", "")) or SAYS["nothing"]
        return SAYS["not_worked_out"].format(drains_to=drawn)
    led = mark.lead.lead
    if led is None:
        return SAYS["capped"]
    end = _end(mark, led, marks, assessment)
    own = "" if mark.feature is None else mark.feature.id
    via = [
        thing(assessment.farm.features, one, layers=("pipes", "inlets", "tanks"))
        for one in led.via
        if one not in (own, led.receptor_id)
    ]
    if not via:
        return end
    return SAYS["through"].format(end=end, via=words.listed(via))


def _end(
    mark: DrainMark, led: Lead, marks: Sequence[DrainMark], assessment: Assessment
) -> str:
    features = assessment.farm.features
    if led.ends == "water":
        outfalls = [one for one in marks if one.layer == "outfalls"]
        nearest = min(outfalls, key=lambda one: one.geometry.distance(led.place))
        water = words.shown(features.title_of(led.receptor_id))
        return SAYS["to_water"].format(water=water, label=nearest.label)
    if led.ends == "tank":
        if mark.layer == "tanks":
            return SAYS["tank_ends"]
        return thing(features, led.receptor_id, layers=("tanks",))
    return {
        "ground": SAYS["to_ground"],
        "surface": SAYS["to_surface"],
        "unknown": SAYS["to_nobody"],
    }[led.ends]


def _unknown(mark: DrainMark) -> Iterator[str]:
    """Yield what nobody knows of something drawn."""
    one = mark.feature
    if mark.is_unknown:
        yield SAYS["outlet"]
    if isinstance(one, Inlet):
        yield from _unknown_of_inlet(one, mark)
    if isinstance(one, Pipe) and not one.diameter_mm:
        yield SAYS["width"]
    if isinstance(one, Tank) and not one.maintained:
        yield SAYS["overflow"]
    if isinstance(one, Tank) and one.free_l is None:
        yield SAYS["free"]


def _unknown_of_inlet(one: Inlet, mark: DrainMark) -> Iterator[str]:
    if one.drains_to == "capped":
        yield SAYS["cap"]
    elif one.drains_to == "soakaway":
        yield SAYS["soakaway"]
    if one.covered:
        yield SAYS["lid"]
    elif one.kind == "downpipe":
        yield SAYS["roof"]
    elif mark.lead is not None and mark.lead.lead and not mark.lead.captures:
        yield SAYS["indoors"]
