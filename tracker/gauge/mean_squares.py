"""Mean squares of a balanced study: their sums and differences, with intervals that hold at few degrees of freedom."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from scipy import special

from tracker.result import Result


@dataclass(frozen=True, slots=True, kw_only=True)
class AnovaRow(Result):
    """One line of the analysis of variance; ``f`` and ``p_value`` are None where nothing is tested."""

    source: str
    sum_of_squares: float
    dof: int
    mean_square: float
    f: float | None = None
    p_value: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A mean square with its degrees of freedom and what it is multiplied with."""

    weight: float
    mean_square: float
    dof: float


def f_test(top: float, top_dof: int, below: float, below_dof: int) -> tuple[float, float]:
    """Return F and its p-value; equal readings throughout give F 0."""
    if below == 0:
        return (math.inf, 0.0) if top > 0 else (0.0, 1.0)
    f = top / below
    return f, float(special.fdtrc(top_dof, below_dof, f))


def combine(terms: Sequence[Term]) -> float:
    """Return the weighted sum of the mean squares."""
    return sum(term.weight * term.mean_square for term in terms)


def combined_interval(terms: Sequence[Term], confidence: float) -> tuple[float, float]:
    """Return the modified large-sample interval of a weighted sum of mean squares.

    Parameters
    ----------
    terms : sequence of Term
        Weights may be negative.
    confidence : float
        Two-sided.

    Returns
    -------
    tuple of float
        Low and high; neither is cut at zero.

    Notes
    -----
    Exact with one term; otherwise close to the asked confidence for all sizes of the true components
    (coverage is measured in tests/calibration/gauge_components.py).

    References
    ----------
    Graybill & Wang, JASA 75 (1980) 869-873 (sums); Ting, Burdick, Graybill, Jeyaratnam & Lu, J. Statistical
    Computation and Simulation 35 (1990) 135-143 (differences); Burdick & Graybill, *Confidence Intervals on Variance
    Components* (1992), chapter 3. From memory.
    """
    alpha = (1 - confidence) / 2
    plus = [term for term in terms if term.weight > 0]
    minus = [Term(weight=-term.weight, mean_square=term.mean_square, dof=term.dof) for term in terms if term.weight < 0]
    below = _squares(plus, _short, alpha) + _squares(minus, _long, alpha)
    above = _squares(plus, _long, alpha) + _squares(minus, _short, alpha)
    for q in plus:
        for r in minus:
            product = _size(q) * _size(r)
            below += _cross_low(q.dof, r.dof, alpha) * product
            above += _cross_high(q.dof, r.dof, alpha) * product
    if minus:
        below += _same_side(plus, alpha)
        above += _same_side(minus, alpha)
    centre = combine(terms)
    return centre - math.sqrt(max(below, 0.0)), centre + math.sqrt(max(above, 0.0))


def _size(term: Term) -> float:
    return term.weight * term.mean_square


def _short(dof: float, alpha: float) -> float:
    """1 - dof over the upper chi-square point: how far down a mean square reaches."""
    return 1 - dof / float(special.chdtri(dof, alpha))


def _long(dof: float, alpha: float) -> float:
    """Dof over the lower chi-square point - 1: how far up it reaches."""
    return dof / float(special.chdtri(dof, 1 - alpha)) - 1


def _squares(terms: Sequence[Term], reach: Callable[[float, float], float], alpha: float) -> float:
    return sum((reach(term.dof, alpha) * _size(term)) ** 2 for term in terms)


def _cross_low(q: float, r: float, alpha: float) -> float:
    f = float(special.fdtri(q, r, 1 - alpha))
    return ((f - 1) ** 2 - (_short(q, alpha) * f) ** 2 - _long(r, alpha) ** 2) / f


def _cross_high(q: float, r: float, alpha: float) -> float:
    f = float(special.fdtri(q, r, alpha))
    return ((1 - f) ** 2 - (_long(q, alpha) * f) ** 2 - _short(r, alpha) ** 2) / f


def _same_side(terms: Sequence[Term], alpha: float) -> float:
    """Return the cross terms of mean squares with the same sign."""
    total = 0.0
    for i, a in enumerate(terms):
        for b in terms[i + 1 :]:
            both = a.dof + b.dof
            joint = (_short(both, alpha) * both) ** 2 / (a.dof * b.dof)
            single = _short(a.dof, alpha) ** 2 * a.dof / b.dof + _short(b.dof, alpha) ** 2 * b.dof / a.dof
            total += (joint - single) / (len(terms) - 1) * _size(a) * _size(b)
    return total


def chi_square_reach(variance: float, dof: float, confidence: float) -> tuple[float, float]:
    """Return the chi-square interval of a variance."""
    tail = (1 - confidence) / 2
    return variance * dof / float(special.chdtri(dof, tail)), variance * dof / float(special.chdtri(dof, 1 - tail))
