"""How many degrees of freedom an sd from ranges is worth: moving ranges, and ranges of subgroups."""

from __future__ import annotations

import math
from functools import cache

from tracker.spread.group_constants import mean_sd_factor, range_moments


def dof_of_variation(squared_cv: float) -> float:
    """Return the degrees of freedom (1 or more) of the chi distribution with a squared coefficient of variation.

    An estimate of sd from ranges is taken as a scaled chi with the same mean and variance.

    References
    ----------
    Patnaik, Biometrika 37 (1950) 78-87. Tests: ``tests/tracker/spread/test_ranges.py``.
    """
    low, high = 1.0, 2.0
    while 1 / mean_sd_factor(high + 1) ** 2 - 1 > squared_cv:
        high *= 2
    for _ in range(100):
        middle = (low + high) / 2
        if 1 / mean_sd_factor(middle + 1) ** 2 - 1 > squared_cv:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@cache
def moving_range_dof(n: int) -> float:
    """Return what the mean moving range of n pieces is worth in degrees of freedom.

    Notes
    -----
    Neighbouring moving ranges share a piece; their covariance is that of absolute values of two normals with
    correlation -1/2 and variance 2.
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
