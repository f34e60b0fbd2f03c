"""The HTTP interface behind the form that enters a gauge, or a new calibration of one, into the register."""

from __future__ import annotations

import datetime
from typing import Any

from flask import Blueprint, Response, jsonify

from dashboard.entry_routes import Refused, answer_faults, by_of, json_body, text_of
from dashboard.parts.address import UNITS
from tracker.errors import TrackerError
from tracker.record import Record
from tracker.units import read_length

LENGTHS = ("resolution", "calibration", "correction")
DATES = ("calibrated", "due")


def gauge_routes(record: Record) -> Blueprint:
    """Return the route ``POST /api/gauges``; lengths as they are written, dates as 2026-09-30.

    What stands in the register of a gauge goes on for what the form leaves empty.
    """
    routes = Blueprint("gauges", __name__, url_prefix="/api")

    answer_faults(routes)

    @routes.post("/gauges")
    def enter() -> Response:
        body = json_body()
        name, unit = text_of(body, "name", needed=True).strip(), text_of(body, "unit", needed=True)
        if unit not in UNITS:
            raise Refused(400, f"unit is {unit!r}; accepted are {' and '.join(UNITS)}")
        before = next((info for info in record.gauges() if info.name == name), None)
        if before is not None and before.unit != unit:
            raise Refused(400, f"{name} stands in the register in {before.unit}; enter it in that unit")
        given: dict[str, Any] = {key: length_of(body, key, unit) for key in LENGTHS}
        given |= {key: date_of(body, key) for key in DATES}
        given |= {key: text_of(body, key).strip() for key in ("serial", "note")}
        if before is not None:
            kept = {key: getattr(before, key) for key in (*LENGTHS, *DATES, "serial")}
            given = {key: kept.get(key) if value in (None, "") else value for key, value in given.items()}
            given["note"] = given["note"] or ""
        if given["calibrated"] and given["due"] and given["due"] <= given["calibrated"]:
            raise Refused(400, "the next calibration is due before the last one; swap the two dates")
        return jsonify(gauge=record.add_gauge(name, unit=unit, by=by_of(body), **given))

    return routes


def length_of(body: dict[str, Any], key: str, unit: str) -> float | None:
    """Return a length of the form in its unit; None where it was left empty."""
    text = text_of(body, key).strip()
    if not text:
        return None
    try:
        value = read_length(text, unit).to(unit)
    except TrackerError as error:
        raise Refused(400, f"{key}: {error}") from error
    if key != "correction" and value <= 0:
        raise Refused(400, f"{key} is {text}; accepted is a length above zero")
    return value


def date_of(body: dict[str, Any], key: str) -> datetime.date | None:
    """Return a date of the form; None where it was left empty."""
    text = text_of(body, key).strip()
    if not text:
        return None
    try:
        return datetime.date.fromisoformat(text)
    except ValueError as error:
        raise Refused(400, f"{key} is {text!r}; accepted is a date such as 2026-09-30") from error
