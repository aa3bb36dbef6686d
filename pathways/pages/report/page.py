"""The report as a page: one file, no script, no link."""

from __future__ import annotations

from markupsafe import Markup

from pathways.assessment import Assessment
from pathways.pages.offline import TEMPLATES, policy_for, style_tag, template_text
from pathways.pages.report.report_words import SAYS
from pathways.pages.report.sections import report_of


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
    style = style_tag(template_text("print.css"))
    return TEMPLATES.get_template("report.html").render(
        report=report_of(assessment),
        contents=SAYS["contents"],
        style=Markup(style),  # noqa: S704 - a file of the package
        policy=Markup(policy_for(style)),  # noqa: S704 - made of hashes
    )
