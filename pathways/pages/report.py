"""The report: what was found, what to do first, who decides; to print and keep."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator
from importlib import resources
from typing import Any

from markupsafe import Markup

from pathways.assessment import Assessment
from pathways.pages import amounts, words
from pathways.pages.naming import verdict_of, way_title
from pathways.pages.notes import assumption_told, notice_told, without_told
from pathways.pages.offline import TEMPLATES
from pathways.pages.parts import Part
from pathways.pages.plan import plan_picture
from pathways.pages.site_story import site_story
from pathways.pages.story import way_story
from pathways.siting.site import shared_reasons

Values = dict[str, Any]

#: Outcomes after which liquid is in water, or counts as if it were.
_REACHES = ("reaches_water", "enters_piped_drain", "enters_ground", "not_known")
#: Sites that are told in full.
_TOLD_IN_FULL = 5

ON_FOOT = (
    "Every gully and manhole near a way: lift the lid, and pour dye or clean water. "
    "Where does it come out? Tell the regulator before you use dye.",
    "Land drains and their outfalls: ask whoever laid or ploughed here.",
    "Kerbs, walls and gateways: are they whole, as high, and where they were drawn?",
    "A rain walk: does water run as the map says? Draw what you see as an observation.",
    "Roof water, soakaways, wells and private supplies nearby.",
    "A trial pit at the first sites: water in it through a winter.",
    "Services: cables, gas, water, before anybody digs.",
)


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


def report_page(assessment: Assessment) -> str:
    """Return the report as one file that needs no network and no script.

    Parameters
    ----------
    assessment : Assessment
        What was found.

    Returns
    -------
    str
        HTML.
    """
    farm = assessment.farm
    name = words.shown(farm.settings.farm.name) or words.shown(farm.settings.farm.id)
    letters = letters_of(assessment)
    shared = shared_reasons(assessment.sites)
    style = (
        resources.files("pathways.pages")
        .joinpath("templates", "print.css")
        .read_text("utf-8")
    )
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    in_order = sorted(letters, key=lambda one: letters[one])
    return TEMPLATES.get_template(
        "report.html"
    ).render(
        title=f"Where a spill would run: {name}",
        style=Markup(style),  # noqa: S704 - a file of the package
        style_hash=Markup(f"sha256-{digest}"),  # noqa: S704 - letters and signs
        answer=list(_answer(assessment)),
        first=[without_told(one) for one in assessment.ways_without[:3]],
        plan=plan_picture(
            assessment, [letters[one] for one in range(len(assessment.pathways))]
        ),
        today=list(_today(assessment)),
        ways=[_way(assessment, place, letters[place]) for place in in_order],
        others=[without_told(one) for one in assessment.ways_without[3:]],
        sites=[
            _site(assessment, number, shared)
            for number in range(1, len(assessment.sites) + 1)
        ],
        shared=[words.plain(one) for one in shared],
        in_short=[]
        if assessment.design is None
        else [words.plain(one) for one in assessment.design.in_short],
        on_foot=ON_FOOT,
        emergency=list(_emergency(assessment)),
        warnings=[notice_told(one) for one in dict.fromkeys(assessment.notices)],
        assumptions=[assumption_told(one) for one in assessment.assumptions],
        cautions=[words.plain(one) for one in assessment.cautions],
    )


def _answer(assessment: Assessment) -> Iterator[str]:
    """Yield the answer in a few sentences, the worst first."""
    told = assessment.told
    reaching = [one for one, _ in told if one.outcome in _REACHES]
    if told:
        yield (
            f"Of {len(told)} ways from the places where a spill can begin, "
            f"{len(reaching)} reach water, a drain that counts as water, the ground "
            "below, or an end that is not known."
        )
    if reaching:
        length_m, title, ends = min(_ends(assessment))
        yield f"The shortest: {title}, {amounts.metres(length_m)}. {ends}."
        yield "In rain nothing holds a spill back: any amount gets there."
    new = [one for one in assessment.sites if not one.existing]
    if new:
        first = new[0]
        yield (
            f"Of {len(new)} sites for a pad and a bed, look first at "
            f"{words.shown(first.name or first.site_id)}: "
            f"{words.VERDICTS[first.meets_rules].lower()}."
        )
    if assessment.design is not None:
        yield " ".join(words.plain(one) for one in assessment.design.in_short[:2])


def _ends(assessment: Assessment) -> Iterator[tuple[float, str, str]]:
    """Yield length, title and end of each way that reaches, and of each that it may."""
    features = assessment.farm.features
    for pathway in assessment.pathways:
        title = way_title(pathway)
        if pathway.outcome in _REACHES:
            yield pathway.length_m, title, verdict_of(pathway, features)
        for other in pathway.alternatives:
            if other.outcome in _REACHES:
                way = f"{title}, by another way that it may take"
                yield other.length_m, way, verdict_of(other, features)


def _today(assessment: Assessment) -> Iterator[str]:
    """Yield how each place in use stands with the rules."""
    for number, site in enumerate(assessment.sites, start=1):
        if site.existing:
            verdict = words.VERDICTS[site.meets_rules]
            gains = [one for one in site.reasons if one.startswith("Moving to")]
            name = words.shown(site.name or site.site_id)
            yield " ".join((f"Site {number}, {name}: {verdict}.", *gains))


def _way(assessment: Assessment, place: int, letter: str) -> Values:
    pathway, spill = assessment.told[place]
    story = way_story(pathway, assessment.farm.features, spill)
    return {
        "letter": letter,
        "title": story.title,
        "verdict": story.verdict,
        "summary": story.summary,
        "posts": [
            {
                "at": amounts.metres(post.at_m),
                "says": post.says,
                "then": "" if post.then is None else post.then.says,
            }
            for post in story.posts
        ],
        "parts": [_part(one) for one in story.parts],
    }


def _site(assessment: Assessment, number: int, shared: tuple[str, ...]) -> Values:
    site = assessment.sites[number - 1]
    story = site_story(site, number, shared)
    in_full = number <= _TOLD_IN_FULL or not site.site_id.startswith("found-")
    dropped = (words.PAGE["rules"], "True of every site that is not used today")
    return {
        "number": number,
        "title": story.title,
        "verdict": story.verdict,
        "summary": story.summary,
        "score": "" if site.score is None else f"{site.score:.2f}",
        "first": amounts.first_of_a_hundred(site.rank_acceptability),
        "parts": [
            _part(one) for one in story.parts if in_full and one.heading not in dropped
        ],
    }


def _part(part: Part) -> Values:
    return {"heading": part.heading, "lines": part.lines, "table": part.table}


def _emergency(assessment: Assessment) -> Iterator[str]:
    """Yield what to do when something is spilt: what to block, where the kit lies."""
    yield "Stop it at its source, keep people and animals away, never wash it down."
    openings = {one.id: one.title for one in assessment.farm.features.inlets}
    entered = {
        openings[name]
        for pathway in assessment.pathways
        for via in (pathway.via, *(one.via for one in pathway.alternatives))
        for name in via
        if name in openings
    }
    if entered:
        listed = words.listed(sorted(words.shown(one) for one in entered))
        yield f"Cover first: {listed}. Keep the covers and sand uphill of them."
    else:
        yield (
            "No drawn gully stands in a way; keep sand and a portable bund uphill of "
            "the first drain all the same."
        )
    yield (
        "Call the regulator's incident line and your adviser; write the numbers here: "
        "______________________"
    )
    yield "Take up what was spilt and what soaked it up as waste; log it."
