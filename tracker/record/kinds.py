"""What the record hands back, as plain frozen answers."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from tracker.plurals import noun
from tracker.result import Result


@dataclass(frozen=True, slots=True, kw_only=True)
class JobInfo(Result):
    """One job of the record.

    Attributes
    ----------
    id, revision : int
        ``revision`` counts from 1.
    name, unit : str
    created, by : str
        When (UTC) and by whom it was first kept.
    readings, waiting, struck, pieces : int
        Readings that count, suspects not yet confirmed, struck-out ones, and pieces measured.
    last_reading : str or None
        When the last reading was kept (UTC).
    made : bool
        Whether this very call made it (False: it was there already).
    """

    id: int
    name: str
    unit: str
    revision: int
    created: str
    by: str
    readings: int = 0
    waiting: int = 0
    struck: int = 0
    pieces: int = 0
    last_reading: str | None = None
    made: bool = False

    def __str__(self) -> str:
        return f"job {self.id}, {self.name}: revision {self.revision}, {_of_pieces(self.readings, self.pieces)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept(Result):
    """One reading as it was kept: the acknowledgement.

    ``value``, ``low`` and ``high`` are in ``unit``, the job's; ``value`` is None for goes / does not go, a bound is
    None where it is open. ``held`` says that it does not count until it is confirmed; ``question`` is what to ask.
    """

    id: int
    feature: str
    batch: str
    piece: str
    position: str
    repeat: int
    kind: str
    typed: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    applied: str = ""
    suspect: str = ""
    question: str = ""
    suggestion: str = ""
    held: bool = False
    duplicate: bool = False

    def __str__(self) -> str:
        what = self.typed if self.value is None else f"{self.value:.9g} {self.unit}"
        at = f", {self.position}" if self.position else ""
        words = f"reading {self.id}: {self.feature}, piece {self.piece}{at}, repeat {self.repeat}: {what}"
        if self.duplicate:
            words += " (was kept before)"
        return f"{words}; held back: {self.question}" if self.held else words


@dataclass(frozen=True, slots=True, kw_only=True)
class Bulk(Result):
    """What keeping many readings at once did."""

    kept: int
    waiting: int
    there_already: int
    first_id: int | None
    last_id: int | None

    def __str__(self) -> str:
        words = f"{self.kept} {noun(self.kept, 'reading')} kept"
        if self.waiting:
            words += f", {self.waiting} of them held back until {noun(self.waiting, 'it is', 'they are')} confirmed"
        return (
            f"{words}, {self.there_already} {noun(self.there_already, 'was', 'were')} there already"
            if self.there_already
            else words
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry(Result):
    """One reading with what became of it, as the Log page shows it; lengths in the job's unit."""

    id: int
    feature: str
    batch: str
    piece: str
    position: str
    repeat: int
    kind: str
    typed: str
    unit: str
    value: float | None
    low: float | None
    high: float | None
    applied: str
    gauge: str
    operator: str
    note: str
    time: str
    suspect: str
    question: str
    suggestion: str
    waiting: bool
    struck: bool
    kept_by: str
    kept_at: str
    confirmed_by: str | None = None
    confirmed_at: str | None = None
    struck_reason: str | None = None
    struck_by: str | None = None
    struck_at: str | None = None

    @property
    def counts(self) -> bool:
        """Whether it counts: not struck out, and not waiting for a confirmation."""
        return not (self.struck or self.waiting)

    def __str__(self) -> str:
        words = f"{self.id}: {self.feature}, piece {self.piece}, {self.typed}"
        if self.struck:
            words += f" (struck out by {self.struck_by}: {self.struck_reason})"
        return words


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece(Result):
    """One piece with its readings that count, in the order they came; lengths in the job's unit."""

    batch: str
    piece: str
    values: tuple[float, ...]
    positions: tuple[str, ...]
    bounds: tuple[tuple[float | None, float | None], ...]
    waiting: int = 0

    @property
    def middle(self) -> float | None:
        """The plain mean of its readings; None where there is none with a number."""
        return sum(self.values) / len(self.values) if self.values else None

    def __str__(self) -> str:
        number = len(self.values) + len(self.bounds)
        return f"piece {self.piece}: {number} {noun(number, 'reading')}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogState(Result):
    """What the Log page shows of one feature, from one look at the record.

    ``pieces`` are the latest ones in the order of making, ``entries`` the last readings, newest first;
    ``last_id`` is what `Record.since` goes on from.
    """

    job_id: int
    feature: str
    batch: str | None
    unit: str
    pieces: tuple[Piece, ...]
    entries: tuple[LogEntry, ...]
    readings: int
    waiting: int
    struck: int
    piece_count: int
    last_id: int

    def __str__(self) -> str:
        return f"{self.feature}: {_of_pieces(self.readings, self.piece_count)}, {self.struck} struck out"


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchInfo(Result):
    """One batch of one feature, the revision of the job it was begun under, and when (UTC)."""

    id: int
    feature: str
    batch: str
    revision: int
    readings: int
    begun: str = ""

    def __str__(self) -> str:
        readings = f"{self.readings} {noun(self.readings, 'reading')}"
        return f"{self.feature}, batch {self.batch or '(unnamed)'}: {readings}, revision {self.revision}"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptEvent(Result):
    """One event in a batch's order of making."""

    id: int
    feature: str
    after_piece: str
    event: str
    amount: float | None
    batch: str
    note: str
    by: str
    at: str

    def __str__(self) -> str:
        return f"{self.event.replace('_', ' ')} of {self.feature} after piece {self.after_piece}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline(Result):
    """Limits of a chart that were frozen: worked out once from known pieces, then held."""

    id: int
    feature: str
    chart: str
    centre: float
    sd: float
    pieces: int
    first_piece: str
    last_piece: str
    note: str
    by: str
    at: str

    def __str__(self) -> str:
        pieces = f"{self.pieces} {noun(self.pieces, 'piece')}"
        return f"{self.chart} of {self.feature}: centre {self.centre:.6g}, sd {self.sd:.3g}, from {pieces}"


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeInfo(Result):
    """One gauge of the register, as last entered; lengths in ``unit``."""

    id: int
    name: str
    serial: str
    unit: str
    resolution: float | None
    calibration: float | None
    correction: float | None
    calibrated: datetime.date | None
    due: datetime.date | None
    note: str
    by: str
    at: str

    def __str__(self) -> str:
        due = f", next calibration {self.due}" if self.due else ""
        return f"{self.name}{due}"


@dataclass(frozen=True, slots=True, kw_only=True)
class UserInfo(Result):
    """One user as last changed: the role, whether disabled, and who changed it when (UTC). No password, no hash."""

    name: str
    role: str
    disabled: bool
    by: str
    at: str

    def __str__(self) -> str:
        return f"{self.name}: {self.role}" + (", disabled" if self.disabled else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class TokenInfo(Result):
    """One token of a program: its role, whether revoked, who made or revoked it when, and when it was last used.

    ``used`` is "" where it never was; it is right to the minute.
    """

    name: str
    role: str
    revoked: bool
    by: str
    at: str
    used: str = ""

    def __str__(self) -> str:
        used = f"last used {self.used[:16].replace('T', ' ')} UTC" if self.used else "never used"
        return f"{self.name}: {self.role}, {'revoked' if self.revoked else used}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff(Result):
    """A sheet that someone signed off: which, about what, by which revision of the job and for which readings.

    ``fingerprint`` is that of the readings which were looked at: when the readings have another one now, what was
    signed off is not what is there. ``latest`` says whether the job is still described by that revision.
    """

    id: int
    sheet: str
    subject: str
    revision: int
    latest: bool
    fingerprint: str
    verdict: str
    note: str
    by: str
    at: str

    def __str__(self) -> str:
        about = f" of {self.subject}" if self.subject else ""
        return f"{self.sheet}{about} signed off by {self.by}, {self.at[:16].replace('T', ' ')} UTC"


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof(Result):
    """What `Record.verify` found.

    ``holds`` is False where something was altered, removed or inserted; ``table`` and ``row`` name the first place.
    ``digest`` is the head of the chain: kept outside the record, it shows a record that was rewritten as a whole.
    """

    holds: bool
    words: str
    readings: int
    links: int
    digest: str
    table: str | None = None
    row: int | None = None

    def __str__(self) -> str:
        readings = f"{self.readings} {noun(self.readings, 'reading')}, {self.links} {noun(self.links, 'link')}"
        return f"{self.words} ({readings}, chain ends in {self.digest[:16]})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy(Result):
    """A verified copy of the record."""

    path: str
    readings: int
    links: int
    digest: str

    def __str__(self) -> str:
        readings = f"{self.readings} {noun(self.readings, 'reading')}"
        return f"{self.path}: {readings}, verified, chain ends in {self.digest[:16]}"


def _of_pieces(readings: int, pieces: int) -> str:
    """Return how many readings of how many pieces, in words."""
    return f"{readings} {noun(readings, 'reading')} of {pieces} {noun(pieces, 'piece')}"
