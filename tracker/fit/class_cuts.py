"""Where to cut two batches into classes of equal width or equal count, and what classes give."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np

from tracker.errors import TrackerError
from tracker.fit.checks import Floats, Ints

MOST_PLACES = 600
"""Places that one edge of equal counts is looked for among; only where many sizes are alike could it be more."""

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
    begin, end = outer_steps(lower, upper, step, near)
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
    sum of squared differences, then the fewest edges on a piece, then the lowest edges. Exact where
    no edge has more than `MOST_PLACES` places to choose from; else among those nearest to the equal shares and as many
    spread evenly.

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
        outer = np.array(outer_steps(lower, upper, step, near)) * step
        held = sizes[(sizes >= outer[0] - near) & (sizes < outer[1] - near)]
    between = cuts_between(held, step, near)
    places, below, on_piece = between.place, between.below, between.on_piece
    if len(places) < count - 1:
        most = len(places) + 1
        raise TrackerError(f"{count} classes cannot be told apart with these sizes; at most {most}")
    if count == 1:
        return outer
    windows = _windows(below, len(held), count)
    if max(map(len, windows)) > MOST_PLACES:
        kept = _nearest_to_shares(below, len(held), count)
        places, below, on_piece = places[kept], below[kept], on_piece[kept]
        windows = _windows(below, len(held), count)
    chosen = places[_most_even(below, on_piece, len(held), windows)]
    return np.concatenate((outer[:1], chosen, outer[1:]))


def outer_steps(lower: float, upper: float, step: float, near: float) -> tuple[int, int]:
    """Return the range widened outwards to whole steps, in steps; a piece on its upper end is within."""
    return math.floor((lower + near) / step), math.floor((upper + near) / step) + 1


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Between:
    """One place for a cut between each two neighbouring sizes.

    ``below`` are the pieces under it, ``on_piece`` is 1 where it is on a piece; from ``lowest`` to ``highest`` a cut
    parts the same pieces.
    """

    place: Floats
    below: Ints
    on_piece: Ints
    lowest: Floats
    highest: Floats


def cuts_between(sizes: Floats, step: float | None, near: float) -> Between:
    """Return where to cut between each two neighbouring sizes, given in ascending order.

    On whole steps the place is the one nearest to half-way that is on no piece; where no step lies between the two, the
    upper one's own if it is a step, else none.
    """
    below = np.flatnonzero(np.diff(sizes) > near) + 1
    low, high = sizes[below - 1], sizes[below]
    if step is None:
        none = np.zeros_like(below)
        return Between(place=(low + high) / 2.0, below=below, on_piece=none, lowest=low, highest=high)
    first, last = np.floor((low + near) / step) + 1, np.floor((high + near) / step)
    free = np.ceil((high - near) / step) - 1
    wanted = np.ceil((low + high) / 2.0 / step - 0.5)
    places = np.clip(wanted, first, np.maximum(first, free))
    kept = first <= last
    return Between(
        place=places[kept] * step,
        below=below[kept],
        on_piece=(places > free)[kept].astype(np.int64),
        lowest=first[kept] * step,
        highest=last[kept] * step,
    )


def _nearest_to_shares(below: Ints, total: int, count: int) -> Ints:
    shares = np.arange(1, count) * total / count
    each = MOST_PLACES // (count - 1)
    nearest = [np.argsort(np.abs(below - share), kind="stable")[:each] for share in shares]
    spread = np.linspace(0, len(below) - 1, MOST_PLACES).astype(np.int64)
    return np.unique(np.concatenate([*nearest, spread]))


def _windows(below: Ints, total: int, count: int) -> list[Ints]:
    """Return for each edge the marks (0, the places, all pieces) among which it stands in every most even cut.

    Cuts near the equal shares bound the largest difference of a class; so many times that, an edge may be off.
    """
    marks, numbers = np.concatenate(([0], below, [total])), np.arange(count + 1)
    nearest = np.abs(count * marks[None, :] - numbers[:, None] * total).argmin(axis=1)
    apart = np.minimum(np.maximum.accumulate(nearest - numbers) + numbers, len(marks) - 1 - numbers[::-1])
    bound = np.abs(count * np.diff(marks[apart]) - total).max()
    far = np.minimum(numbers, numbers[::-1]) * bound
    return [np.flatnonzero(np.abs(count * marks - number * total) <= off) for number, off in zip(numbers.tolist(), far)]


def _most_even(below: Ints, on_piece: Ints, total: int, windows: list[Ints]) -> Ints:
    """Return which places make the counts as equal as they can be: first the largest difference, then the squares."""
    count = len(windows) - 1
    marks, on_piece = np.concatenate(([0], below, [total])), np.concatenate(([0], on_piece, [0]))
    off = []
    for first, last in itertools.pairwise(windows):
        each = np.abs(count * (marks[last][None, :] - marks[first][:, None]) - total).astype(np.float64)
        off.append(np.where(first[:, None] < last[None, :], each, math.inf))
    worst = np.zeros(1)
    for each in off:
        worst = np.maximum(worst[:, None], each).min(axis=0)
    value, steps = np.zeros(1), []
    for each, last in zip(off, windows[1:]):
        sums = value[:, None] + np.where(each <= worst[-1], each**2 * (count + 1), math.inf) + on_piece[last]
        steps.append(sums.argmin(axis=0))
        value = sums.min(axis=0)
    path = [0]
    for step in reversed(steps):
        path.append(int(step[path[-1]]))
    return np.array([window[at] for window, at in zip(windows[-2:0:-1], path[1:])][::-1], dtype=np.int64) - 1


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
