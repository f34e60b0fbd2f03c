"""Runs: the pieces of a batch in order of making, cut where something was touched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.errors import TrackerError
from tracker.spread.arguments import sizes_array


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Pieces between two events: order numbers of the first and last, what began it, how many."""

    first: float
    last: float
    event: str | None
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """Pieces in order of making with the number of the run of each, and an event no piece has followed yet."""

    order: np.ndarray
    size: np.ndarray
    run: np.ndarray
    runs: tuple[Run, ...]
    waiting_event: str | None


def finite_sizes(sizes: Any, name: str = "sizes") -> np.ndarray:
    """Return the sizes as floats, one dimension; refuse what is empty or not a number."""
    return sizes_array(sizes, purpose=f"a row of {name}")


def cut_into_runs(
    sizes: Sequence[float] | np.ndarray,
    order: Sequence[float] | np.ndarray | None = None,
    events: Sequence[tuple[float, str]] = (),
) -> Cut:
    """Return the pieces sorted by order of making and cut at the events.

    Parameters
    ----------
    sizes : array_like, shape (n,)
        Sizes, one length unit.
    order : array_like, shape (n,), optional
        Order of making, 1 for the first piece; 1..n when not given.
    events : sequence of (after_piece, name)
        How many pieces had been made before each event, and its name.

    Returns
    -------
    Cut
        Events with no measured piece between them begin one run together.
    """
    size = finite_sizes(sizes)
    at = np.arange(1.0, size.size + 1) if order is None else finite_sizes(order, "order")
    if at.size != size.size:
        raise TrackerError(f"order has {at.size} entries for {size.size} sizes; give one a piece")
    sorting = np.argsort(at, kind="stable")
    at, size = at[sorting], size[sorting]
    marks = sorted((float(after), str(name)) for after, name in events)
    before = np.searchsorted(at, [after for after, _ in marks], side="right")
    names: dict[int, list[str]] = {}
    for position, (_, name) in zip(before.tolist(), marks):
        names.setdefault(position, []).append(name)
    starts = sorted({0, *names} - {size.size})
    run = np.zeros(size.size, dtype=int)
    run[starts[1:]] = 1
    run = np.cumsum(run)
    ends = [*starts[1:], size.size]
    runs = tuple(
        Run(
            first=float(at[start]),
            last=float(at[end - 1]),
            event=" and ".join(names[start]) if start in names else None,
            n=end - start,
        )
        for start, end in zip(starts, ends)
    )
    waiting = " and ".join(names[size.size]) if size.size in names else None
    return Cut(order=at, size=size, run=run, runs=runs, waiting_event=waiting)
