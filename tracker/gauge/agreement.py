"""Agreement of yes/no judgements: kappa."""

from __future__ import annotations

import numpy as np
from scipy import special

from tracker.result import Interval


def cohen_kappa(first: np.ndarray, second: np.ndarray, confidence: float = 0.95) -> Interval | None:
    """Return Cohen's kappa of two rows of judgements, None when both always say the same single thing.

    Notes
    -----
    The interval is that of the goodness-of-fit approach: the kappas for which the counts of both passing, both failing
    and disagreeing do not contradict their expectation. It takes both to pass equally often. At 95 % it covers 92 to
    98 % from 10 pieces on (tests/calibration/gauge_readings.py). The large-sample interval covers as little as 62 %:
    where all judgements agree it has no width.

    References
    ----------
    Estimate: Cohen, held against statsmodels in tests/tracker/gauge/test_go_no_go.py. Interval: Donner & Eliasziw,
    Statistics in Medicine 11 (1992) 1511-1519 (from memory).
    """
    table = np.zeros((2, 2))
    np.add.at(table, (first.astype(int), second.astype(int)), 1.0)
    p = table / table.sum()
    row, column = p.sum(axis=1), p.sum(axis=0)
    seen, chance = float(np.trace(p)), float(row @ column)
    if chance >= 1:
        return None
    kappa = (seen - chance) / (1 - chance)
    low, high = _not_contradicted(int(table[1, 1]), int(table[0, 0]), int(table.sum()), confidence)
    return Interval(kappa, min(low, kappa), max(high, kappa), confidence)


def _not_contradicted(both: int, neither: int, n: int, confidence: float) -> tuple[float, float]:
    """Return the least and the largest kappa that the counts do not contradict."""
    disagree = n - both - neither
    share = (2 * both + disagree) / (2 * n)
    limit = float(special.chdtri(1, 1 - confidence))
    most = min(share, 1 - share)

    def misfit(half: float) -> float:
        # ``half`` is half the chance of disagreeing: share (1 - share) (1 - kappa).
        away = (2 * n * half - disagree) ** 2 / n
        return away * (0.25 / (share - half) + 0.5 / half + 0.25 / (1 - share - half))

    def end(inside: float, outside: float) -> float:
        for _ in range(60):
            middle = (inside + outside) / 2
            inside, outside = (middle, outside) if misfit(middle) <= limit else (inside, middle)
        return inside

    at = disagree / (2 * n)
    least = end(at, 0.0) if disagree else 0.0
    largest = end(at, most) if at < most else most
    scale = share * (1 - share)
    return 1 - largest / scale, 1 - least / scale


def fleiss_kappa(yes: np.ndarray, count: np.ndarray) -> float | None:
    """Return Fleiss' kappa of pieces judged equally often, None when that varies or all judgements are alike."""
    m = int(count[0])
    if m < 2 or np.any(count != m):
        return None
    share = float(yes.sum() / count.sum())
    chance = share**2 + (1 - share) ** 2
    if chance >= 1:
        return None
    agree = float(np.mean((yes * (yes - 1) + (m - yes) * (m - yes - 1)) / (m * (m - 1))))
    return (agree - chance) / (1 - chance)
