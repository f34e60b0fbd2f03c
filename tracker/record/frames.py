"""The readings of a job as the frame that everything else computes from."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Select, select

from tracker.plurals import noun
from tracker.record.schema import batches, confirmations, readings, strike_outs

if TYPE_CHECKING:
    import pandas as pd

    from tracker.readings.imports import Import

_TEXT = ("piece", "position", "kind", "typed", "unit", "applied", "gauge", "operator", "note", "suspect", "file")
_REAL = ("value", "low", "high", "step", "temperature")
_WHOLE = ("repeat", "row", "id", "batch_id", "held")
_ASKED = ("question", "suggestion")
_COLUMNS = (*_WHOLE, *_REAL, *_TEXT, *_ASKED, "time")


def import_of(
    connection: Connection,
    job_id: int,
    unit: str,
    feature: str | None = None,
    *,
    batch: str | None = None,
    struck: bool = False,
) -> Import:
    """Return a job's readings in the shape that reading its files gives, with the column ``id`` behind.

    Suspects that wait for a confirmation stand in ``suspects``. With ``struck`` the struck-out ones are there too,
    with the column ``struck`` that holds the reason ("" for the others).
    """
    from tracker.readings.imports import COLUMNS, Import, refused_frame

    frame = _frame(connection, job_id, feature, batch=batch, struck=struck)
    waiting = frame["waiting"].to_numpy()
    shown = [*COLUMNS, "id", *(["struck"] if struck else [])]
    good = in_order(frame.loc[~waiting, shown] if waiting.any() else frame[shown])
    suspects = frame.loc[waiting, [*COLUMNS, "question", "suggestion", "id", *shown[len(COLUMNS) + 1 :]]]
    return Import(
        readings=good,
        suspects=suspects.reset_index(drop=True),
        refused=refused_frame([]),
        understood=(
            f"{len(good)} {noun(len(good), 'reading')} out of the record, {len(suspects)} held back until confirmed",
        ),
        files=tuple(name for name in good["file"].unique().tolist() if name),
        unit=unit,
    )


def good_of_batch(connection: Connection, job_id: int, feature: str, batch: str, most: int) -> pd.DataFrame:
    """Return the readings of a batch that count, in the order they were kept; of very many the latest."""
    frame = _frame(connection, job_id, feature, batch=batch, most=most)
    return frame[~frame["waiting"].to_numpy()]


def _frame(
    connection: Connection,
    job_id: int,
    feature: str | None,
    *,
    batch: str | None = None,
    struck: bool = False,
    most: int | None = None,
) -> pd.DataFrame:
    import numpy as np
    import pandas as pd

    homes = select(batches.c.id, batches.c.feature, batches.c.batch).where(batches.c.job_id == int(job_id))
    if feature is not None:
        homes = homes.where(batches.c.feature == feature)
    if batch is not None:
        homes = homes.where(batches.c.batch == batch)
    known = {row.id: (row.feature, row.batch) for row in connection.execute(homes)}
    lists = _lists(connection, sorted(known), most)
    data: dict[str, Any] = {}
    for name, values in zip(_COLUMNS, lists):
        if name in _WHOLE:
            data[name] = np.array(values, dtype=np.int64)
        elif name in _REAL:
            data[name] = np.array(values, dtype=np.float64)
        elif name == "time":
            stamps = np.array([text or "NaT" for text in values], dtype="datetime64[us]")
            data[name] = pd.Series(stamps)
        else:
            data[name] = pd.array(values, dtype="str")
    where = np.searchsorted(np.array(sorted(known), dtype=np.int64), data["batch_id"])
    for at, name in enumerate(("feature", "batch")):
        words = np.array([known[home][at] for home in sorted(known)] or [""], dtype=object)
        data[name] = pd.array(words[where], dtype="str")
    frame = pd.DataFrame(data)
    ids = data["id"]
    reasons = _fates(connection, select(strike_outs.c.reading_id, strike_outs.c.reason), ids)
    confirmed = _fates(connection, select(confirmations.c.reading_id, confirmations.c.kept_by), ids)
    frame["waiting"] = (data["held"] == 1) & ~np.isin(ids, list(confirmed))
    out = np.isin(ids, list(reasons))
    frame["struck"] = pd.array([reasons[i] if gone else "" for i, gone in zip(ids.tolist(), out)], dtype="str")
    if not struck and out.any():
        frame = frame[~out].reset_index(drop=True)
    counted = frame["kind"].to_numpy() == "go_no_go"
    for name, open_end in (("low", -np.inf), ("high", np.inf)):
        edges = frame[name].to_numpy(copy=True)
        edges[counted & np.isnan(edges)] = open_end
        frame[name] = edges
    return frame


def _lists(connection: Connection, homes: list[int], most: int | None) -> list[Any]:
    """Return the columns of the readings of some batches, in the order they were kept; of very many the latest."""
    query = select(*(readings.c[name] for name in _COLUMNS)).where(readings.c.batch_id.in_(homes))
    key = readings.c.id
    query = query.order_by(key) if most is None else query.order_by(key.desc()).limit(most)
    said = str(query.compile(dialect=connection.dialect, compile_kwargs={"literal_binds": True}))  # whole numbers only
    with contextlib.closing(connection.connection.cursor()) as cursor:  # the driver's own rows: a million come quickly
        cursor.execute(said)
        rows = cursor.fetchall()
    if most is not None:
        rows = rows[::-1]
    return list(zip(*rows)) or [() for _ in _COLUMNS]


def _fates(connection: Connection, query: Select[Any], ids: Any) -> dict[int, str]:
    """Return what became of readings: struck out or confirmed, by number; only those between the first and the last."""
    if not len(ids):
        return {}
    reading = query.selected_columns["reading_id"]
    found = connection.execute(query.where(reading.between(int(ids[0]), int(ids[-1]))))
    return {int(row[0]): str(row[1]) for row in found}


def in_order(frame: pd.DataFrame) -> pd.DataFrame:
    """Return readings in the order of making, each feature and batch by itself, in the order they began."""
    import numpy as np

    if not len(frame):
        return frame.reset_index(drop=True)
    group = frame.groupby(["feature", "batch"], sort=False).ngroup().to_numpy()
    labels = frame["piece"]
    order = np.empty(len(frame), dtype=np.float64)
    for number in range(int(group.max()) + 1):
        here = group == number
        pieces = labels[here]
        codes, names = pieces.factorize()
        numbers = [float(name) if name.isdecimal() else None for name in names.tolist()]
        ranks = np.array(numbers, dtype=np.float64) if None not in numbers else np.arange(len(names), dtype=np.float64)
        order[here] = ranks[codes]
    return frame.iloc[np.lexsort((order, group))].reset_index(drop=True)
