"""What is put right and asked about a reading as it is logged; the rules themselves stand in `tracker.readings`."""

from __future__ import annotations

import dataclasses
import datetime
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

from tracker.job import Job
from tracker.record.receiving import Received

if TYPE_CHECKING:
    import pandas as pd

NEAR = 0.05
"""Within this share of the nominal no reading is far from it (`tracker.readings.suspects` asks from 0.1 on)."""
MOST = 3000
"""A reading is held against so many of its batch at most, the latest."""
NEW = -1


@dataclass(slots=True)
class Hull:
    """Between which sizes the readings of a batch lie that were kept without a question."""

    last_id: int = 0
    count: int = 0
    low: float = math.inf
    high: float = -math.inf

    def follow(self, cursor: Any, dialect: str, batch: int, last_id: int | None) -> Hull:
        """Take in what was kept since; nothing is asked when nothing was."""
        if last_id is None or last_id <= self.last_id:
            return self
        sign = "?" if dialect == "sqlite" else "%s"
        cursor.execute(
            f"SELECT count(value), min(value), max(value) FROM readings r WHERE id > {sign} AND +batch_id = {sign}"
            " AND held = 0 AND NOT EXISTS (SELECT 1 FROM strike_outs s WHERE s.reading_id = r.id)",
            (self.last_id, batch),
        )
        count, low, high = cursor.fetchone()
        if count:
            self.count += int(count)
            self.low, self.high = min(self.low, low), max(self.high, high)
        self.last_id = int(last_id)
        return self


def plain_sailing(received: Received, job: Job, hull: Hull) -> bool:
    """Tell whether a reading lies so well among the others that no rule would ask about it."""
    value = received.value
    if value is None:
        return False
    feature, gauge = job.features[received.feature], job.gauges.get(received.gauge)
    if feature.nominal > 0 and abs(value - feature.nominal) > NEAR * feature.nominal:
        return False
    if hull.count >= 2 and not hull.low <= value <= hull.high:
        return False
    if hull.low == hull.high:
        return False
    if gauge is None:
        return True
    if gauge.due is not None and datetime.date.fromisoformat(received.time[:10]) > gauge.due:
        return False
    if gauge.low is None and gauge.high is None:
        return True
    low = -math.inf if gauge.low is None else gauge.low
    high = math.inf if gauge.high is None else gauge.high
    return received.kind == "absolute" and low <= value <= high


def corrected(received: Received, job: Job) -> Received:
    """Return a reading with the job's corrections made; what was typed stays as it is."""
    feature, gauge = job.features[received.feature], job.gauges.get(received.gauge)
    warm = received.temperature is not None or job.temperature is not None
    if not (warm or feature.plating or (gauge is not None and gauge.correction)):
        return received
    from tracker.readings.corrections import correct

    frame, _ = correct(frame_of(received), job)
    row = frame.iloc[0]
    value = _number(row["value"])
    return dataclasses.replace(
        received,
        value=value,
        low=_number(row["low"]),
        high=_number(row["high"]),
        mm=received.in_mm(value, job.unit),
        applied=str(row["applied"]),
    )


def questioned(connection: Connection, received: Received, job_id: int, job: Job, repeat: int) -> Received:
    """Return a reading with what is to be asked about it, held against the others of its batch."""
    import pandas as pd

    from tracker.readings.imports import COLUMNS
    from tracker.readings.suspects import find_suspects
    from tracker.record.frames import good_of_batch

    others = good_of_batch(connection, job_id, received.feature, received.batch, MOST)[list(COLUMNS)]
    mine = frame_of(received, repeat)
    frame = mine if others.empty else pd.concat([others.assign(suspect=""), mine], ignore_index=True)
    readings, suspects = find_suspects(frame, job)
    held = suspects[suspects["row"] == NEW]
    if len(held):
        row = held.iloc[0]
        return dataclasses.replace(
            received,
            suspect=str(row["suspect"]),
            held=True,
            question=str(row["question"]),
            suggestion=str(row["suggestion"]),
        )
    marked = readings[readings["row"] == NEW]
    return dataclasses.replace(received, suspect=str(marked["suspect"].iloc[0]))


def frame_of(received: Received, repeat: int = 1) -> pd.DataFrame:
    """Return one reading in the form of the readings frame."""
    from tracker.readings.imports import COLUMNS, readings_frame

    going = received.kind == "go_no_go"
    given = {name: getattr(received, name, "") for name in COLUMNS} | {
        "repeat": repeat,
        "row": NEW,
        "file": "",
        "value": _or(received.value, math.nan),
        "low": _or(received.low, -math.inf if going else math.nan),
        "high": _or(received.high, math.inf if going else math.nan),
        "step": _or(received.step, math.nan),
        "temperature": _or(received.temperature, math.nan),
        "time": datetime.datetime.fromisoformat(received.time),
    }
    return readings_frame({name: [given[name]] for name in COLUMNS})


def _or(value: float | None, other: float) -> float:
    return other if value is None else value


def _number(value: Any) -> float | None:
    return float(value) if math.isfinite(value) else None
