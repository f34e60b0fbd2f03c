"""What is wrong in the form of a job, each fault with its place, and what the form has no field for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from dashboard.parts.job_fields import COSTS, FIELDS, LISTS, PAIRS
from dashboard.parts.job_tables import names_of, table_in, terms_of
from tracker.errors import TrackerError
from tracker.job import Job
from tracker.judge.joints import press_of, seat_of

Fault = dict[str, Any]

SAID = {"closures": "sums of lengths"}
_SAYS_WHICH = (
    ("has both a grade", "grade"),
    ("has a grade but", "nominal"),
    ("the lower limit", "lower"),
    ("neither gap nor class", "gap_lower"),
    ("both gap and class", "class"),
    ("on both sides", "external"),
    ("gap", "gap_lower"),
    ("limits", "lower"),
    ("range", "range_lower"),
    ("no terms", "terms"),
)


def form_faults(form: Mapping[str, Any]) -> list[Fault]:
    """Return what is wrong with the names in a form, and with the sums made of them."""
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
    names = names_of(form)
    for number, row in enumerate(form["closures"]):
        if row["terms"].strip() and isinstance(terms_of(row["terms"], names), str):
            listed = ", ".join(dict.fromkeys(names.values())) or "none yet"
            words = (
                f"{row['terms']!r} is no sum of what is measured here; accepted is a sum such as:"
                f" head height - counterbore depth, of these: {listed}"
            )
            faults.append(fault_at("closures", number, "terms", words))
    return faults


def joint_faults(job: Job, form: Mapping[str, Any]) -> list[Fault]:
    """Return what is wrong with the press and the seat of each fit, as far as it can be told before measuring."""
    faults = []
    for number, row in enumerate(form["fits"]):
        fit = job.fits.get(row["name"])
        if fit is None:
            continue
        if fit.press:
            trial = np.array([-1e-4 * abs(job.features[fit.internal].nominal)])
            try:
                press_of(job, fit, trial)
            except TrackerError as error:
                faults.append(fault_at("fits", number, _key_in("press", str(error)), str(error)))
        if fit.seat:
            try:
                seat_of(job, fit)
            except TrackerError as error:
                faults.append(fault_at("fits", number, _key_in("seat", str(error)), str(error)))
    return faults


def _key_in(table: str, said: str) -> str:
    """Return the field of a joint that a fault speaks of; the first of the joint where none is named."""
    keys = [field.key for field in FIELDS["fits"] if field.key.startswith(f"{table}.")]
    words = said.partition("; accepted")[0].replace("_", " ").lower()
    named = [key for key in keys if key.partition(".")[2].replace("_", " ") in words]
    return max(named, key=len, default=keys[0])


def fault_at(section: str, row: int | None, key: str, words: str) -> Fault:
    """Return a fault with its place in the form."""
    return {"section": section, "row": row, "field": key, "words": words}


def place_of(fault: Fault) -> tuple[str, int | None, str]:
    """Return where a fault stands."""
    return fault["section"], fault["row"], fault["field"]


def placed_faults(message: str, form: Mapping[str, Any]) -> list[Fault]:
    """Return the faults that `parse_job` named, each with its place in the form."""
    lines = [line.removeprefix("  - ") for line in message.splitlines() if line.startswith("  - ")] or [message]
    return [_placed(line, form) for line in lines]


def _placed(line: str, form: Mapping[str, Any]) -> Fault:
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
    words = said.removeprefix("has no ").replace(":", " ").replace(";", " ").split()
    for key in (".".join(words[:2]), *words[:1]):
        if key in keys:
            return key
    for sign, key in _SAYS_WHICH:
        if sign in said and key in keys:
            return key
    return "name"


def not_in_form(data: Mapping[str, Any], text: str) -> list[str]:
    """Return what a job holds that the form has no field for, in words."""
    found = []
    if any(line.lstrip().startswith("#") for line in text.splitlines()):
        found.append("remarks (#), which a change by the form leaves out")
    beyond: set[str] = set()
    for section, fields in FIELDS.items():
        keys = {field.key for field in fields} | {key.partition(".")[0] for field in fields for key in [field.key]}
        keys |= set(PAIRS.get(section, ())[:1]) | (set(COSTS) if section == "costs" else set())
        tables = [table_in(data, section)]
        if section in LISTS:
            tables = [table for table in tables[0].values() if isinstance(table, dict)]
        for table in tables:
            beyond |= {key for key in table if key not in keys}
            for outer in {key.partition(".")[0] for key in keys if "." in key}:
                beyond |= {f"{outer}.{key}" for key in table_in(table, outer) if f"{outer}.{key}" not in keys}
    return found + sorted(beyond)
