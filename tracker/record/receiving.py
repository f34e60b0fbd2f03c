"""From what was typed to a row of the record: read, corrected, asked about, and kept exactly."""

from __future__ import annotations

import datetime
import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any

from tracker.errors import LengthError, ReadingsError
from tracker.job import Job
from tracker.readings.entry import COMPARATOR, GO_NO_GO, Entry, read_entry
from tracker.record.keeping import finite, known_feature
from tracker.units import MM_PER, read_length

_PLAIN = re.compile(r"\d+\.\d+|\d+|\.\d+", re.ASCII)
MM = {unit: float(ratio) for unit, ratio in MM_PER.items()}
_LENGTHS = re.compile(r"[\d./,]+", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """One reading as understood; lengths in the job's unit."""

    feature: str
    batch: str
    piece: str
    position: str
    kind: str
    typed: str
    unit: str
    exact: str
    value: float | None
    low: float | None
    high: float | None
    step: float | None
    mm: float | None
    applied: str
    gauge: str
    operator: str
    note: str
    time: str
    temperature: float | None
    suspect: str = ""
    held: bool = False
    question: str = ""
    suggestion: str = ""

    @staticmethod
    def in_mm(value: float | None, unit: str) -> float | None:
        """Return a size in millimetres, for computing across jobs."""
        return None if value is None else value * MM[unit]

    def row(
        self, batch: int, revision: int, imported: int | None, repeat: int, client_id: str, by: str, at: str
    ) -> tuple[Any, ...]:
        """Return the row of the readings table, without its id."""
        return (
            batch,
            revision,
            imported,
            self.piece,
            self.position,
            repeat,
            self.kind,
            self.typed,
            self.unit,
            self.exact,
            self.value,
            self.low,
            self.high,
            self.step,
            self.mm,
            self.applied,
            self.gauge,
            self.operator,
            self.note,
            self.time,
            self.temperature,
            self.suspect,
            int(self.held),
            self.question,
            self.suggestion,
            "",
            0,
            client_id,
            by,
            at,
        )


def receive(
    job: Job,
    feature: str,
    piece: str,
    typed: str,
    *,
    batch: str,
    position: str,
    kind: str | None,
    unit: str | None,
    gauge: str | None,
    operator: str,
    note: str,
    temperature: float | None,
    time: datetime.datetime,
) -> Received:
    """Understand one typed reading.

    Raises
    ------
    TrackerError
        If the job has no such feature, no piece is named, or the text is not a reading.
    """
    known_feature(job, feature)
    drawn = job.features[feature]
    label = str(piece).strip()
    if not label:
        raise ReadingsError("no piece is named; accepted is its number or mark, such as 7")
    entry = read_entry(
        typed,
        unit=unit or job.unit,
        kind=kind,
        master=drawn.master,
        nominal=drawn.nominal,
        feature_kind=drawn.kind,
        into=job.unit,
        decimal_comma=job.decimal_comma,
        nominal_as_master=True,
    )
    low, high = _open(entry.low), _open(entry.high)
    used = gauge if gauge is not None else drawn.gauge or ""
    known = job.gauges.get(used)
    step = known.resolution if known is not None and known.resolution is not None else entry.step
    if entry.kind == GO_NO_GO:
        step = None
    return Received(
        feature=feature,
        batch=batch.strip(),
        piece=label,
        position=position.strip(),
        kind=entry.kind,
        typed=typed,
        unit=entry.unit,
        exact=exact_text(typed, entry.kind, unit or job.unit, job.decimal_comma),
        value=entry.value,
        low=low,
        high=high,
        step=step,
        mm=Received.in_mm(entry.value, job.unit),
        applied=_master_words(entry, job.unit),
        gauge=used,
        operator=operator,
        note=note,
        time=bench_time(time),
        temperature=finite(temperature, "temperature"),
    )


def _master_words(entry: Entry, unit: str) -> str:
    """Return what was added to a comparator reading, in the words of `tracker.readings.rows`."""
    if entry.kind != COMPARATOR or entry.master is None or entry.deviation is None:
        return ""
    return f"master {entry.master:.9g} {unit} {entry.deviation:+.9g}"


def bench_time(moment: datetime.datetime) -> str:
    """Return when a reading was taken, by the clock on the wall of the shop."""
    local = moment.astimezone().replace(tzinfo=None) if moment.tzinfo is not None else moment
    return local.isoformat(timespec="microseconds")


def _open(edge: float) -> float | None:
    return float(edge) if math.isfinite(edge) else None


@lru_cache(maxsize=65536)
def exact_text(typed: str, kind: str, unit: str, decimal_comma: bool) -> str:
    """Return the exact number that was typed, in the unit it was typed in.

    A decimal, or numerator/denominator for a fraction that has no finite decimal; of goes / does not go both numbers,
    in the order typed; of a comparator reading the deviation.
    """
    text = typed.strip()
    if kind == GO_NO_GO:
        return " ".join(digits.strip("/,").replace(",", ".") for digits in _LENGTHS.findall(text) if digits.strip("/,"))
    if not decimal_comma and _PLAIN.fullmatch(text):
        return f"0{text}" if text.startswith(".") else text
    if kind == COMPARATOR:
        text = re.split(r"\s+(?:on|from)\s+", text, maxsplit=1, flags=re.IGNORECASE)[0]
    try:
        length = read_length(text, unit, decimal_comma=decimal_comma)
    except LengthError:
        return text
    return decimal_text(length.mm / MM_PER[length.unit])


def decimal_text(value: Fraction) -> str:
    """Return a fraction as an exact decimal, or as numerator/denominator where there is none.

    Examples
    --------
    >>> decimal_text(Fraction(17, 32)), decimal_text(Fraction(1, 3))
    ('0.53125', '1/3')
    """
    rest = value.denominator
    twos = fives = 0
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    if rest != 1:
        return f"{value.numerator}/{value.denominator}"
    places = max(twos, fives)
    scaled = value.numerator * 10**places // value.denominator
    return f"{Decimal(scaled).scaleb(-places):f}"
