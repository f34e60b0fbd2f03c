"""From the text of a ``job.toml`` to a `Job`: every fault is named, none is guessed away."""

from __future__ import annotations

import datetime
import difflib
import re
import sys
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from tracker.cuts import CONVENTIONS, Convention, convention
from tracker.errors import JobError, TrackerError
from tracker.job import KINDS, RULES, ClosureTerms, Costs, Feature, Fit, Gauge, Job, Machine
from tracker.toml_tables import toml_tables
from tracker.units import known_unit, parse_length

Table = Mapping[str, Any]

KEYS = {
    "": "job features fits closures gauges costs",
    "job": "name unit assurance decimal_comma temperature",
    "feature": "kind nominal target lower upper grade gauge machine rule master material plating pieces"
    " positions repeats part spread",
    "machine": "name operation offset_on increment plus_makes tool setup_sd look_every",
    "fit": "internal external gap class target press seat",
    "closure": "terms limits",
    "gauge": "resolution calibration correction due range material line",
    "costs": "press rework remake spoiled_assembly touch too_tight too_loose",
}

MISSES = ("too_tight", "too_loose")


class JobReader:
    """Reads one text; gathers all faults before it refuses.

    One that is ``kept`` in a record already is not refused for what was once taken: there it is a remark.
    """

    def __init__(self, text: str, source: str, *, kept: bool = False) -> None:
        self.text = text
        self.source = source
        self.kept = kept
        self.faults: list[str] = []
        self.remarks: list[str] = []
        self.unit = "in"
        self.decimal_comma = False

    def job(self, folder: Path | None) -> Job:
        """Return the job.

        Raises
        ------
        JobError
            Naming every fault that was found.
        """
        try:
            data = toml_tables(self.text)
        except tomllib.TOMLDecodeError as error:
            raise JobError(f"{self.source} is not TOML: {error}{self._hint(error)}") from error
        self._known(data, "", "the top level")
        head = self._table(data, "job", "[job]")
        self._known(head, "job", "[job]")
        self._read_unit(head)
        self.decimal_comma = self._decimal_comma(head)
        gauges = self._each(data, "gauges", self._gauge)
        features = self._each(data, "features", self._feature)
        fits = self._each(data, "fits", lambda name, table, at: self._fit(name, table, at, features))
        closures = self._each(data, "closures", lambda name, table, at: self._closure(name, table, at, features))
        for name, feature in features.items():
            if feature.gauge is not None and feature.gauge not in gauges:
                self.remarks.append(
                    f'[features.{name}] names the gauge {feature.gauge!r}, which has no [gauges."{feature.gauge}"];'
                    " its resolution is taken from the digits typed"
                )
        if not features and not self.faults:
            self.faults.append("no [features.NAME] is given; at least one is needed")
        job = Job(
            name=str(head.get("name") or (folder.name if folder else self.source)),
            unit=self.unit,
            assurance=self._assurance(head),
            decimal_comma=self.decimal_comma,
            temperature=self._number(head, "temperature", "[job]"),
            features=features,
            fits=fits,
            closures=closures,
            gauges=gauges,
            costs=self._costs(self._table(data, "costs", "[costs]"), features),
            remarks=tuple(self.remarks),
            folder=folder,
            text=self.text,
        )
        if self.faults:
            listed = "\n".join(f"  - {fault}" for fault in self.faults)
            count = "1 fault" if len(self.faults) == 1 else f"{len(self.faults)} faults"
            raise JobError(f"{self.source} has {count}:\n{listed}")
        return job

    def _hint(self, error: Exception) -> str:
        """Return the line that is no TOML, and what is mostly wrong with such a line."""
        place = re.search(r"line (\d+)", str(error))
        lines = self.text.splitlines()
        if place is None or not 0 < int(place[1]) <= len(lines):
            return ""
        line = lines[int(place[1]) - 1].strip()
        hint = f"; the line is {line!r}"
        if re.search(r"(^|[=\[,\s+-])\.\d", line):
            hint += "; write a digit before the point, 0.6250 and not .6250"
        elif re.search(r"\d,\d", line) and "[" not in line:
            hint += "; write a point, not a comma"
        elif re.search(r"=\s*[+-]?\d[\d./ -]*[a-zA-Z\"/]", line):
            hint += '; write a length with a unit, or a fraction, in quotes: "5 um"'
        return hint

    def _known(self, table: Table, section: str, at: str) -> None:
        known = KEYS[section].split()
        for key in table:
            if key not in known:
                near = difflib.get_close_matches(key, known, n=1)
                hint = f"; did you mean {near[0]}?" if near else f"; known there: {', '.join(known)}"
                self.remarks.append(f"{at} has {key!r}, which is not known and was passed over{hint}")

    def _table(self, data: Table, key: str, at: str) -> Table:
        value = data.get(key, {})
        if isinstance(value, dict):
            return value
        self.faults.append(f"{at} is {value!r}; accepted is a table")
        return {}

    def _each(self, data: Table, key: str, read: Callable[[str, Table, str], Any]) -> dict[str, Any]:
        found = {}
        for name, table in self._table(data, key, f"[{key}]").items():
            at = f"[{key}.{name}]" if name.isidentifier() else f'[{key}."{name}"]'
            if not isinstance(table, dict):
                self.faults.append(f"{at} is {table!r}; accepted is a table")
                continue
            item = read(name, table, at)
            if item is not None:
                found[name] = item
        return found

    def _read_unit(self, head: Table) -> None:
        if "unit" not in head:
            self.faults.append('[job] has no unit; accepted is unit = "in" or unit = "mm"')
            return
        try:
            unit = known_unit(head["unit"])
        except TrackerError:
            unit = ""
        if unit not in ("in", "mm"):
            self.faults.append(f'[job] unit is {head["unit"]!r}; accepted is "in" or "mm"')
            return
        self.unit = unit

    def _decimal_comma(self, head: Table) -> bool:
        value = head.get("decimal_comma", False)
        if not isinstance(value, bool):
            self.faults.append(f"[job] decimal_comma is {value!r}; accepted is true or false, without quotes")
            return False
        return value

    def _assurance(self, head: Table) -> float:
        value = head.get("assurance", 0.95)
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0.5 <= value < 1:
            self.faults.append(f"[job] assurance is {value!r}; accepted is a share from 0.5 to under 1, such as 0.95")
            return 0.95
        return float(value)

    def _number(self, table: Table, key: str, at: str, *, least: float | None = None) -> float | None:
        value = table.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= sys.float_info.max:
            self.faults.append(f"{at} {key} is {str(value)[:40]}; accepted is a number")
            return None
        if least is not None and value < least:
            self.faults.append(f"{at} {key} is {value!r}; accepted is {least:g} or more")
            return None
        return float(value)

    def _length(self, table: Table, key: str, at: str, *, positive: bool = False) -> float | None:
        return self._as_length(table.get(key), key, at, positive=positive)

    def _as_length(self, value: Any, key: str, at: str, *, positive: bool = False) -> float | None:
        if value is None:
            return None
        if not isinstance(value, str | int | float):
            self.faults.append(f"{at} {key} is {value!r}; accepted is a number, or a text with a unit")
            return None
        try:
            # TOML's own numbers have a point, so a text here may have either, whatever the readings have
            comma = self.decimal_comma and isinstance(value, str) and "," in value
            length = parse_length(value, self.unit, decimal_comma=comma)
        except TrackerError as error:
            self.faults.append(f"{at} {key}: {error}")
            return None
        if positive and length <= 0:
            self.faults.append(f"{at} {key} is {value!r}; accepted is a length above zero")
            return None
        return length

    def _choice(self, table: Table, key: str, at: str, choices: tuple[str, ...], default: str) -> str:
        value = table.get(key, default)
        if value not in choices:
            self.faults.append(f"{at} {key} is {value!r}; accepted is {' or '.join(choices)}")
            return default
        return str(value)

    def _count(self, table: Table, key: str, at: str) -> int | None:
        value = table.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int) or value < 1:
            self.faults.append(f"{at} {key} is {value!r}; accepted is a whole number from 1")
            return None
        return value

    def _limits(self, value: Any, key: str, at: str) -> tuple[float | None, float | None]:
        if not isinstance(value, list) or len(value) != 2:
            self.faults.append(f'{at} {key} is {value!r}; accepted is [lower, upper]; for an open end write "open"')
            return None, None
        low, high = (None if item == "open" else self._as_length(item, key, at) for item in value)
        self._right_way_round(low, high, f"{at} {key}")
        return low, high

    def _right_way_round(self, low: float | None, high: float | None, where: str) -> None:
        if low is not None and high is not None and not low < high:
            self.faults.append(f"{where}: the lower limit {low:g} is not under the upper limit {high:g}; swap them")

    def _feature(self, name: str, table: Table, at: str) -> Feature | None:
        self._known(table, "feature", at)
        if "kind" not in table:
            self.faults.append(f"{at} has no kind; accepted is {', '.join(KINDS)}")
        kind = self._choice(table, "kind", at, KINDS, "length")
        before = len(self.faults)
        nominal = self._length(table, "nominal", at)
        lower, upper = self._length(table, "lower", at), self._length(table, "upper", at)
        target = self._length(table, "target", at)
        if "grade" in table:
            lower, upper = self._grade(table, nominal, lower, upper, at)
        if nominal is None and len(self.faults) == before:
            if lower is not None and upper is not None:
                nominal = (lower + upper) / 2
            elif target is not None:
                nominal = target
            else:
                self.faults.append(f"{at} has no nominal; accepted is a length such as nominal = 0.6250")
        if nominal is not None and nominal <= 0 and kind != "length":
            self.faults.append(f"{at} nominal is {nominal:g}; accepted is a size above zero")
        self._right_way_round(lower, upper, at)
        machine = self._table(table, "machine", f"{at} machine")
        self._known(machine, "machine", f"{at} machine")
        positions = table.get("positions", [])
        if not isinstance(positions, list):
            self.faults.append(f'{at} positions is {positions!r}; accepted is a list such as ["top", "middle"]')
            positions = []
        return Feature(
            name=name,
            kind=kind,
            nominal=0.0 if nominal is None else nominal,
            target=target,
            lower=lower,
            upper=upper,
            gauge=None if table.get("gauge") is None else str(table["gauge"]),
            machine=self._machine(machine, f"{at} machine", kind),
            rule=None if "rule" not in table else self._choice(table, "rule", at, RULES, "mean"),
            master=self._length(table, "master", at, positive=True),
            material=None if table.get("material") is None else str(table["material"]),
            plating=self._length(table, "plating", at) or 0.0,
            pieces=self._count(table, "pieces", at),
            positions=tuple(str(item) for item in positions),
            repeats=self._count(table, "repeats", at),
            part=str(table.get("part", "")),
            spread=self._length(table, "spread", at, positive=True),
        )

    def _machine(self, table: Table, at: str, kind: str) -> Machine:
        """Return how the next cut is entered: as stated, else as is usual for the kind of cut."""
        usual = None
        if "operation" in table:
            try:
                usual = convention(str(table["operation"]))
            except TrackerError as error:
                self.faults.append(f"{at} operation: {error}")
            else:
                if {usual.makes, kind} == {"internal", "external"}:
                    self._other_side(usual, "plus_makes" in table, at, kind)
        offset_on, plus_makes, tool = ("diameter", "larger", "tool")
        if usual is not None:
            offset_on, plus_makes, tool = usual.offset_on, usual.plus_makes, usual.tool
        return Machine(
            operation="" if usual is None else usual.operation,
            offset_on=self._choice(table, "offset_on", at, ("diameter", "radius"), offset_on),
            plus_makes=self._choice(table, "plus_makes", at, ("larger", "smaller"), plus_makes),
            increment=self._length(table, "increment", at, positive=True),
            tool=str(table.get("tool", tool)),
            setup_sd=self._length(table, "setup_sd", at, positive=True),
            look_every=self._count(table, "look_every", at),
            name=str(table.get("name", "")),
        )

    def _other_side(self, usual: Convention, sign_stated: bool, at: str, kind: str) -> None:
        """Refuse a kind of cut for the other side where the sign of the offset would come from it; else remark on it.

        A cylindrical grinder grinds either side, and an offset counts alike on both: that is a remark.
        """
        words = f"{at}: {usual.operation} makes an {usual.makes} feature, and this is {kind}"
        if sign_stated or usual.tool == "wheel":
            self.remarks.append(words)
            return
        listed = self.remarks if self.kept else self.faults
        fitting = ", ".join(name for name, other in CONVENTIONS.items() if other.makes in (kind, "length"))
        listed.append(
            f'{words}: which way an offset goes hangs on it; accepted is {fitting}, kind = "{usual.makes}", or'
            " plus_makes stated"
        )

    def _grade(
        self, table: Table, nominal: float | None, lower: float | None, upper: float | None, at: str
    ) -> tuple[float | None, float | None]:
        from tracker.limits import limits_iso

        if nominal is None:
            self.faults.append(f"{at} has a grade but no nominal to look it up by")
            return lower, upper
        if lower is not None or upper is not None:
            self.faults.append(f"{at} has both a grade and a lower or upper limit; give one or the other")
            return lower, upper
        try:
            found = limits_iso(str(table["grade"]), nominal=nominal, unit=self.unit)
        except TrackerError as error:
            self.faults.append(f"{at} grade: {error}")
            return None, None
        return found.lower, found.upper

    def _fit(self, name: str, table: Table, at: str, features: dict[str, Feature]) -> Fit | None:
        self._known(table, "fit", at)
        for side in ("internal", "external"):
            wanted = table.get(side)
            if wanted is None:
                self.faults.append(f"{at} has no {side}; accepted is the name of a feature")
            elif not isinstance(wanted, str) or wanted not in features:
                listed = ", ".join(features) or "none"
                self.faults.append(f"{at} {side} is {wanted!r}, which is no feature of this job; there are: {listed}")
            elif features[wanted].kind not in (side, "length"):
                self.faults.append(f"{at} {side} is {wanted!r}, which is of kind {features[wanted].kind}")
        if table.get("internal") is not None and table.get("internal") == table.get("external"):
            self.faults.append(f"{at} has {table['internal']!r} on both sides; accepted are two features")
        gap: tuple[float | None, float | None] = (None, None)
        if "class" in table and "gap" in table:
            self.faults.append(f"{at} has both gap and class; give one or the other")
        elif "class" in table:
            gap = self._class_gap(str(table["class"]), features.get(str(table.get("internal"))), at)
        elif "gap" in table:
            gap = self._limits(table["gap"], "gap", at)
            if gap == (None, None) and not self.faults:
                self.faults.append(f"{at} gap is open at both ends; at least one limit is needed")
        else:
            self.faults.append(
                f"{at} has neither gap nor class; accepted is gap = [lower, upper] (internal minus external)"
            )
        return Fit(
            name=name,
            internal=str(table.get("internal")),
            external=str(table.get("external")),
            gap_lower=gap[0],
            gap_upper=gap[1],
            target=self._length(table, "target", at),
            press=dict(self._table(table, "press", f"{at} press")),
            seat=dict(self._table(table, "seat", f"{at} seat")),
        )

    def _class_gap(self, text: str, internal: Feature | None, at: str) -> tuple[float | None, float | None]:
        from tracker.limits import fit_iso, limits_ansi
        from tracker.units import convert

        if internal is None:
            return None, None
        try:
            if "/" in text:
                found = fit_iso(text, nominal=internal.nominal, unit=self.unit)
                return found.gap_lower, found.gap_upper
            found = limits_ansi(convert(internal.nominal, self.unit, "in"), text)
        except TrackerError as error:
            self.faults.append(f"{at} class: {error}")
            return None, None
        low, high = (convert(edge, "in", self.unit) for edge in (found.gap_lower, found.gap_upper))
        return low, high

    def _closure(self, name: str, table: Table, at: str, features: dict[str, Feature]) -> ClosureTerms | None:
        self._known(table, "closure", at)
        terms: dict[str, float] = {}
        named = self._table(table, "terms", f"{at} terms")
        strangers = [feature for feature in named if feature not in features]
        if strangers:
            self.remarks.append(
                f"{at} was passed over: it names {', '.join(strangers)}, for which there is no [features.NAME];"
                f" there are: {', '.join(features) or 'none'}"
            )
            return None
        for feature, factor in named.items():
            if isinstance(factor, bool) or not isinstance(factor, int | float) or factor == 0:
                self.faults.append(f"{at} terms {feature} is {factor!r}; accepted is a number such as 1 or -1")
            else:
                terms[feature] = float(factor)
        if not terms:
            self.faults.append(f"{at} has no terms; accepted is terms = {{ feature = 1, other = -1 }}")
        low, high = self._limits(table.get("limits"), "limits", at)
        return ClosureTerms(name=name, terms=terms, lower=low, upper=high)

    def _gauge(self, name: str, table: Table, at: str) -> Gauge:
        self._known(table, "gauge", at)
        calibration = self._length(table, "calibration", at) or 0.0
        if calibration < 0:
            self.faults.append(f"{at} calibration is {calibration:g}; accepted is a standard uncertainty from 0")
        low, high = self._limits(table["range"], "range", at) if "range" in table else (None, None)
        return Gauge(
            name=name,
            resolution=self._length(table, "resolution", at, positive=True),
            calibration=max(calibration, 0.0),
            correction=self._length(table, "correction", at) or 0.0,
            due=self._date(table.get("due"), f"{at} due"),
            low=low,
            high=high,
            material=None if table.get("material") is None else str(table["material"]),
            line=None if table.get("line") is None else str(table["line"]),
        )

    def _date(self, value: Any, where: str) -> datetime.date | None:
        if value is None:
            return None
        if isinstance(value, datetime.datetime):
            return value.date()
        if isinstance(value, datetime.date):
            return value
        try:
            return datetime.date.fromisoformat(str(value))
        except ValueError:
            self.faults.append(f"{where} is {value!r}; accepted is a date such as 2026-09-30")
            return None

    def _costs(self, table: Table, features: Mapping[str, Feature]) -> Costs:
        self._known(table, "costs", "[costs]")
        by_feature: dict[str, dict[str, float]] = {}
        for kind in ("rework", "remake"):
            by_feature[kind] = {}
            listed = self._table(table, kind, f"[costs] {kind}")
            for feature in listed:
                if feature not in features:
                    self.faults.append(f"[costs] {kind} names {feature!r}, which is no feature of this job")
                cost = self._number(listed, feature, f"[costs] {kind}", least=0.0)
                if cost is not None:
                    by_feature[kind][feature] = cost
        miss = {side: self._number(table, side, "[costs]", least=0.0) for side in MISSES}
        self.faults += [f"[costs] {side} is 0; accepted is more than 0" for side in MISSES if miss[side] == 0]
        return Costs(
            press=self._number(table, "press", "[costs]", least=0.0),
            rework=by_feature["rework"],
            remake=by_feature["remake"],
            spoiled_assembly=self._number(table, "spoiled_assembly", "[costs]", least=0.0),
            touch=self._number(table, "touch", "[costs]", least=0.0),
            too_tight=miss["too_tight"],
            too_loose=miss["too_loose"],
            stated=tuple(kind for kind in ("rework", "remake") if kind in table),
        )
