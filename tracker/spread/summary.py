"""The batch in a few numbers: how many, mean, spread, bias, least and largest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.errors import TrackerError
from tracker.result import Interval, Result
from tracker.spread.arguments import checked_confidence, count, finite_number
from tracker.spread.estimates import estimate, interval_of_mean, interval_of_sd, sd_factors
from tracker.spread.sizing import Sizes

WORTH_MORE = 0.95
"""A factor is worth more pieces when it comes down to this part of itself (our choice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary(Result):
    """What a batch looks like, in the unit of the sizes.

    ``bias`` is mean minus target, None without a target. ``common_uncertainty`` is the standard uncertainty that
    moves all sizes together; the intervals of mean and bias take it in, the spread does not depend on it.
    """

    n: int
    mean: Interval
    sd: Interval
    bias: Interval | None
    minimum: float
    maximum: float
    range: float
    target: float | None
    common_uncertainty: float
    method: str
    remark: str

    def __str__(self) -> str:
        words = f"{count(self.n, 'piece')}: mean {self.mean}, sd {self.sd}"
        if self.bias is not None:
            words += f", bias {self.bias}"
        words += f", from {self.minimum:.6g} to {self.maximum:.6g}; {self.method}"
        return words + (f". {self.remark}" if self.remark else "")


def summarize(
    sizes: Any,
    target: float | None = None,
    confidence: float = 0.95,
    *,
    step: float | None = None,
    common_uncertainty: float | None = None,
) -> Summary:
    """Return how many pieces, their mean, spread and bias, each with its interval.

    Parameters
    ----------
    sizes : array_like of shape (n,), Sizes or IntervalFit
        One size a piece.
    target : float, optional
        What is aimed at.
    confidence : float
        Of the intervals.
    step : float, optional
        Resolution of plain sizes; when more than half the sd, sizes are taken as intervals of that width.
    common_uncertainty : float, optional
        Standard uncertainty that all sizes share (calibration, temperature): it moves the mean and does not average
        out. Of `Sizes` their own when not given, of others none.

    Returns
    -------
    Summary

    Raises
    ------
    NotEnoughData
        If there are fewer than two pieces.
    TrackerError
        If ``common_uncertainty`` is negative.

    Notes
    -----
    The t interval of the mean and the chi-square interval of the sd assume independent pieces from one normal; the
    chi-square interval is too short when tails are heavy. What all sizes share is taken into the interval of the mean
    with Satterthwaite's degrees of freedom: coverage 94 to 96 % from five pieces on, more with fewer. When all sizes
    are equal and the step is not known, the sd is 0 with no upper bound, and says so.

    References
    ----------
    NIST/SEMATECH e-Handbook, 1.3.5.2 and 1.3.5.8. Tests: ``tests/published/test_spread_strd.py``.

    Examples
    --------
    >>> print(summarize([10.0, 10.2, 10.1, 10.3], target=10.0))
    4 pieces: mean 10.15 (between 9.94457 and 10.3554, 95 %), sd 0.129099 (between 0.0731335 and 0.481353, 95 %),
    bias 0.15 (between -0.055426 and 0.355426, 95 %), from 10 to 10.3; sample mean and sd. 4 pieces tell the
    spread only within a factor of 6.6; 21 pieces would bring that to 1.9
    """
    checked_confidence(confidence)
    if common_uncertainty is None:
        common_uncertainty = sizes.common_uncertainty if isinstance(sizes, Sizes) else 0.0
    if not 0 <= common_uncertainty < math.inf:
        raise TrackerError(f"common_uncertainty is {common_uncertainty!r}; accepted is zero or more")
    found = estimate(sizes, step=step, confidence=confidence, purpose="how much pieces differ")
    if found.sd == 0:
        mean = Interval(found.mean, -math.inf, math.inf, confidence)
        sd = Interval(0.0, 0.0, math.inf, confidence)
        remark = (
            f"all {count(found.n, 'size')} are equal: the gauge cannot see the spread; give its step or use a finer one"
        )
    else:
        mean = interval_of_mean(found, confidence, common_uncertainty)
        sd = interval_of_sd(found, confidence)
        remark = _what_it_can_tell(found.n, sd)
    bias = None
    if target is not None:
        target = finite_number(target, "target")
        bias = Interval(mean.estimate - target, mean.low - target, mean.high - target, confidence)
    return Summary(
        n=found.n,
        mean=mean,
        sd=sd,
        bias=bias,
        minimum=found.minimum,
        maximum=found.maximum,
        range=found.maximum - found.minimum,
        target=target,
        common_uncertainty=common_uncertainty,
        method=found.method,
        remark=remark,
    )


def pieces_for_factor(factor: float, confidence: float) -> int:
    """Return how many pieces bound the sd within a factor (high over low end) at a confidence."""
    n = 2
    while True:
        low, high = sd_factors(n - 1, confidence)
        if high / low <= factor:
            return n
        n += 1 if n < 50 else n // 20


def _what_it_can_tell(n: int, sd: Interval) -> str:
    """Return what so few pieces can and cannot tell, empty when there are enough."""
    if n >= 25 or not np.isfinite(sd.high) or sd.low <= 0:
        return ""
    factor = sd.high / sd.low
    wanted = max(1.9, math.floor(factor * 5) / 10) if factor < 3.8 else 1.9
    words = f"{count(n, 'piece')} tell the spread only within a factor of {factor:.2g}"
    if wanted > WORTH_MORE * factor:
        return words
    return f"{words}; {pieces_for_factor(wanted, sd.confidence)} pieces would bring that to {wanted:.2g}"
