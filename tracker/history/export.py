"""Batches of a record as a history, streamed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tracker.history.writing import HistoryWriter, runs_of_labels
from tracker.plurals import noun
from tracker.result import Result

if TYPE_CHECKING:
    import pandas as pd

    from tracker.job import Job
    from tracker.record import BatchInfo, JobInfo, Record

MOST_AT_ONCE = 500_000
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported(Result):
    """What an export wrote."""

    folder: str
    jobs: int
    batches: int
    readings: int
    waiting: int

    def __str__(self) -> str:
        words = (
            f"{self.readings:,} {noun(self.readings, 'reading')} of {self.batches:,}"
            f" {noun(self.batches, 'batch', 'batches')} out of {self.jobs:,} {noun(self.jobs, 'job')}"
            f" {noun(self.readings, 'is', 'are')} in {self.folder}"
        )
        if self.waiting:
            words += f"; {self.waiting:,} {noun(self.waiting, 'suspect waits', 'suspects wait')} to be confirmed and"
            words += f" {noun(self.waiting, 'is', 'are')} left out"
        return words


def export_history(record: Record, folder: str | Path, *, progress: Progress | None = None) -> Exported:
    """Write all batches of a record as a history; see `tracker.history.layout` for what is written.

    Parameters
    ----------
    record : Record
        SQLite or PostgreSQL. It may be in use; a job (a feature or batch of it, where it is large) is read in one
        transaction, and a batch begun meanwhile is left for the next export.
    folder : str or pathlib.Path
        Must not be there yet, or be empty. It appears when all is written.
    progress : callable, optional
        Called with the readings done and the readings in all.

    Returns
    -------
    Exported

    Raises
    ------
    HistoryError
        If the folder holds something or cannot be written, or pyarrow is missing.
    RecordError
        If the record cannot be read.

    Notes
    -----
    Readings that count are written: struck-out ones and suspects that wait are not. Every batch keeps the limits of
    the revision it was begun under. In memory at once: a job, or a feature of it, of up to half a million readings,
    else one batch.

    References
    ----------
    Tests: ``tests/tracker/history/test_export.py``.
    """
    jobs = sorted(record.jobs(), key=lambda info: info.id)
    total = sum(info.readings for info in jobs)
    with HistoryWriter(folder) as writer:
        for info in jobs:
            for listed, frame in _parts(record, info):
                first = writer.add_batches(_batch_rows(record, info, listed, frame))
                if len(frame):
                    writer.add_readings(_columns(writer, listed, first, frame))
                if progress is not None:
                    progress(writer.readings, max(total, writer.readings))
    return Exported(
        folder=str(folder),
        jobs=len(jobs),
        batches=writer.batches,
        readings=writer.readings,
        waiting=sum(info.waiting for info in jobs),
    )


def _parts(record: Record, info: JobInfo) -> Iterator[tuple[list[BatchInfo], pd.DataFrame]]:
    """Yield the batches of a job with their readings: all at once, or a feature or a batch where there are many."""
    listed = record.batches(info.id)
    if info.readings <= MOST_AT_ONCE:
        yield listed, record.readings(info.id).readings
        return
    for feature in dict.fromkeys(batch.feature for batch in listed):
        mine = [batch for batch in listed if batch.feature == feature]
        if sum(batch.readings for batch in mine) <= MOST_AT_ONCE:
            yield mine, record.readings(info.id, feature).readings
            continue
        for batch in mine:
            yield [batch], record.readings(info.id, feature, batch=batch.batch).readings


def _batch_rows(record: Record, info: JobInfo, listed: list[BatchInfo], frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of the table of batches."""
    groups = frame.groupby(["feature", "batch"], sort=False)
    counts: dict[Any, int] = {key: len(rows) for key, rows in groups.indices.items()}
    times: dict[Any, Any] = groups["time"].min().dropna().to_dict()
    revisions = {number: record.job(info.id, number) for number in {batch.revision for batch in listed}}
    rows = []
    for batch in listed:
        key = (batch.feature, batch.batch)
        begun = times[key].isoformat() if key in times else batch.begun
        rows.append(
            described(revisions[batch.revision], batch.feature)
            | {
                "job": info.id,
                "record_batch": batch.id,
                "label": batch.batch,
                "begun": begun,
                "month": begun[:7],
                "revision": batch.revision,
                "readings": int(counts.get(key, 0)),
            }
        )
    return rows


def described(job: Job, name: str) -> dict[str, Any]:
    """Return what a job says of a feature, as the columns of the table of batches."""
    feature, gauge = job.features[name], job.gauge_of(name)
    return {
        "part": feature.part or job.name,
        "feature": name,
        "unit": job.unit,
        "kind": feature.kind,
        "nominal": feature.nominal,
        "target": feature.aim,
        "lower": feature.lower,
        "upper": feature.upper,
        "rule": feature.rule or "",
        "machine": feature.machine.name,
        "tool": feature.machine.tool,
        "gauge": feature.gauge or "",
        "resolution": None if gauge is None else gauge.resolution,
    }


def _columns(writer: HistoryWriter, listed: list[BatchInfo], first: int, frame: pd.DataFrame) -> dict[str, Any]:
    """Return the columns of the readings of some batches, in the order in which they are written."""
    number: dict[Any, int] = {(batch.feature, batch.batch): first + i for i, batch in enumerate(listed)}
    groups = frame.groupby(["feature", "batch"], sort=False)
    keys = np.array([number.get(key, -1) for key in groups.groups], dtype=np.int64)
    batch = keys[groups.ngroup().to_numpy()]
    together = np.argsort(batch, kind="stable")[int((batch < 0).sum()) :]  # none of a batch begun meanwhile
    frame, batch = frame.iloc[together], batch[together]
    piece = runs_of_labels(batch, frame["piece"].factorize()[0])
    position = runs_of_labels(batch, frame["position"].factorize()[0])
    order = np.lexsort((position, piece, batch))
    frame = frame.iloc[order]
    coded: dict[str, Any] = {}
    for what in ("gauge", "operator"):
        codes, names = frame[what].factorize()
        coded[what] = np.array([writer.code(what, str(name)) for name in names], dtype=np.int64)[codes]
    sized = frame["kind"].to_numpy() != "go_no_go"
    low, high = frame["low"].to_numpy(), frame["high"].to_numpy()
    return {
        "batch": batch[order],
        "piece": piece[order],
        "position": position[order],
        "value": frame["value"].to_numpy(),
        **coded,
        "repeat": frame["repeat"].to_numpy(),
        "low": np.where(sized, np.nan, low),
        "high": np.where(sized, np.nan, high),
        "step": frame["step"].to_numpy(),
        "time": frame["time"].to_numpy(),
        "reading": frame["id"].to_numpy(),
        "piece_label": frame["piece"].to_numpy(dtype=object),
        "position_label": frame["position"].to_numpy(dtype=object),
    }
