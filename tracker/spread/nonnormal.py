"""Families of sizes that are not normal, where physics suggests them: form errors bounded at zero and the like."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import NotEnoughData, TrackerError
from tracker.result import Interval, Result
from tracker.spread.arguments import Array, count
from tracker.spread.pivots import likely_parameters

FAMILIES = ("lognormal", "weibull", "rayleigh", "folded_normal")
COVERED_FROM = 100
ENOUGH = 50  # pieces before a family is chosen from the data; common practice, no source
UPPER, MIDDLE, LOWER = 0.99865, 0.5, 0.00135


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedFamily(Result):
    """A family fitted by maximum likelihood; ``parameters`` are on the log scale used for the fit.

    lognormal: mean of logs, log sd of logs; weibull: log scale, log shape; rayleigh: log scale; folded_normal: log of
    (mean + scale), log scale of the underlying normal.
    """

    family: str
    parameters: tuple[float, ...]
    log_likelihood: float
    akaike: float
    n: int

    def __str__(self) -> str:
        return f"{self.family.replace('_', ' ')} fitted to {count(self.n, 'piece')}"

    def quantile(self, level: float) -> float:
        """Return the size below which a share of pieces lies."""
        return float(quantile(self.family, np.array(self.parameters), level))

    def below(self, size: float) -> float:
        """Return the share of pieces below a size."""
        return float(share_below(self.family, np.array(self.parameters), size))


def fit_family(values: Array, family: str) -> FittedFamily:
    """Return a family fitted to values above zero.

    Raises
    ------
    TrackerError
        If the family is unknown or a value is not above zero.
    NotEnoughData
        If there are fewer than three values or all are equal.
    """
    if family not in FAMILIES:
        raise TrackerError(f"distribution {family!r}; accepted: normal, auto, {', '.join(FAMILIES)}")
    if values.size < 3 or values.min() == values.max():
        raise NotEnoughData(f"{count(values.size, 'piece')} without a spread; a {family} needs at least 3 that differ")
    if values.min() < 0 or (values.min() == 0 and family in ("lognormal", "weibull")):
        raise TrackerError(
            f"a {family.replace('_', ' ')} describes sizes above zero, and {values.min():g} was measured; "
            "use the normal, or measure from the bound"
        )
    from scipy import optimize

    logs = np.log(np.maximum(values, 1e-300))
    rms = math.log(math.sqrt(float(np.mean(values**2))))
    start = {
        "lognormal": [float(logs.mean()), math.log(float(logs.std()) or 1.0)],
        "weibull": [float(logs.mean()) + 0.45, math.log(1.28 / (float(logs.std()) or 1.0))],
        "rayleigh": [rms - 0.5 * math.log(2)],
        "folded_normal": [math.log(float(values.mean()) + float(values.std())), math.log(float(values.std()))],
    }[family]
    if family in ("lognormal", "rayleigh"):
        point = np.array(start)
    else:
        found = optimize.minimize(
            lambda p: -log_likelihood(family, p, values),
            start,
            method="Nelder-Mead",
            options={"xatol": 1e-9, "fatol": 1e-9, "maxiter": 4000},
        )
        point = np.asarray(found.x)
        if family == "folded_normal" and point[0] <= point[1]:
            # The underlying mean is 0: a half normal, of which only the scale is left to estimate.
            point[0] = point[1] - 50.0
    value = log_likelihood(family, point, values)
    return FittedFamily(
        family=family,
        parameters=tuple(float(p) for p in point),
        log_likelihood=value,
        akaike=2 * len(point) - 2 * value,
        n=int(values.size),
    )


def log_likelihood(family: str, p: Array, x: Array) -> float:
    """Return the log-likelihood of values under a family."""
    if family == "lognormal":
        sd = math.exp(p[1])
        logs = np.log(x)
        z = (logs - p[0]) / sd
        return float((-0.5 * z * z - logs).sum() - x.size * (p[1] + 0.5 * math.log(2 * math.pi)))
    if family == "weibull":
        shape = math.exp(min(p[1], 50.0))
        z = np.log(x) - p[0]
        return float((p[1] + shape * z - np.log(x) - np.exp(np.minimum(shape * z, 700.0))).sum())
    scale = math.exp(p[-1])
    if family == "rayleigh":
        return float((np.log(np.maximum(x, 1e-300)) - 2 * p[0] - 0.5 * np.square(x / scale)).sum())
    mean = max(math.exp(p[0]) - scale, 0.0)
    direct = -0.5 * np.square((x - mean) / scale)
    mirrored = -0.5 * np.square((x + mean) / scale)
    return float(np.logaddexp(direct, mirrored).sum() - x.size * (p[-1] + 0.5 * math.log(2 * math.pi)))


def share_below(family: str, p: Array, size: float) -> Any:
    """Return the share of pieces below a size; parameters may be columns, but for the folded normal."""
    if size <= 0:
        return 0.0
    if math.isinf(size):
        return 1.0
    if family == "lognormal":
        return special.ndtr((math.log(size) - p[0]) * np.exp(-p[1]))
    if family == "weibull":
        return -np.expm1(-np.exp(np.minimum(np.exp(p[1]) * (math.log(size) - p[0]), 700.0)))
    if family == "rayleigh":
        return -np.expm1(-0.5 * np.square(size * np.exp(-p[0])))
    scale = math.exp(p[-1])
    mean = max(math.exp(p[0]) - scale, 0.0)
    return float(special.ndtr((size - mean) / scale) - special.ndtr((-size - mean) / scale))


def share_above(family: str, p: Array, size: float) -> Any:
    """Return the share of pieces above a size, exact far out as well; parameters as for `share_below`."""
    if size <= 0:
        return 1.0
    if math.isinf(size):
        return 0.0
    if family == "lognormal":
        return special.ndtr((p[0] - math.log(size)) * np.exp(-p[1]))
    if family == "weibull":
        return np.exp(-np.exp(np.minimum(np.exp(p[1]) * (math.log(size) - p[0]), 700.0)))
    if family == "rayleigh":
        return np.exp(-0.5 * np.square(size * np.exp(-p[0])))
    scale = math.exp(p[-1])
    mean = max(math.exp(p[0]) - scale, 0.0)
    return float(special.ndtr((mean - size) / scale) + special.ndtr((-size - mean) / scale))


def quantile(family: str, p: Array, level: float) -> Any:
    """Return the size below which a share of pieces lies; parameters may be columns, but for the folded normal."""
    if family == "lognormal":
        return np.exp(p[0] + np.exp(p[1]) * float(special.ndtri(level)))
    if family == "weibull":
        return np.exp(p[0] + math.log(-math.log1p(-level)) * np.exp(-p[1]))
    if family == "rayleigh":
        return np.exp(p[-1]) * math.sqrt(-2 * math.log1p(-level))
    scale = math.exp(p[-1])
    low, high = 0.0, max(math.exp(p[0]) - scale, 0.0) + 40 * scale
    for _ in range(200):
        middle = (low + high) / 2
        if share_below(family, p, middle) < level:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def choose_family(values: Array, normal_p: float) -> tuple[FittedFamily | None, str]:
    """Return a family that describes the sizes better than the normal, or None, and why in words.

    Notes
    -----
    A family is taken only from 50 pieces on, when normality is refused at 1 % and the family's Akaike criterion
    is better than the normal's by more than 4. With fewer pieces no family can be told from another.
    """
    n = values.size
    if n < ENOUGH:
        if normal_p < 0.05:
            return None, (
                f"the sizes do not look normal, but {count(n, 'piece')} cannot say what they are instead "
                f"({ENOUGH} could): read the indices with care"
            )
        return None, ""
    if normal_p >= 0.01:
        return None, ""
    if values.min() <= 0:
        return None, "the sizes do not look normal, and no family bounded at zero fits sizes below zero"
    sd = float(values.std())
    normal_akaike = 4 + n * (math.log(2 * math.pi * sd * sd) + 1)
    fitted = [fit_family(values, family) for family in FAMILIES]
    best = min(fitted, key=lambda item: item.akaike)
    if best.akaike > normal_akaike - 4:
        return None, "the sizes do not look normal, and no family of ours describes them better"
    return best, f"the sizes do not look normal; a {best.family.replace('_', ' ')} describes them better"


def quantile_indices(
    fitted: FittedFamily, values: Array, lower: float, upper: float, confidence: float
) -> tuple[Interval | None, Interval]:
    """Return Pp and Ppk by the quantile method, with large-sample intervals.

    Parameters
    ----------
    fitted : FittedFamily
    values : ndarray
        What it was fitted to.
    lower, upper : float
        Limits, infinite where open.

    Notes
    -----
    Intervals from pivotal quantities where there are such (`tracker.spread.pivots`). For the folded normal, and the
    Weibull from 200 pieces on, t intervals on the log scale (for Ppk on its own scale when not positive) with the
    variance from the curvature of the likelihood: for large batches, and `remark_on_intervals` says what they cover.

    References
    ----------
    ISO 22514-2:2017, 6.2 (general geometric method: quantiles 0.135 %, 50 %, 99.865 %). Tests:
    ``tests/tracker/spread/test_nonnormal.py``.
    """
    family, point = fitted.family, np.array(fitted.parameters)

    def pp(p: Array) -> Any:
        return (upper - lower) / (quantile(family, p, UPPER) - quantile(family, p, LOWER))

    def ppk(p: Array) -> Any:
        low, middle, high = (quantile(family, p, level) for level in (LOWER, MIDDLE, UPPER))
        above = (upper - middle) / (high - middle) if math.isfinite(upper) else math.inf
        below = (middle - lower) / (middle - low) if math.isfinite(lower) else math.inf
        return np.minimum(above, below)

    likely = likely_parameters(family, point, values.size)
    covariance = None if likely is not None else _covariance(family, point, values)
    dof = values.size - point.size

    def with_interval(index: Callable[[Array], Any]) -> Interval:
        if likely is not None:
            return _pivotal_interval(index, point, likely, confidence)
        assert covariance is not None
        return _delta_interval(index, point, covariance, confidence, dof)

    wide = with_interval(pp) if math.isfinite(lower) and math.isfinite(upper) else None
    return wide, with_interval(ppk)


def _pivotal_interval(of: Callable[[Array], Any], point: Array, likely: Array, confidence: float) -> Interval:
    """Return a function of the parameters with its interval over the parameters that are likely."""
    tail = (1 - confidence) / 2
    low, high = np.quantile(of(likely), [tail, 1 - tail])
    estimate = float(of(point))
    return Interval(estimate, min(float(low), estimate), max(float(high), estimate), confidence)


def remark_on_intervals(family: str, n: int) -> str:
    """Say what 95 % intervals of a family cover where that is not 94 to 96 %; from the table of the calibration."""
    if family != "folded_normal" or n >= COVERED_FROM:
        return ""
    return (
        f"the intervals of a folded normal are approximate with {count(n, 'piece')}: where 95 % are asked, those of "
        "the indices cover 89 to 94 %, that of the share beyond 94 to 99.5 %"
    )


def _covariance(family: str, point: Array, values: Array) -> Array:
    """Return the inverse of the observed information by second differences."""
    k, h = point.size, 1e-4
    info = np.empty((k, k))

    def at(i: int, j: int, a: float, b: float) -> float:
        moved = point.copy()
        moved[i] += a
        moved[j] += b
        return log_likelihood(family, moved, values)

    for i in range(k):
        for j in range(k):
            info[i, j] = -(at(i, j, h, h) - at(i, j, h, -h) - at(i, j, -h, h) + at(i, j, -h, -h)) / (4 * h * h)
    free = np.abs(np.diag(info)) > 0
    covariance = np.zeros((k, k))
    try:
        covariance[np.ix_(free, free)] = np.linalg.inv(info[np.ix_(free, free)])
    except np.linalg.LinAlgError as error:
        raise NotEnoughData(f"the {family} does not settle on these sizes; use the normal") from error
    return covariance


def _delta_interval(
    index: Callable[[Array], Any],
    point: Array,
    covariance: Array,
    confidence: float,
    dof: int,
    log_scale: bool = True,
) -> Interval:
    """Return an index with the interval that the curvature gives it, on its log scale where it is positive."""
    estimate = float(index(point))
    gradient = np.empty(point.size)
    for i in range(point.size):
        moved = np.zeros(point.size)
        moved[i] = 1e-5
        gradient[i] = (index(point + moved) - index(point - moved)) / 2e-5
    reach = float(special.stdtrit(dof, (1 + confidence) / 2)) * math.sqrt(
        max(float(gradient @ covariance @ gradient), 0.0)
    )
    if estimate > 0 and log_scale:
        factor = math.exp(reach / estimate)
        return Interval(estimate, estimate / factor, estimate * factor, confidence)
    return Interval(estimate, estimate - reach, estimate + reach, confidence)


def family_tails(
    fitted: FittedFamily, values: Array, lower: float, upper: float, confidence: float
) -> tuple[Interval | None, Interval | None, Interval]:
    """Return the shares beyond the lower limit, the upper, and either; intervals as for the indices, or in log odds."""
    point = np.array(fitted.parameters)
    likely = likely_parameters(fitted.family, point, values.size)
    covariance = None if likely is not None else _covariance(fitted.family, point, values)
    dof = values.size - point.size

    def below(p: Array) -> Any:
        return share_below(fitted.family, p, lower) + 0.0 * p[0]

    def above(p: Array) -> Any:
        return share_above(fitted.family, p, upper) + 0.0 * p[0]

    def beyond(p: Array) -> Any:
        return (below(p) if math.isfinite(lower) else 0.0) + (above(p) if math.isfinite(upper) else 0.0)

    def with_interval(chance: Callable[[Array], Any]) -> Interval:
        if likely is not None:
            return _pivotal_interval(chance, point, likely, confidence)
        assert covariance is not None
        estimate = float(chance(point))
        if not 0 < estimate < 1:
            # Beyond the bound of the family: the family itself, not the sizes, says that nothing lies there.
            return Interval(estimate, estimate, estimate, confidence)
        odds = _delta_interval(
            lambda p: special.logit(min(max(chance(p), 1e-300), 1 - 1e-16)),
            point,
            covariance,
            confidence,
            dof,
            log_scale=False,
        )
        return Interval(estimate, float(special.expit(odds.low)), float(special.expit(odds.high)), confidence)

    return (
        with_interval(below) if math.isfinite(lower) else None,
        with_interval(above) if math.isfinite(upper) else None,
        with_interval(beyond),
    )
