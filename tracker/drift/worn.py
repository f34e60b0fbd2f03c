"""What wear means for a chart and for capability: limits about the sloped line, indices with and without drift."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from tracker.drift.chart import Baseline, Chart
from tracker.drift.signals import HANDBOOK_SIGNALS, check_names, find_signals
from tracker.drift.wear_results import WearLine
from tracker.errors import NotEnoughData
from tracker.result import Interval, Result
from tracker.spread.arguments import checked_limits
from tracker.spread.estimates import sd_factors
from tracker.spread.indices import index_interval
from tracker.spread.process import Capability, capability, nearest_index


@dataclass(frozen=True, slots=True, kw_only=True)
class WornCapability(Result):
    """Capability both ways: with the drift in it, and about the line.

    Attributes
    ----------
    with_drift : Capability
        Of all pieces as they lie.
    width_about_line : Interval or None
        Width of the limits over 6 sd about the line (None with one limit): what the process could do were
        the wear taken up.
    nearest_now : Interval
        Distance of the line at the last piece to the nearer limit over 3 sd about the line: where it
        stands now.
    """

    with_drift: Capability
    width_about_line: Interval | None
    nearest_now: Interval
    n: int
    method: str

    def __str__(self) -> str:
        """Say all ways in one sentence."""
        text = f"With the drift in it Ppk is {self.with_drift.ppk.estimate:.2f}"
        if self.width_about_line is not None:
            text += f"; about the line Pp would be {self.width_about_line.estimate:.2f}"
        return (
            f"{text}; at the last piece the nearer limit is {self.nearest_now.estimate:.2f} times 3 sd away (between "
            f"{self.nearest_now.low:.2f} and {self.nearest_now.high:.2f}; {self.n} pieces, {self.method})."
        )


def wear_chart(line: WearLine, signals: Iterable[str] = HANDBOOK_SIGNALS) -> Chart:
    """Return the chart of single values about the sloped line of wear.

    Parameters
    ----------
    line : WearLine
        The line with its pieces.
    signals : iterable of str
        What to look for in the distances from the line.

    Returns
    -------
    Chart
        Centre and limits slope with the line and jump at events.

    Raises
    ------
    NotEnoughData
        When the pieces lie exactly on the line: there is no spread for limits.

    Notes
    -----
    Limits are 3 sd about the line. The pieces made the line, so they lie a little closer to it than new ones will.

    References
    ----------
    Trend charts: Montgomery, *Introduction to SQC*, chapter on tool wear (from memory).
    Test: tests/tracker/drift/test_worn.py.
    """
    names = check_names(signals)
    sd = line.sd.estimate
    if not sd > 0:
        raise NotEnoughData("all pieces lie exactly on the line, so there is no spread for limits; read finer")
    sd_from = "distances from the line of wear"
    return Chart(
        kind="single values about the line of wear",
        points=line.size,
        centre=line.band.line,
        lower=line.band.line - 3 * sd,
        upper=line.band.line + 3 * sd,
        number=np.arange(1, line.n + 1),
        sd=sd,
        sd_from=sd_from,
        signals=find_signals(line.residual / sd, names),
        looked_for=names,
        baseline=Baseline(centre=float(line.band.line[-1]), sd=sd, n=line.n, group_size=1, sd_from=sd_from),
        frozen=False,
        companion=None,
        n=line.n,
    )


def worn_capability(line: WearLine, lower: float | None = None, upper: float | None = None) -> WornCapability:
    """Return capability with the drift in it and about the line.

    Parameters
    ----------
    line : WearLine
        The line with its pieces.
    lower, upper : float, optional
        Limits of size, those of the line when not given; at least one.

    Returns
    -------
    WornCapability

    Raises
    ------
    NotEnoughData
        When the pieces lie exactly on the line.

    Notes
    -----
    "With the drift" treats sizes spread out by wear as one normal batch, which overstates the tails somewhat. About
    the line the degrees of freedom are those of the line; the mean at the last piece is worth
    1 / (1/n + distance² / sum of squares) pieces.

    References
    ----------
    ISO 22514-2 (from memory); intervals as in `tracker.spread.indices`. Test: tests/tracker/drift/test_worn.py.
    """
    low = line.lower if lower is None else lower
    high = line.upper if upper is None else upper
    bottom, top = checked_limits(low, high)
    sd = line.sd.estimate
    if not sd > 0:
        raise NotEnoughData("all pieces lie exactly on the line, so there is no spread to compare with; read finer")
    width = None
    if np.isfinite(bottom) and np.isfinite(top):
        shrink, stretch = sd_factors(line.dof, line.confidence)
        point = (top - bottom) / (6 * sd)
        width = Interval(point, point / stretch, point / shrink, line.confidence)
    away = float(line.order[-1]) - line.last_run_mean_order
    mean = float(line.band.line[-1])
    pieces = 1 / (1 / line.last_run_n + away**2 / line.slope_sxx)
    ends = index_interval(mean, sd, pieces, line.dof, bottom, top, line.confidence)
    return WornCapability(
        with_drift=capability(line.size, low, high, confidence=line.confidence),
        width_about_line=width,
        nearest_now=Interval(
            float(nearest_index(mean, sd, bottom, top)), float(ends[0]), float(ends[1]), line.confidence
        ),
        n=line.n,
        method="normal, indices about the line with its degrees of freedom",
    )
