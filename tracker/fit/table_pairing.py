"""Pairing with several closures at once, exact: the same order of aims as in one dimension."""

from __future__ import annotations

import dataclasses

import numpy as np
import numpy.typing as npt

from tracker.fit.assignment import cheapest_assignment
from tracker.fit.checks import Floats, Ints
from tracker.fit.free_columns import largest_matching

LARGE = 150  # pairs from which prepared costs pay
SOFTNESS = (1 / 6, 1 / 20, 1 / 60)  # of the typical cost, one after the other
SWEEPS = 20
TINY = np.float32(1e-30)

Softened = npt.NDArray[np.float32]


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class TableAim:
    """Limits and targets of every closure, and how near two gaps are the same."""

    low: Floats
    high: Floats
    target: Floats
    near: float

    def margins(self, gap: Floats) -> Floats:
        """Return how far each gap is inside its limits, closure by closure (last axis)."""
        return np.minimum(gap - self.low, self.high - gap)


def pair_in_table(internal: Floats, external: Floats, aim: TableAim) -> tuple[Ints, Ints]:
    """Return the best pairs (internal, external) of tables pieces x closures.

    Parameters
    ----------
    internal, external : array, shape (m, closures) and (n, closures)
        Sizes.
    aim : TableAim
        Limits, targets and closeness.

    Notes
    -----
    Most pairs by maximum matching; the largest worst margin by halving, each step a matching grown from
    the last one; the least squares by an assignment in which stand-ins take the pieces that stay over.

    References
    ----------
    Against every possible pairing of thousands of small tables and against dense assignments:
    tests/tracker/fit/test_table_pairing.py.
    """
    margin, cost = _tables(internal, external, aim)
    mate = largest_matching(margin >= -aim.near)
    pairs = int((mate >= 0).sum())
    if not pairs:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    worst = _best_margin(margin, mate, pairs, aim.near)
    return _cheapest(cost, margin >= worst - aim.near, pairs)


def _tables(internal: Floats, external: Floats, aim: TableAim) -> tuple[Floats, Floats]:
    """Return the worst margin and the sum of squares of every pair."""
    shape = len(internal), len(external)
    margin, cost = np.full(shape, np.inf), np.zeros(shape)
    gap, room = np.empty(shape), np.empty(shape)
    for closure in range(internal.shape[1]):
        np.subtract(internal[:, closure, None], external[:, closure], out=gap)
        np.minimum(margin, np.subtract(gap, aim.low[closure], out=room), out=margin)
        np.minimum(margin, np.subtract(aim.high[closure], gap, out=room), out=margin)
        gap -= aim.target[closure]
        cost += np.square(gap, out=gap)
    return margin, cost


def _worst(margin: Floats, mate: Ints) -> float:
    rows = np.flatnonzero(mate >= 0)
    return float(margin[rows, mate[rows]].min())


def _best_margin(margin: Floats, mate: Ints, pairs: int, near: float) -> float:
    """Return the largest worst margin over all matchings with this many pairs.

    No matching of so many pairs beats the margin that so many rows, or columns, can reach at all; that
    bound is tried first, then the stretch below it is halved, at the end over the margins that occur.
    """
    low = _worst(margin, mate)
    if np.isinf(low):
        return low

    def reached(wanted: float) -> Ints | None:
        found = largest_matching(margin >= wanted - near, mate)
        return found if int((found >= 0).sum()) == pairs else None

    high = min(float(np.sort(margin.max(axis=axis))[-pairs]) for axis in (0, 1))
    if high <= low + near:
        return low
    top = reached(high)
    if top is not None:
        return high
    stretch = high - low
    while high - low > 1e-3 * stretch:
        middle = (low + high) / 2.0
        found = reached(middle)
        if found is None:
            high = middle
        else:
            low, mate = _worst(margin, found), found
    values = np.unique(margin[(margin > low + near) & (margin < high)])
    first, last = 0, len(values)  # values below `first` can be reached, those from `last` on cannot
    while first < last:
        middle_value = (first + last) // 2
        found = reached(float(values[middle_value]))
        if found is None:
            last = middle_value
        else:
            low, mate = _worst(margin, found), found
            first = max(middle_value + 1, int(np.searchsorted(values, low, side="right")))
    return low


def _cheapest(cost: Floats, allowed: npt.NDArray[np.bool_], pairs: int) -> tuple[Ints, Ints]:
    """Return the allowed pairs, this many, with the least total cost.

    Pieces that stay over are taken by stand-ins at no cost: as many as there will be, so that exactly
    `pairs` pairs are made and no forbidden one is needed. Where the whole shorter side is paired they are not needed.
    """
    rows, columns = cost.shape
    dearest = float(np.max(cost, where=allowed, initial=0.0))
    size = rows + columns - pairs
    one_side_whole = pairs >= LARGE and pairs == min(rows, columns) < max(rows, columns)
    forbidden = 2.0 * (size + 1)
    table = np.full((rows, columns) if one_side_whole else (size, size), forbidden)
    table[:rows, columns:] = 0.0
    table[rows:, :columns] = 0.0
    real = table[:rows, :columns]
    np.divide(cost, dearest if dearest > 0 else 1.0, out=real, where=allowed)
    if pairs >= LARGE and not one_side_whole:
        table = _prepared(table, forbidden)
    found = cheapest_assignment(table)
    kept = (found[0] < rows) & (found[1] < columns)
    return found[0][kept], found[1][kept]


def _prepared(table: Floats, forbidden: float) -> Floats:
    """Return a square cost table with the same best assignments, on which the solver finds them sooner.

    Adding a number to a row or a column changes every full assignment alike. The numbers come from a
    softened assignment (rows and columns scaled in turn until each adds up to one); whatever they are, the
    answer stays exact.

    References
    ----------
    Sinkhorn and Knopp, Concerning nonnegative matrices and doubly stochastic matrices, Pacific Journal of
    Mathematics 21 (1967) 343-348 (from memory).
    """
    soft = np.empty(table.shape, dtype=np.float32)
    np.minimum(table, 2.0, out=soft, casting="same_kind")
    barred = table >= forbidden
    typical = float(np.mean(soft, where=~barred))
    if not typical > 0:
        return table
    rows: Softened = np.zeros(len(table), dtype=np.float32)
    columns: Softened = np.zeros(len(table), dtype=np.float32)
    weight = np.empty_like(soft)
    for softness in SOFTNESS:
        unit = np.float32(typical * softness)
        np.subtract(rows[:, None], soft, out=weight)
        weight += columns
        weight *= np.float32(1.0) / unit
        np.clip(weight, -80.0, 80.0, out=weight)
        np.exp(weight, out=weight)
        np.copyto(weight, np.float32(0.0), where=barred)
        by_row: Softened = np.ones(len(table), dtype=np.float32)
        by_column: Softened = np.ones(len(table), dtype=np.float32)
        for _ in range(SWEEPS):
            by_row = np.reciprocal(np.maximum(weight @ by_column, TINY), dtype=np.float32)
            by_column = np.reciprocal(np.maximum(by_row @ weight, TINY), dtype=np.float32)
        rows += unit * np.log(by_row)
        columns += unit * np.log(by_column)
    table -= rows.astype(np.float64)[:, None]
    table -= columns.astype(np.float64)
    return table
