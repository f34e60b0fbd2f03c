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
from tracker.judge.operators import AGREE
from tracker.judge.words import Scale, plain_name
from tracker.result import Interval, Result
from tracker.spread.arguments import count
from tracker.spread.estimates import sd_factors

if TYPE_CHECKING:
    import pandas as pd

    from tracker.job import Job

SERVES_TO, MAY_SERVE_TO = 0.1, 0.3
"""Share of the tolerance that six standard uncertainties may take (common practice, no source)."""

REPEATS_AT_MOST = 1_000
"""More repeats than this nobody takes, so they are no advice."""
COVERAGE = 1.959963984540054


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeCheck(Result):
    """What is known of the gauge of one feature; lengths in the job's unit.

    ``serves`` is None when it cannot be said; ``share_of_tolerance`` is six standard uncertainties of one piece's
    size over the tolerance. ``judged_share`` is what ``serves`` goes by: the larger of that and, where operators read
    the same pieces, of what one reading by any of them takes (``study``).
    """

    feature: str
    gauge: str | None
    due: str | None
    step: float
    serves: bool | None
    reason: str
    share_of_tolerance: float | None
    judged_share: float | None
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
    tolerance, called = _tolerance(job, feature, scale)
    study = attempt(reasons, "study", lambda: _study(frame[frame["feature"] == feature.name], tolerance))
    repeatability = _repeatability(feature, study, frame)
    if repeatability is None:
        reasons["repeats"] = feature.reasons.get("components", "no piece was measured twice")
    uncertainty = None
    if feature.sizes is not None:
        own = float(np.sqrt(np.mean(np.square(feature.sizes.uncertainty))))
        uncertainty = math.hypot(own, feature.sizes.common_uncertainty)
    sd = None if feature.summary is None or feature.summary.sd.estimate <= 0 else feature.summary.sd.estimate
    used = None if tolerance is None or not uncertainty else 6 * uncertainty / tolerance
    single = None if study is None or tolerance is None else study.share_of_tolerance
    serves, reason = _answer(used, single, called, feature)
    judged = None if used is None else max(used, single or 0.0)
    parts = _parts_of(feature, 0.0 if gauge is None else gauge.calibration)
    if used is not None and uncertainty is not None and tolerance is not None:
        if repeatability is not None:
            dof = _repeats(feature, frame)
            reason += _how_sure(uncertainty, repeatability.estimate, dof, tolerance, feature, parts)
        if judged is not None and judged > SERVES_TO:
            by_study = study is not None and _level(judged) > _level(used)
            reason += _what_helps(_of_study(study) if study is not None and by_study else parts, scale, feature)
    return GaugeCheck(
        feature=feature.name,
        gauge=job.features[feature.name].gauge,
        due=None if gauge is None or gauge.due is None else gauge.due.isoformat(),
        step=feature.step,
        serves=serves,
        reason=reason,
        share_of_tolerance=used,
        judged_share=judged,
        uncertainty=uncertainty,
        repeatability=repeatability,
        resolution=attempt(reasons, "resolution", lambda: _resolution(job, feature, tolerance, called, sd)),
        guarded=None
        if not uncertainty or (feature.lower is None and feature.upper is None)
        else attempt(reasons, "accept", lambda: guard_band(feature.lower, feature.upper, COVERAGE * uncertainty)),
        study=study,
        reasons=reasons,
    )


def _tolerance(job: Job, feature: FeatureCheck, scale: Scale) -> tuple[float | None, str]:
    """Return the width that the gauge must divide, and its name: the own tolerance, else half that of a fit's gap."""
    if feature.lower is not None and feature.upper is not None:
        width = feature.upper - feature.lower
        return width, f"the tolerance of {scale.say(width)}"
    for fit in job.fits.values():
        if feature.name in (fit.internal, fit.external) and fit.gap_lower is not None and fit.gap_upper is not None:
            gap = fit.gap_upper - fit.gap_lower
            whose = f"half the {scale.say(gap)} between the gap limits of {plain_name(fit.name)}"
            return gap / 2, f"{whose} ({plain_name(feature.name)} states no limits of its own)"
    return None, ""


def _resolution(job: Job, feature: FeatureCheck, tolerance: float | None, called: str, sd: float | None) -> Resolution:
    """Return what a step of the gauge costs.

    Raises
    ------
    NotEnoughData
        If neither the job nor a reading tells the step.
    """
    gauge = job.gauge_of(feature.name)
    if (gauge is None or gauge.resolution is None) and (feature.sizes is None or feature.sizes.step is None):
        raise NotEnoughData("the step of the gauge is not known; state its resolution in the job, or measure a piece")
    return resolution_check(feature.step, tolerance, sd, called=called)


def _repeatability(feature: FeatureCheck, study: RepeatabilityStudy | None, frame: pd.DataFrame) -> Interval | None:
    """Return what repeats of one place by one operator scatter."""
    if study is not None:
        return study.repeatability_sd
    operators = None if feature.sizes is None else feature.sizes.operators
    if operators is not None:
        sd, (low, high) = operators.repeatability_sd, sd_factors(operators.dof, 0.95)
        return Interval(sd, sd * low, sd * high, 0.95)
    parts = feature.components
    if parts is not None:
        return parts.repeatability_sd or parts.within_sd
    known = None if feature.sizes is None else feature.sizes.repeatability_sd
    dof = _repeats(feature, frame)
    if not known or dof < 1:
        return None
    low, high = sd_factors(dof, 0.95)  # one piece that was read twice does not show what pieces differ by, but this
    return Interval(known, known * low, known * high, 0.95)


def _repeats(feature: FeatureCheck, frame: pd.DataFrame) -> int:
    """Return how many readings there are beyond those that places and operators take: what repeatability rests on."""
    operators = None if feature.sizes is None else feature.sizes.operators
    if operators is not None:
        return operators.dof
    cells = frame[(frame["feature"] == feature.name) & (frame["kind"] != "go_no_go")]
    return len(cells) - len(cells[["batch", "piece", "position"]].drop_duplicates())


def _level(share: float) -> int:
    """Return 0 where a share of the tolerance is what is wanted, 1 where it may serve, 2 where it does not."""
    return int(share > SERVES_TO) + int(share > MAY_SERVE_TO)


def _answer(used: float | None, single: float | None, called: str, feature: FeatureCheck) -> tuple[bool | None, str]:
    if not called:
        return None, f"{plain_name(feature.name)} has no tolerance to measure the gauge against"
    if used is None:
        return None, feature.reasons.get("sizes", "no uncertainty is known: repeat readings, or state the resolution")
    share = f"six standard uncertainties of a size take {100 * used:.0f} % of {called}"
    if single is not None and _level(single) > _level(used):
        share += f", but one reading by any of the operators takes {100 * single:.0f} % (see study)"
        if single > MAY_SERVE_TO:
            return False, f"{share}, over three tenths; only the mean of as many readings as here serves"
        return True, f"{share}; more than a tenth, so pieces near a limit want care"
    if used <= SERVES_TO:
        return True, f"{share}; a tenth is what is wanted"
    if used <= MAY_SERVE_TO:
        return True, f"{share}; more than a tenth, so pieces near a limit want care"
    return False, f"{share}; over three tenths of it good and bad can hardly be told apart near a limit"


def _parts_of(feature: FeatureCheck, calibration: float) -> dict[str, float]:
    """Return the variance of a size by where it comes from."""
    found = feature.sizes
    if found is None:
        return {}
    step = 0.0 if found.step is None else found.step**2 / 12
    own = float(np.mean(np.square(found.uncertainty)))
    uneven = 0.0 if found.operators is None else float(np.mean(np.square(found.operators.own)))
    operators = 0.0 if found.operators is None else found.operators.common**2 + uneven
    return {
        "repeats": max(own - step - uneven, 0.0),
        "step": step,
        "operators": operators,
        "calibration": calibration**2,
    }


def _of_study(study: RepeatabilityStudy) -> dict[str, float]:
    """Return the variance of one reading by any of the operators, by where it comes from."""
    apart = 0.0 if study.reproducibility_sd is None else study.reproducibility_sd.estimate**2
    return {"repeats": study.repeatability_sd.estimate**2, "operators": apart}


def _what_helps(parts: dict[str, float], scale: Scale, feature: FeatureCheck) -> str:
    """Say what most of the uncertainty is, where one part of it is more than half, and what lessens that part."""
    whole = sum(parts.values())
    most = max(parts, key=lambda name: parts[name], default="")
    if whole <= 0 or parts[most] <= whole / 2:
        return ""
    if most == "operators":
        apart = 0.0 if feature.sizes is None or feature.sizes.operators is None else feature.sizes.operators.apart
        return f". Most of it is operators who read up to {scale.say(apart)} apart: {AGREE}"
    if most == "calibration":
        return (
            f". Most of it is the calibration, known to {scale.say(math.sqrt(parts[most]))} (standard uncertainty): a"
            " better one, or a master near this size to compare with, lessens it; more repeats do not"
        )
    if most == "step":
        return ". Most of it is the step of the gauge: a finer one lessens it; more repeats do not"
    return ". Most of it is that repeats differ: the mean of four times as many readings a piece would halve that part"


def _how_sure(
    uncertainty: float, noise: float, repeats: int, tolerance: float, feature: FeatureCheck, parts: dict[str, float]
) -> str:
    """Say when so few repeats leave the answer open, and how many more would settle it; empty when they do not.

    ``repeats`` are the degrees of freedom of ``noise``. More of them are advised only where noise is the larger part
    of the uncertainty and a number that somebody would take settles it: they do nothing to operators or calibration.
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
    if f"{100 * low:.0f}" == f"{100 * high:.0f}":
        return ""
    said = f". {count(repeats, 'repeat').capitalize()} leave{'s' if repeats == 1 else ''} it open between "
    said += f"{100 * low:.0f} and {100 * high:.0f} %"
    if parts["repeats"] <= sum(parts.values()) / 2:
        return said
    wanted = repeats + 1
    while open_between(wanted):
        wanted += 1 + wanted // 10
        if wanted - repeats > REPEATS_AT_MOST:
            return said
    return f"{said}; about {wanted - repeats} more would settle it"


def _study(frame: pd.DataFrame, tolerance: float | None) -> RepeatabilityStudy:
    frame = frame[frame["kind"] != "go_no_go"]
    if not len(frame):
        raise NotEnoughData(
            "no reading with a number; a study of operators needs two or more who measure the same pieces"
        )
    operators = frame["operator"].to_numpy()
    if len(set(operators.tolist())) < 2:
        raise NotEnoughData("one operator only; a study of operators needs two or more who measure the same pieces")
    # A place is what is read again: another position on a piece has a size of its own, which is form and no noise.
    place = frame.groupby(["batch", "piece", "position"], sort=False).ngroup().to_numpy()
    by = frame.assign(place=place).groupby("place")["operator"].nunique()
    if by.max() < 2:
        raise NotEnoughData(
            "no piece was measured by two operators, so what they differ by cannot be told from what pieces differ by;"
            " let two or more measure the same pieces"
        )
    return repeatability_study(frame["value"].to_numpy(), place, operators, tolerance)
