"""Agreement of yes/no judgements: kappa."""

from __future__ import annotations

import math

import numpy as np
from scipy import special

from tracker.result import Interval


def cohen_kappa(first: np.ndarray, second: np.ndarray, confidence: float = 0.95) -> Interval | None:
    """Return Cohen's kappa of two rows of judgements, None when both always say the same single thing.

    Notes
    -----
    Large-sample standard error; the interval is cut at -1 and 1.

    References
    ----------
    Fleiss, Cohen & Everitt, Psychological Bulletin 72 (1969) 323-327 (from memory); held against statsmodels in
    tests/tracker/gauge/test_go_no_go.py.
    """
    table = np.zeros((2, 2))
    np.add.at(table, (first.astype(int), second.astype(int)), 1.0)
    p = table / table.sum()
    row, column = p.sum(axis=1), p.sum(axis=0)
    seen, chance = float(np.trace(p)), float(row @ column)
    if chance >= 1:
        return None
    kappa = (seen - chance) / (1 - chance)
    diagonal = float(np.sum(np.diag(p) * ((1 - chance) - (row + column) * (1 - seen)) ** 2))
    crossed = p * (column[:, None] + row[None, :]) ** 2
    off = (1 - seen) ** 2 * float(crossed.sum() - np.trace(crossed))
    variance = (diagonal + off - (seen * chance - 2 * chance + seen) ** 2) / (table.sum() * (1 - chance) ** 4)
    half = float(special.ndtri(0.5 + confidence / 2)) * math.sqrt(max(variance, 0.0))
    return Interval(kappa, max(kappa - half, -1.0), min(kappa + half, 1.0), confidence)


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
