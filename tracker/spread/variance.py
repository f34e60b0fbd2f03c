"""Readings within pieces taken apart: pieces differ, form, and the gauge's own repeatability."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import NotEnoughData, TrackerError
from tracker.result import Interval, Result
from tracker.spread.arguments import Array, IntArray, checked_confidence, count, numbers, whole_number
from tracker.spread.grouped import GroupedSums, run_sums
from tracker.spread.mean_squares import Term, chi_square_reach, combined_interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Components(Result):
    """Standard deviations that make up a reading, in the unit of the readings.

    ``within_sd`` is everything within a piece: form and repeatability together. ``ratio`` is the variance between
    pieces over the variance within, ``share_between`` its share of the sum (intraclass correlation).
    ``reasons`` says, under its name, why an entry is None or 0.
    """

    between_sd: Interval
    within_sd: Interval
    form_sd: Interval | None
    repeatability_sd: Interval | None
    ratio: Interval
    share_between: Interval
    mean: float
    pieces: int
    readings: int
    dof_between: int
    dof_within: int
    balanced: bool
    method: str
    reasons: dict[str, str]

    def __str__(self) -> str:
        parts = [f"between pieces {self.between_sd}", f"within a piece {self.within_sd}"]
        if self.form_sd is not None and self.repeatability_sd is not None:
            parts += [f"form {self.form_sd}", f"repeatability {self.repeatability_sd}"]
        words = "sd " + ", ".join(parts)
        words += f"; {self.method}, {count(self.pieces, 'piece')}, {count(self.readings, 'reading')}"
        return words + "".join(f". {reason}" for reason in self.reasons.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Stratum(Result):
    """A mean square of the nested analysis: its value, degrees of freedom and readings per mean."""

    mean_square: float
    dof: int

    def term(self, weight: float) -> Term:
        """Return it as a term of a sum."""
        return Term(weight=weight, mean_square=self.mean_square, dof=self.dof)

    def __str__(self) -> str:
        return f"mean square {self.mean_square:.6g} on {self.dof} degrees of freedom"


def components(
    values: Any, piece: Any, position: Any = None, confidence: float = 0.95, *, fitted: int = 0
) -> Components:
    """Return how much of the spread of readings lies between pieces, in their form, and in the gauge.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Readings.
    piece : array_like, shape (n,)
        Which piece each belongs to.
    position : array_like, shape (n,), optional
        Where on the piece it was taken; with repeats at a position, form and repeatability are told apart.
    confidence : float
        Of the intervals.
    fitted : int
        How many constants were fitted to the readings and taken off them before, such as the levels of operators: so
        many degrees of freedom fewer stand behind what lies within pieces (mean squares and intervals; restricted
        maximum likelihood takes no notice of them).

    Returns
    -------
    Components

    Raises
    ------
    NotEnoughData
        If there are fewer than two pieces, or no piece was read twice.
    TrackerError
        If the arrays differ in length or a reading is not finite.

    Notes
    -----
    One-way (or nested) random effects, assumed normal and independent. Balanced readings: mean squares (ANOVA);
    a negative estimate is reported as 0 with the reason. Unbalanced: restricted maximum likelihood. Intervals:
    chi-square for the repeats, modified large sample for differences of mean squares, F for the ratio; exact or
    nearly so when balanced, and with unweighted mean squares and harmonic means (approximate) when not.
    Positions are taken as drawn at random; a taper common to all pieces counts as form.

    References
    ----------
    Searle, Casella, McCulloch, Variance Components (1992), chapters 3 and 6; Ting, Burdick, Graybill, Jeyaratnam, Lu,
    J. Statistical Computation and Simulation 35 (1990) 135-143; Burdick & Graybill, Confidence Intervals on Variance
    Components (1992), sections 3.2, 3.3 and 4.2. Tests: ``tests/published/test_spread_components.py``.
    """
    checked_confidence(confidence)
    value, piece_code, position_code = _checked(values, piece, position)
    layout = _Layout(value, piece_code, position_code, whole_number(fitted, "fitted", 0))
    reasons: dict[str, str] = {}
    if layout.nested:
        return _nested(layout, confidence, reasons)
    if position is not None:
        what = "no position was read twice" if layout.repeat.dof == 0 else "no piece was read at two positions"
        reasons["form_sd"] = f"{what}, so form and repeatability cannot be told apart"
    return _one_way(layout, confidence, reasons)


class _Layout:
    """Readings sorted by piece and position, with sums by cell and by piece, and the mean squares."""

    def __init__(self, value: Array, piece: IntArray, position: IntArray, fitted: int = 0) -> None:
        order = np.lexsort((position, piece))
        value, piece, position = value[order], piece[order], position[order]
        new_piece = np.r_[True, piece[1:] != piece[:-1]]
        new_cell = new_piece | np.r_[True, position[1:] != position[:-1]]
        self.value, self.total = value, int(value.size)
        self.piece = run_sums(value, np.flatnonzero(new_piece))
        self.cell = run_sums(value, np.flatnonzero(new_cell))
        self.cell_piece = (np.cumsum(new_piece) - 1)[new_cell]
        self.starts = np.flatnonzero(np.r_[True, self.cell_piece[1:] != self.cell_piece[:-1]])
        self.positions = run_sums(self.cell.mean, self.starts)
        self.pieces = int(self.piece.n.size)
        repeat_dof = max(int((self.cell.n - 1).sum()) - fitted, 0)
        form_dof = int((self.positions.n - 1).sum())
        self.nested = repeat_dof > 0 and form_dof > 0
        self.repeat = Stratum(mean_square=float(self.cell.ss.sum()) / max(repeat_dof, 1), dof=repeat_dof)
        self.cell_readings = _harmonic(self.cell.n)
        self.piece_positions = _harmonic(self.positions.n)
        form = float(self.positions.ss.sum()) * self.cell_readings / max(form_dof, 1)
        self.form = Stratum(mean_square=form, dof=form_dof)
        within_dof = max(int((self.piece.n - 1).sum()) - fitted, 0)
        self.within = Stratum(mean_square=float(self.piece.ss.sum()) / max(within_dof, 1), dof=within_dof)
        self.piece_readings = _harmonic(self.piece.n)

    @property
    def balanced(self) -> bool:
        """Whether all pieces have as many positions, and all positions as many readings."""
        even = bool((self.piece.n == self.piece.n[0]).all())
        if not self.nested:
            return even
        return bool((self.cell.n == self.cell.n[0]).all() and (self.positions.n == self.positions.n[0]).all())

    def between(self, means: Array, readings: float) -> Stratum:
        """Return the mean square between pieces from their (unweighted) means."""
        spread = run_sums(means, np.zeros(1, dtype=np.int64))
        dof = self.pieces - 1
        return Stratum(mean_square=float(spread.ss[0]) * readings / dof, dof=dof)


def _one_way(layout: _Layout, confidence: float, reasons: dict[str, str]) -> Components:
    """Return the two components of readings within pieces."""
    if layout.within.dof == 0:
        raise NotEnoughData(
            f"{count(layout.pieces, 'piece')}, one reading each; pieces and gauge can be told apart only when "
            "pieces are read twice or more: read each piece again"
        )
    k = layout.piece_readings
    between = layout.between(layout.piece.mean, k)
    within = layout.within
    if layout.balanced:
        between_var, within_var = (between.mean_square - within.mean_square) / k, within.mean_square
        method = "ANOVA"
    else:
        between_var, within_var = reml_one_way(layout.piece)
        method = "REML, intervals approximate: 93 to 96 % where 95 % is asked"
    between_sd = _root(between_var, difference_interval(between, within, k, confidence), confidence)
    if between_var <= 0:
        reasons["between_sd"] = _negative("pieces", between, within, "readings within a piece")
    ratio = ratio_interval(between, within, k, between_var, within_var, confidence)
    within_sd = _root(within_var, chi_square_reach(within.mean_square, within.dof, confidence), confidence)
    return Components(
        between_sd=between_sd,
        within_sd=within_sd,
        form_sd=None,
        repeatability_sd=None if "form_sd" in reasons and layout.repeat.dof == 0 else within_sd,
        ratio=ratio,
        share_between=_share_of(ratio),
        mean=_grand_mean(layout),
        pieces=layout.pieces,
        readings=layout.total,
        dof_between=between.dof,
        dof_within=within.dof,
        balanced=layout.balanced,
        method=method,
        reasons=reasons,
    )


def _nested(layout: _Layout, confidence: float, reasons: dict[str, str]) -> Components:
    """Return the three components of repeats within positions within pieces."""
    r, m = layout.cell_readings, layout.piece_positions
    repeat, form = layout.repeat, layout.form
    between = layout.between(layout.positions.mean, m * r)
    if layout.balanced:
        repeat_var = repeat.mean_square
        form_var = (form.mean_square - repeat.mean_square) / r
        between_var = (between.mean_square - form.mean_square) / (m * r)
        if form_var < 0:
            # Form is then no part of the model: it is pooled with the repeats before pieces are judged.
            pooled = _pooled(form, repeat)
            between_var = (between.mean_square - pooled.mean_square) / (m * r)
        method = "nested ANOVA"
    else:
        between_var, form_var, repeat_var = reml_nested(layout.cell, layout.starts)
        method = "nested REML, intervals approximate: 93 to 96 % where 95 % is asked"
    if form_var <= 0:
        reasons["form_sd"] = _negative("positions", form, repeat, "repeats at a position")
    if between_var <= 0:
        reasons["between_sd"] = _negative("pieces", between, form, "positions within a piece")
    low, high = combined_interval([form.term(1 / r), repeat.term(1 - 1 / r)], confidence)
    within_var = max(form_var, 0.0) + repeat_var
    ratio = ratio_interval(between, form, m * r, between_var, within_var, confidence)
    return Components(
        between_sd=_root(between_var, difference_interval(between, form, m * r, confidence), confidence),
        within_sd=_root(within_var, (low, high), confidence),
        form_sd=_root(form_var, difference_interval(form, repeat, r, confidence), confidence),
        repeatability_sd=_root(repeat_var, chi_square_reach(repeat.mean_square, repeat.dof, confidence), confidence),
        ratio=ratio,
        share_between=_share_of(ratio),
        mean=_grand_mean(layout),
        pieces=layout.pieces,
        readings=layout.total,
        dof_between=between.dof,
        dof_within=layout.within.dof,
        balanced=layout.balanced,
        method=method,
        reasons=reasons,
    )


def difference_interval(upper: Stratum, lower: Stratum, k: float, confidence: float) -> tuple[float, float]:
    """Return the interval of a variance component (upper - lower mean square) / k."""
    return combined_interval([upper.term(1 / k), lower.term(-1 / k)], confidence)


def ratio_interval(
    upper: Stratum, lower: Stratum, k: float, between: float, within: float, confidence: float
) -> Interval:
    """Return the ratio of two components with its F interval (exact for balanced one-way readings)."""
    if within <= 0 or lower.mean_square <= 0:
        reason = math.inf if between > 0 else 0.0
        return Interval(reason, 0.0, math.inf, confidence)
    tail = (1 - confidence) / 2
    f = upper.mean_square / lower.mean_square
    low = max((f / float(special.fdtri(upper.dof, lower.dof, 1 - tail)) - 1) / k, 0.0)
    high = max((f / float(special.fdtri(upper.dof, lower.dof, tail)) - 1) / k, 0.0)
    estimate = max(between, 0.0) / within
    return Interval(estimate, min(low, estimate), max(high, estimate), confidence)


def reml_one_way(sums: GroupedSums) -> tuple[float, float]:
    """Return the variances between and within groups by restricted maximum likelihood.

    Parameters
    ----------
    sums : GroupedSums
        One entry a piece.
    """
    from scipy import optimize

    total = int(sums.n.sum())
    within = float(sums.ss.sum())
    scale = within / max(total - sums.n.size, 1)
    if scale == 0:
        return float(np.var(sums.mean, ddof=1)), 0.0

    def criterion(ratio: float) -> float:
        return _reml_criterion(sums.n, sums.mean, within, total, ratio)[0]

    found = optimize.minimize_scalar(
        lambda u: criterion(u / (1 - u)), bounds=(0.0, 1 - 1e-9), method="bounded", options={"xatol": 1e-12}
    )
    ratio = float(found.x) / (1 - float(found.x))
    if criterion(0.0) <= criterion(ratio):
        ratio = 0.0
    variance = _reml_criterion(sums.n, sums.mean, within, total, ratio)[1]
    return ratio * variance, variance


def reml_nested(cell: GroupedSums, starts: IntArray) -> tuple[float, float, float]:
    """Return the variances between pieces, of form, and of repeats by restricted maximum likelihood.

    Parameters
    ----------
    cell : GroupedSums
        One entry a position of a piece, sorted by piece.
    starts : ndarray of int
        Where each piece starts in it.
    """
    from scipy import optimize

    total = int(cell.n.sum())
    within = float(cell.ss.sum())
    if within == 0:
        raise NotEnoughData("repeats at a position never differ; the gauge's step hides its repeatability")

    def criterion(point: Array) -> float:
        return _nested_criterion(cell, starts, within, total, np.square(point))[0]

    best: Any = None
    for start in ([1.0, 1.0], [0.1, 1.0], [1.0, 0.1], [3.0, 3.0]):
        found = optimize.minimize(criterion, start, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11})
        if best is None or found.fun < best.fun:
            best = found
    ratios = np.square(best.x)
    ratios[ratios < 1e-12] = 0.0
    variance = _nested_criterion(cell, starts, within, total, ratios)[1]
    return float(ratios[0] * variance), float(ratios[1] * variance), variance


def _reml_criterion(n: IntArray, mean: Array, within: float, total: int, ratio: float) -> tuple[float, float]:
    """Return -2 log restricted likelihood, profiled over the inner variance, and that variance."""
    weight = n / (1 + n * ratio)
    centre = float(weight @ mean) / float(weight.sum())
    squares = within + float(weight @ (mean - centre) ** 2)
    variance = squares / (total - 1)
    value = (total - 1) * (math.log(2 * math.pi * variance) + 1)
    return value + float(np.log1p(n * ratio).sum()) + math.log(float(weight.sum())), variance


def _nested_criterion(
    cell: GroupedSums, starts: IntArray, within: float, total: int, ratios: Array
) -> tuple[float, float]:
    """Return the same with form nested in pieces; ``ratios`` are piece and form variance over that of repeats."""
    weight = cell.n / (1 + cell.n * ratios[1])
    per_piece = np.add.reduceat(weight, starts)
    mean = np.add.reduceat(weight * cell.mean, starts) / per_piece
    about = cell.mean - np.repeat(mean, np.diff(np.append(starts, cell.n.size)))
    inside = float(weight @ about**2)
    outer = per_piece / (1 + per_piece * ratios[0])
    centre = float(outer @ mean) / float(outer.sum())
    variance = (within + inside + float(outer @ (mean - centre) ** 2)) / (total - 1)
    value = (total - 1) * (math.log(2 * math.pi * variance) + 1)
    value += float(np.log1p(cell.n * ratios[1]).sum()) + float(np.log1p(per_piece * ratios[0]).sum())
    return value + math.log(float(outer.sum())), variance


def _checked(values: Any, piece: Any, position: Any) -> tuple[Array, IntArray, IntArray]:
    """Return readings with piece and position numbers."""
    value = numbers(values, "readings")
    labels = np.asarray(piece)
    if value.ndim != 1 or labels.shape != value.shape:
        raise TrackerError(f"{value.shape} readings and {labels.shape} pieces; accepted is one piece a reading")
    if not np.isfinite(value).all():
        first = int(np.flatnonzero(~np.isfinite(value))[0])
        raise TrackerError(f"reading {first + 1} is {value[first]}; leave out readings without a value")
    codes = np.unique(labels, return_inverse=True)[1]
    if value.size == 0 or int(codes.max()) == 0:
        number = 0 if value.size == 0 else 1
        raise NotEnoughData(f"{count(number, 'piece')} measured; how pieces differ needs at least 2 pieces")
    if position is None:
        return value, codes, np.zeros(value.size, dtype=np.int64)
    spots = np.asarray(position)
    if spots.shape != value.shape:
        raise TrackerError(f"{value.shape} readings and {spots.shape} positions; accepted is one position a reading")
    return value, codes, np.unique(spots, return_inverse=True)[1]


def _grand_mean(layout: _Layout) -> float:
    """Return the mean of all readings."""
    return float(run_sums(layout.value, np.zeros(1, dtype=np.int64)).mean[0])


def _harmonic(n: IntArray) -> float:
    """Return the harmonic mean of counts."""
    return float(n.size / (1.0 / n).sum())


def _pooled(one: Stratum, other: Stratum) -> Stratum:
    """Return two mean squares as one."""
    dof = one.dof + other.dof
    return Stratum(mean_square=(one.mean_square * one.dof + other.mean_square * other.dof) / dof, dof=dof)


def _root(variance: float, bounds: tuple[float, float], confidence: float) -> Interval:
    """Return a standard deviation with its interval, negative variances as 0."""
    estimate, low, high = (math.sqrt(max(v, 0.0)) for v in (variance, *bounds))
    return Interval(estimate, min(low, estimate), max(high, estimate), confidence)


def _share_of(ratio: Interval) -> Interval:
    """Return ratio/(1 + ratio)."""
    estimate, low, high = (1.0 if math.isinf(v) else v / (1 + v) for v in (ratio.estimate, ratio.low, ratio.high))
    return Interval(estimate, low, high, ratio.confidence)


def _negative(what: str, upper: Stratum, lower: Stratum, noise: str) -> str:
    """Return why a component is reported as 0."""
    return (
        f"{what} differ no more than {noise} explain (mean squares {upper.mean_square:.3g} and "
        f"{lower.mean_square:.3g}), so that component is given as 0"
    )
