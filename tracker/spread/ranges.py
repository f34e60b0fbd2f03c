"""Ranges of normal samples: their mean and sd (d2, d3), and how many degrees of freedom a range is worth."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy import special

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(200)


@cache
def range_moments(n: int) -> tuple[float, float]:
    """Return d2 and d3: mean and sd of the range of n standard normal values.

    References
    ----------
    Tippett, Biometrika 17 (1925) 364-387. Tests: ``tests/tracker/spread/test_ranges.py``.
    """
    x = 9.0 * _NODES
    w = 9.0 * _WEIGHTS
    below, above = special.ndtr(x), special.ndtr(-x)
    d2 = float(w @ (1 - below**n - above**n))
    # E R^2 = 2 * integral over x < y of 1 - F(y)^n - (1 - F(x))^n + (F(y) - F(x))^n, over u = y - x > 0.
    u = 9.0 * (_NODES + 1)
    y = x[:, None] + u
    f_y = special.ndtr(y)
    inner = 1 - f_y**n - (above**n)[:, None] + np.maximum(f_y - below[:, None], 0.0) ** n
    second = 2 * float(w @ inner @ (9.0 * _WEIGHTS))
    return d2, math.sqrt(second - d2 * d2)


def c4(dof: float) -> float:
    """Return the mean of a sample sd with so many degrees of freedom, in true sd."""
    return math.sqrt(2 / dof) * math.exp(float(special.gammaln((dof + 1) / 2) - special.gammaln(dof / 2)))


def dof_of_variation(squared_cv: float) -> float:
    """Return the degrees of freedom of the chi distribution with a squared coefficient of variation.

    An estimate of sd from ranges is taken as a scaled chi with the same mean and variance.

    References
    ----------
    Patnaik, Biometrika 37 (1950) 78-87.
    """
    low, high = 1e-3, 1.0
    while 1 / c4(high) ** 2 - 1 > squared_cv:
        high *= 2
    for _ in range(100):
        middle = (low + high) / 2
        if 1 / c4(middle) ** 2 - 1 > squared_cv:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@cache
def moving_range_dof(n: int) -> float:
    """Return what the mean moving range of n pieces is worth in degrees of freedom.

    Notes
    -----
    Neighbouring moving ranges share a piece; their covariance is that of absolute values of two normals with correlation
    -1/2 and variance 2.
    """
    own = 2 - 4 / math.pi
    shared = 4 / math.pi * (math.sqrt(0.75) + 0.5 * math.asin(0.5)) - 4 / math.pi
    variance = ((n - 1) * own + 2 * (n - 2) * shared) / (n - 1) ** 2
    return dof_of_variation(variance / (4 / math.pi))


@cache
def mean_range_dof(size: int, groups: int) -> float:
    """Return what the mean range of so many subgroups of a size is worth in degrees of freedom."""
    d2, d3 = range_moments(size)
    return dof_of_variation(d3 * d3 / (d2 * d2 * groups))
