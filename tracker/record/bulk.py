"""Many readings at once, out of an `Import`: all of them or none, each kept once however often it is sent."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
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


def keep_import(
    ledger: Ledger, revision: Revision, found: Import, by: str, at: str, progress: Progress | None = None
) -> Bulk:
    """Keep what reading files gave: the good readings, and the suspects as held back."""
    if found.unit != revision.job.unit:
        raise RecordError(
            f"the readings are in {found.unit} and the job is in {revision.job.unit}; read the files with this job"
        )
    frames = [frame for frame in (found.readings, found.suspects) if len(frame)]
    total = sum(len(frame) for frame in frames)
    for name in {name for frame in frames for name in frame["feature"].unique()}:
        keeping.known_feature(revision.job, name)
    prints = _fingerprints(frames)
    seen_files, there = _there(ledger, revision.job_id, set(prints))
    again = {name for name, digest in prints.items() if digest in seen_files}
    counts = (len(found.readings), len(found.suspects), len(found.refused))
    kept = waiting = skipped = done = 0
    first: int | None = None
    last: int | None = None
    number: int | None = None
    homes: dict[tuple[str, str], int] = {}
    taken: dict[int, dict[tuple[str, str], set[int]]] = {}
    for held, frame in ((0, found.readings), (1, found.suspects)):
        for part in _parts(frame):
            columns = _columns(part, revision.job.unit)
            keep = _wanted(columns, there, again)
            if keep is not None:
                columns = {name: [values[i] for i in keep] for name, values in columns.items()}
            size = len(columns["file"])
            done += len(part)
            skipped += len(part) - size
            if size:
                if number is None:
                    listed = json.dumps(prints, sort_keys=True)
                    number = ledger.append(imports, [(revision.job_id, listed, *counts, by, at)])
                rows = _rows(ledger, revision, columns, number, held, homes, taken, (by, at))
                start = ledger.append_columns(readings, rows)
                first, last = (start if first is None else first), start + size - 1
                kept += size
                waiting += held * size
            if progress is not None:
                progress(done, total)
    return Bulk(kept=kept, waiting=waiting, there_already=skipped, first_id=first, last_id=last)


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


def _there(ledger: Ledger, job_id: int, files: set[str]) -> tuple[set[str], set[Row]]:
    """Return what imported files said before, and the keys of the readings from files of these names."""
    connection = ledger.connection
    listed = connection.execute(select(imports.c.files).where(imports.c.job_id == job_id)).scalars().all()
    said: set[str] = set()
    names: set[str] = set()
    for text in listed:
        known = json.loads(text)
        names |= set(known)
        said |= set(known.values())
    if not names & files:
        return said, set()
    columns = [readings.c[name] if name in readings.c else batches.c[name] for name in _KEY]
    query = (
        select(*columns)
        .join(batches, batches.c.id == readings.c.batch_id)
        .where(batches.c.job_id == job_id, readings.c.import_id.is_not(None), readings.c.file.in_(names & files))
    )
    return said, {tuple(row) for row in connection.execute(query)}


def _wanted(columns: dict[str, list[Any]], there: set[Row], again: set[str]) -> list[int] | None:
    """Return which rows are new, None for all of them."""
    if not there and not again:
        return None
    files = columns["file"]
    keys = zip(*(columns[name] for name in _KEY))
    return [i for i, key in enumerate(keys) if key not in there and files[i] not in again]


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
