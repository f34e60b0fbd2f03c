"""Shares of pieces to be expected beyond the limits, with their intervals."""

from __future__ import annotations

import math

import numpy as np
from scipy import special

from tracker.spread.arguments import Array
from tracker.spread.estimates import Estimate
from tracker.spread.roots import bracketed_roots

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(40)
FARTHEST = 600.0  # in log odds; a share of less than 1e-260 is given as 0


def total_bounds(found: Estimate, low: float, high: float, levels: tuple[float, ...]) -> Array:
    """Return what the total share beyond both limits stays below, with given confidences.

    Parameters
    ----------
    found : Estimate
    low, high : float
        Both limits.
    levels : tuple of float, length (k,)
        One-sided: 0.025 and 0.975 give a two-sided 95 % interval.

    Returns
    -------
    ndarray, shape (k,)

    Notes
    -----
    The true share p for which the estimated share would be as small as it is with chance ``1 - level``. The
    distribution of the estimated share depends also on how far the true mean lies from the middle, in sd, but
    hardly; the estimate sqrt(max(d^2 - 1/(2 n), 0)) takes its place. Coverage at 95 % is 94 to 96 % at n = 5 to 30
    (``tests/calibration/spread_coverage.py``); the generalised (fiducial) interval, tried first, covered 91 %.

    References
    ----------
    Own construction by inversion of the distribution of the estimate. Tests: ``tests/tracker/spread/test_fallout.py``.
    """
    half, off = (high - low) / 2 / found.sd, (found.mean - (low + high) / 2) / found.sd
    delta = math.sqrt(max(off * off - 0.5 / found.mean_pieces, 0.0))
    log_seen = float(np.logaddexp(special.log_ndtr(off - half), special.log_ndtr(-off - half)))
    curve = SameShare(log_seen)
    wanted = 1 - np.array(levels)
    seen = float(log_odds(np.array(log_seen)))

    def excess(odds: Array) -> Array:
        return np.asarray(chance_of_less(curve, odds, delta, found.mean_pieces, found.dof) - wanted)

    bottom, top = np.full(wanted.shape, seen - 1.0), np.full(wanted.shape, seen + 1.0)
    step = 2.0
    while step <= FARTHEST:
        too_high, too_low = excess(bottom) < 0, excess(top) > 0
        if not (too_high.any() or too_low.any()):
            break
        bottom, top = np.where(too_high, bottom - step, bottom), np.where(too_low, top + step, top)
        step *= 2
    answer = bracketed_roots(excess, bottom, top, 1e-6)
    answer = np.where(excess(bottom) < 0, -np.inf, np.where(excess(top) > 0, np.inf, answer))
    return np.asarray(special.expit(answer))


def chance_of_less(curve: SameShare, odds: Array, delta: float, pieces: float, dof: float) -> Array:
    """Return the chance that an estimated share beyond limits is at most the one seen.

    Parameters
    ----------
    curve : SameShare
        Of the estimated share.
    odds : ndarray, shape (k,)
        Log odds of the true share.
    delta : float
        Distance of the true mean from the middle, in sd.
    pieces, dof : float
    """
    start = math.sqrt(2 / dof * float(special.gammaincinv(dof / 2, 1e-12)))
    end = math.sqrt(2 / dof * float(special.gammainccinv(dof / 2, 1e-12)))
    log_p = -np.logaddexp(0.0, -odds)
    width = half_width(log_p, np.full(odds.shape, delta))
    # Where s is so large that no mean would give so small a share, nothing counts; that is a corner.
    last = np.clip(width / curve.narrowest, start, end)[:, None]
    q = (start + last) / 2 + (last - start) / 2 * _NODES
    log_scale = math.log(2) + dof / 2 * math.log(dof / 2) - float(special.gammaln(dof / 2))
    density = np.exp(log_scale + (dof - 1) * np.log(q) - dof / 2 * q * q)
    reach = curve.middle_distance(width[:, None] / q) * q
    root = math.sqrt(pieces)
    inside = special.ndtr((reach - delta) * root) - special.ndtr((-reach - delta) * root)
    return np.asarray(((last - start) / 2)[:, 0] * ((inside * density) @ _WEIGHTS))


class SameShare:
    """How far the mean may lie from the middle for one share beyond the limits, by the limits' half width (sd 1).

    Along the curve the slope of the half width is tanh(half width * distance); the squared distance is smooth, and is
    interpolated with its slope.
    """

    def __init__(self, log_share: float) -> None:
        distance = np.linspace(0.0, 9.0, 181)
        width = half_width(np.full(distance.shape, log_share), distance)
        self.width, self.square = width, distance**2
        product = width * distance
        slope = np.where(product > 1e-8, 2 * distance / np.tanh(np.maximum(product, 1e-8)), 2 / width)
        self.slope = slope
        self.narrowest = float(width[0])
        self.one_side = float(special.ndtri_exp(log_share))

    def middle_distance(self, width: Array) -> Array:
        """Return the distances; 0 where the limits are so near that the share lies beyond them in any case."""
        at = np.clip(np.searchsorted(self.width, width) - 1, 0, self.width.size - 2)
        step = self.width[at + 1] - self.width[at]
        t = np.clip((width - self.width[at]) / step, 0.0, 1.0)
        first, second = self.square[at], self.square[at + 1]
        curve = first + (second - first) * t * t * (3 - 2 * t)
        curve += step * t * (1 - t) * (self.slope[at] * (1 - t) - self.slope[at + 1] * t)
        # Far out only one limit counts.
        far = np.maximum(width + self.one_side, 0.0)
        return np.where(width > self.width[-1], far, np.sqrt(np.maximum(curve, 0.0)))


def half_width(log_p: Array, delta: Array) -> Array:
    """Return the half width of limits, in sd, beyond which a share lies when the mean is ``delta`` off the middle."""
    width = np.maximum(delta - special.ndtri_exp(log_p), 1e-9)
    for _ in range(20):
        value = np.logaddexp(special.log_ndtr(delta - width), special.log_ndtr(-delta - width)) - log_p
        slope = _density(width - delta, log_p + value) + _density(width + delta, log_p + value)
        moved = np.maximum(width + value / slope, width / 4)
        step, width = float(np.abs(moved - width).max()), moved
        if step < 1e-11:
            break
    return np.asarray(width)


def log_odds(log_p: Array) -> Array:
    """Return log odds from a log chance."""
    return np.asarray(log_p - np.log(-np.expm1(np.minimum(log_p, -1e-16))))


def _density(z: Array, log_scale: Array) -> Array:
    """Return the standard normal density over a chance given by its log."""
    return np.asarray(np.exp(np.minimum(-0.5 * z * z - 0.5 * math.log(2 * math.pi) - log_scale, 700.0)))
