"""The sheets over HTTP: to be shown in a page, to be printed, and as files."""

from __future__ import annotations

from flask import Blueprint, Response, request

from dashboard.parts.address import read_address
from dashboard.parts.answers import Answers
from dashboard.people.door import signed
from dashboard.sheets.paper import PAPERS
from dashboard.sheets.portable import can_make_pdf, pdf_of
from dashboard.sheets.shelf import make_sheet, subject_of
from dashboard.sheets.signing import with_sign_off
from tracker.errors import TrackerError

ENDINGS = ("part", "html", "pdf")


def sheet_routes(answers: Answers, by: str = "") -> Blueprint:
    """Return the route ``/sheets/<name>.<ending>`` with the state of a page.

    ``part`` is the sheet for the inside of a page, ``html`` a file that stands by itself, ``pdf`` the same for a
    printer; ``paper`` is a4 or letter, ``file=1`` asks for a file to be kept.
    """
    routes = Blueprint("sheets", __name__)

    @routes.get("/sheets/<name>.<ending>")
    def written(name: str, ending: str) -> Response:
        address = read_address("", request.query_string.decode("utf-8", "replace"))
        paper = request.args.get("paper", "")
        if address.job is None or ending not in ENDINGS or paper not in PAPERS:
            return Response("there is no such sheet", 404, mimetype="text/plain")
        if ending == "pdf" and not can_make_pdf():
            return Response("PDF is not made here; print the sheet from the browser", 501, mimetype="text/plain")
        try:
            answer = answers.of(address.job, address.unit)
            sheet = make_sheet(answer, name, fit=address.fit, feature=address.feature, by=signed(by))
            subject = subject_of(answer, name, address.fit, address.feature)
            sheet = with_sign_off(sheet, answer, subject)
            if ending == "part":
                return Response(sheet.inner(), mimetype="text/html")
            if ending == "html":
                found = Response(sheet.document(paper), mimetype="text/html")
            else:
                found = Response(pdf_of(sheet, paper or "a4"), mimetype="application/pdf")
        except TrackerError as error:
            return Response(str(error), 404, mimetype="text/plain")
        if request.args.get("file"):
            found.headers["Content-Disposition"] = f'attachment; filename="{sheet.file_name}.{ending}"'
        return found

    return routes
