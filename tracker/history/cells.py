"""Sums that add up: readings by cell (one position of one piece), and cells that were met in several places joined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.spread.arguments import Array, IntArray
from tracker.spread.grouped import GroupedSums, pool_sums, run_sums

SUMS = ("n", "mean", "ss", "minimum", "maximum")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """Sums of readings by cell, arrays of shape (cells,), ascending by batch, split, piece, position.

    ``split`` is the number of the operator or gauge where batches are told apart by it, else 0. Sums are of deviations
    from the batch's nominal, so that no digits go to the size itself.
    """

    batch: IntArray
    split: IntArray
    piece: IntArray
    position: IntArray
    sums: GroupedSums

    def __len__(self) -> int:
        return int(self.batch.size)

    def chosen(self, keep: np.ndarray) -> Cells:
        """Return some of the cells."""
        at = np.flatnonzero(keep)
        if at.size == len(self):
            return self
        together = bool(at.size) and int(at[-1] - at[0]) + 1 == at.size
        where: Any = slice(int(at[0]), int(at[-1]) + 1) if together else at
        sums = GroupedSums(**{name: getattr(self.sums, name)[where] for name in SUMS})
        return Cells(
            batch=self.batch[where],
            split=self.split[where],
            piece=self.piece[where],
            position=self.position[where],
            sums=sums,
        )


def cells_of(
    deviation: Array, batch: IntArray, piece: IntArray, position: IntArray, split: IntArray | None = None
) -> Cells:
    """Return the sums of readings by cell.

    Parameters
    ----------
    deviation : ndarray of float, shape (n,)
        Readings less the nominal of their batch, finite.
    batch, piece, position : ndarray of int, shape (n,)
        In any order; fastest when ascending.
    split : ndarray of int, shape (n,), optional

    Examples
    --------
    >>> import numpy as np
    >>> one = np.zeros(3, dtype=int)
    >>> cells_of(np.array([1.0, 3.0, 5.0]), one, np.array([0, 0, 1]), one).sums.mean.tolist()
    [2.0, 5.0]
    """
    keys = [batch, piece, position] if split is None else [batch, split, piece, position]
    if not deviation.size:
        blank = np.zeros(0, dtype=np.int64)
        return Cells(batch=blank, split=blank, piece=blank, position=blank, sums=pool_sums(_none(), blank, 0))
    if not _ascends(keys):
        order = np.lexsort(keys[::-1])
        deviation, keys = deviation[order], [key[order] for key in keys]
    starts = changes(keys)
    found = [np.asarray(key[starts], dtype=np.int64) for key in keys]
    if split is None:
        found.insert(1, np.zeros(starts.size, dtype=np.int64))
    return Cells(batch=found[0], split=found[1], piece=found[2], position=found[3], sums=run_sums(deviation, starts))


def joined(parts: Sequence[Cells]) -> Cells:
    """Return the cells of several places as one, those of the same position of the same piece added up.

    References
    ----------
    Chan, Golub, LeVeque (1983), as `tracker.spread.grouped`. Tests: ``tests/tracker/history/test_partitions.py``.
    """
    keys = [np.concatenate([getattr(part, name) for part in parts]) for name in ("batch", "split", "piece", "position")]
    sums = GroupedSums(**{name: np.concatenate([getattr(part.sums, name) for part in parts]) for name in SUMS})
    order = np.lexsort(keys[::-1])
    keys = [key[order] for key in keys]
    sums = GroupedSums(**{name: getattr(sums, name)[order] for name in SUMS})
    starts = changes(keys)
    if starts.size < order.size:
        number = np.repeat(np.arange(starts.size), np.diff(np.append(starts, order.size)))
        sums = pool_sums(sums, number, starts.size)
    batch, split, piece, position = (key[starts] for key in keys)
    return Cells(batch=batch, split=split, piece=piece, position=position, sums=sums)


def changes(keys: Sequence[IntArray]) -> IntArray:
    """Return where runs of rows with equal keys start, the first 0."""
    changed = keys[0][1:] != keys[0][:-1]
    for key in keys[1:]:
        changed |= key[1:] != key[:-1]
    first = np.zeros(1 if keys[0].size else 0, dtype=np.int64)
    return np.concatenate([first, np.flatnonzero(changed) + 1])


def _ascends(keys: Sequence[IntArray]) -> bool:
    """Whether rows stand in ascending order of their keys."""
    fits = keys[-1][1:] >= keys[-1][:-1]
    for key in keys[-2::-1]:
        fits &= key[1:] == key[:-1]
        fits |= key[1:] > key[:-1]
    return bool(fits.all())


def _none() -> GroupedSums:
    blank = np.zeros(0)
    return GroupedSums(n=np.zeros(0, dtype=np.int64), mean=blank, ss=blank, minimum=blank, maximum=blank)


def codes_of(words: np.ndarray) -> IntArray:
    """Return the places of words in their sorted order, alike words alike; what `numpy.unique` gives, without copies.

    Parameters
    ----------
    words : ndarray of object, shape (n,)

    Examples
    --------
    >>> codes_of(np.array(["mill", "lathe", "mill"], dtype=object)).tolist()
    [1, 0, 1]
    """
    listed = words.tolist()
    known = {word: place for place, word in enumerate(sorted(set(listed)))}
    return np.fromiter(map(known.__getitem__, listed), np.int64, len(listed))
