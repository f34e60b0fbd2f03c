"""A job written out: from plain data to the text of a ``job.toml``."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from tracker.toml_tables import toml_tables

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r", "\b": "\\b", "\f": "\\f"}


def job_data(text: str) -> dict[str, Any]:
    """Return the tables of a ``job.toml``; numbers keep the digits they were written with.

    Raises
    ------
    tomllib.TOMLDecodeError
        If it is not TOML, or too large or deep (`tracker.toml_tables`).
    """
    return toml_tables(text, parse_float=Decimal)


def toml_text(data: Mapping[str, Any]) -> str:
    """Return data as TOML: a table a section, tables of tables one each, what lies deeper on one line.

    Parameters
    ----------
    data : mapping
        Texts, whole numbers, floats, decimals, true and false, dates, times, lists and mappings of them.

    Returns
    -------
    str
        What `job_data` reads back as the same.

    Raises
    ------
    TypeError
        If a value has no form in TOML.

    Examples
    --------
    >>> print(toml_text({"job": {"unit": "in"}, "features": {"left bore": {"nominal": Decimal("0.6250")}}}), end="")
    [job]
    unit = "in"
    <BLANKLINE>
    [features."left bore"]
    nominal = 0.6250
    """
    plain = {key: value for key, value in data.items() if not isinstance(value, Mapping)}
    blocks = [_lines("", plain)] if plain else []
    for key, table in data.items():
        if not isinstance(table, Mapping):
            continue
        if table and all(isinstance(item, Mapping) for item in table.values()):
            blocks += [_lines(f"[{_key(key)}.{_key(name)}]", item) for name, item in table.items()]
        else:
            blocks.append(_lines(f"[{_key(key)}]", table))
    return "\n".join(blocks)


def _lines(head: str, table: Mapping[str, Any]) -> str:
    written = [f"{_key(key)} = {_value(value)}\n" for key, value in table.items()]
    return "".join([f"{head}\n"] * bool(head) + written)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _text(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float | Decimal):
        return _number(value)
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return f"[{', '.join(_value(item) for item in value)}]"
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(key)} = {_value(item)}" for key, item in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    raise TypeError(f"{value!r} has no form in TOML; accepted are texts, numbers, dates, lists and tables")


def _number(value: float | Decimal) -> str:
    if value != value:
        return "nan"
    if value in (float("inf"), float("-inf")):
        return "inf" if value > 0 else "-inf"
    written = str(value) if isinstance(value, Decimal) else repr(value)
    return written if any(letter in written for letter in ".eE") else f"{written}.0"


def _text(text: str) -> str:
    written = "".join(
        _ESCAPES.get(letter) or (f"\\u{ord(letter):04x}" if ord(letter) < 32 or ord(letter) == 127 else letter)
        for letter in text
    )
    return f'"{written}"'
