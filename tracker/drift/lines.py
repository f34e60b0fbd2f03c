"""Straight lines through runs of pieces: one slope for all runs or a slope each, and a robust slope."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from tracker.result import Interval
from tracker.spread.estimates import sd_factors

PAIRS_AT_MOST = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSums:
    """Sums of every run: counts, means and sums of squares and products about the means."""

    n: np.ndarray
    mean_x: np.ndarray
    mean_y: np.ndarray
    sxx: np.ndarray
    sxy: np.ndarray
    syy: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFit:
    """A least-squares fit with one intercept a run; ``slopes`` holds the same value for all when common."""

    slopes: np.ndarray
    slope_sxx: np.ndarray
    rss: float
    dof: int
    common: bool

    @property
    def variance(self) -> float:
        """Variance about the line."""
        return self.rss / self.dof


def run_sums(x: np.ndarray, y: np.ndarray, run: np.ndarray, runs: int) -> RunSums:
    """Return the sums of each run in two passes, so that far-off origins cost no digits."""
    n = np.bincount(run, minlength=runs).astype(float)
    shift_x, shift_y = x[0], y[0]
    mean_x = np.bincount(run, x - shift_x, runs) / n
    mean_y = np.bincount(run, y - shift_y, runs) / n
    dx = x - shift_x - mean_x[run]
    dy = y - shift_y - mean_y[run]
    return RunSums(
        n=n,
        mean_x=mean_x + shift_x,
        mean_y=mean_y + shift_y,
        sxx=np.bincount(run, dx * dx, runs),
        sxy=np.bincount(run, dx * dy, runs),
        syy=np.bincount(run, dy * dy, runs),
    )


def residual_squares(x: np.ndarray, y: np.ndarray, run: np.ndarray, sums: RunSums, slopes: np.ndarray) -> np.ndarray:
    """Return the residuals about the lines with the given slopes."""
    residual = (y - sums.mean_y[run]) - slopes[run] * (x - sums.mean_x[run])
    return without_rounding(residual, y)


def without_rounding(difference: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return differences of sizes ``y``, those that are no more than floating-point rounding as 0."""
    noise = 16 * np.finfo(float).eps * max(float(np.max(np.abs(y))), np.finfo(float).tiny)
    return np.where(np.abs(difference) <= noise, 0.0, difference)


def common_fit(x: np.ndarray, y: np.ndarray, run: np.ndarray, sums: RunSums) -> LineFit:
    """Return the fit with one slope shared by all runs."""
    total = float(np.sum(sums.sxx))
    slopes = np.full(sums.n.size, float(np.sum(sums.sxy)) / total)
    residual = residual_squares(x, y, run, sums, slopes)
    return LineFit(
        slopes=slopes,
        slope_sxx=np.full(sums.n.size, total),
        rss=float(residual @ residual),
        dof=int(x.size - sums.n.size - 1),
        common=True,
    )


def separate_fit(x: np.ndarray, y: np.ndarray, run: np.ndarray, sums: RunSums) -> LineFit:
    """Return the fit with a slope for each run; a run at one place on the axis has slope 0 and no spread."""
    has_slope = sums.sxx > 0
    slopes = np.divide(sums.sxy, sums.sxx, out=np.zeros_like(sums.sxy), where=has_slope)
    residual = residual_squares(x, y, run, sums, slopes)
    return LineFit(
        slopes=slopes,
        slope_sxx=sums.sxx,
        rss=float(residual @ residual),
        dof=int(x.size - sums.n.size - np.sum(has_slope)),
        common=False,
    )


def slopes_differ_p(common: LineFit, separate: LineFit) -> float | None:
    """Return the p-value of the F test that all runs share one slope (None: nothing to compare)."""
    extra = common.dof - separate.dof
    if extra <= 0 or separate.dof <= 0:
        return None
    gained = max(common.rss - separate.rss, 0.0)
    if separate.rss == 0.0:
        return 1.0 if gained == 0.0 else 0.0
    return float(special.fdtrc(extra, separate.dof, (gained / extra) / separate.variance))


def unsure_of_common(common: LineFit, separate: LineFit) -> LineFit:
    """Return the common fit, its slope as much less certain as the runs' slopes scatter more than they should.

    A test that does not tell slopes apart does not prove them equal. The variance of the common slope is multiplied
    by the F ratio of that test where it is above 1 (Birge's ratio), which keeps its interval near what was asked.
    """
    extra = common.dof - separate.dof
    if extra <= 0 or separate.dof <= 0 or separate.rss == 0.0:
        return common
    ratio = (common.rss - separate.rss) / extra / separate.variance
    return replace(common, slope_sxx=common.slope_sxx / max(ratio, 1.0))


def holding_both(common: LineFit, separate: LineFit, confidence: float) -> LineFit:
    """Return the separate fit, each run's slope as uncertain that its interval holds that of the common slope as well.

    Where the test speaks against one slope, but not loudly, either fit may be the wrong one: among batches that do
    have one slope, those refused by chance are those whose last run strays furthest.
    """
    half_common = float(special.stdtrit(common.dof, 0.5 + confidence / 2)) * np.sqrt(common.variance / common.slope_sxx)
    quantile = float(special.stdtrit(separate.dof, 0.5 + confidence / 2))
    moves = separate.slope_sxx > 0
    own = np.sqrt(np.divide(separate.variance, separate.slope_sxx, out=np.zeros_like(half_common), where=moves))
    half = np.maximum(quantile * own, np.abs(separate.slopes - common.slopes) + half_common)
    square = np.square(half / quantile)
    worth = np.divide(separate.variance, square, out=separate.slope_sxx.copy(), where=moves & (square > 0))
    return replace(separate, slope_sxx=worth)


def sd_interval(variance: float, dof: float, confidence: float) -> Interval:
    """Return a standard deviation with its chi-square interval."""
    sd = float(np.sqrt(variance))
    low, high = sd_factors(dof, confidence)
    return Interval(sd, sd * low, sd * high, confidence)


def robust_slope(x: np.ndarray, y: np.ndarray, run: np.ndarray, confidence: float) -> tuple[Interval, str]:
    """Return the median of the slopes between pieces of the same run, and how it was taken.

    Parameters
    ----------
    x, y, run : ndarray, shape (n,)
        Order, size and number of the run, sorted by run.
    confidence : float
        Of the interval.

    Returns
    -------
    tuple of Interval and str
        Theil's slope with Sen's interval (normal approximation of Kendall's statistic, summed over runs).
        Above two million pairs each piece is paired with the one half a run on (Theil's incomplete
        method), and the interval is the sign-test one.

    References
    ----------
    H. Theil, Proc. K. Ned. Akad. Wet. 53 (1950); P. K. Sen, JASA 63 (1968) 1379-1389. From memory; held
    against scipy in tests/tracker/drift/test_lines.py.
    """
    counts = np.bincount(run)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    complete = int(np.sum(counts * (counts - 1) // 2)) <= PAIRS_AT_MOST
    slopes = []
    for start, count in zip(starts, counts):
        if complete:
            i, j = np.triu_indices(count, 1)
        else:
            half = count // 2
            i = np.arange(half)
            j = i + (count - half)
        dx = x[start + j] - x[start + i]
        dy = y[start + j] - y[start + i]
        slopes.append(dy[dx != 0] / dx[dx != 0])
    values = np.sort(np.concatenate(slopes))
    if complete:
        variance = _kendall_variance(x, y, run, counts)
        method = "median of the slopes between all pieces of a run (Theil), interval after Sen"
        if x.size < 12:
            method += " (on the safe side with so few pieces: 97 to 99 % where 95 % is asked)"
    else:
        variance = float(values.size)
        method = "median of the slopes between pieces half a run apart (Theil's incomplete method), sign interval"
    z = float(special.ndtri(0.5 + confidence / 2))
    reach = z * np.sqrt(variance)
    upper = min(int(np.round((values.size + reach) / 2)), values.size - 1)
    lower = max(int(np.round((values.size - reach) / 2)) - 1, 0)
    middle = float(np.median(values))
    return Interval(middle, float(values[lower]), float(values[upper]), confidence), method


def _kendall_variance(x: np.ndarray, y: np.ndarray, run: np.ndarray, counts: np.ndarray) -> float:
    """Variance of Kendall's statistic summed over runs, with Sen's correction for ties in either."""

    def term(m: np.ndarray) -> float:
        return float(np.sum(m * (m - 1) * (2 * m + 5)))

    total = term(counts)
    for values in (x, y):
        _, ties = np.unique(np.column_stack([run, values]), axis=0, return_counts=True)
        total -= term(ties[ties > 1])
    return max(total, 0.0) / 18.0
