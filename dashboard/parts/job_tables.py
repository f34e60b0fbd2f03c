"""The way between what is typed in the form of a job and the tables of its ``job.toml``."""

from __future__ import annotations

import copy
import datetime
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from dashboard.parts.job_fields import COSTS, FIELDS, LISTS, PAIRS, Field, Form, blank_form, blank_row

_WHOLE = re.compile(r"[+-]?\d{1,12}")
_FRACTION = re.compile(r"[+-]?\d*\.\d+|[+-]?\d+\.")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_SIGN = re.compile(r"(?:^|(?<=\s))([+-])\s*")
_FACTOR = re.compile(r"(\d+(?:\.\d+)?|\.\d+)\s*(?:\*|x|times)\s+(.*)")


def form_of(data: Mapping[str, Any]) -> Form:
    """Return what the form shows of a job's tables; what it has no field for stays in the text alone."""
    form = blank_form()
    head, costs = table_in(data, "job"), table_in(data, "costs")
    for key in form["job"]:
        if key in head:
            form["job"][key] = _shown(head[key])
    form["costs"] = {key: _shown(costs.get(key, "")) for key in form["costs"]}
    for section in LISTS:
        tables = table_in(data, section)
        form[section] = [_row_of(section, name, tables, costs) for name in tables]
    return form


def _row_of(section: str, name: str, tables: Mapping[str, Any], costs: Mapping[str, Any]) -> dict[str, str]:
    table = table_in(tables, name)
    row = blank_row(section)
    ends = PAIRS.get(section, ())
    for field in FIELDS[section]:
        if field.key == "name" or field.key in ends:
            continue
        home, key = _home(table, field)
        if field.value == "terms":
            row[field.key] = shown_terms(table_in(table, key))
        elif key in home:
            row[field.key] = _shown(home[key])
    if section == "features":
        row |= {key: _shown(table_in(costs, key).get(name, "")) for key in COSTS}
    if ends:
        both = table.get(ends[0])
        if isinstance(both, list) and len(both) == 2:
            row[ends[1]], row[ends[2]] = ("" if end == "open" else _shown(end) for end in both)
    return row | {"name": name, "was": name}


def _home(table: Mapping[str, Any], field: Field) -> tuple[Mapping[str, Any], str]:
    """Return the table that a field stands in, and its key there."""
    outer, _, key = field.key.rpartition(".")
    return (table_in(table, outer) if outer else table), key


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else ""
    if isinstance(value, list):
        return ", ".join(_shown(item) for item in value)
    if isinstance(value, Decimal):
        return f"{value:f}" if value.is_finite() else str(value)
    return str(value)


def shown_terms(terms: Mapping[str, Any]) -> str:
    """Return a signed sum as it is typed: ``head height - 2 x shim``.

    Examples
    --------
    >>> shown_terms({"head_height": 1, "shim": -2})
    'head_height - 2 x shim'
    """
    written = ""
    for name, factor in terms.items():
        text = _shown(factor)
        sign, amount = ("-", text[1:]) if text.startswith("-") else ("+", text)
        lead = f" {sign} " if written else ("- " if sign == "-" else "")
        written += f"{lead}{'' if amount == '1' else f'{amount} x '}{name}"
    return written


def terms_of(typed: str, names: Mapping[str, str]) -> dict[str, Any] | str:
    """Return a signed sum as its terms; what cannot be read as one comes back as text.

    Parameters
    ----------
    typed : str
        Names of features with a plus or a minus between them, a factor before a name where it counts more than once.
    names : mapping of str to str
        Names by which features may be called, and their names.

    Examples
    --------
    >>> terms_of("head height - 2 x shim", {"head height": "head_height", "shim": "shim"})
    {'head_height': 1, 'shim': -2}
    """
    parts = _SIGN.split(typed.replace("−", "-").replace("×", "x").strip())
    lead = parts[0].strip()
    pairs = ([("+", lead)] if lead else []) + list(zip(parts[1::2], (part.strip() for part in parts[2::2])))
    terms: dict[str, Any] = {}
    for sign, words in pairs:
        amount: Any = 1
        name = names.get(words)
        if name is None and (found := _FACTOR.fullmatch(words)):
            amount, name = value_of(found[1]), names.get(found[2].strip())
        if name is None or name in terms:
            return typed
        terms[name] = amount if sign == "+" else -amount
    return terms or typed


def table_in(data: Mapping[str, Any], key: str) -> dict[str, Any]:
    """Return a table in a table, an empty one where there is none."""
    found = data.get(key, {})
    return found if isinstance(found, dict) else {}


def data_of(form: Mapping[str, Any], base: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Return the tables of a job from what stands in its form.

    Parameters
    ----------
    form : mapping
        As `form_of` gives it; every value a text as typed.
    base : mapping, optional
        The tables of the revision that is changed: what the form has no field for is taken over from it.

    Returns
    -------
    dict
        For `dashboard.parts.job_text.toml_text`; what makes no sense is left in it as text, for `parse_job` to name.
    """
    data: dict[str, Any] = copy.deepcopy(dict(base or {}))
    old = {section: table_in(data, section) for section in LISTS}
    renamed = {section: _renamed(form[section], old[section]) for section in LISTS}
    data["job"] = _filled(table_in(data, "job"), form["job"], FIELDS["job"])
    rows = {
        "features": [row | _led(row, ("gauge",), renamed["gauges"]) for row in form["features"]],
        "fits": [row | _led(row, ("internal", "external"), renamed["features"]) for row in form["fits"]],
        "closures": form["closures"],
        "gauges": form["gauges"],
    }
    names = names_of(form)
    for section, listed in rows.items():
        data[section] = {row["name"]: _table_of(section, row, old[section], names) for row in listed}
    costs = _filled(table_in(data, "costs"), form["costs"], FIELDS["costs"])
    for key in COSTS:
        costs.pop(key, None)
        known = {row["name"]: value_of(row[key]) for row in form["features"] if row.get(key, "").strip()}
        if known:
            costs[key] = known
    data["costs"] = costs
    order = ("job", *LISTS, "costs")
    ordered = {key: data[key] for key in order if key in data and data[key] != {}}
    return ordered | {key: value for key, value in data.items() if key not in order}


def names_of(form: Mapping[str, Any]) -> dict[str, str]:
    """Return the names by which the features of a form may be called: as written, in plain words, as they were."""
    names: dict[str, str] = {}
    for row in form["features"]:
        for called in (row["name"], row["name"].replace("_", " "), row.get("was", "")):
            if called:
                names.setdefault(called, row["name"])
    return names


def _renamed(rows: list[dict[str, str]], old: Mapping[str, Any]) -> dict[str, str]:
    """Return the names that were given up: old -> new."""
    now = {row["name"] for row in rows}
    return {row["was"]: row["name"] for row in rows if row.get("was") in old and row["was"] not in now}


def _led(row: Mapping[str, str], keys: tuple[str, ...], renamed: Mapping[str, str]) -> dict[str, str]:
    """Return the fields of a row that name something by the name it has now."""
    return {key: renamed.get(row.get(key, ""), row.get(key, "")) for key in keys}


def _table_of(section: str, row: Mapping[str, str], old: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    pair = PAIRS.get(section, ())
    fields = [field for field in FIELDS[section][1:] if field.key not in pair and field.key not in COSTS]
    table = _filled(table_in(old, row.get("was", "")), row, fields)
    if section == "closures" and row.get("terms", "").strip():
        table["terms"] = terms_of(row["terms"], names)
    if pair:
        table.pop(pair[0], None)
        ends = [value_of(row.get(key, "")) for key in pair[1:]]
        if any(end is not None for end in ends):
            table[pair[0]] = ["open" if end is None else end for end in ends]
    return table


def _filled(table: Mapping[str, Any], row: Mapping[str, str], fields: Any) -> dict[str, Any]:
    """Return a table with what is typed in its fields put in; an empty field takes its key out."""
    written: dict[str, Any] = {}
    left = copy.deepcopy(dict(table))
    for field in fields:
        value = _value(field, row.get(field.key, ""))
        outer, _, key = field.key.rpartition(".")
        if outer:
            inner = table_in(left, outer)
            inner.pop(key, None)
            left[outer] = inner
            written.setdefault(outer, {})
            if value is not None:
                written[outer][key] = value
        else:
            left.pop(key, None)
            written[key] = value
    for outer, value in written.items():
        if isinstance(value, dict):
            written[outer] = value | left.pop(outer, {})
    return {key: value for key, value in written.items() if value not in (None, {})} | left


def _value(field: Field, typed: str) -> Any:
    if not typed.strip():
        return None
    if field.value == "truth":
        return typed.strip() == "true"
    if field.value == "texts":
        return [item.strip() for item in typed.split(",") if item.strip()] or None
    if field.value == "numbers" and "," in typed:
        return [value_of(item) for item in typed.split(",") if item.strip()]
    return value_of(typed, as_text=bool(field.choices) or field.value == "text")


def value_of(typed: str, *, as_text: bool = False) -> Any:
    """Return what was typed as a value of TOML: a number where it is one, a day where it is one, else the text.

    Examples
    --------
    >>> value_of(".6250"), value_of("12"), value_of("5 um"), value_of("95 %"), value_of(" ")
    (Decimal('0.6250'), 12, '5 um', Decimal('0.95'), None)
    """
    text = typed.strip()
    if not text:
        return None
    if as_text:
        return text
    number = text.replace("−", "-")
    if _WHOLE.fullmatch(number):
        return int(number)
    if _FRACTION.fullmatch(number) and len(number) < 40:
        return Decimal(number)
    if number.endswith("%") and (_WHOLE.fullmatch(part := number[:-1].strip()) or _FRACTION.fullmatch(part)):
        return Decimal(part) / 100
    if _DAY.fullmatch(text):
        try:
            return datetime.date.fromisoformat(text)
        except ValueError:
            return text
    return text
