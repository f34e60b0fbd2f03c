"""What counts of many batches as plain columns, and which batches have changed: for sums over the whole record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, bindparam, select, text

from tracker.record.connected import Connected
from tracker.record.schema import batches, job_revisions
from tracker.record.tallies import changed_since, seen_now

if TYPE_CHECKING:
    import numpy as np

ROWS_AT_ONCE = 500_000
BATCHES_AT_ONCE = 5_000
"""So many readings of whole batches are fetched at once (one batch alone may be larger), of so many batches."""

_GOOD = (
    "NOT EXISTS (SELECT 1 FROM strike_outs s WHERE s.reading_id = r.id) AND (r.held = 0 OR EXISTS"
    " (SELECT 1 FROM confirmations c WHERE c.reading_id = r.id))"
)
_ROWS = text(
    "SELECT r.batch_id, r.piece, r.position, r.value, r.gauge, r.operator FROM readings r"
    f" WHERE r.batch_id IN :batches AND {_GOOD} ORDER BY r.batch_id, r.id"
).bindparams(bindparam("batches", expanding=True))
_FIRST = text(
    f"SELECT r.batch_id, min(r.time) FROM readings r WHERE r.batch_id IN :batches AND r.time <> '' AND {_GOOD}"
    " GROUP BY r.batch_id"
).bindparams(bindparam("batches", expanding=True))
TEXTS = ("piece", "position", "gauge", "operator")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """The readings of one batch or more that count, each batch's together and in the order they were kept.

    Attributes
    ----------
    batch : ndarray of int, shape (n,)
        Number of the batch in the record.
    value : ndarray of float, shape (n,)
        In the job's unit; NaN for a go / no-go reading.
    code, names : dict
        For piece, position, gauge and operator: a number a reading, and what each number stands for.
    """

    batch: np.ndarray
    value: np.ndarray
    code: Mapping[str, np.ndarray]
    names: Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Home:
    """A batch and what it belongs to: its job, and the revision that it was begun under, by number."""

    id: int
    job: int
    feature: str
    batch: str
    revision: int
    begun: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What was added since somebody looked: the mark to look from next time, and the batches it concerns.

    ``whole`` says that all batches must be looked at anew: nobody has looked yet, or an older copy was put back.
    """

    mark: tuple[int, int, int]
    whole: bool
    batches: tuple[int, ...] = field(default=())


class Measurements(Connected):
    """Reading many batches at once."""

    def changed_batches(self, mark: tuple[int, int, int] | None = None) -> Change:
        """Return the batches with readings, strike-outs or confirmations kept since a mark; all of them for None."""
        with self._reading() as connection:
            seen = seen_now(connection)
            if mark is not None and all(new >= old for new, old in zip(seen, mark)):
                touched = () if seen == mark else tuple(changed_since(connection, mark))
                return Change(mark=seen, whole=False, batches=touched)
            every = connection.execute(select(batches.c.id).order_by(batches.c.id)).scalars()
            return Change(mark=seen, whole=True, batches=tuple(int(number) for number in every))

    def homes(self, numbers: Sequence[int]) -> list[Home]:
        """Return what some batches belong to, ascending by number; ``begun`` is when the first was read, or kept."""
        with self._reading() as connection:
            return _homes(connection, list(numbers))

    def lots(self, numbers: Sequence[int]) -> list[list[int]]:
        """Return batches in lots of up to half a million readings, and of no more batches than one query takes."""
        with self._reading() as connection:
            tallies = self._tallies.now(connection)
        lots: list[list[int]] = []
        held = 0
        for number in sorted(numbers):
            more = tallies[number].good if number in tallies else 0
            if not lots or held + more > ROWS_AT_ONCE or len(lots[-1]) >= BATCHES_AT_ONCE:
                lots.append([])
                held = 0
            lots[-1].append(number)
            held += more
        return lots

    def measured(self, numbers: Sequence[int]) -> Measured:
        """Return the readings of some batches that count; see `lots` for how many to ask for at once."""
        with self._reading() as connection:
            return _measured(connection, list(numbers))


def _homes(connection: Connection, numbers: list[int]) -> list[Home]:
    query = (
        select(batches, job_revisions.c.number)
        .join(job_revisions, job_revisions.c.id == batches.c.revision_id)
        .where(batches.c.id.in_(numbers))
        .order_by(batches.c.id)
    )
    read = {int(row[0]): str(row[1]) for row in connection.execute(_FIRST, {"batches": numbers}).all()}
    return [
        Home(
            id=row.id,
            job=row.job_id,
            feature=row.feature,
            batch=row.batch,
            revision=row.number,
            begun=read.get(row.id, row.kept_at),
        )
        for row in connection.execute(query).all()
    ]


class _Codes(dict[str, int]):
    """Numbers for words, in the order in which they are first met."""

    def __missing__(self, word: str) -> int:
        self[word] = len(self)
        return self[word]


def _measured(connection: Connection, numbers: list[int]) -> Measured:
    import numpy as np

    rows = connection.execute(_ROWS, {"batches": numbers}).fetchall()
    columns: list[Any] = list(zip(*rows)) or [()] * 6
    codes, names = {}, {}
    for name, words in zip(TEXTS, (columns[1], columns[2], columns[4], columns[5])):
        known = _Codes()
        codes[name] = np.fromiter(map(known.__getitem__, words), np.int64, len(words))
        names[name] = tuple(known)
    return Measured(
        batch=np.array(columns[0], dtype=np.int64),
        value=np.array(columns[3], dtype=np.float64),
        code=codes,
        names=names,
    )
