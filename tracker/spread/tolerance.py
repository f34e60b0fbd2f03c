"""Between what sizes a stated share of all pieces lies, with a stated confidence."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import NotEnoughData, TrackerError
from tracker.result import Result
from tracker.spread.arguments import Array, checked_confidence, count, share, sizes_array, whole_number
from tracker.spread.arguments import number as number_of
from tracker.spread.estimates import estimate, need_spread
from tracker.spread.indices import chance_at_least

METHODS = ("normal", "howe", "distribution_free")
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(96)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceInterval(Result):
    """Sizes between which a share ``coverage`` of all pieces lies, with ``confidence``.

    With one side, ``low`` and ``high`` are two separate statements: a share lies above ``low``; a share lies below
    ``high``. ``factor`` is None for the distribution-free method, whose ``achieved`` confidence is at least what was
    asked; ``pieces_needed`` is the least number with which that method can answer.
    """

    low: float
    high: float
    n: int
    coverage: float
    confidence: float
    sides: int
    method: str
    factor: float | None
    achieved: float
    pieces_needed: int

    def __str__(self) -> str:
        what = f"{share(self.coverage)} of pieces"
        how = f"{share(self.confidence)} sure, {count(self.n, 'piece')}, {self.method.replace('_', ' ')}"
        if self.sides == 2:
            return f"{what} lie between {self.low:.6g} and {self.high:.6g} ({how})"
        return f"{what} lie above {self.low:.6g}, and {what} below {self.high:.6g}, each on its own ({how})"


def tolerance_factor(n: int, coverage: float = 0.95, confidence: float = 0.95, sides: int = 2) -> float:
    """Return k: mean plus and minus k sd holds a share of all pieces, with a confidence.

    Parameters
    ----------
    n : int
        Pieces measured, at least 2.
    coverage, confidence : float
        Shares between 0 and 1.
    sides : int
        2 or 1.

    Returns
    -------
    float

    Raises
    ------
    TrackerError
        If a share or the number of sides is out of range.
    NotEnoughData
        If n is less than 2.

    Notes
    -----
    Exact for normal sizes: two-sided by integration over the sample mean, one-sided by the noncentral t
    distribution. Wrong when sizes are not normal, the more the nearer the coverage is to 1.

    References
    ----------
    Odeh & Owen, Tables for Normal Tolerance Limits (1980); ISO 16269-6:2014, annexes B and C. Tests:
    ``tests/published/test_spread_tolerance.py``.

    Examples
    --------
    >>> round(tolerance_factor(10), 3)
    3.393
    """
    if 0 <= number_of(n, "n") < 2:
        raise NotEnoughData(f"{count(int(n), 'piece')}; a tolerance factor needs at least 2 pieces")
    number = whole_number(n, "n", 2)
    return factor_of(float(number), float(number - 1), coverage, confidence, sides)


def factor_of(pieces: float, dof: float, coverage: float, confidence: float, sides: int = 2) -> float:
    """Return the factor for a mean worth ``pieces`` and an sd worth ``dof`` degrees of freedom."""
    checked_confidence(coverage, "coverage")
    checked_confidence(confidence)
    if whole_number(sides, "sides") > 2:
        raise TrackerError(f"sides is {sides}; accepted: 1 or 2")
    if sides == 1:
        # P(noncentral t with nc = z sqrt(n) <= k sqrt(n)) = confidence
        z = float(special.ndtri(coverage))
        return _solve(lambda k: 1.0 - float(chance_at_least(k / 3, z / 3, math.inf, pieces, dof)) - confidence, z, 1.0)
    # The mean lies off by u/sqrt(n); r(u) is the half width in true sd that holds the coverage there.
    reach = 8.5
    u = reach / 2 * (_NODES + 1)
    radius = _radii(u / math.sqrt(pieces), coverage)
    weight = reach * _WEIGHTS * np.exp(-0.5 * u * u) / math.sqrt(2 * math.pi)

    def excess(k: float) -> float:
        return float(weight @ special.gammaincc(dof / 2, dof / 2 * np.square(radius / k))) - confidence

    start = float(special.ndtri((1 + coverage) / 2))
    return _solve(excess, start * 0.05, start)


def howe_factor(n: int, coverage: float = 0.95, confidence: float = 0.95) -> float:
    """Return Howe's approximation to the two-sided factor, for comparison with older papers.

    References
    ----------
    Howe, J. American Statistical Association 64 (1969) 610-620; NIST/SEMATECH e-Handbook 7.2.6.3. Test:
    ``ti-nist-7263-two`` of the published cases.
    """
    z = float(special.ndtri((1 + coverage) / 2))
    chi = 2 * float(special.gammaincinv((n - 1) / 2, 1 - confidence))
    return math.sqrt((n - 1) * (1 + 1 / n) * z * z / chi)


def tolerance_interval(
    sizes: Any,
    coverage: float = 0.95,
    confidence: float = 0.95,
    sides: int = 2,
    method: str = "normal",
) -> ToleranceInterval:
    """Return between what sizes a share of all pieces lies, the ones not made yet included.

    Parameters
    ----------
    sizes : array_like of shape (n,), Sizes or IntervalFit
    coverage, confidence : float
        Share of pieces, and how sure.
    sides : int
        2, or 1 for two separate one-sided statements.
    method : str
        ``normal`` (exact), ``howe`` (approximation) or ``distribution_free`` (order statistics).

    Returns
    -------
    ToleranceInterval

    Raises
    ------
    NotEnoughData
        If there are too few pieces; for ``distribution_free`` the message says how many are needed.
    TrackerError
        If an argument is out of range.

    References
    ----------
    ISO 16269-6:2014. Tests: ``tests/published/test_spread_tolerance.py``.
    """
    if method not in METHODS:
        raise TrackerError(f"method {method!r}; accepted: {', '.join(METHODS)}")
    if method == "howe" and sides != 2:
        raise TrackerError("Howe's approximation is two-sided; use method='normal' for one side")
    needed = distribution_free_pieces(coverage, confidence, sides)
    if method == "distribution_free":
        return _distribution_free(sizes_array(sizes), coverage, confidence, sides, needed)
    found = need_spread(estimate(sizes, purpose="a tolerance interval"), "a tolerance interval")
    if method == "howe":
        k = howe_factor(found.n, coverage, confidence)
    else:
        k = factor_of(found.mean_pieces, found.dof, coverage, confidence, sides)
    return ToleranceInterval(
        low=found.mean - k * found.sd,
        high=found.mean + k * found.sd,
        n=found.n,
        coverage=coverage,
        confidence=confidence,
        sides=sides,
        method=method,
        factor=k,
        achieved=confidence,
        pieces_needed=needed,
    )


def distribution_free_pieces(coverage: float = 0.95, confidence: float = 0.95, sides: int = 2) -> int:
    """Return how many pieces make least and largest size (or one of them) hold a share of all pieces.

    References
    ----------
    Wilks, Annals of Mathematical Statistics 12 (1941) 91-96; ISO 16269-6:2014, clause 6. Test:
    ``ti-nonparametric-n`` of the published cases.

    Examples
    --------
    >>> distribution_free_pieces(0.95, 0.95, sides=2), distribution_free_pieces(0.95, 0.95, sides=1)
    (93, 59)
    """
    checked_confidence(coverage, "coverage")
    checked_confidence(confidence)
    if whole_number(sides, "sides") > 2:
        raise TrackerError(f"sides is {sides}; accepted: 1 or 2")
    low, high = 1, 2
    while _order_confidence(high, sides, coverage) < confidence:
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        if _order_confidence(middle, sides, coverage) < confidence:
            low = middle
        else:
            high = middle
    return low if _order_confidence(low, sides, coverage) >= confidence else high


def _order_confidence(n: int, removed: int, coverage: float) -> float:
    """Return the confidence that all but ``removed`` of the n + 1 gaps between sorted sizes hold the coverage."""
    inside = n + 1 - removed
    return float(special.betaincc(inside, removed, coverage)) if inside > 0 else 0.0


def _distribution_free(values: Array, coverage: float, confidence: float, sides: int, needed: int) -> ToleranceInterval:
    """Return the innermost order statistics that still hold the coverage with the confidence."""
    n = values.size
    if sides not in (1, 2):
        raise TrackerError(f"sides is {sides}; accepted: 1 or 2")
    if n < needed:
        reached = _order_confidence(n, sides, coverage)
        raise NotEnoughData(
            f"{count(n, 'piece')}; without assuming a distribution, {share(coverage)} of pieces at {share(confidence)} "
            f"needs {needed} (with {n} only {share(reached)} is reached): measure {needed - n} more or assume normal"
        )
    ordered = np.sort(values)
    removed = sides
    while removed + sides <= n and _order_confidence(n, removed + sides, coverage) >= confidence:
        removed += sides
    rank = removed // sides
    return ToleranceInterval(
        low=float(ordered[rank - 1]),
        high=float(ordered[n - rank]),
        n=n,
        coverage=coverage,
        confidence=confidence,
        sides=sides,
        method="distribution_free",
        factor=None,
        achieved=_order_confidence(n, removed, coverage),
        pieces_needed=needed,
    )


def _radii(off: Array, coverage: float) -> Array:
    """Return r so that a standard normal lies within ``off - r`` to ``off + r`` with chance ``coverage``."""
    low = np.zeros_like(off)
    high = off + float(special.ndtri((1 + coverage) / 2)) + 1.0
    for _ in range(70):
        middle = (low + high) / 2
        short = special.ndtr(off + middle) - special.ndtr(off - middle) < coverage
        low = np.where(short, middle, low)
        high = np.where(short, high, middle)
    return (low + high) / 2


def _solve(excess: Any, low: float, step: float) -> float:
    """Return where a rising function crosses zero, by doubling and bisection."""
    for _ in range(200):
        if excess(low) < 0:
            break
        low -= step
    high = low + step
    while excess(high) < 0:
        low, step = high, step * 2
        high = low + step
    for _ in range(100):
        middle = (low + high) / 2
        if excess(middle) < 0:
            low = middle
        else:
            high = middle
        if high - low <= 1e-12 * max(1.0, abs(high)):
            break
    return (low + high) / 2
