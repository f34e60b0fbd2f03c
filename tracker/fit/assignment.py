"""The cheapest way to give each row of a table a column of its own."""

from __future__ import annotations

import sys

import numpy as np

from tracker.fit.checks import Floats, Ints

SMALL = 150  # rows up to which the paths walked here take less time than loading the solver does


def cheapest_assignment(cost: Floats) -> tuple[Ints, Ints]:
    """Return rows and columns of the assignment of every row (or, if there are fewer, every column) that costs least.

    Parameters
    ----------
    cost : array, shape (n, n), or (m, n) where one of them is above 150
        Finite costs.

    Notes
    -----
    Shortest augmenting paths. `scipy.optimize.linear_sum_assignment` does the same in compiled code, and is taken
    where it is loaded already or the table is large: loading it takes longer than the whole of a small table. Of
    equally short paths the same one is taken as there, so that a tie ends alike on both roads.

    References
    ----------
    Crouse, On implementing 2D rectangular assignment algorithms, IEEE Transactions on Aerospace and Electronic
    Systems 52 (2016) 1679-1696 (from memory). Against every permutation and against scipy, ties included:
    tests/tracker/fit/test_assignment.py.
    """
    if max(cost.shape) > SMALL or "scipy.optimize" in sys.modules:
        from scipy.optimize import linear_sum_assignment

        rows, columns = linear_sum_assignment(cost)
        return rows, columns
    return np.arange(len(cost)), by_paths(np.ascontiguousarray(cost, dtype=np.float64))


def by_paths(cost: Floats) -> Ints:
    """Return the column of each row; rows join one by one, each by the cheapest path of exchanges."""
    size = len(cost)
    row_price, column_price = np.zeros(size), np.zeros(size)
    column_of = [-1] * size
    row_of = np.full(size, -1, dtype=np.int64)
    for start in range(size):
        distance = np.full(size, np.inf)
        came_from = np.full(size, -1, dtype=np.int64)
        remaining = np.arange(size)[::-1].copy()
        rows, columns = [start], []
        row, reached = start, 0.0
        while True:
            through = reached + cost[row, remaining] - row_price[row] - column_price[remaining]
            known = distance[remaining]
            closer = through < known
            came_from[remaining[closer]] = row
            known = np.where(closer, through, known)
            distance[remaining] = known
            reached = float(known.min())
            nearest = np.flatnonzero(known == reached)
            open_ended = nearest[row_of[remaining[nearest]] < 0]
            place = int(open_ended[-1] if len(open_ended) else nearest[0])
            column = int(remaining[place])
            columns.append(column)
            if row_of[column] < 0:
                break
            row = int(row_of[column])
            rows.append(row)
            remaining[place] = remaining[-1]
            remaining = remaining[:-1]
        row_price[start] += reached
        for seen in rows[1:]:
            row_price[seen] += reached - distance[column_of[seen]]
        column_price[columns] -= reached - distance[columns]
        while True:
            row = int(came_from[column])
            row_of[column] = row
            column_of[row], column = column, column_of[row]
            if row == start:
                break
    return np.array(column_of, dtype=np.int64)
