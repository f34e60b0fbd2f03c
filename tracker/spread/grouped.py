"""Sums of many groups at once, which add up: count, mean, sum of squares about the mean, least and largest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tracker.errors import TrackerError
from tracker.result import Result
from tracker.spread.arguments import Array, IntArray, numbers

BLOCK = 32_768  # values worked on at once: a quarter of a megabyte
LONGEST_ROW = 64  # groups of equal length up to this are worked on as columns of a table


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroupedSums(Result):
    """Sums of groups, one entry a group; ``ss`` is the sum of squares about the group's mean.

    An empty group has ``n`` 0, mean 0, ``ss`` 0, least ``inf`` and largest ``-inf``, and so adds nothing when merged.
    """

    n: IntArray
    mean: Array
    ss: Array
    minimum: Array
    maximum: Array

    def __str__(self) -> str:
        return f"sums of {self.n.size:,} groups, {int(self.n.sum()):,} values"

    @property
    def dof(self) -> IntArray:
        """Degrees of freedom about each group's mean, shape (groups,)."""
        return np.maximum(self.n - 1, 0)

    @property
    def sd(self) -> Array:
        """Standard deviation of each group, shape (groups,); 0 where a group has fewer than two values."""
        return np.sqrt(self.ss / np.maximum(self.n - 1, 1))


def grouped_sums(values: Array, group: IntArray, groups: int | None = None) -> GroupedSums:
    """Return the sums of each group.

    Parameters
    ----------
    values : array_like of float, shape (n,)
    group : array_like of int, shape (n,)
        Number of the group of each value, from 0; in any order, fastest when ascending.
    groups : int, optional
        How many groups there are; by default one more than the largest number met.

    Returns
    -------
    GroupedSums
        Arrays of shape (groups,).

    Raises
    ------
    TrackerError
        If the arrays differ in length or a group number is out of range.

    Notes
    -----
    Two passes: the mean first, then squares about it, with the correction of the second pass for what rounding
    left in the mean; so an origin far off costs no digits beyond those that the values themselves lack.

    References
    ----------
    Chan, Golub, LeVeque, "Algorithms for computing the sample variance", The American Statistician 37 (1983)
    242-247, the corrected two-pass algorithm (1.7). Tests: ``tests/published/test_spread_strd.py``.
    """
    if not isinstance(values, np.ndarray) or values.dtype != float or isinstance(values, np.ma.MaskedArray):
        values = numbers(values, "values")
    group = np.asarray(group)
    if values.shape != group.shape or values.ndim != 1:
        raise TrackerError(f"{values.shape} values and {group.shape} group numbers; accepted is one number a value")
    if values.size == 0:
        return _empty(groups or 0)
    with np.errstate(invalid="ignore", over="ignore"):
        if not np.isfinite(values.sum()):
            raise TrackerError("values: one is missing, infinite or too large; leave out pieces without a size")
    starts = np.flatnonzero(group[1:] != group[:-1]) + 1
    starts = np.concatenate([np.zeros(1, dtype=starts.dtype), starts])
    met = group[starts]
    least, most = int(met.min()), int(met.max())
    if least < 0 or (groups is not None and most >= groups):
        raise TrackerError(f"group numbers run from {least} to {most}; accepted is 0 to {groups}")
    total = most + 1 if groups is None else groups
    if not bool(np.all(met[1:] > met[:-1])):
        return _scattered_sums(values, group, total)
    part = run_sums(values, starts)
    if met.size == total:
        return part
    whole = _empty(total)
    for name in ("n", "mean", "ss", "minimum", "maximum"):
        getattr(whole, name)[met] = getattr(part, name)
    return whole


def run_sums(values: Array, starts: IntArray) -> GroupedSums:
    """Return the sums of runs of neighbouring values.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
    starts : ndarray of int, shape (groups,)
        Where each run starts, ascending, the first 0; every run has at least one value.
    """
    n = np.diff(np.append(starts, values.size))
    mean, ss, minimum, maximum = (np.empty(n.size) for _ in range(4))
    even = bool(n.size) and bool((n == n[0]).all())
    length = int(n[0]) if even else 1
    for low, high in _blocks(starts, values.size):
        span = slice(low, high)
        begin = int(starts[low])
        end = int(starts[high]) if high < starts.size else values.size
        block = values[begin:end]
        if even and length <= LONGEST_ROW:
            found = _even_block(block, length)
        else:
            found = _uneven_block(block, starts[span] - begin, n[span])
        mean[span], ss[span], minimum[span], maximum[span] = found
    return GroupedSums(n=n, mean=mean, ss=ss, minimum=minimum, maximum=maximum)


def _blocks(starts: IntArray, size: int) -> Iterator[tuple[int, int]]:
    """Yield ranges of groups that together are about as large as fits a processor's cache."""
    cuts = np.searchsorted(starts, np.arange(0, size, BLOCK))
    cuts = np.unique(np.append(cuts, starts.size))
    yield from zip(cuts[:-1].tolist(), cuts[1:].tolist(), strict=True)


def _even_block(block: Array, length: int) -> tuple[Array, Array, Array, Array]:
    """Return mean, sum of squares, least and largest of groups of equal length: one column a group."""
    if length == 2:  # by far the usual repeat; the same arithmetic, with what it gives zero left out
        one, other = block[::2], block[1::2]
        apart = other - one
        half = apart / 2
        apart *= half
        half += one
        return half, apart, np.minimum(one, other), np.maximum(one, other)
    table = block.reshape(-1, length).T.copy()  # always a copy: the caller keeps his values
    minimum, maximum = table.min(axis=0), table.max(axis=0)
    first = table[0].copy()
    table -= first
    offset = table.sum(axis=0) / length
    table -= offset
    rest = table.sum(axis=0)
    ss = np.einsum("ij,ij->j", table, table) - rest * rest / length
    return first + (offset + rest / length), np.maximum(ss, 0.0), minimum, maximum


def _uneven_block(block: Array, starts: IntArray, n: IntArray) -> tuple[Array, Array, Array, Array]:
    """Return mean, sum of squares, least and largest of runs of any length."""
    first = block[starts]
    about = block - np.repeat(first, n)
    offset = np.add.reduceat(about, starts) / n
    about -= np.repeat(offset, n)
    rest = np.add.reduceat(about, starts)
    about *= about
    ss = np.add.reduceat(about, starts) - rest * rest / n
    mean = first + (offset + rest / n)
    return mean, np.maximum(ss, 0.0), np.minimum.reduceat(block, starts), np.maximum.reduceat(block, starts)


def _scattered_sums(values: Array, group: IntArray, groups: int) -> GroupedSums:
    """Return the sums of groups whose values stand in any order."""
    n = np.bincount(group, minlength=groups)
    first = np.zeros(groups)
    first[group[::-1]] = values[::-1]
    divisor = np.maximum(n, 1)
    about = values - first[group]
    offset = np.bincount(group, about, groups) / divisor
    about -= offset[group]
    rest = np.bincount(group, about, groups)
    about *= about
    ss = np.bincount(group, about, groups) - rest * rest / divisor
    minimum = np.full(groups, np.inf)
    maximum = np.full(groups, -np.inf)
    np.minimum.at(minimum, group, values)
    np.maximum.at(maximum, group, values)
    return GroupedSums(
        n=n, mean=first + (offset + rest / divisor), ss=np.maximum(ss, 0.0), minimum=minimum, maximum=maximum
    )


def merge_sums(one: GroupedSums, other: GroupedSums) -> GroupedSums:
    """Return the sums of the values of both, group by group.

    Parameters
    ----------
    one, other : GroupedSums
        Of the same groups in the same order.

    References
    ----------
    Chan, Golub, LeVeque (1983), formulas (2.1a) and (2.1b). Tests: ``tests/tracker/spread/test_grouped.py``.
    """
    n = one.n + other.n
    divisor = np.maximum(n, 1)
    gap = other.mean - one.mean
    mean = np.where(one.n == 0, other.mean, one.mean + gap * (other.n / divisor))
    ss = one.ss + other.ss + gap * gap * (one.n * (other.n / divisor))
    return GroupedSums(
        n=n,
        mean=mean,
        ss=ss,
        minimum=np.minimum(one.minimum, other.minimum),
        maximum=np.maximum(one.maximum, other.maximum),
    )


def pool_sums(sums: GroupedSums, group: IntArray, groups: int | None = None) -> GroupedSums:
    """Return the sums of groups of groups: sums of readings by piece become sums of readings by batch.

    Parameters
    ----------
    sums : GroupedSums
        Of ``m`` groups.
    group : array_like of int, shape (m,)
        Which larger group each belongs to, from 0.
    groups : int, optional
        How many larger groups there are.
    """
    group = np.asarray(group)
    total = (int(group.max()) + 1 if group.size else 0) if groups is None else groups
    if group.size == 0:
        return _empty(total)
    n = np.bincount(group, sums.n, total).astype(np.int64)
    divisor = np.maximum(n, 1)
    first = np.zeros(total)
    filled = sums.n > 0
    first[group[filled][::-1]] = sums.mean[filled][::-1]
    about = np.where(filled, sums.mean - first[group], 0.0)
    offset = np.bincount(group, sums.n * about, total) / divisor
    about = np.where(filled, about - offset[group], 0.0)
    ss = np.asarray(np.bincount(group, sums.ss + sums.n * about * about, total), dtype=float)
    minimum = np.full(total, np.inf)
    maximum = np.full(total, -np.inf)
    np.minimum.at(minimum, group, sums.minimum)
    np.maximum.at(maximum, group, sums.maximum)
    return GroupedSums(n=n, mean=first + offset, ss=ss, minimum=minimum, maximum=maximum)


def _empty(groups: int) -> GroupedSums:
    """Return the sums of groups that hold nothing."""
    return GroupedSums(
        n=np.zeros(groups, dtype=np.int64),
        mean=np.zeros(groups),
        ss=np.zeros(groups),
        minimum=np.full(groups, np.inf),
        maximum=np.full(groups, -np.inf),
    )
