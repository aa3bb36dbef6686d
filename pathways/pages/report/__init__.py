"""The report: what was found, what to do first, who decides; to print and keep."""

from pathways.pages.report.markdown import report_markdown
from pathways.pages.report.page import report_page
from pathways.pages.report.pdf import refuse_without_printer, report_pdf
from pathways.pages.report.told import letters_of

__all__ = [
    "letters_of",
    "refuse_without_printer",
    "report_markdown",
    "report_page",
    "report_pdf",
]
