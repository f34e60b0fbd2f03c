"""Putting into the record: jobs, readings, strike-outs, confirmations, events, baselines, gauges."""

from __future__ import annotations

import datetime
import hashlib
import math
from dataclasses import dataclass, fields
from typing import Any

from sqlalchemy import Connection, bindparam, select

from tracker.errors import JobError, NotInRecord, ReadingsError, RecordError
from tracker.job import Job, parse_job
from tracker.record.chain import Ledger
from tracker.record.gauge_dates import with_register
from tracker.record.kinds import Kept
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
from tracker.record.views import gauge_infos

EVENTS = ("tool_change", "offset_change", "dressing", "setup")


def utc(now: datetime.datetime | None) -> str:
    """Return a moment as text in UTC; without one, this moment."""
    moment = datetime.datetime.now(datetime.UTC) if now is None else now
    if moment.tzinfo is None:
        moment = moment.astimezone()
    return moment.astimezone(datetime.UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


@dataclass(frozen=True, slots=True)
class Revision:
    """A revision of a job as the record knows it."""

    id: int
    job_id: int
    number: int
    job: Job


_LATEST = (
    select(job_revisions.c.id, job_revisions.c.number)
    .where(job_revisions.c.job_id == bindparam("job_id"))
    .order_by(job_revisions.c.number.desc())
    .limit(1)
)
_TEXT = select(job_revisions.c.text).where(job_revisions.c.id == bindparam("id"))


class Revisions:
    """The parsed jobs by revision, with what the register knows of their gauges.

    A revision never changes, so each is read once; a new entry in the register makes all be read again.
    """

    def __init__(self) -> None:
        self._read: dict[int, Revision] = {}

    def forget(self) -> None:
        """Forget what was read: the record was put back to an earlier state, or a gauge was entered."""
        self._read.clear()

    def known(self, revision_id: int | None, job_id: int) -> Revision | None:
        """Return a revision that was read before, None otherwise."""
        found = self._read.get(revision_id) if revision_id is not None else None
        return found if found is not None and found.job_id == job_id else None

    def latest(self, connection: Connection, job_id: int) -> Revision:
        """Return the latest revision of a job.

        Raises
        ------
        RecordError
            If there is no such job.
        """
        found = connection.execute(_LATEST, {"job_id": int(job_id)}).first()
        return self._revision(connection, job_id, found)

    def numbered(self, connection: Connection, job_id: int, number: int | None) -> Revision:
        """Return a revision of a job by its number, the latest for None.

        Raises
        ------
        RecordError
            If there is no such job or revision.
        """
        if number is None:
            return self.latest(connection, job_id)
        query = select(job_revisions.c.id, job_revisions.c.number)
        here = query.where(job_revisions.c.job_id == int(job_id), job_revisions.c.number == int(number))
        found = connection.execute(here).first()
        if found is None:
            last = self.latest(connection, job_id).number
            raise RecordError(f"job {job_id} has no revision {number}; accepted are 1 to {last}")
        return self._revision(connection, job_id, found)

    def _revision(self, connection: Connection, job_id: int, found: Any) -> Revision:
        if found is None:
            raise RecordError(f"there is no job {job_id} in this record; the Jobs page and `jobs()` list them")
        if found.id not in self._read:
            text = connection.execute(_TEXT, {"id": found.id}).scalar_one()
            job = parse_job(text, source=f"job {job_id}, revision {found.number}", kept=True)
            job = with_register(job, gauge_infos(connection))
            self._read[found.id] = Revision(found.id, int(job_id), found.number, job)
        return self._read[found.id]


def keep_job(ledger: Ledger, text: str, by: str, client_id: str | None, at: str) -> tuple[int, bool]:
    """Keep a new job; return its id, and whether it was made now."""
    parsed = parse_job(text)
    if client_id is not None:
        there = ledger.connection.execute(select(jobs.c.id).where(jobs.c.client_id == client_id)).scalar()
        if there is not None:
            return int(there), False
    job_id = ledger.append(jobs, [(parsed.unit, client_id, by, at)])
    ledger.append(job_revisions, [(job_id, 1, parsed.name, text, _sha(text), by, at)])
    return job_id, True


def keep_revision(ledger: Ledger, latest: Revision, text: str, by: str, at: str) -> bool:
    """Keep a new revision of a job; the same text again changes nothing."""
    if latest.job.text == text:
        return False
    parsed = parse_job(text)
    if parsed.unit != latest.job.unit:
        raise JobError(
            f"job {latest.job_id} is in {latest.job.unit} and the new text in {parsed.unit};"
            " a job keeps its unit: begin a new job instead"
        )
    used = select(batches.c.feature).where(batches.c.job_id == latest.job_id).distinct()
    lost = sorted(set(ledger.connection.execute(used).scalars()) - set(parsed.features))
    if lost:
        raise JobError(f"the new text has no feature {', '.join(lost)}, but there are readings of it; keep the feature")
    ledger.append(job_revisions, [(latest.job_id, latest.number + 1, parsed.name, text, _sha(text), by, at)])
    return True


def _sha(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


_BATCH = select(batches.c.id).where(
    batches.c.job_id == bindparam("job_id"),
    batches.c.feature == bindparam("feature"),
    batches.c.batch == bindparam("batch"),
)


def batch_id(ledger: Ledger, revision: Revision, feature: str, batch: str, by: str, at: str) -> int:
    """Return the batch of a feature, begun now if it is new."""
    key = {"job_id": revision.job_id, "feature": feature, "batch": batch}
    found = ledger.connection.execute(_BATCH, key).scalar()
    if found is not None:
        return int(found)
    return ledger.append(batches, [(revision.job_id, feature, batch, revision.id, by, at)])


_BY_CLIENT = (
    select(readings, batches.c.feature, batches.c.batch, batches.c.job_id, jobs.c.unit.label("job_unit"))
    .join(batches, batches.c.id == readings.c.batch_id)
    .join(jobs, jobs.c.id == batches.c.job_id)
    .where(readings.c.client_id == bindparam("client_id"))
)


def kept_before(connection: Connection, client_id: str) -> tuple[int, Kept] | None:
    """Return the job and the reading that was kept under a client's id, None where there is none."""
    row = connection.execute(_BY_CLIENT, {"client_id": client_id}).first()
    if row is None:
        return None
    shared = {name: getattr(row, name) for name in (field.name for field in fields(Kept)) if hasattr(row, name)}
    kept = Kept(**(shared | {"unit": row.job_unit, "held": bool(row.held), "duplicate": True}))
    return int(row.job_id), kept


def _there(connection: Connection, reading_id: int) -> None:
    if connection.execute(select(readings.c.id).where(readings.c.id == int(reading_id))).scalar() is None:
        raise NotInRecord(f"there is no reading {reading_id} in this record; the numbers stand beside the readings")


def keep_strike(ledger: Ledger, reading_id: int, reason: str, by: str, at: str) -> bool:
    """Strike a reading out; twice is once, and the first reason stands."""
    if not reason.strip():
        raise ReadingsError("a strike-out needs a reason, such as: gauge slipped")
    _there(ledger.connection, reading_id)
    done = select(strike_outs.c.id).where(strike_outs.c.reading_id == int(reading_id))
    if ledger.connection.execute(done).scalar() is not None:
        return False
    ledger.append(strike_outs, [(int(reading_id), reason.strip(), by, at)])
    return True


def keep_confirmation(ledger: Ledger, reading_id: int, by: str, at: str) -> bool:
    """Confirm a suspect: it counts from now on, and stays marked."""
    _there(ledger.connection, reading_id)
    struck = select(strike_outs.c.reason).where(strike_outs.c.reading_id == int(reading_id))
    reason = ledger.connection.execute(struck).scalar()
    if reason is not None:
        raise ReadingsError(f"reading {reading_id} was struck out ({reason}); log it again instead of confirming it")
    done = select(confirmations.c.id).where(confirmations.c.reading_id == int(reading_id))
    if ledger.connection.execute(done).scalar() is not None:
        return False
    ledger.append(confirmations, [(int(reading_id), by, at)])
    return True


def keep_event(
    ledger: Ledger,
    revision: Revision,
    feature: str,
    after_piece: str,
    event: str,
    amount: float | None,
    batch: str,
    note: str,
    client_id: str | None,
    by: str,
    at: str,
) -> int:
    """Keep an event in a batch's order of making; return its id."""
    known_feature(revision.job, feature)
    word = event.strip().casefold().replace(" ", "_").replace("-", "_")
    if word not in EVENTS:
        raise ReadingsError(f"{event!r} is no event; accepted are {', '.join(EVENTS)}")
    if client_id is not None:
        there = ledger.connection.execute(select(events.c.id).where(events.c.client_id == client_id)).scalar()
        if there is not None:
            return int(there)
    row = (revision.job_id, feature, str(after_piece), word, batch, finite(amount, "amount"), note, client_id, by, at)
    return ledger.append(events, [row])


def keep_baseline(
    ledger: Ledger,
    revision: Revision,
    feature: str,
    chart: str,
    centre: float,
    sd: float,
    span: tuple[int, str, str],
    note: str,
    by: str,
    at: str,
) -> int:
    """Freeze the limits of a chart; the latest of a feature and chart is the one that is used."""
    known_feature(revision.job, feature)
    middle, spread = finite(centre, "centre"), finite(sd, "sd")
    if middle is None or spread is None or spread < 0:
        raise ReadingsError(f"a baseline needs a centre and an sd of at least zero; found {centre!r} and {sd!r}")
    pieces, first, last = span
    row = (revision.job_id, feature, chart, middle, spread, int(pieces), str(first), str(last), note, by, at)
    return ledger.append(baselines, [row])


def keep_gauge(ledger: Ledger, row: tuple[Any, ...]) -> int:
    """Enter a gauge, or a new calibration of it, into the register."""
    return ledger.append(gauges, [row])


def known_feature(job: Job, feature: str) -> None:
    """Refuse a feature that the job does not have.

    Raises
    ------
    ReadingsError
    """
    if feature not in job.features:
        listed = ", ".join(job.features)
        raise ReadingsError(f"there is no feature {feature!r} in the job {job.name!r}; there are: {listed}")


def finite(value: float | None, what: str) -> float | None:
    """Return a number as a plain float, None as None.

    Raises
    ------
    ReadingsError
        If it is not finite.
    """
    if value is None:
        return None
    try:
        number = float(value)
    except OverflowError:
        number = float("inf")
    if not math.isfinite(number):
        raise ReadingsError(f"{what} is {value!r}; accepted is a finite number")
    return number + 0.0  # minus nothing is nothing: SQLite keeps no sign of zero
