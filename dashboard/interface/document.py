"""What the interface says about itself: an OpenAPI 3.1 document, made here and served by every server itself.

References
----------
OpenAPI Specification 3.1.0; JSON Schema draft 2020-12; RFC 6750 (bearer tokens). A test puts requests that are made
from this document to a running app and holds every answer against it (tests/dashboard/interface/test_fuzzed.py).
"""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from typing import Any

MOST_READINGS = 1000
MOST_ENTRIES = 1000
LONGEST = 200
LONGEST_VALUE = 64
LARGEST_JSON = 2_000_000
LARGEST_CSV = 20_000_000
MOST_REFUSALS = 1000
"""Refusals that are told one by one; how many there are in all is always said."""

LARGEST_ID = 2_147_483_647
KINDS = ("absolute", "comparator", "go_no_go")
UNITS = ("in", "mm", "um", "thou", "tenth")
PLAIN_TEXT = r"^[^\u0000-\u001f\u007f-\u009f]*$"

Schema = dict[str, Any]


def program_version() -> str:
    """Return the version of this program."""
    try:
        return version("tenthwise")
    except PackageNotFoundError:
        return "unknown"


def _object(needed: str, **properties: Schema) -> Schema:
    """Return an object with these properties and no other; the named ones must be there, all for ``*``."""
    names = list(properties) if needed == "*" else needed.split()
    return {"type": "object", "additionalProperties": False, "required": names, "properties": properties}


def _text(words: str = "", least: int = 0, most: int = LONGEST) -> Schema:
    said = {"description": words} if words else {}
    return {"type": "string", "minLength": least, "maxLength": most, "pattern": PLAIN_TEXT} | said


def _many(item: Schema, most: int | None = None, least: int = 0) -> Schema:
    return {"type": "array", "items": item, "minItems": least} | ({} if most is None else {"maxItems": most})


def _or_null(kind: str) -> Schema:
    return {"type": [kind, "null"]}


def _at(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


NUMBER = {"type": "integer", "minimum": 1}
COUNT = {"type": "integer", "minimum": 0}
TEXT = {"type": "string"}

READING_IN = _object(
    "feature piece value client_id",
    feature=_text("A feature of the job.", 1),
    piece=_text("The piece, as it is marked.", 1),
    value={
        "description": "As the gauge shows it: a text such as .6252, 15.880 mm, +3 tenths, goes .6250 / not .6252; or a"
        " number in the unit below. A number is kept with the digits that were sent.",
        "oneOf": [{"type": "string", "minLength": 1, "maxLength": LONGEST_VALUE}, {"type": "number"}],
    },
    client_id=_text("Made by the sender, one for each reading: sent twice, it is kept once.", 1),
    position=_text("Where on the piece, such as top or 90°."),
    repeat={"type": "integer", "minimum": 1, "maximum": 100_000, "description": "The next one when not given."},
    kind={"type": "string", "enum": list(KINDS), "description": "As the value reads, when not given."},
    unit={
        "type": "string",
        "enum": list(UNITS),
        "description": "Of a value that names none; the job's own if not given.",
    },
    batch=_text("The batch; the unnamed one when not given."),
    gauge=_text("The gauge; that of the feature when not given.", 1),
    operator=_text("Who measured."),
    note=_text(),
    time={
        "type": "string",
        "format": "date-time",
        "maxLength": 40,
        "description": "When it was measured (RFC 3339), from 1970 to 2199; this moment when not given.",
    },
    temperature={"type": "number", "minimum": -100, "maximum": 500, "description": "Of the piece, in degrees Celsius."},
)

SCHEMAS: dict[str, Schema] = {
    "Fault": _object(
        "error", error={"type": "string", "minLength": 1, "description": "What was found, and what is accepted."}
    ),
    "Job": _object(
        "*",
        number=NUMBER,
        name=TEXT,
        unit={"type": "string", "enum": ["in", "mm"]},
        revision=NUMBER,
        readings=COUNT,
        waiting=COUNT | {"description": "Suspects that are held back until someone confirms them."},
        struck=COUNT,
        pieces=COUNT,
        last_reading=_or_null("string"),
    ),
    "Feature": _object(
        "*",
        name=TEXT,
        kind={"type": "string", "enum": ["internal", "external", "length"]},
        nominal=_or_null("number"),
        lower=_or_null("number"),
        upper=_or_null("number"),
        target=_or_null("number"),
        gauge=_or_null("string"),
        positions=_many(TEXT),
        repeats=_or_null("integer"),
        pieces=_or_null("integer"),
    ),
    "Jobs": _object("*", jobs=_many(_at("Job"))),
    "JobInFull": _object("*", job=_at("Job"), features=_many(_at("Feature")), fits=_many(TEXT)),
    "Batches": _object(
        "*",
        job=NUMBER,
        batches=_many(_object("*", feature=TEXT, batch=TEXT, revision=NUMBER, readings=COUNT, begun=TEXT)),
    ),
    "Verdicts": _object(
        "*",
        job=NUMBER,
        fingerprint=TEXT | {"description": "Of the readings that were judged."},
        verdicts=_many(_object("*", fit=TEXT, word=TEXT, reason=TEXT, action=TEXT)),
    ),
    "Readings": _object(
        "*",
        job=NUMBER,
        last=COUNT | {"description": "Go on after this number."},
        readings=_many(
            _object(
                "*",
                number=NUMBER,
                feature=TEXT,
                batch=TEXT,
                piece=TEXT,
                position=TEXT,
                repeat=NUMBER,
                kind={"type": "string", "enum": list(KINDS)},
                typed=TEXT,
                value=_or_null("number")
                | {"description": "In the job's unit, corrected; null for goes / does not go."},
                low=_or_null("number"),
                high=_or_null("number"),
                gauge=TEXT,
                operator=TEXT,
                time=TEXT,
                state={"type": "string", "enum": ["counts", "held", "struck out"]},
                kept_by=TEXT,
            )
        ),
    ),
    "ReadingIn": READING_IN,
    "ReadingsIn": _object(
        "*", job=NUMBER | {"maximum": LARGEST_ID}, readings=_many(_at("ReadingIn"), MOST_READINGS, 1)
    ),
    "Kept": _object(
        "*",
        job=NUMBER,
        kept=COUNT,
        kept_before=COUNT | {"description": "Sent before; there once."},
        held=COUNT | {"description": "Kept, and held back until someone confirms them."},
        refused=COUNT,
        readings=_many(
            _object(
                "*",
                client_id=TEXT,
                number=NUMBER,
                state={"type": "string", "enum": ["kept", "kept before", "held"]},
                question=TEXT,
            )
        )
        | {"description": "One for each reading kept; empty for a file."},
        refusals=_many(_object("*", where=TEXT, error=TEXT))
        | {"description": f"Of a file the first {MOST_REFUSALS}; refused says how many there are."},
    ),
}

FAULTS = {
    400: "The request is not as this document says.",
    401: "There is no token, or it is not valid.",
    403: "The token may only read.",
    404: "There is no such job.",
    413: "More was sent than is taken at once.",
    415: "It is of a kind that is not read here.",
    421: "The server was asked for by a name that is not its own.",
    503: "The record cannot be read or written; nothing of this request is lost if it is sent again.",
}
ALWAYS = (400, 401, 403, 421, 503)


def _answers(name: str, words: str, *faults: int) -> Schema:
    found: Schema = {"200": {"description": words, "content": {"application/json": {"schema": _at(name)}}}}
    for status in sorted({*ALWAYS, *faults}):
        fault: Schema = {"description": FAULTS[status], "content": {"application/json": {"schema": _at("Fault")}}}
        if status == 401:
            fault["headers"] = {"WWW-Authenticate": {"required": True, "schema": {"type": "string"}}}
        found[str(status)] = fault
    return found


def _in_query(name: str, schema: Schema, words: str, *, needed: bool = False) -> Schema:
    return {"name": name, "in": "query", "required": needed, "schema": schema, "description": words}


IN_PATH = {
    "name": "job",
    "in": "path",
    "required": True,
    "schema": {"type": "integer", "minimum": 1, "maximum": LARGEST_ID},
    "description": "The number of a job.",
}


def _get(operation: str, words: str, name: str, *, of_job: bool = True, query: tuple[Schema, ...] = ()) -> Schema:
    found: Schema = {
        "operationId": operation,
        "summary": words,
        "responses": _answers(name, words, *((404,) if of_job else ())),
    }
    parameters = [*([IN_PATH] if of_job else []), *query]
    return {"get": found | ({"parameters": parameters} if parameters else {})}


def _add_readings() -> Schema:
    words = "What was kept, kept before, held back."
    answers = _answers("Kept", words, 404, 413, 415)
    answers["422"] = {
        "description": "One or more readings were refused, each with what is wrong; all the others are kept.",
        "content": {"application/json": {"schema": _at("Kept")}},
    }
    return {
        "operationId": "addReadings",
        "summary": "Log readings, as JSON or as the text of a CSV file",
        "description": "JSON names the job in the body. A CSV file is sent as it is, with the job and its own name in"
        " the query: the same row of a file of the same name is kept once. A bad reading never takes the good ones"
        " down; a suspect one is kept and held back until someone confirms it.",
        "parameters": [
            _in_query("job", IN_PATH["schema"], "For a CSV file: the number of the job."),
            _in_query(
                "file", _text("", 1, 80), "For a CSV file: its name, which must be the same when it is sent again."
            ),
        ],
        "requestBody": {
            "required": True,
            "content": {
                "application/json": {"schema": _at("ReadingsIn")},
                "text/csv": {"schema": {"type": "string"}},
            },
        },
        "responses": answers,
    }


def openapi_document() -> Schema:
    """Return the document."""
    after = _in_query("after", COUNT | {"maximum": LARGEST_ID}, "Only readings kept after this number.")
    most = _in_query("most", NUMBER | {"maximum": MOST_ENTRIES}, f"At most this many; {MOST_ENTRIES} when not given.")
    paths = {
        "/jobs": _get("listJobs", "The jobs, newest first", "Jobs", of_job=False),
        "/jobs/{job}": _get("showJob", "One job with its features and fits", "JobInFull"),
        "/jobs/{job}/batches": _get("listBatches", "The batches of a job", "Batches"),
        "/jobs/{job}/verdicts": _get("showVerdicts", "The verdict of each fit of a job", "Verdicts"),
        "/jobs/{job}/readings": _get("listReadings", "The readings of a job in order", "Readings", query=(after, most)),
        "/readings": {"post": _add_readings()},
    }
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "tenthwise: readings in, verdicts out",
            "version": program_version(),
            "summary": "For gauges with a program behind them, and for measuring machines.",
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/api/v1"}],
        "security": [{"token": []}],
        "paths": paths,
        "components": {
            "securitySchemes": {
                "token": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "Made on the page of people, or by: tenthwise users token NAME.",
                }
            },
            "schemas": SCHEMAS,
        },
    }
