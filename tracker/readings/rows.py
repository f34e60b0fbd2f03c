"""One row of a table to its readings, or to what is wrong with it."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from tracker.errors import LengthError, TrackerError
from tracker.job import Feature, Gauge, Job
from tracker.plurals import noun
from tracker.readings.columns import Layout, ValueColumn, is_remark, matching_feature, plain_words
from tracker.readings.entry import COMPARATOR, GO_NO_GO, INCH_UNITS, Entry, known_kind, read_entry
from tracker.readings.imports import Refusal
from tracker.readings.tables import LONGEST_CELL, Row, Table
from tracker.units import ACCEPTED, known_unit, read_length

PLAIN_FIELDS = ("batch", "feature", "piece", "position", "gauge", "operator")
SHARED = (*PLAIN_FIELDS, "repeat", "kind", "unit", "master", "note", "time", "temperature", "confirmed")
EMPTY: Mapping[str, Any] = {
    **dict.fromkeys(("batch", "piece", "position", "gauge", "operator", "master", "note"), ""),
    **dict.fromkeys(("feature", "repeat", "kind", "unit", "time")),
    "temperature": math.nan,
    "confirmed": False,
}
MOST_REMEMBERED = 200_000
ACCEPTED_TIME = "accepted is a date and time such as 2026-09-14 08:30"
COLDEST, HOTTEST = -40.0, 100.0


def read_time(text: str) -> datetime.datetime | None:
    """Return a date and time as written; None for anything that can be understood in two ways, or in none.

    Examples
    --------
    >>> read_time("2026-09-14 08:30"), read_time("14.9.2026"), read_time("9/10/2026")
    (datetime.datetime(2026, 9, 14, 8, 30), datetime.datetime(2026, 9, 14, 0, 0), None)
    """
    plain = " ".join(text.split())
    if not plain.isascii():
        return None
    try:
        return datetime.datetime.fromisoformat(plain.replace("/", "-")).replace(tzinfo=None)
    except ValueError:
        pass
    day, _, clock = plain.partition(" ")
    found = set()
    for form, separator in (("%d.%m.%Y", "."), ("%d/%m/%Y", "/"), ("%m/%d/%Y", "/"), ("%d-%b-%Y", "-")):
        for clock_form in ("%H:%M", "%H:%M:%S", "%I:%M %p", "%I:%M:%S %p") if clock else ("",):
            if separator in day:
                try:
                    found.add(datetime.datetime.strptime(f"{day} {clock}".strip(), f"{form} {clock_form}".strip()))
                except ValueError:
                    continue
    return found.pop() if len(found) == 1 else None


def _is_yes(text: str) -> bool:
    return plain_words(text) in ("yes", "y", "true", "1", "x", "confirmed", "keep")


def _names_master(typed: str) -> bool:
    return any(word in typed.casefold() for word in (" on ", " from "))


class RowFault(Exception):
    """What is wrong with a cell: its column, what stood there, and what would be accepted."""

    def __init__(self, column: str, found: str, accepted: str) -> None:
        super().__init__(accepted)
        self.column, self.found, self.accepted = column, found, accepted


@dataclass(frozen=True, slots=True)
class Settings:
    """What a job says about reading a value."""

    unit: str
    decimal_comma: bool
    features: Mapping[str, Feature]
    gauges: Mapping[str, Gauge]
    has_job: bool

    @classmethod
    def of(cls, job: Job | None, unit: str | None) -> Settings:
        """Return the settings of a job, or those of no job."""
        if job is None:
            return cls(known_unit(unit or "in"), False, {}, {}, False)
        return cls(job.unit, job.decimal_comma, job.features, job.gauges, True)


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading as it stands in its row, before corrections; lengths in the job's unit."""

    batch: str
    feature: str
    piece: str
    position: str
    repeat: int | None
    entry: Entry
    step: float
    gauge: str
    operator: str
    note: str
    time: datetime.datetime | None
    temperature: float
    applied: str
    confirmed: bool
    column: str
    file: str
    row: int


@dataclass(frozen=True, slots=True)
class Measured:
    """One typed value with all that its column, feature and gauge say of it; lengths in the job's unit."""

    entry: Entry
    step: float
    gauge: str
    applied: str
    from_nominal: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """The fields that say how a typed value is to be read."""

    feature: str
    kind: str | None
    unit: str | None
    master: str
    gauge: str


@dataclass(slots=True)
class RowReader:
    """Reads the rows of one table; keeps what has to be said about the whole of it."""

    table: Table
    layout: Layout
    settings: Settings
    blanks: int = 0
    without_master: set[str] = field(default_factory=set)
    unknown_gauges: set[str] = field(default_factory=set)
    told: dict[tuple[str, str], int] = field(default_factory=dict)
    counted: int = 0
    _features: dict[str, str | None] = field(default_factory=dict)
    _gauges: dict[str, str] = field(default_factory=dict)
    _measured: dict[tuple[str, int, Shown], Measured | RowFault] = field(default_factory=dict)

    def read(self, row: Row) -> tuple[list[Reading], list[Refusal]]:
        """Return the readings of a row, and what in it was refused."""
        width = len(self.layout.header)
        cells = row.cells
        found: list[Reading] = []
        refused: list[Refusal] = []
        if not any(cell.strip() for cell in cells) or is_remark(cells):
            return found, refused
        self.counted += 1
        try:
            self._right_width(cells, width)
            cells = [*cells, *[""] * (width - len(cells))]
            shared = self._shared(cells)
        except RowFault as fault:
            return found, [self._refusal(row.number, fault, *self._whose(cells))]
        for column in self.layout.values:
            try:
                reading = self._one(cells, column, shared, row.number)
            except RowFault as fault:
                feature = self.feature_of(shared["feature"], column)
                refused.append(self._refusal(row.number, fault, feature, shared["piece"]))
                continue
            if reading is not None:
                found.append(reading)
        if not found and not refused:
            nothing = RowFault("", "", f"the row has no value in any of its columns; accepted is {ACCEPTED}")
            refused.append(self._refusal(row.number, nothing, *self._whose(cells)))
        return found, refused

    def _refusal(self, number: int, fault: RowFault, feature: str, piece: str) -> Refusal:
        return Refusal(self.table.name, number, fault.column, fault.found, fault.accepted, feature, piece)

    def _whose(self, cells: list[str]) -> tuple[str, str]:
        """Return feature and piece of a row that cannot be read; "" where it does not tell."""
        sure = len(cells)
        if sure != len(self.layout.header):  # then only what stands before the first value is surely in its column
            sure = min([column.index for column in self.layout.values], default=0)

        def told(name: str) -> str:
            at = self.layout.fields.get(name)
            try:
                return "" if at is None or at >= min(sure, len(cells)) else self.field_value(name, cells[at].strip())
            except RowFault:
                return ""

        piece = told("piece") if "piece" in self.layout.fields else str(self.counted)
        if "feature" in self.layout.fields:
            return told("feature"), piece
        features = {self.feature_of(None, column) for column in self.layout.values}
        return features.pop() if len(features) == 1 else "", piece

    def said(self) -> list[str]:
        """Return what was understood that only the rows could show."""
        name, unit = self.table.name, self.settings.unit
        lines = []
        if self.blanks:
            lines.append(f"{name}: {self.blanks} empty {noun(self.blanks, 'cell was', 'cells were')} passed over")
        for (feature, how), count in self.told.items():
            lines.append(f"{name}: {count} {noun(count, 'reading')} of {feature} read as {how}")
        lines.extend(
            f"{name}: no master is named for {feature}, so its deviations were taken from the nominal"
            f" {self.settings.features[feature].nominal:.9g} {unit}; if the block was another size, set master under"
            f" [features.{feature}]"
            for feature in sorted(self.without_master)
        )
        if self.unknown_gauges and self.settings.gauges:
            listed = ", ".join(repr(gauge) for gauge in sorted(self.unknown_gauges))
            lines.append(f"{name}: {listed} is no gauge of the job; its step is taken from the digits typed")
        return lines

    def _right_width(self, cells: list[str], width: int) -> None:
        if len(cells) > width and any(cell.strip() for cell in cells[width:]):
            raise RowFault(
                "",
                " | ".join(cells)[:80],
                f"{len(cells)} fields where the column names are {width};"
                f" accepted is {width} fields (a comma in a value must stand in quotes)",
            )
        if len(cells) < width and self.table.strict_width:
            raise RowFault(
                "",
                " | ".join(cells)[:80],
                f"{len(cells)} fields where the column names are {width};"
                f" accepted is {width} fields (leave a field empty, do not leave it out)",
            )
        for cell, name in zip(cells, self.layout.header):
            if "\0" in cell:
                raise RowFault(name, cell[:40], "a NUL byte stands in this field; accepted is plain text")
            if len(cell) > LONGEST_CELL:
                raise RowFault(
                    name, cell[:40] + "…", f"{len(cell)} characters in one field; accepted are {LONGEST_CELL}"
                )

    def _text(self, cells: list[str], name: str) -> str:
        at = self.layout.fields.get(name)
        return "" if at is None else cells[at].strip()

    def _fault(self, name: str, found: str, accepted: str) -> RowFault:
        at = self.layout.fields.get(name)
        return RowFault(name if at is None else self.layout.header[at] or name, found, accepted)

    def _shared(self, cells: list[str]) -> dict[str, Any]:
        """Read the fields that all values of a row share."""
        fields = self.layout.fields
        shared = {name: self.field_value(name, cells[fields[name]].strip()) for name in SHARED if name in fields}
        if "piece" not in fields:
            shared["piece"] = str(self.counted)
        return {**EMPTY, **shared}

    def field_value(self, name: str, text: str) -> Any:
        """Return what a field other than the value says.

        Raises
        ------
        RowFault
            If it cannot be read.
        """
        if name in PLAIN_FIELDS:
            if text[:1] == "=":
                raise self._fault(name, text, f"{text!r} is a formula; accepted is the text itself")
            if name == "piece":
                return self._piece(text)
            return self._feature(text) if name == "feature" else text
        readers = {
            "repeat": self._repeat,
            "kind": self._kind,
            "unit": self._unit,
            "time": self._time,
            "temperature": self._temperature,
            "confirmed": _is_yes,
        }
        return readers[name](text) if name in readers else text

    def _piece(self, text: str) -> str:
        if not text:
            raise self._fault("piece", "", "no piece is named; accepted is a piece number or label")
        return text[:-2] if text.endswith(".0") and text[:-2].isdigit() else text

    def _feature(self, text: str) -> str:
        if not text:
            if self.layout.feature is not None:
                return self.layout.feature
            raise self._fault("feature", "", f"no feature is named; accepted {self._features_words()}")
        if not self.settings.has_job:
            return text
        if text not in self._features:
            self._features[text] = matching_feature(text, self.settings.features)
        known = self._features[text]
        if known is None:
            raise self._fault("feature", text, f"{text!r} is no feature of this job; accepted {self._features_words()}")
        return known

    def _features_words(self) -> str:
        names = list(self.settings.features)
        return f"{'is' if len(names) == 1 else 'are'} {', '.join(names)}" if names else "is a feature's name"

    def _repeat(self, text: str) -> int | None:
        if not text:
            return None
        plain = text[:-2] if text.endswith(".0") else text
        if not plain.isascii() or not plain.isdigit() or int(plain[:9]) < 1 or len(plain) > 6:
            raise self._fault("repeat", text, f"{text!r} is no repeat; accepted is a whole number from 1")
        return int(plain)

    def _kind(self, text: str) -> str | None:
        try:
            return known_kind(text) if text else None
        except LengthError as error:
            raise self._fault("kind", text, str(error)) from error

    def _unit(self, text: str) -> str | None:
        try:
            return known_unit(text) if text else None
        except LengthError as error:
            raise self._fault("unit", text, str(error)) from error

    def _time(self, text: str) -> datetime.datetime | None:
        if not text:
            return None
        time = read_time(text)
        if time is None:
            raise self._fault("time", text, f"{text!r} is no time; {ACCEPTED_TIME}")
        return time

    def _temperature(self, text: str) -> float:
        if not text:
            return math.nan
        plain = text.casefold().replace("°", "").strip()
        fahrenheit = plain.endswith("f")
        plain = plain.rstrip("cf ").strip()
        if self.settings.decimal_comma:
            plain = plain.replace(",", ".")
        try:
            value = float(plain) if plain.isascii() else math.nan
        except ValueError:
            value = math.nan
        value = (value - 32.0) / 1.8 if fahrenheit else value
        if not COLDEST <= value <= HOTTEST:
            raise self._fault(
                "temperature", text, f"{text!r} is no temperature of a part; accepted is degrees Celsius such as 21.5"
            )
        return value

    def _one(self, cells: list[str], column: ValueColumn, shared: dict[str, Any], number: int) -> Reading | None:
        typed = self._going(cells) if column.kind == GO_NO_GO else cells[column.index]
        if not typed.strip():
            if self.layout.wide:
                self.blanks += 1
                return None
            raise RowFault(column.header, "", f"no value stands here; accepted is {ACCEPTED}")
        feature = self.feature_of(shared["feature"], column)
        shown = Shown(feature, shared["kind"], shared["unit"], shared["master"], shared["gauge"])
        measured = self.measured(typed, column, shown)
        self.tell(feature, measured)
        return Reading(
            batch=shared["batch"],
            feature=feature,
            piece=shared["piece"],
            position=self.position_of(shared["position"], column),
            repeat=column.repeat if column.repeat is not None else shared["repeat"],
            entry=measured.entry,
            step=measured.step,
            gauge=measured.gauge,
            operator=shared["operator"],
            note=shared["note"],
            time=shared["time"],
            temperature=shared["temperature"],
            applied=measured.applied,
            confirmed=shared["confirmed"],
            column=column.header,
            file=self.table.name,
            row=number,
        )

    def feature_of(self, stated: str | None, column: ValueColumn) -> str:
        """Return the feature of a value: its row's, its column's or its table's."""
        return stated or column.feature or self.layout.feature or ""

    @staticmethod
    def position_of(stated: str, column: ValueColumn) -> str:
        """Return the position of a value: its row's and its column's."""
        return f"{stated} {column.position}".strip() if column.position else stated

    def measured(self, typed: str, column: ValueColumn, shown: Shown) -> Measured:
        """Return one typed value as it is to be read; the same text is read once.

        Raises
        ------
        RowFault
            If it cannot be read.
        """
        key = (typed, column.index, shown)
        known = self._measured.get(key)
        if known is None:
            if len(self._measured) >= MOST_REMEMBERED:
                self._measured.clear()
            try:
                known = self._measure(typed, column, shown)
            except RowFault as fault:
                known = fault
            self._measured[key] = known
        if isinstance(known, RowFault):
            raise known
        return known

    def _measure(self, typed: str, column: ValueColumn, shown: Shown) -> Measured:
        gauge = self._gauge(shown.gauge, shown.feature)
        entry, from_nominal = self._entry(typed, column, shown)
        known = self.settings.gauges.get(gauge)
        step = known.resolution if known is not None and known.resolution is not None else entry.step
        if entry.kind == GO_NO_GO:
            step = None
        applied = ""
        if entry.kind == COMPARATOR:
            applied = f"master {entry.master:.9g} {self.settings.unit} {entry.deviation:+.9g}"
        return Measured(entry, math.nan if step is None else step, gauge, applied, from_nominal)

    def _going(self, cells: list[str]) -> str:
        goes, stops = self._text(cells, "goes"), self._text(cells, "not")
        parts = [f"goes {goes}"] if goes else []
        if stops:
            parts.append(f"not {stops}")
        return " / ".join(parts)

    def _gauge(self, text: str, feature: str) -> str:
        if not text:
            named = self.settings.features.get(feature)
            return (named.gauge or "") if named is not None else ""
        if text not in self._gauges:
            self._gauges[text] = matching_feature(text, self.settings.gauges) or text
        return self._gauges[text]

    def _entry(self, typed: str, column: ValueColumn, shown: Shown) -> tuple[Entry, bool]:
        settings = self.settings
        known = settings.features.get(shown.feature)
        master = self._master(shown.master, known)
        try:
            entry = read_entry(
                typed,
                unit=shown.unit or column.unit or settings.unit,
                kind=shown.kind or column.kind,
                master=master,
                nominal=None if known is None else known.nominal,
                feature_kind=None if known is None else known.kind,
                into=settings.unit,
                decimal_comma=settings.decimal_comma,
                nominal_as_master=True,
            )
        except TrackerError as error:
            raise RowFault(column.header, typed, str(error)) from error
        if entry.unit_written and shown.unit and (entry.unit in INCH_UNITS) != (shown.unit in INCH_UNITS):
            accepted = f"the value says {entry.unit} but the unit column says {shown.unit}; accepted is one of them"
            raise RowFault(column.header, typed, accepted)
        return entry, entry.kind == COMPARATOR and master is None and not _names_master(typed)

    def _master(self, text: str, known: Feature | None) -> float | None:
        """Return what a comparator was zeroed on: the row's own master, else the feature's."""
        if not text:
            return None if known is None else known.master
        unit = self.settings.unit
        try:
            return read_length(text, unit, decimal_comma=self.settings.decimal_comma).to(unit)
        except LengthError as error:
            raise self._fault("master", text, str(error)) from error

    def tell(self, feature: str, measured: Measured, count: int = 1) -> None:
        """Keep in mind what has to be said of so many readings: an unknown gauge, not plain sizes."""
        entry = measured.entry
        named = self.settings.features.get(feature)
        if measured.gauge not in ("", named.gauge if named else "") and measured.gauge not in self.settings.gauges:
            self.unknown_gauges.add(measured.gauge)
        if entry.kind == GO_NO_GO:
            how = "goes / does not go"
        elif entry.kind == COMPARATOR:
            how = f"deviations from {entry.master:.9g} {self.settings.unit}"
            if measured.from_nominal:
                self.without_master.add(feature)
        else:
            return
        self.told[feature, how] = self.told.get((feature, how), 0) + count
