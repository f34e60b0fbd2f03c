"""What rounding to a gauge's step does to a mean."""

from __future__ import annotations

import math

import numpy as np

TERMS = np.arange(1, 51)


def rounding_of_mean(step: float, sd: float) -> float:
    """Return the standard uncertainty that rounding leaves in the mean of ever so many readings.

    Parameters
    ----------
    step : float
        Step of the readings, zero or more.
    sd : float
        Standard deviation of what was rounded.

    Notes
    -----
    Where sizes differ by less than a step they are rounded alike, and no number of pieces averages that out. The mean
    error of rounding a normal size is a Fourier series in the place of its mean between two steps, with terms
    step / (pi k) exp(-2 pi^2 k^2 sd^2 / step^2); this is its root mean square over all places: step / sqrt(12) where
    all read alike, and nothing to speak of from sd = 0.6 steps on.

    References
    ----------
    B. Widrow, I. Kollar, M.-C. Liu, IEEE Trans. Instrum. Meas. 45 (1996) 353-361 (from memory): rounding a normal
    quantity. Held by simulation in tests/tracker/spread/test_rounding.py.

    Examples
    --------
    >>> round(rounding_of_mean(1.0, 0.0), 3), round(rounding_of_mean(1.0, 0.3), 3), round(rounding_of_mean(1.0, 0.6), 3)
    (0.289, 0.038, 0.0)
    """
    if step <= 0:
        return 0.0
    if sd <= 0:
        return step / math.sqrt(12.0)
    terms = step / (math.pi * TERMS) * np.exp(-2.0 * (math.pi * TERMS * sd / step) ** 2)
    return float(math.sqrt(0.5 * float(terms @ terms)))
