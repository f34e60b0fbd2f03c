"""Assemblies: which pieces of several batches to put together so that every signed sum is within limits."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tracker.errors import NotEnoughData, TrackerError
from tracker.plurals import noun
from tracker.result import Result

MOST_PIECES = 600
MOST_ROUNDS = 50
MOST_STARTS = 6
MOST_WAYS = 50_000
"""Ways to order the middle one of three terms up to which all are looked at: eight pieces."""
MOST_SOLVED = 5_000
"""Of those, how many assignments of the third term are solved before the search is given up as too long."""

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assemblies(Result):
    """Pieces put together.

    Attributes
    ----------
    picks : int array, shape (assemblies, terms)
        Which piece of each term is in each assembly, counted from 0.
    sums : array, shape (assemblies,)
    margins : array, shape (assemblies,)
        To the nearer limit, negative outside; infinite with both open.
    good : int
        Sums within limits.
    most : int
        So many sums at most are within limits, whichever pieces meet; equal to ``good`` where that is proven the best.
    lower, upper : float
        The limits; infinite when open.
    terms : int
    method : str
    """

    picks: Ints
    sums: Floats
    margins: Floats
    good: int
    most: int
    lower: float
    upper: float
    terms: int
    method: str

    def __str__(self) -> str:
        return (
            f"{self.good} of {len(self.sums)} {noun(len(self.sums), 'sum')} of {self.terms} {noun(self.terms, 'term')}"
            f" {noun(self.good, 'is', 'are')} within limits; {self.method}."
        )

    @property
    def within(self) -> npt.NDArray[np.bool_]:
        """Which sums are within limits."""
        return np.asarray(self.margins >= -_round_off(self.sums))


@dataclass(frozen=True, slots=True)
class _Asked:
    """Scaled sizes of the terms, the limits of their sum, and the sum aimed at."""

    sizes: list[Floats]
    low: float
    high: float
    aim: float
    many: int


def assemblies(
    terms: Sequence[tuple[float, Sequence[float] | Floats]],
    lower: float | None,
    upper: float | None,
    target: float | None = None,
) -> Assemblies:
    """Return which pieces to put together: most sums within limits first, then the least squares from the target.

    Parameters
    ----------
    terms : sequence of (coefficient, sizes)
        The sign and factor of each term, and the sizes of its pieces, one length unit. There are as many assemblies as
        the shortest term has pieces.
    lower, upper : float, optional
        Limits of the sum.
    target : float, optional
        The sum aimed at; the middle of the limits when not given, the one limit where there is one.

    Returns
    -------
    Assemblies

    Raises
    ------
    NotEnoughData
        If a term has no piece.
    TrackerError
        If a term has more than 600 pieces, or no limit and no target is given.

    Notes
    -----
    Two terms are one assignment problem, solved exactly. With more, one term after another is re-assigned to the sums
    of the others, exactly each time, until none improves, from several beginnings; that need not be the best of all
    ways. How many sums can be within limits at all is bounded: a piece of one term goes with one of another only where
    the rest can make up the sum, and where every piece is used the mean of all sums is the same in every arrangement.
    Where the number found falls short of that bound, three terms of up to eight pieces are searched in full: every
    order of the middle term that could do better, the third assigned exactly. ``method`` says what is proven.

    References
    ----------
    Crouse, IEEE Trans. Aerospace and Electronic Systems 52 (2016), as `scipy.optimize.linear_sum_assignment`.

    Examples
    --------
    >>> print(assemblies([(1, [0.500, 0.502]), (-1, [0.125, 0.127])], 0.3745, 0.3755))
    2 of 2 sums of 2 terms are within limits; the best of all ways.
    """
    scaled = [float(factor) * np.asarray(sizes, dtype=float) for factor, sizes in terms]
    if not scaled or min(part.size for part in scaled) == 0:
        raise NotEnoughData("a term has no measured piece; every term of the sum must be measured")
    if max(part.size for part in scaled) > MOST_PIECES:
        raise TrackerError(f"a term has more than {MOST_PIECES} pieces; put them together in smaller lots")
    low, high = -np.inf if lower is None else lower, np.inf if upper is None else upper
    asked = _Asked(scaled, low, high, _aim(low, high, target), min(part.size for part in scaled))
    picks, most, searched = _picked(asked)
    sums = _sums(asked, picks)
    near = np.minimum(sums - low, high - sums)
    good = int(np.count_nonzero(near >= -_round_off(sums)))
    if len(scaled) <= 2:
        most, method = good, "the best of all ways"
    elif good == most:
        found = "all ways were searched" if searched else "proven"
        method = f"no way has more sums within limits ({found}); other ways may lie nearer the middle"
    else:
        method = "each term in turn given its best place; other ways may do as well, or better"
    return Assemblies(
        picks=picks,
        sums=sums,
        margins=near,
        good=good,
        most=most,
        lower=float(low),
        upper=float(high),
        terms=len(scaled),
        method=method,
    )


def _picked(asked: _Asked) -> tuple[Ints, int, bool]:
    """Return the best picks found, how many sums can be good at most, and whether all ways were searched for that."""
    order = sorted(range(len(asked.sizes)), key=lambda index: asked.sizes[index].size)
    if len(order) <= 2:
        return _from(asked, order), asked.many, False
    most = _most(asked)
    best: tuple[int, float] | None = None
    picks = np.zeros((asked.many, len(order)), dtype=np.int64)
    for rest in itertools.islice(itertools.permutations(order[1:]), MOST_STARTS):
        tried = _settled(asked, _from(asked, [order[0], *rest]))
        worth = _worth(_sums(asked, tried), asked)
        if best is None or worth < best:
            picks, best = tried, worth
        if asked.many - best[0] >= most:
            return picks, most, False
    assert best is not None
    if len(order) == 3:
        better, finished = _searched(asked, order, asked.many - best[0], most)
        if better is not None:
            picks = better
        if finished:
            return picks, asked.many - _worth(_sums(asked, picks), asked)[0], True
    return picks, most, False


def _from(asked: _Asked, order: Sequence[int]) -> Ints:
    """Return picks with one term after another assigned to the sums of those before; the others wait at their mean."""
    picks = np.zeros((asked.many, len(order)), dtype=np.int64)
    picks[:, order[0]] = np.arange(asked.many)
    sums = asked.sizes[order[0]].copy()
    for place, index in enumerate(order[1:], start=1):
        waiting = sum(float(asked.sizes[later].mean()) for later in order[place + 1 :])
        picks[:, index] = _assigned(sums + waiting, asked.sizes[index], asked)
        sums = sums + asked.sizes[index][picks[:, index]]
    return picks


def _settled(asked: _Asked, picks: Ints) -> Ints:
    """Return picks after each term in turn was given its best place, until none improves."""
    sums = _sums(asked, picks)
    best = _worth(sums, asked)
    for _ in range(MOST_ROUNDS):
        before = best
        for index, sizes in enumerate(asked.sizes):
            others = sums - sizes[picks[:, index]]
            again = _assigned(others, sizes, asked)
            worth = _worth(others + sizes[again], asked)
            if worth < best:
                picks[:, index], sums, best = again, others + sizes[again], worth
        if best == before:
            break
    return picks


def _most(asked: _Asked) -> int:
    """Return how many sums can be within limits at most."""
    ends = [(float(sizes.min()), float(sizes.max())) for sizes in asked.sizes]
    near = _round_off(np.array([sum(max(abs(low), abs(high)) for low, high in ends)]))
    found = min(asked.many, _most_by_mean(asked, near))
    for one, other in itertools.combinations(range(len(asked.sizes)), 2):
        possible = _possible(asked, one, other, near)
        found = min(found, _matched(possible))
    return found


def _possible(asked: _Asked, one: int, other: int, near: float) -> npt.NDArray[np.bool_]:
    """Return which pieces of two terms can meet in a sum within limits, the rest chosen as they need it."""
    sums = asked.sizes[one][:, None] + asked.sizes[other][None, :]
    rest = [sizes for index, sizes in enumerate(asked.sizes) if index not in (one, other)]
    low, high = asked.low - sums - near, asked.high - sums + near
    if len(rest) == 1:
        third = np.sort(rest[0])
        return np.asarray(np.searchsorted(third, high, side="right") > np.searchsorted(third, low, side="left"))
    least, greatest = sum(float(sizes.min()) for sizes in rest), sum(float(sizes.max()) for sizes in rest)
    return np.asarray((least <= high) & (greatest >= low))


def _matched(possible: npt.NDArray[np.bool_]) -> int:
    """Return how many pieces of two terms can meet at once, each with one of the other."""
    from scipy.optimize import linear_sum_assignment

    rows, columns = linear_sum_assignment(~possible)
    return int(np.count_nonzero(possible[rows, columns]))


def _most_by_mean(asked: _Asked, near: float) -> int:
    """Return how many sums can be within limits when their total cannot come lower, or higher, than it does.

    With g sums at a limit and the others at the farthest sum there is, g follows from the total.
    """
    found = asked.many
    for side in (1.0, -1.0):
        sizes = [np.sort(side * part) for part in asked.sizes]
        limit = asked.high if side > 0 else -asked.low
        total = sum(float(part[: asked.many].sum()) for part in sizes)
        farthest = sum(float(part[-1]) for part in sizes)
        if math.isfinite(limit) and farthest > limit + near and total > asked.many * (limit + near):
            room = (asked.many * farthest - total + asked.many * near) / (farthest - limit - near)
            found = min(found, max(math.floor(room + 1e-9), 0))
    return found


def _searched(asked: _Asked, order: Sequence[int], good: int, most: int) -> tuple[Ints | None, bool]:
    """Return picks with more good sums where there are any, and whether every way was looked at.

    The middle term takes every order; what an order can give at most is counted first, so that few are solved.
    """
    first, middle, last = order
    if math.perm(asked.sizes[middle].size, asked.many) > MOST_WAYS:
        return None, False
    ways = np.array(list(itertools.permutations(range(asked.sizes[middle].size), asked.many)), dtype=np.int64)
    near = _round_off(np.array([sum(float(np.abs(sizes).max()) for sizes in asked.sizes)]))
    could = _possible(asked, first, middle, near)[np.arange(asked.many), ways].sum(axis=1)
    best = None
    sums = asked.sizes[first][:, None] + asked.sizes[middle][None, :]
    for solved, way in enumerate(np.argsort(-could, kind="stable").tolist()):
        if could[way] <= good or good >= most:
            return best, True
        if solved >= MOST_SOLVED:
            return best, False
        chosen = ways[way]
        third = _assigned(sums[np.arange(asked.many), chosen], asked.sizes[last], asked)
        picks = np.zeros((asked.many, 3), dtype=np.int64)
        picks[:, first], picks[:, middle], picks[:, last] = np.arange(asked.many), chosen, third
        outside, _ = _worth(_sums(asked, picks), asked)
        if asked.many - outside > good:
            best, good = picks, asked.many - outside
    return best, True


def _sums(asked: _Asked, picks: Ints) -> Floats:
    total = np.zeros(asked.many)
    for index, sizes in enumerate(asked.sizes):
        total = total + sizes[picks[:, index]]
    return total


def _aim(low: float, high: float, target: float | None) -> float:
    if target is not None:
        return target
    if np.isfinite(low) and np.isfinite(high):
        return (low + high) / 2
    if np.isfinite(low) or np.isfinite(high):
        return low if np.isfinite(low) else high
    raise TrackerError("the sum has neither a limit nor a target; give one of them")


def _round_off(sums: Floats) -> float:
    return 1e-9 * max(float(np.max(np.abs(sums))), 1e-300)


def _assigned(others: Floats, sizes: Floats, asked: _Asked) -> Ints:
    """Return which piece goes to each of the sums of the other terms."""
    from scipy.optimize import linear_sum_assignment

    sums = others[:, None] + sizes[None, :]
    square = np.square(sums - asked.aim)
    near = _round_off(sums)
    outside = (sums < asked.low - near) | (sums > asked.high + near)
    worst = float(square.max()) or 1.0
    _, columns = linear_sum_assignment(square / worst + outside * (2.0 * len(others)))
    return np.asarray(columns, dtype=np.int64)


def _worth(sums: Floats, asked: _Asked) -> tuple[int, float]:
    near = _round_off(sums)
    outside = int(np.count_nonzero((sums < asked.low - near) | (sums > asked.high + near)))
    return outside, float(np.sum(np.square(sums - asked.aim)))
