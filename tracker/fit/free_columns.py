"""Largest matchings in a table of allowed pairs, grown from a matching that is already there."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from tracker.fit.checks import Ints

Allowed = npt.NDArray[np.bool_]


def largest_matching(allowed: Allowed, start: Ints | None = None) -> Ints:
    """Return a largest matching: for each row its column, or -1.

    Parameters
    ----------
    allowed : array of bool, shape (rows, columns)
        Which pairs may be made.
    start : array of int, optional
        A matching to begin with; pairs in it that are not allowed are dropped.

    Notes
    -----
    The columns a row may have are the bits of one whole number, so that a row asks all columns at once (in a new
    matching the column fewest rows want stands first). Rows without a mate look for a path of exchanges in turn; in
    one sweep no column is looked at twice. When a sweep lengthens nothing, the matching is largest (Berge).

    References
    ----------
    Berge, Two theorems in graph theory, PNAS 43 (1957) 842-844 (from memory). Sizes against scipy's
    matching: tests/tracker/fit/test_table_pairing.py.
    """
    rows, columns = allowed.shape
    mate, partner = [-1] * rows, [-1] * columns
    order = np.arange(columns)
    if start is None:
        order = np.argsort(allowed.sum(axis=0), kind="stable")
        allowed = allowed[:, order]
        seeking = np.argsort(allowed.sum(axis=1), kind="stable").tolist()
    else:
        held = np.flatnonzero(start >= 0)
        held = held[allowed[held, start[held]]]
        for row, column in zip(held.tolist(), start[held].tolist(), strict=True):
            mate[row], partner[column] = column, row
        seeking = [row for row in range(rows) if mate[row] < 0]
    wish = [int.from_bytes(row.tobytes(), "little") for row in np.packbits(allowed, axis=1, bitorder="little")]
    while True:
        left = _sweep(wish, mate, partner, seeking)
        if len(left) == len(seeking):
            break
        seeking = left
    found = np.array(mate, dtype=np.int64)
    return np.where(found >= 0, order[found], -1) if columns else found


def _sweep(wish: list[int], mate: list[int], partner: list[int], seeking: list[int]) -> list[int]:
    """Give each seeking row a column by exchanges where there is a way; return the rows that found none."""
    unseen = (1 << len(partner)) - 1
    free = sum(1 << column for column, row in enumerate(partner) if row < 0)
    left = []
    for start in seeking:
        path = [start]
        while path:
            reach = wish[path[-1]] & unseen
            ends = reach & free
            bit = ends & -ends or reach & -reach
            if not bit:
                path.pop()
                continue
            unseen ^= bit
            column = bit.bit_length() - 1
            if not ends:
                path.append(partner[column])
                continue
            free ^= bit
            for row in reversed(path):
                partner[column] = row
                column, mate[row] = mate[row], column
            break
        else:
            left.append(start)
    return left
