"""Sums of many groups at once, which add up: count, mean, sum of squares about the mean, least and largest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tracker.errors import TrackerError
from tracker.result import Result
from tracker.spread.arguments import Array, IntArray


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
    values = np.asarray(values, dtype=float)
    group = np.asarray(group)
    if values.shape != group.shape or values.ndim != 1:
        raise TrackerError(f"{values.shape} values and {group.shape} group numbers; accepted is one number a value")
    if values.size == 0:
        total = groups or 0
        return _empty(total)
    if group.min() < 0 or (groups is not None and group.max() >= groups):
        raise TrackerError(f"group numbers run from {group.min()} to {group.max()}; accepted is 0 to {groups}")
    total = int(group.max()) + 1 if groups is None else groups
    if bool(np.all(group[1:] >= group[:-1])):
        starts = np.flatnonzero(np.r_[True, group[1:] != group[:-1]])
        part = run_sums(values, starts)
        present = group[starts]
        if present.size == total:
            return part
        whole = _empty(total)
        for name in ("n", "mean", "ss", "minimum", "maximum"):
            getattr(whole, name)[present] = getattr(part, name)
        return whole
    return _scattered_sums(values, group, total)


def run_sums(values: Array, starts: IntArray) -> GroupedSums:
    """Return the sums of runs of neighbouring values.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
    starts : ndarray of int, shape (groups,)
        Where each run starts, ascending, the first 0; every run has at least one value.
    """
    n = np.diff(np.append(starts, values.size))
    first = values[starts]
    even = bool(n.size) and bool((n == n[0]).all())
    if even and n[0] <= 64:
        table = values.reshape(-1, int(n[0]))
        about = table - first[:, None]
        offset = about.sum(axis=1) / n
        about -= offset[:, None]
        rest = about.sum(axis=1)
        ss = np.einsum("ij,ij->i", about, about) - rest * rest / n
        return GroupedSums(
            n=n,
            mean=first + (offset + rest / n),
            ss=np.maximum(ss, 0.0),
            minimum=table.min(axis=1),
            maximum=table.max(axis=1),
        )
    about = values - np.repeat(first, n)
    offset = np.add.reduceat(about, starts) / n
    about -= np.repeat(offset, n)
    rest = np.add.reduceat(about, starts)
    about *= about
    ss = np.add.reduceat(about, starts) - rest * rest / n
    return GroupedSums(
        n=n,
        mean=first + (offset + rest / n),
        ss=np.maximum(ss, 0.0),
        minimum=np.minimum.reduceat(values, starts),
        maximum=np.maximum.reduceat(values, starts),
    )


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
