"""One feature's batch judged: sizes, spread, capability, wear, and the next cut toward its target."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Protocol, TypeVar

import numpy as np

from tracker.decide import Shift, next_shift
from tracker.decide.shift_terms import cost_until_good
from tracker.drift import WearLine, wear_line
from tracker.drift.lines import without_rounding
from tracker.errors import NotEnoughData, OneSideOnly, TrackerError
from tracker.judge.answers import FeatureCheck
from tracker.judge.misses import misses_of
from tracker.judge.words import Scale, plain_fault, plain_name
from tracker.spread import (
    Capability,
    Components,
    IntervalFit,
    OperatorSpread,
    SizeLimits,
    Sizes,
    capability,
    components,
    interval_fit,
    normality,
    size_limits,
    sizes,
    summarize,
)
from tracker.spread.one_sided import some_of
from tracker.spread.rounding import rounding_of_mean

if TYPE_CHECKING:
    import pandas as pd

    from tracker.job import Feature, Gauge, Job

Answer = TypeVar("Answer")


class Happening(Protocol):
    """What `check` needs to know of an event, wherever it was kept."""

    @property
    def feature(self) -> str:
        """Name of the feature."""
        ...

    @property
    def after_piece(self) -> str:
        """Label of the last piece made before it."""
        ...

    @property
    def batch(self) -> str:
        """The batch of that piece; empty where the job has one batch, or the label names it."""
        ...

    @property
    def event(self) -> str:
        """What happened, for example tool_change."""
        ...

    @property
    def amount(self) -> float | None:
        """By how much, where known."""
        ...


Mark = tuple[int, str] | tuple[int, str, float]

NEW_BATCH = "new batch"
LEAST_FOR_WEAR = 5
SEE_EVENTS = " (see events)"
PLAIN_STEP = {"in": 0.0001, "mm": 0.001}


def attempt(reasons: dict[str, str], name: str, compute: Callable[[], Answer]) -> Answer | None:
    """Return what ``compute`` returns, or None with the reason kept under ``name``.

    Raises
    ------
    OneSideOnly
        As ``compute``: a size that cannot be had holds more up than one figure.
    """
    try:
        return compute()
    except OneSideOnly:
        raise
    except TrackerError as error:
        reasons[name] = plain_fault(str(error))
        return None


def judge_feature(job: Job, feature: Feature, frame: pd.DataFrame, events: Sequence[Happening]) -> FeatureCheck:
    """Return what is known of one feature.

    Parameters
    ----------
    job, feature : Job, Feature
    frame : pandas.DataFrame
        The readings of this feature that count, rows in order of making.
    events : sequence of Happening
        Of the whole job; those of this feature are taken.

    Returns
    -------
    FeatureCheck
    """
    reasons: dict[str, str] = {}
    gauge = job.gauge_of(feature.name)
    try:
        found = attempt(reasons, "sizes", lambda: _sizes(feature, gauge, frame))
    except OneSideOnly as error:
        return _of_bounds(job, feature, frame, events, str(error))
    step = step_of(job, feature, found)
    scale = Scale(job.unit, step)
    marks = attempt(reasons, "events", lambda: marks_of(feature.name, events, found, frame))
    if found is not None and len(found) == 0:
        found = None
        reasons.setdefault("sizes", f"no piece of {plain_name(feature.name)} has a size")
    if found is None:
        return _empty(feature, step, marks or (), reasons)
    bounds = None
    if found.go_no_go:
        bounds = attempt(reasons, "bounds", lambda: interval_fit(found.low, found.high))
    wear = attempt(reasons, "wear", lambda: _wear(feature, found, known_marks(marks)))
    return FeatureCheck(
        name=feature.name,
        kind=feature.kind,
        nominal=feature.nominal,
        target=feature.aim,
        lower=feature.lower,
        upper=feature.upper,
        step=step,
        sizes=found,
        bounds=bounds,
        summary=attempt(reasons, "summary", lambda: summarize(found, feature.aim)),
        capability=attempt(reasons, "capability", lambda: _capability(feature, found)),
        components=attempt(
            reasons, "components", lambda: _components(frame, None if found is None else found.operators)
        ),
        normality=attempt(reasons, "normality", lambda: normality(_own(found, "what shape the sizes have").size)),
        wear=wear,
        shift=attempt(
            reasons, "shift", lambda: _own_shift(job, feature, settled(found, wear, scale), known_marks(marks), scale)
        ),
        events=tuple((mark[0], mark[1]) for mark in marks or ()),
        marks=marks,
        reasons=reasons,
    )


def _of_bounds(job: Job, feature: Feature, frame: pd.DataFrame, events: Sequence[Happening], why: str) -> FeatureCheck:
    """Return what the bounds of a batch tell of it where a piece is known from one side only and has no size."""
    reasons = {"sizes": why}
    gauge = job.gauge_of(feature.name)
    known = size_limits(frame, feature, resolution=None if gauge is None else gauge.resolution)
    step = step_of(job, feature, None)
    marks = attempt(reasons, "events", lambda: marks_of(feature.name, events, known, frame))
    fit = attempt(reasons, "bounds", lambda: interval_fit(known.low, known.high))
    empty = _empty(feature, step, marks or (), reasons)
    if fit is None or fit.mean is None:
        return dataclasses.replace(empty, bounds=fit, one_sided=known.one_sided)
    scale = Scale(job.unit, step)
    return dataclasses.replace(
        empty,
        bounds=fit,
        one_sided=known.one_sided,
        summary=attempt(
            reasons, "summary", lambda: summarize(fit, feature.aim, common_uncertainty=_shared(job, feature, fit))
        ),
        capability=attempt(reasons, "capability", lambda: _capability(feature, fit)),
        shift=attempt(reasons, "shift", lambda: _own_shift(job, feature, fit, known_marks(marks), scale)),
    )


def step_of(job: Job, feature: Feature, found: Sizes | None) -> float:
    """Return what the gauge of a feature can read, in the job's unit."""
    gauge = job.gauge_of(feature.name)
    if gauge is not None and gauge.resolution is not None:
        return gauge.resolution
    if found is not None and found.step is not None:
        return found.step
    return PLAIN_STEP[job.unit]


def marks_of(
    feature: str, events: Sequence[Happening], found: Sizes | SizeLimits | None, frame: pd.DataFrame
) -> tuple[Mark, ...]:
    """Return the events of a feature as (after how many pieces, name[, amount]); a new batch is a new set-up.

    Raises
    ------
    TrackerError
        If an event names a piece that was not measured.
    """
    pieces = () if found is None else found.piece
    marks: list[Mark] = [(after, NEW_BATCH) for after in _batches_begin(pieces, frame)]
    for event in events:
        if event.feature != feature:
            continue
        named = f"{event.batch}/{event.after_piece}" if event.batch else event.after_piece
        if event.after_piece == "":
            after = next((place for place, piece in enumerate(pieces) if event.batch and piece.startswith(named)), 0)
        elif named in pieces:
            after = pieces.index(named) + 1
        elif event.after_piece in pieces:
            after = pieces.index(event.after_piece) + 1
        else:
            raise TrackerError(
                f"an event of {plain_name(feature)} ({event.event.replace('_', ' ')}) stands after piece"
                f" {event.after_piece!r}, which has no readings; accepted is the label of a measured piece"
            )
        name = event.event.replace("_", " ")
        marks.append((after, name) if event.amount is None else (after, name, event.amount))
    return tuple(sorted(marks, key=lambda mark: mark[0]))


def _batches_begin(pieces: Sequence[str], frame: pd.DataFrame) -> list[int]:
    """Return after how many pieces each further batch begins; pieces stand batch by batch."""
    names = frame[["batch", "piece"]].drop_duplicates()
    if names["batch"].nunique() < 2:
        return []
    batch_of = {f"{batch}/{piece}": batch for batch, piece in names.itertuples(index=False)}
    made = [batch_of.get(piece) for piece in pieces]
    return [place for place in range(1, len(made)) if made[place] != made[place - 1]]


def shift_of(
    job: Job,
    feature: Feature,
    found: Sizes | IntervalFit,
    marks: Sequence[Mark],
    scale: Scale,
    *,
    target: float | None = None,
    lower: float | None = None,
    upper: float | None = None,
    target_uncertainty: float = 0.0,
    costs_in_target: bool = False,
    within: str = "lie within limits",
) -> Shift:
    """Return the shift of a feature's next cut toward its own aim, or toward ``target`` with its limits.

    ``costs_in_target`` says that the target already leans to the side where a miss costs less,
    ``within`` what pieces within those limits do.
    """
    own = target is None
    low, high = (feature.lower, feature.upper) if own else (lower, upper)
    common = _shared(job, feature, found)
    if not isinstance(found, IntervalFit):
        common = math.hypot(common, _rounded_alike(found))
    misses = misses_of(job, feature)
    cost_under, cost_over, leans = misses.under, misses.over, ""
    if costs_in_target:
        leans, cost_under, cost_over = misses.leans, max(cost_under, cost_over), max(cost_under, cost_over)
    elif misses.again and low is not None and high is not None:
        more = cost_until_good(low, high, _scatter(found), cost_under, cost_over)
        cost_under, cost_over = cost_under + more, cost_over + more
    return next_shift(
        # A size that the others lead to expect lies nearer to them than a true one: then their bounds are asked.
        found if isinstance(found, IntervalFit) or found.expected else found.size,
        feature.aim if target is None else target,
        low,
        high,
        events=marks,
        setup_sd=feature.machine.setup_sd,
        increment=feature.machine.increment,
        diameter=feature.machine.offset_on == "diameter" or feature.kind == "length",
        plus_makes=feature.machine.plus_makes,
        sd=feature.spread if not isinstance(found, IntervalFit) and len(found) == 1 else None,
        uncertainty=0.0 if isinstance(found, IntervalFit) else found.uncertainty,
        common_uncertainty=common,
        target_uncertainty=target_uncertainty,
        cost_under=cost_under,
        cost_over=cost_over,
        touch_cost=0.0 if job.costs.touch is None or (low is None and high is None) else job.costs.touch,
        pieces_ahead=feature.machine.look_every,
        within=within,
        leans=leans,
        across="length" if feature.kind == "length" else "diameter",
        say=scale.say,
        say_offset=lambda value: f"{scale.entered(value, feature.machine.increment)} {scale.unit}",
    )


def _shared(job: Job, feature: Feature, found: Sizes | IntervalFit) -> float:
    """Return the standard uncertainty that all sizes of a batch share."""
    if not isinstance(found, IntervalFit):
        return found.common_uncertainty
    gauge = job.gauge_of(feature.name)
    return 0.0 if gauge is None else gauge.calibration


def _rounded_alike(found: Sizes) -> float:
    """Return what rounding leaves in the mean where every piece reads the same each time: the pieces share it."""
    if not found.coarse or found.step is None:
        return 0.0
    return rounding_of_mean(found.step, math.sqrt(max(_scatter(found) ** 2 - found.step**2 / 12, 0.0)))


def _scatter(found: Sizes | IntervalFit) -> float:
    """Return the standard deviation of the sizes; 0 where they show none."""
    if isinstance(found, IntervalFit):
        return 0.0 if found.sd is None else found.sd.estimate
    return float(found.size.std(ddof=1)) if len(found) > 1 else 0.0


def _sizes(feature: Feature, gauge: Gauge | None, frame: pd.DataFrame) -> Sizes:
    if not len(frame):
        raise NotEnoughData(f"there are no readings of {plain_name(feature.name)}; at least one piece must be measured")
    return sizes(
        frame,
        feature,
        feature.rule,
        calibration=0.0 if gauge is None else gauge.calibration,
        resolution=None if gauge is None else gauge.resolution,
    )


def _capability(feature: Feature, found: Sizes | IntervalFit) -> Capability:
    if feature.lower is None and feature.upper is None:
        raise NotEnoughData(f"{plain_name(feature.name)} has no limits of size; give lower, upper or grade in job.toml")
    return capability(found, feature.lower, feature.upper, feature.aim)


def _components(frame: pd.DataFrame, operators: OperatorSpread | None) -> Components:
    """Return the parts of the spread; operators' levels are no noise of the gauge and are taken off first."""
    numbers = frame[frame["kind"] != "go_no_go"]
    if not len(numbers):
        raise NotEnoughData("goes / does not go readings do not show how much is gauge; take readings with numbers")
    positions = numbers["position"].to_numpy()
    several = len(set(positions.tolist())) > 1
    piece = numbers.groupby(["batch", "piece"], sort=False).ngroup().to_numpy()  # piece 1 of each batch is another
    value, fitted = numbers["value"].to_numpy(), 0
    if operators is not None:
        level = dict(zip(operators.operators, operators.level))
        value = value - numbers["operator"].map(level).to_numpy(dtype=float)
        fitted = len(level) - 1
    return components(value, piece, positions if several else None, fitted=fitted)


def known_marks(marks: tuple[Mark, ...] | None) -> tuple[Mark, ...]:
    """Return the events; without them neither wear nor the next cut can be told.

    Raises
    ------
    NotEnoughData
        If they could not be placed.
    """
    if marks is None:
        raise NotEnoughData(f"an event cannot be placed among the pieces{SEE_EVENTS}, and it may have moved the size")
    return marks


def settled(found: Sizes, wear: WearLine | None, scale: Scale) -> Sizes:
    """Return the sizes, from which it can be told where the process stands now.

    Raises
    ------
    NotEnoughData
        If they surely show a jump that no event explains: pieces before it say nothing of the next one.
    """
    departure = None if wear is None else wear.departure
    if departure is None or departure.after is None:
        return found
    raise NotEnoughData(
        f"something changed after piece {found.piece[round(departure.after) - 1]} that no event explains (size jumps by"
        f" {scale.off(departure.amount)} {scale.small}), so where the process stands now is not known; log the event"
        " (tool change, offset change) if there was one"
    )


def _own_shift(job: Job, feature: Feature, found: Sizes | IntervalFit, marks: Sequence[Mark], scale: Scale) -> Shift:
    """Return the shift toward the drawing; a part of a fit without target and limits is cut to its mates instead."""
    in_fit = any(feature.name in (fit.internal, fit.external) for fit in job.fits.values())
    if in_fit and feature.target is None and feature.lower is None and feature.upper is None:
        raise NotEnoughData(
            f"{plain_name(feature.name)} has no target and no limits of size, and its nominal is no aim for a part"
            " of a fit; give target, lower and upper, or grade in job.toml"
        )
    return shift_of(job, feature, found, marks, scale)


def _own(found: Sizes, purpose: str) -> Sizes:
    """Return the sizes where each is the piece's own; one that is expected from the others follows them by itself.

    Raises
    ------
    NotEnoughData
        If a piece is known from one side only.
    """
    if found.expected:
        raise NotEnoughData(
            f"pieces known from one side only ({some_of(found.expected)}) have the size that the others lead to expect,"
            f" which cannot tell {purpose}"
        )
    return found


def _wear(feature: Feature, found: Sizes, marks: Sequence[Mark]) -> WearLine:
    found = _own(found, "wear")
    if len(found) < LEAST_FOR_WEAR:
        pieces = "one piece does" if len(found) == 1 else f"{len(found)} pieces do"
        raise NotEnoughData(f"{pieces} not show wear; from {LEAST_FOR_WEAR} on it can be looked for")
    if not np.any(without_rounding(found.size - found.size[0], found.size)):
        raise NotEnoughData(f"all {len(found)} pieces read the same, so wear under a step of the gauge stays unseen")
    events = [(mark[0], mark[1]) for mark in marks]
    return wear_line(found.size, None, events, feature.lower, feature.upper, resolution=found.step or 0.0)


def _empty(feature: Feature, step: float, marks: Sequence[Mark], reasons: dict[str, str]) -> FeatureCheck:
    return FeatureCheck(
        name=feature.name,
        kind=feature.kind,
        nominal=feature.nominal,
        target=feature.aim,
        lower=feature.lower,
        upper=feature.upper,
        step=step,
        sizes=None,
        bounds=None,
        summary=None,
        capability=None,
        components=None,
        normality=None,
        wear=None,
        shift=None,
        events=tuple((mark[0], mark[1]) for mark in marks),
        reasons=reasons,
    )


def combined(*parts: float) -> float:
    """Return the root of the sum of squares: how independent uncertainties add."""
    return math.hypot(*parts)
