"""Charts of single values and of groups, with 3-sigma limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from tracker.drift.chart import (
    Baseline,
    BaselineLike,
    Chart,
    constant,
    grouped,
    kept_baseline,
    positive_sd,
)
from tracker.drift.constants import chart_constants
from tracker.drift.runs import finite_sizes
from tracker.drift.signals import BEYOND_3, HANDBOOK_SIGNALS, Signal, check_names, find_signals, where
from tracker.errors import NotEnoughData, TrackerError
from tracker.plurals import noun, pieces
from tracker.spread.arguments import finite_number, one_each
from tracker.spread.group_constants import LARGEST, mean_sd_factor

MOVING_RANGE = "mean moving range / d2"
FEW_PIECES = 20


def individuals_chart(
    sizes: Sequence[float] | np.ndarray,
    baseline: BaselineLike | None = None,
    signals: Iterable[str] = HANDBOOK_SIGNALS,
    breaks: Sequence[int] = (),
) -> Chart:
    """Return the chart of single values, with the chart of moving ranges as its companion.

    Parameters
    ----------
    sizes : array_like, shape (n,)
        Sizes in order of making.
    baseline : Baseline, mapping, Chart or array_like, optional
        Limits kept from earlier pieces, or those pieces; then all of ``sizes`` are watched against them.
    signals : iterable of str
        What to look for.
    breaks : sequence of int
        Numbers of pieces after which something was touched: no moving range is taken across.

    Returns
    -------
    Chart

    Raises
    ------
    NotEnoughData
        Without a baseline: under two pieces, or all the same.

    Notes
    -----
    Limits at centre ± 3 sd, sd = mean moving range / d2(2), d2 unrounded (1.12838). Right for independent,
    roughly normal sizes; a skew size gives more false alarms on its long side, wear gives signals by nature.
    Limits from fewer than about 20 pieces are themselves uncertain (common practice, no source).

    References
    ----------
    Western Electric handbook (1956); ISO 7870-2 (from memory). Worked examples: tests/published/test_drift_charts.py.

    Examples
    --------
    >>> print(individuals_chart([5.1, 5.3, 4.9, 5.2, 5.0, 5.1]))
    single values: 6 points about 5.1, limits 4.461917 to 5.738083 (sd 0.2127 from mean
    moving range / d2, 6 pieces). Nothing unusual is seen. Limits from 6 pieces are themselves uncertain.
    """
    size = finite_sizes(sizes)
    names = check_names(signals)
    ranges = np.abs(np.diff(size))
    number = np.arange(2, size.size + 1)
    kept = ~np.isin(number - 1, np.asarray(list(breaks), dtype=int))
    ranges, number = ranges[kept], number[kept]
    if baseline is None:
        if not ranges.size:
            raise NotEnoughData(f"of {pieces(size.size)} there is no moving range; two pieces in a row are needed")
        sd = positive_sd(float(np.mean(ranges)) / chart_constants(2).d2, size.size)
        base = Baseline(centre=float(np.mean(size)), sd=sd, n=size.size, group_size=1, sd_from=MOVING_RANGE)
    else:
        base = kept_baseline(baseline, 1, individuals_chart)
    companion = _spread_chart(
        "moving ranges", ranges, constant(2, ranges.size), number, base, baseline is not None, size.size
    )
    return _level_chart(
        "single values",
        size,
        constant(1, size.size),
        base,
        names,
        frozen=baseline is not None,
        companion=companion if ranges.size else None,
        n=size.size,
    )


def mean_range_chart(
    groups: Sequence[Sequence[float]] | np.ndarray,
    baseline: BaselineLike | None = None,
    signals: Iterable[str] = HANDBOOK_SIGNALS,
) -> Chart:
    """Return the chart of group means, with the chart of ranges as its companion.

    Parameters
    ----------
    groups : array_like (k, m) or sequence of sequences
        Groups of pieces made one after another; group sizes may vary.
    baseline : Baseline, mapping, Chart or array_like, optional
        Limits kept from earlier groups, or those groups.
    signals : iterable of str
        What to look for in the means.

    Returns
    -------
    Chart

    Raises
    ------
    NotEnoughData
        Without a baseline: groups under two pieces, or all ranges zero.

    Notes
    -----
    The sd is the best weighted mean of range / d2 (for equal groups: mean range / d2). Groups of more than
    about ten waste what ranges know: take the mean and sd chart.

    References
    ----------
    ISO 7870-2; I. W. Burr, J. Quality Technology 1 (1969) for varying group sizes (from memory).
    """
    rows = grouped(groups)
    count = np.array([row.size for row in rows])
    ranges = np.array([np.ptp(row) for row in rows])
    factor = np.array([chart_constants(size).d2 for size in count.tolist()])
    scatter = np.array([chart_constants(size).d3 for size in count.tolist()])
    base = _group_baseline(rows, ranges, factor, scatter, baseline, mean_range_chart, "mean range / d2")
    number = np.arange(1, len(rows) + 1)
    companion = _spread_chart("ranges", ranges, count, number, base, baseline is not None, int(count.sum()))
    return _mean_chart(rows, count, base, check_names(signals), baseline is not None, companion)


def mean_sd_chart(
    groups: Sequence[Sequence[float]] | np.ndarray,
    baseline: BaselineLike | None = None,
    signals: Iterable[str] = HANDBOOK_SIGNALS,
) -> Chart:
    """Return the chart of group means, with the chart of standard deviations as its companion.

    Parameters
    ----------
    groups : array_like (k, m) or sequence of sequences
        Groups of pieces made one after another; group sizes may vary.
    baseline : Baseline, mapping, Chart or array_like, optional
        Limits kept from earlier groups, or those groups.
    signals : iterable of str
        What to look for in the means.

    Returns
    -------
    Chart

    Raises
    ------
    NotEnoughData
        Without a baseline: groups under two pieces, or all alike.

    Notes
    -----
    The sd is the best weighted mean of s / c4 (for equal groups: mean s / c4). Limits of each point follow its
    own group size.

    References
    ----------
    ISO 7870-2; I. W. Burr, J. Quality Technology 1 (1969) for varying group sizes (from memory).
    """
    rows = grouped(groups)
    count = np.array([row.size for row in rows])
    sds = np.array([np.std(row, ddof=1) for row in rows])
    factor = np.array([mean_sd_factor(size) for size in count.tolist()])
    base = _group_baseline(rows, sds, factor, np.sqrt(1 - factor**2), baseline, mean_sd_chart, "mean sd / c4")
    spread = base.sd * np.sqrt(1 - factor**2)
    centre = factor * base.sd
    number = np.arange(1, len(rows) + 1)
    companion = _limits_chart(
        "standard deviations",
        sds,
        centre,
        np.maximum(centre - 3 * spread, 0.0),
        centre + 3 * spread,
        number,
        base,
        baseline is not None,
        int(count.sum()),
    )
    return _mean_chart(rows, count, base, check_names(signals), baseline is not None, companion)


def deviation_chart(
    sizes: Sequence[float] | np.ndarray,
    nominal: Sequence[float] | np.ndarray,
    baseline: BaselineLike | None = None,
    signals: Iterable[str] = HANDBOOK_SIGNALS,
) -> Chart:
    """Return the single-value chart of deviations from target, for short runs over different nominals.

    Parameters
    ----------
    sizes, nominal : array_like, shape (n,)
        Sizes in order of making and the size aimed at for each.
    baseline : Baseline, mapping, Chart or array_like, optional
        Limits kept from earlier pieces, or those pieces.
    signals : iterable of str
        What to look for.

    Returns
    -------
    Chart

    Notes
    -----
    Takes the same spread for all nominals; where spread grows with size take `standardised_chart`.

    References
    ----------
    Short-run charts: D. J. Wheeler, *Short Run SPC* (1991); Montgomery, chapter on short runs (from memory).
    """
    size = finite_sizes(sizes)
    chart = individuals_chart(size - one_each(nominal, "nominal", size.size), baseline, signals)
    return replace(chart, kind="deviations from target")


def standardised_chart(
    sizes: Sequence[float] | np.ndarray,
    nominal: Sequence[float] | np.ndarray,
    sd: Sequence[float] | np.ndarray,
    signals: Iterable[str] = HANDBOOK_SIGNALS,
) -> Chart:
    """Return the chart of (size - target) / sd, for short runs whose spreads differ too.

    Parameters
    ----------
    sizes, nominal, sd : array_like, shape (n,)
        Sizes in order of making, the size aimed at and the known sd for each.
    signals : iterable of str
        What to look for.

    Returns
    -------
    Chart
        Centre 0, limits -3 and 3; moving ranges of the standardised values beside it.

    References
    ----------
    Montgomery, *Introduction to SQC*, chapter on short runs (from memory).
    """
    size = finite_sizes(sizes)
    known = one_each(sd, "sd", size.size)
    if not np.all(known > 0):
        raise TrackerError(f"sd holds {float(known.min())!r}; give the known sd of each kind of part, above 0")
    z = (size - one_each(nominal, "nominal", size.size)) / known
    base = Baseline(centre=0.0, sd=1.0, n=size.size, group_size=1, sd_from="known sd of each kind of part")
    return replace(individuals_chart(z, base, signals), kind="standardised deviations")


def stability_chart(
    readings: Sequence[float] | np.ndarray,
    reference: float,
    sd: float | None = None,
    baseline: BaselineLike | None = None,
    signals: Iterable[str] = HANDBOOK_SIGNALS,
) -> Chart:
    """Return the chart of a gauge over time: readings of one check master, as deviations from its size.

    Parameters
    ----------
    readings : array_like, shape (n,)
        One reading of the master a day or shift, in order.
    reference : float
        Size of the master.
    sd : float, optional
        Known repeatability of the gauge; then the limits stand about a deviation of 0. Without it centre and limits
        come from the readings (or from ``baseline``) and only changes are seen, not a standing bias.
    baseline : Baseline, mapping, Chart or array_like, optional
        Limits kept from earlier readings; not together with ``sd``.
    signals : iterable of str
        What to look for.

    Returns
    -------
    Chart

    Raises
    ------
    TrackerError
        When ``sd`` is not positive, or stands beside a baseline.

    References
    ----------
    ISO 22514-7, stability of a measuring system (from memory). Test: tests/tracker/drift/test_shewhart.py.
    """
    kept, size = baseline, finite_sizes(readings, "readings")
    if sd is not None:
        if baseline is not None or not finite_number(sd, "sd") > 0:
            raise TrackerError(f"sd is {sd!r}; give a known repeatability above 0 or a baseline, not both")
        kept = Baseline(centre=0.0, sd=float(sd), n=size.size, group_size=1, sd_from="known repeatability")
    chart = individuals_chart(size - finite_number(reference, "reference"), kept, signals)
    return replace(chart, kind="deviations from the check master")


def _group_baseline(
    rows: list[np.ndarray],
    spreads: np.ndarray,
    factor: np.ndarray,
    scatter: np.ndarray,
    baseline: BaselineLike | None,
    chart: Callable[[Any], Chart],
    sd_from: str,
) -> Baseline:
    """Return centre and sd: each group's spread / factor, weighted by how well it knows the sd."""
    if baseline is not None:
        return kept_baseline(baseline, rows[0].size, chart)
    weight = (factor / scatter) ** 2
    count = sum(row.size for row in rows)
    sd = positive_sd(float(np.sum(weight * spreads / factor) / np.sum(weight)), count)
    centre = float(np.mean(np.concatenate(rows)))
    return Baseline(centre=centre, sd=sd, n=count, group_size=rows[0].size, sd_from=sd_from)


def _mean_chart(
    rows: list[np.ndarray],
    count: np.ndarray,
    base: Baseline,
    names: tuple[str, ...],
    frozen: bool,
    companion: Chart,
) -> Chart:
    means = np.array([row.mean() for row in rows])
    return _level_chart(
        "group means", means, count, base, names, frozen=frozen, companion=companion, n=int(count.sum())
    )


def _level_chart(
    kind: str,
    points: np.ndarray,
    count: np.ndarray,
    base: Baseline,
    names: tuple[str, ...],
    *,
    frozen: bool,
    companion: Chart | None,
    n: int,
) -> Chart:
    spread = base.sd / np.sqrt(count)
    few = base.n < FEW_PIECES and not (frozen and base.sd_from.startswith("known"))
    return Chart(
        kind=kind,
        points=points,
        centre=constant(base.centre, points.size),
        lower=base.centre - 3 * spread,
        upper=base.centre + 3 * spread,
        number=np.arange(1, points.size + 1),
        sd=base.sd,
        sd_from=base.sd_from,
        signals=find_signals((points - base.centre) / spread, names),
        looked_for=names,
        baseline=base,
        frozen=frozen,
        companion=companion,
        n=n,
        remark=f"Limits from {base.n} {noun(base.n, 'piece')} are themselves uncertain." if few else "",
    )


def _spread_chart(
    kind: str,
    ranges: np.ndarray,
    count: np.ndarray,
    number: np.ndarray,
    base: Baseline,
    frozen: bool,
    n: int,
) -> Chart:
    """Return a chart of ranges over ``count`` pieces each."""
    sizes = count.astype(int).tolist()
    too_large = max(sizes, default=2)
    if too_large > LARGEST:
        raise TrackerError(f"a group has {too_large} pieces; ranges serve up to {LARGEST}: take mean_sd_chart")
    centre = base.sd * np.array([chart_constants(size).d2 for size in sizes])
    low = np.array([chart_constants(size).D3 for size in sizes])
    high = np.array([chart_constants(size).D4 for size in sizes])
    return _limits_chart(kind, ranges, centre, low * centre, high * centre, number, base, frozen, n)


def _limits_chart(
    kind: str,
    points: np.ndarray,
    centre: np.ndarray,
    lower: np.ndarray,
    upper: np.ndarray,
    number: np.ndarray,
    base: Baseline,
    frozen: bool,
    n: int,
) -> Chart:
    """Return a chart of spread, in which only points beyond the limits are signals."""
    found = []
    for i in np.flatnonzero((points > upper) | (points < lower)).tolist():
        at = int(number[i])
        side = "upper" if points[i] > upper[i] else "lower"
        words = f"{BEYOND_3} ({side} side), {where(at, at)}"
        found.append(Signal(name=BEYOND_3, first=at, last=at, words=words))
    return Chart(
        kind=kind,
        points=points,
        centre=centre,
        lower=lower,
        upper=upper,
        number=number,
        sd=base.sd,
        sd_from=base.sd_from,
        signals=tuple(found),
        looked_for=(BEYOND_3,),
        baseline=base,
        frozen=frozen,
        companion=None,
        n=n,
    )
