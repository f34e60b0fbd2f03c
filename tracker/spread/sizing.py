"""From readings to one number a piece, with its uncertainty: arrays first, the labelled frame second."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.errors import NotEnoughData, TrackerError
from tracker.result import Result
from tracker.spread.arguments import Array, IntArray, count, positive_step
from tracker.spread.grouped import run_sums

RULES = ("mean", "most_material", "least_material", "median", "midrange")
KINDS = ("internal", "external", "length")


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sizes(Result):
    """One size a piece, in order of making, in the unit of the readings.

    Attributes
    ----------
    piece : tuple of str
        Names of the pieces.
    size : ndarray, shape (n,)
    uncertainty : ndarray, shape (n,)
        Standard uncertainty of each size that is its own: repeatability and resolution.
    common_uncertainty : float
        Standard uncertainty that moves all sizes together: calibration, temperature.
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
    repeatability_sd: float | None
    form_sd: float | None
    contradictions: tuple[str, ...]
    remark: str

    def __len__(self) -> int:
        return len(self.piece)

    def __str__(self) -> str:
        words = f"{self.feature}: {count(len(self.piece), 'piece')}, {count(int(self.readings.sum()), 'reading')}"
        words += f", size by {self.rule.replace('_', ' ')}"
        return words + (f"; {self.remark}" if self.remark else "")


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
        ``kind``, ``low``, ``high``, ``step``; rows in order of making.
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
    TrackerError
        If the rule or kind is unknown, or the rule needs a kind.

    Notes
    -----
    Repeats at one position are averaged first, so that a position read more often does not weigh more. For go / no-go
    pieces the size is the middle of what the bounds leave open.

    References
    ----------
    JCGM 100:2008 (GUM), 4.2 and F.2.2.1 (resolution: step/sqrt(12)); ISO 14405-1 (envelope idea of the
    most-material size). Tests: ``tests/tracker/spread/test_sizing.py``.
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
    arrays = piece_sizes(value[sure], piece[sure], position[sure], rule=rule, kind=kind, step=step, pieces=len(labels))
    low, high = arrays.size.copy(), arrays.size.copy()
    size, own = arrays.size.copy(), arrays.uncertainty.copy()
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
        keep = ~(unread & (b_low > b_high))
        odd = ~unread & ((size < b_low) | (size > b_high))
        keep &= ~odd
        size, own = _middles(low, high, size, own, unread & keep & (np.isfinite(low) | np.isfinite(high)))
    keep &= np.isfinite(size)
    left_out = tuple(str(labels[index]) for index in np.flatnonzero(~keep))
    if left_out:
        remarks.append(f"left out because their bounds contradict or bound nothing: {', '.join(left_out)}")
    if not keep.any():
        raise NotEnoughData(f"no piece of {name} has a size; {'; '.join(remarks) or 'every value is missing'}")
    _explain(arrays, rule, remarks, bool(bounded.any()))
    coarse = _coarse(arrays, step, unread)
    if coarse and step is not None:
        near = keep & ~unread
        low[near], high[near] = size[near] - step / 2, size[near] + step / 2
    return Sizes(
        piece=tuple(str(label) for label, kept in zip(labels, keep) if kept),
        size=size[keep],
        uncertainty=own[keep],
        common_uncertainty=math.hypot(calibration, temperature),
        readings=number[keep],
        within_range=arrays.within_range[keep],
        low=low[keep],
        high=high[keep],
        feature=name,
        kind=kind,
        rule=rule,
        shrunk=arrays.shrunk,
        step=step,
        coarse=coarse,
        go_no_go=bool(bounded.any()),
        repeatability_sd=arrays.repeatability_sd,
        form_sd=arrays.form_sd,
        contradictions=left_out,
        remark="; ".join(remarks),
    )


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
    cells, order = _cells(piece, position)
    ordered = value if order is None else value[order]
    inside = piece if order is None else piece[order]
    starts = np.flatnonzero(np.r_[True, cells[1:] != cells[:-1]])
    cell = run_sums(ordered, starts)
    cell_piece = inside[starts]
    piece_starts = np.flatnonzero(np.r_[True, cell_piece[1:] != cell_piece[:-1]])
    present = cell_piece[piece_starts]
    middle = run_sums(cell.mean, piece_starts)
    noise, form, form_share = _form_and_noise(cell.n, cell.ss, middle.n, middle.ss, piece_starts)
    shrunk = False
    inverse = np.add.reduceat(1.0 / cell.n, piece_starts)
    variance = (noise or 0.0) ** 2 * inverse / middle.n**2
    if rule in ("mean", "midrange", "median") or _side(rule, kind) == 0:
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
        side = _side(rule, kind)
        found, variance = _extremes(middle.mean, about, spot_variance, side, middle.n, piece_starts)
    if step is not None:
        variance = variance + step * step / 12
    piece_min = np.minimum.reduceat(cell.minimum, piece_starts)
    piece_max = np.maximum.reduceat(cell.maximum, piece_starts)
    answer = _no_sizes(total)
    answer.size[present] = found
    answer.uncertainty[present] = np.sqrt(variance)
    answer.readings[present] = np.add.reduceat(cell.n, piece_starts)
    answer.positions[present] = middle.n
    answer.within_range[present] = piece_max - piece_min
    answer.minimum[present] = piece_min
    answer.maximum[present] = piece_max
    return PieceSizes(
        size=answer.size,
        uncertainty=answer.uncertainty,
        readings=answer.readings,
        positions=answer.positions,
        within_range=answer.within_range,
        minimum=answer.minimum,
        maximum=answer.maximum,
        shrunk=shrunk,
        repeatability_sd=noise,
        form_sd=form,
        form_share=form_share,
    )


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
    """Return the number of each reading's cell (piece and position), ascending, and the order that makes it so."""
    if position is None or not np.any(position):
        cells = piece
    else:
        position = np.asarray(position)
        cells = piece.astype(np.int64) * (int(position.max()) + 1) + position
    if bool(np.all(cells[1:] >= cells[:-1])):
        return cells, None
    order = np.argsort(cells, kind="stable")
    return cells[order], order


def _form_and_noise(
    cell_n: IntArray, cell_ss: Array, positions: IntArray, position_ss: Array, piece_starts: IntArray
) -> tuple[float | None, float | None, float | None]:
    """Return repeatability sd, form sd and the share of form; None where the readings cannot say."""
    noise_dof = int((cell_n - 1).sum())
    form_dof = int((positions - 1).sum())
    if noise_dof < 1:
        return None, None, None
    noise = math.sqrt(float(cell_ss.sum()) / noise_dof)
    if form_dof < 1:
        return noise, None, None
    # Mean square of position means within pieces: form variance plus noise variance over the repeats.
    per_piece = np.add.reduceat(1.0 / cell_n, piece_starts)
    share_of_noise = float((per_piece * (positions - 1) / positions).sum()) / form_dof
    variance = max(float(position_ss.sum()) / form_dof - noise**2 * share_of_noise, 0.0)
    both = variance + noise**2
    return noise, math.sqrt(variance), (variance / both if both > 0 else 0.0)


def _extremes(
    mean: Array, about: Array, variance: Array, side: int, positions: IntArray, starts: IntArray
) -> tuple[Array, Array]:
    """Return the extreme of each piece's positions and the variance of the position that it is."""
    signed = side * about
    top = np.maximum.reduceat(signed, starts)
    is_top = signed == np.repeat(top, positions)
    return mean + side * top, np.maximum.reduceat(np.where(is_top, variance, 0.0), starts)


def _medians(means: Array, cell_piece: IntArray, starts: IntArray) -> Array:
    """Return the median of each piece's position means."""
    ordered = means[np.lexsort((means, cell_piece))]
    n = np.diff(np.append(starts, means.size))
    below, above = ordered[starts + (n - 1) // 2], ordered[starts + n // 2]
    return np.asarray(below + (above - below) / 2)


def _ratio(part: float, whole: Array) -> Array:
    """Return part/whole, 0 where the whole is 0."""
    return np.divide(part, whole, out=np.zeros_like(whole), where=whole > 0)


def _side(rule: str, kind: str | None) -> int:
    """Return +1 for the largest, -1 for the smallest, 0 where neither side has more material."""
    material = {"external": 1, "internal": -1}.get(kind or "", 0)
    return material if rule == "most_material" else -material


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
    labels = [f"{batch_names[key // len(names)]}/{names[key % len(names)]}" for key in distinct[order]]
    return rank[inverse], labels


def _codes(rows: Any, column: str) -> IntArray:
    """Return numbers of the entries of a column, zeros where there is none."""
    if column not in rows.columns:
        return np.zeros(len(rows), dtype=np.int64)
    codes, _ = rows[column].factorize()
    return np.maximum(np.asarray(codes, dtype=np.int64), 0)


def _common_step(rows: Any) -> float | None:
    """Return the coarsest step of the readings, or None when unknown."""
    if "step" not in rows.columns:
        return None
    steps = rows["step"].to_numpy(dtype=float)
    known = steps[np.isfinite(steps) & (steps > 0)]
    return float(known.max()) if known.size else None


def _bounded(rows: Any, value: Array) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Return which rows are bounds rather than values."""
    if "low" not in rows.columns or "high" not in rows.columns:
        return np.zeros(value.size, dtype=bool)
    if "kind" in rows.columns:
        return np.asarray((rows["kind"] == "go_no_go").to_numpy(dtype=bool))
    return np.isnan(value)


def _middles(low: Array, high: Array, size: Array, own: Array, chosen: Any) -> tuple[Array, Array]:
    """Give pieces known by bounds the middle as size; an open side is taken as wide as the usual step."""
    width = (high - low)[chosen]
    finite = width[np.isfinite(width)]
    usual = float(np.median(finite)) if finite.size else 0.0
    low, high = low[chosen], high[chosen]
    bottom = np.where(np.isinf(low), high - usual, low)
    top = np.where(np.isinf(high), low + usual, high)
    size[chosen] = bottom / 2 + top / 2
    own[chosen] = (top - bottom) / math.sqrt(12)
    return size, own


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
