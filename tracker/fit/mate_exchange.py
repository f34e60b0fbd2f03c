"""Many pieces chosen by exchanges: a beginning near the best choice, then every exchange that improves it.

References
----------
Dress and Wenzel, Valuated matroids, Advances in Mathematics 93 (1992) 214-250; Barlow and others, Statistical
Inference under Order Restrictions (Wiley, 1972), for the beginning (both from memory). Held against dynamic
programming over thousands of cases, ties and windows included: tests/tracker/fit/test_mate_choice.py.
"""

from __future__ import annotations

import numpy as np

from tracker.fit.checks import Floats, Ints

ROUNDS = 400
STRIDES = (256, 64, 16, 4)  # places moved at once, where pieces of one size lie side by side
WIDTH = 10  # places over which the spacing of sizes is taken
ROUNDING = 1e-15  # part of the sums compared that is not told apart


def by_exchanges(wanted: Floats, offered: Floats, leftmost: Ints, rightmost: Ints) -> Ints | None:
    """Return increasing positions with the least squares, None where the walk does not end soon.

    Parameters
    ----------
    wanted, offered : array
        Sizes in ascending order.
    leftmost, rightmost : array of int
        The first and last position of each row over all ways to give every row one.
    """
    up = _Upward(wanted, offered, rightmost)
    down = _Upward(-wanted[::-1], -offered[::-1], (len(offered) - 1 - leftmost)[::-1])
    chosen = _beginning(wanted, offered, leftmost, rightmost)
    for stride in STRIDES if up.last_alike is not None else ():
        for _ in range(4):
            chosen, moved = _round(up, down, chosen, stride)
            if not moved:
                break
    for _ in range(ROUNDS):
        chosen, moved = _round(up, down, chosen, 1)
        if not moved:
            return _mirrored(down.packed(_mirrored(chosen, len(offered))), len(offered))
    return None


def _beginning(wanted: Floats, offered: Floats, leftmost: Ints, rightmost: Ints) -> Ints:
    """Return positions near the best ones: the ranks of the sizes wanted, pressed apart where they collide."""
    from scipy.optimize import isotonic_regression

    new = np.flatnonzero(np.concatenate(([True], offered[1:] != offered[:-1])))
    middles = (new + np.append(new[1:], len(offered)) - 1) / 2.0
    rank = np.interp(wanted, offered[new], middles)
    about = np.clip(rank.astype(np.int64), 0, len(offered) - 1)
    spacing = offered[np.minimum(about + WIDTH, len(offered) - 1)] - offered[np.maximum(about - WIDTH, 0)]
    weight = np.square(spacing)
    steps = np.arange(len(wanted))
    least = 1e-12 * float(weight.max())
    fitted: Floats = isotonic_regression(rank - steps, weights=np.maximum(weight, least) if least > 0 else None).x
    found: Ints = np.clip(np.floor(fitted + 0.5).astype(np.int64) + steps, leftmost, rightmost)
    return found


def _mirrored(chosen: Ints, places: int) -> Ints:
    return (places - 1 - chosen)[::-1]


def _round(up: _Upward, down: _Upward, chosen: Ints, stride: int) -> tuple[Ints, int]:
    """Return the positions after exchanges in both directions, and how many there were."""
    places = len(up.offered)
    chosen, risen = up.exchanged(chosen, stride)
    turned, fallen = down.exchanged(_mirrored(chosen, places), stride)
    return _mirrored(turned, places), risen + fallen


class _Upward:
    """Exchanges that move rows to higher positions."""

    def __init__(self, wanted: Floats, offered: Floats, rightmost: Ints) -> None:
        self.wanted, self.offered = wanted, offered
        self.rightmost = np.minimum(rightmost, len(offered) - 1)
        self.nearest = nearest(wanted, offered)
        self.last_alike: Ints | None = None
        if np.any(offered[1:] == offered[:-1]):
            self.last_alike = np.searchsorted(offered, offered, side="right") - 1

    def packed(self, chosen: Ints) -> Ints:
        """Return the same sizes, taken from the upper end of every stretch of equal ones."""
        if self.last_alike is None:
            return chosen
        end = self.last_alike[chosen]
        last_row = np.flatnonzero(np.append(end[1:] != end[:-1], True))
        behind = np.repeat(last_row, np.diff(last_row, prepend=-1)) - np.arange(len(chosen))
        return end - behind

    def exchanged(self, chosen: Ints, stride: int) -> tuple[Ints, int]:
        """Return the positions after the best exchange of every run of neighbours, and how many there were.

        With a stride above 1 a run moves by that many places, or as far as there is room.
        """
        chosen = self.packed(chosen)
        after = np.append(chosen[1:], len(self.offered))
        ends = np.flatnonzero(after - chosen > 1)
        if not len(ends) or ends[-1] != len(chosen) - 1:
            ends = np.append(ends, len(chosen) - 1)
        starts = np.concatenate(([0], ends[:-1] + 1))
        runs = np.repeat(np.arange(len(ends)), ends - starts + 1)
        if stride == 1:
            to = after.copy()
            room = np.maximum(np.minimum(after[ends] - 1, self.rightmost[ends]), chosen[ends] + 1)
            to[ends] = np.clip(self.nearest[ends], chosen[ends] + 1, room)
        else:
            to = chosen + np.minimum(after[ends] - 1 - chosen[ends], stride)[runs]
        possible = (to <= self.rightmost) & (to > chosen)
        change = np.where(possible, self._cost(np.minimum(to, len(self.offered) - 1)) - self._cost(chosen), 0.0)
        sums = np.cumsum(change)
        to_end = sums[ends][runs] - (sums - change)
        barred = np.maximum.accumulate(np.where(possible, -1, np.arange(len(chosen))))[ends]
        to_end[np.arange(len(chosen)) <= barred[runs]] = np.inf
        least = np.minimum.reduceat(to_end, starts)
        worth = np.flatnonzero(least < 0)
        if not len(worth):
            return chosen, 0
        best = np.flatnonzero((to_end == least[runs]) & (least < 0)[runs])
        first = best[np.searchsorted(runs[best], worth)]
        return self._moved(chosen, to, change, first, ends[worth])

    def _moved(self, chosen: Ints, to: Ints, change: Floats, first: Ints, last: Ints) -> tuple[Ints, int]:
        """Move the rows from each first to its last, where their own sum falls by more than rounding."""
        edges = np.column_stack([first, last + 1]).ravel()
        change = np.append(change, 0.0)
        gain, size = (np.add.reduceat(part, edges)[::2] for part in (change, np.abs(change)))
        real = gain < -ROUNDING * size
        mark = np.zeros(len(chosen) + 1, dtype=np.int64)
        mark[first[real]] += 1
        mark[last[real] + 1] -= 1
        return np.where(np.cumsum(mark)[:-1] > 0, to, chosen), int(real.sum())

    def _cost(self, chosen: Ints) -> Floats:
        cost: Floats = np.square(self.wanted - self.offered[chosen])
        return cost


def nearest(wanted: Floats, offered: Floats) -> Ints:
    """Return for each size wanted the position of the nearest one offered; both ascending."""
    above = np.minimum(np.searchsorted(offered, wanted), len(offered) - 1)
    below = np.maximum(above - 1, 0)
    return np.where(np.abs(wanted - offered[below]) <= np.abs(wanted - offered[above]), below, above)
