"""The routes of the interface for programs; who may use which stands in `dashboard.people.rights`."""

from __future__ import annotations

import logging
import tempfile
from pathlib import Path
from typing import Any

import flask
from flask import Blueprint, Response, jsonify, request
from werkzeug.exceptions import HTTPException

from dashboard.entry_routes import Refused, answer_faults, is_plain, known_job
from dashboard.interface.document import (
    LARGEST_CSV,
    LARGEST_ID,
    LARGEST_JSON,
    MOST_ENTRIES,
    MOST_REFUSALS,
    openapi_document,
)
from dashboard.interface.sent import Sent, read_json
from dashboard.parts.answers import Answers
from dashboard.parts.brought import safe_name
from dashboard.people.door import signed
from tracker.errors import RecordError, TrackerError
from tracker.job import Feature
from tracker.record import JobInfo, LogEntry, Record

log = logging.getLogger(__name__)

PREFIX = "/api/v1"
QUERIES = {"readings": ("after", "most"), "add_readings": ("job", "file")}
"""What may stand behind the question mark; anything else is a slip of the pen, and is said."""


def interface_routes(record: Record, answers: Answers) -> Blueprint:
    """Return the routes under ``/api/v1``."""
    routes = Blueprint("v1", __name__, url_prefix=PREFIX)

    answer_faults(routes)

    @routes.before_request
    def only_known() -> None:
        known = QUERIES.get((request.endpoint or "").removeprefix("v1."), ())
        unknown = [name for name in request.args if name not in known]
        if unknown:
            accepted = ", ".join(known) or "none"
            raise Refused(400, f"the query has {unknown[0][:40]!r}, which is not known here; accepted: {accepted}")

    @routes.get("/openapi.json")
    def document() -> Response:
        return jsonify(openapi_document())

    @routes.get("/jobs")
    def jobs() -> Response:
        return jsonify(jobs=[_job(info) for info in record.jobs()])

    @routes.get("/jobs/<job>")
    def job(job: str) -> Response:
        number = _number(job)
        found = known_job(record, number)
        info = next(info for info in record.jobs() if info.id == number)
        features = [_feature(feature) for feature in found.features.values()]
        return jsonify(job=_job(info), features=features, fits=list(found.fits))

    @routes.get("/jobs/<job>/batches")
    def batches(job: str) -> Response:
        number = _number(job)
        known_job(record, number)
        names = ("feature", "batch", "revision", "readings", "begun")
        found = [{name: getattr(item, name) for name in names} for item in record.batches(number)]
        return jsonify(job=number, batches=found)

    @routes.get("/jobs/<job>/verdicts")
    def verdicts(job: str) -> Response:
        number = _number(job)
        known_job(record, number)
        judged = answers.of(number).check
        found = [
            {"fit": fit.name, "word": fit.verdict.word, "reason": fit.verdict.reason, "action": fit.verdict.action}
            for fit in judged.fits
        ]
        return jsonify(job=number, fingerprint=judged.readings.fingerprint, verdicts=found)

    @routes.get("/jobs/<job>/readings")
    def readings(job: str) -> Response:
        number = _number(job)
        known_job(record, number)
        after, most = _asked("after", 0, 0, LARGEST_ID), _asked("most", MOST_ENTRIES, 1, MOST_ENTRIES)
        found = record.since(number, after, most=most)
        return jsonify(job=number, last=found[-1].id if found else after, readings=[_entry(entry) for entry in found])

    @routes.post("/readings")
    def add_readings() -> tuple[Response, int]:
        if request.mimetype == "application/json":
            request.max_content_length = LARGEST_JSON
            number, sent = read_json(request.get_data())
            known_job(record, number)
            answer = keep_sent(record, number, sent, signed(""))
        elif request.mimetype == "text/csv":
            request.max_content_length = LARGEST_CSV
            number = _asked("job", None, 1, LARGEST_ID)
            name = request.args.get("file", "")
            if not 1 <= len(name) <= 80 or not is_plain(name):
                raise Refused(
                    400, "file is missing: the name of the CSV file, such as 0412.csv, of at most 80 characters"
                )
            known_job(record, number)
            answer = keep_file(record, number, request.get_data(), name, signed(""))
        else:
            raise Refused(415, "accepted are application/json and text/csv")
        return jsonify(answer), 422 if answer["refused"] else 200

    @routes.get("/<path:rest>")
    def nowhere(rest: str) -> Response:
        raise Refused(404, f"there is no {PREFIX}/{rest[:80]}; {PREFIX}/openapi.json says what there is")

    return routes


def answer_in_json(server: flask.Flask) -> None:
    """Answer what goes wrong before a route is found (a wrong method, too large a body) in the interface's own form."""

    @server.errorhandler(HTTPException)
    def said(error: HTTPException) -> Any:
        if not request.path.startswith(f"{PREFIX}/") or error.code is None:
            return error
        answer = jsonify(error=error.description or error.name)
        answer.status_code = error.code
        for name, value in error.get_headers(request.environ):
            if name == "Allow":
                answer.headers[name] = value
        return answer


def keep_sent(record: Record, job: int, sent: list[Sent], by: str) -> dict[str, Any]:
    """Keep readings one by one; what is refused is said, and takes no other down.

    Raises
    ------
    RecordError
        If the record cannot be written. What was kept before stays, and is known when it is sent again.
    """
    kept: list[dict[str, Any]] = []
    refusals = []
    for item in sent:
        try:
            found = record.add_reading(
                job, item.feature, item.piece, item.text, client_id=item.client_id, by=by, **item.more
            )
        except RecordError:
            raise
        except TrackerError as error:
            refusals.append({"where": f"client_id {item.client_id}", "error": str(error)})
            continue
        state = "kept before" if found.duplicate else "held" if found.held else "kept"
        question = found.question if found.held else ""
        kept.append({"client_id": item.client_id, "number": found.id, "state": state, "question": question})
    return _answer(job, kept, refusals)


def _answer(job: int, kept: list[dict[str, Any]], refusals: list[dict[str, str]]) -> dict[str, Any]:
    states = [item["state"] for item in kept]
    return {
        "job": job,
        "kept": states.count("kept"),
        "kept_before": states.count("kept before"),
        "held": states.count("held"),
        "refused": len(refusals),
        "readings": kept,
        "refusals": refusals,
    }


def keep_file(record: Record, job: int, data: bytes, name: str, by: str) -> dict[str, Any]:
    """Keep the rows of a CSV file; the same row of a file of the same name is kept once.

    Raises
    ------
    ReadingsError
        If the file cannot be read at all.
    RecordError
        If the record cannot be written; nothing of the file is kept.
    """
    from tracker.readings import read_readings, refusal_words

    with tempfile.TemporaryDirectory(prefix="tenthwise-") as folder:
        path = Path(folder) / safe_name(name if name.casefold().endswith(".csv") else f"{name}.csv")
        path.write_bytes(data)
        found = read_readings(path, record.job(job))
    bulk = record.add_readings(job, found, by)
    rows = found.refused.head(MOST_REFUSALS).to_dict("records")
    refusals = [
        {"where": f"row {row['row']}", "error": refusal_words({str(key): value for key, value in row.items()})}
        for row in rows
    ]
    return {
        "job": job,
        "kept": bulk.kept - bulk.waiting,
        "kept_before": bulk.there_already,
        "held": bulk.waiting,
        "refused": len(found.refused),
        "readings": [],
        "refusals": refusals,
    }


def _number(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 12 and 1 <= int(text) <= LARGEST_ID):
        raise Refused(404, f"there is no job {text[:40]!r} in this record; a job is named by its number")
    return int(text)


def _asked(name: str, usual: int | None, least: int, most: int) -> int:
    """Return a whole number of the query; refuse what is none."""
    text = request.args.get(name)
    if text is None and usual is not None:
        return usual
    if text is None or not (text.isascii() and text.isdecimal() and len(text) < 12 and least <= int(text) <= most):
        raise Refused(400, f"{name} is {(text or 'missing')[:40]!r}; accepted is a whole number from {least} to {most}")
    return int(text)


def _job(info: JobInfo) -> dict[str, Any]:
    names = ("name", "unit", "revision", "readings", "waiting", "struck", "pieces", "last_reading")
    return {"number": info.id, **{name: getattr(info, name) for name in names}}


def _feature(feature: Feature) -> dict[str, Any]:
    names = ("name", "kind", "nominal", "lower", "upper", "gauge", "repeats", "pieces")
    found = {name: getattr(feature, name) for name in names}
    return found | {"target": feature.aim, "positions": list(feature.positions)}


def _entry(entry: LogEntry) -> dict[str, Any]:
    names = ("feature", "batch", "piece", "position", "repeat", "kind", "typed", "value", "low", "high", "gauge")
    found = {name: getattr(entry, name) for name in (*names, "operator", "time", "kept_by")}
    state = "struck out" if entry.struck else "held" if entry.waiting else "counts"
    return {"number": entry.id, "state": state, **found}
