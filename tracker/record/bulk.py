"""Many readings at once, out of an `Import`: all of them or none, each kept once however often it is sent."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import select

from tracker.errors import RecordError
from tracker.record import keeping
from tracker.record.chain import Ledger
from tracker.record.coded import Coded, pairs_of
from tracker.record.kinds import Bulk
from tracker.record.receiving import MM, exact_text
from tracker.record.schema import batches, imports, readings

if TYPE_CHECKING:
    import pandas as pd

    from tracker.readings.imports import Import
    from tracker.record.keeping import Revision

CHUNK = 32_768
Progress = Callable[[int, int], None]
Row = tuple[Any, ...]
Columns = dict[str, Coded]

_KEY = ("file", "feature", "batch", "piece", "position", "repeat", "typed", "unit", "time")
"""What tells one reading of a file from another; the record keeps each such key once."""


def keep_imports(
    ledger: Ledger,
    revision: Revision,
    imported: Iterable[Import],
    by: str,
    at: str,
    *,
    total: int = 0,
    progress: Progress | None = None,
) -> Bulk:
    """Keep what reading files gave, some at a time: the good readings, and the suspects as held back."""
    intake = Intake(ledger, revision, by, at, total, progress)
    for found in imported:
        intake.keep(found)
    return intake.done()


class Intake:
    """Takes in one import after another within one transaction, with little in memory at a time."""

    def __init__(
        self, ledger: Ledger, revision: Revision, by: str, at: str, total: int, progress: Progress | None
    ) -> None:
        self.ledger, self.revision, self.by, self.at = ledger, revision, by, at
        self.total, self.progress = total, progress
        self.kept = self.waiting = self.skipped = self.read = 0
        self.first: int | None = None
        self.last: int | None = None
        self._before = ledger.next_id(imports)
        self._homes: dict[tuple[str, str], int] = {}
        self._taken: dict[int, dict[tuple[str, str], set[int]]] = {}
        self._there: dict[str, set[Row]] = {}
        self._said, self._names = _imported(ledger, revision.job_id)

    def done(self) -> Bulk:
        """Return what was kept."""
        return Bulk(
            kept=self.kept,
            waiting=self.waiting,
            there_already=self.skipped,
            first_id=self.first,
            last_id=self.last,
        )

    def keep(self, found: Import) -> None:
        """Keep one import."""
        if found.unit != self.revision.job.unit:
            raise RecordError(
                f"the readings are in {found.unit} and the job is in {self.revision.job.unit};"
                " read the files with this job"
            )
        frames = [frame for frame in (found.readings, found.suspects) if len(frame)]
        for name in {name for frame in frames for name in frame["feature"].unique()}:
            keeping.known_feature(self.revision.job, name)
        prints = _fingerprints(frames)
        again = {name for name, digest in prints.items() if digest in self._said}
        counts = (len(found.readings), len(found.suspects), len(found.refused))
        number: int | None = None
        for held, frame in ((0, found.readings), (1, found.suspects)):
            for part in _parts(frame):
                columns = self._new(_columns(part, self.revision.job.unit), again)
                size = len(columns["file"])
                self.read += len(part)
                self.skipped += len(part) - size
                if size and number is None:
                    listed = json.dumps(prints, sort_keys=True)
                    row = (self.revision.job_id, listed, *counts, self.by, self.at)
                    number = self.ledger.append(imports, [row])
                if size and number is not None:
                    self._append(columns, number, held)
                if self.progress is not None:
                    self.progress(self.read, self.total)

    def _append(self, columns: Columns, number: int, held: int) -> None:
        size = len(columns["file"])
        rows = _rows(self.ledger, self.revision, columns, number, held, self._homes, self._taken, (self.by, self.at))
        start = self.ledger.append_columns(readings, rows)
        self.first = start if self.first is None else self.first
        self.last = start + size - 1
        self.kept += size
        self.waiting += held * size

    def _new(self, columns: Columns, again: set[str]) -> Columns:
        """Return the rows that were not kept by an earlier import."""
        names = set(columns["file"].values)
        for name in names & self._names - self._there.keys():
            self._there[name] = _keys(self.ledger, self.revision.job_id, name, self._before)
        there = {name: self._there.get(name, set()) for name in names}
        if not again and not any(there.values()):
            return columns
        keys = zip(*(columns[name].listed() for name in _KEY))
        keep = [i for i, key in enumerate(keys) if key[0] not in again and key not in there[key[0]]]
        return {name: column.taken(keep) for name, column in columns.items()}


def _parts(frame: pd.DataFrame) -> Iterator[pd.DataFrame]:
    for start in range(0, len(frame), CHUNK):
        yield frame.iloc[start : start + CHUNK]


def _columns(part: pd.DataFrame, unit: str) -> Columns:
    """Return the columns as the record takes them: plain Python values, each different one once."""
    columns: Columns = {}
    for name in part.columns:
        series = part[name]
        if name == "time":
            columns[name] = _times(series)
        elif series.dtype.kind == "f":
            columns[name] = Coded.of_numbers(series)
        else:
            columns[name] = Coded.of(series)
    ratio = MM[unit]
    columns["mm"] = columns["value"].told(lambda value: None if value is None else value * ratio)
    return columns


def _times(series: pd.Series[Any]) -> Coded:
    if series.isna().all():
        return Coded.same("", len(series))
    moments = Coded.of(series.to_numpy().astype("datetime64[us]").view("i8"))
    nothing = np.datetime64("NaT").view("i8")
    listed = np.array(moments.values).view("datetime64[us]").astype(object).tolist()
    texts = [
        "" if value == nothing else moment.isoformat(timespec="microseconds")
        for value, moment in zip(moments.values, listed)
    ]
    return Coded(moments.codes, texts)


def _fingerprints(frames: list[pd.DataFrame]) -> dict[str, str]:
    """Return, for each file, the digest of what it says, whatever its name is."""
    import pandas as pd

    says = [name for name in _KEY if name != "file"]
    found: dict[str, Any] = {}
    for frame in frames:
        hashes = pd.util.hash_pandas_object(frame[says], index=False).to_numpy()
        for name, rows in frame.groupby("file", sort=False).indices.items():
            found.setdefault(str(name), hashlib.sha256()).update(hashes[rows].tobytes())
    return {name: digest.hexdigest() for name, digest in found.items()}


def _imported(ledger: Ledger, job_id: int) -> tuple[set[str], set[str]]:
    """Return what imported files said before, and the names they had."""
    listed = ledger.connection.execute(select(imports.c.files).where(imports.c.job_id == job_id)).scalars()
    said: set[str] = set()
    names: set[str] = set()
    for text in listed:
        known = json.loads(text)
        names |= set(known)
        said |= set(known.values())
    return said, names


def _keys(ledger: Ledger, job_id: int, file: str, before: int) -> set[Row]:
    """Return the keys of the readings that earlier imports kept from a file of this name."""
    columns = [readings.c[name] if name in readings.c else batches.c[name] for name in _KEY]
    query = (
        select(*columns)
        .join(batches, batches.c.id == readings.c.batch_id)
        .where(batches.c.job_id == job_id, readings.c.import_id < before, readings.c.file == file)
    )
    return {tuple(row) for row in ledger.connection.execute(query)}


def _rows(
    ledger: Ledger,
    revision: Revision,
    columns: Columns,
    number: int,
    held: int,
    homes: dict[tuple[str, str], int],
    taken: dict[int, dict[tuple[str, str], set[int]]],
    kept: tuple[str, str],
) -> list[Coded]:
    """Return the columns to insert; a repeat number that is taken in the record becomes the next free one."""
    by, at = kept
    size = len(columns["file"])
    pairs = pairs_of(columns["feature"], columns["batch"])
    for pair in pairs.values:
        if pair not in homes:
            fresh = ledger.next_id(batches)
            homes[pair] = keeping.batch_id(ledger, revision, pair[0], pair[1], by, at)
            if homes[pair] < fresh:
                taken[homes[pair]] = _repeats(ledger, homes[pair])
    places = pairs.told(homes.__getitem__)
    if taken:
        columns["repeat"] = Coded.of(_free_repeats(columns, places, taken))
    comma = revision.job.decimal_comma
    typed = pairs_of(columns["typed"], pairs_of(columns["kind"], columns["unit"]))
    blank = Coded.same("", size)
    return [
        places,
        Coded.same(revision.id, size),
        Coded.same(number, size),
        columns["piece"],
        columns["position"],
        columns["repeat"],
        columns["kind"],
        columns["typed"],
        columns["unit"],
        typed.told(lambda said: exact_text(said[0], *said[1], comma)),
        columns["value"],
        columns["low"],
        columns["high"],
        columns["step"],
        columns["mm"],
        columns["applied"],
        columns["gauge"],
        columns["operator"],
        columns["note"],
        columns["time"],
        columns["temperature"],
        columns["suspect"],
        Coded.same(held, size),
        columns.get("question", blank),
        columns.get("suggestion", blank),
        columns["file"],
        columns["row"],
        Coded.same(None, size),
        Coded.same(by, size),
        Coded.same(at, size),
    ]


def _repeats(ledger: Ledger, batch: int) -> dict[tuple[str, str], set[int]]:
    query = select(readings.c.piece, readings.c.position, readings.c.repeat).where(readings.c.batch_id == batch)
    found: dict[tuple[str, str], set[int]] = {}
    for piece, position, repeat in ledger.connection.execute(query):
        found.setdefault((piece, position), set()).add(repeat)
    return found


def _free_repeats(
    columns: Columns, places: Coded, taken: dict[int, dict[tuple[str, str], set[int]]]
) -> np.ndarray[Any, Any]:
    numbers = []
    said = (places, columns["piece"], columns["position"], columns["repeat"])
    for home, piece, position, repeat in zip(*(column.listed() for column in said)):
        used = taken.get(home, {}).setdefault((piece, position), set())
        number = repeat
        while number in used:
            number += 1
        used.add(number)
        numbers.append(number)
    return np.array(numbers, dtype=np.int64)
