"""What a measured batch says about true sizes: spread without gauge noise, and pieces given their readings."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import numpy.typing as npt
from scipy import special

from tracker.fit.checks import Floats

NODES = 32


def probability_nodes(count: int = NODES) -> tuple[Floats, Floats]:
    """Return nodes and weights that average a function of a probability over (0, 1).

    Gauss-Legendre nodes, gathered at both ends by ``q = v^2 (3 - 2 v)`` so that functions that bend
    sharply near 0 or 1 (quantiles of t and chi-square) are averaged well.
    """
    x, weight = np.polynomial.legendre.leggauss(count)
    v = (x + 1.0) / 2.0
    return v * v * (3.0 - 2.0 * v), weight / 2.0 * 6.0 * v * (1.0 - v)


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class SideSpread:
    """One measured side: mean, spread of the readings and what it may be without the gauge.

    ``observed`` holds nodes of the variance of measured sizes (process and gauge), ``weight`` their
    weights, ``noise`` the mean squared uncertainty of one piece's size; the true variance at a node is
    ``observed - noise``, never negative.
    """

    n: int
    mean: float
    sd: float
    noise: float
    observed: Floats
    weight: Floats

    @property
    def true(self) -> Floats:
        """Variance of true sizes at each node."""
        return np.maximum(self.observed - self.noise, 0.0)


def side_spread(sizes: Floats, uncertainty: Floats, nodes: int = NODES) -> SideSpread:
    """Return what a side's sizes say of its spread.

    Notes
    -----
    Sizes normal, gauge error normal and independent from piece to piece with known standard
    uncertainty. The variance v of measured sizes is the sum of squares over a chi-square variable with
    n - 1 degrees of freedom (flat prior on log v), cut off at the gauge's own variance, below which it
    cannot be: v = S / chi2 with chi2 <= S / u^2. With S near zero this tends to v = u^2 q^(-2 / dof).

    References
    ----------
    Box and Tiao, Bayesian Inference in Statistical Analysis (1973), 2.3 (from memory): the posterior of
    a normal variance; against simulation in tests/calibration/fit_chance.py.
    """
    n = len(sizes)
    dof = n - 1
    mean = float(sizes.mean())
    squares = float(np.square(sizes - mean).sum())
    noise = float(np.mean(uncertainty**2))
    probability, weight = probability_nodes(nodes)
    sd = math.sqrt(squares / dof)
    if noise == 0.0:
        chi2 = 2.0 * special.gammaincinv(dof / 2.0, probability)
        observed = squares / chi2
    else:
        ceiling = squares / noise
        below = float(special.gammainc(dof / 2.0, ceiling / 2.0))
        if below > 1e-290 and ceiling > 1e-12:
            observed = squares / (2.0 * special.gammaincinv(dof / 2.0, probability * below))
        else:
            observed = noise * probability ** (-2.0 / dof)
    return SideSpread(n=n, mean=mean, sd=sd, noise=noise, observed=observed, weight=weight)


def given_readings(sizes: Floats, uncertainty: Floats) -> tuple[Floats, Floats]:
    """Return mean and standard deviation of each piece's true size, given its measured size and its batch.

    Notes
    -----
    A gauge spreads the sizes it measures, so the extreme ones are on average less extreme than they
    read. With true sizes normal, the true size of a piece measured x lies about
    ``mean + k (x - mean)`` with variance ``k u^2``, ``k = v / (v + u^2)``, v the true variance
    (averaged over what the batch leaves open). With fewer than three pieces the spread is unknown and
    the sizes are taken as they read. Not normal, or several populations in one batch: the pull towards
    the mean is then somewhat wrong, by less than u.

    References
    ----------
    JCGM 106:2012, 7.2 and annex A (posterior of a measurand with a normal prior; from memory).
    """
    if len(sizes) < 3 or not np.any(uncertainty > 0):
        return sizes, uncertainty
    side = side_spread(sizes, uncertainty)
    keep = (side.true[:, None] / (side.true[:, None] + uncertainty**2)) if side.noise > 0 else np.ones((1, 1))
    kept = np.where(uncertainty > 0, side.weight @ np.nan_to_num(keep, nan=1.0), 1.0)
    pulled = side.mean + kept * (sizes - side.mean)
    return pulled, np.sqrt(kept) * uncertainty


def normal_share(mean: npt.ArrayLike, sd: Floats, low: float, high: float, near: float = 0.0) -> Floats:
    """Return the share of a normal distribution within limits; with no spread, 1 or 0.

    Notes
    -----
    Taken as a difference in the tail where both limits lie, so that small chances keep their digits.
    """
    centre = np.asarray(mean, dtype=np.float64)
    none = sd <= near
    safe = np.where(none, 1.0, sd)
    upper, lower = (high - centre) / safe, (low - centre) / safe
    flip = lower > 0
    share = special.ndtr(np.where(flip, -lower, upper)) - special.ndtr(np.where(flip, -upper, lower))
    sure = (centre >= low - near) & (centre <= high + near)
    return np.where(none, sure.astype(np.float64), share)
