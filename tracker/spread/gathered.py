"""Readings of one feature gathered piece by piece: what was read, what bounds leave open, which pieces are kept."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.errors import NotEnoughData, TrackerError
from tracker.spread.arguments import Array, IntArray, positive_step
from tracker.spread.operators import OperatorSpread, operator_spread
from tracker.spread.piecewise import PieceSizes, piece_bounds, piece_sizes

BoolArray = np.ndarray[Any, np.dtype[np.bool_]]

RULES = ("mean", "most_material", "least_material", "median", "midrange")
KINDS = ("internal", "external", "length")

SHORTER = 1.5
"""A step so many times the finest one is that of a reading with fewer digits."""
WHOLE = 1e-6
"""How near a whole number a reading in steps must be to count as one."""
UNLIKELY = 2.33
"""Standard normal deviate that one in a hundred exceeds."""


@dataclass(frozen=True, slots=True)
class Known:
    """Readings gathered a piece, arrays of shape (pieces,): what was read, what bounds leave open, which are kept."""

    feature: str
    kind: str | None
    rule: str
    labels: list[str]
    arrays: PieceSizes
    low: Array
    high: Array
    number: IntArray
    unread: BoolArray
    keep: BoolArray
    step: float | None
    coarse: bool
    bounded: bool
    operators: OperatorSpread | None
    left_out: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def open_side(self) -> BoolArray:
        """Which kept pieces are known from one side only."""
        return np.asarray(self.keep & self.unread & (np.isinf(self.low) | np.isinf(self.high)))


def known_of(
    readings: Any, feature: Any, rule: str | None, *, resolution: float | None, kind: str | None, batch: str | None
) -> Known:
    """Return the readings of one feature gathered; the arguments are those of `sizes`.

    Raises
    ------
    TrackerError
        As `sizes`, but for pieces known from one side only.
    """
    name = feature if isinstance(feature, str) else feature.name
    kind = kind if kind is not None else getattr(feature, "kind", None)
    if kind is not None and kind not in KINDS:
        raise TrackerError(f"kind {kind!r} of feature {name}; accepted: {', '.join(KINDS)}")
    rows = _rows_of(readings, name, batch)
    piece, labels = _pieces(rows)
    value = rows["value"].to_numpy(dtype=float)
    position = _codes(rows, "position")
    step = positive_step(resolution) or _common_step(rows)
    remarks: list[str] = []
    rule = _chosen_rule(rule, kind, piece, position, name, remarks)
    bounded = _bounded(rows, value)
    sure = ~bounded & np.isfinite(value)
    operators = _operators(rows, value, piece, position, sure)
    arrays = piece_sizes(
        value[sure],
        piece[sure],
        position[sure],
        rule=rule,
        kind=kind,
        step=step,
        pieces=len(labels),
        noise=None if operators is None else operators.repeatability_sd,
    )
    low, high = arrays.size.copy(), arrays.size.copy()
    unread = arrays.readings == 0
    number = arrays.readings.copy()
    keep = np.ones(len(labels), dtype=bool)
    if bounded.any():
        number = number + np.bincount(piece[bounded], minlength=len(labels))
        b_low, b_high = piece_bounds(
            rows["low"].to_numpy(dtype=float)[bounded],
            rows["high"].to_numpy(dtype=float)[bounded],
            piece[bounded],
            len(labels),
        )
        low[unread], high[unread] = b_low[unread], b_high[unread]
        contradict = (unread & (b_low > b_high)) | (~unread & ((low < b_low) | (low > b_high)))
        keep = ~contradict
    keep &= np.isfinite(low) | np.isfinite(high)
    left_out = tuple(str(labels[index]) for index in np.flatnonzero(~keep))
    if left_out:
        remarks.append(f"left out because their bounds contradict or bound nothing: {', '.join(left_out)}")
    if not keep.any():
        raise NotEnoughData(f"no piece of {name} has a size; {'; '.join(remarks) or 'every value is missing'}")
    _explain(arrays, rule, remarks, bool(bounded.any()))
    coarse = _coarse(arrays, step, unread)
    if coarse and step is not None:
        near = keep & ~unread
        low[near], high[near] = arrays.size[near] - step / 2, arrays.size[near] + step / 2
    return Known(
        feature=name,
        kind=kind,
        rule=rule,
        labels=[str(label) for label in labels],
        arrays=arrays,
        low=low,
        high=high,
        number=number,
        unread=unread,
        keep=keep,
        step=step,
        coarse=coarse,
        bounded=bool(bounded.any()),
        operators=operators,
        left_out=left_out,
        remarks=tuple(remarks),
    )


def _chosen_rule(
    rule: str | None, kind: str | None, piece: IntArray, position: IntArray, name: str, remarks: list[str]
) -> str:
    """Return the rule to use; say so where the wish cannot be met."""
    if rule is not None and rule not in RULES:
        raise TrackerError(f"rule {rule!r} for {name}; accepted: {', '.join(RULES)}")
    if rule in ("most_material", "least_material"):
        if kind is None:
            raise TrackerError(
                f"rule {rule} for {name} needs to know where the material is: give kind='internal' or 'external'"
            )
        if kind == "length":
            remarks.append("a length has material on neither side, so the mean of the positions is its size")
            return "mean"
    if rule is not None:
        return rule
    if kind not in ("internal", "external") or not np.any(position):
        return "mean"
    cells = np.unique(piece * (int(position.max()) + 1) + position)
    several = np.bincount(cells // (int(position.max()) + 1)) > 1
    return "most_material" if several.any() else "mean"


def _rows_of(readings: Any, name: str, batch: str | None) -> Any:
    """Return the rows of one feature, and of one batch where one is named."""
    for column in ("piece", "value"):
        if column not in readings.columns:
            raise TrackerError(f"the readings have no column {column!r}; needed are feature, piece and value")
    rows = readings
    if "feature" in readings.columns:
        rows = readings[readings["feature"] == name]
        if len(rows) == 0:
            known = sorted({str(item) for item in readings["feature"].unique()})
            raise NotEnoughData(
                f"no reading of feature {name!r}; the readings are of: {', '.join(known) or 'nothing yet'}"
            )
    if batch is not None and "batch" in rows.columns:
        of_all = rows
        rows = rows[rows["batch"] == batch]
        if len(rows) == 0:
            known = sorted({str(item) for item in of_all["batch"].unique()})
            raise NotEnoughData(f"no reading of {name} in batch {batch!r}; batches: {', '.join(known)}")
    if len(rows) == 0:
        raise NotEnoughData(f"no reading of feature {name!r}; measure at least 2 pieces")
    return rows


def _pieces(rows: Any) -> tuple[IntArray, list[str]]:
    """Return the number of each reading's piece in order of first appearance, and the names."""
    codes, names = rows["piece"].factorize()
    if "batch" not in rows.columns or rows["batch"].nunique() <= 1:
        return np.asarray(codes), [str(name) for name in names]
    batches, batch_names = rows["batch"].factorize()
    both = np.asarray(batches, dtype=np.int64) * len(names) + np.asarray(codes)
    distinct, first, inverse = np.unique(both, return_index=True, return_inverse=True)
    order = np.argsort(first, kind="stable")
    rank = np.empty_like(order)
    rank[order] = np.arange(order.size)
    batch, piece = np.divmod(distinct[order], len(names))
    in_batch, named = (np.asarray(texts, dtype=object).tolist() for texts in (batch_names, names))
    labels = [f"{in_batch[at]}/{named[which]}" for at, which in zip(batch.tolist(), piece.tolist(), strict=True)]
    return rank[inverse], labels


def _codes(rows: Any, column: str) -> IntArray:
    """Return numbers of the entries of a column, zeros where there is none."""
    if column not in rows.columns:
        return np.zeros(len(rows), dtype=np.int64)
    codes, _ = rows[column].factorize()
    return np.maximum(np.asarray(codes, dtype=np.int64), 0)


def _operators(rows: Any, value: Array, piece: IntArray, position: IntArray, sure: BoolArray) -> OperatorSpread | None:
    """Return what operators differ by, where the table names two or more."""
    if "operator" not in rows.columns:
        return None
    codes, names = rows["operator"].fillna("").factorize()
    if len(names) < 2:
        return None
    return operator_spread(
        value[sure], piece[sure], position[sure], np.asarray(codes, dtype=np.int64)[sure], [str(name) for name in names]
    )


def _common_step(rows: Any) -> float | None:
    """Return the coarsest step of the readings, gauge by gauge, or None when unknown."""
    if "step" not in rows.columns:
        return None
    steps, value = rows["step"].to_numpy(dtype=float), rows["value"].to_numpy(dtype=float)
    known = np.isfinite(steps) & (steps > 0) & np.isfinite(value)
    gauge = _codes(rows, "gauge")
    return max((_step_of(steps[own], value[own]) for own in _each(gauge, known)), default=None)


def _each(codes: IntArray, known: Any) -> Iterator[Any]:
    for code in np.unique(codes[known]):
        yield known & (codes == code)


def _step_of(steps: Array, value: Array) -> float:
    """Return the step of one gauge's readings, from the digits they are written with.

    A spreadsheet drops the zeros at the end: 0.5 between 0.5001 and 0.4999 was read to four places. So where no shorter
    reading ends in a zero that was kept, and there are no more of them than a last digit of 0 or 5 makes likely, the
    finest step is that of all; else the coarsest.
    """
    short = steps > steps.min() * SHORTER
    tens = value[short] / (10 * steps[short])
    keeps_zeros = bool((np.abs(tens - np.round(tens)) < WHOLE).any())
    too_many = short.sum() > steps.size / 2 + UNLIKELY * math.sqrt(steps.size) / 2
    return float(steps.max() if keeps_zeros or too_many else steps.min())


def _bounded(rows: Any, value: Array) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Return which rows are bounds rather than values."""
    if "low" not in rows.columns or "high" not in rows.columns:
        return np.zeros(value.size, dtype=bool)
    if "kind" in rows.columns:
        return np.asarray((rows["kind"] == "go_no_go").to_numpy(dtype=bool))
    return np.isnan(value)


def _coarse(arrays: PieceSizes, step: float | None, unread: Any) -> bool:
    """Return whether repeats never differ, so that rounding hides what lies below half a step."""
    if step is None or unread.all():
        return False
    return bool((arrays.within_range[~unread] < step / 2).all())


def _explain(arrays: PieceSizes, rule: str, remarks: list[str], bounds: bool) -> None:
    """Add what the sizes rest on, in words."""
    if arrays.shrunk and arrays.form_share is not None:
        remarks.append(
            f"positions shrunk toward the piece mean before the extreme was taken (form is "
            f"{arrays.form_share:.0%} of the variance of a reading)".replace("%", " %")
        )
    elif rule in ("most_material", "least_material") and arrays.repeatability_sd is None:
        remarks.append("no position was read twice, so the extreme position still carries gauge noise")
    if arrays.repeatability_sd is None and int(arrays.readings.sum()) > 0:
        remarks.append("repeatability unknown: read positions twice to tell gauge from part")
    if bounds:
        remarks.append("pieces known by bounds take the middle of them as size")
