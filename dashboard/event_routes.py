"""The HTTP interface behind the buttons that log what was done to the machine."""

from __future__ import annotations

from flask import Blueprint, Response, jsonify

from dashboard.entry_routes import Refused, answer_faults, by_of, json_body, known_feature, known_job, text_of
from tracker.record import Record


def event_routes(record: Record) -> Blueprint:
    """Return the route ``POST /api/jobs/<number>/events``: feature, after_piece, event, amount, client_id."""
    routes = Blueprint("events", __name__, url_prefix="/api")

    answer_faults(routes)

    @routes.post("/jobs/<int:job_id>/events")
    def keep(job_id: int) -> Response:
        body = json_body()
        feature = text_of(body, "feature", needed=True)
        known_feature(known_job(record, job_id), feature)
        amount = body.get("amount")
        if amount is not None and (isinstance(amount, bool) or not isinstance(amount, int | float)):
            raise Refused(400, f"amount is {amount!r}; accepted is a length in the job's unit, or nothing")
        number = record.add_event(
            job_id,
            feature,
            text_of(body, "after_piece"),
            text_of(body, "event", needed=True),
            amount,
            client_id=text_of(body, "client_id", needed=True),
            by=by_of(body),
        )
        return jsonify(event=number)

    return routes
