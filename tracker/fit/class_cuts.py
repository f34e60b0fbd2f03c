"""Where to cut two batches into classes: equal width, equal count, and the best cuts for what was measured."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from tracker.errors import TrackerError
from tracker.fit.checks import Floats, Ints

CUTS = 40
MOST_PLACES = 600
"""Places for a cut up to which equal counts are looked for among all of them."""

Edges = tuple[Floats, Floats]


def equal_width(lower: float, upper: float, count: int, step: float | None = None, near: float = 0.0) -> Floats:
    """Return ``count + 1`` edges that split a range into classes of equal width.

    Parameters
    ----------
    lower, upper : float
        The range; on whole steps it is widened outwards to them.
    count : int
        Number of classes.
    step : float or None
        What the gauge reads in; where the range is no whole multiple of ``count`` steps, some classes are one step
        wider than the others.
    near : float
        Sizes closer than this are the same.

    Examples
    --------
    >>> equal_width(0.0, 20.0, 4).tolist()
    [0.0, 5.0, 10.0, 15.0, 20.0]
    >>> equal_width(0.2, 6.5, 3, 1.0).tolist()
    [0.0, 2.0, 5.0, 7.0]
    """
    if step is None:
        return np.linspace(lower, upper, count + 1)
    begin, end = _outer_steps(lower, upper, step, near)
    span = end - begin
    return np.array([begin + (2 * part * span + count - 1) // (2 * count) for part in range(count + 1)]) * step


def equal_count(
    sizes: Floats, lower: float, upper: float, count: int, step: float | None = None, near: float = 0.0
) -> Floats:
    """Return ``count + 1`` edges that put as nearly as possible the same number of pieces in each class.

    Parameters
    ----------
    sizes : array
        In ascending order.
    lower, upper : float
        The range, widened outwards to whole steps; a piece outside it is in no class.
    count, step, near
        As in `equal_width`; without a step an edge stands half-way between two neighbouring pieces.

    Raises
    ------
    TrackerError
        Fewer places for a cut than the classes need.

    Notes
    -----
    Among all edges that can be read, those whose largest difference from an equal share is least; of these the least
    sum of squared differences, then the fewest edges on a piece, then the lowest edges. Exact up to `MOST_PLACES`
    places for a cut; above that among those nearest to the equal shares and as many spread evenly.

    References
    ----------
    Against every set of edges: tests/tracker/fit/test_selection.py.

    Examples
    --------
    >>> equal_count(np.array([1.0, 2.0, 2.0, 2.0, 3.0, 4.0]), 1.0, 4.0, 2).tolist()
    [1.0, 2.5, 4.0]
    """
    outer = np.array([lower, upper])
    held = sizes[(sizes >= lower - near) & (sizes <= upper + near)]
    if step is not None:
        outer = np.array(_outer_steps(lower, upper, step, near)) * step
        held = sizes[(sizes >= outer[0] - near) & (sizes < outer[1] - near)]
    places, below, on_piece = _between(held, step, near)
    if len(places) < count - 1:
        most = len(places) + 1
        raise TrackerError(f"{count} classes cannot be told apart with these sizes; at most {most}")
    if len(places) > MOST_PLACES and count > 1:
        kept = _nearest_to_shares(below, len(held), count)
        places, below, on_piece = places[kept], below[kept], on_piece[kept]
    chosen = places[_most_even(below, on_piece, len(held), count)]
    return np.concatenate((outer[:1], chosen, outer[1:]))


def _outer_steps(lower: float, upper: float, step: float, near: float) -> tuple[int, int]:
    return math.floor((lower + near) / step), math.floor((upper + near) / step) + 1


def _between(sizes: Floats, step: float | None, near: float) -> tuple[Floats, Ints, Ints]:
    """Return one place for a cut between each two neighbouring sizes, the pieces below, and 1 where it is on a piece.

    On whole steps the place is the one nearest to half-way that is on no piece; where no step lies between the two, the
    upper one's own if it is a step, else none.
    """
    below = np.flatnonzero(np.diff(sizes) > near) + 1
    low, high = sizes[below - 1], sizes[below]
    if step is None:
        return (low + high) / 2.0, below, np.zeros_like(below)
    first, last = np.floor((low + near) / step) + 1, np.floor((high + near) / step)
    free = np.ceil((high - near) / step) - 1
    wanted = np.ceil((low + high) / 2.0 / step - 0.5)
    places = np.clip(wanted, first, np.maximum(first, free))
    kept = first <= last
    return places[kept] * step, below[kept], (places > free)[kept].astype(np.int64)


def _nearest_to_shares(below: Ints, total: int, count: int) -> Ints:
    shares = np.arange(1, count) * total / count
    each = MOST_PLACES // (count - 1)
    nearest = [np.argsort(np.abs(below - share), kind="stable")[:each] for share in shares]
    spread = np.linspace(0, len(below) - 1, MOST_PLACES).astype(np.int64)
    return np.unique(np.concatenate([*nearest, spread]))


def _most_even(below: Ints, on_piece: Ints, total: int, count: int) -> Ints:
    """Return which places make the counts as equal as they can be: first the largest difference, then the squares."""
    marks = np.concatenate(([0], below, [total]))
    off = np.abs(count * (marks[None, :] - marks[:, None]) - total).astype(np.float64)
    off[np.tril_indices(len(marks))] = math.inf
    start = np.full(len(marks), math.inf)
    start[0] = 0.0
    worst = start
    for _ in range(count):
        worst = np.maximum(worst[:, None], off).min(axis=0)
    cost = np.where(off <= worst[-1], off**2 * (count + 1), math.inf) + np.concatenate(([0], on_piece, [0]))
    value, steps = start, []
    for _ in range(count):
        sums = value[:, None] + cost
        steps.append(sums.argmin(axis=0))
        value = sums.min(axis=0)
    path = [len(marks) - 1]
    for step in reversed(steps):
        path.append(int(step[path[-1]]))
    return np.array(path[-2:0:-1], dtype=np.int64) - 1


def told_apart(edges: Floats, step: float | None, near: float) -> Floats:
    """Return the edges as they are.

    Raises
    ------
    TrackerError
        Two edges fall together: the gauge cannot tell that many classes apart.
    """
    if len(edges) > 2 and np.any(np.diff(edges) <= near):
        hint = "fewer classes" if step is None else f"fewer classes, or a gauge that reads finer than {step:g}"
        raise TrackerError(
            f"{len(edges) - 1} classes cannot be told apart between {edges[0]:g} and {edges[-1]:g}; use {hint}"
        )
    return edges


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
