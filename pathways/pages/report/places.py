"""Sites in their order, the rules held against each, and each with its reasons."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pathways.assessment import Assessment
from pathways.pages import amounts, words
from pathways.pages.parts import Row, Table
from pathways.pages.report.blocks import (
    Block,
    Grid,
    Heading,
    Lines,
    Paragraph,
    Section,
    blocks_of,
)
from pathways.pages.report.report_words import SAYS, TITLES
from pathways.pages.site_story import NEXT, site_story
from pathways.pages.story import Story
from pathways.siting.site import Judgement, Site, shared_reasons

#: Sites that are told in full; places in use and those that were drawn always are.
_TOLD_IN_FULL = 5
#: Begins what is said of a place in use that would bind if something were built there.
_IF_BUILT = "if a pad and bed were built here, "
#: Sites side by side in one table: a page is no wider.
_SIDE_BY_SIDE = 6

Told = tuple[int, Site, Story]


def sites(assessment: Assessment) -> Iterator[Section]:
    """Yield the order of the sites, their rules, then each that is told in full."""
    if not assessment.sites:
        return
    shared = shared_reasons(assessment.sites)
    told = [
        (number, one, site_story(one, number, shared))
        for number, one in enumerate(assessment.sites, start=1)
    ]
    full = [
        one
        for one in told
        if one[0] <= _TOLD_IN_FULL or not one[1].site_id.startswith("found-")
    ]
    rows = tuple(_row(site, story) for _, site, story in told)
    heads = tuple(SAYS["site_heads"].split("|"))
    blocks: list[Block] = [
        Paragraph(text=SAYS["sites_hint"]),
        Grid(table=Table(heads=heads, rows=rows)),
    ]
    if shared:
        lines = tuple(words.plain(one) for one in shared)
        blocks += [Heading(text=SAYS["shared"]), Lines(lines=lines)]
    blocks += [Heading(text=SAYS["site_next"]), Lines(lines=NEXT)]
    blocks += _rules(full)
    yield Section(key="sites", title=TITLES["sites"], blocks=tuple(blocks))
    for number, _, story in full:
        blocks_told = tuple(_site(story))
        yield Section(
            key=f"site-{number}", title=story.title, level=3, blocks=blocks_told
        )


def _row(site: Site, story: Story) -> Row:
    score = "" if site.score is None else f"{site.score:.2f}"
    first = amounts.first_of_a_hundred(site.rank_acceptability)
    return Row(title=story.title, cells=((story.verdict,), (score,), (first,)))


def _site(story: Story) -> Iterator[Block]:
    says = SAYS["site_line"].format(verdict=story.verdict, summary=story.summary)
    yield Paragraph(text=says)
    for part in story.parts:
        if part.heading in (SAYS["why_there"], SAYS["built_here"]):
            yield from blocks_of(part)


def _rules(told: Sequence[Told]) -> Iterator[Block]:
    """Yield each rule against each site, side by side; then their sources."""
    numbers = _numbered(told)
    if not numbers:
        return
    yield Heading(text=SAYS["rules"])
    yield Paragraph(text=SAYS["rules_hint"])
    for start in range(0, len(told), _SIDE_BY_SIDE):
        part = told[start : start + _SIDE_BY_SIDE]
        heads = (
            SAYS["rule_head"],
            *(SAYS["site_head"].format(number=one[0]) for one in part),
        )
        rows = tuple(
            Row(
                title=f"{number}. {what}",
                cells=tuple(tuple(_held(rule, what, one[1])) for one in part),
            )
            for (rule, what), number in numbers.items()
        )
        yield Grid(table=Table(heads=heads, rows=rows))
    yield Heading(text=SAYS["rule_sources"])
    judged = {_key(one): one for _, site, _ in told for one in site.judgements}
    by_source: dict[str, list[str]] = {}
    for key, number in numbers.items():
        by_source.setdefault(_source(judged[key]), []).append(str(number))
    yield Lines(
        lines=tuple(
            SAYS["rule_source"].format(numbers=words.listed(those), source=source)
            for source, those in by_source.items()
        )
    )


def _key(one: Judgement) -> tuple[str, str]:
    """Return a rule and what it asks; what was found of it stands after a colon.

    What would bind if a place in use were built on is the same rule.
    """
    asks = words.plain(one.says).partition(": ")[0].rstrip(".")
    asks = words.capital(asks.removeprefix(_IF_BUILT))
    if one.need_m is None:
        return one.rule, asks
    need = amounts.metres_needed(one.need_m)
    if amounts.with_plain_spaces(need) in amounts.with_plain_spaces(asks):
        return one.rule, asks
    return one.rule, SAYS["needs"].format(asks=asks, need=need)


def _numbered(told: Sequence[Told]) -> dict[tuple[str, str], int]:
    keys = dict.fromkeys(_key(one) for _, site, _ in told for one in site.judgements)
    return {key: number for number, key in enumerate(keys, start=1)}


def _held(rule: str, what: str, site: Site) -> Iterator[str]:
    """Yield how a site keeps a rule, and the distances; several times if it must."""
    for one in site.judgements:
        if _key(one) != (rule, what):
            continue
        verdict = SAYS["open"]  # narrow columns would break longer words
        if one.verdict != "no_rule_read":
            verdict = words.RULE_VERDICTS[one.verdict]
        if one.verdict in ("false", "marginal") and not one.binds:
            verdict = SAYS["if_built" if one.binds_if_built else "only_warns"].format(
                verdict=verdict
            )
        yield verdict
        if one.have_m is not None:
            yield amounts.metres_there(one.have_m)


def _source(one: Judgement) -> str:
    standing = words.plain(one.standing, words.STANDINGS)
    source = words.plain(one.citation) or SAYS["no_source"]
    return f"{source} ({standing})" if standing else source
