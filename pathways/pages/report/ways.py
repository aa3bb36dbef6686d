"""Places in use today, each way of a spill, and what can be done without building."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from pathways.assessment import Assessment
from pathways.pages import amounts, words
from pathways.pages.notes import without_told
from pathways.pages.parts import Part
from pathways.pages.posts import Post
from pathways.pages.report.blocks import (
    Block,
    Heading,
    Lines,
    Paragraph,
    Section,
    blocks_of,
)
from pathways.pages.report.report_words import SAYS, TITLES
from pathways.pages.report.told import ways_of
from pathways.pages.story import Story, way_story


def today(assessment: Assessment) -> Iterator[Section]:
    """Yield how each place in use stands with the rules, and what moving changes."""
    lines = []
    for number, site in enumerate(assessment.sites, start=1):
        if site.existing:
            says = SAYS["today"].format(
                number=number,
                name=words.shown(site.name or site.site_id),
                verdict=words.VERDICTS[site.meets_rules],
            )
            moving = [
                words.plain(one) for one in site.reasons if one.startswith("Moving to")
            ]
            lines.append(" ".join((says, *moving)))
    if lines:
        told = Lines(lines=tuple(lines))
        yield Section(key="today", title=TITLES["today"], blocks=(told,))


def ways(assessment: Assessment) -> Iterator[Section]:
    """Yield each way, worst first; what holds of every one is told once, before."""
    features = assessment.farm.features
    told = [
        (way, way_story(way.pathway, features, way.spill))
        for way in ways_of(assessment)
    ]
    if not told:
        return
    common = _common([story for _, story in told])
    blocks: tuple[Block, ...] = ()
    if common:
        blocks = (Heading(text=SAYS["common"]), Lines(lines=common))
    yield Section(key="ways", title=TITLES["ways"], blocks=blocks)
    for way, story in told:
        yield Section(
            key=f"way-{way.letter}",
            title=way.name,
            level=3,
            blocks=tuple(_way(story, common)),
        )


def without(assessment: Assessment) -> Iterator[Section]:
    """Yield what can be done without building, or before."""
    lines = tuple(without_told(one) for one in assessment.ways_without)
    if lines:
        told = Lines(lines=lines)
        yield Section(key="without", title=TITLES["without"], blocks=(told,))


def _common(stories: list[Story]) -> tuple[str, ...]:
    """Return the lines that every one of several ways would say."""
    if len(stories) < 2:  # noqa: PLR2004 - one way has nothing in common
        return ()
    counts = Counter(
        line
        for story in stories
        for line in dict.fromkeys(line for one in story.parts for line in one.lines)
    )
    return tuple(line for line, count in counts.items() if count == len(stories))


def _way(story: Story, common: Iterable[str]) -> Iterator[Block]:
    yield Paragraph(text=f"{story.verdict}.", strong=True)
    yield Paragraph(text=story.summary)
    if story.posts:
        yield Lines(lines=tuple(map(_post, story.posts)))
    for part in story.parts:
        left = tuple(one for one in part.lines if one not in common)
        if left or part.table is not None:
            yield from blocks_of(
                Part(heading=part.heading, lines=left, table=part.table)
            )


def _post(post: Post) -> str:
    then = "" if post.then is None else f" {words.capital(post.then.says)}."
    return f"{amounts.metres(post.at_m)}: {post.says}{then}"
