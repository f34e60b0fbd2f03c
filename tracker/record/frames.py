"""The readings of a job as the frame that everything else computes from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

from tracker.errors import RecordError

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
    "refused": "CASE WHEN s.id IS NULL THEN 0 ELSE 1 END",
}
_FROM = (
    " FROM readings r JOIN batches b ON b.id = r.batch_id"
    " LEFT JOIN strike_outs s ON s.reading_id = r.id"
    " LEFT JOIN confirmations c ON c.reading_id = r.id"
)
_WHOLE = ("repeat", "row", "id", "waiting", "refused")
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


def _frame(connection: Connection, job_id: int, feature: str | None, *, struck: bool) -> pd.DataFrame:
    import numpy as np
    import pandas as pd

    sign = "?" if connection.dialect.name == "sqlite" else "%s"
    query = "SELECT " + ", ".join(_COLUMNS.values()) + _FROM + f" WHERE b.job_id = {sign}"
    given: tuple[Any, ...] = (int(job_id),)
    if feature is not None:
        query, given = query + f" AND b.feature = {sign}", (*given, feature)
    if not struck:
        query += " AND s.id IS NULL"
    rows = connection.exec_driver_sql(query + " ORDER BY r.id", given).cursor
    if rows is None:
        raise RecordError("the record gave no answer to a question for readings")
    lists = list(zip(*rows.fetchall())) or [() for _ in _COLUMNS]
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
