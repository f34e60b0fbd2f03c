"""From cells to batches: one size a piece, then size, spread, drift and repeatability of every batch as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from tracker.history.cells import Cells, changes
from tracker.spread.arguments import Array, IntArray
from tracker.spread.grouped import GroupedSums, run_sums
from tracker.spread.many import mean_moving_ranges
from tracker.spread.piecewise import material_side

WAYS = ("mean", "midrange", "median", "largest", "smallest", "largest of several", "smallest of several")
"""How a piece gets one size; ``of several``: the usual way, the mean unless a piece has several positions."""
_MEAN, _MIDRANGE, _MEDIAN, _LARGEST, _SMALLEST, _LARGEST_IF, _SMALLEST_IF = range(len(WAYS))


def way_of(rule: str, kind: str) -> int:
    """Return the place in `WAYS` of what a rule means for a kind of feature; as `tracker.spread.sizes` chooses.

    Examples
    --------
    >>> WAYS[way_of("", "internal")], WAYS[way_of("most_material", "external")], WAYS[way_of("", "length")]
    ('smallest of several', 'largest', 'mean')
    """
    if rule in ("midrange", "median", "mean"):
        return WAYS.index(rule)
    side = material_side(rule or "most_material", kind)
    if side == 0:
        return _MEAN
    if rule:
        return _LARGEST if side > 0 else _SMALLEST
    return _LARGEST_IF if side > 0 else _SMALLEST_IF


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """What there is of each batch (or of each operator or gauge in it), arrays of shape (series,).

    Attributes
    ----------
    batch, split : ndarray of int
    sizes : GroupedSums
        Of the pieces' sizes, as deviations from nominal.
    readings : ndarray of int
    order_ss, order_sp : ndarray of float
        Sum of squares of the pieces' places in the order of making about their mean, and of products with size.
    moving_sd : ndarray of float
        sd within the batch from the mean moving range of neighbouring pieces; 0 where there is none.
    beyond : ndarray of int
        Pieces farther than 3 of these sd from the mean.
    noise_ss : ndarray of float
        Sum of squares of repeats about the mean of their position.
    noise_dof : ndarray of int
    """

    batch: IntArray
    split: IntArray
    sizes: GroupedSums
    readings: IntArray
    order_ss: Array
    order_sp: Array
    moving_sd: Array
    beyond: IntArray
    noise_ss: Array
    noise_dof: IntArray

    def __len__(self) -> int:
        return int(self.batch.size)

    def chosen(self, keep: np.ndarray) -> Series:
        """Return some of the series."""
        values = {field.name: getattr(self, field.name)[keep] for field in fields(Series) if field.name != "sizes"}
        sums = {field.name: getattr(self.sizes, field.name)[keep] for field in fields(GroupedSums)}
        return Series(**values, sizes=GroupedSums(**sums))


def series_of(cells: Cells, ways: IntArray, first: int = 0) -> Series:
    """Return what there is of each batch whose cells are given, all of them.

    Parameters
    ----------
    cells : Cells
    ways : ndarray of int
        For each batch from ``first`` on, the place in `WAYS`.
    first : int

    Notes
    -----
    Sizes as `tracker.spread.piece_sizes` takes them from the readings of one batch, form and gauge noise told apart
    batch by batch; the test compares the two.
    """
    sums = cells.sums
    piece_starts = changes([cells.batch, cells.split, cells.piece])
    positions = np.diff(np.append(piece_starts, len(cells)))
    batch, split, piece = cells.batch[piece_starts], cells.split[piece_starts], cells.piece[piece_starts]
    starts = changes([batch, split])
    pieces = np.diff(np.append(starts, batch.size))
    number = np.repeat(np.arange(starts.size), pieces)
    noise_ss = _added(sums.ss, piece_starts, starts)
    noise_dof = _added(sums.n - 1, piece_starts, starts)
    size = _sizes(cells, ways[batch[starts] - first], piece_starts, positions, starts, number, noise_ss, noise_dof)
    found = run_sums(size, starts)
    place = piece - np.repeat(_mean(piece, starts, pieces), pieces)
    about = size - found.mean[number]
    moving = mean_moving_ranges(size, number, starts.size)
    out = (np.abs(about) > 3 * moving[number]) & (moving[number] > 0)
    return Series(
        batch=batch[starts],
        split=split[starts],
        sizes=found,
        readings=_added(sums.n, piece_starts, starts),
        order_ss=np.add.reduceat(place * place, starts),
        order_sp=np.add.reduceat(place * about, starts),
        moving_sd=moving,
        beyond=np.bincount(number[out], minlength=starts.size),
        noise_ss=noise_ss,
        noise_dof=noise_dof,
    )


def in_one(parts: Sequence[Series]) -> Series:
    """Return series of different batches as one, ascending by batch and split."""
    batch = np.concatenate([part.batch for part in parts])
    split = np.concatenate([part.split for part in parts])
    order = np.lexsort((split, batch))
    values: dict[str, object] = {}
    for field in fields(Series):
        if field.name == "sizes":
            values["sizes"] = GroupedSums(
                **{
                    name.name: np.concatenate([getattr(part.sizes, name.name) for part in parts])[order]
                    for name in fields(GroupedSums)
                }
            )
        else:
            values[field.name] = np.concatenate([getattr(part, field.name) for part in parts])[order]
    return Series(**values)  # type: ignore[arg-type]


def _sizes(
    cells: Cells,
    way: IntArray,
    piece_starts: IntArray,
    positions: IntArray,
    starts: IntArray,
    number: IntArray,
    noise_ss: Array,
    noise_dof: IntArray,
) -> Array:
    """Return one size a piece."""
    if bool((positions == 1).all()):
        return cells.sums.mean
    middle = run_sums(cells.sums.mean, piece_starts)
    several = np.maximum.reduceat(positions, starts) > 1
    way = np.where(way >= _LARGEST_IF, np.where(several, way - _LARGEST_IF + _LARGEST, _MEAN), way)
    size = middle.mean.copy()
    mine = way[number]
    if bool((way == _MIDRANGE).any()):
        size = np.where(mine == _MIDRANGE, middle.minimum + (middle.maximum - middle.minimum) / 2, size)
    if bool((way == _MEDIAN).any()):
        size = np.where(mine == _MEDIAN, _medians(cells, piece_starts, positions), size)
    if bool((way >= _LARGEST).any()):
        weight = _weights(cells, middle, piece_starts, positions, starts, number, noise_ss, noise_dof)
        side = np.where(mine == _SMALLEST, -1.0, 1.0)
        about = (cells.sums.mean - np.repeat(middle.mean, positions)) * weight * np.repeat(side, positions)
        size = np.where(mine >= _LARGEST, middle.mean + side * np.maximum.reduceat(about, piece_starts), size)
    return size


def _weights(
    cells: Cells,
    middle: GroupedSums,
    piece_starts: IntArray,
    positions: IntArray,
    starts: IntArray,
    number: IntArray,
    noise_ss: Array,
    noise_dof: IntArray,
) -> Array:
    """Return the share of each position's deviation that is form and not gauge noise; 1 where none can be told."""
    form_dof = np.add.reduceat(positions - 1, starts)
    noise = noise_ss / np.maximum(noise_dof, 1)
    inverse = np.add.reduceat(1.0 / cells.sums.n, piece_starts)
    share = np.add.reduceat(inverse * (positions - 1) / positions, starts) / np.maximum(form_dof, 1)
    form = np.maximum(np.add.reduceat(middle.ss, starts) / np.maximum(form_dof, 1) - noise * share, 0.0)
    told = (noise_dof >= 1) & (form_dof >= 1)
    of = np.repeat(number, positions)
    whole = form[of] + noise[of] / cells.sums.n
    weight = np.divide(form[of], whole, out=np.zeros_like(whole), where=whole > 0)
    return np.where(told[of], weight, 1.0)


def _medians(cells: Cells, piece_starts: IntArray, positions: IntArray) -> Array:
    means = cells.sums.mean
    ordered = means[np.lexsort((means, np.repeat(np.arange(piece_starts.size), positions)))]
    below, above = ordered[piece_starts + (positions - 1) // 2], ordered[piece_starts + positions // 2]
    return np.asarray(below + (above - below) / 2)


def _added(values: np.ndarray, piece_starts: IntArray, starts: IntArray) -> np.ndarray:
    """Return sums by series of what stands by cell."""
    return np.asarray(np.add.reduceat(values, piece_starts[starts]))


def _mean(values: IntArray, starts: IntArray, n: IntArray) -> Array:
    return np.asarray(np.add.reduceat(values, starts) / n)
