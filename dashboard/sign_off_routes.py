"""The HTTP interface behind the button that signs a sheet off."""

from __future__ import annotations

from flask import Blueprint, Response, jsonify

from dashboard.entry_routes import Refused, answer_faults, json_body, known_job, text_of
from dashboard.parts.answers import Answers
from dashboard.people.door import signed
from dashboard.sheets.shelf import SHEETS, subject_of
from dashboard.sheets.signing import verdict_of
from tracker.record import Record


def sign_off_routes(record: Record, answers: Answers) -> Blueprint:
    """Return the route ``POST /api/jobs/<number>/sign-offs``: sheet, fit, feature, fingerprint.

    The fingerprint is that of the readings which the person looked at; others may have come meanwhile, and what nobody
    saw is not signed.
    """
    routes = Blueprint("sign_offs", __name__, url_prefix="/api")

    answer_faults(routes)

    @routes.post("/jobs/<int:job_id>/sign-offs")
    def keep(job_id: int) -> Response:
        body = json_body()
        sheet, seen = text_of(body, "sheet", needed=True), text_of(body, "fingerprint", needed=True)
        fit, feature = text_of(body, "fit"), text_of(body, "feature")
        known_job(record, job_id)
        if sheet not in SHEETS:
            raise Refused(400, f"there is no sheet {sheet!r}; there are: {', '.join(SHEETS)}")
        answer = answers.of(job_id)
        subject = subject_of(answer, sheet, fit, feature)
        if seen != answer.check.readings.fingerprint:
            raise Refused(409, "the readings have changed since this sheet was shown; look at it again, then sign")
        found = record.sign_off(job_id, sheet, subject, seen, verdict_of(answer, sheet, fit), by=signed(""))
        return jsonify(signed=found.to_dict())

    return routes
