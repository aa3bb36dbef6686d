"""The case for one site, told in sentences."""

from __future__ import annotations

from pathways.pages import amounts, words
from pathways.pages.enough import enough
from pathways.pages.parts import Part
from pathways.pages.story import Story
from pathways.siting.site import Criterion, Judgement, Site
from pathways.units import SECONDS_PER_MINUTE

#: What nobody should skip before building anywhere.
NEXT = (
    "Walk it in heavy rain with the map, and look for gullies and drains that nobody "
    "drew.",
    "Dig a trial pit and watch the water in it through a winter.",
    "Take this page to your regulator and ask what is told as not decided.",
)
#: Less than this is level [m/m].
_LEVEL = 0.0005
#: Values from here on are told whole.
_WHOLE = 100


def site_story(
    site: Site, number: int | None = None, shared: tuple[str, ...] = ()
) -> Story:
    """Tell why a site stands where it does; what holds of every site comes last."""
    name = words.shown(site.name) or words.shown(site.site_id)
    existing = f" ({words.PAGE['existing']})" if site.existing else ""
    parts = (
        Part(heading="What to do next", lines=() if site.existing else NEXT),
        Part(
            heading="Why it stands there",
            lines=tuple(
                words.plain(one)
                for one in site.reasons
                if site.existing or one not in shared
            ),
        ),
        Part(heading="If something is spilt or built here", lines=on_the_ground(site)),
        Part(
            heading=words.PAGE["rules"],
            lines=tuple(_rule(one) for one in site.judgements),
        ),
        Part(
            heading="What it was compared by",
            lines=tuple(
                f"{words.capital(words.plain(one.name, words.CRITERIA))}: "
                f"{_value(one)}; "
                f"worth {_worth(one)} of 1, and weighs {one.weight:.0%}"
                for one in site.criteria
            ),
        ),
        Part(
            heading="True of every site that is not used today",
            lines=() if site.existing else tuple(words.plain(one) for one in shared),
        ),
    )
    return Story(
        title=f"Site {number or site.rank}: {name}{existing}",
        verdict=words.VERDICTS[site.meets_rules],
        summary=_unmet(site),
        parts=tuple(part for part in parts if part.lines),
    )


def on_the_ground(site: Site) -> tuple[str, ...]:
    """Return what a spill takes to get away, and what a pad takes to be built."""
    lines = []
    if site.critical_volume_l:
        lines.append(
            "Without a pad, enough to get to the end of the way from here: "
            f"{enough(site.critical_volume_l)}."
        )
    if site.earthwork is not None and site.meets_rules != "false" and not site.existing:
        cut = amounts.cubic_metres(site.earthwork.cut_m3)
        fill = amounts.cubic_metres(site.earthwork.fill_m3)
        lines.append(
            f"To lay a pad even here, {cut} are dug off and {fill} filled, from the "
            "grid: for planning, not for construction."
        )
    return tuple(lines)


def _unmet(site: Site) -> str:
    if not site.judgements:
        return "No rule was checked here."
    unmet = [words.plain(one.says).rstrip(".") for one in site.unmet if one.binds]
    if unmet:
        return f"Not met, or only just: {'; '.join(unmet)}."
    told = [one.verdict for one in site.judgements]
    open_ = told.count("no_rule_read")
    return (
        f"Of {len(told)} rules that apply: {told.count('true')} kept, "
        f"{told.count('false') + told.count('marginal')} not kept or only just (it "
        f"only warns), {open_} not checked."
    )


def _rule(judgement: Judgement) -> str:
    verdict = words.RULE_VERDICTS[judgement.verdict]
    if not judgement.binds and judgement.verdict in ("false", "marginal"):
        verdict += (
            " (it would bind a pad or bed)"
            if judgement.binds_if_built
            else " (a warning: have it checked locally)"
        )
    says = f"{verdict}: {words.plain(judgement.says).rstrip('.')}."
    if judgement.need_m is not None:
        says += f" It needs {amounts.metres_needed(judgement.need_m)}"
        says += (
            f" and has {amounts.metres_there(judgement.have_m)}."
            if judgement.have_m is not None
            else "."
        )
    source = words.shown(judgement.citation)
    standing = words.plain(judgement.standing, words.STANDINGS)
    stands = f" ({standing})" if standing else ""
    is_open = judgement.verdict == "no_rule_read" and judgement.standing == "given"
    return f"{says} Source: {source}{stands}." if source and not is_open else says


def _value(one: Criterion) -> str:
    """Say a value and what it means; what it means alone where there is none."""
    told = words.plain(one.told)
    if one.value is None:
        return told or "not known"
    value = f"{one.value:,.0f}" if abs(one.value) >= _WHOLE else f"{one.value:,.2g}"
    unit = "" if one.unit in ("share", "") else f" {one.unit}"
    said = f"{value}{unit}"
    if one.unit == "s":
        said = f"{one.value / SECONDS_PER_MINUTE:.0f} minutes"
    elif one.unit == "m/m" and one.value > _LEVEL:
        said = f"1 in {1 / one.value:.0f}"
    return said + (f", {told}" if told else "")


def _worth(one: Criterion) -> str:
    return "nothing" if one.worth is None else f"{one.worth:.2f}"
