"""A crossed study as cells: every operator on every piece, counted, averaged, and taken apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.errors import NotEnoughData, TrackerError
from tracker.spread.arguments import numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """Readings by piece (rows) and operator (columns): counts, means, squares about the mean, ranges."""

    count: np.ndarray
    mean: np.ndarray
    squares: np.ndarray
    range: np.ndarray
    total: int
    grand_mean: float
    pieces: tuple[str, ...]
    operators: tuple[str, ...]

    @property
    def repeats(self) -> int | None:
        """Readings a cell where all cells have the same number, else None."""
        low, high = int(self.count.min()), int(self.count.max())
        return low if low == high else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Squares:
    """Sums of squares and degrees of freedom of a balanced crossed study (or of its unweighted means)."""

    piece: float
    operator: float
    interaction: float
    error: float
    pieces: int
    operators: int
    error_dof: int
    repeats: float

    @property
    def interaction_dof(self) -> int:
        """(pieces - 1)(operators - 1)."""
        return (self.pieces - 1) * (self.operators - 1)


def cells_of(value: Any, piece: Any, operator: Any) -> Cells:
    """Return the readings of a study gathered by piece and operator.

    Parameters
    ----------
    value : array_like, shape (n,)
        Readings.
    piece, operator : array_like, shape (n,)
        Labels; any text or number.

    Raises
    ------
    TrackerError
        When the three are not of one length or a reading is not a number.
    NotEnoughData
        Under two pieces, or no reading repeated anywhere.
    """
    y = numbers(value, "readings").ravel()
    rows = np.asarray(piece).ravel()
    columns = np.asarray(operator).ravel()
    if not y.size == rows.size == columns.size:
        raise TrackerError(f"{y.size} values, {rows.size} pieces, {columns.size} operators; give one of each a reading")
    if y.size == 0:
        raise NotEnoughData("the study has no readings; measure two pieces or more, each at least twice")
    bad = np.flatnonzero(~np.isfinite(y))
    if bad.size:
        raise TrackerError(f"reading {bad[0] + 1} of {y.size} is {y[bad[0]]}; leave missing readings out")
    piece_names, row = np.unique(rows.astype(str), return_inverse=True)
    operator_names, column = np.unique(columns.astype(str), return_inverse=True)
    p, o = piece_names.size, operator_names.size
    if p < 2:
        raise NotEnoughData("one piece cannot show what differs between pieces; measure two or more (ten is usual)")
    cell = row * o + column
    count = np.bincount(cell, minlength=p * o)
    if count.max() < 2 and o < 2:
        raise NotEnoughData("no piece was read twice, so repeatability cannot be told; read each at least twice")
    away = y - y[0]
    mean = np.divide(np.bincount(cell, away, p * o), count, out=np.zeros(p * o), where=count > 0)
    squares = np.bincount(cell, (away - mean[cell]) ** 2, p * o)
    low, high = np.full(p * o, np.inf), np.full(p * o, -np.inf)
    np.minimum.at(low, cell, y)
    np.maximum.at(high, cell, y)
    spread = np.where(count > 0, high - np.where(count > 0, low, 0.0), 0.0)
    return Cells(
        count=count.reshape(p, o),
        mean=(mean + y[0]).reshape(p, o),
        squares=squares.reshape(p, o),
        range=spread.reshape(p, o),
        total=int(y.size),
        grand_mean=float(away.mean() + y[0]),
        pieces=tuple(piece_names.tolist()),
        operators=tuple(operator_names.tolist()),
    )


def squares_of(cells: Cells) -> Squares:
    """Return the sums of squares; unequal cells enter by their unweighted means and harmonic mean count.

    Raises
    ------
    NotEnoughData
        When an operator did not measure some piece.

    References
    ----------
    Unweighted means: Burdick & Graybill, *Confidence Intervals on Variance Components* (1992), 6 (from memory).
    """
    if cells.count.min() == 0:
        i, j = (int(k) for k in np.argwhere(cells.count == 0)[0])
        raise NotEnoughData(
            f"operator {cells.operators[j]} did not measure piece {cells.pieces[i]}; a crossed study wants every "
            "operator on every piece"
        )
    p, o = cells.count.shape
    repeats = float(p * o / np.sum(1.0 / cells.count))
    away = cells.mean - cells.mean[0, 0]
    middle = away.mean()
    by_piece, by_operator = away.mean(axis=1), away.mean(axis=0)
    rest = away - by_piece[:, None] - by_operator[None, :] + middle
    return Squares(
        piece=float(repeats * o * np.sum((by_piece - middle) ** 2)),
        operator=float(repeats * p * np.sum((by_operator - middle) ** 2)),
        interaction=float(repeats * np.sum(rest**2)) if o > 1 else 0.0,
        error=float(cells.squares.sum()),
        pieces=p,
        operators=o,
        error_dof=cells.total - p * o,
        repeats=repeats,
    )
