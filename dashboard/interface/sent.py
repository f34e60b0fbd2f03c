"""What a program sends, understood strictly: nothing is guessed, and a number keeps the digits it was sent with."""

from __future__ import annotations

import datetime
import json
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from dashboard.entry_routes import FIRST_YEAR, LAST_YEAR, Refused, is_plain
from dashboard.interface.document import (
    KINDS,
    LARGEST_ID,
    LONGEST,
    LONGEST_VALUE,
    MOST_READINGS,
    READING_IN,
    UNITS,
)

TEXTS = ("feature", "piece", "client_id", "position", "batch", "gauge", "operator", "note")
NEEDED = tuple(READING_IN["required"])
KNOWN = frozenset(READING_IN["properties"])
LARGEST_EXPONENT = 20


class Digits(str):
    """A number of JSON, as it was written."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One reading as it was sent: the arguments of `tracker.record.Record.add_reading`."""

    feature: str
    piece: str
    text: str
    client_id: str
    more: dict[str, Any]


def read_json(data: bytes) -> tuple[int, list[Sent]]:
    """Return the number of the job and the readings of a request.

    Raises
    ------
    Refused
        With 400, naming the place and what is accepted there.
    """
    body = _parsed(data)
    if not isinstance(body, dict) or set(body) != {"job", "readings"}:
        raise Refused(400, "the body is not an object with job and readings, and nothing else")
    job = _whole(body["job"], "job", LARGEST_ID)
    rows = body["readings"]
    if not isinstance(rows, list) or not 1 <= len(rows) <= MOST_READINGS:
        raise Refused(400, f"readings is not a list of 1 to {MOST_READINGS}")
    return job, [_reading(row, f"readings[{place}]") for place, row in enumerate(rows)]


def _parsed(data: bytes) -> Any:
    def constant(name: str) -> None:
        raise ValueError(f"{name} is not a number")

    try:
        return json.loads(data, parse_float=Digits, parse_int=Digits, parse_constant=constant)
    except (ValueError, RecursionError) as error:
        raise Refused(400, f"the body is not JSON: {error}") from error


def _reading(row: Any, where: str) -> Sent:
    if not isinstance(row, dict):
        raise Refused(400, f"{where} is not an object")
    missing = [name for name in NEEDED if name not in row]
    unknown = sorted(set(row) - KNOWN)
    if missing or unknown:
        said = f"lacks {', '.join(missing)}" if missing else f"has {unknown[0][:LONGEST]!r}, which is not known"
        raise Refused(400, f"{where} {said}; accepted are {', '.join(READING_IN['properties'])}")
    texts = {name: _plain(row[name], f"{where}.{name}") for name in TEXTS if name in row}
    for name in ("feature", "piece", "client_id", "gauge"):
        if name in texts and not texts[name].strip():
            raise Refused(400, f"{where}.{name} is empty")
    more: dict[str, Any] = {name: texts[name] for name in TEXTS[3:] if name in texts}
    if "repeat" in row:
        more["repeat"] = _whole(row["repeat"], f"{where}.repeat", 100_000)
    for name, words in (("kind", KINDS), ("unit", UNITS)):
        if name in row:
            more[name] = _one_of(row[name], words, f"{where}.{name}")
    if "time" in row:
        more["time"] = moment_of(row["time"], f"{where}.time")
    if "temperature" in row:
        more["temperature"] = _degrees(row["temperature"], f"{where}.temperature")
    return Sent(
        feature=texts["feature"],
        piece=texts["piece"],
        client_id=texts["client_id"],
        text=_value(row["value"], f"{where}.value"),
        more=more,
    )


def _plain(value: Any, where: str) -> str:
    if not isinstance(value, str) or isinstance(value, Digits) or len(value) > LONGEST or not is_plain(value):
        raise Refused(400, f"{where} is not a text of at most {LONGEST} characters without control characters")
    return str(value)


def _value(value: Any, where: str) -> str:
    if isinstance(value, Digits):
        return _digits(value, where)
    if not isinstance(value, str) or not 1 <= len(value) <= LONGEST_VALUE:
        raise Refused(400, f"{where} is neither a number nor a text of 1 to {LONGEST_VALUE} characters")
    return value


def _digits(value: Digits, where: str) -> str:
    """Return a number as it was written, without an exponent."""
    try:
        number = Decimal(value)
    except InvalidOperation as error:
        raise Refused(400, f"{where} is {str(value)[:LONGEST_VALUE]}; no gauge shows that") from error
    if len(value) > LONGEST_VALUE or abs(number.adjusted()) > LARGEST_EXPONENT:
        raise Refused(400, f"{where} is {str(value)[:LONGEST_VALUE]}; no gauge shows that")
    return format(number, "f") if "e" in value.casefold() else str(value)


def _whole(value: Any, where: str, most: int) -> int:
    text = str(value) if isinstance(value, Digits) else ""
    if text.endswith(".0"):
        text = text[:-2]  # JSON Schema: a number without a fraction is an integer, however it is written
    if not (text.isascii() and text.isdecimal() and len(text) < 12 and 1 <= int(text) <= most):
        raise Refused(400, f"{where} is not a whole number from 1 to {most}")
    return int(text)


def _one_of(value: Any, words: tuple[str, ...], where: str) -> str:
    if not isinstance(value, str) or value not in words:
        raise Refused(400, f"{where} is not one of {', '.join(words)}")
    return str(value)


def _degrees(value: Any, where: str) -> float:
    number = float(value) if isinstance(value, Digits) else float("nan")
    if not -100.0 <= number <= 500.0:
        raise Refused(400, f"{where} is not a number of degrees Celsius from -100 to 500")
    return number


def moment_of(value: Any, where: str) -> datetime.datetime:
    """Return a moment as RFC 3339 writes it: with a date, a time and where it counts from.

    Raises
    ------
    Refused
    """
    found = None
    if (
        isinstance(value, str)
        and not isinstance(value, Digits)
        and len(value) <= 40
        and value[10:11] in ("T", "t", " ")
    ):
        try:
            found = datetime.datetime.fromisoformat(value.upper())
        except ValueError:
            found = None
    if found is None or found.tzinfo is None or not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise Refused(400, f"{where} is not a moment from {FIRST_YEAR} to {LAST_YEAR}, such as 2026-09-07T14:06:00Z")
    return found
