"""What several chapters tell alike: letters, ways worst first, names of things."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pathways.assessment import Assessment
from pathways.features import Features
from pathways.pages import words
from pathways.pages.naming import thing, verdict_of, way_title
from pathways.pages.report.report_words import SAYS
from pathways.spill.spill import Spill
from pathways.terrain.pathway import Alternative, Leg, Pathway

#: Outcomes after which liquid is in water, or counts as if it were.
REACHES = ("reaches_water", "enters_piped_drain", "enters_ground", "not_known")


@dataclass(frozen=True, kw_only=True)
class ToldWay:
    """A way with its letter and what losses do on it."""

    letter: str
    title: str
    pathway: Pathway
    spill: Spill | None

    @property
    def name(self) -> str:
        """Letter and title, as in a table."""
        return SAYS["from"].format(letter=self.letter, title=self.title)

    @property
    def is_open(self) -> bool:
        """Whether the heights leave its end open, or nobody knows it."""
        undecided = any(not one.decided for one in self.pathway.arrivals)
        return undecided or self.pathway.outcome == "not_known"


def letters_of(assessment: Assessment) -> dict[int, str]:
    """Return the letter of each pathway, worst first, as on the map.

    Parameters
    ----------
    assessment : Assessment
        What was found.

    Returns
    -------
    dict of int to str
        By the place of the pathway in the assessment.
    """
    return {
        place: words.letter(number)
        for number, place in enumerate(assessment.worst_first)
    }


def ways_of(assessment: Assessment) -> tuple[ToldWay, ...]:
    """Return the ways, worst first."""
    told = assessment.told
    return tuple(
        ToldWay(
            letter=words.letter(number),
            title=way_title(told[place][0]),
            pathway=told[place][0],
            spill=told[place][1],
        )
        for number, place in enumerate(assessment.worst_first)
    )


@dataclass(frozen=True, kw_only=True)
class FirstDrain:
    """Where liquid first goes underground on a way, and how far that is along it."""

    id: str
    what: str
    at_m: float


def first_drain(way: Pathway | Alternative, features: Features) -> FirstDrain | None:
    """Return the first opening that a way goes into, None where it has none."""
    openings = [
        one
        for one in (*way.via, way.receptor_id)
        if any(one == known.id for known in (*features.inlets, *features.pipes))
    ]
    if not openings:
        return None
    return FirstDrain(
        id=openings[0],
        what=thing(features, openings[0], layers=("inlets", "pipes")),
        at_m=sum(leg.line.length for leg in _before_the_drain(way.legs)),
    )


def _before_the_drain(legs: tuple[Leg, ...]) -> Iterator[Leg]:
    for leg in legs:
        if leg.kind in ("pipe", "joined"):
            return
        yield leg


def ends_told(assessment: Assessment) -> Iterator[tuple[float, str, str]]:
    """Yield length, title and end of each way that reaches, and of each that it may."""
    features = assessment.farm.features
    for pathway in assessment.pathways:
        title = way_title(pathway)
        if pathway.outcome in REACHES:
            yield pathway.length_m, title, verdict_of(pathway, features)
        for other in pathway.alternatives:
            if other.outcome in REACHES:
                way = SAYS["otherwise"].format(title=title)
                yield other.length_m, way, verdict_of(other, features)
