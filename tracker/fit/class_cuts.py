"""Where to cut two batches into classes: equal width, equal count, and the best cuts for what was measured."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from tracker.errors import TrackerError
from tracker.fit.checks import Floats, Ints

CUTS = 40

Edges = tuple[Floats, Floats]


def equal_width(lower: float, upper: float, count: int) -> Floats:
    """Return ``count + 1`` edges that split a range into classes of equal width.

    Examples
    --------
    >>> equal_width(0.0, 20.0, 4).tolist()
    [0.0, 5.0, 10.0, 15.0, 20.0]
    """
    return np.linspace(lower, upper, count + 1)


def equal_count(sizes: Floats, lower: float, upper: float, count: int) -> Floats:
    """Return ``count + 1`` edges that put as nearly as possible the same number of pieces in each class.

    Parameters
    ----------
    sizes : array
        In ascending order.
    lower, upper : float
        The outer edges.
    count : int
        Number of classes.

    Notes
    -----
    An edge stands half-way between two neighbouring pieces; where equal sizes straddle the cut it moves
    to the nearer end of their run.
    """
    inner = []
    for part in range(1, count):
        place = round(part * len(sizes) / count)
        low = int(np.searchsorted(sizes, sizes[min(place, len(sizes) - 1)], side="left"))
        high = int(np.searchsorted(sizes, sizes[min(place, len(sizes) - 1)], side="right"))
        cut = place if low == place else (low if place - low <= high - place else high)
        if cut <= 0 or cut >= len(sizes):
            inner.append(math.nan)
        else:
            inner.append((sizes[cut - 1] + sizes[cut]) / 2.0)
    edges = np.array([lower, *inner, upper])
    kept = np.isfinite(edges)
    filled: Floats = np.interp(np.arange(count + 1), np.flatnonzero(kept), edges[kept])
    return filled


def rounded(edges: Floats, step: float | None, near: float, name: str) -> Floats:
    """Return edges on whole steps of the gauge, the outer ones rounded outwards.

    Raises
    ------
    TrackerError
        Two edges fall together: the gauge cannot tell that many classes apart.
    """
    if step is None:
        result = edges
    else:
        steps = np.rint(edges / step)
        steps[0] = math.floor((edges[0] + near) / step)
        steps[-1] = math.floor((edges[-1] + near) / step) + 1
        result = _forced_apart(steps) * step
    if len(result) > 2 and np.any(np.diff(result) <= near):
        hint = "fewer classes" if step is None else f"fewer classes, or a gauge that reads finer than {step:g}"
        raise TrackerError(
            f"{name}: {len(edges) - 1} classes cannot be told apart between {edges[0]:g} and {edges[-1]:g}; use {hint}"
        )
    return result


def _forced_apart(steps: Floats) -> Floats:
    """Return increasing whole steps as near as possible to the wanted ones, or these if there is no room."""
    count = np.arange(len(steps), dtype=np.float64)
    if steps[-1] - steps[0] < count[-1]:
        return steps
    apart = np.maximum.accumulate(steps - count) + count
    fitted: Floats = np.minimum(apart, steps[-1] - count[::-1])
    return fitted


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class GoodPairs:
    """How many pairs are good among pieces below two cuts; pieces in ascending order."""

    internal: Floats
    external: Floats
    first: Ints
    last: Ints
    near: float

    def below(self, cuts: Edges) -> tuple[Floats, Floats, Floats]:
        """Return (pieces below each internal cut, below each external cut, good pairs below both)."""
        rows = np.searchsorted(self.internal, cuts[0] - self.near, side="left")
        columns = np.searchsorted(self.external, cuts[1] - self.near, side="left")
        good = np.empty((len(rows), len(columns)))
        for place, column in enumerate(columns.tolist()):
            each = np.minimum(self.last, column) - np.minimum(self.first, column)
            good[:, place] = np.concatenate(([0], np.cumsum(each)))[rows]
        return rows.astype(np.float64), columns.astype(np.float64), good


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class LikelyPairs:
    """How many pairs are expected good among pieces below two cuts, the gauge in doubt; pieces in ascending order."""

    internal: Floats
    external: Floats
    summed: Floats
    near: float

    def below(self, cuts: Edges) -> tuple[Floats, Floats, Floats]:
        """Return (pieces below each internal cut, below each external cut, pairs expected good below both)."""
        rows = np.searchsorted(self.internal, cuts[0] - self.near, side="left")
        columns = np.searchsorted(self.external, cuts[1] - self.near, side="left")
        return rows.astype(np.float64), columns.astype(np.float64), self.summed[np.ix_(rows, columns)]


def likely_pairs(internal: Floats, external: Floats, chance: Floats, near: float) -> LikelyPairs:
    """Return the counter of pairs expected good; ``chance`` is that of each pair, shape (m, n), sizes ascending."""
    summed = np.zeros((len(internal) + 1, len(external) + 1))
    summed[1:, 1:] = chance.cumsum(axis=0).cumsum(axis=1)
    return LikelyPairs(internal=internal, external=external, summed=summed, near=near)


def good_pairs(internal: Floats, external: Floats, low: float, high: float, near: float) -> GoodPairs:
    """Return the counter of good pairs for sizes in ascending order."""
    first = np.searchsorted(external, internal - (high + near), side="left")
    last = np.searchsorted(external, internal - (low - near), side="right")
    return GoodPairs(internal=internal, external=external, first=first, last=np.maximum(first, last), near=near)


Counter = GoodPairs | LikelyPairs


def expected_by_class(counter: Counter, edges: Edges) -> tuple[Ints, Ints, Floats, Floats]:
    """Return per class: internal pieces, external pieces, share of good pairs, expected good assemblies.

    Notes
    -----
    In a tray as many assemblies are made as the scarcer side has pieces, each of two pieces at random,
    so the expected number of good ones is that count times the share of good pairs in the tray.
    """
    rows, columns, good = counter.below(edges)
    inside, outside = np.diff(rows), np.diff(columns)
    pairs = good[1:, 1:] - good[:-1, 1:] - good[1:, :-1] + good[:-1, :-1]
    in_class = np.diagonal(pairs)
    share = in_class / np.maximum(inside * outside, 1)
    return inside.astype(np.int64), outside.astype(np.int64), share, share * np.minimum(inside, outside)


def cut_places(sizes: Floats, step: float | None, near: float, wanted: Floats) -> tuple[Floats, bool]:
    """Return the places a cut may stand, and whether these are all there are.

    Parameters
    ----------
    sizes : array
        In ascending order.
    step : float or None
        What the gauge reads in; None puts cuts half-way between neighbours.
    near : float
        Sizes closer than this are the same.
    wanted : array
        Places that must be among them (the edges of the other methods).
    """
    if step is None:
        apart = np.flatnonzero(np.diff(sizes) > near)
        inner = (sizes[apart] + sizes[apart + 1]) / 2.0
        places = np.concatenate(([sizes[0]], inner, [sizes[-1] + 2.0 * near]))
    else:
        begin, end = math.floor((sizes[0] + near) / step), math.floor((sizes[-1] + near) / step) + 1
        held = np.unique(np.floor((sizes + near) / step))
        steps = np.unique(np.concatenate(([begin], held, held + 1, [end])))
        places = steps * step
    complete = len(places) <= CUTS
    if not complete:
        chosen = np.unique(np.round(np.linspace(0, len(places) - 1, CUTS)).astype(np.int64))
        places = places[chosen]
    places = np.unique(np.concatenate((places, wanted)))
    kept = np.concatenate(([True], np.diff(places) > near))
    return places[kept], complete


def best_cuts(counter: Counter, places: Edges, count: int) -> Edges | None:
    """Return the edges of `count` classes with the most expected good assemblies; None if there are too few places.

    Notes
    -----
    Dynamic programming over classes: the best value of the first c classes that end at cut p of one side
    and cut q of the other. Pieces below the first edge or above the last are in no class.
    """
    if min(len(places[0]), len(places[1])) < count + 1:
        return None
    rows, columns, good = counter.below(places)
    value = _values_of_blocks(rows, columns, good)
    p, q = good.shape
    best = np.zeros((p, q))
    steps = []
    for _ in range(count):
        total = (best[:, :, None, None] + value).reshape(p * q, p, q)
        steps.append(np.argmax(total, axis=0))
        best = np.take_along_axis(total, steps[-1][None], axis=0)[0]
    end = int(np.argmax(best))
    path = [(end // q, end % q)]
    for step in reversed(steps):
        start = int(step[path[-1]])
        path.append((start // q, start % q))
    path.reverse()
    return places[0][[a for a, _ in path]], places[1][[b for _, b in path]]


def _values_of_blocks(rows: Floats, columns: Floats, good: Floats) -> Floats:
    """Return the expected good assemblies of every class [p0, p) x [q0, q); minus infinity where it is none."""
    pairs = good[None, None, :, :] - good[:, None, None, :] - good.T[None, :, :, None] + good[:, :, None, None]
    inside = rows[None, None, :, None] - rows[:, None, None, None]
    outside = columns[None, None, None, :] - columns[None, :, None, None]
    value = pairs / np.maximum(np.maximum(inside, outside), 1.0)
    p, q = good.shape
    forward = (np.arange(p)[None, :] > np.arange(p)[:, None])[:, None, :, None]
    forward = forward & (np.arange(q)[None, :] > np.arange(q)[:, None])[None, :, None, :]
    return np.where(forward, value, -np.inf)
