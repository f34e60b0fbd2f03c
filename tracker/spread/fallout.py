"""Shares of pieces to be expected beyond the limits, with their intervals."""

from __future__ import annotations

import math

import numpy as np
from scipy import special

from tracker.spread.arguments import Array
from tracker.spread.estimates import Estimate
from tracker.spread.roots import bracketed_roots

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)


def total_bounds(found: Estimate, low: float, high: float, levels: tuple[float, ...]) -> Array:
    """Return quantiles of the total share beyond both limits, mean and sd drawn around their estimates.

    Parameters
    ----------
    found : Estimate
    low, high : float
        Both limits.
    levels : tuple of float, length (k,)

    Returns
    -------
    ndarray, shape (k,)

    Notes
    -----
    Generalised (fiducial) quantiles: for each sd the share exceeds p when the mean lies farther than m(sd, p) from the
    middle; integrated over the sd. What they cover stands in the calibration table.

    References
    ----------
    Weerahandi, J. American Statistical Association 88 (1993) 899-905 (generalised confidence intervals). Tests:
    ``tests/tracker/spread/test_fallout.py``, ``tests/calibration/spread_coverage.py``.
    """
    dof = found.dof
    start = math.sqrt(2 / dof * float(special.gammaincinv(dof / 2, 1e-12)))
    end = math.sqrt(2 / dof * float(special.gammainccinv(dof / 2, 1e-12)))
    q = (start + end) / 2 + (end - start) / 2 * _NODES
    weight = _WEIGHTS * np.exp((dof - 1) * np.log(q) - dof / 2 * q * q)
    weight /= weight.sum()
    half = (high - low) / 2 / found.sd * q
    off = (found.mean - (low + high) / 2) / found.sd * q
    root = math.sqrt(found.mean_pieces)
    wanted = np.array(levels)

    def excess(log_odds: Array) -> Array:
        reach = middle_distance(half, log_odds[:, None])
        inside = special.ndtr((reach - off) * root) - special.ndtr((-reach - off) * root)
        return np.asarray(np.where(np.isnan(reach), 0.0, np.nan_to_num(inside)) @ weight - wanted)

    found_odds = bracketed_roots(excess, np.full(wanted.shape, -200.0), np.full(wanted.shape, 40.0), 1e-7)
    return np.asarray(special.expit(found_odds))


def middle_distance(half: Array, log_odds: Array) -> Array:
    """Return how far the mean may lie from the middle for a share beyond limits at +-half (sd 1); NaN if never.

    Parameters
    ----------
    half : ndarray, shape (m,)
    log_odds : ndarray, shape (k, 1)
        Log odds of the share.

    Returns
    -------
    ndarray, shape (k, m)
    """
    log_p = -np.logaddexp(0.0, -log_odds)
    never = special.log_ndtr(-half) + math.log(2) > log_p
    # On one side alone the mean lies at half + z(p); both sides together bring it a little nearer.
    reach = np.maximum(half + special.ndtri_exp(log_p), 0.0) + np.zeros_like(never, dtype=float)
    bottom = np.zeros_like(reach)
    top = np.maximum(reach, 1e-300)
    for _ in range(40):
        value = np.logaddexp(special.log_ndtr(reach - half), special.log_ndtr(-reach - half)) - log_p
        top, bottom = np.where(value > 0, reach, top), np.where(value > 0, bottom, reach)
        slope = np.exp(-0.5 * (reach - half) ** 2 - log_p) - np.exp(-0.5 * (reach + half) ** 2 - log_p)
        with np.errstate(divide="ignore", invalid="ignore"):
            trial = reach - value * math.sqrt(2 * math.pi) * np.exp(np.minimum(value, 0.0)) / slope
        trial = np.where((trial > bottom) & (trial < top), trial, (bottom + top) / 2)
        if bool(np.all((np.abs(trial - reach) < 1e-9) | never)):
            break
        reach = trial
    return np.where(never, np.nan, reach)
