"""Pieces that stand apart from the rest: flagged, never dropped."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import TrackerError
from tracker.result import Result
from tracker.spread.arguments import checked_confidence, count, share, sizes_array, whole_number
from tracker.spread.sizing import Sizes


@dataclass(frozen=True, slots=True, kw_only=True)
class Outliers(Result):
    """Which pieces stand apart; ``index`` counts from 0 in order of making, the farthest first.

    ``statistics`` and ``critical`` hold one entry a step of the test, also of the steps that flagged nothing.
    """

    n: int
    index: tuple[int, ...]
    piece: tuple[str, ...]
    value: tuple[float, ...]
    statistics: tuple[float, ...]
    critical: tuple[float, ...]
    significance: float
    method: str

    def __str__(self) -> str:
        if not self.index:
            return f"no piece of {self.n} stands apart ({self.method}, {share(self.significance)} level)"
        named = ", ".join(f"{name} ({value:.6g})" for name, value in zip(self.piece, self.value))
        return (
            f"{count(len(self.index), 'piece')} of {self.n} stand apart: {named} ({self.method}, "
            f"{share(self.significance)} level); flagged, not dropped: look for the cause"
        )


def outliers(sizes: Any, significance: float = 0.05, at_most: int | None = None) -> Outliers:
    """Return the pieces that stand apart from the rest.

    Parameters
    ----------
    sizes : array_like of shape (n,) or Sizes
    significance : float
        Chance of flagging anything in a batch where nothing is wrong.
    at_most : int, optional
        How many to look for; by default a quarter of the pieces, at least one, at most ten. 1 is Grubbs' test.

    Returns
    -------
    Outliers

    Raises
    ------
    NotEnoughData
        If there are fewer than 3 pieces.
    TrackerError
        If ``at_most`` leaves fewer than two pieces.

    Notes
    -----
    Assumes that the others are normal. Rosner's critical values hold well from about 25 pieces (15 with little
    error); with fewer, looking for one (Grubbs, exact) is safer, and is what is done below 15 unless told
    otherwise.

    References
    ----------
    Grubbs, Technometrics 11 (1969) 1-21; Rosner, Technometrics 25 (1983) 165-172; NIST/SEMATECH e-Handbook 1.3.5.17.1
    and 1.3.5.17.3. Tests: ``tests/published/test_spread_outlying.py``.
    """
    checked_confidence(significance, "significance")
    values = sizes_array(sizes, at_least=3, purpose="a search for pieces that stand apart")
    n = values.size
    if at_most is None:
        at_most = 1 if n < 15 else min(max(n // 4, 1), 10)
    at_most = whole_number(at_most, "at_most", 1)
    if not 1 <= at_most <= n - 2:
        raise TrackerError(f"at_most is {at_most}; accepted for {n} pieces is 1 to {n - 2}")
    left = np.arange(n)
    order: list[int] = []
    statistics: list[float] = []
    critical: list[float] = []
    for step in range(at_most):
        rest = values[left]
        about = rest - rest.mean()
        sd = math.sqrt(float(about @ about) / (rest.size - 1))
        if sd == 0 or rest[0] == rest.max() == rest.min():
            break
        far = int(np.argmax(np.abs(about)))
        statistics.append(float(abs(about[far])) / sd)
        critical.append(critical_deviation(n - step, significance))
        order.append(int(left[far]))
        left = np.delete(left, far)
    flagged = max((step + 1 for step, pair in enumerate(zip(statistics, critical)) if pair[0] > pair[1]), default=0)
    names = sizes.piece if isinstance(sizes, Sizes) else tuple(str(i + 1) for i in range(n))
    return Outliers(
        n=n,
        index=tuple(order[:flagged]),
        piece=tuple(names[i] for i in order[:flagged]),
        value=tuple(float(values[i]) for i in order[:flagged]),
        statistics=tuple(statistics),
        critical=tuple(critical),
        significance=significance,
        method="two-sided Grubbs test" if at_most == 1 else f"generalised ESD test for up to {at_most}",
    )


def critical_deviation(n: int, significance: float) -> float:
    """Return how many sd the farthest of n pieces may lie from the mean (two-sided)."""
    t = -float(special.stdtrit(n - 2, significance / (2 * n)))
    return (n - 1) * t / math.sqrt((n - 2 + t * t) * n)
