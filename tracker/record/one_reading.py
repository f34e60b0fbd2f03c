"""One reading, kept in as few steps as can be: one question, one row, one link of the chain, one commit."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

from tracker.errors import ReadingsError
from tracker.record import chain, keeping
from tracker.record.chain import Ledger
from tracker.record.doubts import Hull, corrected, plain_sailing, questioned
from tracker.record.kinds import Kept
from tracker.record.receiving import Received, receive
from tracker.record.schema import readings

if TYPE_CHECKING:
    from tracker.record.keeping import Revision, Revisions

_BATCH = "SELECT id FROM batches WHERE job_id = ? AND feature = ? AND batch = ?"
_ASKED = f"""SELECT
 (SELECT id FROM readings WHERE client_id = ?),
 (SELECT id FROM job_revisions WHERE job_id = ? ORDER BY number DESC LIMIT 1),
 ({_BATCH}),
 (SELECT max(r.repeat) FROM readings r WHERE r.batch_id = ({_BATCH}) AND r.piece = ? AND r.position = ?
   AND NOT EXISTS (SELECT 1 FROM strike_outs s WHERE s.reading_id = r.id)),
 (SELECT max(id) FROM readings),
 (SELECT max(id) FROM chain),
 (SELECT digest FROM chain ORDER BY id DESC LIMIT 1)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """One reading as it was sent."""

    job_id: int
    feature: str
    piece: str
    text: str
    batch: str
    position: str
    repeat: int | None
    kind: str | None
    unit: str | None
    gauge: str | None
    operator: str
    note: str
    temperature: float | None
    time: datetime.datetime
    client_id: str


class Counter:
    """Where readings are kept one by one; remembers between which sizes each batch lies."""

    def __init__(self, revisions: Revisions) -> None:
        self.revisions = revisions
        self._hulls: dict[int, Hull] = {}
        self._last_link = 0

    def forget(self) -> None:
        """Forget between which sizes the batches lie, because something was struck out."""
        self._hulls.clear()

    def keep_quickly(self, cursor: Any, dialect: str, typed: Typed, by: str, at: str) -> Kept | None:
        """Keep a reading that nothing is to be asked about, of a batch that was begun; None: go the long way."""
        there, revision_id, batch, repeat, last, number, digest = _asked(cursor, dialect, typed)
        if (number or 0) < self._last_link:  # an older copy was put back under this program
            self.forget()
            self.revisions.forget()
        self._last_link = number or 0
        revision = self.revisions.known(revision_id, typed.job_id)
        if there is not None or revision is None or batch is None:
            return None
        received = corrected(understood(revision, typed), revision.job)
        hull = self._hulls.setdefault(batch, Hull()).follow(cursor, dialect, batch, last)
        if not plain_sailing(received, revision.job, hull):
            return None
        count = _next_repeat(typed, repeat)
        row = ((last or 0) + 1, *received.row(int(batch), revision.id, None, count, typed.client_id, by, at))
        linked = chain.next_link(dialect, number or 0, bytes(digest or chain.START), readings, row)
        cursor.execute(chain.insert_statement(dialect, readings), row)
        cursor.execute(*linked)
        return acknowledged(int(row[0]), count, received, revision.job.unit)

    def keep(self, connection: Connection, typed: Typed, by: str, at: str) -> Kept:
        """Keep a reading, or hand back the one that was kept before; begin the batch where it is new."""
        before = keeping.kept_before(connection, typed.client_id)
        if before is not None:
            return _the_same(before, typed)
        revision = self.revisions.latest(connection, typed.job_id)
        received = corrected(understood(revision, typed), revision.job)
        ledger = Ledger(connection)
        batch = keeping.batch_id(ledger, revision, typed.feature, received.batch, by, at)
        count = _next_repeat(typed, _asked(connection.connection.cursor(), connection.dialect.name, typed)[3])
        received = questioned(connection, received, typed.job_id, revision.job, count)
        row = received.row(batch, revision.id, None, count, typed.client_id, by, at)
        return acknowledged(ledger.append(readings, [row]), count, received, revision.job.unit)


def _the_same(before: tuple[int, Kept], typed: Typed) -> Kept:
    """Return what was kept under the sender's id; refuse another reading, which would be lost without a word."""
    job_id, kept = before
    there = (job_id, kept.feature, kept.piece, kept.typed.strip())
    if there != (typed.job_id, typed.feature, typed.piece, typed.text.strip()):
        raise ReadingsError(
            f"client_id {typed.client_id!r} stands for reading {kept.id} already, {kept.typed.strip()} of"
            f" {kept.feature}, piece {kept.piece}, and this is another reading; each needs a client_id of its own"
        )
    return kept


def _next_repeat(typed: Typed, last: int | None) -> int:
    if typed.repeat is None:
        return 1 if last is None else int(last) + 1
    if typed.repeat < 1:
        raise ReadingsError(f"the repeat is {typed.repeat}; accepted is a whole number from 1")
    return int(typed.repeat)


def _asked(cursor: Any, dialect: str, typed: Typed) -> tuple[Any, ...]:
    key = (typed.job_id, typed.feature, typed.batch)
    given = (typed.client_id, typed.job_id, *key, *key, typed.piece, typed.position)
    cursor.execute(_ASKED if dialect == "sqlite" else _ASKED.replace("?", "%s"), given)
    found: tuple[Any, ...] = cursor.fetchone()
    return found


def understood(revision: Revision, typed: Typed) -> Received:
    """Return the reading as understood."""
    return receive(
        revision.job,
        typed.feature,
        typed.piece,
        typed.text,
        batch=typed.batch,
        position=typed.position,
        kind=typed.kind,
        unit=typed.unit,
        gauge=typed.gauge,
        operator=typed.operator,
        note=typed.note,
        temperature=typed.temperature,
        time=typed.time,
    )


def acknowledged(number: int, repeat: int, received: Received, unit: str) -> Kept:
    """Return the acknowledgement of a reading that was kept."""
    return Kept(
        id=number,
        feature=received.feature,
        batch=received.batch,
        piece=received.piece,
        position=received.position,
        repeat=repeat,
        kind=received.kind,
        typed=received.typed,
        value=received.value,
        low=received.low,
        high=received.high,
        unit=unit,
        applied=received.applied,
        suspect=received.suspect,
        question=received.question,
        suggestion=received.suggestion,
        held=received.held,
    )
