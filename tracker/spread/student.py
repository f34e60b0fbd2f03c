"""An estimate with its standard error: t interval and t test, in one place for lines, biases and jumps."""

from __future__ import annotations

import math

from scipy import special

from tracker.result import Interval


def t_interval(estimate: float, se: float, dof: float, confidence: float) -> Interval:
    """Return the t interval of an estimate with its standard error; unlimited degrees of freedom give the normal.

    Examples
    --------
    >>> print(t_interval(1.0, 0.1, 4, 0.95))
    1 (between 0.722355 and 1.27764, 95 %)
    """
    share = 0.5 + confidence / 2
    quantile = float(special.ndtri(share) if math.isinf(dof) else special.stdtrit(dof, share))
    return Interval(float(estimate), float(estimate - quantile * se), float(estimate + quantile * se), confidence)


def t_test_p(estimate: float, se: float, dof: float) -> float:
    """Return the two-sided p-value that the true value is zero."""
    if se == 0.0:
        return 1.0 if estimate == 0.0 else 0.0
    z = -abs(estimate / se)
    return float(2 * (special.ndtr(z) if math.isinf(dof) else special.stdtr(dof, z)))
