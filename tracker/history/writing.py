"""Writing a history: readings as they come, in bounded memory."""

from __future__ import annotations

import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np

from tracker.history.layout import (
    BATCH_COLUMNS,
    BATCHES,
    NEEDED,
    READING_COLUMNS,
    READINGS,
    HistoryError,
    Manifest,
    need_arrow,
    schema_of,
    write_manifest,
)

ROWS_A_GROUP = 524_288
ROWS_A_PART = 4_194_304
BATCHES_AT_ONCE = 20_000


class HistoryWriter:
    """Writes a history into a folder that appears, whole, when the ``with`` block ends without an error.

    Parameters
    ----------
    folder : str or pathlib.Path
        Must not be there yet, or be empty.
    rows_a_group, rows_a_part : int
        How many readings are read at once later, and how many stand in one file.

    Raises
    ------
    HistoryError
        If the folder holds something, or cannot be written.
    """

    def __init__(self, folder: str | Path, *, rows_a_group: int = ROWS_A_GROUP, rows_a_part: int = ROWS_A_PART) -> None:
        self._arrow = need_arrow()
        self.folder = Path(folder)
        self._half = self.folder.with_name(f"{self.folder.name}.part")
        if self.folder.exists() and (not self.folder.is_dir() or any(self.folder.iterdir())):
            raise HistoryError(f"{self.folder} is there already and holds something; name a folder that is not there")
        if self._half.exists():
            raise HistoryError(f"{self._half} is what an export left that did not end; remove it, then export again")
        try:
            (self._half / READINGS).mkdir(parents=True)
        except OSError as error:
            raise HistoryError(f"{self.folder} cannot be written: {error.strerror or error}") from error
        self._rows_a_group = rows_a_group
        self._rows_a_part = max(rows_a_part, rows_a_group)
        self._schema = schema_of(READING_COLUMNS)
        self._batches = self._opened(BATCHES, schema_of(BATCH_COLUMNS))
        self._rows: list[dict[str, Any]] = []
        self._part: Any = None
        self._parts = self._in_part = self._waiting_rows = 0
        self._waiting: list[Any] = []
        self._names: dict[str, dict[str, int]] = {"gauge": {}, "operator": {}}
        self.readings = self.batches = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is not None:
            self._close()
            shutil.rmtree(self._half, ignore_errors=True)
            return
        self._flush(everything=True)
        self._flush_batches(least=1)
        self._close()
        names = {name: tuple(known) for name, known in self._names.items()}
        write_manifest(
            self._half,
            Manifest(gauges=names["gauge"], operators=names["operator"], readings=self.readings, batches=self.batches),
        )
        if self.folder.exists():
            self.folder.rmdir()
        self._half.replace(self.folder)

    def code(self, what: str, name: str) -> int:
        """Return the place of a gauge's or operator's name in its list; a new one is put at the end."""
        known = self._names[what]
        return known.setdefault(name, len(known))

    def add_batches(self, rows: Sequence[Mapping[str, Any]]) -> int:
        """Write rows of the table of batches, numbered on from those before; return the number of the first.

        ``rows`` hold the columns of `BATCH_COLUMNS` without ``batch``; what is left out is null, or "" for a text.
        """
        first = self.batches
        filled = []
        for number, row in enumerate(rows, first):
            blank = {name: "" if kind == "string" else None for name, kind in BATCH_COLUMNS.items()}
            filled.append(blank | dict(row) | {"batch": number})
        self._rows += filled
        self.batches += len(filled)
        self._flush_batches(least=BATCHES_AT_ONCE)
        return first

    def _flush_batches(self, *, least: int) -> None:
        if len(self._rows) >= least:
            self._batches.write_table(self._arrow.Table.from_pylist(self._rows, schema=schema_of(BATCH_COLUMNS)))
            self._rows = []

    def add_readings(self, columns: Mapping[str, Any]) -> None:
        """Write readings, ascending by batch, piece and position, all of batches after those written before.

        ``columns`` are arrays of one length; `NEEDED` must be there, the rest is null when left out.
        """
        lacking = [name for name in NEEDED if name not in columns]
        if lacking:
            raise HistoryError(f"readings without {', '.join(lacking)}; needed are {', '.join(NEEDED)}")
        size = len(columns["batch"])
        arrays = []
        for field in self._schema:
            given = columns.get(field.name)
            if given is None:
                arrays.append(self._arrow.nulls(size, field.type))
            else:
                arrays.append(self._arrow.array(given, type=field.type, from_pandas=True))
        if size:
            self._waiting.append(self._arrow.table(arrays, schema=self._schema))
            self._waiting_rows += size
            self.readings += size
        self._flush(everything=False)

    def _flush(self, *, everything: bool) -> None:
        if not self._waiting or (self._waiting_rows < self._rows_a_group and not everything):
            return
        table = self._arrow.concat_tables(self._waiting)
        start = 0
        while table.num_rows - start >= (1 if everything else self._rows_a_group):
            if self._part is None or self._in_part + self._rows_a_group > self._rows_a_part:
                self._next_part()
            group = table.slice(start, self._rows_a_group)
            self._part.write_table(group, row_group_size=self._rows_a_group)
            self._in_part += group.num_rows
            start += group.num_rows
        rest = table.slice(start)
        self._waiting, self._waiting_rows = ([rest] if rest.num_rows else []), rest.num_rows

    def _next_part(self) -> None:
        if self._part is not None:
            self._part.close()
        self._part = self._opened(f"{READINGS}/part-{self._parts:06d}.parquet", self._schema)
        self._parts += 1
        self._in_part = 0

    def _opened(self, name: str, schema: Any) -> Any:
        words = [field.name for field in schema if field.type == self._arrow.string()]
        return self._arrow.parquet.ParquetWriter(
            self._half / name,
            schema,
            compression="zstd",
            use_dictionary=[
                *words,
                *(name for name in ("batch", "piece", "gauge", "operator") if name in schema.names),
            ],
            write_page_checksum=True,
        )

    def _close(self) -> None:
        for writer in (self._batches, self._part):
            if writer is not None:
                writer.close()


def runs_of_labels(batch: Any, label: Any) -> Any:
    """Return numbers of labels, from 0 in each batch, in the order in which they first stand there.

    Parameters
    ----------
    batch : ndarray of int, shape (n,)
        Each batch's rows together.
    label : ndarray of int, shape (n,)
        Codes of labels, alike within the call.
    """
    if not len(batch):
        return np.zeros(0, dtype=np.int64)
    width = int(label.max()) + 1
    _, first, inverse = np.unique(batch * width + label, return_index=True, return_inverse=True)
    rank = np.empty(first.size, dtype=np.int64)
    rank[np.argsort(first, kind="stable")] = np.arange(first.size)
    number = rank[inverse]
    starts = np.concatenate([[0], np.flatnonzero(batch[1:] != batch[:-1]) + 1])
    lowest = np.minimum.reduceat(number, starts)
    return number - np.repeat(lowest, np.diff(np.append(starts, len(batch))))
