"""Studies on masters of known size: bias, capability of the gauge, and bias over the range."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import NotEnoughData, TrackerError
from tracker.plurals import noun
from tracker.result import Interval, Result
from tracker.spread.arguments import above_zero, checked_confidence, finite_number, sizes_array
from tracker.spread.arguments import share as as_share
from tracker.spread.estimates import sd_factors
from tracker.spread.indices import index_interval
from tracker.spread.student import t_interval, t_test_p


@dataclass(frozen=True, slots=True, kw_only=True)
class BiasStudy(Result):
    """What repeated readings of one master say of a gauge.

    Attributes
    ----------
    bias : Interval
        Mean reading minus reference; the uncertainty of the reference is in it.
    sd : Interval
        Repeatability.
    cg, cgk : Interval or None
        Capability of the gauge without and with bias (None without a tolerance or a spread, see ``reason``).
    p_value : float
        Chance of a bias at least this large, were there none.
    tolerance, share, sigmas : float or None
        cg = share * tolerance / (sigmas * sd); cgk = (share / 2 * tolerance - |bias|) / (sigmas / 2 * sd).
    """

    bias: Interval
    sd: Interval
    cg: Interval | None
    cgk: Interval | None
    p_value: float
    reference: float
    tolerance: float | None
    share: float
    sigmas: float
    biased: bool
    n: int
    method: str
    reason: str = ""

    def __str__(self) -> str:
        """Say whether the gauge reads off, and how far it is to be trusted."""
        seen = "reads off" if self.biased else "shows no bias that could be told from chance"
        text = (
            f"The gauge {seen}: bias {self.bias}, p = {self.p_value:.2g}; repeatability {self.sd} "
            f"({self.n} {noun(self.n, 'reading')}, {self.method})."
        )
        if self.cg is not None and self.cgk is not None:
            text += (
                f" Cg {self.cg.estimate:.2f} (at least {self.cg.low:.2f}), Cgk {self.cgk.estimate:.2f} (at least "
                f"{self.cgk.low:.2f}), with {as_share(self.share)} of the tolerance over {self.sigmas:g} sd."
            )
        return f"{text} {self.reason}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterBias(Result):
    """Bias at one master of a linearity study."""

    reference: float
    bias: Interval
    p_value: float | None
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearityStudy(Result):
    """How bias moves over the range of a gauge.

    Attributes
    ----------
    slope : Interval
        Change of bias for a change of size by one.
    intercept : Interval
        Bias of the line at size 0.
    bias_at_middle : Interval
        Bias of the line at the mean of the references.
    linearity : float
        Change of bias over the range of the masters.
    share_of_tolerance : float or None
        The same over the tolerance.
    slope_p, offset_p : float
        p-values that the slope is 0, and that the bias at the middle is 0.
    curved_p : float or None
        p-value that the biases lie on a straight line (None: two masters, or no repeats).
    sd : float
        About the line.
    masters : tuple of MasterBias
    """

    slope: Interval
    intercept: Interval
    bias_at_middle: Interval
    linearity: float
    share_of_tolerance: float | None
    slope_p: float
    offset_p: float
    curved_p: float | None
    sd: float
    masters: tuple[MasterBias, ...]
    confidence: float
    n: int
    method: str

    def __str__(self) -> str:
        """Say whether bias changes over the range."""
        alpha = 1 - self.confidence
        moves = "changes over the range" if self.slope_p < alpha else "does not visibly change over the range"
        off = "is off" if self.offset_p < alpha else "is not visibly off"
        text = (
            f"Bias {moves}: {self.linearity:.4g} from the smallest to the largest master (slope {self.slope}, "
            f"p = {self.slope_p:.2g}); in the middle the gauge {off} ({self.bias_at_middle}; {self.n} readings, "
            f"{len(self.masters)} masters, {self.method})."
        )
        if self.curved_p is not None and self.curved_p < alpha:
            text += f" The biases do not lie on a straight line (p = {self.curved_p:.2g}): correct master by master."
        return text


def bias_study(
    values: Any,
    reference: float,
    tolerance: float | None = None,
    confidence: float = 0.95,
    share: float = 0.20,
    sigmas: float = 6.0,
    reference_uncertainty: float = 0.0,
) -> BiasStudy:
    """Return bias, repeatability, Cg and Cgk from repeated readings of one master.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings of the master, one length unit.
    reference : float
        Its size.
    tolerance : float, optional
        Width between the limits that the gauge is to judge.
    confidence : float
        Of the intervals.
    share : float
        Part of the tolerance the gauge may take (0.20 is usual).
    sigmas : float
        Width of the gauge's spread in sd (6 is usual, some firms take 4).
    reference_uncertainty : float
        Standard uncertainty of the master; widens the interval of the bias.

    Returns
    -------
    BiasStudy

    Raises
    ------
    NotEnoughData
        Under two readings.
    TrackerError
        For a tolerance that is not positive or a negative uncertainty.

    Notes
    -----
    Independent, roughly normal readings: lift the gauge off between them. Interval of Cg by chi-square, of Cgk
    like that of a capability index (`tracker.spread.indices.index_interval`).

    References
    ----------
    ISO 22514-7 (from memory). Test: tests/tracker/gauge/test_master.py.

    Examples
    --------
    >>> study = bias_study([6.001, 6.002, 6.001, 6.000, 6.001], 6.0, tolerance=0.020)
    >>> round(study.bias.estimate, 4), round(study.cg.estimate, 2), round(study.cgk.estimate, 2)
    (0.001, 0.94, 0.47)
    """
    checked_confidence(confidence)
    if tolerance is not None and not finite_number(tolerance, "tolerance") > 0:
        raise TrackerError(f"tolerance is {tolerance!r}; give upper limit minus lower limit, above 0")
    share, sigmas = above_zero(share, "share"), above_zero(sigmas, "sigmas")
    if not finite_number(reference_uncertainty, "reference_uncertainty") >= 0:
        raise TrackerError(f"reference_uncertainty is {reference_uncertainty!r}; give 0 or more")
    y = sizes_array(values, at_least=2, purpose="a bias study")
    reference = finite_number(reference, "the reference")
    n = y.size
    bias = float(np.mean(y - reference))
    sd = float(np.std(y, ddof=1))
    # Welch-Satterthwaite: the reference has unlimited degrees of freedom.
    own = sd**2 / n
    variance = own + reference_uncertainty**2
    dof = (n - 1) * (variance / own) ** 2 if own > 0 else math.inf
    spread = _sd_interval(sd, n - 1, confidence)
    cg = cgk = None
    reason = ""
    if tolerance is None:
        reason = "No tolerance was given, so Cg and Cgk cannot be said."
    elif sd == 0:
        reason = "All readings are the same: the step of the gauge hides its repeatability, so Cg cannot be said."
    else:
        top = share * tolerance / sigmas
        cg = Interval(top / sd, top / spread.high, top / spread.low, confidence)
        index = (share / 2 * tolerance - abs(bias)) / (sigmas / 2 * sd)
        reach = share / 2 * tolerance
        low, high = index_interval(bias, sd, n, n - 1, -reach, reach, confidence)
        cgk = Interval(index, float(low) * 6 / sigmas, float(high) * 6 / sigmas, confidence)
    p_value = t_test_p(bias, math.sqrt(variance), dof)
    return BiasStudy(
        bias=t_interval(bias, math.sqrt(variance), dof, confidence),
        sd=spread,
        cg=cg,
        cgk=cgk,
        p_value=p_value,
        reference=float(reference),
        tolerance=tolerance,
        share=share,
        sigmas=sigmas,
        biased=p_value < 1 - confidence,
        n=n,
        method="t interval and test",
        reason=reason,
    )


def linearity_study(
    values: Any, reference: Any, tolerance: float | None = None, confidence: float = 0.95
) -> LinearityStudy:
    """Return how bias moves over the range, from masters of different sizes read several times.

    Parameters
    ----------
    values, reference : array_like, shape (n,)
        Readings, and the size of the master read each time.
    tolerance : float, optional
        Width between the limits that the gauge is to judge.
    confidence : float
        Of the intervals.

    Returns
    -------
    LinearityStudy

    Raises
    ------
    NotEnoughData
        Under two masters or under three readings.

    Notes
    -----
    Least-squares line of bias over size, independent normal readings of one spread over the whole range.
    The lack-of-fit test compares the scatter of the masters' mean biases about the line with that of repeats.

    References
    ----------
    Draper & Smith, *Applied Regression Analysis*, 3rd ed., 1.3 and 2.1 (from memory). Held against an independent
    least-squares fit in tests/tracker/gauge/test_master.py.
    """
    checked_confidence(confidence)
    y = sizes_array(values, at_least=3, purpose="a linearity study")
    x = sizes_array(reference, at_least=3, purpose="a linearity study")
    if x.size != y.size:
        raise TrackerError(f"{y.size} readings and {x.size} references; give the master's size for every reading")
    if tolerance is not None and not finite_number(tolerance, "tolerance") > 0:
        raise TrackerError(f"tolerance is {tolerance!r}; give upper limit minus lower limit, above 0")
    sizes, member = np.unique(x, return_inverse=True)
    if sizes.size < 2:
        raise NotEnoughData("one master cannot show linearity; read two or more of different size (five is usual)")
    bias = y - x
    n, middle, mean = y.size, float(np.mean(x)), float(np.mean(bias))
    sxx = float(np.sum((x - middle) ** 2))
    slope = float(np.sum((x - middle) * (bias - mean))) / sxx
    residual = bias - mean - slope * (x - middle)
    dof = n - 2
    sd = math.sqrt(float(residual @ residual) / dof)
    slope_se, middle_se = sd / math.sqrt(sxx), sd / math.sqrt(n)
    change = slope * float(sizes[-1] - sizes[0])
    return LinearityStudy(
        slope=t_interval(slope, slope_se, dof, confidence),
        intercept=t_interval(mean - slope * middle, sd * math.sqrt(1 / n + middle**2 / sxx), dof, confidence),
        bias_at_middle=t_interval(mean, middle_se, dof, confidence),
        linearity=change,
        share_of_tolerance=None if tolerance is None else abs(change) / tolerance,
        slope_p=t_test_p(slope, slope_se, dof),
        offset_p=t_test_p(mean, middle_se, dof),
        curved_p=_lack_of_fit(bias, residual, member, sizes.size),
        sd=sd,
        masters=tuple(_at_master(bias[member == k], float(size), confidence) for k, size in enumerate(sizes)),
        confidence=confidence,
        n=n,
        method="least squares",
    )


def _at_master(bias: np.ndarray, reference: float, confidence: float) -> MasterBias:
    mean, n = float(np.mean(bias)), bias.size
    if n < 2:
        open_ended = Interval(mean, -math.inf, math.inf, confidence)
        return MasterBias(reference=reference, bias=open_ended, p_value=None, n=n)
    se = float(np.std(bias, ddof=1)) / math.sqrt(n)
    return MasterBias(
        reference=reference, bias=t_interval(mean, se, n - 1, confidence), p_value=t_test_p(mean, se, n - 1), n=n
    )


def _lack_of_fit(bias: np.ndarray, residual: np.ndarray, member: np.ndarray, masters: int) -> float | None:
    means = np.bincount(member, bias) / np.bincount(member)
    pure = float(np.sum((bias - means[member]) ** 2))
    pure_dof, lack_dof = bias.size - masters, masters - 2
    if pure_dof < 1 or lack_dof < 1:
        return None
    lack = max(float(residual @ residual) - pure, 0.0)
    if pure == 0:
        return 0.0 if lack > 0 else 1.0
    return float(special.fdtrc(lack_dof, pure_dof, (lack / lack_dof) / (pure / pure_dof)))


def _sd_interval(sd: float, dof: int, confidence: float) -> Interval:
    low, high = sd_factors(dof, confidence)
    return Interval(sd, sd * low, sd * high, confidence)
