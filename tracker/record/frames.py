"""The readings of a job as the frame that everything else computes from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

if TYPE_CHECKING:
    import pandas as pd

    from tracker.readings.imports import Import

_COLUMNS = {
    "batch": "b.batch",
    "feature": "b.feature",
    "piece": "r.piece",
    "position": "r.position",
    "repeat": "r.repeat",
    "kind": "r.kind",
    "value": "r.value",
    "low": "r.low",
    "high": "r.high",
    "step": "r.step",
    "typed": "r.typed",
    "unit": "r.unit",
    "applied": "r.applied",
    "gauge": "r.gauge",
    "operator": "r.operator",
    "note": "r.note",
    "time": "r.time",
    "temperature": "r.temperature",
    "suspect": "r.suspect",
    "file": "r.file",
    "row": 'r."row"',
    "id": "r.id",
    "question": "r.question",
    "suggestion": "r.suggestion",
    "waiting": "CASE WHEN r.held = 1 AND c.id IS NULL THEN 1 ELSE 0 END",
    "struck": "coalesce(s.reason, '')",
}
_SELECTED = ", ".join(f'{what} AS "{name}"' for name, what in _COLUMNS.items())
_FROM = (
    " FROM readings r JOIN batches b ON b.id = r.batch_id"
    " LEFT JOIN strike_outs s ON s.reading_id = r.id"
    " LEFT JOIN confirmations c ON c.reading_id = r.id"
)
_WHOLE = ("repeat", "row", "id", "waiting")
_REAL = ("value", "low", "high", "step", "temperature")


def import_of(
    connection: Connection, job_id: int, unit: str, feature: str | None = None, *, struck: bool = False
) -> Import:
    """Return a job's readings in the shape that reading its files gives, with the column ``id`` behind.

    One query; suspects that wait for a confirmation stand in ``suspects``. With ``struck`` the struck-out ones are
    there too, with the column ``struck`` that holds the reason ("" for the others).
    """
    from tracker.readings.imports import COLUMNS, Import, refused_frame

    frame = _frame(connection, job_id, feature, struck=struck)
    waiting = frame["waiting"].to_numpy() == 1
    shown = [*COLUMNS, "id", *(["struck"] if struck else [])]
    good = in_order(frame.loc[~waiting, shown])
    suspects = frame.loc[waiting, [*COLUMNS, "question", "suggestion", "id", *shown[len(COLUMNS) + 1 :]]]
    return Import(
        readings=good,
        suspects=suspects.reset_index(drop=True),
        refused=refused_frame([]),
        understood=(f"{len(good)} readings out of the record, {len(suspects)} held back until confirmed",),
        files=tuple(dict.fromkeys(name for name in good["file"] if name)),
        unit=unit,
    )


def good_of_batch(connection: Connection, job_id: int, feature: str, batch: str, most: int) -> pd.DataFrame:
    """Return the readings of a batch that count, in the order they were kept; of very many the latest."""
    frame = _frame(connection, job_id, feature, batch=batch, most=most)
    return frame[frame["waiting"] == 0]


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

    sign = "?" if connection.dialect.name == "sqlite" else "%s"
    query = (
        "SELECT "
        + ", ".join(f'{what} AS "{name}"' for name, what in _COLUMNS.items())
        + _FROM
        + f" WHERE b.job_id = {sign}"
    )
    given: tuple[Any, ...] = (int(job_id),)
    if feature is not None:
        query, given = query + f" AND b.feature = {sign}", (*given, feature)
    if batch is not None:
        query, given = query + f" AND b.batch = {sign}", (*given, batch)
    if not struck:
        query += " AND s.id IS NULL"
    if most is not None:
        query = f"SELECT * FROM ({query} ORDER BY r.id DESC LIMIT {int(most)}) latest ORDER BY id"
    else:
        query += " ORDER BY r.id"
    cursor: Any = connection.connection.cursor()
    cursor.execute(query, given)
    rows = cursor.fetchall()
    lists = list(zip(*rows)) or [() for _ in _COLUMNS]
    data: dict[str, Any] = {}
    for name, values in zip(_COLUMNS, lists):
        if name in _WHOLE:
            data[name] = np.array(values, dtype=np.int64)
        elif name in _REAL:
            data[name] = np.array(values, dtype=np.float64)
        elif name == "time":
            data[name] = pd.to_datetime(pd.Series([text or None for text in values], dtype="object"), format="ISO8601")
        else:
            data[name] = pd.Series(values, dtype="str")
    frame = pd.DataFrame(data)
    frame["time"] = frame["time"].astype("datetime64[us]")
    counted = frame["kind"].to_numpy() == "go_no_go"
    for name, open_end in (("low", -np.inf), ("high", np.inf)):
        edges = frame[name].to_numpy(copy=True)
        edges[counted & np.isnan(edges)] = open_end
        frame[name] = edges
    return frame


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
        numbers = [float(name) if name.isdecimal() else None for name in names]
        ranks = np.array(numbers, dtype=np.float64) if None not in numbers else np.arange(len(names), dtype=np.float64)
        order[here] = ranks[codes]
    return frame.iloc[np.lexsort((order, group))].reset_index(drop=True)
