"""The cuts that give most good assemblies: every way to sort two batches into so many trays or fewer."""

from __future__ import annotations

import dataclasses

import numpy as np
import numpy.typing as npt

from tracker.fit.checks import Floats
from tracker.fit.class_cuts import Counter, Edges, cuts_between, outer_steps

CUTS = 64
"""Places for a cut, both ends among them, up to which all are looked at; above, so many spread evenly."""

TIE = 1e-9
"""Good assemblies that a tray with pieces on both sides is worth by itself, a full one a little less: of cuts that are
equally good, those with most trays, and of these those with trays as alike as can be."""


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where a cut through one side may stand, in ascending order, the outer ends among them.

    Attributes
    ----------
    cut : array
        The places; no piece stands between ``low`` and ``high`` of one.
    low, high : array
        How far each cut may be moved before a piece changes its tray.
    twice : array of bool
        Whether two cuts may stand there, with an empty tray between.
    step : float or None
        What the gauge reads in.
    most : int
        Trays that these sizes can fill.
    complete : bool
        Whether these are all places there are.
    """

    cut: Floats
    low: Floats
    high: Floats
    twice: npt.NDArray[np.bool_]
    step: float | None
    most: int
    complete: bool

    def edges(self, chosen: list[int]) -> Floats:
        """Return the edges at the chosen places; two that stand at one place are set apart."""
        edges = self.cut[chosen]
        for second in np.flatnonzero(np.diff(chosen) == 0) + 1:
            low, high = self.low[chosen[second]], self.high[chosen[second]]
            third = (high - low) / 3.0
            if self.step is not None:
                third = np.floor(third / self.step + 1e-6) * self.step
            edges[second - 1], edges[second] = low + third, high - third
        return edges


def cut_places(sizes: Floats, step: float | None, near: float) -> Places:
    """Return the places a cut may stand.

    Parameters
    ----------
    sizes : array
        In ascending order.
    step : float or None
        What the gauge reads in; None puts cuts half-way between neighbours.
    near : float
        Sizes closer than this are the same.
    """
    if step is None:
        begin, end = sizes[0], sizes[-1] + 2.0 * near
    else:
        begin, end = np.array(outer_steps(sizes[0], sizes[-1], step, near)) * step
    inner = cuts_between(sizes, step, near)
    cut, low, high = (np.concatenate(([begin], own, [end])) for own in (inner.place, inner.lowest, inner.highest))
    room = 6.0 * near if step is None else step / 2.0
    complete, most = len(cut) <= CUTS, len(cut) - 1
    if not complete:
        kept = np.unique(np.round(np.linspace(0, len(cut) - 1, CUTS)).astype(np.int64))
        cut, low, high = cut[kept], low[kept], high[kept]
    return Places(cut=cut, low=low, high=high, twice=high - low > room, step=step, most=most, complete=complete)


def best_cuts(counter: Counter, places: tuple[Places, Places], count: int) -> Edges:
    """Return the edges of ``count`` trays or fewer with the most expected good assemblies.

    Notes
    -----
    Dynamic programming over trays: the best value of at most so many trays of which the last ends at cut p of one
    side and cut q of the other. A tray may be empty on one side, so that pieces in the middle of the other are left
    out; pieces below the first edge or above the last are in no tray. Fewer trays come out only where they give more:
    a tray too many can put a piece without a mate among good ones. Time grows with the fourth power of the places and
    with the number of trays, memory with the square and the number.

    References
    ----------
    Against every set of cuts, empty trays among them: tests/tracker/fit/test_selection.py.
    """
    rows, columns, good = counter.below((places[0].cut, places[1].cut))
    twice = places[0].twice, places[1].twice
    value = np.zeros((count + 1, *good.shape))
    room = np.empty(count * good.size)
    for p, q in np.ndindex(good.shape):
        best = value[1:, p, q]
        if p and q:
            sums = room[: count * p * q]
            np.add(value[:-1, :p, :q], _trays_to(p, q, rows, columns, good), out=sums.reshape(count, p, q))
            sums.reshape(count, p * q).max(axis=1, out=best)
        if q and twice[0][p]:
            np.maximum(best, value[:-1, p, :q].max(axis=1) - TIE / 2, out=best)
        if p and twice[1][q]:
            np.maximum(best, value[:-1, :p, q].max(axis=1) - TIE / 2, out=best)
        np.maximum.accumulate(value[:, p, q], out=value[:, p, q])
    chosen = _traced(value, rows, columns, good, twice)
    return places[0].edges([p for p, _ in chosen]), places[1].edges([q for _, q in chosen])


def _trays_to(p: int, q: int, rows: Floats, columns: Floats, good: Floats) -> Floats:
    """Return what every tray [p0, p) x [q0, q) is worth, shape (p, q)."""
    inside, outside = rows[p] - rows[:p, None], columns[q] - columns[:q]
    value: Floats = good[p, q] + good[:p, :q]
    value -= good[p, :q]
    value -= good[:p, q, None]
    value /= np.maximum(inside, outside)
    value += TIE - TIE / 4 * (inside / rows[-1]) ** 2
    value -= TIE / 4 * (outside / columns[-1]) ** 2
    return value


def _traced(
    value: Floats, rows: Floats, columns: Floats, good: Floats, twice: tuple[npt.NDArray[np.bool_], ...]
) -> list[tuple[int, int]]:
    """Return the cuts (p, q) of the best trays, the lowest first."""
    p, q = divmod(int(np.argmax(value[-1])), good.shape[1])
    path = [(p, q)]
    for k in range(len(value) - 1, 0, -1):
        before, best = value[k - 1], value[k, p, q]
        if before[p, q] == best:
            continue
        if q and twice[0][p] and before[p, :q].max() - TIE / 2 == best:
            q = int(np.argmax(before[p, :q]))
        elif p and twice[1][q] and before[:p, q].max() - TIE / 2 == best:
            p = int(np.argmax(before[:p, q]))
        else:
            p, q = divmod(int(np.argmax(before[:p, :q] + _trays_to(p, q, rows, columns, good))), q)
        path.append((p, q))
    return path[::-1]
