"""The report from its first page to its last: one list of sections."""

from __future__ import annotations

from collections.abc import Iterator

from pathways.assessment import Assessment
from pathways.pages import words
from pathways.pages.report.answer import first_page
from pathways.pages.report.blocks import Report, Section
from pathways.pages.report.building import sizes, water
from pathways.pages.report.checks import on_foot
from pathways.pages.report.closing import (
    assumed,
    cautions,
    deciders,
    left_open,
    records,
)
from pathways.pages.report.drains import drains
from pathways.pages.report.emergency import emergency
from pathways.pages.report.evidence import evidence
from pathways.pages.report.places import sites
from pathways.pages.report.report_words import SAYS
from pathways.pages.report.ways import today, ways, without

#: Longest name of a farm that leaves room for the answer on the first page.
_LONGEST_NAME = 60


def report_of(assessment: Assessment) -> Report:
    """Return the report as plain values.

    Parameters
    ----------
    assessment : Assessment
        What was found.

    Returns
    -------
    Report
        What every form of it is made from, so that all say the same.
    """
    farm = assessment.farm.settings.farm
    name = words.shown(farm.name or farm.id, longest=_LONGEST_NAME)
    told = tuple(_sections(assessment))
    keys = [one.key for one in told]
    return Report(
        title=SAYS["title"].format(farm=name),
        stamp=SAYS["stamp"],
        sections=(*told, *evidence(assessment, [*keys, "records"]), *records()),
    )


def _sections(assessment: Assessment) -> Iterator[Section]:
    yield from first_page(assessment)
    yield from today(assessment)
    yield from ways(assessment)
    yield from without(assessment)
    yield from sites(assessment)
    yield from sizes(assessment)
    yield from water(assessment)
    yield from drains(assessment)
    yield from emergency(assessment)
    yield from on_foot(assessment)
    yield from deciders()
    yield from left_open(assessment)
    yield from assumed(assessment)
    yield from cautions(assessment)
