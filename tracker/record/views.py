"""Looking into the record: one query for each question, no row-by-row loops."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Select, and_, case, func, select

from tracker.record.kinds import (
    Baseline,
    BatchInfo,
    GaugeInfo,
    JobInfo,
    KeptEvent,
    LogEntry,
    LogState,
    Piece,
    SignOff,
)
from tracker.record.schema import (
    baselines,
    batches,
    confirmations,
    events,
    gauges,
    job_revisions,
    jobs,
    readings,
    sign_offs,
    strike_outs,
)
from tracker.record.tallies import Tally

READINGS_A_PIECE = 20
"""So many readings a piece are looked through, to find the latest pieces."""

_STRUCK = strike_outs.c.id.is_not(None)
_WAITING = and_(readings.c.held == 1, confirmations.c.id.is_(None), strike_outs.c.id.is_(None))
_COUNTS = and_(strike_outs.c.id.is_(None), (readings.c.held == 0) | confirmations.c.id.is_not(None))


def _with_fate(query: Select[Any]) -> Select[Any]:
    """Join readings with their batch and with what became of them."""
    return query.select_from(
        readings.join(batches, batches.c.id == readings.c.batch_id)
        .outerjoin(strike_outs, strike_outs.c.reading_id == readings.c.id)
        .outerjoin(confirmations, confirmations.c.reading_id == readings.c.id)
    )


_JOBS = (
    select(jobs.c.id, jobs.c.unit, jobs.c.kept_at, jobs.c.kept_by, job_revisions.c.name, job_revisions.c.number)
    .join(job_revisions, job_revisions.c.job_id == jobs.c.id)
    .order_by(jobs.c.id.desc(), job_revisions.c.number.desc())
)


def job_infos(connection: Connection, tallies: Mapping[int, Tally], job_id: int | None = None) -> list[JobInfo]:
    """Return the jobs with their counts, newest first; or the one that is named."""
    query, homes = _JOBS, select(batches.c.id, batches.c.job_id)
    if job_id is not None:
        query, homes = query.where(jobs.c.id == int(job_id)), homes.where(batches.c.job_id == int(job_id))
    counted: dict[int, list[Tally]] = {}
    for batch, job in connection.execute(homes):
        if batch in tallies:
            counted.setdefault(job, []).append(tallies[batch])
    last = {job: max(tally.last_id for tally in found) for job, found in counted.items()}
    times = select(readings.c.id, readings.c.kept_at).where(readings.c.id.in_(last.values()))
    when = {row.id: row.kept_at for row in connection.execute(times)} if last else {}
    latest: dict[int, JobInfo] = {}
    for row in connection.execute(query):
        if row.id in latest:
            continue
        found = counted.get(row.id, [])
        latest[row.id] = JobInfo(
            id=row.id,
            name=row.name,
            unit=row.unit,
            revision=row.number,
            created=row.kept_at,
            by=row.kept_by,
            readings=sum(tally.good for tally in found),
            waiting=sum(tally.waiting for tally in found),
            struck=sum(tally.struck for tally in found),
            pieces=sum(tally.pieces for tally in found),
            last_reading=when.get(last.get(row.id, 0)),
        )
    return list(latest.values())


_ENTRY = _with_fate(
    select(
        readings.c.id,
        batches.c.feature,
        batches.c.batch,
        readings.c.piece,
        readings.c.position,
        readings.c.repeat,
        readings.c.kind,
        readings.c.typed,
        readings.c.unit,
        readings.c.value,
        readings.c.low,
        readings.c.high,
        readings.c.applied,
        readings.c.gauge,
        readings.c.operator,
        readings.c.note,
        readings.c.time,
        readings.c.suspect,
        readings.c.question,
        readings.c.suggestion,
        case((_WAITING, 1), else_=0).label("waiting"),
        case((_STRUCK, 1), else_=0).label("struck"),
        readings.c.kept_by,
        readings.c.kept_at,
        confirmations.c.kept_by.label("confirmed_by"),
        confirmations.c.kept_at.label("confirmed_at"),
        strike_outs.c.reason.label("struck_reason"),
        strike_outs.c.kept_by.label("struck_by"),
        strike_outs.c.kept_at.label("struck_at"),
    )
)


def _entry(row: Any) -> LogEntry:
    values = dict(row._mapping)
    return LogEntry(**(values | {"waiting": bool(row.waiting), "struck": bool(row.struck)}))


def entries_since(
    connection: Connection, job_id: int, feature: str | None, *, after_id: int, most: int | None
) -> list[LogEntry]:
    """Return the readings of a job after an id, in order, with their fate."""
    query = _ENTRY.where(batches.c.job_id == int(job_id), readings.c.id > int(after_id)).order_by(readings.c.id)
    if feature is not None:
        query = query.where(batches.c.feature == feature)
    return [_entry(row) for row in connection.execute(query if most is None else query.limit(int(most)))]


def judged_entries(connection: Connection, job_id: int) -> list[LogEntry]:
    """Return the readings of a job that somebody struck out or confirmed, in order."""
    fates = [select(table.c.reading_id) for table in (strike_outs, confirmations)]
    query = _ENTRY.where(batches.c.job_id == int(job_id), readings.c.id.in_(fates[0].union(fates[1])))
    return [_entry(row) for row in connection.execute(query.order_by(readings.c.id))]


def one_entry(connection: Connection, reading_id: int) -> LogEntry | None:
    """Return one reading with its fate, None where there is none."""
    row = connection.execute(_ENTRY.where(readings.c.id == int(reading_id))).first()
    return None if row is None else _entry(row)


def log_state(
    connection: Connection,
    tallies: Mapping[int, Tally],
    job_id: int,
    feature: str,
    unit: str,
    *,
    batch: str | None,
    last: int,
    most_pieces: int,
) -> LogState:
    """Return what the Log page shows of one feature; the work does not grow with what was kept before."""
    query = select(batches.c.id, batches.c.batch).where(batches.c.job_id == int(job_id), batches.c.feature == feature)
    if batch is not None:
        query = query.where(batches.c.batch == batch)
    homes = [row.id for row in connection.execute(query) if row.id in tallies]
    homes.sort(key=lambda home: tallies[home].last_id, reverse=True)
    counted = [tallies[home] for home in homes]
    newest = connection.execute(select(func.coalesce(func.max(readings.c.id), 0))).scalar_one()
    return LogState(
        job_id=int(job_id),
        feature=feature,
        batch=batch,
        unit=unit,
        pieces=_pieces(_piece_rows(connection, homes, int(most_pieces))),
        entries=_last_entries(connection, homes, tallies, int(last)),
        readings=sum(tally.good for tally in counted),
        waiting=sum(tally.waiting for tally in counted),
        struck=sum(tally.struck for tally in counted),
        piece_count=sum(tally.pieces for tally in counted),
        last_id=int(newest),
    )


def _last_entries(
    connection: Connection, homes: Sequence[int], tallies: Mapping[int, Tally], last: int
) -> tuple[LogEntry, ...]:
    """Return the last readings of some batches, newest first; batches that are too old for it are not asked."""
    found: list[LogEntry] = []
    for home in homes:
        if len(found) >= last and found[last - 1].id > tallies[home].last_id:
            break
        query = _ENTRY.where(readings.c.batch_id == home).order_by(readings.c.id.desc()).limit(last)
        found += [_entry(row) for row in connection.execute(query)]
        found.sort(key=lambda entry: entry.id, reverse=True)
    return tuple(found[:last])


_PIECE_ROWS = _with_fate(
    select(
        batches.c.batch,
        readings.c.id,
        readings.c.piece,
        readings.c.position,
        readings.c.value,
        readings.c.low,
        readings.c.high,
        case((_COUNTS, 1), else_=0).label("counts"),
        case((_WAITING, 1), else_=0).label("waiting"),
    )
)


def _piece_rows(connection: Connection, homes: Sequence[int], most: int) -> list[Any]:
    """Return the readings of the latest pieces of some batches, in the order they were kept."""
    rows: list[Any] = []
    for home in homes:
        query = select(readings.c.piece).where(readings.c.batch_id == home)
        latest = connection.execute(query.order_by(readings.c.id.desc()).limit(READINGS_A_PIECE * most)).scalars()
        pieces = list(dict.fromkeys(latest))[:most]
        here = and_(readings.c.batch_id == home, readings.c.piece.in_(pieces))
        rows += connection.execute(_PIECE_ROWS.where(here)).all()
        most -= len(pieces)
        if most <= 0:
            break
    return sorted(rows, key=lambda row: row.id)


def _pieces(rows: Sequence[Any]) -> tuple[Piece, ...]:
    grouped: dict[tuple[str, str], list[Any]] = {}
    for row in rows:
        grouped.setdefault((row.batch, row.piece), []).append(row)
    found = []
    for (batch, piece), group in grouped.items():
        good = [row for row in group if row.counts]
        sized = [row for row in good if row.value is not None]
        waiting = sum(row.waiting for row in group)
        if not good and not waiting:
            continue
        found.append(
            Piece(
                batch=batch,
                piece=piece,
                values=tuple(row.value for row in sized),
                positions=tuple(row.position for row in sized),
                bounds=tuple((row.low, row.high) for row in good if row.value is None),
                waiting=waiting,
            )
        )
    if all(item.piece.isdecimal() for item in found):
        found.sort(key=lambda item: (item.batch, int(item.piece)))
    return tuple(found)


def batch_infos(connection: Connection, tallies: Mapping[int, Tally], job_id: int) -> list[BatchInfo]:
    """Return the batches of a job in the order they were begun."""
    query = (
        select(batches.c.id, batches.c.feature, batches.c.batch, batches.c.kept_at, job_revisions.c.number)
        .join(job_revisions, job_revisions.c.id == batches.c.revision_id)
        .where(batches.c.job_id == int(job_id))
        .order_by(batches.c.id)
    )
    return [
        BatchInfo(
            id=row.id,
            feature=row.feature,
            batch=row.batch,
            revision=row.number,
            readings=tallies[row.id].good if row.id in tallies else 0,
            begun=row.kept_at,
        )
        for row in connection.execute(query)
    ]


def kept_events(connection: Connection, job_id: int, feature: str | None = None) -> list[KeptEvent]:
    """Return the events of a job in the order they were kept."""
    query = select(events).where(events.c.job_id == int(job_id)).order_by(events.c.id)
    if feature is not None:
        query = query.where(events.c.feature == feature)
    return [
        KeptEvent(
            id=row.id,
            feature=row.feature,
            after_piece=row.after_piece,
            event=row.event,
            amount=row.amount,
            batch=row.batch,
            note=row.note,
            by=row.kept_by,
            at=row.kept_at,
        )
        for row in connection.execute(query)
    ]


def latest_baseline(connection: Connection, job_id: int, feature: str, chart: str) -> Baseline | None:
    """Return the frozen limits of a chart, None where none were frozen."""
    query = (
        select(baselines)
        .where(baselines.c.job_id == int(job_id), baselines.c.feature == feature, baselines.c.chart == chart)
        .order_by(baselines.c.id.desc())
        .limit(1)
    )
    row = connection.execute(query).first()
    if row is None:
        return None
    names = ("id", "feature", "chart", "centre", "sd", "pieces", "first_piece", "last_piece", "note")
    return Baseline(**{name: getattr(row, name) for name in names}, by=row.kept_by, at=row.kept_at)


def gauge_infos(connection: Connection) -> list[GaugeInfo]:
    """Return the register of gauges: the last entry of each, by name."""
    last = select(func.max(gauges.c.id)).group_by(gauges.c.name)
    query = select(gauges).where(gauges.c.id.in_(last))
    names = ("id", "name", "serial", "unit", "resolution", "calibration", "correction", "note")
    found = [
        GaugeInfo(
            **{name: getattr(row, name) for name in names},
            calibrated=_date(row.calibrated),
            due=_date(row.due),
            by=row.kept_by,
            at=row.kept_at,
        )
        for row in connection.execute(query)
    ]
    return sorted(found, key=lambda gauge: gauge.name)


def kept_sign_offs(connection: Connection, job_id: int) -> list[SignOff]:
    """Return what was signed off of a job, newest first."""
    newest = select(func.max(job_revisions.c.id)).where(job_revisions.c.job_id == int(job_id)).scalar_subquery()
    query = (
        select(sign_offs, job_revisions.c.number.label("revision"), newest.label("newest"))
        .join(job_revisions, job_revisions.c.id == sign_offs.c.revision_id)
        .where(sign_offs.c.job_id == int(job_id))
        .order_by(sign_offs.c.id.desc())
    )
    names = ("id", "sheet", "subject", "revision", "fingerprint", "verdict", "note")
    return [
        SignOff(
            **{name: getattr(row, name) for name in names},
            latest=row.revision_id == row.newest,
            by=row.kept_by,
            at=row.kept_at,
        )
        for row in connection.execute(query)
    ]


def _date(text: str) -> datetime.date | None:
    return datetime.date.fromisoformat(text) if text else None
