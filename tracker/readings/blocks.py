"""The quick way through a large, plain CSV: a block of lines at a time, each different text read once.

It gives exactly what the row by row way gives: it uses the same reader on the same texts, and hands every line that
is not plain to it. A test holds the two against each other.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from tracker.errors import ReadingsError
from tracker.readings.columns import ValueColumn
from tracker.readings.imports import Refusal, text_array
from tracker.readings.parts import joined, part_frame, part_of
from tracker.readings.rows import EMPTY, SHARED, Measured, Reading, RowFault, RowReader, Shown
from tracker.readings.tables import LONGEST_CELL, Row, TextForm, csv_rows_from, text_form

PLAIN_ENCODINGS = ("utf-8", "utf-8-sig", "cp1252")
SMALL_FILE = 100_000

Ints = np.ndarray[Any, np.dtype[np.int64]]


def is_plain(path: Path, reader: RowReader, header_row: int) -> TextForm | None:
    """Return how a file is written when the quick way may be taken, else None."""
    if path.suffix.casefold() not in (".csv", ".tsv") or path.stat().st_size < SMALL_FILE:
        return None
    if "piece" not in reader.layout.fields or len(reader.layout.header) < 2:
        return None
    if any(column.kind == "go_no_go" for column in reader.layout.values):
        return None
    form = text_form(path)
    if form.has_nul or form.encoding not in PLAIN_ENCODINGS:
        return None
    with path.open("rb") as file:
        head = b"".join(file.readline() for _ in range(header_row))
    return None if b'"' in head or head.count(b"\r") != head.count(b"\r\n") else form


def block_parts(
    path: Path, form: TextForm, reader: RowReader, header_row: int, size: int
) -> Iterator[tuple[pd.DataFrame, list[Refusal]]]:
    """Yield the readings below the header, about ``size`` bytes at a time, with what was refused.

    Raises
    ------
    ReadingsError
        If the file is damaged; what came before was good.
    """
    opening = re.compile(rb"(?:^|[\r\n" + re.escape(form.separator.encode()) + rb'])"')
    with path.open("rb") as file:
        for _ in range(header_row):
            file.readline()
        number = header_row + 1
        while data := file.read(size):
            data += file.readline()
            start = file.tell() - len(data)
            if (b'"' in data and opening.search(data)) or data.count(b"\r") != data.count(b"\r\n"):
                yield from row_parts(csv_rows_from(path, form, start, number), reader)
                return
            part, refused, lines = _block(data, number, form, reader)
            number += lines
            yield part, refused


def row_parts(rows: Iterator[Row], reader: RowReader, size: int = 0) -> Iterator[tuple[pd.DataFrame, list[Refusal]]]:
    """Yield readings row by row, about ``size`` at a time (50,000 when 0), with what was refused.

    Raises
    ------
    ReadingsError
        If the file is damaged; what came before is yielded first.
    """
    found: list[Reading] = []
    refused: list[Refusal] = []
    fault: ReadingsError | None = None
    try:
        for row in rows:
            readings, faults = reader.read(row)
            found.extend(readings)
            refused.extend(faults)
            if len(found) >= (size or 50_000) or len(refused) >= 50_000:
                yield part_of(found), refused
                found, refused = [], []
    except ReadingsError as error:
        fault = error
    yield part_of(found), refused
    if fault is not None:
        raise fault


def _block(data: bytes, first_row: int, form: TextForm, reader: RowReader) -> tuple[pd.DataFrame, list[Refusal], int]:
    """Read one block of lines in which no quoting begins."""
    width = len(reader.layout.header)
    plain, starts, stops = _plain_lines(data, form.separator, width)
    numbers = first_row + np.arange(starts.size)
    odd = [(int(numbers[i]), data[starts[i] : stops[i]]) for i in np.flatnonzero(~plain)]
    if odd:
        data = b"".join(data[starts[i] : stops[i]] for i in np.flatnonzero(plain))
    part, slow = _plain_part(data, numbers[plain], form, reader) if plain.any() else (part_of([]), [])
    rows = [Row(number, _cells(line, form)) for number, line in odd] + slow
    found: list[Reading] = []
    refused: list[Refusal] = []
    for row in sorted(rows, key=lambda row: row.number):
        readings, faults = reader.read(row)
        found.extend(readings)
        refused.extend(faults)
    if found:
        part = joined([part, part_of(found)]).sort_values("row", kind="stable", ignore_index=True)
    return part, refused, int(starts.size)


def _cells(line: bytes, form: TextForm) -> list[str]:
    text = line.decode(form.encoding, errors="replace").rstrip("\r\n")
    return text.split(form.separator) if text else []


def _plain_lines(data: bytes, separator: str, width: int) -> tuple[np.ndarray[Any, Any], Ints, Ints]:
    """Return which lines have the right number of fields and no field of unreasonable length, and where lines lie."""
    array = np.frombuffer(data, dtype=np.uint8)
    stops = np.flatnonzero(array == 10) + 1
    if not data.endswith(b"\n"):
        stops = np.r_[stops, len(data)]
    starts = np.r_[0, stops[:-1]]
    cuts = np.flatnonzero(array == ord(separator))
    fields = np.searchsorted(cuts, stops) - np.searchsorted(cuts, starts) + 1
    return (fields == width) & (stops - starts <= LONGEST_CELL), starts, stops


def _plain_part(data: bytes, numbers: Ints, form: TextForm, reader: RowReader) -> tuple[pd.DataFrame, list[Row]]:
    """Read lines of the right width; return the readings, and the rows with something wrong in them."""
    width = len(reader.layout.header)
    # A first line that is no number keeps the texts of every column as they were typed: 0.62520 stays 0.62520.
    guard = form.separator.join(["~"] * width).encode() + b"\n"
    table = pd.read_csv(
        io.BytesIO(guard + data),
        header=None,
        names=list(range(width)),
        index_col=False,
        sep=form.separator,
        dtype="category",
        na_filter=False,
        quoting=3,
        skip_blank_lines=False,
        low_memory=False,
        encoding="utf-8" if form.encoding == "utf-8-sig" else form.encoding,
        encoding_errors="replace",
    )
    if len(table) != numbers.size + 1:
        raise AssertionError(f"{len(table) - 1} rows were read from {numbers.size} lines")
    codes = [table[i].cat.codes.to_numpy()[1:].astype(np.int64) for i in range(width)]
    texts = [[str(text) for text in table[i].cat.categories.to_numpy(dtype=object)] for i in range(width)]
    first = np.array([text.lstrip().startswith("#") for text in texts[0]], dtype=bool)
    good = ~first[codes[0]]
    shared: dict[str, tuple[list[Any], Ints]] = {}
    for name in SHARED:
        at = reader.layout.fields.get(name)
        if at is not None:
            values, fine = _each(texts[at], name, reader)
            good &= fine[codes[at]]
            shared[name] = (values, codes[at])
    columns = []
    for column in reader.layout.values:
        found = _measured(column, texts[column.index], codes[column.index], shared, reader, good)
        columns.append(found)
        good &= found.fine
    good &= ~np.logical_and.reduce([found.blank for found in columns])
    for found in columns:
        found.tell(reader, good)
    reader.counted += int(good.sum())
    part = _part(columns, shared, reader, numbers, good)
    slow = [Row(int(numbers[i]), [texts[j][codes[j][i]] for j in range(width)]) for i in np.flatnonzero(~good)]
    return part, slow


def _each(texts: list[str], name: str, reader: RowReader) -> tuple[list[Any], np.ndarray[Any, Any]]:
    """Read each different text of a field once; say which could be read."""
    values: list[Any] = []
    fine = np.ones(len(texts), dtype=bool)
    for i, text in enumerate(texts):
        try:
            values.append(reader.field_value(name, text.strip()))
        except RowFault:
            values.append(None)
            fine[i] = False
    return values, fine


@dataclass(slots=True)
class MeasuredColumn:
    """One column of values: the different readings in it, which row has which, and which rows are fine."""

    column: ValueColumn
    shown: list[Shown]
    measured: list[Measured | None]
    which: Ints
    fine: np.ndarray[Any, Any]
    blank: np.ndarray[Any, Any]

    def tell(self, reader: RowReader, good: np.ndarray[Any, Any]) -> None:
        """Count what was read as something else than a size."""
        there = good & ~self.blank
        counts = np.bincount(self.which[there], minlength=len(self.measured))
        for shown, measured, count in zip(self.shown, self.measured, counts):
            if measured is not None and count:
                reader.tell(shown.feature, measured, int(count))
        if reader.layout.wide:
            reader.blanks += int((good & self.blank).sum())


def _measured(
    column: ValueColumn,
    texts: list[str],
    codes: Ints,
    shared: dict[str, tuple[list[Any], Ints]],
    reader: RowReader,
    good: np.ndarray[Any, Any],
) -> MeasuredColumn:
    """Read each different value, together with the fields that say how, once."""
    says = [name for name in ("feature", "kind", "unit", "master", "gauge") if name in shared]
    key = codes.copy()
    for name in says:
        values, at = shared[name]
        key = key * len(values) + at
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    shown_list: list[Shown] = []
    measured: list[Measured | None] = []
    blank_text = np.array([not text.strip() for text in texts], dtype=bool)
    for row in first:
        said = {name: shared[name][0][shared[name][1][row]] for name in says}
        shown = Shown(
            feature=reader.feature_of(said.get("feature"), column),
            kind=said.get("kind"),
            unit=said.get("unit"),
            master=said.get("master") or "",
            gauge=said.get("gauge") or "",
        )
        shown_list.append(shown)
        measured.append(_one_measured(texts[codes[row]], column, shown, reader))
    blank = blank_text[codes]
    fine = np.array([item is not None for item in measured], dtype=bool)[which]
    if reader.layout.wide:
        fine |= blank
    return MeasuredColumn(column, shown_list, measured, which, fine, blank)


def _one_measured(text: str, column: ValueColumn, shown: Shown, reader: RowReader) -> Measured | None:
    if not text.strip():
        return None
    try:
        return reader.measured(text, column, shown)
    except RowFault:
        return None


def _part(
    columns: list[MeasuredColumn],
    shared: dict[str, tuple[list[Any], Ints]],
    reader: RowReader,
    numbers: Ints,
    good: np.ndarray[Any, Any],
) -> pd.DataFrame:
    """Put the columns of values together, in the order of the rows."""
    parts = []
    for found in columns:
        there = np.flatnonzero(good & ~found.blank)
        parts.append(_column_part(found, shared, reader, numbers, there))
    part = joined(parts)
    return part.sort_values("row", kind="stable", ignore_index=True) if len(columns) > 1 else part


def _column_part(
    found: MeasuredColumn,
    shared: dict[str, tuple[list[Any], Ints]],
    reader: RowReader,
    numbers: Ints,
    there: Ints,
) -> pd.DataFrame:
    which = found.which[there]

    def of_value(read: Callable[[Measured], Any], dtype: Any) -> Any:
        values = [None if item is None else read(item) for item in found.measured]
        if dtype is str:
            return text_array(["" if value is None else value for value in values]).take(which)
        return np.array([np.nan if value is None else value for value in values], dtype=float)[which]

    def of_row(name: str) -> Any:
        if name not in shared:
            return text_array([str(EMPTY[name])]).take(np.zeros(there.size, dtype=np.int64))
        values, codes = shared[name]
        return text_array(["" if value is None else str(value) for value in values]).take(codes[there])

    def same(text: str) -> Any:
        return text_array([text]).take(np.zeros(there.size, dtype=np.int64))

    features = text_array([shown.feature for shown in found.shown]).take(which)
    position = of_row("position")
    if found.column.position and "position" in shared:
        values, codes = shared["position"]
        texts = [reader.position_of(str(value or ""), found.column) for value in values]
        position = text_array(texts).take(codes[there])
    elif found.column.position:
        position = same(found.column.position)
    return part_frame(
        {
            "batch": of_row("batch"),
            "feature": features,
            "piece": of_row("piece"),
            "position": position,
            "repeat": _numbers(shared, "repeat", there, found.column.repeat),
            "kind": of_value(lambda item: item.entry.kind, str),
            "value": of_value(lambda item: item.entry.value, float),
            "low": of_value(lambda item: item.entry.low, float),
            "high": of_value(lambda item: item.entry.high, float),
            "step": of_value(lambda item: item.step, float),
            "typed": of_value(lambda item: item.entry.typed, str),
            "unit": of_value(lambda item: item.entry.unit, str),
            "applied": of_value(lambda item: item.applied, str),
            "gauge": of_value(lambda item: item.gauge, str),
            "operator": of_row("operator"),
            "note": of_row("note"),
            "time": _times(shared, there),
            "temperature": _temperatures(shared, there),
            "suspect": same(""),
            "file": same(reader.table.name),
            "row": numbers[there],
            "confirmed": _flags(shared, there),
            "column": same(found.column.header),
        }
    )


def _numbers(shared: dict[str, tuple[list[Any], Ints]], name: str, there: Ints, fixed: int | None) -> Ints:
    if fixed is not None or name not in shared:
        return np.full(there.size, fixed or 0, dtype=np.int64)
    values, codes = shared[name]
    return np.array([value or 0 for value in values], dtype=np.int64)[codes[there]]


def _times(shared: dict[str, tuple[list[Any], Ints]], there: Ints) -> Any:
    if "time" not in shared:
        return np.full(there.size, np.datetime64("NaT", "us"))
    values, codes = shared["time"]
    return np.array([np.datetime64("NaT" if value is None else value, "us") for value in values])[codes[there]]


def _temperatures(shared: dict[str, tuple[list[Any], Ints]], there: Ints) -> Any:
    if "temperature" not in shared:
        return np.full(there.size, np.nan)
    values, codes = shared["temperature"]
    return np.array([np.nan if value is None else value for value in values], dtype=float)[codes[there]]


def _flags(shared: dict[str, tuple[list[Any], Ints]], there: Ints) -> Any:
    if "confirmed" not in shared:
        return np.zeros(there.size, dtype=bool)
    values, codes = shared["confirmed"]
    return np.array([bool(value) for value in values])[codes[there]]
