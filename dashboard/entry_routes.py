"""The small HTTP interface behind the Log page: one reading in, one acknowledgement out.

A reading is acknowledged only when it is in the record. A request that the user must mend gets 400, an unknown job 404,
and a record that cannot be written 503, on which the page keeps its queue and tries again.
"""

from __future__ import annotations

import datetime
import logging
import unicodedata
from collections.abc import Callable
from typing import Any

from flask import Blueprint, Response, jsonify, request

from dashboard.parts.address import UNITS
from dashboard.people.door import signed
from tracker.errors import NotInRecord, RecordError, TrackerError
from tracker.job import Feature, Job
from tracker.readings import read_entry
from tracker.record import Kept, LogEntry, Record
from tracker.units import MM_PER

LONGEST = 200
MOST_ENTRIES = 2000
DEFAULT_REPEATS = 1
FIRST_YEAR, LAST_YEAR = 1970, 2199
TEXTS = ("feature", "piece", "text", "client_id")
OPTIONAL_TEXTS = ("position", "kind", "unit", "operator", "batch", "note")

Verdicts = Callable[[int, str], list[dict[str, str]]]


class Refused(Exception):
    """A request that is answered with a status and a sentence."""

    def __init__(self, status: int, words: str) -> None:
        super().__init__(words)
        self.status = status


def entry_routes(record: Record, verdicts: Verdicts | None = None) -> Blueprint:
    """Return the routes of the Log page.

    Parameters
    ----------
    record : Record
    verdicts : callable, optional
        Gives, for a job number and the unit shown, one ``{"fit", "word", "reason"}`` a fit, for the line under the
        entry field.

    Returns
    -------
    flask.Blueprint
    """
    routes = Blueprint("entry", __name__, url_prefix="/api")

    answer_faults(routes)

    @routes.get("/jobs/<int:job_id>/log")
    def log(job_id: int) -> Response:
        job = known_job(record, job_id)
        feature = request.args.get("feature", "")  # not a part of the path: a name may hold a stroke, or be two points
        unit = request.args.get("unit", "")
        unit = unit if unit in UNITS else ""
        mark = record.last_change()
        if request.args.get("mark", "") == str(mark):
            return jsonify(mark=mark, same=True)
        return jsonify(mark=mark, **log_state(record, job_id, job, known_feature(job, feature), verdicts, unit))

    @routes.post("/jobs/<int:job_id>/readings")
    def keep(job_id: int) -> Response:
        body = json_body()
        for name in TEXTS:
            text_of(body, name, needed=True)
        job = known_job(record, job_id)
        known_feature(job, body["feature"])
        kept = record.add_reading(
            job_id,
            body["feature"],
            body["piece"].strip(),
            body["text"],
            client_id=body["client_id"],
            repeat=count_of(body, "repeat"),
            time=time_of(body),
            by=signed(""),
            **{name: found for name in OPTIONAL_TEXTS if (found := text_of(body, name))} | operator_of(body),
        )
        return jsonify(reading=shown_kept(kept))

    @routes.post("/readings/<int:reading_id>/strike")
    def strike(reading_id: int) -> Response:
        body = json_body()
        entry = record.strike(reading_id, text_of(body, "reason", needed=True), by_of(body))
        return jsonify(reading=shown(entry))

    @routes.post("/readings/<int:reading_id>/keep")
    def confirm(reading_id: int) -> Response:
        body = json_body()
        return jsonify(reading=shown(record.confirm(reading_id, by_of(body))))

    @routes.post("/jobs/<int:job_id>/readings/<int:reading_id>/change")
    def change(job_id: int, reading_id: int) -> Response:
        body = json_body()
        text, reason = text_of(body, "text", needed=True), text_of(body, "reason", needed=True)
        job = known_job(record, job_id)
        read_entry(text, unit=job.unit)  # refused here, before the first reading is struck out
        old = record.strike(reading_id, reason, by_of(body))
        kept = record.add_reading(
            job_id,
            old.feature,
            old.piece,
            text,
            client_id=f"instead of {reading_id}",
            position=old.position,
            kind=old.kind,
            unit=old.unit,
            batch=old.batch,
            gauge=old.gauge,
            operator=old.operator,
            note=f"instead of {old.typed}",
            by=by_of(body),
        )
        return jsonify(reading=shown_kept(kept))

    return routes


def answer_faults(routes: Blueprint) -> None:
    """Answer what goes wrong in these routes with a status and a sentence."""

    @routes.errorhandler(Refused)
    def refused(error: Refused) -> tuple[Response, int]:
        return jsonify(error=str(error)), error.status

    @routes.errorhandler(NotInRecord)
    def not_there(error: NotInRecord) -> tuple[Response, int]:
        return jsonify(error=str(error)), 404

    @routes.errorhandler(RecordError)
    def cannot_keep(error: RecordError) -> tuple[Response, int]:
        logging.getLogger(__name__).error("the record: %s", error)
        return jsonify(error=str(error)), 503

    @routes.errorhandler(TrackerError)
    def mend(error: TrackerError) -> tuple[Response, int]:
        return jsonify(error=str(error)), 400


def log_state(
    record: Record, job_id: int, job: Job, feature: Feature, verdicts: Verdicts | None = None, unit: str = ""
) -> dict[str, Any]:
    """Return all that the Log page draws of one feature, as plain data; lengths in the job's unit, words in `unit`."""
    state = record.log_state(job_id, feature.name, MOST_ENTRIES)
    return {
        "job": {"id": job_id, "name": job.name, "unit": job.unit, "comma": job.decimal_comma},
        "feature": {
            "name": feature.name,
            "kind": feature.kind,
            "nominal": feature.nominal,
            "lower": feature.lower,
            "upper": feature.upper,
            "aim": feature.aim,
            "master": feature.master,
            "step": step_of(job, feature),
            "positions": list(feature.positions),
            "repeats": feature.repeats or DEFAULT_REPEATS,
            "pieces": feature.pieces,
            "gauge": gauge_of(job, feature),
        },
        "readings": [shown(entry) for entry in reversed(state.entries)],
        "last_id": state.last_id,
        "verdict": [] if verdicts is None else verdicts(job_id, unit),
    }


def step_of(job: Job, feature: Feature) -> float:
    """Return what the gauge of a feature can read, or a plain tenth or micrometre."""
    gauge = job.gauge_of(feature.name)
    if gauge is not None and gauge.resolution is not None:
        return gauge.resolution
    small = MM_PER["tenth"] if job.unit == "in" else MM_PER["um"]
    return float(small / MM_PER[job.unit])


def gauge_of(job: Job, feature: Feature) -> dict[str, Any] | None:
    """Return the gauge's name, its next calibration and whether that is past."""
    if feature.gauge is None:
        return None
    gauge = job.gauges.get(feature.gauge)
    due = None if gauge is None else gauge.due
    return {
        "name": feature.gauge,
        "due": None if due is None else due.isoformat(),
        "overdue": due is not None and due < datetime.date.today(),
    }


def shown(entry: LogEntry) -> dict[str, Any]:
    """Return one reading as the page draws it."""
    struck = None
    if entry.struck:
        struck = {"reason": entry.struck_reason, "by": entry.struck_by or "", "time": clock(entry.struck_at)}
    return {
        "id": entry.id,
        "piece": entry.piece,
        "position": entry.position,
        "repeat": entry.repeat,
        "kind": entry.kind,
        "typed": entry.typed,
        "value": entry.value,
        "low": entry.low,
        "high": entry.high,
        "question": entry.question if entry.waiting else "",
        "suggestion": entry.suggestion if entry.waiting else "",
        "mark": "" if entry.waiting else entry.suspect.replace("_", " "),
        "struck": struck,
    }


def shown_kept(kept: Kept) -> dict[str, Any]:
    """Return a reading just kept in the same form."""
    return {
        "id": kept.id,
        "piece": kept.piece,
        "position": kept.position,
        "repeat": kept.repeat,
        "kind": kept.kind,
        "typed": kept.typed,
        "value": kept.value,
        "low": kept.low,
        "high": kept.high,
        "question": kept.question if kept.held else "",
        "suggestion": kept.suggestion if kept.held else "",
        "mark": "" if kept.held else kept.suspect.replace("_", " "),
        "struck": None,
    }


def clock(moment: str | None) -> str:
    """Return hours and minutes of a moment of the record (UTC), as the bench's clock shows them."""
    if not moment:
        return ""
    return datetime.datetime.fromisoformat(moment).astimezone().strftime("%H:%M")


def known_job(record: Record, job_id: int) -> Job:
    """Return the job, or refuse with 404."""
    try:
        return record.job(job_id)
    except RecordError as error:
        if job_id in {info.id for info in record.jobs()}:
            raise
        raise Refused(404, f"there is no job {job_id} in this record") from error


def known_feature(job: Job, name: str) -> Feature:
    """Return the feature, or refuse with 404."""
    feature = job.features.get(name)
    if feature is None:
        raise Refused(404, f"there is no feature {name!r} in {job.name}; there are: {', '.join(job.features)}")
    return feature


def own_page() -> None:
    """Refuse a request that a page of another site makes."""
    origin = request.headers.get("Origin")
    if origin is not None and origin.partition("://")[2] != request.host:
        raise Refused(403, "this request comes from another site; accepted are requests of this server's own pages")


def json_body() -> dict[str, Any]:
    """Return the body of a request made by a page of this very server; refuse every other."""
    own_page()
    if not request.is_json:
        raise Refused(415, "accepted is a JSON object with the header Content-Type: application/json")
    body = request.get_json(silent=True)
    if not isinstance(body, dict):
        raise Refused(400, "the body is not a JSON object")
    return body


def text_of(body: dict[str, Any], name: str, *, needed: bool = False) -> str:
    """Return a text of the body, "" where there is none; refuse what is no text, too long or missing."""
    value = body.get(name)
    if value is None:
        value = ""
    if not isinstance(value, str) or len(value) > LONGEST or not is_plain(value):
        raise Refused(400, f"{name} is not a text of at most {LONGEST} characters without control characters")
    if needed and not value.strip():
        raise Refused(400, f"{name} is missing; it must be a text")
    return value


def by_of(body: dict[str, Any]) -> str:
    """Return who does it: the name of who is signed in, else what the page says."""
    return signed(text_of(body, "by"))


def operator_of(body: dict[str, Any]) -> dict[str, str]:
    """Return who measured, where someone is signed in: nobody else; refuse what another one typed.

    What one person typed may wait in the browser while another signs in.
    """
    typed, name = text_of(body, "operator"), signed("")
    if name and typed and typed != name:
        raise Refused(409, f"this was typed by {typed}, and {name} is signed in; {typed} must sign in to keep it")
    return {"operator": name} if name else {}


def is_plain(text: str) -> bool:
    """Return whether a text holds no control character and no half of a character, which the record does not take."""
    return not any(unicodedata.category(letter) in ("Cc", "Cs") for letter in text)


def count_of(body: dict[str, Any], name: str) -> int | None:
    """Return a whole number from 1, or None where there is none."""
    value = body.get(name)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 100_000:
        raise Refused(400, f"{name} is {value!r}; accepted is a whole number from 1")
    return value


def time_of(body: dict[str, Any]) -> datetime.datetime | None:
    """Return when the reading was taken, by the page's clock."""
    text = text_of(body, "time")
    if not text:
        return None
    try:
        found = datetime.datetime.fromisoformat(text)
    except ValueError as error:
        raise Refused(400, f"time is {text!r}; accepted is a moment such as 2026-09-07T14:06:00Z") from error
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise Refused(400, f"time is {text!r}; accepted are moments from {FIRST_YEAR} to {LAST_YEAR}")
    return found
