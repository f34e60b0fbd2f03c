"""Looking into the record: one query for each question, no row-by-row loops."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
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
    strike_outs,
)

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


def _tally(where: Any) -> Any:
    return func.coalesce(func.sum(case((where, 1), else_=0)), 0)


def job_infos(connection: Connection, job_id: int | None = None) -> list[JobInfo]:
    """Return the jobs with their counts, newest first; or the one that is named."""
    latest = (
        select(job_revisions.c.job_id, func.max(job_revisions.c.number).label("number"))
        .group_by(job_revisions.c.job_id)
        .subquery()
    )
    per_piece = _with_fate(
        select(
            batches.c.job_id,
            _tally(_COUNTS).label("good"),
            _tally(_WAITING).label("waiting"),
            _tally(_STRUCK).label("struck"),
            func.max(readings.c.id).label("last_id"),
        )
    ).group_by(batches.c.job_id, readings.c.batch_id, readings.c.piece)
    if job_id is not None:
        per_piece = per_piece.where(batches.c.job_id == int(job_id))
    one = per_piece.subquery()
    counted = (
        select(
            one.c.job_id,
            func.sum(one.c.good).label("good"),
            func.sum(one.c.waiting).label("waiting"),
            func.sum(one.c.struck).label("struck"),
            func.sum(case((one.c.good > 0, 1), else_=0)).label("pieces"),
            func.max(one.c.last_id).label("last_id"),
        )
        .group_by(one.c.job_id)
        .subquery()
    )
    query = (
        select(
            jobs.c.id,
            jobs.c.unit,
            jobs.c.kept_at,
            jobs.c.kept_by,
            job_revisions.c.name,
            job_revisions.c.number,
            counted.c.good,
            counted.c.waiting,
            counted.c.struck,
            counted.c.pieces,
            readings.c.kept_at.label("last"),
        )
        .join(latest, latest.c.job_id == jobs.c.id)
        .join(
            job_revisions,
            and_(job_revisions.c.job_id == jobs.c.id, job_revisions.c.number == latest.c.number),
        )
        .outerjoin(counted, counted.c.job_id == jobs.c.id)
        .outerjoin(readings, readings.c.id == counted.c.last_id)
        .order_by(jobs.c.id.desc())
    )
    if job_id is not None:
        query = query.where(jobs.c.id == int(job_id))
    return [
        JobInfo(
            id=row.id,
            name=row.name,
            unit=row.unit,
            revision=row.number,
            created=row.kept_at,
            by=row.kept_by,
            readings=int(row.good or 0),
            waiting=int(row.waiting or 0),
            struck=int(row.struck or 0),
            pieces=int(row.pieces or 0),
            last_reading=row.last,
        )
        for row in connection.execute(query)
    ]


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


def entries(
    connection: Connection, job_id: int, feature: str | None = None, *, last: int | None = 20, after_id: int = 0
) -> list[LogEntry]:
    """Return readings with their fate: the last ones newest first, or all after an id in order."""
    query = _ENTRY.where(batches.c.job_id == int(job_id))
    if feature is not None:
        query = query.where(batches.c.feature == feature)
    if last is not None:
        return [_entry(row) for row in connection.execute(query.order_by(readings.c.id.desc()).limit(int(last)))]
    query = query.where(readings.c.id > int(after_id)).order_by(readings.c.id)
    return [_entry(row) for row in connection.execute(query)]


def one_entry(connection: Connection, reading_id: int) -> LogEntry | None:
    """Return one reading with its fate, None where there is none."""
    row = connection.execute(_ENTRY.where(readings.c.id == int(reading_id))).first()
    return None if row is None else _entry(row)


def log_state(
    connection: Connection, job_id: int, feature: str, unit: str, *, batch: str | None, last: int, most_pieces: int
) -> LogState:
    """Return what the Log page shows of one feature."""
    here = and_(batches.c.job_id == int(job_id), batches.c.feature == feature)
    if batch is not None:
        here = and_(here, batches.c.batch == batch)
    per_piece = _with_fate(
        select(
            readings.c.batch_id,
            batches.c.batch,
            readings.c.piece,
            func.min(readings.c.id).label("first_id"),
            _tally(_COUNTS).label("good"),
            _tally(_WAITING).label("waiting"),
            _tally(_STRUCK).label("struck"),
        )
    ).where(here)
    grouped = per_piece.group_by(readings.c.batch_id, batches.c.batch, readings.c.piece).subquery()
    totals = connection.execute(
        select(
            func.coalesce(func.sum(grouped.c.good), 0),
            func.coalesce(func.sum(grouped.c.waiting), 0),
            func.coalesce(func.sum(grouped.c.struck), 0),
            func.coalesce(func.sum(case((grouped.c.good > 0, 1), else_=0)), 0),
        )
    ).one()
    latest = select(grouped).order_by(grouped.c.first_id.desc()).limit(int(most_pieces)).subquery()
    rows = connection.execute(
        _with_fate(
            select(
                batches.c.batch,
                readings.c.piece,
                readings.c.position,
                readings.c.value,
                readings.c.low,
                readings.c.high,
                case((_COUNTS, 1), else_=0).label("counts"),
                case((_WAITING, 1), else_=0).label("waiting"),
                latest.c.first_id,
            )
        )
        .join(latest, and_(latest.c.batch_id == readings.c.batch_id, latest.c.piece == readings.c.piece))
        .order_by(latest.c.first_id, readings.c.id)
    ).all()
    shown = entries_here(connection, here, last)
    newest = connection.execute(select(func.coalesce(func.max(readings.c.id), 0))).scalar_one()
    return LogState(
        job_id=int(job_id),
        feature=feature,
        batch=batch,
        unit=unit,
        pieces=_pieces(rows),
        entries=shown,
        readings=int(totals[0]),
        waiting=int(totals[1]),
        struck=int(totals[2]),
        piece_count=int(totals[3]),
        last_id=int(newest),
    )


def entries_here(connection: Connection, here: Any, last: int) -> tuple[LogEntry, ...]:
    """Return the last readings of a batch or feature, newest first."""
    query = _ENTRY.where(here).order_by(readings.c.id.desc()).limit(int(last))
    return tuple(_entry(row) for row in connection.execute(query))


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


def batch_infos(connection: Connection, job_id: int) -> list[BatchInfo]:
    """Return the batches of a job in the order they were begun."""
    counted = _with_fate(select(readings.c.batch_id, _tally(_COUNTS).label("good"))).group_by(readings.c.batch_id)
    number = counted.subquery()
    query = (
        select(batches.c.id, batches.c.feature, batches.c.batch, job_revisions.c.number, number.c.good)
        .join(job_revisions, job_revisions.c.id == batches.c.revision_id)
        .outerjoin(number, number.c.batch_id == batches.c.id)
        .where(batches.c.job_id == int(job_id))
        .order_by(batches.c.id)
    )
    return [
        BatchInfo(id=row.id, feature=row.feature, batch=row.batch, revision=row.number, readings=int(row.good or 0))
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
    query = select(gauges).where(gauges.c.id.in_(last)).order_by(gauges.c.name)
    names = ("id", "name", "serial", "unit", "resolution", "calibration", "correction", "note")
    return [
        GaugeInfo(
            **{name: getattr(row, name) for name in names},
            calibrated=_date(row.calibrated),
            due=_date(row.due),
            by=row.kept_by,
            at=row.kept_at,
        )
        for row in connection.execute(query)
    ]


def _date(text: str) -> datetime.date | None:
    return datetime.date.fromisoformat(text) if text else None
