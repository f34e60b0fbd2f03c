"""From a file, or a job's folder, to a checked readings frame."""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from tracker.errors import ReadingsError
from tracker.readings.columns import Layout, NoHeader
from tracker.readings.corrections import correct
from tracker.readings.imports import Import, readings_frame, refused_frame
from tracker.readings.layout import Known, layout_words, understand
from tracker.readings.rows import Reading, Refusal, RowReader, Settings
from tracker.readings.suspects import find_suspects
from tracker.readings.tables import Row, Table, read_tables

if TYPE_CHECKING:
    from tracker.job import Job

PASSED_OVER = ("events.csv", "job.toml")
READINGS_ENDINGS = (".csv", ".tsv", ".xlsx", ".parquet")
_HEADER_WITHIN = 12
_SAMPLE = 40

Key = tuple[str, str, str, str]


def readings_files(folder: Path) -> list[Path]:
    """Return the readings files of a folder, by name; names that begin with _ or . and events.csv are passed over."""
    return sorted(
        path
        for path in folder.iterdir()
        if path.is_file()
        and path.suffix.casefold() in READINGS_ENDINGS
        and not path.name.startswith(("_", ".", "~$"))
        and path.name.casefold() not in PASSED_OVER
    )


def read_readings(
    path: str | Path | None,
    job: Job | None = None,
    *,
    unit: str | None = None,
    keep_suspects: bool = False,
    today: datetime.date | None = None,
) -> Import:
    """Return what the readings files of a folder, or one file, hold.

    Parameters
    ----------
    path : str or pathlib.Path
        A folder or a file: CSV, XLSX or Parquet, tidy or wide.
    job : Job, optional
        Its features may be named, its unit is that of the answer and of numbers without a unit; its gauges give the
        step, the correction and the range. Without a job every feature name is taken.
    unit : str, optional
        Without a job: the unit of numbers that name none, and of the answer; inches when not given.
    keep_suspects : bool
        Whether suspect readings count as confirmed (they stay marked).
    today : datetime.date, optional
        The day against which a gauge's calibration is judged for readings without a time; not judged when not given.

    Returns
    -------
    Import

    Raises
    ------
    ReadingsError
        If there is no such file or folder, or no readings file in it, or a single file cannot be read at all. In a
        folder such a file is refused (row 0) and the others are read.

    Notes
    -----
    A bad row is refused alone. The same reading found twice is kept once: an explicit repeat that is there twice with
    the same value, or a whole table that says what an earlier one said. Without a repeat column equal rows are
    repeats.
    """
    if path is None:
        raise ReadingsError("no folder is given; accepted is a folder with readings files, or one such file")
    place = Path(path)
    if not place.exists():
        raise ReadingsError(f"there is nothing at {place}; accepted is a folder with readings files, or one such file")
    single = not place.is_dir()
    paths = [place] if single else readings_files(place)
    if not paths:
        raise ReadingsError(
            f"there are no readings files in {place}; accepted are .csv, .xlsx and .parquet files beside job.toml"
            " (names that begin with _ are passed over)"
        )
    gathered = Gathered(Settings.of(job, unit))
    for item in paths:
        try:
            gathered.read_file(item)
        except ReadingsError as error:
            if single:
                raise
            gathered.refused.append((item.name, 0, "", "", str(error)))
    frame, said = correct(gathered.frame(), job)
    good, suspects = find_suspects(frame, job, confirmed=gathered.confirmed, keep=keep_suspects, today=today)
    return Import(
        readings=good,
        suspects=suspects,
        refused=refused_frame(gathered.refused),
        understood=(*gathered.said, *said),
        duplicates=gathered.duplicates,
        files=tuple(item.name for item in paths),
        unit=gathered.settings.unit,
    )


@dataclass(slots=True)
class Gathered:
    """The readings of several files as they come, each kept once."""

    settings: Settings
    readings: list[Reading] = field(default_factory=list)
    repeats: list[int] = field(default_factory=list)
    refused: list[Refusal] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    duplicates: int = 0
    seen: dict[Key, dict[int, Reading]] = field(default_factory=dict)
    tables: dict[tuple[Any, ...], str] = field(default_factory=dict)

    def read_file(self, path: Path) -> None:
        """Read one file; a fault of the whole file is raised, a fault of a row is kept as refused."""
        for table in read_tables(path):
            try:
                self._read_table(table)
            except ReadingsError as error:
                self.refused.append((table.name, 0, "", "", str(error)))

    def _read_table(self, table: Table) -> None:
        self.said.extend(table.said)
        rows = table.rows
        layout, rest = find_header(table, rows, self.settings)
        if layout is None:
            return
        reader = RowReader(table, layout, self.settings)
        found: list[Reading] = []
        refused: list[Refusal] = []
        fault: ReadingsError | None = None
        try:
            for row in rest:
                readings, faults = reader.read(row)
                found.extend(readings)
                refused.extend(faults)
        except ReadingsError as error:
            fault = error  # the rows before the damage are good
        self.said.append(layout_words(layout, table.name, self.settings.unit))
        self.said.extend(reader.said())
        self.refused.extend(refused)
        self._keep(table.name, found)
        if fault is not None:
            raise fault

    def _keep(self, name: str, found: list[Reading]) -> None:
        same = tuple(_saying(item) for item in found)
        if same and same in self.tables:
            self.duplicates += len(found)
            self.said.append(f"{name} says what {self.tables[same]} says; its readings are kept once")
            return
        self.tables[same] = name
        for item in found:
            self._keep_one(item)

    def _keep_one(self, item: Reading) -> None:
        key = (item.batch, item.feature, item.piece, item.position)
        there = self.seen.setdefault(key, {})
        if item.repeat is None:
            if item.time is not None and any(
                other.time == item.time and _amount(other) == _amount(item) for other in there.values()
            ):
                self.duplicates += 1
                return
            repeat = len(there) + 1
            while repeat in there:
                repeat += 1
        else:
            repeat = item.repeat
            other = there.get(repeat)
            if other is not None and _amount(other) == _amount(item):
                self.duplicates += 1
                return
            if other is not None:
                where = f"{other.file}, row {other.row}"
                at = f" at {item.position}" if item.position else ""
                accepted = (
                    f"piece {item.piece}{at}, repeat {repeat} of {item.feature} is {other.entry.typed.strip()!r}"
                    f" in {where}; accepted is another repeat number, or one of the two rows"
                )
                self.refused.append((item.file, item.row, item.column, item.entry.typed, accepted))
                return
        there[repeat] = item
        self.readings.append(item)
        self.repeats.append(repeat)

    @property
    def confirmed(self) -> np.ndarray:
        """Which rows of `frame` their file says are confirmed."""
        return np.array([self.readings[i].confirmed for i in self._order()], dtype=bool)

    def frame(self) -> pd.DataFrame:
        """Return the readings as a frame, in order of making."""
        order = self._order()
        items = [self.readings[i] for i in order]
        return readings_frame(
            {
                "batch": [item.batch for item in items],
                "feature": [item.feature for item in items],
                "piece": [item.piece for item in items],
                "position": [item.position for item in items],
                "repeat": [self.repeats[i] for i in order],
                "kind": [item.entry.kind for item in items],
                "value": [np.nan if item.entry.value is None else item.entry.value for item in items],
                "low": [item.entry.low for item in items],
                "high": [item.entry.high for item in items],
                "step": [item.step for item in items],
                "typed": [item.entry.typed for item in items],
                "unit": [item.entry.unit for item in items],
                "applied": [item.applied for item in items],
                "gauge": [item.gauge for item in items],
                "operator": [item.operator for item in items],
                "note": [item.note for item in items],
                "time": [item.time for item in items],
                "temperature": [item.temperature for item in items],
                "suspect": [""] * len(items),
                "file": [item.file for item in items],
                "row": [item.row for item in items],
            }
        )

    def _order(self) -> list[int]:
        return making_order(
            [item.batch for item in self.readings],
            [item.feature for item in self.readings],
            [item.piece for item in self.readings],
        )


def making_order(batch: list[str], feature: list[str], piece: list[str]) -> list[int]:
    """Return the rows in order of making: by batch and feature as they came, pieces by number when all are numbers."""
    groups: dict[tuple[str, str], dict[str, list[int]]] = {}
    for i, key in enumerate(zip(batch, feature)):
        groups.setdefault(key, {}).setdefault(piece[i], []).append(i)
    order: list[int] = []
    for pieces in groups.values():
        labels: Iterable[str] = pieces
        if all(label.isascii() and label.isdigit() for label in pieces):
            labels = sorted(pieces, key=int)
        for label in labels:
            order.extend(pieces[label])
    return order


def find_header(table: Table, rows: Iterator[Row], settings: Settings) -> tuple[Layout | None, Iterator[Row]]:
    """Return what the line of column names says, and the rows below it; None when the table is empty.

    Raises
    ------
    ReadingsError
        If none of the first lines names columns.
    """
    head = list(itertools.islice(rows, _SAMPLE))
    filled = [i for i, row in enumerate(head) if _has_text(row)]
    if not filled:
        return None, rows
    known = Known(
        features=list(settings.features),
        positions={name: feature.positions for name, feature in settings.features.items()},
        stem=table.stem,
        sheet=table.sheet,
        has_job=settings.has_job,
    )
    fault: NoHeader | None = None
    for i in filled[:_HEADER_WITHIN]:
        sample = [row.cells for row in head[i + 1 :] if _has_text(row)]
        try:
            layout = understand(_trimmed(head[i].cells), known, sample)
        except NoHeader as error:
            fault = fault or error
            continue
        return layout, itertools.chain(head[i + 1 :], rows)
    raise ReadingsError(f"{table.name}: {fault}")


def _has_text(row: Row) -> bool:
    return any(cell.strip() for cell in row.cells) and not row.cells[0].lstrip().startswith("#")


def _trimmed(cells: list[str]) -> list[str]:
    width = len(cells)
    while width and not cells[width - 1].strip():
        width -= 1
    return cells[:width]


def _amount(item: Reading) -> tuple[Any, ...]:
    return (item.entry.kind, item.entry.value, item.entry.low, item.entry.high)


def _saying(item: Reading) -> tuple[Any, ...]:
    return (item.batch, item.feature, item.piece, item.position, item.repeat, item.time, *_amount(item))
