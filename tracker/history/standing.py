"""The history of a record that is in use: summed up once, then only where something was added."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tracker.history.blocks import counted_uses
from tracker.history.cells import cells_of
from tracker.history.export import described
from tracker.history.layout import BATCH_COLUMNS, Manifest
from tracker.history.series import Series, in_one, series_of, way_of
from tracker.history.summary import History, Table, history_of
from tracker.history.work import Sums
from tracker.history.writing import runs_of_labels
from tracker.spread.arguments import Array, IntArray

if TYPE_CHECKING:
    from tracker.record import Record
    from tracker.record.measured import Home, Measured

SPLIT_BY = ("", "operator")
"""Batches are kept whole, and told apart by operator."""

CONFIDENCE = 0.95


class Standing:
    """The history of an open record, kept up to date. Safe to share between threads.

    The first answer reads every reading that counts, half a million at a time; each later one reads the batches that
    something was added to, so that its cost hangs on what is new. In memory stays a row a batch and operator.
    """

    def __init__(self, record: Record) -> None:
        self.record = record
        self._turn = threading.Lock()
        self._told: dict[str, History] = {}
        self._forget()

    def _forget(self) -> None:
        self._mark: tuple[int, int, int] | None = None
        self._place: dict[int, int] = {}
        self._rows: list[dict[str, Any]] = []
        self._series: dict[str, Series | None] = dict.fromkeys(SPLIT_BY)
        self._uses = np.zeros((0, 3), dtype=np.int64)
        self._bounded = np.zeros((0, 2), dtype=np.int64)
        self._names: dict[str, dict[str, int]] = {"gauge": {}, "operator": {}}
        self._told.clear()

    def history(self, by: str) -> History:
        """Return the history as of now, grouped.

        Parameters
        ----------
        by : str
            part, feature, machine, tool, operator, month or job.

        Raises
        ------
        HistoryError
            If nothing is measured.
        RecordError
            If the record cannot be read.

        References
        ----------
        Tests: ``tests/tracker/history/test_standing.py`` compares with an export and its summary.
        """
        with self._turn:
            self._look()
            if by not in self._told:
                self._told[by] = self._answer(by)
            return self._told[by]

    def _look(self) -> None:
        """Take in what was added since the last look."""
        change = self.record.changed_batches(self._mark)
        if change.whole:
            self._forget()
        if change.batches:
            self._told.clear()
        for lot in self.record.lots(change.batches):
            self._take(self.record.homes(lot), self.record.measured(lot))
        self._mark = change.mark

    def _take(self, homes: Sequence[Home], found: Measured) -> None:
        """Put these batches in the place of what was known of them."""
        counts = dict(zip(*(column.tolist() for column in np.unique(found.batch, return_counts=True))))
        said: dict[tuple[int, int, str], dict[str, Any]] = {}
        for home in homes:
            key = (home.job, home.revision, home.feature)
            if key not in said:
                said[key] = described(self.record.job(home.job, home.revision), home.feature)
            row = said[key] | _row(home) | {"readings": counts.get(home.id, 0)}
            place = self._place.setdefault(home.id, len(self._rows))
            if place == len(self._rows):
                self._rows.append(row)
            else:
                self._rows[place] = row
        places = np.array([self._place[home.id] for home in homes], dtype=np.int64)
        batch = places[np.searchsorted(np.array([home.id for home in homes]), found.batch)]
        columns = _in_order(batch, found)
        coded = {name: self._codes(name, found)[columns["at"]] for name in ("gauge", "operator")}
        kept = self._uses[~np.isin(self._uses[:, 0], places)], self._bounded[~np.isin(self._bounded[:, 0], places)]
        self._uses = np.concatenate([kept[0], _uses_of(columns["batch"], coded["gauge"], len(self._names["gauge"]))])
        open_ended = np.isnan(columns["value"])
        held, missed = np.unique(columns["batch"][open_ended], return_counts=True)
        self._bounded = np.concatenate([kept[1], np.column_stack([held, missed])])
        self._replace(places, columns, coded["operator"], ~open_ended)

    def _replace(self, places: IntArray, columns: dict[str, np.ndarray], operator: IntArray, sized: np.ndarray) -> None:
        """Sum up the sized readings, and put the sums in the place of what was known of these batches."""
        rows = self._rows
        nominal = np.array([row["nominal"] for row in rows])
        ways = np.array([way_of(row["rule"], row["kind"]) for row in rows])
        batch, piece, position, value = (columns[name][sized] for name in ("batch", "piece", "position", "value"))
        for split in SPLIT_BY:
            before = self._series[split]
            parts = [] if before is None else [before.chosen(~np.isin(before.batch, places))]
            if batch.size:
                who = operator[sized] if split else None
                parts.append(series_of(cells_of(value - nominal[batch], batch, piece, position, who), ways))
            self._series[split] = in_one(parts) if parts else None

    def _codes(self, name: str, found: Measured) -> IntArray:
        known = self._names[name]
        numbers = [known.setdefault(word, len(known)) for word in found.names[name]]
        return np.asarray(np.array(numbers, dtype=np.int64)[found.code[name]])

    def _answer(self, by: str) -> History:
        split = by if by in SPLIT_BY else ""
        about = _table(self._rows)
        series = self._series[split]
        names = {name: tuple(known) for name, known in self._names.items()}
        ways = np.zeros(len(self._rows), dtype=np.int64)
        sums = Sums(ways=ways, blocks=[], uses=[self._uses], bounded=[self._bounded])
        if series is not None and len(series):
            sums.done.append(series)
        readings = int(self._uses[:, 2].sum())
        manifest = Manifest(
            gauges=names["gauge"], operators=names["operator"], readings=readings, batches=len(self._rows)
        )
        return history_of(Path(self.record.name), by, split, manifest, about, sums, CONFIDENCE, keep_going=False)


def _row(home: Home) -> dict[str, Any]:
    return {
        "job": home.job,
        "record_batch": home.id,
        "label": home.batch,
        "begun": home.begun,
        "month": home.begun[:7],
        "revision": home.revision,
    }


def _table(rows: Sequence[dict[str, Any]]) -> Table:
    """Return rows of the table of batches as its columns, as `read_batches` returns them."""
    found: Table = {"batch": np.arange(len(rows))}
    for name, kind in BATCH_COLUMNS.items():
        if name == "batch":
            continue
        values = [row[name] for row in rows]
        if kind == "string":
            found[name] = np.array(values, dtype=object)
        else:
            found[name] = np.array([np.nan if value is None else value for value in values], dtype=kind)
    return found


def _in_order(batch: IntArray, found: Measured) -> dict[str, np.ndarray]:
    """Return the columns ascending by batch, piece and position; ``at`` is where each reading stood before.

    Pieces stand in their order of making: by number where all labels of a batch are numbers, else as they came.
    """
    label, size = found.code["piece"], batch.size
    numbers = [float(name) if name.isdecimal() else np.nan for name in found.names["piece"]]
    number = np.array(numbers or [0.0])[label] if size else np.zeros(0)
    named = np.unique(batch[np.isnan(number)])
    key: Array = np.where(np.isin(batch, named), 0.0, number)
    order = np.lexsort((np.arange(size), key, batch))
    batch, label = batch[order], label[order]
    piece = runs_of_labels(batch, label)
    position = runs_of_labels(batch, found.code["position"][order])
    last = np.lexsort((position, piece, batch))
    at = order[last]
    return {
        "batch": batch[last],
        "piece": piece[last],
        "position": position[last],
        "value": found.value[at],
        "at": at,
    }


def _uses_of(batch: IntArray, gauge: IntArray, gauges: int) -> np.ndarray:
    return counted_uses(batch, gauge, max(gauges, 1)) if batch.size else np.zeros((0, 3), dtype=np.int64)
