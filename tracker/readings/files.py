"""From a file, or a job's folder, to a checked readings frame."""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from tracker.errors import ReadingsError
from tracker.readings.blocks import block_parts, is_plain, row_parts
from tracker.readings.columns import Layout, NoHeader, is_remark
from tracker.readings.corrections import correct
from tracker.readings.imports import COLUMNS, Import, Refusal, refused_frame
from tracker.readings.layout import Known, layout_words, understand
from tracker.readings.parts import joined, part_of
from tracker.readings.rows import RowReader, Settings
from tracker.readings.settling import Settler, saying_of
from tracker.readings.suspects import find_suspects
from tracker.readings.tables import Row, Table, read_tables

if TYPE_CHECKING:
    from tracker.job import Job

PASSED_OVER = ("events.csv", "job.toml")
READINGS_ENDINGS = (".csv", ".tsv", ".xlsx", ".parquet")
_HEADER_WITHIN = 12
_SAMPLE = 40


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
    paths, single = _paths_of(path)
    gathered = Gathered(Settings.of(job, unit))
    for item in paths:
        try:
            gathered.read_file(item)
        except ReadingsError as error:
            if single:
                raise
            gathered.refused.append(Refusal(item.name, 0, "", "", fault_of(item.name, error)))
    part, refused, twice = Settler().settle(joined(gathered.parts))
    good, suspects, said = checked(part, job, keep_suspects=keep_suspects, today=today)
    return Import(
        readings=good,
        suspects=suspects,
        refused=refused_frame([*gathered.refused, *refused]),
        understood=(*gathered.said, *said),
        duplicates=gathered.duplicates + twice,
        files=tuple(item.name for item in paths),
        unit=gathered.settings.unit,
        headers=dict(gathered.headers),
    )


def iter_readings(
    path: str | Path,
    job: Job | None = None,
    *,
    chunk: int = 100_000,
    unit: str | None = None,
    keep_suspects: bool = False,
    today: datetime.date | None = None,
) -> Iterator[Import]:
    """Yield what a folder or file holds, some readings at a time, so that a file may be larger than memory.

    Parameters
    ----------
    path, job, unit, keep_suspects, today
        As `read_readings` takes them.
    chunk : int
        About how many readings come at a time.

    Yields
    ------
    Import
        The first of a file says what was understood of it. Each reading comes once over the whole.

    Raises
    ------
    ReadingsError
        As `read_readings`.

    Notes
    -----
    Suspects are found within what comes at a time: a batch that is cut in two is judged in two parts.
    """
    paths, single = _paths_of(path)
    settler = Settler()
    for item in paths:
        gathered = Gathered(Settings.of(job, unit), part_size=chunk)
        try:
            for part in gathered.parts_of(item):
                settled, refused, twice = settler.settle(part)
                yield _import_of(gathered, item, settled, refused, twice, job, keep_suspects, today)
        except ReadingsError as error:
            if single:
                raise
            gathered.refused.append(Refusal(item.name, 0, "", "", fault_of(item.name, error)))
        if gathered.refused or gathered.said:
            yield _import_of(gathered, item, part_of([]), [], 0, job, keep_suspects, today)


def _import_of(
    gathered: Gathered,
    path: Path,
    part: pd.DataFrame,
    refused: list[Refusal],
    twice: int,
    job: Job | None,
    keep_suspects: bool,
    today: datetime.date | None,
) -> Import:
    good, suspects, said = checked(part, job, keep_suspects=keep_suspects, today=today)
    found = Import(
        readings=good,
        suspects=suspects,
        refused=refused_frame([*gathered.refused, *refused]),
        understood=(*gathered.said, *said),
        duplicates=gathered.duplicates + twice,
        files=(path.name,),
        unit=gathered.settings.unit,
        headers=dict(gathered.headers),
    )
    gathered.refused, gathered.said, gathered.duplicates = [], [], 0
    return found


def checked(
    part: pd.DataFrame, job: Job | None, *, keep_suspects: bool = False, today: datetime.date | None = None
) -> tuple[pd.DataFrame, pd.DataFrame, list[str]]:
    """Return settled readings in order of making, corrected, split into good and suspect, with what is to be said."""
    order = making_order(part)
    if not np.array_equal(order, np.arange(order.size)):
        part = part.iloc[order].reset_index(drop=True)
    confirmed = part["confirmed"].to_numpy()
    frame, said = correct(part[list(COLUMNS)], job)
    good, suspects = find_suspects(frame, job, confirmed=confirmed, keep=keep_suspects, today=today)
    return good, suspects, said


def _paths_of(path: str | Path | None) -> tuple[list[Path], bool]:
    """Return the files to read, and whether one file was named.

    Raises
    ------
    ReadingsError
        If there are none.
    """
    if path is None:
        raise ReadingsError("no folder is given; accepted is a folder with readings files, or one such file")
    place = Path(path)
    if not place.exists():
        raise ReadingsError(f"there is nothing at {place}; accepted is a folder with readings files, or one such file")
    if not place.is_dir():
        return [place], True
    paths = readings_files(place)
    if not paths:
        raise ReadingsError(
            f"there are no readings files in {place}; accepted are .csv, .xlsx and .parquet files beside job.toml"
            " (names that begin with _ are passed over)"
        )
    return paths, False


@dataclass(slots=True)
class Gathered:
    """The readings of several files as they come, with what was refused and what is to be said."""

    settings: Settings
    part_size: int = 0
    parts: list[pd.DataFrame] = field(default_factory=list)
    refused: list[Refusal] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    duplicates: int = 0
    tables: dict[bytes, str] = field(default_factory=dict)
    headers: dict[str, tuple[Path, int]] = field(default_factory=dict)

    def read_file(self, path: Path) -> None:
        """Read one file; a fault of the whole file is raised, a fault of a row is kept as refused."""
        for part in self.parts_of(path):
            self._keep(part)

    def parts_of(self, path: Path) -> Iterator[pd.DataFrame]:
        """Yield the readings of one file: a whole table at a time, or ``part_size`` rows when that is set.

        Raises
        ------
        ReadingsError
            If the file cannot be read at all. A damaged table is refused, and what came before the damage kept.
        """
        for table in read_tables(path):
            try:
                yield from self._table_parts(path, table)
            except ReadingsError as error:
                self.refused.append(Refusal(table.name, 0, "", "", fault_of(table.name, error)))

    def _table_parts(self, path: Path, table: Table) -> Iterator[pd.DataFrame]:
        self.said.extend(table.said)
        layout, header_row, rest = find_header(table, self.settings)
        if layout is None:
            return
        self.headers[table.name] = (path, header_row)
        reader = RowReader(table, layout, self.settings)
        self.said.append(layout_words(layout, table.name, self.settings.unit))
        form = is_plain(path, reader, header_row)
        parts = (
            row_parts(rest, reader, self.part_size)
            if form is None
            else block_parts(path, form, reader, header_row, 45 * (self.part_size or 250_000))
        )
        whole: list[pd.DataFrame] = []
        fault: ReadingsError | None = None
        any_rows = False
        try:
            for part, refused in parts:
                any_rows = any_rows or bool(refused) or len(part) > 0
                self.refused.extend(refused)
                if self.part_size:
                    yield part
                else:
                    whole.append(part)
        except ReadingsError as error:
            fault = error  # the rows before the damage are good
        self.said.extend(reader.said())
        if not any_rows and fault is None:
            self.said.append(f"{table.name}: there is no row below the column names, so nothing was read from it")
        if whole:
            yield joined(whole)
        if fault is not None:
            raise fault

    def _keep(self, part: pd.DataFrame) -> None:
        if part.empty:
            return
        saying = saying_of(part)
        name = str(part["file"].iloc[0])
        if saying in self.tables:
            self.duplicates += len(part)
            self.said.append(f"{name} says what {self.tables[saying]} says; its readings are kept once")
            return
        self.tables[saying] = name
        self.parts.append(part)


def fault_of(name: str, error: ReadingsError) -> str:
    """Return what is wrong with a file or a sheet without its name in front, which stands beside it."""
    said = str(error)
    return said[len(name) :].lstrip(":, ") if said.startswith(name) else said


def making_order(frame: pd.DataFrame) -> np.ndarray[Any, Any]:
    """Return the rows in order of making: by batch and feature as they came, pieces by number when all are numbers."""
    if frame.empty:
        return np.arange(0)
    group = frame.groupby(["batch", "feature"], sort=False).ngroup().to_numpy()
    code, labels = pd.factorize(frame["piece"])
    each = [int(label) if _is_number(label) else -1 for label in labels.to_numpy(dtype=object)]
    number = np.array(each, dtype=np.int64)[code]
    worded = np.bincount(group, number < 0)[group] > 0
    appearance = frame.groupby(["batch", "feature", "piece"], sort=False).ngroup().to_numpy()
    return np.lexsort((np.where(worded, appearance, number), group))


def _is_number(label: str) -> bool:
    return label.isascii() and label.isdigit() and len(label) <= 18


def find_header(table: Table, settings: Settings) -> tuple[Layout | None, int, Iterator[Row]]:
    """Return what the line of column names says, its row, and the rows below it; None when the table is empty.

    Raises
    ------
    ReadingsError
        If none of the first lines names columns.
    """
    head, rows = _beginning(table.rows)
    filled = [i for i, row in enumerate(head) if _has_text(row)]
    if not filled:
        return None, 0, rows
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
        return layout, head[i].number, itertools.chain(head[i + 1 :], rows)
    raise ReadingsError(f"{table.name}: {fault}")


def _beginning(rows: Iterator[Row]) -> tuple[list[Row], Iterator[Row]]:
    """Return the first rows and those below; damage among the first comes after the rows before it."""
    head: list[Row] = []
    try:
        for row in itertools.islice(rows, _SAMPLE):
            head.append(row)
    except ReadingsError as error:
        if not head:
            raise
        return head, _Damaged(error)
    return head, rows


class _Damaged(Iterator[Row]):
    """Rows of which there are none, because the file is damaged here."""

    def __init__(self, fault: ReadingsError) -> None:
        self.fault = fault

    def __next__(self) -> Row:
        raise self.fault


def _has_text(row: Row) -> bool:
    return any(cell.strip() for cell in row.cells) and not is_remark(row.cells)


def _trimmed(cells: list[str]) -> list[str]:
    width = len(cells)
    while width and not cells[width - 1].strip():
        width -= 1
    return cells[:width]
