"""What a wear line says: its runs, its band, and the answer in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.drift.breaks import Departure
from tracker.result import Interval, Result
from tracker.spread.arguments import count


@dataclass(frozen=True, slots=True, kw_only=True)
class WearRun(Result):
    """The pieces between two events.

    Attributes
    ----------
    first, last : float
        Order numbers of its first and last piece.
    event : str or None
        What begins it (None: the start of the batch).
    n : int
        Pieces in it.
    slope : Interval or None
        Its own slope a piece, with the sd pooled over runs (None under two pieces, see ``reason``).
    sd : float or None
        Its own standard deviation about its own line (None under three pieces).
    first_on_line, last_on_line : float
        The size that the line in use gives for its first and last piece.
    jump : Interval or None
        How far the event moved the size, wear taken out (None for the first run, or see ``reason``).
    reason : str
        Why something is None; empty when nothing is missing.
    """

    first: float
    last: float
    event: str | None
    n: int
    slope: Interval | None
    sd: float | None
    first_on_line: float
    last_on_line: float
    jump: Interval | None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WearBand(Result):
    """The line and the band for single pieces, at each order number asked for (arrays of one length)."""

    order: np.ndarray
    line: np.ndarray
    low: np.ndarray
    high: np.ndarray
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WearLine(Result):
    """Size against the order of making.

    Attributes
    ----------
    slope : Interval
        Change of size a piece that is used to look ahead; ``slope_from`` says which slope it is.
    intercept : Interval
        Size of the last run's line at order 0.
    sd : Interval
        Standard deviation of pieces about the line.
    p_value : float
        Chance of a slope at least this far from zero, had there been no wear.
    robust_slope : Interval
        Median of the slopes between pieces of one run.
    seen : bool
        Whether wear shows: ``p_value`` under 1 - confidence.
    runs : tuple of WearRun
    slopes_differ_p : float or None
        p-value of the test that all runs share one slope (None: one run, or too few pieces).
    one_slope_assumed : str
        What it means that one slope is taken for all runs, in words; empty where it is not.
    departure : Departure or None
        A jump without an event, or a curve, that the pieces surely show; pieces left are then withheld.
    pieces_left : int or None
        Further pieces whose mean line still lies within the limit that wear moves towards.
    pieces_left_safe : int or None
        Further pieces of which each one lies, with ``confidence``, within the limit.
    reason : str
        Why ``pieces_left`` or ``pieces_left_safe`` is None or stands against the other limit; else empty.
    n, dof : int
        Pieces, and degrees of freedom of ``sd``.
    order, size, residual : ndarray
        The pieces in order of making, and their distance from the line.
    """

    slope: Interval
    slope_from: str
    intercept: Interval
    sd: Interval
    p_value: float
    robust_slope: Interval
    seen: bool
    runs: tuple[WearRun, ...]
    slopes_differ_p: float | None
    one_slope_assumed: str
    departure: Departure | None
    pieces_left: int | None
    pieces_left_safe: int | None
    reason: str
    lower: float | None
    upper: float | None
    confidence: float
    n: int
    dof: int
    method: str
    robust_method: str
    order: np.ndarray
    size: np.ndarray
    residual: np.ndarray
    band: WearBand
    last_run_n: int
    last_run_mean_order: float
    last_run_mean_size: float
    slope_sxx: float

    def predict(self, order: float | Sequence[float] | np.ndarray, confidence: float | None = None) -> WearBand:
        """Return the last run's line and the band for a single piece at the given order numbers.

        Parameters
        ----------
        order : array_like
            Order numbers, also beyond the last piece.
        confidence : float, optional
            Of the two-sided band; that of the result when not given.

        Returns
        -------
        WearBand
        """
        share = self.confidence if confidence is None else confidence
        x = np.atleast_1d(np.asarray(order, dtype=float))
        half = float(special.stdtrit(self.dof, 0.5 + share / 2)) * self._piece_se(x)
        line = self.last_run_mean_size + self.slope.estimate * (x - self.last_run_mean_order)
        return WearBand(order=x, line=line, low=line - half, high=line + half, confidence=share)

    @property
    def hidden(self) -> float:
        """The largest wear a piece that these pieces do not rule out."""
        return max(abs(self.slope.low), abs(self.slope.high))

    @property
    def hidden_in_twice(self) -> float:
        """Half the interval of a slope from twice as many pieces, made one after another, with the same scatter."""
        m = 2 * self.n
        quantile = float(special.stdtrit(m - 2, 0.5 + self.confidence / 2))
        return quantile * self.sd.estimate / math.sqrt(m * (m * m - 1) / 12)

    @property
    def past(self) -> bool:
        """Whether the line at the last piece is already past the limit that size moves towards."""
        limit = self.upper if self.slope.estimate > 0 else self.lower
        if limit is None or self.pieces_left != 0:
            return False
        now = float(self.band.line[-1])
        return now > limit if self.slope.estimate > 0 else now < limit

    def _last_by_itself(self) -> str:
        last = self.runs[-1]
        if last.slope is None:
            pieces = "one piece gives" if last.n == 1 else f"{last.n} pieces give"
            return f"Its {pieces} no slope of their own."
        own = last.slope
        return f"By itself the last run moves by {own.estimate:.3g} a piece ({own.low:.3g} to {own.high:.3g})."

    def _piece_se(self, x: np.ndarray) -> np.ndarray:
        away = x - self.last_run_mean_order
        return self.sd.estimate * np.sqrt(1.0 + 1.0 / self.last_run_n + away * away / self.slope_sxx)

    def __str__(self) -> str:
        """Say what the wear is and what it means."""
        return self.words

    @property
    def words(self) -> str:
        """The answer in plain words; numbers in the unit of the sizes."""
        share = f"{self.confidence:.0%}".replace("%", " %")
        low, high = self.slope.low, self.slope.high
        if self.seen and self.slope.estimate < 0:
            low, high = -high, -low
        ends = f"between {low:.3g} and {high:.3g}, {share}"
        if self.seen:
            how = "falls" if self.slope.estimate < 0 else "grows"
            text = f"Size {how} by {abs(self.slope.estimate):.3g} a piece ({ends}"
        else:
            text = f"No wear can be seen: the slope is {self.slope.estimate:.3g} a piece ({ends}"
        text += f"; {self.slope_from}; {self.n} pieces, {self.method})."
        if not self.seen and self.hidden > 0:
            text += f" A wear of up to {self.hidden:.3g} a piece could hide in {self.n} pieces"
            text += f"; {2 * self.n} made one after another would show one of {self.hidden_in_twice:.2g}."
        if self.one_slope_assumed:
            text += f" {self.one_slope_assumed} {self._last_by_itself()}"
        if self.departure is not None:
            text += f" But the pieces do not follow the line: {self.departure}."
        if self.past:
            text += " The mean is already past the limit."
        elif self.pieces_left == 0:
            text += " The mean of the next piece is already beyond the limit."
        elif self.pieces_left is not None:
            text += f" The mean reaches the limit after {count(self.pieces_left, 'more piece')}."
        if self.pieces_left_safe == 0:
            text += f" Not even the next piece is, with {share}, within it."
        elif self.pieces_left_safe == 1:
            text += f" The next piece is, with {share} or more, still within it."
        elif self.pieces_left_safe is not None:
            text += f" Each of the next {self.pieces_left_safe} pieces is, with {share} or more, still within it."
        if self.reason:
            text += f" {self.reason}"
        return text
