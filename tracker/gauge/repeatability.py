"""The gauge study: how much of what is read is the gauge, the operator, and the pieces themselves."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.errors import NotEnoughData, TrackerError
from tracker.gauge.crossed import Cells, cells_of
from tracker.gauge.study_parts import AnovaRow, Parts, by_anova
from tracker.gauge.study_ranges import by_ranges
from tracker.gauge.study_reml import by_reml
from tracker.result import Interval, Result
from tracker.spread.arguments import checked_confidence, count, finite_number, number, share
from tracker.spread.operators import POOL_ABOVE

SIGMAS = 6.0
CATEGORY_FACTOR = 1.41
METHODS = ("anova", "range", "reml")
GOOD_SHARE, POOR_SHARE = 0.10, 0.30


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatabilityStudy(Result):
    """What a study of pieces, operators and repeats says of a gauge.

    Attributes
    ----------
    repeatability_sd : Interval
        Same operator, same piece, same gauge (equipment variation).
    operator_sd, interaction_sd : Interval or None
        Between operators, and operators differing by piece (None: not in the model, see ``remarks``).
    reproducibility_sd : Interval or None
        Operators and interaction together (None with one operator).
    gauge_sd : Interval
        Repeatability and reproducibility together.
    piece_sd, total_sd : Interval
        Between pieces, and everything together.
    share_of_total : float
        gauge_sd / total_sd.
    share_of_total_interval : Interval
        The same with its interval.
    share_of_tolerance : float or None
        6 gauge_sd / tolerance (None when no tolerance was given).
    share_of_tolerance_interval : Interval or None
        The same with its interval.
    distinct_categories : int or None
        1.41 piece_sd / gauge_sd, cut to a whole number (None when the gauge shows no spread at all).
    category_ratio : float or None
        The same, not cut.
    variances : dict of str to float
        Estimated variances as they came out, negative ones too.
    shares : dict of str to float
        Each sd over total_sd.
    anova : tuple of AnovaRow
        Empty for the range method and for unbalanced data.
    pooled : bool
        Whether the interaction was put into repeatability.
    n, pieces, operators : int
    repeats : int or None
        None when they vary.
    verdict : str
        ``serves``, ``may serve`` or ``does not serve``.
    remarks : tuple of str
    """

    repeatability_sd: Interval
    operator_sd: Interval | None
    interaction_sd: Interval | None
    reproducibility_sd: Interval | None
    gauge_sd: Interval
    piece_sd: Interval
    total_sd: Interval
    share_of_total: float
    share_of_total_interval: Interval
    share_of_tolerance: float | None
    share_of_tolerance_interval: Interval | None
    distinct_categories: int | None
    category_ratio: float | None
    variances: dict[str, float]
    shares: dict[str, float]
    anova: tuple[AnovaRow, ...]
    pooled: bool
    interaction_p: float | None
    tolerance: float | None
    n: int
    pieces: int
    operators: int
    repeats: int | None
    method: str
    verdict: str
    confidence: float
    remarks: tuple[str, ...]

    def __str__(self) -> str:
        """Say what the gauge is worth."""
        each = "varying repeats" if self.repeats is None else count(self.repeats, "repeat")
        judged = f"{share_words(self.share_of_total_interval)} of the total spread"
        if self.share_of_tolerance_interval is not None:
            judged = f"{share_words(self.share_of_tolerance_interval)} of the tolerance and {judged}"
        text = f"The gauge {self.verdict}: it takes {judged}"
        if self.distinct_categories is not None:
            categories = "category" if self.distinct_categories == 1 else "categories"
            text += f" and tells {self.distinct_categories} {categories} of these pieces apart"
        text += f". In the unit of the readings: gauge sd {self.gauge_sd}"
        text += f"; repeatability {self.repeatability_sd.estimate:.4g}"
        if self.reproducibility_sd is not None:
            text += f", reproducibility {self.reproducibility_sd.estimate:.4g}"
        text += f", pieces {self.piece_sd.estimate:.4g} ({count(self.pieces, 'piece')}, "
        text += f"{count(self.operators, 'operator')}, {each}; {self.method})."
        return " ".join([text, *self.remarks])


def repeatability_study(
    value: Any,
    piece: Any,
    operator: Any = None,
    tolerance: float | None = None,
    method: str = "anova",
    confidence: float = 0.95,
    pool_above: float = POOL_ABOVE,
) -> RepeatabilityStudy:
    """Return the spread of a gauge, of its operators and of the pieces, from a crossed study.

    Parameters
    ----------
    value : array_like, shape (n,)
        Readings, one length unit.
    piece, operator : array_like, shape (n,)
        Which piece and who, for each reading; one operator when not given.
    tolerance : float, optional
        Width between the limits.
    method : str
        ``anova`` (unbalanced data go to ``reml``), ``range`` (average and range) or ``reml``.
    confidence : float
        Of the intervals.
    pool_above : float
        Pool the interaction when its p-value is above this (1: never, 0: always).

    Returns
    -------
    RepeatabilityStudy

    Raises
    ------
    NotEnoughData
        Under two pieces, no repeats at all, or empty cells where the method wants all.
    TrackerError
        For an unknown method, a tolerance that is not positive, or lists of different length.

    Notes
    -----
    Two-way random model, normal and independent. The interaction is pooled into repeatability when its p-value
    (against repeatability) is above 0.25, and the result says so. Variances that come out negative are reported as 0;
    ``variances`` keeps them. Intervals: chi-square from the repeats for repeatability, modified
    large-sample for differences of two mean squares, generalised for the rest; for unbalanced data on unweighted means;
    for the range method by equivalent degrees of freedom. Two or three operators say almost nothing of operators in
    general: the interval of reproducibility shows it. Coverage: tests/calibration/gauge_components.py.
    Verdicts: the gauge serves under 10 % of the tolerance (of the total spread when none is given), does not over 30 %.

    References
    ----------
    Automotive measurement-systems reference manual, 4th ed. (2010), 10 x 3 x 3 example and verdict limits; Montgomery,
    *Design and Analysis of Experiments*; Burdick, Borror & Montgomery, J. Quality Technology 35 (2003) 342-354.
    All from memory; worked examples in tests/published/test_gauge_studies.py.

    Examples
    --------
    >>> study = repeatability_study([1, 2, 5, 5, 9, 8, 1, 1, 5, 6, 9, 9], [1, 1, 2, 2, 3, 3] * 2, ["A"] * 6 + ["B"] * 6)
    >>> study.pooled, round(study.gauge_sd.estimate, 3), study.distinct_categories
    (True, 0.52, 10)
    """
    checked_confidence(confidence)
    if method not in METHODS:
        raise TrackerError(f"method {method!r} is not known; take one of {', '.join(METHODS)}")
    if not 0 <= number(pool_above, "pool_above") <= 1:
        raise TrackerError(f"pool_above is {pool_above!r}; give a chance from 0 to 1, 0.25 as a rule")
    if tolerance is not None and not finite_number(tolerance, "tolerance") > 0:
        raise TrackerError(f"tolerance is {tolerance!r}; give upper limit minus lower limit, above 0")
    who = np.full(np.size(piece), "one operator") if operator is None else operator
    cells = cells_of(value, piece, who)
    if method == "range":
        parts = by_ranges(cells, confidence)
    elif method == "reml" or cells.repeats is None:
        parts = by_reml(cells, confidence, pool_above)
    else:
        parts = by_anova(cells, confidence, pool_above)
    return _study(cells, parts, tolerance, confidence)


def _study(cells: Cells, parts: Parts, tolerance: float | None, confidence: float) -> RepeatabilityStudy:
    estimate = parts.estimate
    if estimate["total"] == 0:
        raise NotEnoughData("all readings are the same; the gauge is too coarse to tell anything here: read finer")

    def sd(name: str) -> Interval | None:
        if name not in estimate:
            return None
        low, high = parts.interval[name]
        value = math.sqrt(estimate[name])
        return Interval(value, min(math.sqrt(max(low, 0.0)), value), max(math.sqrt(max(high, 0.0)), value), confidence)

    found = {name: sd(name) for name in ("repeatability", "gauge", "piece", "total")}
    sure = {name: interval for name, interval in found.items() if interval is not None}
    gauge, piece, total = sure["gauge"].estimate, sure["piece"].estimate, sure["total"].estimate
    of_tolerance = None if tolerance is None else SIGMAS * gauge / tolerance
    ratio = None if gauge == 0 else CATEGORY_FACTOR * piece / gauge
    judged = gauge / total if of_tolerance is None else of_tolerance
    verdict = "serves" if judged < GOOD_SHARE else "may serve" if judged <= POOR_SHARE else "does not serve"
    remarks = list(parts.remarks)
    if confidence == 0.95 and len(cells.operators) > 1:
        remarks.append("Intervals of sums and shares cover 94 to 96.5 %.")
    if gauge == 0:
        remarks.append("Repeats never differ: the step of the gauge hides its repeatability.")
    return RepeatabilityStudy(
        repeatability_sd=sure["repeatability"],
        operator_sd=sd("operator"),
        interaction_sd=sd("interaction"),
        reproducibility_sd=sd("reproducibility"),
        gauge_sd=sure["gauge"],
        piece_sd=sure["piece"],
        total_sd=sure["total"],
        share_of_total=gauge / total,
        share_of_total_interval=_share_of_total(gauge / total, parts.share_interval, confidence),
        share_of_tolerance=of_tolerance,
        share_of_tolerance_interval=None if tolerance is None else _over(sure["gauge"], tolerance / SIGMAS),
        distinct_categories=None if ratio is None else math.floor(ratio),
        category_ratio=ratio,
        variances=parts.raw,
        shares={name: math.sqrt(value) / total for name, value in estimate.items()},
        anova=parts.anova,
        pooled=parts.pooled,
        interaction_p=parts.interaction_p,
        tolerance=tolerance,
        n=cells.total,
        pieces=len(cells.pieces),
        operators=len(cells.operators),
        repeats=cells.repeats,
        method=parts.method,
        verdict=verdict,
        confidence=confidence,
        remarks=tuple(remarks),
    )


def _share_of_total(share: float, of_variance: tuple[float, float], confidence: float) -> Interval:
    """Return the share of sd from the interval of the share of variance."""
    low, high = (math.sqrt(end) for end in of_variance)
    return Interval(share, min(low, share), max(high, share), confidence)


def share_words(found: Interval) -> str:
    """Say a share with its interval, in whole per cent."""
    middle, low, high = (share(round(end, 2)) for end in (found.estimate, found.low, found.high))
    return f"{middle} ({low.removesuffix(' %')} to {high})"


def _over(sd: Interval, width: float) -> Interval:
    """Return an sd in terms of a width."""
    return Interval(sd.estimate / width, sd.low / width, sd.high / width, sd.confidence)
