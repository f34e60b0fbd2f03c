"""Mean and spread from intervals: pieces that go here and do not go there, or readings to a coarse step."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import NotEnoughData, TrackerError
from tracker.result import Interval, Result
from tracker.spread.arguments import Array, checked_confidence, count, decimals_alike, numbers, share

LOG_ROOT_2PI = 0.5 * math.log(2 * math.pi)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IntervalFit(Result):
    """Normal mean and sd (maximum likelihood) of sizes known only to lie between bounds.

    ``mean`` and ``sd`` are None, with the ``reason``, where the data leave them open; ``share_below`` then still says
    what a single limit can tell. ``sd.estimate`` is the maximum-likelihood value (divisor n for exact readings).
    ``mean_pieces`` and ``dof`` say how many exactly measured pieces the intervals are worth, for the mean and the sd.
    """

    mean: Interval | None
    sd: Interval | None
    log_likelihood: float
    n: int
    standard_error_mean: float | None
    standard_error_log_sd: float | None
    mean_pieces: float | None
    dof: float | None
    share_below: Interval | None
    limit: float | None
    reason: str
    method: str

    def __str__(self) -> str:
        if self.mean is None or self.sd is None:
            return f"{count(self.n, 'piece')}: {self.reason}"
        return f"mean {self.mean}, sd {self.sd} from the bounds of {count(self.n, 'piece')}; {self.method}"


def interval_fit(low: Any, high: Any, confidence: float = 0.95) -> IntervalFit:
    """Return mean and spread of pieces of which only bounds are known.

    Parameters
    ----------
    low, high : array_like, shape (n,)
        Bounds of each piece's size, in one unit; ``-inf``, ``inf`` or NaN where a side is open; equal where the
        size was read exactly. A coarse reading is ``value - step/2`` to ``value + step/2``.
    confidence : float
        Of the intervals.

    Returns
    -------
    IntervalFit

    Raises
    ------
    NotEnoughData
        If fewer than two pieces carry a bound.
    TrackerError
        If a lower bound lies above its upper bound.

    Notes
    -----
    Assumes that sizes are normal. The intervals are profile-likelihood intervals whose thresholds are those at which
    exact readings give the t and the chi-square interval, so that they hold at small n; the plain threshold (half a
    chi-square quantile) covers about 90 % at n = 8 where 95 % is said. Measured: 94 to 99 % with pins up to 1 sd apart;
    with coarser ones the mean up to 100 %, the sd 91 to 97 %. With a single limit only the share below it can be told,
    and the mean and the sd are None.

    References
    ----------
    Lawless, Statistical Models and Methods for Lifetime Data, 2nd ed. (2003), sections 2.4 and 5.1 (likelihood of
    interval-censored data, likelihood-ratio intervals). Tests: ``tests/published/test_spread_go_no_go.py``.
    """
    checked_confidence(confidence)
    lower, upper = _bounds(low, high)
    total = int(lower.size)
    if total < 2:
        raise NotEnoughData(f"{count(total, 'piece')} with a bound; a mean and a spread need at least 2 pieces")
    sample = _Sample(lower, upper)
    doubt = _not_identified(lower, upper)
    if doubt is not None:
        return _open_answer(lower, upper, doubt, confidence)
    mu, log_sd, best = _maximum(sample)
    se_mean, se_log = sample.standard_errors(mu, log_sd)
    sd = math.exp(log_sd)
    mean_pieces = min((sd / se_mean) ** 2, float(total))
    dof = max(min(0.5 / se_log**2, float(total)) - 1.0, 0.5)
    mean_interval = _profile_mean(sample, mu, log_sd, best, confidence, total)
    sd_interval = _profile_sd(sample, mu, log_sd, best, confidence, total)
    return IntervalFit(
        mean=Interval(mu, *mean_interval, confidence),
        sd=Interval(sd, *sd_interval, confidence),
        log_likelihood=best,
        n=total,
        standard_error_mean=se_mean,
        standard_error_log_sd=se_log,
        mean_pieces=mean_pieces,
        dof=dof,
        share_below=None,
        limit=None,
        reason="",
        method="normal maximum likelihood, profile-likelihood intervals adjusted for small n" + _covered(lower, upper),
    )


def _bounds(low: Any, high: Any) -> tuple[Array, Array]:
    """Return the bounds of the pieces that carry one, open sides as infinities."""
    lower = np.atleast_1d(numbers(low, "lower bounds"))
    upper = np.atleast_1d(numbers(high, "upper bounds"))
    if lower.shape != upper.shape or lower.ndim != 1:
        raise TrackerError(f"{lower.shape} lower and {upper.shape} upper bounds; accepted is one of each a piece")
    lower = np.where(np.isnan(lower), -np.inf, lower)
    upper = np.where(np.isnan(upper), np.inf, upper)
    if (lower > upper).any():
        first = int(np.flatnonzero(lower > upper)[0])
        raise TrackerError(
            f"piece {first + 1}: the lower bound {lower[first]:g} lies above the upper bound {upper[first]:g}; "
            "a piece cannot go and not go at once, measure it again"
        )
    nowhere = np.isposinf(lower) | np.isneginf(upper)
    if nowhere.any():
        first = int(np.flatnonzero(nowhere)[0])
        raise TrackerError(
            f"piece {first + 1} lies from {lower[first]:g} to {upper[first]:g}; leave out pieces without a size"
        )
    informative = np.isfinite(lower) | np.isfinite(upper)
    return lower[informative], upper[informative]


def _covered(lower: Array, upper: Array) -> str:
    """Say what 95 % intervals cover; exact readings have t and chi-square intervals, where nothing need be said."""
    if (lower == upper).all():
        return ""
    return (
        " (where 95 % is asked they cover 94 to 99 % with bounds up to one sd apart; with coarser ones the mean up to "
        "100 %, the sd 91 to 97 %)"
    )


def _not_identified(lower: Array, upper: Array) -> str | None:
    """Return why the likelihood has no maximum inside, or None when it has one.

    The likelihood of a normal is bounded with a maximum inside unless the data can be met perfectly in a limit
    (sd towards 0: one size lies in every interval) or only one limit divides the pieces (a ridge).
    """
    exact = lower == upper
    # Bounds that touch up to rounding count as one: the spread then runs to 0 along a ridge.
    edges = np.unique(np.r_[lower[np.isfinite(lower)], upper[np.isfinite(upper)]])
    if edges.size == 1 and not exact.any():
        return "one limit"
    width = upper - lower
    slack = 1e-9 * float(width[np.isfinite(width)].max(initial=0.0))
    if lower.max() <= upper.min() + slack:
        return "same"
    if exact.any():
        return None
    # Separable by one cut with nothing bounded on either side of it: sd runs off to infinity or to a ridge.
    if not (np.isfinite(lower) & np.isfinite(upper)).any() and lower[np.isfinite(lower)].size:
        top_of_below = upper[np.isfinite(upper)].max(initial=-np.inf)
        bottom_of_above = lower[np.isfinite(lower)].min(initial=np.inf)
        if bottom_of_above >= top_of_below:
            return "gap"
    return None


def _open_answer(lower: Array, upper: Array, doubt: str, confidence: float) -> IntervalFit:
    """Return what can still be told when mean and sd cannot."""
    total = int(lower.size)
    limit: float | None = None
    below: Interval | None = None
    loglik = 0.0
    if doubt == "one limit":
        limit = float(np.unique(np.r_[lower[np.isfinite(lower)], upper[np.isfinite(upper)]])[0])
        hits = int((upper <= limit).sum())
        below = binomial_interval(hits, total, confidence)
        loglik = float(special.xlogy(hits, hits / total) + special.xlogy(total - hits, 1 - hits / total))
        reason = (
            f"only one limit ({limit:g}) was tried, so mean and spread cannot be told apart; "
            f"{hits} of {total} lie below it ({share(below.low)} to {share(below.high)} of such pieces, "
            f"{share(confidence)}). Try a second pin"
        )
    elif doubt == "same":
        digits = decimals_alike(lower, upper)
        ends = [f"{end:.{digits}f}" for end in (lower.max(), upper.min())]
        size = ends[0] if ends[0] == ends[1] else f"between {ends[0]} and {ends[1]}"
        reason = (
            f"all {count(total, 'piece')} agree with one and the same size ({size}), so the spread is below what these "
            "steps can see; use finer steps"
        )
    else:
        reason = "no piece is bounded on both sides, so the spread cannot be told; try pins between the limits"
    return IntervalFit(
        mean=None,
        sd=None,
        log_likelihood=loglik,
        n=total,
        standard_error_mean=None,
        standard_error_log_sd=None,
        mean_pieces=None,
        dof=None,
        share_below=below,
        limit=limit,
        reason=reason,
        method="normal maximum likelihood",
    )


def binomial_interval(hits: int, tries: int, confidence: float) -> Interval:
    """Return a share with its exact interval.

    References
    ----------
    Clopper & Pearson, Biometrika 26 (1934) 404-413. Test: ``ic-one-limit-only`` of the published cases.
    """
    tail = (1 - confidence) / 2
    low = 0.0 if hits == 0 else float(special.betaincinv(hits, tries - hits + 1, tail))
    high = 1.0 if hits == tries else float(special.betaincinv(hits + 1, tries - hits, 1 - tail))
    return Interval(hits / tries, low, high, confidence)


class _Sample:
    """Distinct intervals with counts, scaled to about unit width, and the likelihood of them."""

    def __init__(self, lower: Array, upper: Array) -> None:
        pairs, counts = np.unique(np.column_stack([lower, upper]), axis=0, return_counts=True)
        self.low, self.high, self.weight = pairs[:, 0], pairs[:, 1], counts.astype(float)
        self.exact = self.low == self.high

    def start(self) -> tuple[float, float]:
        """Return a first guess: middles of bounded intervals, bounds of open ones."""
        wide = self.high - self.low
        wide = wide[np.isfinite(wide) & (wide > 0)]
        spare = float(np.median(wide)) if wide.size else 0.0
        middle = np.where(
            np.isinf(self.low), self.high - spare / 2, np.where(np.isinf(self.high), self.low + spare / 2, 0.0)
        )
        both = np.isfinite(self.low) & np.isfinite(self.high)
        middle[both] = self.low[both] + (self.high[both] - self.low[both]) / 2
        mean = float(np.average(middle, weights=self.weight))
        var = float(np.average((middle - mean) ** 2, weights=self.weight))
        floor = spare / 4 if spare > 0 else float(np.ptp(middle)) / 4
        return mean, math.log(max(math.sqrt(var), floor, abs(mean) * 1e-12, 1e-300))

    def terms(self, mu: Array, log_sd: Array) -> tuple[Array, Array, Array, Array, Array, Array]:
        """Return log-likelihood, gradient (2) and Hessian (3: mm, ms, ss) at broadcast points of (mu, log sd).

        Derivatives are with respect to mu/sd units: the first variable is scaled by sd.
        """
        sd = np.exp(log_sd)
        a = (self.low - mu[..., None]) / sd[..., None]
        b = (self.high - mu[..., None]) / sd[..., None]
        w = self.weight
        exact = self.exact
        with np.errstate(invalid="ignore", over="ignore"):
            log_p = np.where(exact, 0.0, log_interval_chance(np.where(exact, 0.0, a), np.where(exact, 1.0, b)))
            pa = np.where(np.isfinite(a), np.exp(-0.5 * a * a - LOG_ROOT_2PI - log_p), 0.0)
            pb = np.where(np.isfinite(b), np.exp(-0.5 * b * b - LOG_ROOT_2PI - log_p), 0.0)
            fa = np.where(np.isfinite(a), a, 0.0)
            fb = np.where(np.isfinite(b), b, 0.0)
            z = np.where(exact, fa, 0.0)
            ratio = np.where(exact, 0.0, pb - pa)
            moment = np.where(exact, 0.0, fb * pb - fa * pa)
            cube = np.where(exact, 0.0, fb**3 * pb - fa**3 * pa)
            square = np.where(exact, 0.0, fb**2 * pb - fa**2 * pa)
            value = (w * np.where(exact, -0.5 * z * z - LOG_ROOT_2PI - log_sd[..., None], log_p)).sum(-1)
            g_mu = (w * np.where(exact, z, -ratio)).sum(-1)
            g_sd = (w * np.where(exact, z * z - 1.0, -moment)).sum(-1)
            h_mm = (w * np.where(exact, -1.0, -moment - ratio**2)).sum(-1)
            h_ms = (w * np.where(exact, -2.0 * z, ratio - square - ratio * moment)).sum(-1)
            h_ss = (w * np.where(exact, -2.0 * z * z, moment - cube - moment**2)).sum(-1)
        return value, g_mu, g_sd, h_mm, h_ms, h_ss

    def value(self, mu: float, log_sd: float) -> float:
        """Return the log-likelihood."""
        return float(self.terms(np.array(mu), np.array(log_sd))[0])

    def standard_errors(self, mu: float, log_sd: float) -> tuple[float, float]:
        """Return the standard errors of the mean and of log sd from the observed information."""
        _, _, _, mm, ms, ss = (float(term) for term in self.terms(np.array(mu), np.array(log_sd)))
        det = mm * ss - ms * ms
        return math.exp(log_sd) * math.sqrt(-ss / det), math.sqrt(-mm / det)


def log_interval_chance(a: Array, b: Array) -> Array:
    """Return the log chance that a standard normal lies between a and b, exact far out in either tail."""
    flip = a > 0
    low = np.where(flip, -b, a)
    high = np.where(flip, -a, b)
    top = special.log_ndtr(high)
    with np.errstate(divide="ignore"):
        return np.asarray(top + np.log(-np.expm1(np.minimum(special.log_ndtr(low) - top, -0.0))))


def _maximum(sample: _Sample) -> tuple[float, float, float]:
    """Return mean, log sd and log-likelihood at the maximum: Newton with step halving."""
    mu, log_sd = sample.start()
    value, *rest = (float(term) for term in sample.terms(np.array(mu), np.array(log_sd)))
    for _ in range(200):
        g_mu, g_sd, mm, ms, ss = rest
        det = mm * ss - ms * ms
        if mm < 0 and det > 0:
            step_mu, step_sd = (-ss * g_mu + ms * g_sd) / det, (ms * g_mu - mm * g_sd) / det
        else:
            scale = max(abs(mm), abs(ss), 1e-12)
            step_mu, step_sd = g_mu / scale, g_sd / scale
        largest = max(abs(step_mu), abs(step_sd))
        shrink = min(1.0, 1.0 / largest) if largest > 0 else 1.0
        sd = math.exp(log_sd)
        for _ in range(60):
            new_mu, new_log = mu + shrink * step_mu * sd, log_sd + shrink * step_sd
            new_value, *new_rest = (float(term) for term in sample.terms(np.array(new_mu), np.array(new_log)))
            if math.isfinite(new_value) and new_value >= value - 1e-12 * abs(value):
                break
            shrink /= 2
        else:
            break
        mu, log_sd, value, rest = new_mu, new_log, new_value, new_rest
        if largest < 1e-10:
            break
    else:
        raise NotEnoughData("the bounds do not settle on one mean and spread; try pins closer together")
    return mu, log_sd, value


def _profile_mean(
    sample: _Sample, mu: float, log_sd: float, best: float, confidence: float, total: int
) -> tuple[float, float]:
    """Return the bounds of the mean."""
    t = float(special.stdtrit(total - 1, (1 + confidence) / 2))
    drop = 0.5 * total * math.log1p(t * t / (total - 1))
    sd = math.exp(log_sd)

    def profile(mean: float) -> float:
        return _best_over(lambda trial: sample.terms(np.full_like(trial, mean), trial)[0], log_sd, 12.0)

    ends = []
    for side in (-1, 1):
        step = side * sd * max(t / math.sqrt(total), 1e-3)
        end = _constrained(sample, mu, log_sd, best - drop, step, 0.0, of_mean=True)
        ends.append(_walk(lambda mean: profile(mean) - (best - drop), mu, step) if end is None else end)
    return ends[0], ends[1]


def _profile_sd(
    sample: _Sample, mu: float, log_sd: float, best: float, confidence: float, total: int
) -> tuple[float, float]:
    """Return the bounds of the sd."""
    sd = math.exp(log_sd)

    def profile(trial: float) -> float:
        return _best_over(lambda mean: sample.terms(mean, np.full_like(mean, trial))[0], mu, 12.0 * math.exp(trial))

    ends = []
    for quantile, side in ((1 - confidence) / 2, 1.0), ((1 + confidence) / 2, -1.0):
        chi = 2 * float(special.gammaincinv((total - 1) / 2, quantile))
        # For exact readings n sd_ml^2 / sigma^2 = chi at the bound of the chi-square interval.
        exact_end = 0.5 * math.log(total / chi)
        drop = 0.5 * (total * math.log(total / chi) + chi - total)
        start = exact_end if exact_end * side > 0 else side * 0.05
        end = _constrained(sample, mu, log_sd, best - drop, 0.0, start, of_mean=False)
        if end is None:
            end = _walk(lambda trial, drop=drop: profile(trial) - (best - drop), log_sd, start, furthest=30.0)
        ends.append(math.exp(end) if math.isfinite(end) else (math.inf if end > 0 else 0.0))
    return min(ends[1], sd), max(ends[0], sd)


def _constrained(
    sample: _Sample, mu: float, log_sd: float, level: float, step_mu: float, step_sd: float, of_mean: bool
) -> float | None:
    """Return where a profile likelihood crosses a level: Newton on both conditions at once; None if it strays.

    The conditions are: log-likelihood at the level, and no slope in the other parameter.

    References
    ----------
    Venzon & Moolgavkar, Applied Statistics 37 (1988) 87-94.
    """
    x, y = mu + step_mu, log_sd + step_sd
    for _ in range(30):
        sd = math.exp(y)
        value, g_mu, g_sd, mm, ms, ss = (float(term) for term in sample.terms(np.array(x), np.array(y)))
        # Derivatives of the slopes at fixed scale: in units of sd for the mean, as `terms` gives them.
        slope, row = (g_sd, (ms, ss)) if of_mean else (g_mu, (mm, ms))
        det = g_mu * row[1] - g_sd * row[0]
        if not math.isfinite(det) or det == 0:
            return None
        gap = value - level
        move_mu = -(gap * row[1] - g_sd * slope) / det
        move_sd = -(g_mu * slope - row[0] * gap) / det
        largest = max(abs(move_mu), abs(move_sd))
        shrink = min(1.0, 0.7 / largest) if largest > 0 else 1.0
        x, y = x + shrink * move_mu * sd, y + shrink * move_sd
        if abs(y - log_sd) > 6:
            return None
        if largest < 1e-10:
            end, wanted = (x - mu, step_mu) if of_mean else (y - log_sd, step_sd)
            curved = ss < 0 if of_mean else mm < 0
            return (x if of_mean else y) if end * wanted > 0 and curved else None
    return None


def _best_over(value: Any, centre: float, half_width: float) -> float:
    """Return the largest value of a smooth one-humped function near a centre: grids, each finer."""
    best = -math.inf
    for _ in range(9):
        grid = np.linspace(centre - half_width, centre + half_width, 25)
        heights = value(grid)
        heights = np.where(np.isnan(heights), -np.inf, heights)
        top = int(np.argmax(heights))
        best = max(best, float(heights[top]))
        centre, half_width = float(grid[top]), half_width / 8
    return best


def _walk(excess: Any, start: float, step: float, furthest: float = math.inf) -> float:
    """Return where a function that is positive at ``start`` crosses zero in the direction of ``step``.

    Infinite when it never does within 60 doublings, or within ``furthest``.
    """
    inside, outside = start, start + step
    for _ in range(60):
        if abs(step) > furthest:
            return math.copysign(math.inf, step)
        if excess(outside) < 0:
            break
        inside, step = outside, step * 2
        outside = start + step
    else:
        return math.copysign(math.inf, step)
    for _ in range(60):
        middle = (inside + outside) / 2
        if excess(middle) >= 0:
            inside = middle
        else:
            outside = middle
        if abs(outside - inside) <= 1e-9 * abs(step):
            break
    return (inside + outside) / 2
