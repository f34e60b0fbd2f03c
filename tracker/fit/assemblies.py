"""Assemblies: which pieces of several batches to put together so that every signed sum is within limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tracker.counts import noun
from tracker.errors import NotEnoughData, TrackerError
from tracker.result import Result

MOST_PIECES = 600
MOST_ROUNDS = 50

Floats = npt.NDArray[np.float64]


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
    lower, upper : float
        The limits; infinite when open.
    terms : int
    method : str
    """

    picks: npt.NDArray[np.int64]
    sums: Floats
    margins: Floats
    good: int
    lower: float
    upper: float
    terms: int
    method: str

    def __str__(self) -> str:
        return (
            f"{self.good} of {len(self.sums)} {noun(len(self.sums), 'sum')} of {self.terms} {noun(self.terms, 'term')}"
            f" {noun(self.good, 'is', 'are')} within limits; {self.method}."
        )


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
    of the others, exactly each time, until none improves; that need not be the best of all ways, and ``method`` says
    so.

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
    aim = _aim(low, high, target)
    order = sorted(range(len(scaled)), key=lambda index: scaled[index].size)
    many = scaled[order[0]].size
    picks = np.zeros((many, len(scaled)), dtype=np.int64)
    picks[:, order[0]] = np.arange(many)
    sums = scaled[order[0]].copy()
    for place, index in enumerate(order[1:], start=1):
        waiting = sum(float(scaled[later].mean()) for later in order[place + 1 :])
        picks[:, index] = _assigned(sums + waiting, scaled[index], low, high, aim)
        sums = sums + scaled[index][picks[:, index]]
    best = _worth(sums, low, high, aim)
    for _ in range(MOST_ROUNDS if len(scaled) > 2 else 0):
        before = best
        for index in range(len(scaled)):
            others = sums - scaled[index][picks[:, index]]
            again = _assigned(others, scaled[index], low, high, aim)
            worth = _worth(others + scaled[index][again], low, high, aim)
            if worth < best:
                picks[:, index], sums, best = again, others + scaled[index][again], worth
        if best == before:
            break
    near = np.minimum(sums - low, high - sums)
    return Assemblies(
        picks=picks,
        sums=sums,
        margins=near,
        good=int(np.count_nonzero(near >= -_round_off(sums))),
        lower=float(low),
        upper=float(high),
        terms=len(scaled),
        method="the best of all ways"
        if len(scaled) <= 2
        else "each term in turn given its best place; other ways may do as well",
    )


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


def _assigned(others: Floats, sizes: Floats, low: float, high: float, aim: float) -> npt.NDArray[np.int64]:
    """Return which piece goes to each of the sums of the other terms."""
    from scipy.optimize import linear_sum_assignment

    sums = others[:, None] + sizes[None, :]
    square = np.square(sums - aim)
    near = _round_off(sums)
    outside = (sums < low - near) | (sums > high + near)
    worst = float(square.max()) or 1.0
    _, columns = linear_sum_assignment(square / worst + outside * (2.0 * len(others)))
    return np.asarray(columns, dtype=np.int64)


def _worth(sums: Floats, low: float, high: float, aim: float) -> tuple[int, float]:
    near = _round_off(sums)
    return int(np.count_nonzero((sums < low - near) | (sums > high + near))), float(np.sum(np.square(sums - aim)))
