"""The report as a PDF, by WeasyPrint, which users install besides."""

from __future__ import annotations

from types import ModuleType

from pathways.errors import PrinterMissingError

_CURE = (
    "a PDF needs WeasyPrint: pip install 'farm-pathways[pdf]', and on Debian apt "
    "install libpango-1.0-0 libpangoft2-1.0-0; or print report.html from a browser"
)


def refuse_without_printer() -> None:
    """See that a PDF can be made, before minutes of work.

    Raises
    ------
    PrinterMissingError
        If WeasyPrint, or what it needs of the system, is not installed.
    """
    _printer()


def report_pdf(page: str) -> bytes:
    """Return the report as a PDF.

    Parameters
    ----------
    page : str
        From `report_page`.

    Returns
    -------
    bytes
        The same for the same page, program and fonts.

    Raises
    ------
    PrinterMissingError
        If WeasyPrint, or what it needs of the system, is not installed.
    """
    printer = _printer()
    # Our page carries everything: whatever else it asked for is refused.
    nothing = printer.urls.URLFetcher(allowed_protocols=[], fail_on_errors=True)
    made: bytes = printer.HTML(string=page, url_fetcher=nothing).write_pdf()
    return made


def _printer() -> ModuleType:
    try:
        import weasyprint
    except (ImportError, OSError) as error:  # OSError: a library of the system
        raise PrinterMissingError(_CURE) from error
    printer: ModuleType = weasyprint
    return printer
