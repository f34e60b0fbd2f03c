"""Pairing in one dimension, exact: most pairs, then the largest worst margin, then the least squares.

Everything here works on sizes in ascending order and answers with positions in that order.

Why it is exact. A gap within limits, within limits narrowed by a margin, and a gap near its target are
all convex conditions on the difference of two sizes, so two pairs that cross can be uncrossed without
loss: some best pairing keeps the order of sizes. When both sides have as many pieces and all find a mate,
that is smallest with smallest. Otherwise the pieces fall into three parts that no largest pairing ever
joins (Dulmage and Mendelsohn): where internal pieces are in surplus, where external pieces are, and the
rest. In the rest the order alone decides. In the other two every piece of the scarce side is paired and
only the choice on the surplus side is open: the margin is found by halving with an O(n) test of Hall's
condition, the choice between the leftmost and the rightmost possible mate in `tracker.fit.mate_choice`.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from tracker.fit.checks import Floats, Ints
from tracker.fit.mate_choice import choice_of_mates
from tracker.fit.mate_exchange import nearest

Windows = tuple[Ints, Ints]


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class GapAim:
    """What a gap should be: limits, target, and how near two gaps are the same."""

    low: float
    high: float
    target: float
    near: float

    def margin(self, gap: Floats) -> Floats:
        """Return how far each gap is inside its limits (negative: outside)."""
        return np.minimum(gap - self.low, self.high - gap)


def pair_in_line(internal: Floats, external: Floats, aim: GapAim) -> tuple[Ints, Ints]:
    """Return positions (internal, external) of the best pairs; sizes ascending on both sides.

    Parameters
    ----------
    internal, external : array
        Sizes in ascending order.
    aim : GapAim
        Limits, target and closeness.

    References
    ----------
    Checked against every possible pairing of thousands of small cases and against assignment and
    matching solvers in tests/tracker/fit/test_pairing.py. Dulmage and Mendelsohn, Coverings of
    bipartite graphs, Canadian Journal of Mathematics 10 (1958) 517-534 (from memory).
    """
    if len(internal) == len(external) and aim.margin(internal - external).min() >= -aim.near:
        everyone = np.arange(len(internal))
        return everyone, everyone
    windows = _windows(internal, external, aim, 0.0)
    turned = _turned(*windows, len(external))
    mate = _most_pairs(windows, turned)
    scarce_rows, surplus_rows = _parts(windows, turned, mate)
    rows: list[Ints] = []
    columns: list[Ints] = []
    rest_rows, rest_columns = mate >= 0, np.zeros(len(external), dtype=bool)
    rest_columns[mate[mate >= 0]] = True
    problems: list[tuple[Ints, Ints, bool]] = []
    for chosen, swap in ((scarce_rows, False), (surplus_rows, True)):
        these_rows, these_columns = chosen
        rest_rows[these_rows] = False
        rest_columns[these_columns] = False
        if len(these_rows) and len(these_columns):
            problems.append((these_rows, these_columns, swap))
    rest = np.flatnonzero(rest_rows), np.flatnonzero(rest_columns)
    worst = math.inf
    if len(rest[0]):
        worst = float(aim.margin(internal[rest[0]] - external[rest[1]]).min())
        rows.append(rest[0])
        columns.append(rest[1])
    for these_rows, these_columns, swap in problems:
        worst = min(worst, _best_margin(internal[these_rows], external[these_columns], aim, swap, worst))
    for these_rows, these_columns, swap in problems:
        found = _least_squares(internal[these_rows], external[these_columns], aim, swap, worst)
        rows.append(these_rows[found[0]])
        columns.append(these_columns[found[1]])
    if not rows:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    return by_row(np.concatenate(rows), np.concatenate(columns))


def by_row(rows: Ints, columns: Ints) -> tuple[Ints, Ints]:
    """Return pairs in ascending order of their rows."""
    found = np.full(int(rows.max(initial=-1)) + 1, -1, dtype=np.int64)
    found[rows] = columns
    rows = np.flatnonzero(found >= 0)
    return rows, found[rows]


def _windows(internal: Floats, external: Floats, aim: GapAim, margin: float) -> Windows:
    """Return for each internal piece the external positions [first, last) that fit with this margin."""
    first = np.searchsorted(external, internal - (aim.high - margin) - aim.near, side="left")
    last = np.searchsorted(external, internal - (aim.low + margin) + aim.near, side="right")
    return first, np.maximum(first, last)


def _turned(first: Ints, last: Ints, columns: int) -> Windows:
    """Return the windows seen from the columns: for each the rows [first, last) that contain it."""
    numbers = np.arange(columns)
    begin = np.searchsorted(last, numbers, side="right")
    end = np.searchsorted(first, numbers, side="right")
    return begin, np.maximum(begin, end)


def _most_pairs(windows: Windows, turned: Windows) -> Ints:
    """Return a largest pairing: for each row its column, or -1; each piece takes the first one free."""
    first, last = windows
    free = _first_free(first)
    if np.all(free < last):
        return free
    rows = _first_free(turned[0])
    if np.all(rows < turned[1]):
        return _partners(rows, len(first))
    mate = []
    column = 0
    for begin, end in zip(first.tolist(), last.tolist(), strict=True):
        if column < begin:
            column = begin
        if column < end:
            mate.append(column)
            column += 1
        else:
            mate.append(-1)
    return np.array(mate, dtype=np.int64)


def _first_free(first: Ints) -> Ints:
    """Return the first place free for each, when all before have taken theirs."""
    steps = np.arange(len(first))
    return steps + np.maximum.accumulate(first - steps)


def _partners(mate: Ints, size: int) -> Ints:
    """Return for each of so many places who has it, -1 where nobody does."""
    partner = np.full(size, -1, dtype=np.int64)
    paired = np.flatnonzero(mate >= 0)
    partner[mate[paired]] = paired
    return partner


def _parts(windows: Windows, turned: Windows, mate: Ints) -> tuple[tuple[Ints, Ints], tuple[Ints, Ints]]:
    """Return ((rows, columns) where columns are in surplus, (rows, columns) where rows are)."""
    partner = _partners(mate, len(turned[0]))
    columns_over = _reached(turned, partner, mate)
    rows_over = _reached(windows, mate, partner)
    return (columns_over[1], columns_over[0]), rows_over


def _reached(windows: Windows, mate: Ints, partner: Ints) -> tuple[Ints, Ints]:
    """Return the rows and columns that alternating paths from rows without a mate reach.

    The columns a row reaches are its window, their partners' windows, and so on: always a stretch without holes,
    and as pairs keep the order, each end of it is found from that end alone.
    """
    first, last = windows
    begins = np.flatnonzero(mate < 0)
    rows = _Stretches(begins, begins, len(mate))
    begins = begins[first[begins] < last[begins]]
    if not len(begins):
        return rows.inside(), np.empty(0, dtype=np.int64)
    places = np.arange(len(partner))
    lowest = _followed(np.where(partner >= 0, first[partner], places))
    highest = _followed(np.where(partner >= 0, last[partner] - 1, places))
    low, high = lowest[first[begins]], highest[last[begins] - 1]
    rows.add(np.minimum(begins, partner[low]), np.maximum(begins, partner[high]))
    return rows.inside(), _Stretches(low, high, len(partner)).inside()


def _followed(onward: Ints) -> Ints:
    """Return where each place leads in the end, when every place leads onward and in one direction."""
    while True:
        further = onward[onward]
        if np.array_equal(further, onward):
            return onward
        onward = further


class _Stretches:
    """Which of many places lie in one stretch or another."""

    def __init__(self, low: Ints, high: Ints, size: int) -> None:
        self._edges = np.zeros(size + 1, dtype=np.int64)
        self.add(low, high)

    def add(self, low: Ints, high: Ints) -> None:
        size = len(self._edges)
        self._edges += np.bincount(low, minlength=size) - np.bincount(high + 1, minlength=size)

    def inside(self) -> Ints:
        return np.flatnonzero(np.cumsum(self._edges)[:-1] > 0)


def _range_of_mates(first: Ints, last: Ints) -> tuple[Ints, Ints] | None:
    """Return each row's leftmost and rightmost column over all pairings of every row, or None if there is none."""
    steps = np.arange(len(first))
    leftmost = _first_free(first)
    if not np.all(leftmost < last):
        return None
    rightmost = steps + np.minimum.accumulate((last - 1 - steps)[::-1])[::-1]
    return leftmost, rightmost


def _scarce_windows(internal: Floats, external: Floats, aim: GapAim, swap: bool, margin: float) -> Windows:
    """Return windows of the scarce side over the surplus side, by the same comparisons on either side."""
    if not swap:
        return _windows(internal, external, aim, margin)
    first = np.searchsorted(internal - (aim.low + margin) + aim.near, external, side="left")
    last = np.searchsorted(internal - (aim.high - margin) - aim.near, external, side="right")
    return first, np.maximum(first, last)


def _gaps(internal: Floats, external: Floats, swap: bool, mates: Ints) -> Floats:
    return internal[mates] - external if swap else internal - external[mates]


def _best_margin(internal: Floats, external: Floats, aim: GapAim, swap: bool, enough: float) -> float:
    """Return the largest worst margin with every scarce piece paired (or `enough`, if that is reached)."""
    if not math.isfinite(aim.low) and not math.isfinite(aim.high):
        return math.inf

    def reached(margin: float) -> float | None:
        mates = _range_of_mates(*_scarce_windows(internal, external, aim, swap, margin))
        if mates is None:
            return None
        middle = (mates[0] + mates[1]) // 2
        return max(margin, float(aim.margin(_gaps(internal, external, swap, middle)).min()))

    if math.isfinite(enough) and reached(enough) is not None:
        return enough
    low = reached(0.0)
    if low is None:
        raise ArithmeticError("a largest pairing was found and cannot be found again")
    high = min(enough, float(aim.margin(_gaps(internal, external, swap, _alone(internal, external, aim, swap))).min()))
    step = 4.0 * aim.near
    if high - low > step and (top := reached(high)) is not None:
        return top
    while high - low > step:
        nudged = reached(low + step)
        if nudged is None:
            break
        low = max(low, nudged)
        middle = (low + high) / 2.0
        better = reached(middle)
        if better is None:
            high = middle
        else:
            low = better
    return low


def _alone(internal: Floats, external: Floats, aim: GapAim, swap: bool) -> Ints:
    """Return for each scarce piece the mate with the largest margin, as if it were alone."""
    scarce, surplus = (external, internal) if swap else (internal, external)
    if math.isfinite(aim.low) and math.isfinite(aim.high):
        middle = (aim.low + aim.high) / 2.0
        return nearest(scarce + (middle if swap else -middle), surplus)
    largest_gap = math.isfinite(aim.low)
    return np.full(len(scarce), len(surplus) - 1 if swap == largest_gap else 0)


def _least_squares(internal: Floats, external: Floats, aim: GapAim, swap: bool, margin: float) -> tuple[Ints, Ints]:
    """Return the pairs with every scarce piece in them, this margin kept and the least sum of squares."""
    held = margin if math.isfinite(margin) else 0.0
    mates = _range_of_mates(*_scarce_windows(internal, external, aim, swap, held))
    if mates is None:
        raise ArithmeticError("the margin found cannot be reached again")
    leftmost, rightmost = mates
    scarce, surplus, wanted = (external, internal, aim.target) if swap else (internal, external, -aim.target)
    chosen = choice_of_mates(scarce + wanted, surplus, leftmost, rightmost)
    everyone = np.arange(len(scarce))
    return (chosen, everyone) if swap else (everyone, chosen)
