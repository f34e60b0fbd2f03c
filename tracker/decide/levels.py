"""Where the process stands: the level since the last event, how sure it is, and where wear takes it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from tracker.drift.lines import LineFit
from tracker.drift.runs import Cut, cut_into_runs
from tracker.drift.slopes import slopes_of
from tracker.errors import NotEnoughData, TrackerError
from tracker.spread import IntervalFit, Sizes, interval_fit
from tracker.spread.estimates import estimate

WEAR_SEEN_BELOW = 0.0027  # as rare as one point beyond three sigma; a false slope costs more than a missed faint one

CONFIDENCE = 0.95  # of the interval in which a last run's own slope and the common one both lie, where runs differ

Event = tuple[float, str] | tuple[float, str, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """What is known of the process at the last setting; lengths in the unit of the sizes.

    ``start`` and ``slope`` are the estimates of (deviation from target at the first piece of the run, change a
    piece); ``covariance`` is theirs. ``scatter`` is the sd of sizes as measured, ``dof`` its degrees of freedom.
    """

    start: float
    slope: float
    covariance: np.ndarray
    scatter: float
    dof: float
    n: int
    n_all: int
    first_order: float
    last_order: float
    last_event: str | None
    wear_from: str
    moved: float

    def at(self, order: np.ndarray | float) -> np.ndarray:
        """Return the deviation from target expected at the given order numbers."""
        return self.start + self.slope * (np.asarray(order, dtype=float) - self.first_order)

    def variance_at(self, order: np.ndarray | float) -> np.ndarray:
        """Return the variance of that expectation."""
        away = np.asarray(order, dtype=float) - self.first_order
        c = self.covariance
        return np.asarray(np.maximum(c[0, 0] + 2 * away * c[0, 1] + away * away * c[1, 1], 0.0))


def find_level(
    sizes: Sequence[float] | np.ndarray,
    target: float,
    order: Sequence[float] | np.ndarray | None,
    events: Sequence[Event],
    *,
    sd: float | None,
    wear: float | None,
    uncertainty: float,
    common_variance: float,
) -> Level:
    """Return the level of the pieces since the last event that moved size by an unknown amount.

    Events with a known amount do not cut: earlier pieces are carried over by the amount, so that they go on
    counting.
    """
    cut, moved = _settled(sizes, order, events)
    scatter, dof, slope, slope_variance, wear_from = _scatter(cut, sd=sd, wear=wear, uncertainty=uncertainty)
    last = cut.run == cut.run[-1]
    x, y = cut.order[last], cut.size[last]
    n = int(x.size)
    away = float(np.mean(x)) - float(x[0])
    per_piece = scatter * scatter / n
    start = float(np.mean(y - target)) - slope * away
    covariance = np.array(
        [
            [per_piece + away * away * slope_variance + common_variance, -away * slope_variance],
            [-away * slope_variance, slope_variance],
        ]
    )
    own = per_piece + away * away * slope_variance
    level_dof = math.inf if math.isinf(dof) else dof * ((own + common_variance) / own) ** 2
    return Level(
        start=start,
        slope=slope,
        covariance=covariance,
        scatter=scatter,
        dof=level_dof,
        n=n,
        n_all=int(cut.size.size),
        first_order=float(x[0]),
        last_order=float(x[-1]),
        last_event=cut.runs[-1].event,
        wear_from=wear_from,
        moved=moved,
    )


def level_of_bounds(
    sizes: Sizes | IntervalFit,
    target: float,
    events: Sequence[Event],
    *,
    sd: float | None,
    wear: float | None,
    common_variance: float,
) -> Level:
    """Return the level of pieces that are known between bounds only (goes / does not go).

    Wear is not looked for in bounds; where it is stated, it is taken about the middle of the run.
    """
    fit, n_all, first, moved, last_event = _fit_of_last_run(sizes, events)
    found = estimate(fit, purpose="the level of the process")
    slope = 0.0 if wear is None else float(wear)
    scatter = found.sd if sd is None else sd
    return Level(
        start=found.mean - target - slope * (found.n - 1) / 2,
        slope=slope,
        covariance=np.array([[scatter * scatter / found.mean_pieces + common_variance, 0.0], [0.0, 0.0]]),
        scatter=scatter,
        dof=found.dof if sd is None else math.inf,
        n=found.n,
        n_all=n_all,
        first_order=first,
        last_order=first + found.n - 1,
        last_event=last_event,
        wear_from="not looked for in bounds" if wear is None else "stated",
        moved=moved,
    )


def _fit_of_last_run(
    sizes: Sizes | IntervalFit, events: Sequence[Event]
) -> tuple[IntervalFit, int, float, float, str | None]:
    """Return the fit to the bounds of the last run, all pieces, its first number, what was carried, its event."""
    if isinstance(sizes, IntervalFit):
        if events:
            raise TrackerError(
                "a fit to bounds cannot be cut at events any more; fit the bounds of the pieces since the last event, "
                "or give the sizes with their bounds"
            )
        return sizes, sizes.n, 1.0, 0.0, None
    cut, moved = _settled(sizes.size, None, events)
    carried = cut.size - np.asarray(sizes.size, dtype=float)
    last = cut.run == cut.run[-1]
    fit = interval_fit((sizes.low + carried)[last], (sizes.high + carried)[last])
    return fit, int(cut.size.size), float(cut.order[last][0]), moved, cut.runs[-1].event


def with_setup(level: Level, setup_sd: float) -> Level:
    """Return the level with the knowledge that set-ups land about their aim with the given sd.

    One step of Bayes' rule: a normal prior on the start, its mean the offsets of known amount since the set-up.
    """
    c = level.covariance
    gain = c[:, 0] / (float(c[0, 0]) + setup_sd * setup_sd)
    miss = level.moved - level.start
    return replace(
        level,
        start=level.start + float(gain[0]) * miss,
        slope=level.slope + float(gain[1]) * miss,
        covariance=c - np.outer(gain, c[:, 0]),
    )


def quantile(dof: float, confidence: float) -> float:
    """Return the two-sided quantile of Student's t; of the normal for infinite degrees of freedom."""
    tail = 0.5 + confidence / 2
    return float(special.ndtri(tail)) if math.isinf(dof) else float(special.stdtrit(dof, tail))


def below(limit: np.ndarray | float, mean: np.ndarray, scale: np.ndarray, dof: float) -> np.ndarray:
    """Return the chance of a value under the limit; a scale of zero puts it all at the mean."""
    away = np.asarray(limit, dtype=float) - mean
    z = np.divide(away, scale, out=np.where(away >= 0, np.inf, -np.inf), where=scale > 0)
    return np.asarray(special.ndtr(z) if math.isinf(dof) else special.stdtr(dof, z))


def _settled(
    sizes: Sequence[float] | np.ndarray, order: Sequence[float] | np.ndarray | None, events: Sequence[Event]
) -> tuple[Cut, float]:
    """Return the pieces carried over events of known amount and cut at the others, and the sum carried."""
    cutting = [(float(event[0]), str(event[1])) for event in events if _amount(event) is None]
    cut = cut_into_runs(sizes, order, cutting)
    if cut.waiting_event is not None:
        raise NotEnoughData(
            f"no piece was measured since the last event ({cut.waiting_event}): where the process stands now is not "
            f"known. Measure at least one piece made after it, or state by how much the event moved the size"
        )
    size = cut.size.copy()
    moved = 0.0
    start_of_run = cut.runs[-1].first
    for event in events:
        amount = _amount(event)
        if amount is not None:
            size[cut.order <= float(event[0])] += amount
            if float(event[0]) >= start_of_run:
                moved += amount
    return Cut(order=cut.order, size=size, run=cut.run, runs=cut.runs, waiting_event=None), moved


def _amount(event: Event) -> float | None:
    if len(event) == 2 or event[2] is None:
        return None
    if not math.isfinite(event[2]):
        raise TrackerError(
            f"event {event[1]!r} after piece {event[0]:g}: the amount is {event[2]}; give a length or None"
        )
    return float(event[2])


def _scatter(
    cut: Cut, *, sd: float | None, wear: float | None, uncertainty: float
) -> tuple[float, float, float, float, str]:
    """Return sd of sizes as measured, its degrees of freedom, the slope, its variance, and where it is from."""
    slope, slope_variance, wear_from = 0.0, 0.0, "none seen"
    line = None
    if wear is not None:
        slope, wear_from = float(wear), "stated" if wear else "taken as none"
    else:
        try:
            line = slopes_of(cut, CONFIDENCE).fit
        except NotEnoughData:
            wear_from = "too few pieces to see any"
        if line is not None:
            floor = max(math.sqrt(line.variance), uncertainty, _least_noise(cut.size))
            p_value = _p_value(line, floor)
            if p_value < WEAR_SEEN_BELOW:
                slope, wear_from = float(line.slopes[-1]), f"seen (p = {p_value:.2g})"
                slope_variance = floor * floor / float(line.slope_sxx[-1])
            else:
                line = None
    if sd is not None:
        measured = math.hypot(sd, uncertainty)
        if line is not None:
            slope_variance = measured * measured / float(line.slope_sxx[-1])
        return _some(measured, cut), math.inf, slope, slope_variance, wear_from
    if line is not None:
        return _some(floor, cut), float(line.dof), slope, floor * floor / float(line.slope_sxx[-1]), wear_from
    dof = cut.size.size - len(cut.runs)
    if dof < 1:
        raise NotEnoughData(
            f"{_pieces(cut)} cannot show the spread, and without it a bias cannot be told from noise. Measure "
            f"one more piece, or state the spread known from earlier batches"
        )
    y = cut.size - slope * cut.order
    totals = np.bincount(cut.run, y - y[0])
    counts = np.bincount(cut.run)
    residual = y - y[0] - (totals / counts)[cut.run]
    measured = math.sqrt(float(residual @ residual) / dof)
    if measured <= 1e-12 * float(np.max(np.abs(cut.size))):
        measured = 0.0
    return _some(max(measured, uncertainty), cut), float(dof), slope, slope_variance, wear_from


def _least_noise(size: np.ndarray) -> float:
    """Return what rounding alone scatters: the finest step that the sizes show over the root of 12.

    Readings on few steps lie on a line by chance, with nothing beside it to judge a slope by.
    """
    steps = np.diff(np.unique(size))
    seen = steps[steps > 1e-9 * float(np.max(np.abs(size)))]
    return 0.0 if seen.size == 0 else float(seen.min()) / math.sqrt(12.0)


def _p_value(line: LineFit, sd: float) -> float:
    """Return the two-sided p-value of the slope of the last run with at least ``sd`` about the line."""
    slope = float(line.slopes[-1])
    if slope == 0.0 or sd <= 0:
        return 1.0
    return float(2.0 * special.stdtr(line.dof, -abs(slope) * math.sqrt(float(line.slope_sxx[-1])) / sd))


def _some(measured: float, cut: Cut) -> float:
    if measured > 0:
        return measured
    raise NotEnoughData(
        f"all {cut.size.size} sizes are equal, so the spread is below what the gauge shows. State the gauge's "
        f"uncertainty (its step divided by the root of 12 at least), or the spread known from earlier batches"
    )


def _pieces(cut: Cut) -> str:
    if len(cut.runs) == 1:
        return "one piece"
    return f"{cut.size.size} pieces with an event after each"
