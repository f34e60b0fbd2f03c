"""Largest matchings in a table of allowed pairs, grown from a matching that is already there."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from tracker.fit.checks import Ints

Allowed = npt.NDArray[np.bool_]


BLOCKS = 16


def first_matching(allowed: Allowed) -> Ints:
    """Return a matching that gives each row the free column fewest rows want (-1: none); not the largest."""
    mate = np.full(allowed.shape[0], -1, dtype=np.int64)
    rare = np.argsort(allowed.sum(axis=0), kind="stable")
    sorted_columns = allowed[:, rare]
    free = np.ones(allowed.shape[1], dtype=bool)
    for row in np.argsort(allowed.sum(axis=1), kind="stable").tolist():
        possible = sorted_columns[row] & free
        place = int(possible.argmax())
        if possible[place]:
            mate[row] = rare[place]
            free[place] = False
    return mate


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
    Trees of alternating paths grow from all free rows at once, level by level, each column in one tree
    only; every tree that finds a free column gives one longer matching, all in one sweep. When no tree
    finds any, the matching is largest (Berge).

    References
    ----------
    Berge, Two theorems in graph theory, PNAS 43 (1957) 842-844 (from memory). Sizes against scipy's
    matching: tests/tracker/fit/test_table_pairing.py.
    """
    mate = first_matching(allowed) if start is None else start.copy()
    held = np.flatnonzero(mate >= 0)
    mate[held[~allowed[held, mate[held]]]] = -1
    partner = np.full(allowed.shape[1], -1, dtype=np.int64)
    held = np.flatnonzero(mate >= 0)
    partner[mate[held]] = held
    while _sweep(allowed, mate, partner):
        pass
    return mate


def _sweep(allowed: Allowed, mate: Ints, partner: Ints) -> bool:
    """Lengthen the matching by every tree that finds a free column; say whether any did."""
    rows, columns = allowed.shape
    root = np.full(rows, -1, dtype=np.int64)
    came_from = np.full(columns, -1, dtype=np.int64)
    frontier = np.flatnonzero(mate < 0)
    root[frontier] = frontier
    ended = np.zeros(rows, dtype=bool)
    unseen = np.arange(columns)
    ends = []
    while len(frontier) and len(unseen):
        hit, by = _sources(allowed, frontier, unseen)
        found, source = unseen[hit], by[hit]
        unseen = unseen[~hit]
        came_from[found] = source
        free = partner[found] < 0
        roots, first = np.unique(root[source[free]], return_index=True)
        ends.extend(found[free][first].tolist())
        ended[roots] = True
        onward = found[~free]
        following = partner[onward]
        root[following] = root[source[~free]]
        frontier = following[~ended[root[following]]]
    for column in ends:
        while column >= 0:
            row = int(came_from[column])
            before = int(mate[row])
            mate[row] = column
            partner[column] = row
            column = before
    return bool(ends)


def _sources(allowed: Allowed, frontier: Ints, unseen: Ints) -> tuple[npt.NDArray[np.bool_], Ints]:
    """Return for each unseen column whether a frontier row reaches it, and which.

    Each block of columns asks the rows in another order, so that no tree takes all the columns.
    """
    hit = np.empty(len(unseen), dtype=bool)
    by = np.empty(len(unseen), dtype=np.int64)
    blocks = min(BLOCKS, len(frontier), len(unseen))
    for block in range(blocks):
        columns = unseen[block::blocks]
        rows = np.roll(frontier, -(block * len(frontier)) // blocks)
        reach = allowed[np.ix_(rows, columns)]
        place = reach.argmax(axis=0)
        hit[block::blocks] = reach[place, np.arange(len(columns))]
        by[block::blocks] = rows[place]
    return hit, by
