"""The HTTP interface behind Jobs: a job made or changed, files brought in and kept, readings taken out.

Nothing is kept before it was shown: a form or a text is checked as often as wished, files are read in a folder of their
own, and only a second request keeps them. A request that the user must mend gets 400 with a sentence for each fault.
"""

from __future__ import annotations

import importlib.util
import re
import tempfile
import tomllib
from pathlib import Path
from typing import Any

from flask import Blueprint, Response, jsonify, request, send_file
from werkzeug.exceptions import RequestEntityTooLarge

from dashboard.entry_routes import Refused, answer_faults, by_of, count_of, json_body, known_job, own_page, text_of
from dashboard.figures.numbers import typeset
from dashboard.parts.brought import Brought, Waiting
from dashboard.parts.job_faults import fault_at, form_faults, joint_faults, not_in_form, place_of, placed_faults
from dashboard.parts.job_fields import FIELDS, LISTS, LONGEST, MOST_ROWS, blank_form, blank_row, materials, specs
from dashboard.parts.job_tables import data_of, form_of
from dashboard.parts.job_text import job_data, toml_text
from dashboard.parts.job_words import job_words
from dashboard.people.door import allowed
from dashboard.people.rights import NEW_JOB
from tracker.errors import TrackerError
from tracker.job import Job, parse_job
from tracker.record import Record

LONGEST_TEXT = 200_000
LARGEST_UPLOAD = 20_000_000
MOST_SHOWN = 50
EXPORTS = {"csv": "CSV", "xlsx": "XLSX", "json": "JSON", "parquet": "Parquet"}
OWN_HEADER = "X-Own-Page"


def export_kinds() -> dict[str, str]:
    """Return the forms that readings can be taken out in here: ending -> word."""
    with_parquet = importlib.util.find_spec("pyarrow") is not None
    return {ending: word for ending, word in EXPORTS.items() if ending != "parquet" or with_parquet}


def job_routes(record: Record) -> Blueprint:
    """Return the routes of the Jobs page and of its forms."""
    routes = Blueprint("jobs", __name__)
    waiting = Waiting()

    answer_faults(routes)

    @routes.errorhandler(RequestEntityTooLarge)
    def too_large(_: RequestEntityTooLarge) -> tuple[Response, int]:
        most = f"{LARGEST_UPLOAD // 1_000_000} MB"
        words = f"this is more than can be brought in here; accepted are {most} in all: use tenthwise log FOLDER"
        return jsonify(error=words), 413

    @routes.get("/api/job-form")
    def blank() -> Response:
        return jsonify(
            fields=specs(),
            materials=materials(),
            form=blank_form(),
            blank=_blank_rows(),
            text="",
            revision=0,
            latest=0,
            beyond=[],
        )

    @routes.post("/api/job-form")
    def of_text() -> Response:
        text = long_text(json_body(), "text")
        data = tables_of(text)
        return jsonify(form=form_of(data), beyond=not_in_form(data, text))

    @routes.get("/api/jobs/<int:job_id>/form")
    def filled(job_id: int) -> Response:
        latest = known_job(record, job_id)
        newest = latest_revision(record, job_id)
        number = revision_asked(newest)
        job = latest if number == newest else record.job(job_id, number)
        data = job_data(job.text)
        return jsonify(
            fields=specs(),
            materials=materials(),
            form=form_of(data),
            blank=_blank_rows(),
            text=job.text,
            revision=number,
            latest=newest,
            beyond=not_in_form(data, job.text),
        )

    @routes.post("/api/job-check")
    def look() -> Response:
        body = json_body()
        text, job, faults = understood(body)
        number = count_of(body, "job")
        if number is not None:
            known_job(record, number)
        return jsonify(
            text=text,
            faults=faults,
            said=[] if job is None else [typeset(words) for words in job_words(job)],
            remarks=[] if job is None else list(job.remarks),
            latest=0 if number is None else latest_revision(record, number),
        )

    @routes.post("/api/jobs")
    def begin() -> tuple[Response, int]:
        body = json_body()
        text, job, faults = understood(body)
        if job is None:
            return jsonify(error=_how_many(faults), faults=faults, text=text), 400
        info = record.add_job(text, by_of(body), client_id=text_of(body, "client_id", needed=True))
        return jsonify(job=info.id, name=info.name, revision=info.revision, made=info.made), 200

    @routes.post("/api/jobs/<int:job_id>/revisions")
    def revise(job_id: int) -> tuple[Response, int]:
        body = json_body()
        known_job(record, job_id)
        begun, newest = count_of(body, "revision"), latest_revision(record, job_id)
        if begun != newest:
            raise Refused(
                409, f"revision {newest} of this job was kept meanwhile; look at it, then make your change to that one"
            )
        text, job, faults = understood(body)
        if job is None:
            return jsonify(error=_how_many(faults), faults=faults, text=text), 400
        info = record.revise_job(job_id, text, by_of(body))
        return jsonify(job=info.id, name=info.name, revision=info.revision, made=info.made), 200

    @routes.post("/api/brought")
    def bring() -> Response:
        own_page()
        if request.headers.get(OWN_HEADER) != "1":
            raise Refused(403, f"accepted are files that a page of this server sends, with the header {OWN_HEADER}: 1")
        request.max_content_length = LARGEST_UPLOAD
        if request.mimetype != "multipart/form-data":
            raise Refused(415, "accepted are files, sent as multipart/form-data in the field named files")
        files = request.files.getlist("files")
        number = request.form.get("job", "")
        if number and not (number.isascii() and number.isdecimal() and len(number) < 12):
            raise Refused(400, "job is not the number of a job in this record")
        known = known_job(record, int(number)) if number else None
        held = waiting.take(files, known, int(number) if number else None)
        return jsonify(seen(held, record))

    @routes.post("/api/brought/<token>/keep")
    def keep(token: str) -> Response:
        body = json_body()
        held = waiting.of(token)
        if held is None:
            raise Refused(404, "these files are no longer here: they wait for an hour; bring them in again")
        if held.number is None and not allowed(NEW_JOB):
            raise Refused(403, f"a new job is made by who {NEW_JOB}; choose a job that is there, or ask one of them")
        with held.turn:
            if held.kept is None:
                held.kept = keep_brought(record, held, by_of(body))
        return jsonify(job=held.kept)

    @routes.post("/api/brought/<token>/drop")
    def drop(token: str) -> Response:
        json_body()
        waiting.drop(token)
        return jsonify(dropped=True)

    @routes.get("/brought/<token>/refused-<int:number>.csv")
    def refused_rows(token: str, number: int) -> Response:
        held = waiting.of(token)
        if held is None or not 1 <= number <= len(held.refused):
            raise Refused(404, "these refused rows are no longer here; bring the files in again")
        path = held.refused[number - 1]
        return _file(path.read_bytes(), path.name.removeprefix("_"), "text/csv; charset=utf-8")

    @routes.get("/exports/<int:job_id>.<ending>")
    def export(job_id: int, ending: str) -> Response:
        job = known_job(record, job_id)
        name = file_words(job.name)
        if ending == "toml":
            number = revision_asked(latest_revision(record, job_id))
            return _file(record.job(job_id, number).text.encode(), "job.toml", "application/toml; charset=utf-8")
        if ending not in export_kinds():
            raise Refused(404, f"readings are not written as .{ending[:20]}; accepted are {', '.join(export_kinds())}")
        folder = tempfile.mkdtemp(prefix="tenthwise-")
        path = Path(folder) / f"readings.{ending}"
        try:
            record.export(job_id, path, struck=request.args.get("struck") == "1")
            found = _file(path.read_bytes(), f"{name} readings.{ending}", None)
        finally:
            path.unlink(missing_ok=True)
            Path(folder).rmdir()
        return found

    return routes


def _blank_rows() -> dict[str, dict[str, str]]:
    return {section: blank_row(section) for section in LISTS}


def _file(content: bytes, name: str, kind: str | None) -> Response:
    import io

    found = send_file(io.BytesIO(content), mimetype=kind, as_attachment=True, download_name=name)
    found.headers["Cache-Control"] = "no-store"
    return found


def file_words(name: str) -> str:
    """Return the name of a job as part of a file's name."""
    return re.sub(r"[^\w \-]+", "", name).strip()[:60] or "job"


def _how_many(faults: list[dict[str, Any]]) -> str:
    return (
        "nothing was kept: one thing is to be mended"
        if len(faults) == 1
        else (f"nothing was kept: {len(faults)} things are to be mended")
    )


def latest_revision(record: Record, job_id: int) -> int:
    """Return the number of the latest revision of a job that is there."""
    return next(info.revision for info in record.jobs() if info.id == job_id)


def revision_asked(newest: int) -> int:
    """Return the revision that the request names, or the newest."""
    asked = request.args.get("revision", "")
    if not asked:
        return newest
    if not (asked.isascii() and asked.isdecimal() and len(asked) < 8 and 1 <= int(asked) <= newest):
        raise Refused(404, f"there is no revision {asked[:20]} of this job; there are 1 to {newest}")
    return int(asked)


def long_text(body: dict[str, Any], name: str) -> str:
    """Return the text of a whole job in a request; refuse what is none."""
    text = body.get(name)
    if not isinstance(text, str) or len(text) > LONGEST_TEXT or "\x00" in text:
        raise Refused(400, f"{name} is missing, or is no text of at most {LONGEST_TEXT:,} characters")
    return text


def tables_of(text: str) -> dict[str, Any]:
    """Return the tables of the text of a job; refuse what is not TOML."""
    try:
        return job_data(text)
    except tomllib.TOMLDecodeError as error:
        raise Refused(400, f"the text is not TOML: {error}; mend it here, then the form can show it") from error


def understood(body: dict[str, Any]) -> tuple[str, Job | None, list[dict[str, Any]]]:
    """Return the text of the job in a request, the job where it makes sense, and its faults, each with its place."""
    form = body.get("form")
    if form is None:
        text = long_text(body, "text")
        try:
            return text, parse_job(text), []
        except TrackerError as error:
            lines = [line for line in str(error).splitlines() if line.startswith("  - ")] or [str(error)]
            return text, None, [fault_at("", None, "", line.removeprefix("  - ")) for line in lines]
    checked = checked_form(form)
    base = tables_of(long_text(body, "base")) if body.get("base") else None
    faults = form_faults(checked)
    text = toml_text(data_of(checked, base))
    try:
        job = parse_job(text)
    except TrackerError as error:
        told = {place_of(fault) for fault in faults}
        return (
            text,
            None,
            [*faults, *(item for item in placed_faults(str(error), checked) if place_of(item) not in told)],
        )
    faults += joint_faults(job, checked)
    return text, (None if faults else job), faults


def checked_form(form: Any) -> dict[str, Any]:
    """Return a form in which everything is a text in its place; refuse what is not.

    Raises
    ------
    Refused
        With 400, naming what it is.
    """
    if not isinstance(form, dict):
        raise Refused(400, "form is not an object")
    checked: dict[str, Any] = {section: _texts(form.get(section, {}), section) for section in ("job", "costs")}
    for section in LISTS:
        rows = form.get(section, [])
        if not isinstance(rows, list) or len(rows) > MOST_ROWS:
            raise Refused(400, f"{section} is not a list of at most {MOST_ROWS}")
        checked[section] = [_texts(row, section) for row in rows]
    return checked


def _texts(row: Any, section: str) -> dict[str, str]:
    if not isinstance(row, dict):
        raise Refused(400, f"{section} is not an object of texts")
    keys = [field.key for field in FIELDS[section]] + (["was"] if section in LISTS else [])
    found = {}
    for key in keys:
        value = row.get(key, "")
        if not isinstance(value, str) or len(value) > LONGEST or not value.isprintable():
            raise Refused(400, f"{section} {key} is not a text of at most {LONGEST} characters on one line")
        found[key] = value.strip()
    return found


def seen(held: Brought, record: Record) -> dict[str, Any]:
    """Return what is shown of files before anything is kept."""
    found, job = held.found, held.job
    counts = found.to_dict() if found is not None else {"good": 0, "suspect": 0, "refused": 0, "understood": []}
    twin = next((info for info in record.jobs() if info.name == job.name), None) if held.number is None else None
    from tracker.readings import refusal_words

    rows = [] if found is None else found.refused.head(MOST_SHOWN).to_dict("records")
    return {
        "token": held.token,
        "job": {
            "number": held.number,
            "name": job.name,
            "unit": job.unit,
            "said": [typeset(w) for w in job_words(job)],
        },
        "good": counts["good"],
        "suspect": counts["suspect"],
        "refused": counts["refused"],
        "duplicates": counts.get("duplicates", 0),
        "events": [str(event) for event in held.events[:MOST_SHOWN]],
        "event_count": len(held.events),
        "files": [] if found is None else list(found.files),
        "understood": [typeset(words) for words in counts["understood"]],
        "suspects": [
            f"{row['file']}, row {row['row']}: {row['question']}" for row in counts.get("suspects", [])[:MOST_SHOWN]
        ],
        "refusals": [refusal_words({str(key): value for key, value in row.items()}) for row in rows],
        "refused_files": [
            {"name": path.name.removeprefix("_"), "href": f"/brought/{held.token}/refused-{number}.csv"}
            for number, path in enumerate(held.refused, start=1)
        ],
        "remarks": [*held.remarks, *held.passed_over, *(job.remarks if held.number is None else ())],
        "twin": None if twin is None else {"number": twin.id, "name": twin.name},
    }


def keep_brought(record: Record, held: Brought, by: str) -> int:
    """Keep what was brought in and shown; return the number of its job."""
    number = held.number
    if number is None:
        number = record.add_job(held.job.text, by, client_id=f"brought {held.token}").id
    if held.found is not None:
        record.add_readings(number, held.found, by)
    there = {(event.feature, event.after_piece, event.event, event.batch) for event in record.events(number)}
    for index, event in enumerate(held.events):
        if (event.feature, event.after_piece, event.event, event.batch) not in there:
            record.add_event(
                number,
                event.feature,
                event.after_piece,
                event.event,
                event.amount,
                batch=event.batch,
                by=by,
                client_id=f"brought {held.token} event {index}",
            )
    return number
