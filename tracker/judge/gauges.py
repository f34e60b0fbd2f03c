"""The gauge of one feature judged: whether it can tell good from bad at this tolerance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tracker.errors import NotEnoughData
from tracker.gauge import (
    GuardedLimits,
    RepeatabilityStudy,
    Resolution,
    guard_band,
    repeatability_study,
    resolution_check,
)
from tracker.judge.answers import FeatureCheck
from tracker.judge.features import attempt
from tracker.judge.words import Scale, plain_name
from tracker.result import Interval, Result
from tracker.spread.arguments import count
from tracker.spread.estimates import sd_factors

if TYPE_CHECKING:
    import pandas as pd

    from tracker.job import Job

SERVES_TO, MAY_SERVE_TO = 0.1, 0.3
"""Share of the tolerance that six standard uncertainties may take (common practice, no source)."""

REPEATS_AT_MOST = 10_000
COVERAGE = 1.959963984540054


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeCheck(Result):
    """What is known of the gauge of one feature; lengths in the job's unit.

    ``serves`` is None when it cannot be said; ``share_of_tolerance`` is six standard uncertainties of one piece's
    size over the tolerance.
    """

    feature: str
    gauge: str | None
    due: str | None
    step: float
    serves: bool | None
    reason: str
    share_of_tolerance: float | None
    uncertainty: float | None
    repeatability: Interval | None
    resolution: Resolution | None
    guarded: GuardedLimits | None
    study: RepeatabilityStudy | None
    reasons: dict[str, str]

    def __str__(self) -> str:
        return f"{self.gauge or 'gauge'} on {self.feature}: {self.reason}"


def judge_gauge(job: Job, feature: FeatureCheck, frame: pd.DataFrame) -> GaugeCheck:
    """Return whether the gauge of a feature can tell good from bad.

    Parameters
    ----------
    job : Job
    feature : FeatureCheck
    frame : pandas.DataFrame
        All readings that count.

    Returns
    -------
    GaugeCheck
    """
    reasons: dict[str, str] = {}
    gauge = job.gauge_of(feature.name)
    scale = Scale(job.unit, feature.step)
    tolerance = _tolerance(job, feature)
    parts = feature.components
    repeatability = None if parts is None else (parts.repeatability_sd or parts.within_sd)
    if repeatability is None:
        reasons["repeats"] = feature.reasons.get("components", "no piece was measured twice")
    uncertainty = None
    if feature.sizes is not None:
        own = float(np.sqrt(np.mean(np.square(feature.sizes.uncertainty))))
        uncertainty = math.hypot(own, feature.sizes.common_uncertainty)
    sd = None if feature.summary is None or feature.summary.sd.estimate <= 0 else feature.summary.sd.estimate
    used = None if tolerance is None or not uncertainty else 6 * uncertainty / tolerance
    serves, reason = _answer(used, tolerance, scale, feature)
    if used is not None and uncertainty is not None and tolerance is not None and repeatability is not None:
        cells = frame[(frame["feature"] == feature.name) & (frame["kind"] != "go_no_go")]
        repeats = len(cells) - len(cells[["piece", "position"]].drop_duplicates())
        reason += _how_sure(uncertainty, repeatability.estimate, repeats, tolerance, feature)
    return GaugeCheck(
        feature=feature.name,
        gauge=job.features[feature.name].gauge,
        due=None if gauge is None or gauge.due is None else gauge.due.isoformat(),
        step=feature.step,
        serves=serves,
        reason=reason,
        share_of_tolerance=used,
        uncertainty=uncertainty,
        repeatability=repeatability,
        resolution=attempt(reasons, "resolution", lambda: resolution_check(feature.step, tolerance, sd)),
        guarded=None
        if not uncertainty or (feature.lower is None and feature.upper is None)
        else attempt(reasons, "accept", lambda: guard_band(feature.lower, feature.upper, COVERAGE * uncertainty)),
        study=attempt(reasons, "study", lambda: _study(frame[frame["feature"] == feature.name], tolerance)),
        reasons=reasons,
    )


def _tolerance(job: Job, feature: FeatureCheck) -> float | None:
    """Return the width that the gauge must divide: the feature's own tolerance, else half that of its fit's gap."""
    if feature.lower is not None and feature.upper is not None:
        return feature.upper - feature.lower
    for fit in job.fits.values():
        if feature.name in (fit.internal, fit.external) and fit.gap_lower is not None and fit.gap_upper is not None:
            return (fit.gap_upper - fit.gap_lower) / 2
    return None


def _answer(
    used: float | None, tolerance: float | None, scale: Scale, feature: FeatureCheck
) -> tuple[bool | None, str]:
    if tolerance is None:
        return None, f"{plain_name(feature.name)} has no tolerance to measure the gauge against"
    if used is None:
        return None, feature.reasons.get("sizes", "no uncertainty is known: repeat readings, or state the resolution")
    share = f"six standard uncertainties of a size take {100 * used:.0f} % of the tolerance of {scale.say(tolerance)}"
    if used <= SERVES_TO:
        return True, f"{share}; a tenth is what is wanted"
    if used <= MAY_SERVE_TO:
        return True, f"{share}; more than a tenth, so pieces near a limit want care"
    return False, f"{share}; over three tenths of it good and bad can hardly be told apart near a limit"


def _how_sure(uncertainty: float, noise: float, repeats: int, tolerance: float, feature: FeatureCheck) -> str:
    """Say when so few repeats leave the answer open, and how many more would settle it; empty when they do not.

    ``repeats`` is how many readings there are beyond one at each position: the degrees of freedom of ``noise``.
    """
    if feature.sizes is None or repeats < 1 or noise <= 0:
        return ""
    part = noise**2 * float(np.mean(1.0 / feature.sizes.readings))
    rest = max(uncertainty**2 - part, 0.0)

    def ends(dof: int) -> tuple[float, float]:
        low, high = (6 * math.sqrt(rest + part * factor**2) / tolerance for factor in sd_factors(dof, 0.95))
        return low, high

    def open_between(dof: int) -> bool:
        low, high = ends(dof)
        return any(low < edge < high for edge in (SERVES_TO, MAY_SERVE_TO))

    if not open_between(repeats):
        return ""
    low, high = ends(repeats)
    said = f". {count(repeats, 'repeat').capitalize()} leave{'s' if repeats == 1 else ''} it open between "
    said += f"{100 * low:.0f} and {100 * high:.0f} %"
    wanted = repeats + 1
    while open_between(wanted):
        wanted += 1 + wanted // 10
        if wanted > REPEATS_AT_MOST:
            return said
    return f"{said}; about {wanted - repeats} more would settle it"


def _study(frame: pd.DataFrame, tolerance: float | None) -> RepeatabilityStudy:
    frame = frame[frame["kind"] != "go_no_go"]
    operators = frame["operator"].to_numpy()
    if len(set(operators.tolist())) < 2:
        raise NotEnoughData("one operator only; a study of operators needs two or more who measure the same pieces")
    return repeatability_study(frame["value"].to_numpy(), frame["piece"].to_numpy(), operators, tolerance)
