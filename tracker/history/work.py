"""Working through the blocks, here or on many machines, and adding up what they come to."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib import import_module
from typing import Any

import numpy as np

from tracker.history.blocks import Block, Damage, Partial, Task, covered, task_sums
from tracker.history.cells import Cells, joined
from tracker.history.layout import HistoryError
from tracker.history.series import Series, in_one, series_of
from tracker.spread.arguments import Array, IntArray

Progress = Callable[[int, int], None]
ROWS_A_TASK = 2_097_152
TASKS_A_THREAD = 3
TURNS_A_THREAD = 8
"""Work is cut so that each thread of a cluster has so many turns: with fewer, one waits for another at the end."""
GIVE_UP_AFTER = 10
CONNECT_WITHIN = "10s"
KEEP_MEMORY = {f"distributed.nanny.pre-spawn-environ.MALLOC_{name}_THRESHOLD_": 33_554_432 for name in ("TRIM", "MMAP")}
"""Workers of our own keep what they free: by default every array is given back and fetched page by page again, which
makes a task take 2.7 times the processor time (measured, arrays of 4 MB)."""


def tasks_of(
    blocks: Sequence[Block],
    folder: str,
    ways: IntArray,
    nominal: Array,
    *,
    split: str,
    gauges: int,
    operators: int,
    threads: int = 1,
) -> Iterator[Task]:
    """Yield the tasks that some blocks make, made when they are asked for; smaller ones where many share the work."""
    low = np.sort([block.low for block in blocks])
    high = np.sort([block.high for block in blocks])
    rows = sum(block.rows for block in blocks)
    most = ROWS_A_TASK if threads < 2 else min(ROWS_A_TASK, rows // (threads * TURNS_A_THREAD))
    for group in _grouped(blocks, most):
        first, last = min(block.low for block in group), max(block.high for block in group)
        span = np.arange(first, last + 1)
        shared = np.searchsorted(low, span, "right") - np.searchsorted(high, span, "left") > 1
        mine = slice(first, last + 1)
        yield Task(folder, group, split, gauges, operators, first, shared, ways[mine], nominal[mine])


def _grouped(blocks: Sequence[Block], most: int) -> Iterator[tuple[Block, ...]]:
    """Yield neighbouring blocks of one part, up to so many readings at once, one block at least."""
    group: list[Block] = []
    for block in blocks:
        if group and (group[0].file != block.file or sum(one.rows for one in group) + block.rows > most):
            yield tuple(group)
            group = []
        group.append(block)
    if group:
        yield tuple(group)


def here(tasks: Iterator[Task]) -> Iterator[tuple[Task, Partial]]:
    """Yield what tasks come to, worked through in this process."""
    for task in tasks:
        yield task, task_sums(task)


def threads_of(client: Any) -> int:
    """Return how many tasks a cluster works on at once; 1 for no cluster."""
    return 1 if client is None else max(sum(client.nthreads().values()), 1)


def spread_out(tasks: Iterator[Task], client: Any) -> Iterator[tuple[Task, Partial]]:
    """Yield what tasks come to, worked through by a cluster; a task whose worker dies is done by another.

    Only a few tasks a thread are under way at once, so that neither the scheduler nor this process holds more.

    Raises
    ------
    HistoryError
        If one task has ended several workers.
    """
    distributed: Any = import_module("distributed")
    threads = threads_of(client)
    running: dict[Any, Task] = {}
    done = distributed.as_completed(loop=client.loop)
    for _ in range(TASKS_A_THREAD * threads):
        _submit(tasks, client, running, done)
    for future in done:
        task = running.pop(future)
        try:
            partial = future.result()
        except distributed.KilledWorker as error:
            blocks = f"{task.blocks[0].file}, blocks {task.blocks[0].number} to {task.blocks[-1].number}"
            raise HistoryError(
                f"{blocks} ended one worker after another; give the workers more memory, or look at that file"
            ) from error
        future.release()
        _submit(tasks, client, running, done)
        yield task, partial


def _submit(tasks: Iterator[Task], client: Any, running: dict[Any, Task], done: Any) -> None:
    task = next(tasks, None)
    if task is not None:
        future = client.submit(task_sums, task, pure=False, retries=GIVE_UP_AFTER)
        running[future] = task
        done.add(future)


@contextmanager
def cluster(workers: int | None, address: str | None) -> Iterator[Any]:
    """Give a client of a cluster: the one at an address, or one made here of some workers; None when none is asked for.

    Raises
    ------
    HistoryError
        If distributed is not installed (the message names the extra), or nobody answers at the address.
    """
    if workers is None and address is None:
        yield None
        return
    if workers is not None and workers < 1:
        raise HistoryError(f"{workers} workers; accepted is 1 or more")
    try:
        dask: Any = import_module("dask")
        distributed: Any = import_module("distributed")
    except ModuleNotFoundError as error:
        raise HistoryError(
            "working on many processes needs distributed; install it with: pip install 'tenthwise[history]'"
        ) from error
    with dask.config.set({"distributed.scheduler.allowed-failures": GIVE_UP_AFTER, **KEEP_MEMORY}):
        if address is not None:
            try:
                client = distributed.Client(address, timeout=CONNECT_WITHIN, set_as_default=False)
            except (OSError, TimeoutError, ValueError) as error:
                raise HistoryError(
                    f"nobody answers at {address} ({error}); accepted is the address of a scheduler, such as"
                    " tcp://127.0.0.1:8786"
                ) from error
            with client:
                yield client
            return
        made = distributed.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
        )
        with made, distributed.Client(made, set_as_default=False, direct_to_workers=True) as client:
            yield client


@dataclass(slots=True)
class Sums:
    """What all tasks together come to, added up as they end, in whatever order.

    Cells of batches that several blocks hold wait until the last of these blocks is done, then become a batch; so
    what waits is as large as the batches that are cut, and not as large as the history.
    """

    ways: IntArray
    blocks: Sequence[Block]
    done: list[Series] = field(default_factory=list)
    waiting: dict[tuple[str, int], tuple[Cells, ...]] = field(default_factory=dict)
    uses: list[np.ndarray] = field(default_factory=list)
    bounded: list[np.ndarray] = field(default_factory=list)
    damaged: list[Damage] = field(default_factory=list)
    outstanding: set[Block] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.outstanding = set(self.blocks)

    def add(self, task: Task, found: Partial) -> None:
        """Add what a task came to."""
        if found.whole is not None:
            self.done.append(found.whole)
        self.uses.append(found.uses)
        self.bounded.append(found.bounded)
        self.damaged += found.damaged
        self.outstanding -= set(task.blocks)
        if found.cells:
            self.waiting[(task.blocks[0].file, task.blocks[0].number)] = found.cells
        self._finish()

    def _finish(self) -> None:
        """Make batches of the cells for which no block is outstanding."""
        if not self.waiting:
            return
        held = np.unique(np.concatenate([part.batch for parts in self.waiting.values() for part in parts]))
        ready = held[covered(held, list(self.outstanding)) == 0] if self.outstanding else held
        if not ready.size:
            return
        taken: list[Cells] = []
        for key in sorted(self.waiting):
            rest = []
            for part in self.waiting.pop(key):
                mine = np.isin(part.batch, ready)
                taken.append(part.chosen(mine))
                if not mine.all():
                    rest.append(part.chosen(~mine))
            if rest:
                self.waiting[key] = tuple(rest)
        self.done.append(series_of(joined(taken), self.ways))

    def series(self) -> Series | None:
        """Return all batches, ascending; None where there is none."""
        return in_one(self.done) if self.done else None


def worked(
    tasks: Iterator[Task],
    sums: Sums,
    client: Any,
    *,
    keep_going: bool,
    progress: Progress | None,
    already: Sequence[Damage] = (),
) -> Sums:
    """Work through the tasks and add them up.

    Raises
    ------
    HistoryError
        If a part cannot be read and ``keep_going`` is False; the message names it.
    """
    _stop_at(already, keep_going)
    whole, ready = sum(block.rows for block in sums.blocks), 0
    running = here(tasks) if client is None else spread_out(tasks, client)
    for task, found in running:
        _stop_at(found.damaged, keep_going)
        sums.add(task, found)
        ready += sum(block.rows for block in task.blocks)
        if progress is not None:
            progress(ready, whole)
    sums.damaged = [*already, *sorted(sums.damaged, key=lambda lost: (lost.file, lost.block or 0))]
    return sums


def _stop_at(damaged: Sequence[Damage], keep_going: bool) -> None:
    if damaged and not keep_going:
        raise HistoryError(
            f"a part of the history is damaged: {damaged[0]}; export it again, or go on without it by --keep-going"
        )
