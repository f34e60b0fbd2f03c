"""What small normal groups show of their sd: d2 and d3 (range), c4 (standard deviation), in one place."""

from __future__ import annotations

import functools
import math

import numpy as np
from scipy import special

from tracker.errors import TrackerError
from tracker.spread.arguments import Array

SMALLEST, LARGEST = 2, 100


def mean_sd_factor(n: float) -> float:
    """Return c4: the mean of the sd of n normal values of sd 1, any n from 2 on (dof + 1 where dof is fractional).

    Examples
    --------
    >>> round(mean_sd_factor(5), 4)
    0.94
    """
    if n < SMALLEST:
        raise TrackerError(f"group size is {n!r}; a standard deviation needs {SMALLEST} or more")
    return math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))


@functools.lru_cache(maxsize=128)
def range_moments(n: float) -> tuple[float, float]:
    """Return d2 and d3: mean and sd of the range of n normal values of sd 1.

    Parameters
    ----------
    n : int
        Group size, 2 to 100.

    Raises
    ------
    TrackerError
        For a group size out of that range.

    Notes
    -----
    The chance that the range exceeds w is integrated over w (mean), and w times it (second moment).

    References
    ----------
    ASTM MNL 7 / STP 15D tables (from memory), every printed digit: tests/published/test_drift_constants.py.

    Examples
    --------
    >>> d2, d3 = range_moments(5)
    >>> round(d2, 3), round(d3, 3)
    (2.326, 0.864)
    """
    if not SMALLEST <= n <= LARGEST or n != int(n):
        raise TrackerError(f"group size is {n!r}; constants are computed for whole sizes {SMALLEST} to {LARGEST}")
    x, weight_x, w, weight_w = _grid()
    inside = special.ndtr(x[None, :] + w[:, None]) - special.ndtr(x)[None, :]
    density = np.exp(-0.5 * x * x) / math.sqrt(2 * math.pi)
    beyond = 1.0 - n * (inside ** (n - 1)) @ (density * weight_x)
    mean = float(beyond @ weight_w)
    square = float(2 * (w * beyond) @ weight_w)
    return mean, math.sqrt(square - mean * mean)


@functools.lru_cache(maxsize=1)
def _grid() -> tuple[Array, Array, Array, Array]:
    """Return Gauss-Legendre points and weights over the least value (x) and the range (w)."""
    point, weight = np.polynomial.legendre.leggauss(160)
    return 9.5 * point, 9.5 * weight, 7.0 * (point + 1), 7.0 * weight
