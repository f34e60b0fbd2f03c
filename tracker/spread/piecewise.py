"""From readings to one number a piece, as arrays: repeats averaged, positions ruled, noise taken out of extremes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tracker.result import Result
from tracker.spread.arguments import Array, IntArray
from tracker.spread.grouped import run_sums


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceSizes(Result):
    """Sizes of pieces as arrays of shape (pieces,), piece numbers as given.

    ``repeatability_sd`` is None where no position was read twice; ``form_share`` is the share of form in the
    variance of one reading at a position, None where form and gauge noise cannot be told apart.
    """

    size: Array
    uncertainty: Array
    readings: IntArray
    positions: IntArray
    within_range: Array
    minimum: Array
    maximum: Array
    shrunk: bool
    repeatability_sd: float | None
    form_sd: float | None
    form_share: float | None

    def __str__(self) -> str:
        return f"sizes of {self.size.size:,} pieces from {int(self.readings.sum()):,} readings"


def piece_sizes(
    value: Array,
    piece: IntArray,
    position: IntArray | None = None,
    *,
    rule: str = "mean",
    kind: str | None = None,
    step: float | None = None,
    pieces: int | None = None,
    shrink: bool = True,
    noise: float | None = None,
) -> PieceSizes:
    """Return sizes of pieces from arrays of readings.

    Parameters
    ----------
    value : ndarray of float, shape (n,)
        Finite readings.
    piece, position : ndarray of int, shape (n,)
        Numbers from 0; no position means one position a piece.
    rule, kind : str
        See `sizes`.
    step : float, optional
        Resolution; adds step/sqrt(12) to each uncertainty.
    pieces : int, optional
        How many pieces there are; one without a reading gets size ``inf`` and 0 readings.
    shrink : bool
        Whether to shrink positions before an extreme is taken, where form and noise can be told apart.
    noise : float, optional
        Repeatability where it is known otherwise; by default from the readings of each position.

    Returns
    -------
    PieceSizes

    Notes
    -----
    Form and repeatability are nested components, estimated by mean squares over the whole call; so pass one batch
    at a time when ``rule`` is an extreme. Shrinking assumes normal form deviations: each position becomes its
    expected true deviation given what was read, so that the largest of several noisy positions does not overstate the
    piece by the noise.

    References
    ----------
    Searle, Casella, McCulloch, Variance Components (1992), section 7.2 (prediction of random effects). Tests:
    ``tests/tracker/spread/test_sizing.py``.
    """
    value = np.asarray(value, dtype=float)
    piece = np.asarray(piece)
    total = (int(piece.max()) + 1 if piece.size else 0) if pieces is None else pieces
    if value.size == 0:
        return _no_sizes(total)
    starts, order = _cells(piece, position)
    cell = run_sums(value if order is None else value[order], starts)
    cell_piece = piece[starts] if order is None else piece[order[starts]]
    piece_starts = _changes(cell_piece)
    present = cell_piece[piece_starts]
    middle = run_sums(cell.mean, piece_starts)
    noise, form, form_share = _form_and_noise(cell.n, cell.ss, middle.n, middle.ss, piece_starts, noise)
    shrunk = False
    inverse = _reduced(np.add, 1.0 / cell.n, piece_starts)
    variance = (noise or 0.0) ** 2 * inverse / middle.n**2
    if rule in ("mean", "midrange", "median") or material_side(rule, kind) == 0:
        found = middle.mean if rule != "midrange" else middle.minimum + (middle.maximum - middle.minimum) / 2
        if rule == "median":
            found = _medians(cell.mean, cell_piece, piece_starts)
    else:
        about = cell.mean - np.repeat(middle.mean, middle.n)
        spot_variance = (noise or 0.0) ** 2 / cell.n
        if shrink and noise is not None and form is not None and bool((middle.n > 1).any()):
            shrunk = True
            weight = _ratio(form**2, form**2 + spot_variance)
            about = about * weight
            spot_variance = weight * spot_variance + (1 - weight) ** 2 * np.repeat(variance, middle.n)
        side = material_side(rule, kind)
        found, variance = _extremes(middle.mean, about, spot_variance, side, middle.n, piece_starts)
    if step is not None:
        variance = variance + step * step / 12
    piece_min = _reduced(np.minimum, cell.minimum, piece_starts)
    piece_max = _reduced(np.maximum, cell.maximum, piece_starts)
    answer = PieceSizes(
        size=found,
        uncertainty=np.sqrt(variance),
        readings=_reduced(np.add, cell.n, piece_starts),
        positions=middle.n,
        within_range=piece_max - piece_min,
        minimum=piece_min,
        maximum=piece_max,
        shrunk=shrunk,
        repeatability_sd=noise,
        form_sd=form,
        form_share=form_share,
    )
    return answer if present.size == total else _spread_out(answer, present, total)


def _spread_out(found: PieceSizes, present: IntArray, pieces: int) -> PieceSizes:
    """Return the sizes of all pieces when some have no reading."""
    empty = _no_sizes(pieces)
    filled = {}
    for name in ("size", "uncertainty", "readings", "positions", "within_range", "minimum", "maximum"):
        filled[name] = getattr(empty, name)
        filled[name][present] = getattr(found, name)
    return replace(found, **filled)


def piece_bounds(low: Array, high: Array, piece: IntArray, pieces: int) -> tuple[Array, Array]:
    """Return what several go / no-go readings of a piece leave open: the intersection of their intervals.

    A lower bound above the upper one says that the readings of that piece contradict each other.
    """
    bottom = np.full(pieces, -np.inf)
    top = np.full(pieces, np.inf)
    np.maximum.at(bottom, piece, np.where(np.isnan(low), -np.inf, low))
    np.minimum.at(top, piece, np.where(np.isnan(high), np.inf, high))
    return bottom, top


def _no_sizes(pieces: int) -> PieceSizes:
    """Return what pieces without a reading have."""
    return PieceSizes(
        size=np.full(pieces, np.inf),
        uncertainty=np.zeros(pieces),
        readings=np.zeros(pieces, dtype=np.int64),
        positions=np.zeros(pieces, dtype=np.int64),
        within_range=np.zeros(pieces),
        minimum=np.full(pieces, np.inf),
        maximum=np.full(pieces, -np.inf),
        shrunk=False,
        repeatability_sd=None,
        form_sd=None,
        form_share=None,
    )


def _cells(piece: IntArray, position: IntArray | None) -> tuple[IntArray, IntArray | None]:
    """Return where each cell (piece and position) starts, and the order of readings that puts cells together.

    The order is None where the readings already stand so: the usual case, found without sorting.
    """
    spot = None if position is None or not np.any(position) else np.asarray(position)
    starts = _changes(piece, spot)
    first = piece[starts]
    rising = first[1:] > first[:-1]
    if spot is not None:
        rising |= (first[1:] == first[:-1]) & (spot[starts][1:] > spot[starts][:-1])
    if bool(rising.all()):
        return starts, None
    order = np.argsort(piece, kind="stable") if spot is None else np.lexsort((spot, piece))
    return _changes(piece[order], None if spot is None else spot[order]), order


def _changes(labels: IntArray, others: IntArray | None = None) -> IntArray:
    """Return where runs of equal labels start, the first 0."""
    changed = labels[1:] != labels[:-1]
    if others is not None:
        changed |= others[1:] != others[:-1]
    return np.concatenate([np.zeros(1, dtype=np.int64), np.flatnonzero(changed) + 1])


def _reduced(ufunc: np.ufunc, values: Any, starts: IntArray) -> Any:
    """Return a reduction of each run of values; runs of one length are taken a column at a time."""
    length, rest = divmod(values.size, starts.size)
    if rest or length > 8 or not bool((np.diff(starts) == length).all()):
        return ufunc.reduceat(values, starts)
    answer = values[::length].copy()
    for column in range(1, length):
        ufunc(answer, values[column::length], out=answer)
    return answer


def _form_and_noise(
    cell_n: IntArray,
    cell_ss: Array,
    positions: IntArray,
    position_ss: Array,
    piece_starts: IntArray,
    noise: float | None = None,
) -> tuple[float | None, float | None, float | None]:
    """Return repeatability sd, form sd and the share of form; None where the readings cannot say."""
    noise_dof = int((cell_n - 1).sum())
    form_dof = int((positions - 1).sum())
    if noise is None and noise_dof < 1:
        return None, None, None
    noise = math.sqrt(float(cell_ss.sum()) / noise_dof) if noise is None else noise
    if form_dof < 1:
        return noise, None, None
    # Mean square of position means within pieces: form variance plus noise variance over the repeats.
    per_piece = _reduced(np.add, 1.0 / cell_n, piece_starts)
    share_of_noise = float((per_piece * (positions - 1) / positions).sum()) / form_dof
    variance = max(float(position_ss.sum()) / form_dof - noise**2 * share_of_noise, 0.0)
    both = variance + noise**2
    return noise, math.sqrt(variance), (variance / both if both > 0 else 0.0)


def _extremes(
    mean: Array, about: Array, variance: Array, side: int, positions: IntArray, starts: IntArray
) -> tuple[Array, Array]:
    """Return the extreme of each piece's positions and the variance of the position that it is."""
    signed = side * about
    top = _reduced(np.maximum, signed, starts)
    is_top = signed == np.repeat(top, positions)
    return mean + side * top, _reduced(np.maximum, np.where(is_top, variance, 0.0), starts)


def _medians(means: Array, cell_piece: IntArray, starts: IntArray) -> Array:
    """Return the median of each piece's position means."""
    ordered = means[np.lexsort((means, cell_piece))]
    n = np.diff(np.append(starts, means.size))
    below, above = ordered[starts + (n - 1) // 2], ordered[starts + n // 2]
    return np.asarray(below + (above - below) / 2)


def _ratio(part: float, whole: Array) -> Array:
    """Return part/whole, 0 where the whole is 0."""
    return np.divide(part, whole, out=np.zeros_like(whole), where=whole > 0)


def material_side(rule: str, kind: str | None) -> int:
    """Return +1 for the largest, -1 for the smallest, 0 where neither side has more material."""
    material = {"external": 1, "internal": -1}.get(kind or "", 0)
    return material if rule == "most_material" else -material
