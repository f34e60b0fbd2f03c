"""What parameters of a family could lie behind a batch: pivotal quantities, so that intervals hold at small n."""

from __future__ import annotations

import functools
import math

import numpy as np
from scipy import special

from tracker.spread.arguments import Array
from tracker.spread.mean_squares import lattice

WEIBULL_BATCHES = 4000
LARGE = 200  # pieces from which the curvature of the likelihood serves as well


def likely_parameters(family: str, point: Array, n: int) -> Array | None:
    """Return parameters that could lie behind the fitted ones, shape (parameters, m); None where no pivot is known.

    Parameters
    ----------
    family : str
    point : ndarray
        As fitted by maximum likelihood to ``n`` pieces, on the scale of `FittedFamily.parameters`.
    n : int

    Notes
    -----
    Rayleigh: 2 n times the estimated over the true squared scale is chi-square with 2 n degrees of freedom. Lognormal:
    mean and sd of the logs. Weibull: the estimated over the true shape, and the distance of the log scales times the
    shape, do not depend on the truth; their distribution is that of 4000 batches of size n from one Weibull, always the
    same ones. The share of these parameters with which a statement holds is its confidence (exact for Rayleigh, close
    for the other two, as tests/calibration/spread_coverage.py measures).

    References
    ----------
    Thoman, Bain & Antle, Technometrics 11 (1969) 445-460 (Weibull pivots); Weerahandi, JASA 88 (1993) 899-905;
    Krishnamoorthy & Mathew, J. Statistical Planning and Inference 115 (2003) 103-121 (lognormal). From memory.
    """
    if family == "rayleigh":
        (level,) = lattice(1)
        return np.array([point[0] + 0.5 * np.log(n / special.gammaincinv(n, level))])
    if family == "lognormal":
        first, second = lattice(2)
        log_sd = point[1] + 0.5 * np.log(n / 2 / special.gammaincinv((n - 1) / 2, second))
        return np.array([point[0] + np.exp(log_sd) * special.ndtri(first) / math.sqrt(n), log_sd])
    if family == "weibull" and n < LARGE:
        log_scale, log_shape = _standard_weibull_fits(n)
        shape = point[1] - log_shape
        return np.array([point[0] - log_scale * np.exp(-shape), shape])
    return None


@functools.lru_cache(maxsize=16)
def _standard_weibull_fits(n: int) -> tuple[Array, Array]:
    """Return log scale and log shape fitted to batches of n from a Weibull with scale and shape 1."""
    logs = np.log(np.random.default_rng(n).exponential(size=(WEIBULL_BATCHES, n)))
    mean, top = logs.mean(axis=1), logs.max(axis=1)
    shape = 1.28 / logs.std(axis=1)
    for _ in range(60):
        # Newton on 1/shape + mean of logs = weighted mean of logs; the weights x**shape scaled by the largest.
        weight = np.exp(shape[:, None] * (logs - top[:, None]))
        total = weight.sum(axis=1)
        first = (weight * logs).sum(axis=1) / total
        second = (weight * logs * logs).sum(axis=1) / total - first**2
        step = (1 / shape + mean - first) / (1 / shape**2 + second)
        shape = np.maximum(shape + step, shape / 3)
        if float(np.abs(step / shape).max()) < 1e-10:
            break
    weight = np.exp(shape[:, None] * (logs - top[:, None]))
    return top + np.log(weight.mean(axis=1)) / shape, np.log(shape)
