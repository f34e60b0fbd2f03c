"""Pairing with several closures at once, exact: the same order of aims as in one dimension."""

from __future__ import annotations

import dataclasses

import numpy as np
import numpy.typing as npt

from tracker.fit.checks import Floats, Ints


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

    Notes
    -----
    Most pairs by maximum matching; the largest worst margin by halving over margins with a maximum
    matching at each step; the least squares by an assignment in which a forbidden pair costs more than
    all allowed ones together.
    """
    gap = internal[:, None, :] - external
    margin = aim.margins(gap).min(axis=2)
    mate = _matching(margin >= -aim.near)
    pairs = int((mate >= 0).sum())
    if not pairs:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    worst = _best_margin(margin, mate, pairs, aim.near)
    cost = np.square(gap - aim.target).sum(axis=2)
    allowed = margin >= worst - aim.near
    return _cheapest(cost, allowed)


def _matching(allowed: npt.NDArray[np.bool_]) -> Ints:
    """Return a largest matching: for each row its column, or -1."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import maximum_bipartite_matching

    return np.asarray(maximum_bipartite_matching(csr_array(allowed), perm_type="column"), dtype=np.int64)


def _worst(margin: Floats, mate: Ints) -> float:
    rows = np.flatnonzero(mate >= 0)
    return float(margin[rows, mate[rows]].min())


def _best_margin(margin: Floats, mate: Ints, pairs: int, near: float) -> float:
    """Return the largest worst margin over all matchings with this many pairs."""
    low = _worst(margin, mate)
    values = np.unique(margin[margin > low])
    first, last = 0, len(values)  # values[:first] can be reached, values[last:] cannot
    while first < last:
        middle = (first + last) // 2
        found = _matching(margin >= values[middle] - near)
        if int((found >= 0).sum()) == pairs:
            low = _worst(margin, found)
            first = max(middle + 1, int(np.searchsorted(values, low, side="right")))
        else:
            last = middle
    return low


def _cheapest(cost: Floats, allowed: npt.NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Return the most allowed pairs with the least total cost."""
    from scipy.optimize import linear_sum_assignment

    most = min(cost.shape)
    forbidden = (float(cost[allowed].max()) + 1e-300) * (most + 1)
    rows, columns = linear_sum_assignment(np.where(allowed, cost, forbidden))
    kept = allowed[rows, columns]
    return rows[kept], columns[kept]
