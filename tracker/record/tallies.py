"""How much there is of each batch: counted once, then only where something was added."""

from __future__ import annotations

import threading
from dataclasses import dataclass

from sqlalchemy import Connection, bindparam, text

ALL = "1 = 1"
SOME = "r.batch_id IN :batches"

_SEEN = text(
    "SELECT (SELECT max(id) FROM readings), (SELECT max(id) FROM strike_outs), (SELECT max(id) FROM confirmations)"
)
_CHANGED = text(
    "SELECT batch_id FROM readings WHERE id > :readings UNION"
    " SELECT r.batch_id FROM strike_outs s JOIN readings r ON r.id = s.reading_id WHERE s.id > :struck UNION"
    " SELECT r.batch_id FROM confirmations c JOIN readings r ON r.id = c.reading_id WHERE c.id > :confirmed"
)
_NOT_STRUCK = "NOT EXISTS (SELECT 1 FROM strike_outs s WHERE s.reading_id = {0}.id)"
_CONFIRMED = "EXISTS (SELECT 1 FROM confirmations c WHERE c.reading_id = {0}.id)"
_ROWS = "SELECT r.batch_id, count(*), count(DISTINCT r.piece), max(r.id) FROM readings r WHERE {0} GROUP BY r.batch_id"
_STRUCK = (
    "SELECT r.batch_id, count(*) FROM strike_outs s JOIN readings r ON r.id = s.reading_id"
    " WHERE {0} GROUP BY r.batch_id"
)
_WAITING = (
    "SELECT r.batch_id, count(*) FROM readings r WHERE r.held = 1 AND {0} AND "
    + _NOT_STRUCK.format("r")
    + " AND NOT "
    + _CONFIRMED.format("r")
    + " GROUP BY r.batch_id"
)
_WITHOUT = (
    "SELECT t.batch_id, count(*) FROM ("
    "SELECT r.batch_id, r.piece FROM strike_outs s JOIN readings r ON r.id = s.reading_id WHERE {0}"
    " UNION SELECT r.batch_id, r.piece FROM readings r WHERE r.held = 1 AND {0}) t"
    " WHERE NOT EXISTS (SELECT 1 FROM readings g WHERE g.batch_id = t.batch_id AND g.piece = t.piece AND "
    + _NOT_STRUCK.format("g")
    + " AND (g.held = 0 OR "
    + _CONFIRMED.format("g")
    + ")) GROUP BY t.batch_id"
)


@dataclass(frozen=True, slots=True)
class Tally:
    """How much there is of one batch: what counts, what waits, what was struck out, pieces that have what counts."""

    good: int
    waiting: int
    struck: int
    pieces: int
    last_id: int


class Tallies:
    """The tallies of all batches of a record, brought up to date when they are asked for."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._kept: dict[int, Tally] = {}
        self._seen = (0, 0, 0)

    def now(self, connection: Connection) -> dict[int, Tally]:
        """Return the tallies as the transaction of this connection sees them."""
        seen = seen_now(connection)
        with self._turn:
            if seen == self._seen:
                return self._kept
            if any(new < old for new, old in zip(seen, self._seen)):
                return _counted(connection, None)  # an older view than another's, or a copy was put back
            changed = None
            if self._kept:
                changed = changed_since(connection, self._seen)
            self._kept = self._kept | _counted(connection, changed)
            self._seen = seen
            return self._kept


def seen_now(connection: Connection) -> tuple[int, int, int]:
    """Return the last numbers of readings, strike-outs and confirmations."""
    found = connection.execute(_SEEN).one()
    return int(found[0] or 0), int(found[1] or 0), int(found[2] or 0)


def changed_since(connection: Connection, seen: tuple[int, int, int]) -> list[int]:
    """Return the batches to which something was added after these numbers."""
    given = dict(zip(("readings", "struck", "confirmed"), seen))
    return [int(batch) for batch in connection.execute(_CHANGED, given).scalars()]


def _counted(connection: Connection, batches: list[int] | None) -> dict[int, Tally]:
    if batches is not None and not batches:
        return {}

    def asked(query: str) -> dict[int, tuple[int, ...]]:
        if batches is None:
            rows = connection.execute(text(query.format(ALL)))
        else:
            some = text(query.format(SOME)).bindparams(bindparam("batches", expanding=True))
            rows = connection.execute(some, {"batches": batches})
        return {int(row[0]): tuple(int(item) for item in row[1:]) for row in rows}

    rows, struck, waiting, without = asked(_ROWS), asked(_STRUCK), asked(_WAITING), asked(_WITHOUT)
    found = {}
    for batch, (count, pieces, last_id) in rows.items():
        out, held = struck.get(batch, (0,))[0], waiting.get(batch, (0,))[0]
        found[batch] = Tally(count - out - held, held, out, pieces - without.get(batch, (0,))[0], last_id)
    return found
