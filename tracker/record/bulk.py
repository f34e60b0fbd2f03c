"""Many readings at once, out of an `Import`: all of them or none, each kept once however often it is sent."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from tracker.errors import RecordError
from tracker.record import keeping
from tracker.record.chain import Ledger
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

    def _append(self, columns: dict[str, list[Any]], number: int, held: int) -> None:
        size = len(columns["file"])
        rows = _rows(self.ledger, self.revision, columns, number, held, self._homes, self._taken, (self.by, self.at))
        start = self.ledger.append_columns(readings, rows)
        self.first = start if self.first is None else self.first
        self.last = start + size - 1
        self.kept += size
        self.waiting += held * size

    def _new(self, columns: dict[str, list[Any]], again: set[str]) -> dict[str, list[Any]]:
        """Return the rows that were not kept by an earlier import."""
        files = columns["file"]
        names = set(files)
        for name in names & self._names - self._there.keys():
            self._there[name] = _keys(self.ledger, self.revision.job_id, name, self._before)
        there = {name: self._there.get(name, set()) for name in names}
        if not again and not any(there.values()):
            return columns
        keys = zip(*(columns[name] for name in _KEY))
        keep = [i for i, key in enumerate(keys) if files[i] not in again and key not in there[files[i]]]
        return {name: [values[i] for i in keep] for name, values in columns.items()}


def _parts(frame: pd.DataFrame) -> Iterator[pd.DataFrame]:
    for start in range(0, len(frame), CHUNK):
        yield frame.iloc[start : start + CHUNK]


def _columns(part: pd.DataFrame, unit: str) -> dict[str, list[Any]]:
    """Return the columns as plain lists: numpy numbers made plain, not-a-number and open ends made None."""
    import numpy as np

    columns: dict[str, list[Any]] = {}
    for name in part.columns:
        series = part[name]
        if name == "time":
            columns[name] = _times(series)
        elif series.dtype.kind == "f":
            values = series.to_numpy() + 0.0  # minus nothing is nothing: SQLite keeps no sign of zero
            plain = values.tolist()
            odd = np.flatnonzero(~np.isfinite(values)).tolist()
            for i in odd:
                plain[i] = None
            columns[name] = plain
        else:
            columns[name] = series.tolist()
    ratio = MM[unit]
    columns["mm"] = [None if value is None else value * ratio for value in columns["value"]]
    return columns


def _times(series: pd.Series[Any]) -> list[str]:
    if series.isna().all():
        return [""] * len(series)
    return ["" if moment is None else moment.isoformat(timespec="microseconds") for moment in _moments(series)]


def _moments(series: pd.Series[Any]) -> list[Any]:
    found: list[Any] = series.to_numpy().astype("datetime64[us]").astype(object).tolist()
    return found


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
    columns: dict[str, list[Any]],
    number: int,
    held: int,
    homes: dict[tuple[str, str], int],
    taken: dict[int, dict[tuple[str, str], set[int]]],
    kept: tuple[str, str],
) -> list[list[Any]]:
    """Return the columns to insert; a repeat number that is taken in the record becomes the next free one."""
    by, at = kept
    size = len(columns["file"])
    pairs = list(zip(columns["feature"], columns["batch"]))
    for pair in dict.fromkeys(pairs):
        if pair not in homes:
            fresh = ledger.next_id(batches)
            homes[pair] = keeping.batch_id(ledger, revision, *pair, by, at)
            if homes[pair] < fresh:
                taken[homes[pair]] = _repeats(ledger, homes[pair])
    places = [homes[pair] for pair in pairs]
    if taken:
        columns["repeat"] = _free_repeats(columns, places, taken)
    comma = revision.job.decimal_comma
    blank = [""] * size
    return [
        places,
        [revision.id] * size,
        [number] * size,
        columns["piece"],
        columns["position"],
        columns["repeat"],
        columns["kind"],
        columns["typed"],
        columns["unit"],
        list(map(exact_text, columns["typed"], columns["kind"], columns["unit"], [comma] * size)),
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
        [held] * size,
        columns.get("question", blank),
        columns.get("suggestion", blank),
        columns["file"],
        columns["row"],
        [None] * size,
        [by] * size,
        [at] * size,
    ]


def _repeats(ledger: Ledger, batch: int) -> dict[tuple[str, str], set[int]]:
    query = select(readings.c.piece, readings.c.position, readings.c.repeat).where(readings.c.batch_id == batch)
    found: dict[tuple[str, str], set[int]] = {}
    for piece, position, repeat in ledger.connection.execute(query):
        found.setdefault((piece, position), set()).add(repeat)
    return found


def _free_repeats(
    columns: dict[str, list[Any]], places: list[int], taken: dict[int, dict[tuple[str, str], set[int]]]
) -> list[int]:
    numbers = []
    for home, piece, position, repeat in zip(places, columns["piece"], columns["position"], columns["repeat"]):
        used = taken.get(home, {}).setdefault((piece, position), set())
        number = repeat
        while number in used:
            number += 1
        used.add(number)
        numbers.append(number)
    return numbers
