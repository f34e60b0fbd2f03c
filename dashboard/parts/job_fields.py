"""The form of a job: its fields, and the way between what is typed in them and a ``job.toml``."""

from __future__ import annotations

import copy
import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

MOST_ROWS = 60
LONGEST = 200
LISTS = ("features", "fits", "gauges")
_WHOLE = re.compile(r"[+-]?\d{1,12}")
_FRACTION = re.compile(r"[+-]?\d*\.\d+|[+-]?\d+\.")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")

Form = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Field:
    """One field: its key in the table, its words, an example, what may be chosen, and which part of a row it is in."""

    key: str
    words: str
    example: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    part: str = ""
    suggest: str = ""

    def spec(self) -> dict[str, Any]:
        """Return the field as the page draws it."""
        return {
            "key": self.key,
            "words": self.words,
            "example": self.example,
            "choices": [list(item) for item in self.choices],
            "part": self.part,
            "suggest": self.suggest,
        }


KINDS = (("", "choose"), ("internal", "internal"), ("external", "external"), ("length", "length"))
FIELDS: dict[str, tuple[Field, ...]] = {
    "job": (
        Field("name", "name", "Leak-test nest, rest buttons"),
        Field("unit", "unit", choices=(("in", "inch"), ("mm", "millimetre"))),
        Field("assurance", "assurance", "95 %"),
    ),
    "features": (
        Field("name", "name", "bore", part="size"),
        Field("kind", "kind", choices=KINDS, part="size"),
        Field("nominal", "nominal", "0.6250", part="size"),
        Field("target", "target, else the middle", "0.6256", part="size"),
        Field("lower", "lower limit", "0.6250", part="size"),
        Field("upper", "upper limit", "0.6257", part="size"),
        Field("grade", "or a grade", "H7", part="size"),
        Field("gauge", "gauge", "bore gauge", part="measuring", suggest="gauges"),
        Field("pieces", "pieces", "12", part="measuring"),
        Field("positions", "positions", "top, bottom", part="measuring"),
        Field("repeats", "repeats", "2", part="measuring"),
        Field(
            "offset_on", "offset is on the", choices=(("diameter", "diameter"), ("radius", "radius")), part="cutting"
        ),
        Field("plus_makes", "plus makes it", choices=(("larger", "larger"), ("smaller", "smaller")), part="cutting"),
        Field("increment", "smallest step", "0.0001", part="cutting"),
        Field("tool", "what wears", "wheel", part="cutting"),
        Field("rework", "cost of rework", "4", part="cutting"),
        Field("remake", "cost of a new one", "11", part="cutting"),
    ),
    "fits": (
        Field("name", "name", "button in plate", part="sides"),
        Field("internal", "internal", suggest="internal", part="sides"),
        Field("external", "external", suggest="external", part="sides"),
        Field("gap_lower", "tightest gap", "-0.0009", part="gap"),
        Field("gap_upper", "loosest gap", "-0.0003", part="gap"),
        Field("class", "or a class", "H7/p6", part="gap"),
        Field("target", "target, else the middle", "-0.0006", part="gap"),
    ),
    "gauges": (
        Field("name", "name", "bore gauge"),
        Field("resolution", "reads to", "0.0001"),
        Field("calibration", "standard uncertainty", "0.00003"),
        Field("correction", "correction to add", "0"),
        Field("due", "next calibration", "2027-09-30"),
    ),
    "costs": (
        Field("press", "one pressing", "1"),
        Field("spoiled_assembly", "a spoiled assembly", "120"),
    ),
}
"""Section -> its fields. A row of features, fits and gauges has ``was`` too: the name it had in the text."""

MACHINE = ("offset_on", "plus_makes", "increment", "tool")
MACHINE_DEFAULTS = {"offset_on": "diameter", "plus_makes": "larger"}
COSTS = ("rework", "remake")


def specs() -> dict[str, list[dict[str, Any]]]:
    """Return all fields as the page draws them."""
    return {section: [field.spec() for field in fields] for section, fields in FIELDS.items()}


def blank_form() -> Form:
    """Return the form of a new job: one bore, one shank, one fit, nothing filled in."""
    blank: Form = {section: {field.key: "" for field in FIELDS[section]} for section in ("job", "costs")}
    blank["job"] |= {"unit": "in", "assurance": "95 %"}
    kinds = ("internal", "external")
    blank["features"] = [blank_row("features") | {"kind": kind} for kind in kinds]
    blank["fits"] = [blank_row("fits")]
    blank["gauges"] = [blank_row("gauges")]
    return blank


def blank_row(section: str) -> dict[str, str]:
    """Return a row with nothing filled in."""
    row = {field.key: "" for field in FIELDS[section]} | {"was": ""}
    return row | (MACHINE_DEFAULTS if section == "features" else {})


def form_of(data: Mapping[str, Any]) -> Form:
    """Return what the form shows of a job's tables; what it has no field for stays in the text alone."""
    form = blank_form()
    head, costs = _table(data, "job"), _table(data, "costs")
    for key in form["job"]:
        if key in head:
            form["job"][key] = _shown(head[key])
    form["costs"] = {key: _shown(costs.get(key, "")) for key in form["costs"]}
    for section in LISTS:
        tables = _table(data, section)
        form[section] = [_row_of(section, name, tables, costs) for name in tables]
    return form


def _row_of(section: str, name: str, tables: Mapping[str, Any], costs: Mapping[str, Any]) -> dict[str, str]:
    table = _table(tables, name)
    row = blank_row(section)
    row |= {key: _shown(table[key]) for key in row if key in table and key not in ("name", "was")}
    if section == "features":
        machine = _table(table, "machine")
        row |= {key: _shown(machine[key]) for key in MACHINE if key in machine}
        row |= {key: _shown(_table(costs, key).get(name, "")) for key in COSTS}
    gap = table.get("gap")
    if section == "fits" and isinstance(gap, list) and len(gap) == 2:
        row["gap_lower"], row["gap_upper"] = ("" if end == "open" else _shown(end) for end in gap)
    return row | {"name": name, "was": name}


def _shown(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(_shown(item) for item in value)
    if isinstance(value, Decimal):
        return f"{value:f}" if value.is_finite() else str(value)
    return str(value)


def _table(data: Mapping[str, Any], key: str) -> dict[str, Any]:
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
    old = {section: _table(data, section) for section in LISTS}
    renamed = {section: _renamed(form[section], old[section]) for section in LISTS}
    data["job"] = _filled(_table(data, "job"), form["job"], FIELDS["job"])
    features = [row | _led(row, ("gauge",), renamed["gauges"]) for row in form["features"]]
    fits = [row | _led(row, ("internal", "external"), renamed["features"]) for row in form["fits"]]
    data["features"] = {row["name"]: _feature(row, old["features"]) for row in features}
    data["fits"] = {row["name"]: _fit(row, old["fits"]) for row in fits}
    for closure in _table(data, "closures").values():
        if isinstance(closure, dict) and isinstance(closure.get("terms"), dict):
            closure["terms"] = {
                renamed["features"].get(name, name): factor for name, factor in closure["terms"].items()
            }
    data["gauges"] = {
        row["name"]: _filled(_table(old["gauges"], row.get("was", "")), row, FIELDS["gauges"][1:])
        for row in form["gauges"]
    }
    costs = _filled(_table(data, "costs"), form["costs"], FIELDS["costs"])
    for key in COSTS:
        costs.pop(key, None)
        listed = {row["name"]: value_of(row[key]) for row in form["features"] if row.get(key, "").strip()}
        if listed:
            costs[key] = listed
    data["costs"] = costs
    order = ("job", "features", "fits", "closures", "gauges", "costs")
    ordered = {key: data[key] for key in order if key in data and data[key] != {}}
    return ordered | {key: value for key, value in data.items() if key not in order}


def _renamed(rows: list[dict[str, str]], old: Mapping[str, Any]) -> dict[str, str]:
    """Return the names that were given up: old -> new."""
    now = {row["name"] for row in rows}
    return {row["was"]: row["name"] for row in rows if row.get("was") in old and row["was"] not in now}


def _led(row: Mapping[str, str], keys: tuple[str, ...], renamed: Mapping[str, str]) -> dict[str, str]:
    """Return the fields of a row that name something by the name it has now."""
    return {key: renamed.get(row.get(key, ""), row.get(key, "")) for key in keys}


def _filled(table: dict[str, Any], row: Mapping[str, str], fields: tuple[Field, ...]) -> dict[str, Any]:
    """Return a table with what is typed in its fields put in; an empty field takes the key out."""
    written = {field.key: value_of(row.get(field.key, ""), as_text=_is_text(field)) for field in fields}
    kept = {key: value for key, value in table.items() if key not in written}
    return {key: value for key, value in written.items() if value is not None} | kept


def _is_text(field: Field) -> bool:
    return bool(field.choices) or field.key in ("name", "gauge", "grade", "class", "internal", "external", "tool")


def _feature(row: Mapping[str, str], old: Mapping[str, Any]) -> dict[str, Any]:
    own = FIELDS["features"]
    table = _filled(_table(old, row.get("was", "")), row, tuple(field for field in own[1:] if field.part != "cutting"))
    positions = [item.strip() for item in row.get("positions", "").split(",") if item.strip()]
    table.pop("positions", None)
    if positions:
        table["positions"] = positions
    fields = tuple(field for field in own if field.key in MACHINE)
    before = _table(table, "machine")
    machine = _filled(before, row, fields)
    if any(machine.get(key) not in (None, value) for key, value in MACHINE_DEFAULTS.items()) or set(machine) - set(
        MACHINE_DEFAULTS
    ):
        table["machine"] = machine
    elif not before:
        table.pop("machine", None)
    return table


def _fit(row: Mapping[str, str], old: Mapping[str, Any]) -> dict[str, Any]:
    fields = tuple(field for field in FIELDS["fits"][1:] if not field.key.startswith("gap_"))
    table = _filled(_table(old, row.get("was", "")), row, fields)
    table.pop("gap", None)
    ends = [value_of(row.get(key, "")) for key in ("gap_lower", "gap_upper")]
    if any(end is not None for end in ends):
        table["gap"] = ["open" if end is None else end for end in ends]
    return table


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


def form_faults(form: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return what is wrong with the names in a form: missing, there twice, or of no use in an address."""
    faults = []
    if not form["job"]["name"].strip():
        faults.append(fault_at("job", None, "name", "a job needs a name, such as: Leak-test nest, rest buttons"))
    for section in LISTS:
        seen: set[str] = set()
        for number, row in enumerate(form[section]):
            name, words = row["name"], ""
            if not name:
                words = f"a {section[:-1]} needs a name, such as: {FIELDS[section][0].example}"
            elif name in seen:
                words = f"there are two of the name {name}; give one of them another"
            if words:
                faults.append(fault_at(section, number, "name", words))
            seen.add(name)
    return faults


def fault_at(section: str, row: int | None, key: str, words: str) -> dict[str, Any]:
    """Return a fault with its place in the form."""
    return {"section": section, "row": row, "field": key, "words": words}


_SAYS_WHICH = (
    ("has both a grade", "grade"),
    ("has a grade but", "nominal"),
    ("the lower limit", "lower"),
    ("neither gap nor class", "gap_lower"),
    ("both gap and class", "class"),
    ("on both sides", "external"),
    ("gap", "gap_lower"),
)


def placed_faults(message: str, form: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the faults that `parse_job` named, each with its place in the form."""
    lines = [line.removeprefix("  - ") for line in message.splitlines() if line.startswith("  - ")] or [message]
    return [_placed(line, form) for line in lines]


def _placed(line: str, form: Mapping[str, Any]) -> dict[str, Any]:
    for section in LISTS:
        for number, row in enumerate(form[section]):
            name = row["name"]
            at = f"[{section}.{name}]" if name.isidentifier() else f'[{section}."{name}"]'
            if line.startswith(at):
                said = line[len(at) :].lstrip(": ")
                return fault_at(section, number, _field_in(section, said), said)
    for section in ("job", "costs"):
        if line.startswith(f"[{section}]"):
            said = line[len(section) + 2 :].strip()
            for key in COSTS:
                for number, row in enumerate(form["features"]):
                    if said.startswith((f"{key} {row['name']} ", f"{key} names {row['name']!r}")):
                        return fault_at("features", number, key, said)
            return fault_at(section, None, _field_in(section, said), said)
    if line.startswith("no [features.NAME]"):
        line = "nothing to measure is named yet; at least one feature is needed"
    return fault_at("", None, "", line)


def _field_in(section: str, said: str) -> str:
    keys = {field.key for field in FIELDS[section]}
    words = said.removeprefix("has no ").removeprefix("machine ").replace(":", " ").replace(";", " ").split()
    if words and words[0] in keys:
        return words[0]
    for sign, key in _SAYS_WHICH:
        if sign in said and key in keys:
            return key
    return "name"


def not_in_form(data: Mapping[str, Any], text: str) -> list[str]:
    """Return what a job holds that the form has no field for, in words."""
    found = []
    if _table(data, "closures"):
        found.append("closures")
    if any(line.lstrip().startswith("#") for line in text.splitlines()):
        found.append("remarks (#), which a change by the form leaves out")
    beyond = {"press", "seat", "master", "material", "plating", "rule", "range", "line"}
    tables = [table for section in LISTS for table in _table(data, section).values() if isinstance(table, dict)]
    found += sorted({key for table in tables for key in table if key in beyond})
    found += sorted(key for key in ("decimal_comma", "temperature") if key in _table(data, "job"))
    return found
