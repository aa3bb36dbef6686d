"""What each inlet, pipe, tank and outfall is called on the plan of the drains."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from shapely import Geometry, Point

from pathways.assessment import Assessment
from pathways.features import Feature
from pathways.pages import words
from pathways.pages.naming import called
from pathways.terrain.drain_leads import DrainLead

#: Longer ids are numbered on the plan; the table has them whole.
_LONGEST = 8
_NUMBERED = {"inlets": "I", "pipes": "P", "tanks": "T"}


@dataclass(frozen=True, kw_only=True)
class DrainMark:
    """Something on the plan of the drains.

    `lead` is None where nothing was worked out of it; `layer` is "outfalls" for the
    place where a pipe enters water, which has no feature of its own.
    """

    label: str
    layer: str
    title: str
    geometry: Geometry
    feature: Feature | None = None
    lead: DrainLead | None = None
    water: str = ""

    @property
    def is_unknown(self) -> bool:
        """Whether nobody knows how it goes on."""
        led = None if self.lead is None else self.lead.lead
        return led is not None and led.ends == "unknown"


def drain_marks(assessment: Assessment) -> tuple[DrainMark, ...]:
    """Return inlets, pipes, tanks and outfalls, each with a label of its own."""
    features = assessment.farm.features
    leads = {(one.layer, one.id): one for one in assessment.drains}
    taken: set[str] = set()
    marks = []
    for layer in ("inlets", "pipes", "tanks"):
        for number, one in enumerate(getattr(features, layer), start=1):
            kind = words.plain(getattr(one, "kind", "tank"))
            marks.append(
                DrainMark(
                    label=_label(one.id, f"{_NUMBERED[layer]}{number}", taken),
                    layer=layer,
                    title=_with_id(one, kind),
                    geometry=one.geometry,
                    feature=one,
                    lead=leads.get((layer, one.id)),
                )
            )
    marks += _outfalls(assessment, marks, taken)
    return tuple(marks)


def _with_id(one: Feature, kind: str) -> str:
    """Return what a thing is called, with its id where its name is another."""
    name = words.capital(called(one, kind))
    return f"{name} ({words.shown(one.id)})" if one.id and one.name else name


def _label(id_: str, numbered: str, taken: set[str]) -> str:
    """Return an id that is short, or a number; never one that is taken."""
    shown = words.shown(id_)
    is_short = 0 < len(shown) <= _LONGEST and shown.strip()
    others = (f"{numbered}{'*' * count}" for count in itertools.count())
    label = next(
        one
        for one in itertools.chain([shown] if is_short else [], others)
        if one not in taken
    )
    taken.add(label)
    return label


def _outfalls(
    assessment: Assessment, marks: list[DrainMark], taken: set[str]
) -> Iterator[DrainMark]:
    """Yield each place where a drain enters water, once."""
    features = assessment.farm.features
    titles = {one.feature.id: one.title for one in marks if one.feature is not None}
    seen: set[tuple[str, int, int]] = set()
    for one in assessment.drains:
        led = one.lead
        if led is None or led.ends != "water" or led.place is None:
            continue
        place = led.place
        key = (led.receptor_id, round(place.x), round(place.y))
        if key not in seen:
            seen.add(key)
            last = led.via[-1] if led.via else one.id
            water = words.shown(features.title_of(led.receptor_id))
            yield DrainMark(
                label=_label("", f"OUT{len(seen)}", taken),
                layer="outfalls",
                title=titles.get(last, words.shown(last)),
                geometry=Point(place.x, place.y),
                water=water,
            )
