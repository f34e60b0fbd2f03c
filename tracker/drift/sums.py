"""Charts that remember: exponentially weighted averages and cumulative sums."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

import numpy as np

from tracker.drift.chart import Baseline, BaselineLike, Chart, constant, kept_baseline, positive_sd
from tracker.drift.constants import chart_constants
from tracker.drift.runs import finite_sizes
from tracker.drift.shewhart import MOVING_RANGE, individuals_chart
from tracker.drift.signals import Signal, where
from tracker.errors import NotEnoughData, TrackerError
from tracker.spread.arguments import finite_number
from tracker.spread.arguments import number as number_of

AVERAGE_BEYOND = "weighted average beyond its limit"
SUM_UP = "sum of upward deviations beyond its limit"
SUM_DOWN = "sum of downward deviations beyond its limit"


def ewma_chart(
    sizes: Sequence[float] | np.ndarray,
    centre: float | None = None,
    sd: float | None = None,
    weight: float = 0.2,
    width: float = 3.0,
    baseline: BaselineLike | None = None,
) -> Chart:
    """Return the chart of exponentially weighted averages, with exact limits from the first piece on.

    Parameters
    ----------
    sizes : array_like, shape (n,)
        Sizes in order of making.
    centre : float, optional
        Level to watch; the mean of the sizes when not given.
    sd : float, optional
        Sd of single pieces; mean moving range / d2 when not given.
    weight : float
        Weight of the newest piece, above 0 and at most 1 (1: the chart of single values).
    width : float
        Half the distance of the limits in sds of the average.
    baseline : Baseline, mapping, Chart or array_like, optional
        Centre and sd kept from earlier pieces, or those pieces.

    Returns
    -------
    Chart
        ``points`` are the averages.

    Raises
    ------
    NotEnoughData
        When an sd is asked of fewer than two pieces, or of pieces all alike.
    TrackerError
        For a weight or width out of range.

    Notes
    -----
    Sees small lasting shifts sooner than single values do. Right for independent sizes; how often it signals
    falsely: `ewma_run_length`.

    References
    ----------
    J. M. Lucas & M. S. Saccucci, Technometrics 32 (1990) 1-12; Montgomery, *Introduction to SQC* (from memory).
    """
    if not 0 < number_of(weight, "weight") <= 1:
        raise TrackerError(f"weight is {weight!r}; give the weight of the newest piece, above 0 and at most 1")
    if not finite_number(width, "width") > 0:
        raise TrackerError(f"width is {width!r}; give a number of sds above 0, for example 3")
    size = finite_sizes(sizes)
    base = _baseline(size, centre, sd, baseline)
    averages = accumulate(size.tolist(), lambda past, new: past + weight * (new - past), initial=base.centre)
    points = np.array(list(averages)[1:])
    number = np.arange(1, size.size + 1)
    spread = base.sd * np.sqrt(weight / (2 - weight) * (1 - (1 - weight) ** (2 * number)))
    lower, upper = base.centre - width * spread, base.centre + width * spread
    found = []
    for hit, side in ((points > upper, "upper"), (points < lower, "lower")):
        for first, last in _unbroken(hit):
            words = f"{AVERAGE_BEYOND} ({side} side), {where(first, last)}"
            found.append(Signal(name=AVERAGE_BEYOND, first=first, last=last, words=words))
    return Chart(
        kind=f"weighted averages (weight {weight:g}, {width:g} sigma)",
        points=points,
        centre=constant(base.centre, size.size),
        lower=lower,
        upper=upper,
        number=number,
        sd=base.sd,
        sd_from=base.sd_from,
        signals=tuple(sorted(found, key=lambda signal: signal.first)),
        looked_for=(AVERAGE_BEYOND,),
        baseline=base,
        frozen=baseline is not None,
        companion=None,
        n=size.size,
    )


def cusum_chart(
    sizes: Sequence[float] | np.ndarray,
    target: float,
    sd: float,
    slack: float = 0.5,
    decision: float = 5.0,
    head_start: float = 0.0,
) -> Chart:
    """Return the tabular cumulative-sum chart about a target.

    Parameters
    ----------
    sizes : array_like, shape (n,)
        Sizes in order of making.
    target : float
        Level aimed at.
    sd : float
        Sd of single pieces.
    slack : float
        Deviation let pass at each piece, in sds: half the shift worth finding.
    decision : float
        Limit of the sums, in sds.
    head_start : float
        What both sums start from, in sds (half of ``decision`` finds a bad start sooner).

    Returns
    -------
    Chart
        ``points`` are the upward sums in the unit of the sizes; ``companion`` holds the downward sums, at or
        below zero. ``signals`` has both kinds, each with the estimated change point and the level since then.

    Raises
    ------
    TrackerError
        For an sd, slack or decision out of range.

    Notes
    -----
    The change point is the last piece at which the sum stood at zero. How often it signals falsely:
    `cusum_run_length`.

    References
    ----------
    E. S. Page, Biometrika 41 (1954); J. M. Lucas & R. B. Crosier, Technometrics 24 (1982); Montgomery,
    *Introduction to SQC* (from memory).
    """
    for name, value, least in (("sd", sd, 0.0), ("decision", decision, 0.0)):
        if not finite_number(value, name) > least:
            raise TrackerError(f"{name} is {value!r}; give a number above {least:g}")
    if not (finite_number(slack, "slack") >= 0 and 0 <= finite_number(head_start, "head_start") < decision):
        raise TrackerError(f"slack is {slack!r}, head_start {head_start!r}; give 0 or more, head_start under decision")
    size = finite_sizes(sizes)
    target = finite_number(target, "target")
    base = Baseline(centre=target, sd=float(sd), n=size.size, group_size=1, sd_from="given sd")
    away = size - target
    up = _sums(away - slack * sd, head_start * sd)
    down = _sums(-away - slack * sd, head_start * sd)
    limit = decision * sd
    rising = _sum_signals(up, limit, target, slack * sd, 1)
    falling = _sum_signals(down, limit, target, slack * sd, -1)
    lower_sums = _sum_chart("downward sums", -down, -limit, 0.0, base, falling, None)
    both = tuple(sorted(rising + falling, key=lambda signal: signal.first))
    return _sum_chart("cumulative sums", up, 0.0, limit, base, both, lower_sums)


def _baseline(size: np.ndarray, centre: float | None, sd: float | None, baseline: BaselineLike | None) -> Baseline:
    if baseline is not None:
        return kept_baseline(baseline, 1, individuals_chart)
    level = float(np.mean(size)) if centre is None else finite_number(centre, "centre")
    if sd is not None:
        if not finite_number(sd, "sd") > 0:
            raise TrackerError(f"sd is {sd!r}; give the sd of single pieces, above 0")
        return Baseline(centre=level, sd=float(sd), n=size.size, group_size=1, sd_from="given sd")
    if size.size < 2:
        raise NotEnoughData("one piece gives no sd; give sd, a baseline, or two pieces or more")
    found = positive_sd(float(np.mean(np.abs(np.diff(size)))) / chart_constants(2).d2, size.size)
    return Baseline(centre=level, sd=found, n=size.size, group_size=1, sd_from=MOVING_RANGE)


def _sums(steps: np.ndarray, start: float) -> np.ndarray:
    return np.array(list(accumulate(steps.tolist(), lambda past, step: max(0.0, past + step), initial=start))[1:])


def _sum_signals(sums: np.ndarray, limit: float, target: float, slack: float, sign: int) -> list[Signal]:
    name = SUM_UP if sign > 0 else SUM_DOWN
    found = []
    for first, last in _unbroken(sums > limit):
        zeros = np.flatnonzero(sums[: first - 1] == 0)
        change = int(zeros[-1]) + 1 if zeros.size else 0
        level = target + sign * (slack + float(sums[first - 1]) / (first - change))
        began = f"the level changed after piece {change}" if change else "the level was off from the start"
        words = f"{name}, {where(first, last)}; {began}, to about {level:.6g}"
        found.append(Signal(name=name, first=first, last=last, words=words, change_after=change, new_level=level))
    return found


def _unbroken(hit: np.ndarray) -> list[tuple[int, int]]:
    """Return first and last number (from 1) of the unbroken stretches where ``hit`` is true."""
    edges = np.diff(np.concatenate([[False], hit, [False]]).astype(int))
    return list(zip((np.flatnonzero(edges == 1) + 1).tolist(), np.flatnonzero(edges == -1).tolist()))


def _sum_chart(
    kind: str,
    points: np.ndarray,
    lower: float,
    upper: float,
    base: Baseline,
    signals: Sequence[Signal],
    companion: Chart | None,
) -> Chart:
    n = points.size
    return Chart(
        kind=kind,
        points=points,
        centre=constant(0.0, n),
        lower=constant(lower, n),
        upper=constant(upper, n),
        number=np.arange(1, n + 1),
        sd=base.sd,
        sd_from=base.sd_from,
        signals=tuple(signals),
        looked_for=(SUM_UP, SUM_DOWN),
        baseline=base,
        frozen=False,
        companion=companion,
        n=n,
    )
