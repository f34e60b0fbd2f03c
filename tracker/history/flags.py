"""Flags of drift: within a batch along the order of making, and of a batch against those before and after it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.history.cells import codes_of
from tracker.history.series import Series
from tracker.result import Result
from tracker.spread.arguments import Array, IntArray
from tracker.spread.many import mean_moving_ranges

LEAST_PIECES = 5
LEAST_BATCHES = 8
TREND_P = 0.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flags(Result):
    """Drift of each series, arrays of shape (series,).

    Attributes
    ----------
    slope : ndarray of float
        Change of size a piece, least squares on the place in the order of making; 0 where it cannot be told.
    slope_p : ndarray of float
        Two-sided t test that it is not zero; 1 where it cannot be told (under 5 pieces).
    trend : ndarray of bool
        ``slope_p`` under 0.01.
    beyond : ndarray of int
        Pieces farther than 3 sd (mean moving range) from the batch's mean; 0 under 5 pieces.
    off : ndarray of bool
        The batch's mean lies farther than 3 sd from the others of the same part, feature and machine, sd by the mean
        moving range of the means, where there are 8 batches or more.
    """

    slope: Array
    slope_p: Array
    trend: np.ndarray
    beyond: IntArray
    off: np.ndarray

    @property
    def any(self) -> np.ndarray:
        """Whether anything is flagged, shape (series,)."""
        return np.asarray(self.trend | (self.beyond > 0) | self.off)

    def __str__(self) -> str:
        return (
            f"{int(self.trend.sum()):,} batches with a trend, {int((self.beyond > 0).sum()):,} with a piece far off,"
            f" {int(self.off.sum()):,} whose mean is far off, of {self.trend.size:,}"
        )

    def row(self, at: int) -> dict[str, Any]:
        """Return the flags of one series as plain data."""
        return {
            "slope": float(self.slope[at]),
            "slope_p": float(self.slope_p[at]),
            "drift_trend": bool(self.trend[at]),
            "drift_pieces_beyond": int(self.beyond[at]),
            "drift_mean_off": bool(self.off[at]),
            "drift": bool(self.any[at]),
        }

    def words(self, at: int) -> str:
        """Return the flags of one series in words, "" for none."""
        said = ["trend"] if self.trend[at] else []
        if self.beyond[at]:
            said.append(f"{int(self.beyond[at])} far off")
        if self.off[at]:
            said.append("mean off")
        return ", ".join(said)


def drift_flags(series: Series, about: dict[str, np.ndarray]) -> Flags:
    """Return the flags of drift of each series.

    Parameters
    ----------
    series : Series
    about : dict of ndarray
        Columns of the table of batches.

    Notes
    -----
    A flag asks for a look, and is no verdict: of 1,000 steady batches of normal sizes about 10 show a trend by chance,
    and limits from few pieces flag more than the 0.27 % a piece of known limits. The thresholds are common practice,
    no source. Pieces are taken in their order of making; events within a batch are not looked at.

    References
    ----------
    Regression t test: any text; the test compares ``scipy.stats.linregress``. Individuals limits: ISO 7870-2 (from
    memory). Tests: ``tests/tracker/history/test_summary.py``.
    """
    sizes, n = series.sizes, series.sizes.n
    told = (n >= LEAST_PIECES) & (series.order_ss > 0)
    along = np.where(told, series.order_ss, 1.0)
    slope = np.where(told, series.order_sp / along, 0.0)
    rest = np.maximum(sizes.ss - slope * series.order_sp, 0.0)
    noise = np.sqrt(rest / np.maximum(n - 2, 1) / along)
    t = np.divide(np.abs(slope), noise, out=np.full(n.shape, np.inf), where=noise > 0)
    t = np.where(slope == 0, 0.0, t)
    p = np.where(told, 2 * special.stdtr(np.maximum(n - 2, 1), -t), 1.0)
    return Flags(
        slope=slope,
        slope_p=p,
        trend=told & (p < TREND_P),
        beyond=np.where(n >= LEAST_PIECES, series.beyond, 0),
        off=_off(series, about),
    )


def _off(series: Series, about: dict[str, np.ndarray]) -> np.ndarray:
    """Whether a batch's mean lies far from the means of its like."""
    keys = [codes_of(about[name])[series.batch] for name in ("part", "feature", "machine", "unit")]
    begun = codes_of(about["begun"])[series.batch]
    order = np.lexsort((series.split, series.batch, begun, *keys[::-1]))
    keys = [key[order] for key in keys]
    new = np.zeros(order.size, dtype=bool)
    new[:1] = True
    for key in keys:
        new[1:] |= key[1:] != key[:-1]
    like = np.cumsum(new) - 1
    batch = series.batch[order]
    aim = about["target"][batch] - about["nominal"][batch]
    mean = series.sizes.mean[order] - np.where(np.isnan(aim), 0.0, aim)
    counts = np.bincount(like)
    centre = np.bincount(like, mean) / counts
    sd = mean_moving_ranges(mean, like)
    far = (np.abs(mean - centre[like]) > 3 * sd[like]) & (sd[like] > 0) & (counts[like] >= LEAST_BATCHES)
    off = np.zeros(order.size, dtype=bool)
    off[order] = far
    return off
