"""Capability: how the spread of a batch compares with its limits, and what so few pieces can say about it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import NotEnoughData, TrackerError
from tracker.result import Interval, Result
from tracker.spread.arguments import checked_confidence, checked_limits, count, finite_number, share
from tracker.spread.estimates import Estimate, estimate, need_spread, sd_factors
from tracker.spread.fallout import total_bounds
from tracker.spread.gaussianity import normality
from tracker.spread.indices import bissell_interval, chance_at_least, index_interval
from tracker.spread.nonnormal import (
    FAMILIES,
    FittedFamily,
    choose_family,
    family_tails,
    fit_family,
    quantile_indices,
    remark_on_intervals,
)
from tracker.spread.subgroups import WithinSpread, within_spread

PIECES_AT_MOST = 10_000_000


FEW = 12
APPROXIMATE = (
    "At so few pieces the intervals of Cpm, of Cpk by moving range and of the share beyond both limits are"
    " approximate: those said to hold 95 % of the time held 93.9 to 96.4 %"
)
"""Measured; the table of the calibration has the rows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Capability(Result):
    """Capability of a batch against its limits.

    ``cp``, ``cpk`` rest on the spread within subgroups, ``pp``, ``ppk`` on that of the whole batch, ``cpm`` counts the
    distance to the target as well. What could not be computed is None and ``reasons`` says why. ``beyond_lower``,
    ``beyond_upper`` and ``beyond`` are the shares of pieces to be expected beyond the limits; their ``high`` is
    the upper confidence limit. ``pieces_needed`` pieces with this mean and spread would show ``asked`` with
    one-sided confidence. ``bissell`` is Ppk with Bissell's approximate interval, for comparison.
    """

    n: int
    mean: float
    overall_sd: float
    within_sd: float | None
    lower: float | None
    upper: float | None
    target: float | None
    cp: Interval | None
    cpk: Interval | None
    pp: Interval | None
    ppk: Interval
    cpm: Interval | None
    bissell: Interval
    beyond_lower: Interval | None
    beyond_upper: Interval | None
    beyond: Interval
    asked: float
    pieces_needed: int | None
    distribution: str
    method: str
    remark: str
    reasons: dict[str, str]

    def __str__(self) -> str:
        shown = [(name, getattr(self, name)) for name in ("cp", "cpk", "pp", "ppk", "cpm")]
        words = ", ".join(
            f"{name[0].upper()}{name[1:]} {item.estimate:.2f} ({item.low:.2f} to {item.high:.2f})"
            for name, item in shown
            if item is not None
        )
        words += (
            f", {share(self.ppk.confidence)}; beyond the limits {share(self.beyond.estimate)} "
            f"(at most {share(self.beyond.high)})"
        )
        words += f"; {count(self.n, 'piece')}, {self.distribution.replace('_', ' ')}, {self.method}"
        words += f". {self.remark}" if self.remark else ""
        return words + (f". {APPROXIMATE}" if self.distribution == "normal" and self.n <= FEW else "")


def capability(
    sizes: Any,
    lower: float | None = None,
    upper: float | None = None,
    target: float | None = None,
    subgroup: Any = None,
    confidence: float = 0.95,
    *,
    within: str | None = None,
    distribution: str = "auto",
    asked: float = 1.33,
    step: float | None = None,
) -> Capability:
    """Return the capability of a batch against its limits.

    Parameters
    ----------
    sizes : array_like of shape (n,), Sizes or IntervalFit
        In order of making.
    lower, upper : float, optional
        Limits; with one missing the indices are one-sided.
    target : float, optional
        For Cpm; by default the middle of the limits.
    subgroup : int or array_like of shape (n,), optional
        Size of subgroups of neighbouring pieces, or the subgroup of each piece. Without one, the spread within is that
        from piece to piece (moving range).
    confidence : float
        Of the intervals.
    within : str, optional
        ``moving_range``, ``pooled_sd`` or ``mean_range``; by default pooled sd with subgroups, else moving range.
    distribution : str
        ``auto``, ``normal``, ``lognormal``, ``weibull``, ``rayleigh`` or ``folded_normal``. ``auto`` takes the
        normal unless at least 50 pieces speak clearly for another.
    asked : float
        The capability that is to be shown, for ``pieces_needed``.
    step : float, optional
        Resolution of plain sizes; when more than half the sd, sizes are taken as intervals of that width.

    Returns
    -------
    Capability

    Raises
    ------
    NotEnoughData
        If there are fewer than two pieces or no spread.
    TrackerError
        If the limits, subgroups, or a name are not what is accepted.

    Notes
    -----
    Assumes a stable process and independent pieces. Intervals: chi-square for Cp and Pp; for Cpk and Ppk from the
    distribution of the estimate (noncentral t with one limit, where it is exact; with two limits the distance from the
    middle is a nuisance that is estimated, and the calibration table shows what it covers); Cpm after Boyles.
    Moving and mean ranges count with their equivalent degrees of freedom (Patnaik).

    References
    ----------
    ISO 22514-2:2017; Bissell, Applied Statistics 39 (1990) 331-340; Boyles, J. Quality Technology 23 (1991) 17-26;
    Montgomery, Introduction to Statistical Quality Control, chapter 8. Tests:
    ``tests/published/test_spread_capability.py``, ``tests/calibration/spread_coverage.py``.
    """
    checked_confidence(confidence)
    low, high = checked_limits(lower, upper)
    if target is not None:
        target = finite_number(target, "target")
    if finite_number(asked, "asked") <= 0:
        raise TrackerError(f"asked is {asked}; accepted is a capability above 0, such as 1.33")
    found = need_spread(estimate(sizes, step=step, confidence=confidence, purpose="capability"), "capability")
    reasons: dict[str, str] = {}
    spread_within = _within_spread(found, subgroup, within, reasons)
    family, remark = _family(found, distribution)
    bounds = _bounds(found, spread_within, low, high, confidence)
    cp, pp = _widths(found, spread_within, low, high, confidence, reasons)
    ppk, point = bounds["ppk"], bounds["ppk"].estimate
    if family is not None:
        pp, ppk = quantile_indices(family, found.values, low, high, confidence)
    bottom, top = (float(end) for end in bissell_interval(point, found.mean_pieces, found.dof, confidence))
    tails = _tails(found, family, bounds, low, high, confidence)
    if family is not None:
        remark = "; ".join(part for part in (remark, remark_on_intervals(family.family, found.n)) if part)
    needed = _needed(ppk.estimate, asked, confidence, reasons)
    return Capability(
        n=found.n,
        mean=found.mean,
        overall_sd=found.sd,
        within_sd=None if spread_within is None else spread_within.sd,
        lower=lower,
        upper=upper,
        target=target,
        cp=cp,
        cpk=bounds.get("cpk"),
        pp=pp,
        ppk=ppk,
        cpm=_cpm(found, family, low, high, target, confidence, reasons),
        bissell=Interval(point, bottom, top, confidence),
        beyond_lower=tails[0],
        beyond_upper=tails[1],
        beyond=tails[2],
        asked=asked,
        pieces_needed=needed,
        distribution="normal" if family is None else family.family,
        method=found.method + ("" if spread_within is None else f", within by {spread_within.method}"),
        remark="; ".join(part for part in (remark, _what_it_can_tell(found.n, ppk, asked, needed)) if part),
        reasons=reasons,
    )


def nearest_index(mean: Any, sd: Any, lower: Any, upper: Any) -> Any:
    """Return the distance from the mean to the nearer limit over three sd; arrays broadcast, open limits infinite."""
    mean = np.asarray(mean, dtype=float)
    result = np.minimum(np.subtract(upper, mean), np.subtract(mean, lower)) / (3 * np.asarray(sd, dtype=float))
    return float(result) if result.ndim == 0 else result


def _within_spread(found: Estimate, subgroup: Any, within: str | None, reasons: dict[str, str]) -> WithinSpread | None:
    """Return the spread within, or None with the reason."""
    if found.fit is not None or found.values.size < 2:
        reasons["cp"] = reasons["cpk"] = (
            "known by bounds or coarse steps only, so the spread within cannot be told apart"
        )
        return None
    spread = within_spread(found.values, subgroup, within)
    if spread.sd == 0:
        reasons["cp"] = reasons["cpk"] = (
            "neighbouring pieces never differ, so there is no spread within to compare with"
        )
        return None
    return spread


def _family(found: Estimate, distribution: str) -> tuple[FittedFamily | None, str]:
    """Return the family to use (None for the normal), and a remark."""
    if distribution == "normal":
        return None, ""
    if distribution != "auto":
        if distribution not in FAMILIES:
            raise TrackerError(f"distribution {distribution!r}; accepted: auto, normal, {', '.join(FAMILIES)}")
        if found.values.size == 0:
            raise NotEnoughData(f"a {distribution} needs measured sizes, not bounds")
        return fit_family(found.values, distribution), ""
    if found.fit is not None or found.n < 3:
        return None, ""
    tested = normality(found.values)
    return choose_family(found.values, min(tested.anderson_darling_p, tested.shapiro_wilk_p))


def _bounds(
    found: Estimate, spread: WithinSpread | None, low: float, high: float, confidence: float
) -> dict[str, Interval]:
    """Return the normal indices of the nearer limit and of each limit with their intervals, all solved at once."""
    sd, rest = found.sd, found.dof
    asked = {"ppk": (sd, 1.0, rest, low, high)}
    if math.isfinite(low):
        asked["lower"] = (sd, 1.0, rest, low, math.inf)
    if math.isfinite(high):
        asked["upper"] = (sd, 1.0, rest, -math.inf, high)
    if spread is not None:
        asked["cpk"] = (spread.sd, spread.chi_scale, spread.dof, low, high)
    sds, scales, dofs, lows, highs = (np.array(column) for column in zip(*asked.values(), strict=True))
    bottom, top = index_interval(found.mean, sds * scales, found.mean_pieces, dofs, lows, highs, confidence)
    points = nearest_index(found.mean, sds, lows, highs)
    return {
        name: Interval(float(points[i]), float(bottom[i]), float(top[i]), confidence) for i, name in enumerate(asked)
    }


def _widths(
    found: Estimate, spread: WithinSpread | None, low: float, high: float, confidence: float, reasons: dict[str, str]
) -> tuple[Interval | None, Interval | None]:
    """Return Cp and Pp."""
    if math.isinf(low) or math.isinf(high):
        reasons["pp"] = "needs both limits"
        reasons.setdefault("cp", "needs both limits")
        return None, None
    pp = _width_index(low, high, found.sd, 1.0, found.dof, confidence)
    if spread is None:
        return None, pp
    return _width_index(low, high, spread.sd, spread.chi_scale, spread.dof, confidence), pp


def _width_index(low: float, high: float, sd: float, scale: float, dof: float, confidence: float) -> Interval:
    """Return the width of the limits over six sd with its chi-square interval."""
    point = (high - low) / (6 * sd)
    shrink, stretch = sd_factors(dof, confidence)
    return Interval(point, point / scale / stretch, point / scale / shrink, confidence)


def _cpm(
    found: Estimate,
    family: FittedFamily | None,
    low: float,
    high: float,
    target: float | None,
    confidence: float,
    reasons: dict[str, str],
) -> Interval | None:
    """Return Cpm with Boyles' interval, or None with the reason."""
    if math.isinf(low) or math.isinf(high):
        reasons["cpm"] = "needs both limits"
        return None
    if family is not None:
        reasons["cpm"] = "defined for normal sizes"
        return None
    aim = (low + high) / 2 if target is None else target
    off = (found.mean - aim) / found.sd
    point = (high - low) / (6 * found.sd * math.sqrt(1 + off * off))
    return Interval(point, *cpm_bounds(point, off, found.mean_pieces, found.dof, confidence), confidence)


def cpm_bounds(point: float, off: float, pieces: float, dof: float, confidence: float) -> tuple[float, float]:
    """Return Boyles' chi-square approximation to the interval of Cpm.

    References
    ----------
    Boyles (1991), with the squared distance to the target estimated without bias,
    ``off**2 (dof - 2)/dof - 1/n``: the plain ``off**2`` covers only 89 % at n = 5.
    What the approximation still misses at small n (93.7 % at n = 5, half an sd off) is made up by 0.6/n of the tails,
    a figure found by simulation (``tests/calibration/spread_coverage.py``).
    """
    centre = max(off * off * max(dof - 2, 0.0) / dof - 1 / pieces, 0.0)
    # (dof s^2 + n (mean - T)^2) / sd^2 is noncentral chi-square; matched to a scaled chi-square.
    weight = dof + 1
    mean = weight + pieces * centre
    worth = mean * mean / (weight + 2 * pieces * centre)
    squares = dof + pieces * off * off
    tail = (1 - confidence) / 2 * (1 - 0.6 / pieces)
    chi_low = 2 * float(special.gammaincinv(worth / 2, tail)) / worth
    chi_high = 2 * float(special.gammaincinv(worth / 2, 1 - tail)) / worth
    rms = math.sqrt(squares / pieces)
    base = point * math.sqrt(1 + off * off) / rms
    return base * math.sqrt(chi_low), base * math.sqrt(chi_high)


def _tails(
    found: Estimate,
    family: FittedFamily | None,
    bounds: dict[str, Interval],
    low: float,
    high: float,
    confidence: float,
) -> tuple[Interval | None, Interval | None, Interval]:
    """Return the shares beyond the lower limit, the upper, and either."""
    if family is not None:
        return family_tails(family, found.values, low, high, confidence)
    below, above = (_tail(bounds.get(name)) for name in ("lower", "upper"))
    if below is None or above is None:
        only = below or above
        if only is None:
            raise TrackerError("both limits are open; give at least one limit")
        return below, above, only
    total = below.estimate + above.estimate
    if not 1e-15 < total < 1 - 1e-9:
        # So far out that one limit alone counts.
        return below, above, Interval(total, max(below.low, above.low), min(below.high + above.high, 1.0), confidence)
    ends = total_bounds(found, low, high, ((1 - confidence) / 2, (1 + confidence) / 2))
    return below, above, Interval(total, min(float(ends[0]), total), max(float(ends[1]), total), confidence)


def _tail(index: Interval | None) -> Interval | None:
    """Return the share beyond one limit that its index stands for."""
    if index is None:
        return None
    point, low, high = (float(special.ndtr(-3 * end)) for end in (index.estimate, index.high, index.low))
    return Interval(point, low, high, index.confidence)


def _needed(index: float, asked: float, confidence: float, reasons: dict[str, str]) -> int | None:
    """Return how many pieces with this index would show the asked one, one-sided."""
    if index <= asked:
        reasons["pieces_needed"] = (
            f"the estimate {index:.2f} is not above the {asked:g} asked for; more pieces alone would not show it"
        )
        return None

    needed = _least_pieces(index, asked, confidence)
    if needed is None:
        reasons["pieces_needed"] = f"the estimate {index:.4f} is too near the {asked:g} asked for"
    return needed


def _least_pieces(index: float, asked: float, confidence: float) -> int | None:
    """Return the least number of pieces with this index that show, one-sided, on which side of the asked one it is."""

    def shown(n: int) -> bool:
        at_least = float(chance_at_least(index, asked, math.inf, n, n - 1))
        return (at_least if index > asked else 1 - at_least) <= 1 - confidence

    low, high = 1, 2
    while not shown(high):
        low, high = high, high * 2
        if high > PIECES_AT_MOST:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shown(middle) else (middle, high)
    return high


def _what_it_can_tell(n: int, ppk: Interval, asked: float, needed: int | None) -> str:
    """Return what so few pieces can and cannot tell."""
    if ppk.low >= asked:
        return ""
    if ppk.high < asked:
        return f"{count(n, 'piece')} are enough to say that {asked:g} is not reached"
    words = f"{count(n, 'piece')} cannot tell whether {asked:g} is reached"
    if needed is not None and needed > n:
        words += f"; {needed} with this mean and spread would show it"
    if ppk.estimate < asked:
        refusing = _least_pieces(ppk.estimate, asked, ppk.confidence)
        if refusing is not None and refusing > n:
            words += f"; {refusing} with this mean and spread would show that it is not"
    return words
