"""The next piece, and the next several: where they will fall, and the chance that they lie within limits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.result import Result
from tracker.spread.arguments import (
    Array,
    checked_confidence,
    checked_limits,
    count,
    no_less_than_zero,
    share,
    whole_number,
)
from tracker.spread.estimates import Estimate, estimate, need_spread
from tracker.spread.roots import bracketed_roots
from tracker.spread.sizing import Sizes

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(80)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction(Result):
    """Where the next pieces fall.

    All ``pieces`` lie between ``low`` and ``high`` with the confidence. ``chance_within`` is the chance that one next
    piece lies within the limits, ``chance_all_within`` that all do; None when no limits were given.
    """

    low: float
    high: float
    confidence: float
    pieces: int
    n: int
    lower: float | None
    upper: float | None
    chance_within: float | None
    chance_below: float | None
    chance_above: float | None
    chance_all_within: float | None
    method: str

    def __str__(self) -> str:
        who = "the next piece lies" if self.pieces == 1 else f"the next {self.pieces} pieces all lie"
        how = f"{share(self.confidence)}, from {count(self.n, 'piece')}"
        words = f"{who} between {self.low:.6g} and {self.high:.6g} ({how})"
        if self.chance_within is not None and self.chance_all_within is not None:
            words += f"; chance within limits {share(self.chance_within)} for one"
            if self.pieces > 1:
                words += f", {share(self.chance_all_within)} for all {self.pieces}"
        return words


def predict(
    sizes: Any,
    lower: float | None = None,
    upper: float | None = None,
    pieces: int = 1,
    confidence: float = 0.95,
    *,
    common_uncertainty: float | None = None,
) -> Prediction:
    """Return where the next pieces will fall and the chance that they lie within limits.

    Parameters
    ----------
    sizes : array_like of shape (n,), Sizes or IntervalFit
    lower, upper : float, optional
        Limits of size.
    pieces : int
        How many next pieces.
    confidence : float
        Of the interval.
    common_uncertainty : float, optional
        Standard uncertainty that moves all sizes together; by default that of the `Sizes`.

    Returns
    -------
    Prediction

    Raises
    ------
    NotEnoughData
        If there are fewer than two pieces or no spread.
    TrackerError
        If the limits stand the wrong way round or ``pieces`` is not a whole number of at least 1.

    Notes
    -----
    Assumes that the next pieces come from the same normal as those measured: same tool, same set-up, no wear.
    The chance is predictive: it holds how little so few pieces know of mean and sd. Several next pieces share
    that ignorance, so the chance for all is larger than a power of the chance for one.

    References
    ----------
    Hahn & Meeker, Statistical Intervals (1991), sections 4.7 and 4.8; Geisser, Predictive Inference (1993), 2.2.
    Tests: ``tests/tracker/spread/test_prediction.py``.

    Examples
    --------
    >>> print(predict([10.0, 10.2, 10.1, 10.3], 9.5, 10.8, pieces=3))
    the next 3 pieces all lie between 9.51445 and 10.7856 (95 %, from 4 pieces); chance within limits 97.96 % for one,
    95.29 % for all 3
    """
    checked_confidence(confidence)
    pieces = whole_number(pieces, "pieces")
    low_limit, high_limit = checked_limits(lower, upper, needed=False)
    found = need_spread(estimate(sizes, confidence=confidence, purpose="a prediction"), "a prediction")
    if common_uncertainty is None:
        common_uncertainty = sizes.common_uncertainty if isinstance(sizes, Sizes) else 0.0
    common_uncertainty = no_less_than_zero(common_uncertainty, "common_uncertainty")
    worth = 1 / (1 / found.mean_pieces + (common_uncertainty / found.sd) ** 2)
    reach = next_reach(worth, found.dof, pieces, confidence) * found.sd
    within = below = above = together = None
    if lower is not None or upper is not None:
        below, above = tail_chances(found, worth, low_limit, high_limit)
        within = 1.0 - below - above
        together = within if pieces == 1 else all_within(found, worth, low_limit, high_limit, pieces)
    return Prediction(
        low=found.mean - reach,
        high=found.mean + reach,
        confidence=confidence,
        pieces=pieces,
        n=found.n,
        lower=lower,
        upper=upper,
        chance_within=within,
        chance_below=below,
        chance_above=above,
        chance_all_within=together,
        method=f"predictive t; {found.method}",
    )


def tail_chances(found: Estimate, worth: float, lower: float, upper: float) -> tuple[float, float]:
    """Return the predictive chances that the next piece lies below the lower and above the upper limit."""
    scale = found.sd * math.sqrt(1 + 1 / worth)
    below = float(special.stdtr(found.dof, (lower - found.mean) / scale)) if math.isfinite(lower) else 0.0
    above = float(special.stdtr(found.dof, (found.mean - upper) / scale)) if math.isfinite(upper) else 0.0
    return below, above


def all_within(found: Estimate, worth: float, lower: float, upper: float, pieces: int) -> float:
    """Return the predictive chance that all of the next pieces lie within the limits."""
    q, q_weight, z, z_weight = _grid(found.dof)
    # sd = s / q with dof q^2 chi-square; mean = sample mean + z sd / sqrt(worth)
    a = (lower - found.mean) / found.sd * q[:, None] - z / math.sqrt(worth)
    b = (upper - found.mean) / found.sd * q[:, None] - z / math.sqrt(worth)
    inside = special.ndtr(b) - special.ndtr(a)
    return float(q_weight @ (inside**pieces) @ z_weight)


def next_reach(worth: float, dof: float, pieces: int, confidence: float) -> float:
    """Return how many sd either side of the mean hold all of the next pieces with a confidence."""
    if pieces == 1:
        return float(special.stdtrit(dof, (1 + confidence) / 2)) * math.sqrt(1 + 1 / worth)
    q, q_weight, z, z_weight = _grid(dof)
    shift = z / math.sqrt(worth)

    def excess(reach: Array) -> Array:
        r = float(reach[0])
        inside = special.ndtr(r * q[:, None] - shift) - special.ndtr(-r * q[:, None] - shift)
        return np.array([float(q_weight @ (inside**pieces) @ z_weight) - confidence])

    # All of several reach at least as far as one, and no farther than each at its share of the doubt.
    scale = math.sqrt(1 + 1 / worth)
    low = float(special.stdtrit(dof, (1 + confidence) / 2)) * scale * 0.99
    high = float(special.stdtrit(dof, 1 - (1 - confidence) / (2 * pieces))) * scale * 1.01
    return float(bracketed_roots(excess, np.array([low]), np.array([high]), 1e-10)[0])


def _grid(dof: float) -> tuple[Array, Array, Array, Array]:
    """Return nodes and weights over q = s/sd and over the standard normal mean."""
    low = math.sqrt(float(special.gammaincinv(dof / 2, 1e-14)) * 2 / dof)
    high = math.sqrt(float(special.gammainccinv(dof / 2, 1e-14)) * 2 / dof)
    q = (low + high) / 2 + (high - low) / 2 * _NODES
    log_scale = math.log(2) + dof / 2 * math.log(dof / 2) - float(special.gammaln(dof / 2))
    q_weight = (high - low) / 2 * _WEIGHTS * np.exp(log_scale + (dof - 1) * np.log(q) - dof / 2 * q * q)
    z = 8.0 * _NODES
    z_weight = 8.0 * _WEIGHTS * np.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)
    return q, q_weight / q_weight.sum(), z, z_weight / z_weight.sum()
