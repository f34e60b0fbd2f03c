"""From a table of readings to one size a piece, with its uncertainty and what is known of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.result import Result
from tracker.spread.arguments import Array, IntArray, count, decimals_alike
from tracker.spread.gathered import known_of
from tracker.spread.one_sided import expected_sizes, one_sided_words, some_of
from tracker.spread.operators import OperatorSpread


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sizes(Result):
    """One size a piece, in order of making, in the unit of the readings.

    Attributes
    ----------
    piece : tuple of str
        Names of the pieces.
    size : ndarray, shape (n,)
    uncertainty : ndarray, shape (n,)
        Standard uncertainty of each size that is its own: repeatability, resolution, operators shared out unevenly.
    common_uncertainty : float
        Standard uncertainty that moves all sizes together: calibration, temperature, and what operators who read the
        same pieces differ by.
    operators : OperatorSpread or None
        What operators differ by; None where no place was read by two of them.
    readings : ndarray of int, shape (n,)
        How many readings each size rests on.
    within_range : ndarray, shape (n,)
        Largest minus smallest reading of each piece.
    low, high : ndarray, shape (n,)
        What the size is known to lie between; both equal to the size where it was read, open sides infinite.
    rule : str
        How positions gave the size.
    shrunk : bool
        Whether positions were shrunk toward the piece mean before the extreme was taken.
    step : float or None
        Resolution of the readings; None when unknown.
    coarse : bool
        Whether a piece's readings never differ, so that its size is known to half a step only.
    go_no_go : bool
        Whether sizes rest on bounds (goes / does not go).
    expected : tuple of str
        Pieces known from one side only: their size is what the others of the batch lead to expect.
    contradictions : tuple of str
        Pieces left out because their bounds contradict each other.
    """

    piece: tuple[str, ...]
    size: Array
    uncertainty: Array
    common_uncertainty: float
    readings: IntArray
    within_range: Array
    low: Array
    high: Array
    feature: str
    kind: str | None
    rule: str
    shrunk: bool
    step: float | None
    coarse: bool
    go_no_go: bool
    expected: tuple[str, ...]
    repeatability_sd: float | None
    form_sd: float | None
    operators: OperatorSpread | None
    contradictions: tuple[str, ...]
    remark: str

    def __len__(self) -> int:
        return len(self.piece)

    def __str__(self) -> str:
        words = f"{self.feature}: {count(len(self.piece), 'piece')}, {count(int(self.readings.sum()), 'reading')}"
        words += f", size by {self.rule.replace('_', ' ')}"
        return words + (f"; {self.remark}" if self.remark else "")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeLimits(Result):
    """What each piece's size is known to lie between, in order of making; open sides are infinite.

    ``one_sided`` are the pieces with one open side, ``contradictions`` those left out.
    """

    piece: tuple[str, ...]
    low: Array
    high: Array
    feature: str
    one_sided: tuple[str, ...]
    contradictions: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.piece)

    def __str__(self) -> str:
        words = f"{self.feature}: {count(len(self.piece), 'piece')} between bounds"
        return words + (f", {len(self.one_sided)} of them from one side only" if self.one_sided else "")


def sizes(
    readings: Any,
    feature: Any,
    rule: str | None = None,
    *,
    calibration: float = 0.0,
    resolution: float | None = None,
    temperature: float = 0.0,
    kind: str | None = None,
    batch: str | None = None,
) -> Sizes:
    """Return one size a piece from a table of readings.

    Parameters
    ----------
    readings : frame
        One row a reading, with columns ``feature``, ``piece``, ``value`` and, where known, ``batch``, ``position``,
        ``kind``, ``low``, ``high``, ``step``, ``operator``; rows in order of making.
    feature : str or object
        Name of the feature, or an object with ``name`` and ``kind`` ("internal", "external", "length").
    rule : str, optional
        ``mean``, ``most_material``, ``least_material``, ``median`` or ``midrange``. By default most material when a
        piece has two or more positions and the kind is internal or external, else the mean.
    calibration, temperature : float
        Standard uncertainties common to all readings.
    resolution : float, optional
        Step of the readings, where the table does not say.
    kind : str, optional
        Kind of the feature when only its name is given.
    batch : str, optional
        Take the readings of this batch only.

    Returns
    -------
    Sizes

    Raises
    ------
    NotEnoughData
        If there is no reading of that feature.
    OneSideOnly
        If a piece is known from one side only and the others do not bound it; `size_limits` still says what is known.
    TrackerError
        If the rule or kind is unknown, or the rule needs a kind.

    Notes
    -----
    Repeats at one position are averaged first, so that a position read more often does not weigh more. For go / no-go
    pieces the size is the middle of what the bounds leave open; a piece that only goes, or only does not go, has the
    size that the others of its batch lead to expect, see `tracker.spread.one_sided`. Repeats are readings of one place
    by one operator: where operators read the same places, their difference is no noise that repeats average out, and
    what the mean of these operators leaves of it moves all sizes together (`OperatorSpread`).

    References
    ----------
    JCGM 100:2008 (GUM), 4.2 and F.2.2.1 (resolution: step/sqrt(12)); ISO 14405-1 (envelope idea of the
    most-material size). Tests: ``tests/tracker/spread/test_sizing.py``.
    """
    known = known_of(readings, feature, rule, resolution=resolution, kind=kind, batch=batch)
    low, high, size, own = known.low, known.high, known.arrays.size.copy(), known.arrays.uncertainty.copy()
    operators = known.operators
    if operators is not None:
        own[~known.unread] = np.hypot(own[~known.unread], operators.own)
    open_side = known.open_side
    between = known.unread & known.keep & ~open_side
    size[between] = low[between] / 2 + high[between] / 2
    own[between] = (high - low)[between] / math.sqrt(12)
    expected: tuple[str, ...] = ()
    remarks = list(known.remarks)
    if open_side.any():
        expected = tuple(known.labels[index] for index in np.flatnonzero(open_side))
        ends = low[open_side], high[open_side]
        digits = decimals_alike(low[known.unread], high[known.unread], step=known.step)
        said = one_sided_words(known.feature, known.kind, expected, *ends, digits)
        size[open_side], own[open_side] = expected_sizes(low[known.keep], high[known.keep], open_side[known.keep], said)
        remarks.append(f"known from one side only, with the size that the others lead to expect: {some_of(expected)}")
    keep, arrays = known.keep, known.arrays
    return Sizes(
        piece=tuple(label for label, kept in zip(known.labels, keep) if kept),
        size=size[keep],
        uncertainty=own[keep],
        common_uncertainty=math.hypot(calibration, temperature, 0.0 if operators is None else operators.common),
        readings=known.number[keep],
        within_range=arrays.within_range[keep],
        low=low[keep],
        high=high[keep],
        feature=known.feature,
        kind=known.kind,
        rule=known.rule,
        shrunk=arrays.shrunk,
        step=known.step,
        coarse=known.coarse,
        go_no_go=known.bounded,
        expected=expected,
        repeatability_sd=arrays.repeatability_sd,
        form_sd=arrays.form_sd,
        operators=operators,
        contradictions=known.left_out,
        remark="; ".join(remarks),
    )


def size_limits(
    readings: Any,
    feature: Any,
    *,
    resolution: float | None = None,
    kind: str | None = None,
    batch: str | None = None,
) -> SizeLimits:
    """Return what each piece's size is known to lie between: enough for `interval_fit`, also where sizes are not.

    Parameters
    ----------
    readings, feature, resolution, kind, batch
        As in `sizes`.

    Returns
    -------
    SizeLimits

    Raises
    ------
    TrackerError
        As `sizes`, but for pieces known from one side only.
    """
    known = known_of(readings, feature, None, resolution=resolution, kind=kind, batch=batch)
    return SizeLimits(
        piece=tuple(label for label, kept in zip(known.labels, known.keep) if kept),
        low=known.low[known.keep],
        high=known.high[known.keep],
        feature=known.feature,
        one_sided=tuple(known.labels[index] for index in np.flatnonzero(known.open_side)),
        contradictions=known.left_out,
    )
