"""Wear: how size moves with the order of making, where events cut it, and how many pieces are left."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.drift.breaks import Departure, departure
from tracker.drift.lines import (
    LineFit,
    RunSums,
    residual_squares,
    robust_slope,
    sd_interval,
    without_rounding,
)
from tracker.drift.runs import Run, cut_into_runs
from tracker.drift.slopes import SURELY_DIFFER_BELOW, slopes_of
from tracker.drift.wear_results import WearBand, WearLine, WearRun
from tracker.plurals import noun
from tracker.result import Interval
from tracker.spread.arguments import checked_confidence, checked_limits, no_less_than_zero
from tracker.spread.student import t_interval, t_test_p

LOOK_AHEAD = 1_000_000


def wear_line(
    sizes: Sequence[float] | np.ndarray,
    order: Sequence[float] | np.ndarray | None = None,
    events: Sequence[tuple[float, str]] = (),
    lower: float | None = None,
    upper: float | None = None,
    confidence: float = 0.95,
    resolution: float = 0.0,
) -> WearLine:
    """Return how size moves with the order of making, and how many pieces are left.

    Parameters
    ----------
    sizes : array_like, shape (n,)
        Sizes of the pieces, one length unit.
    order : array_like, shape (n,), optional
        Which piece in the making each was (1 for the first); 1..n when not given. Gaps are fine.
    events : sequence of (after_piece, name)
        How many pieces had been made before each event, and what it was. The line is cut there.
    lower, upper : float, optional
        Limits of size.
    confidence : float
        Of the intervals; also the one-sided confidence of ``pieces_left_safe``.
    resolution : float
        Step of the readings, 0 where it is not known: no jump or bend within one step is called one.

    Returns
    -------
    WearLine

    Raises
    ------
    NotEnoughData
        If there are too few pieces between events for a line with a spread about it.

    Notes
    -----
    Least squares: within a run size is a straight line in the order plus independent normal scatter of the
    same sd in all runs. Runs share one slope unless an F test tells them apart; then the last run's own slope is used,
    and between p = 0.05 and 0.01 its interval is widened to hold the common slope's as well. With few pieces that test
    sees little: the common slope is taken as less certain the more the slopes scatter (Birge's ratio), and each run's
    own slope is given too. Where the runs share one slope, 95 % intervals cover 94 to 96 %. Where the last run wears
    twice as fast and cannot be told apart, they cover 85 to 95 % with runs of equal length and less the shorter the
    last run is (tests/calibration/drift_wear.py); ``words`` says that one slope is taken for granted, and what the
    last run says by itself.
    Where wear is curved (a fresh edge wears fast, then slowly), or size jumped without an event, the line ahead is too
    steep or too flat: pieces left are withheld where the pieces surely depart from their lines (`departure`).
    ``pieces_left_safe`` is a bound for each piece by itself, not for all of them together.

    References
    ----------
    Draper & Smith, *Applied Regression Analysis*, 3rd ed., chapters 1-3 (from memory). Held against certified
    and published fits in tests/published/test_drift_trend.py; coverage in tests/calibration/drift_wear.py.

    Examples
    --------
    >>> line = wear_line([10.000, 10.002, 10.003, 10.005, 10.006], upper=10.012)
    >>> round(line.slope.estimate, 4), line.pieces_left, line.pieces_left_safe
    (0.0015, 3, 2)
    """
    checked_confidence(confidence)
    checked_limits(lower, upper, needed=False)
    resolution = no_less_than_zero(resolution, "resolution")
    cut = cut_into_runs(sizes, order, events)
    x, y, run = cut.order, cut.size, cut.run
    found = slopes_of(cut, confidence)
    sums, separate, fit, differ, differ_p = found.sums, found.separate, found.fit, found.differ, found.differ_p
    sd = math.sqrt(fit.variance)
    se = sd / math.sqrt(fit.slope_sxx[-1])
    slope = t_interval(fit.slopes[-1], se, fit.dof, confidence)
    p_value = t_test_p(slope.estimate, se, fit.dof)
    robust, robust_method = robust_slope(x, y, run, confidence)
    last = slice(int(x.size - sums.n[-1]), x.size)
    spread_at_zero = sd * math.sqrt(1 / sums.n[-1] + sums.mean_x[-1] ** 2 / fit.slope_sxx[-1])
    intercept = sums.mean_y[-1] - slope.estimate * sums.mean_x[-1]
    line = sums.mean_y[run] + fit.slopes[run] * (x - sums.mean_x[run])
    seen = p_value < 1 - confidence
    end = _End(
        order=float(x[last][-1]),
        mean_order=float(sums.mean_x[-1]),
        mean_size=float(sums.mean_y[-1]),
        n=float(sums.n[-1]),
        slope=slope.estimate,
        sd=sd,
        sxx=float(fit.slope_sxx[-1]),
        quantile=float(special.stdtrit(fit.dof, confidence)),
    )
    departs = departure(x, residual_squares(x, y, run, sums, separate.slopes), run, sums, separate, resolution)
    left, safe, reason = _pieces_left(end, lower, upper, seen, cut.waiting_event, departs)
    runs = _run_results(cut.runs, sums, fit, separate, confidence)
    return WearLine(
        slope=slope,
        slope_from=_slope_from(len(cut.runs), fit, differ, differ_p),
        intercept=t_interval(intercept, spread_at_zero, fit.dof, confidence),
        sd=sd_interval(fit.variance, fit.dof, confidence),
        p_value=p_value,
        robust_slope=robust,
        seen=seen,
        runs=runs,
        slopes_differ_p=differ_p,
        one_slope_assumed=_one_slope_assumed(runs, fit.common),
        departure=departs,
        pieces_left=left,
        pieces_left_safe=safe,
        reason=reason,
        lower=lower,
        upper=upper,
        confidence=confidence,
        n=int(x.size),
        dof=fit.dof,
        method="least squares",
        robust_method=robust_method,
        order=x,
        size=y,
        residual=without_rounding(y - line, y),
        band=_band(x, line, run, sums, fit, confidence),
        last_run_n=int(sums.n[-1]),
        last_run_mean_order=float(sums.mean_x[-1]),
        last_run_mean_size=float(sums.mean_y[-1]),
        slope_sxx=float(fit.slope_sxx[-1]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _End:
    """What is known of the line at the end of the last run."""

    order: float
    mean_order: float
    mean_size: float
    n: float
    slope: float
    sd: float
    sxx: float
    quantile: float

    def line(self, ahead: float) -> float:
        return self.mean_size + self.slope * (self.order + ahead - self.mean_order)

    def bound(self, ahead: float, sign: int) -> float:
        away = self.order + ahead - self.mean_order
        return self.line(ahead) + sign * self.quantile * self.sd * math.sqrt(1 + 1 / self.n + away * away / self.sxx)


def _pieces_left(
    end: _End,
    lower: float | None,
    upper: float | None,
    seen: bool,
    waiting_event: str | None,
    departs: Departure | None,
) -> tuple[int | None, int | None, str]:
    if waiting_event is not None:
        return None, None, f"No piece was measured since the last event ({waiting_event}): nothing to look ahead from."
    if lower is None and upper is None:
        return None, None, "No limit was given, so pieces left cannot be said."
    if departs is not None:
        return None, None, _withheld(departs)
    if not seen:
        counts = [
            _count_within(end, limit, sign, safe=True) for limit, sign in ((upper, 1), (lower, -1)) if limit is not None
        ]
        bounded = [count for count in counts if count is not None]
        reason = "Pieces left cannot be said while no wear can be seen."
        return None, min(bounded) if bounded else None, reason
    sign = 1 if end.slope > 0 else -1
    limit = upper if sign > 0 else lower
    if limit is None:
        side = "upper" if sign > 0 else "lower"
        return None, None, f"Size moves towards the {side} limit, and there is none."
    left = _count_within(end, limit, sign, safe=False)
    safe = _count_within(end, limit, sign, safe=True)
    reason = "The limit is more than a million pieces away." if left is None or safe is None else ""
    behind = lower if sign > 0 else upper
    if behind is not None and sign * (end.line(1) - behind) < 0:
        return left, 0, f"The mean is past the {'lower' if sign > 0 else 'upper'} limit, and wear moves it back."
    return left, safe, reason


def _withheld(departs: Departure) -> str:
    """Say why pieces left are not given, and what would let them be."""
    if departs.after is None:
        return "Pieces left cannot be said: wear is curved, and a straight line ahead would miss it."
    return (
        f"Pieces left cannot be said: it looks as if something changed after piece {departs.after:g} as made; if"
        " the tool was changed or the offset moved there, log the event."
    )


def _count_within(end: _End, limit: float, sign: int, *, safe: bool) -> int | None:
    """Return how many further pieces stay within the limit: the line, or the bound for a piece.

    Both are convex ahead of the last piece, so halving finds the crossing; None when it lies beyond a
    million pieces.
    """
    slack = 1e-9 * max(abs(end.slope), end.sd)

    def within(ahead: int) -> bool:
        value = end.bound(ahead, sign) if safe else end.line(ahead)
        return sign * (limit - value) >= -slack

    if not within(1):
        return 0
    low, high = 1, 2
    while within(high):
        low, high = high, high * 2
        if high > LOOK_AHEAD:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if within(middle) else (low, middle)
    return low


def _slope_from(runs: int, fit: LineFit, differ: bool, differ_p: float | None) -> str:
    if runs == 1:
        return "one run"
    if differ and fit.common:
        return f"common to {runs} runs although they differ (p = {differ_p:.2g}); the last run is too short for its own"
    if differ and differ_p is not None and differ_p >= SURELY_DIFFER_BELOW:
        return (
            f"the last of {runs} runs, whose slopes seem to differ (p = {differ_p:.2g}); the interval holds the slope "
            "common to all as well"
        )
    if differ:
        return f"the last of {runs} runs, whose slopes differ (p = {differ_p:.2g})"
    if differ_p is None:
        return f"common to {runs} runs, too few pieces to tell them apart"
    return f"common to {runs} runs, whose slopes cannot be told apart (p = {differ_p:.2g})"


def _one_slope_assumed(runs: tuple[WearRun, ...], common: bool) -> str:
    """Say what one slope for all runs takes for granted, and what the last run says by itself."""
    if len(runs) == 1 or not common:
        return ""
    every = "both" if len(runs) == 2 else f"all {len(runs)}"
    return (
        f"This takes for granted that {every} runs wear alike; were the last to wear at twice the rate, the "
        "interval would hold less often than said: 85 to 95 % of the time with runs of equal length, 4 % with 3 pieces "
        "after 27."
    )


def _run_results(
    runs: tuple[Run, ...], sums: RunSums, fit: LineFit, separate: LineFit, confidence: float
) -> tuple[WearRun, ...]:
    results = []
    for k, run in enumerate(runs):
        slope, sd, reasons = None, None, []
        if sums.sxx[k] > 0 and separate.dof > 0:
            own_se = math.sqrt(separate.variance / sums.sxx[k])
            slope = t_interval(separate.slopes[k], own_se, separate.dof, confidence)
        else:
            reasons.append(
                f"{run.n} {noun(run.n, 'piece gives', 'pieces give')} no slope of {noun(run.n, 'its', 'their')} own"
            )
        if sums.n[k] >= 3 and sums.sxx[k] > 0:
            rss = max(sums.syy[k] - separate.slopes[k] * sums.sxy[k], 0.0)
            sd = math.sqrt(rss / (sums.n[k] - 2))
        jump = None
        if k > 0:
            jump = _jump(k, run.first, sums, fit, confidence)
            if jump is None:
                reasons.append("the jump needs two pieces on both sides of the event")
        ends = [sums.mean_y[k] + fit.slopes[k] * (at - sums.mean_x[k]) for at in (run.first, run.last)]
        results.append(
            WearRun(
                first=run.first,
                last=run.last,
                event=run.event,
                n=run.n,
                slope=slope,
                sd=sd,
                first_on_line=float(ends[0]),
                last_on_line=float(ends[1]),
                jump=jump,
                reason="; ".join(reasons),
            )
        )
    return tuple(results)


def _jump(k: int, at: float, sums: RunSums, fit: LineFit, confidence: float) -> Interval | None:
    """Return the step between the lines of run k-1 and run k, both taken at run k's first piece."""
    before, after = at - sums.mean_x[k - 1], at - sums.mean_x[k]
    if fit.common:
        leverage = (sums.mean_x[k] - sums.mean_x[k - 1]) ** 2 / fit.slope_sxx[k]
    elif sums.sxx[k] > 0 and sums.sxx[k - 1] > 0:
        leverage = before**2 / fit.slope_sxx[k - 1] + after**2 / fit.slope_sxx[k]
    else:
        return None
    estimate = (sums.mean_y[k] + fit.slopes[k] * after) - (sums.mean_y[k - 1] + fit.slopes[k - 1] * before)
    se = math.sqrt(fit.variance * (1 / sums.n[k] + 1 / sums.n[k - 1] + leverage))
    return t_interval(estimate, se, fit.dof, confidence)


def _band(x: np.ndarray, line: np.ndarray, run: np.ndarray, sums: RunSums, fit: LineFit, confidence: float) -> WearBand:
    """Return the band for a single piece along the pieces there are."""
    away = x - sums.mean_x[run]
    sxx = fit.slope_sxx[run]
    share = np.divide(away * away, sxx, out=np.zeros_like(away), where=sxx > 0)
    half = float(special.stdtrit(fit.dof, 0.5 + confidence / 2)) * np.sqrt(fit.variance * (1 + 1 / sums.n[run] + share))
    return WearBand(order=x, line=line, low=line - half, high=line + half, confidence=confidence)
