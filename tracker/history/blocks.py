"""Where the readings stand: blocks (row groups of parts), the batches each may hold, and reading one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tracker.history.cells import Cells, cells_of
from tracker.history.layout import MANIFEST, NEEDED, READING_COLUMNS, READINGS, HistoryError, need_arrow
from tracker.history.series import Series, in_one, series_of
from tracker.result import Result
from tracker.spread.arguments import Array, IntArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage(Result):
    """A part, or a block of it, that cannot be read."""

    file: str
    block: int | None
    reason: str

    def __str__(self) -> str:
        where = "" if self.block is None else f", block {self.block}"
        return f"{self.file}{where}: {self.reason}"


@dataclass(frozen=True, slots=True)
class Block:
    """One row group of a part, and the first and last batch it may hold."""

    file: str
    number: int
    low: int
    high: int
    rows: int


@dataclass(frozen=True, slots=True)
class Task:
    """Some blocks of one part, worked through one after another; all that a worker needs to know about them.

    ``shared``, ``ways`` and ``nominal`` have one entry a batch from ``first`` on.
    """

    folder: str
    blocks: tuple[Block, ...]
    split: str
    gauges: int
    operators: int
    first: int
    shared: np.ndarray
    ways: IntArray
    nominal: Array


@dataclass(frozen=True, slots=True)
class Partial:
    """What a task found: whole batches, cells of batches that other blocks hold too, uses of gauges, damage."""

    whole: Series | None
    cells: tuple[Cells, ...]
    uses: np.ndarray
    bounded: np.ndarray
    damaged: tuple[Damage, ...]


def find_blocks(folder: Path, batches: int) -> tuple[list[Block], list[Damage]]:
    """Return the blocks of a history from the ends of its parts alone, and the parts whose end cannot be read.

    Raises
    ------
    HistoryError
        If there is no part at all.
    """
    arrow = need_arrow()
    blocks: list[Block] = []
    damaged: list[Damage] = []
    files = sorted((folder / READINGS).glob("*.parquet"))
    if not files and batches:
        raise HistoryError(f"{folder / READINGS} holds no part (*.parquet); export the history again")
    for path in files:
        name = f"{READINGS}/{path.name}"
        try:
            with arrow.parquet.ParquetFile(path) as file:
                blocks += _blocks_of(file, name, batches)
        except (arrow.ArrowException, OSError, HistoryError) as error:
            damaged.append(Damage(file=name, block=None, reason=_words(error)))
    return blocks, damaged


def _blocks_of(file: Any, name: str, batches: int) -> list[Block]:
    """Return the blocks of a part."""
    lacking = [column for column in NEEDED if column not in file.schema_arrow.names]
    if lacking:
        raise HistoryError(f"has no column {', '.join(lacking)}")
    at = file.metadata.schema.names.index("batch")
    found = []
    for number in range(file.metadata.num_row_groups):
        group = file.metadata.row_group(number)
        said = group.column(at).statistics
        known = said is not None and said.has_min_max
        low, high = (said.min, said.max) if known else (0, batches - 1)
        if low < 0 or high >= batches:
            raise HistoryError(f"speaks of batches {low} to {high}, and batches.parquet has 0 to {batches - 1}")
        if group.num_rows:
            found.append(Block(name, number, int(low), int(high), group.num_rows))
    return found


def covered(batches: IntArray, blocks: Sequence[Block]) -> IntArray:
    """Return how many blocks may hold each batch."""
    low = np.sort([block.low for block in blocks])
    high = np.sort([block.high for block in blocks])
    return np.asarray(np.searchsorted(low, batches, "right") - np.searchsorted(high, batches, "left"))


def task_sums(task: Task) -> Partial:
    """Return what the blocks of a task come to; the same wherever it is run, and however often.

    A block that cannot be read is named in the answer; what other blocks say is not touched by it.
    """
    arrow = need_arrow()
    whole: list[Series] = []
    cells: list[Cells] = []
    uses: list[np.ndarray] = []
    bounded: list[np.ndarray] = []
    damaged: list[Damage] = []
    path = Path(task.folder) / task.blocks[0].file
    try:
        file = arrow.parquet.ParquetFile(path, page_checksum_verification=True)
    except (arrow.ArrowException, OSError) as error:
        lost = Damage(file=task.blocks[0].file, block=None, reason=_words(error))
        return Partial(None, (), np.zeros((0, 3), np.int64), np.zeros((0, 2), np.int64), (lost,))
    with file:
        for block in task.blocks:
            try:
                columns = _columns(file, block, task)
            except (arrow.ArrowException, OSError, HistoryError) as error:
                damaged.append(Damage(file=block.file, block=block.number, reason=_words(error)))
                continue
            found, used, open_ended = _block_cells(columns, task)
            uses.append(used)
            bounded.append(open_ended)
            mine = ~task.shared[found.batch - task.first]
            if mine.any():
                whole.append(series_of(found.chosen(mine), task.ways, task.first))
            if not mine.all():
                cells.append(found.chosen(~mine))
    return Partial(
        in_one(whole) if whole else None,
        tuple(cells),
        np.concatenate(uses) if uses else np.zeros((0, 3), dtype=np.int64),
        np.concatenate(bounded) if bounded else np.zeros((0, 2), dtype=np.int64),
        tuple(damaged),
    )


def _columns(file: Any, block: Block, task: Task) -> dict[str, np.ndarray]:
    """Return the needed columns of a block as arrays; a missing value is NaN."""
    wanted = [name for name in NEEDED if name != "operator" or task.split == "operator"]
    table = file.read_row_group(block.number, columns=wanted, use_threads=False)
    columns = {}
    for name in wanted:
        column = table.column(name)
        if name != "value" and column.null_count:
            raise HistoryError(f"column {name} has {column.null_count} empty places")
        columns[name] = column.to_numpy()
        if columns[name].dtype.kind != ("f" if name == "value" else "i"):
            raise HistoryError(f"column {name} is of type {column.type}; accepted is {READING_COLUMNS[name]}")
    for name, listed in (("gauge", task.gauges), ("operator", task.operators)):
        if name in columns and len(columns[name]) and not 0 <= columns[name].min() <= columns[name].max() < listed:
            raise HistoryError(f"speaks of {name} {columns[name].max()}, and {MANIFEST} lists 0 to {listed - 1}")
    batch = columns["batch"]
    if len(batch) != block.rows:
        raise HistoryError(f"has {len(batch)} readings and its end speaks of {block.rows}")
    if len(batch) and (batch.min() < block.low or batch.max() > block.high):
        raise HistoryError(f"holds batches that its end does not speak of ({batch.min()} to {batch.max()})")
    return columns


def _block_cells(columns: dict[str, np.ndarray], task: Task) -> tuple[Cells, np.ndarray, np.ndarray]:
    """Return the cells of a block, the uses of gauges (batch, gauge, readings), and go / no-go readings a batch."""
    batch, value = columns["batch"], columns["value"]
    uses = counted_uses(batch, columns["gauge"], max(task.gauges, 1))
    sized = np.isfinite(value)
    bounded = np.zeros((0, 2), dtype=np.int64)
    if not sized.all():
        held, counts = np.unique(batch[~sized], return_counts=True)
        bounded = np.column_stack([held, counts])
        columns = {name: column[sized] for name, column in columns.items()}
        batch, value = columns["batch"], columns["value"]
    deviation = value - task.nominal[batch - task.first]
    split = columns[task.split] if task.split else None
    return cells_of(deviation, batch, columns["piece"], columns["position"], split), uses, bounded


def counted_uses(batch: np.ndarray, gauge: np.ndarray, gauges: int) -> np.ndarray:
    """Return rows (batch, gauge, readings); runs are counted first, as most batches have one gauge."""
    starts = np.concatenate([[0], np.flatnonzero((batch[1:] != batch[:-1]) | (gauge[1:] != gauge[:-1])) + 1])
    runs = np.diff(np.append(starts, batch.size))
    key, inverse = np.unique(batch[starts] * gauges + gauge[starts], return_inverse=True)
    counts = np.bincount(inverse, runs).astype(np.int64)
    return np.column_stack([key // gauges, key % gauges, counts])


def _words(error: BaseException) -> str:
    """Return what a fault says, in one line."""
    return " ".join(str(error).split()) or type(error).__name__
