"""The page on sizes: for the contractor, the regulator and the farmer, to print."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from pathways.assessment import Assessment
from pathways.pages import amounts, words
from pathways.pages.offline import TEMPLATES, policy_for, style_tag, template_text
from pathways.pages.pictures import (
    balance_picture,
    bed_picture,
    pad_picture,
    pad_section_picture,
)
from pathways.sizing.design import Design
from pathways.sizing.figure import Chapter
from pathways.sizing.quantities import ASK_FIRST, RECORDS

_STAMP = "For planning and prices. Not for construction: nothing here was surveyed."


def sizes_page(assessment: Assessment) -> str:
    """Return the page on sizes as one file that needs no network and no script.

    Parameters
    ----------
    assessment : Assessment
        With a design.

    Returns
    -------
    str
        HTML.
    """
    design = assessment.design
    farm = assessment.farm.settings.farm
    name = words.shown(farm.name) or words.shown(farm.id)
    style = style_tag(template_text("print.css"))
    items = () if design is None else design.items
    return TEMPLATES.get_template("sizes.html").render(
        title=f"Pad, tank and bed for {name}",
        stamp=_STAMP,
        style=Markup(style),  # noqa: S704 - a file of the package
        policy=Markup(policy_for(style)),  # noqa: S704 - made of hashes
        in_short=[]
        if design is None
        else [words.plain(one) for one in design.in_short],
        missing=[] if design is None else design.missing,
        chapters=[]
        if design is None
        else [_chapter(one, design) for one in design.chapters],
        items=[
            {
                "name": one.name,
                "amount": amounts.figure(one.amount, one.unit),
                "how": one.how,
                "price": "" if one.price is None else f"{one.price:,.2f}",
            }
            for one in items
        ],
        priced=any(one.price is not None for one in items),
        ask_first=ASK_FIRST,
        cautions=[words.plain(one) for one in assessment.cautions],
        records=[{"title": title, "heads": heads} for title, heads in RECORDS],
    )


def _chapter(chapter: Chapter, design: Design) -> dict[str, Any]:
    return {
        "title": chapter.title,
        "pictures": _pictures(chapter.title, design),
        "figures": [
            {
                "what": words.plain(one.what),
                "value": amounts.figure(one.value, one.unit),
                "resolved": one.value is not None,
                "how": words.plain(one.how),
                "standing": words.plain(one.standing, words.STANDINGS),
                "source": words.plain(one.source),
            }
            for one in chapter.figures
        ],
        "says": [words.capital(words.plain(one)) for one in chapter.says],
        "cautions": [words.plain(one) for one in chapter.cautions],
    }


def _pictures(title: str, design: Design) -> list[Markup]:
    if title == "Pad":
        return [pad_picture(design.pad), pad_section_picture(design.pad)]
    if title == "Bed" and design.bed is not None:
        return [bed_picture(design.bed, design.flotation)]
    if title == "Water through the year" and design.year is not None:
        return [balance_picture(design.year)]
    return []
