"""Mean squares: weighted sums and differences of them, with intervals that hold at few degrees of freedom."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.spread.arguments import Array

# A rank-1 lattice of Korobov's form: a prime number of points, and a generator that spreads them evenly in four
# dimensions (found by search; tests/tracker/spread/test_mean_squares.py holds it against exact distributions).
POINTS = 8191
GENERATOR = 4349


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A mean square with its degrees of freedom and what it is multiplied with.

    ``source`` names the mean square, so that two sums know what they have in common.
    """

    weight: float
    mean_square: float
    dof: float
    source: str = ""


def combine(terms: Sequence[Term]) -> float:
    """Return the weighted sum of the mean squares."""
    return sum(term.weight * term.mean_square for term in terms)


def combined_interval(terms: Sequence[Term], confidence: float) -> tuple[float, float]:
    """Return an interval of a weighted sum of true mean squares.

    Parameters
    ----------
    terms : sequence of Term
        Independent mean squares; weights may be negative.
    confidence : float
        Two-sided.

    Returns
    -------
    tuple of float
        Low and high; neither is cut at zero.

    Notes
    -----
    One term: chi-square, exact. The difference of two: modified large sample, within 0.3 points of 95 %. All others:
    generalised interval, 94 to 96.5 % where 95 % are asked (tests/calibration/gauge_components.py); the modified
    large-sample interval of such sums covers up to 98 % with two or three degrees of freedom.

    References
    ----------
    Differences: Ting, Burdick, Graybill, Jeyaratnam & Lu, J. Statistical Computation and Simulation 35 (1990) 135-143;
    Burdick & Graybill, *Confidence Intervals on Variance Components* (1992), section 3.3. Generalised: Weerahandi,
    JASA 88 (1993) 899-905; Hamada & Weerahandi, J. Quality Technology 32 (2000) 241-253. From memory.
    """
    used = [term for term in terms if term.weight != 0]
    if len(used) == 1:
        low, high = chi_square_reach(used[0].mean_square, used[0].dof, confidence)
        ends = (used[0].weight * low, used[0].weight * high)
        return min(ends), max(ends)
    if len(used) == 2 and used[0].weight * used[1].weight < 0:
        upper, lower = sorted(used, key=lambda term: -term.weight)
        return _difference(upper, lower, confidence)
    named = [Term(weight=t.weight, mean_square=t.mean_square, dof=t.dof, source=str(i)) for i, t in enumerate(used)]
    weights = np.array([term.weight for term in named])
    return generalised_interval(named, lambda true: weights @ np.stack([true[t.source] for t in named]), confidence)


def generalised_interval(
    terms: Sequence[Term], of: Callable[[Mapping[str, Array]], Array], confidence: float
) -> tuple[float, float]:
    """Return the generalised interval of any function of true mean squares.

    Parameters
    ----------
    terms : sequence of Term
        Which mean squares there are, by ``source``; at most four (weights do not count).
    of : callable
        Takes the true mean squares by source, arrays of one length, and returns the values of the function.
    confidence : float
        Two-sided.

    Notes
    -----
    The true mean square behind an estimate s on f degrees of freedom is taken as f s / chi-square. Chi-squares are not
    drawn by chance but taken at the points of a lattice, so that the same data give the same interval.

    References
    ----------
    Weerahandi, JASA 88 (1993) 899-905; lattices: Sloan & Joe, *Lattice Methods for Multiple Integration* (1994).
    """
    known = {term.source: term for term in terms}
    sources = sorted(known)
    factors = _true_over_seen(tuple(known[source].dof for source in sources))
    true = {source: known[source].mean_square * factor for source, factor in zip(sources, factors, strict=True)}
    tail = (1 - confidence) / 2
    low, high = np.quantile(of(true), [tail, 1 - tail])
    return float(low), float(high)


@functools.lru_cache(maxsize=64)
def _true_over_seen(dofs: tuple[float, ...]) -> tuple[Array, ...]:
    """Return f / chi-square at the points of the lattice, one array for each of the degrees of freedom."""
    levels = lattice(len(dofs))
    return tuple(dof / 2 / special.gammaincinv(dof / 2, level) for dof, level in zip(dofs, levels, strict=True))


def lattice(dimensions: int) -> tuple[Array, ...]:
    """Return evenly spread points between 0 and 1, one array for each dimension."""
    at = np.arange(POINTS)
    steps = [pow(GENERATOR, power, POINTS) for power in range(dimensions)]
    return tuple((at * step % POINTS + 0.5) / POINTS for step in steps)


def chi_square_reach(variance: float, dof: float, confidence: float) -> tuple[float, float]:
    """Return the chi-square interval of a variance; next to no degrees of freedom leave the upper end open."""
    tail = (1 - confidence) / 2
    most, least = float(special.chdtri(dof, tail)), float(special.chdtri(dof, 1 - tail))
    low = variance * dof / most if most > 0 else 0.0
    return low, variance * dof / least if least > 0 else math.inf


def _difference(upper: Term, lower: Term, confidence: float) -> tuple[float, float]:
    """Return the modified large-sample interval of a difference; ``lower`` has the negative weight."""
    alpha = (1 - confidence) / 2
    s, t, n, m = upper.weight * upper.mean_square, -lower.weight * lower.mean_square, upper.dof, lower.dof
    f_high, f_low = float(special.fdtri(n, m, 1 - alpha)), float(special.fdtri(n, m, alpha))
    cross_low = ((f_high - 1) ** 2 - (_short(n, alpha) * f_high) ** 2 - _long(m, alpha) ** 2) / f_high
    cross_high = ((1 - f_low) ** 2 - (_long(n, alpha) * f_low) ** 2 - _short(m, alpha) ** 2) / f_low
    below = (_short(n, alpha) * s) ** 2 + (_long(m, alpha) * t) ** 2 + cross_low * s * t
    above = (_long(n, alpha) * s) ** 2 + (_short(m, alpha) * t) ** 2 + cross_high * s * t
    return s - t - math.sqrt(max(below, 0.0)), s - t + math.sqrt(max(above, 0.0))


def _short(dof: float, alpha: float) -> float:
    """1 - dof over the upper chi-square point: how far down a mean square reaches."""
    return 1 - dof / float(special.chdtri(dof, alpha))


def _long(dof: float, alpha: float) -> float:
    """Dof over the lower chi-square point - 1: how far up it reaches."""
    return dof / float(special.chdtri(dof, 1 - alpha)) - 1
