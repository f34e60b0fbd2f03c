"""A sheet as PDF, where the program that makes them is installed."""

from __future__ import annotations

import importlib.util
import logging

from dashboard.sheets.paper import Sheet
from tracker.errors import TrackerError

MISSING = (
    "PDF needs WeasyPrint, which is not installed; install it with: pip install 'tenthwise[sheets]',"
    " or take the sheet as HTML and print it from a browser"
)


def can_make_pdf() -> bool:
    """Return whether a PDF can be made here."""
    return importlib.util.find_spec("weasyprint") is not None


def pdf_of(sheet: Sheet, paper: str = "a4") -> bytes:
    """Return a sheet as PDF.

    Raises
    ------
    TrackerError
        If WeasyPrint, or a library of the system that it needs, is missing.
    """
    if not can_make_pdf():
        raise TrackerError(MISSING)
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    logging.getLogger("weasyprint").setLevel(logging.ERROR)  # it speaks of CSS meant for screens
    try:
        from weasyprint import HTML
        from weasyprint.urls import URLFetcher
    except OSError as error:
        raise TrackerError(f"WeasyPrint is there but cannot be used ({error}); it needs the Pango library") from error
    only_what_is_in_it = URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    return bytes(HTML(string=sheet.document(paper), url_fetcher=only_what_is_in_it).write_pdf())
