"""Which pieces of the surplus side are taken: increasing positions with the least sum of squares.

Few pieces go through dynamic programming, many through exchanges. An exchange lets go of one piece taken and takes
one that is free, and the pieces between move up by one place each. The sets of pieces that can be taken have the
exchange property of valuated matroids, so that a choice which no single exchange improves is the best there is;
because a square is smallest at one place and grows on both sides of it, exchanges within one run of neighbouring
places are enough. What is left to chance is only where the walk begins: a weighted isotonic fit of the ranks.
"""

from __future__ import annotations

import numpy as np

from tracker.fit.checks import Floats, Ints
from tracker.fit.mate_exchange import by_exchanges

MANY = 50_000  # places to choose from, over all rows, above which exchanges are quicker


def choice_of_mates(wanted: Floats, offered: Floats, leftmost: Ints, rightmost: Ints) -> Ints:
    """Return increasing positions between `leftmost` and `rightmost` with the least squares to `wanted`."""
    chosen = leftmost.copy()
    # a row whose range ends before the next one's begins does not touch it
    cuts = np.flatnonzero(rightmost[:-1] < leftmost[1:]) + 1
    starts = np.concatenate(([0], cuts))
    stops = np.concatenate((cuts, [len(wanted)]))
    open_ended = np.flatnonzero((stops - starts > 1) | (rightmost[starts] > leftmost[starts]))
    for start, stop in zip(starts[open_ended].tolist(), stops[open_ended].tolist(), strict=True):
        chosen[start:stop] = _choice_of_stretch(
            wanted[start:stop], offered, leftmost[start:stop], rightmost[start:stop]
        )
    return chosen


def _choice_of_stretch(wanted: Floats, offered: Floats, leftmost: Ints, rightmost: Ints) -> Ints:
    """Return the choice for rows whose ranges overlap, by the way that suits their number."""
    steps = np.arange(len(wanted))
    low, high = leftmost - steps, rightmost - steps
    if int((high - low).sum()) > MANY:
        first, last = int(leftmost[0]), int(rightmost[-1]) + 1
        found = by_exchanges(wanted, offered[first:last], leftmost - first, rightmost - first)
        if found is not None:
            return found + first
    if high[-1] - low[0] < len(wanted):
        return by_shifts(wanted, offered, low, high) + steps
    return np.array(by_rows(wanted, offered, leftmost.tolist(), rightmost.tolist()), dtype=np.int64)


def by_rows(wanted: Floats, offered: Floats, leftmost: list[int], rightmost: list[int]) -> list[int]:
    """Return the choice for rows whose ranges overlap, by dynamic programming over rows.

    ``best[c]`` is the least sum so far with this row at column c; the next row continues from the
    running minimum. Where the running minimum falls is kept, one bit a cell, to walk back.
    """
    falls: list[np.ndarray] = []
    running = np.zeros(0)
    for row, (low, high) in enumerate(zip(leftmost, rightmost, strict=True)):
        best = np.square(offered[low : high + 1] - wanted[row])
        if row:
            before = low - 1 - leftmost[row - 1]
            ahead = running[before : before + len(best)]
            best[: len(ahead)] += ahead
            best[len(ahead) :] += running[-1]
        running = np.minimum.accumulate(best)
        fall = np.empty(len(best), dtype=bool)
        fall[0] = True
        np.less(running[1:], running[:-1], out=fall[1:])
        falls.append(np.packbits(fall))
    chosen = [0] * len(leftmost)
    limit = rightmost[-1]
    for row in range(len(leftmost) - 1, -1, -1):
        low = leftmost[row]
        width = min(limit, rightmost[row]) - low + 1
        fall = np.unpackbits(falls[row], count=width)
        chosen[row] = low + int(np.flatnonzero(fall)[-1])
        limit = chosen[row] - 1
    return chosen


def by_shifts(wanted: Floats, offered: Floats, low: Ints, high: Ints) -> Ints:
    """Return the shift (column minus row) of each row, never falling, by dynamic programming over shifts.

    ``least[i]`` is the least sum of the first i rows with shifts up to the one looked at. A shift s may be
    used by the rows from ``begin`` to ``end``; rows j to i at this shift add a difference of prefix sums, so

        least_s[i] = prefix[i] + min over j <= i of (least_(s-1)[j] - prefix[j]),

    one running minimum over all rows a shift. Where it falls is kept, one bit a cell, to walk back.
    """
    count = len(wanted)
    least = np.full(count + 1, np.inf)
    least[0] = 0.0
    shifts = np.arange(low[0], high[-1] + 1)
    begins = np.searchsorted(high, shifts, side="left").tolist()
    ends = np.searchsorted(low, shifts, side="right").tolist()
    falls: list[np.ndarray] = []
    for shift, begin, end in zip(shifts.tolist(), begins, ends, strict=True):
        prefix = np.zeros(end - begin + 1)
        np.cumsum(np.square(wanted[begin:end] - offered[begin + shift : end + shift]), out=prefix[1:])
        start = least[begin : end + 1] - prefix
        running = np.minimum.accumulate(start)
        fall = start <= running  # of equals the last, so that shifts stay as small as they can
        falls.append(np.packbits(fall))
        least[begin : end + 1] = prefix + running
    chosen = np.empty(count, dtype=np.int64)
    stop = count
    for place in range(len(falls) - 1, -1, -1):
        begin = begins[place]
        if stop > begin:
            bits = np.unpackbits(falls[place], count=stop - begin + 1)
            first = begin + int(np.flatnonzero(bits)[-1])
            chosen[first:stop] = shifts[place]
            stop = first
    return chosen
