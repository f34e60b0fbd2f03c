"""Many batches at once: spread and capability of each as arrays, without a loop over batches or pieces."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import TrackerError
from tracker.result import Result
from tracker.spread.arguments import Array, IntArray, checked_confidence, numbers
from tracker.spread.grouped import GroupedSums
from tracker.spread.indices import bissell_interval, index_interval

Flags = np.ndarray[Any, np.dtype[np.bool_]]
CHUNK = 20_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchSpreads(Result):
    """Mean and sd of many batches with their intervals, arrays of shape (batches,).

    Where ``known`` is False (fewer than two pieces) the sd is 0 and every interval is unbounded.
    """

    n: IntArray
    mean: Array
    mean_low: Array
    mean_high: Array
    sd: Array
    sd_low: Array
    sd_high: Array
    known: Flags
    confidence: float

    def __str__(self) -> str:
        return f"spread of {self.n.size:,} batches, {int(self.known.sum()):,} of them with two pieces or more"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchCapabilities(Result):
    """Capability of many batches, arrays of shape (batches,).

    ``pp`` is infinite where a limit is open. Where ``known`` is False (fewer than two pieces, or no spread) indices and
    shares are 0 and their intervals unbounded. ``method`` says which interval Ppk has.
    """

    n: IntArray
    pp: Array
    ppk: Array
    ppk_low: Array
    ppk_high: Array
    beyond_lower: Array
    beyond_upper: Array
    known: Flags
    confidence: float
    method: str

    def __str__(self) -> str:
        return f"capability of {self.n.size:,} batches, {int(self.known.sum()):,} of them known ({self.method})"


def batch_spreads(sums: GroupedSums, confidence: float = 0.95) -> BatchSpreads:
    """Return mean and sd of each batch with t and chi-square intervals.

    Parameters
    ----------
    sums : GroupedSums
        Of the sizes of each batch (see `grouped_sums`).
    confidence : float

    References
    ----------
    As `summarize`. Tests: ``tests/tracker/spread/test_many.py``.
    """
    checked_confidence(confidence)
    known = sums.n >= 2
    counts, inverse = np.unique(np.where(known, sums.n, 2), return_inverse=True)
    dof = counts - 1.0
    tail = (1 - confidence) / 2
    t = (special.stdtrit(dof, 1 - tail) / np.sqrt(counts))[inverse]
    shrink = np.sqrt(dof / 2 / special.gammaincinv(dof / 2, 1 - tail))[inverse]
    stretch = np.sqrt(dof / 2 / special.gammaincinv(dof / 2, tail))[inverse]
    sd = sums.sd
    return BatchSpreads(
        n=sums.n,
        mean=sums.mean,
        mean_low=np.where(known, sums.mean - t * sd, -np.inf),
        mean_high=np.where(known, sums.mean + t * sd, np.inf),
        sd=sd,
        sd_low=np.where(known, shrink * sd, 0.0),
        sd_high=np.where(known, stretch * sd, np.inf),
        known=known,
        confidence=confidence,
    )


def batch_capabilities(
    sums: GroupedSums, lower: Any = None, upper: Any = None, confidence: float = 0.95, *, exact: bool = False
) -> BatchCapabilities:
    """Return the overall capability of each batch against its limits.

    Parameters
    ----------
    sums : GroupedSums
        Of the sizes of each batch.
    lower, upper : float or array_like of shape (batches,), optional
        Limits; None or infinite where open.
    confidence : float
    exact : bool
        Whether Ppk gets the interval of `capability`, which holds at small n but costs about 0.1 ms a batch; otherwise
        Bissell's approximation, which misses more often than said below about 25 pieces.

    Raises
    ------
    TrackerError
        If a lower limit is not below its upper limit, or both are open.

    References
    ----------
    As `capability`. Tests: ``tests/tracker/spread/test_many.py``.
    """
    checked_confidence(confidence)
    low = _limits(-np.inf if lower is None else lower, "lower", sums.n.size)
    high = _limits(np.inf if upper is None else upper, "upper", sums.n.size)
    wrong = ~(low < high) | (np.isinf(low) & np.isinf(high))
    if wrong.any():
        first = int(np.flatnonzero(wrong)[0])
        raise TrackerError(
            f"batch {first + 1}: limits {low[first]:g} and {high[first]:g}; accepted is a lower limit below the upper, "
            "at least one of them given"
        )
    sd = sums.sd
    known = (sums.n >= 2) & (sd > 0)
    scale = np.where(known, sd, 1.0)
    above, below = (high - sums.mean) / scale, (sums.mean - low) / scale
    ppk = np.where(known, np.minimum(above, below) / 3, 0.0)
    n = np.where(known, sums.n, 2).astype(float)
    if exact:
        bottom, top = np.full(n.shape, -np.inf), np.full(n.shape, np.inf)
        chosen = np.flatnonzero(known)
        for start in range(0, chosen.size, CHUNK):
            at = chosen[start : start + CHUNK]
            bottom[at], top[at] = index_interval(sums.mean[at], sd[at], n[at], n[at] - 1, low[at], high[at], confidence)
    else:
        bottom, top = bissell_interval(ppk, n, n - 1, confidence)
    return BatchCapabilities(
        n=sums.n,
        pp=np.where(known, (high - low) / (6 * scale), 0.0),
        ppk=ppk,
        ppk_low=np.where(known, bottom, -np.inf),
        ppk_high=np.where(known, top, np.inf),
        beyond_lower=np.where(known, special.ndtr(-below), 0.0),
        beyond_upper=np.where(known, special.ndtr(-above), 0.0),
        known=known,
        confidence=confidence,
        method="exact interval" if exact else "Bissell's approximate interval",
    )


def mean_moving_ranges(sizes: Array, batch: IntArray, batches: int | None = None) -> Array:
    """Return the sd within each batch from the mean moving range of neighbouring pieces, shape (batches,).

    Parameters
    ----------
    sizes : ndarray, shape (n,)
        In order of making within each batch; batches one after the other.
    batch : ndarray of int, shape (n,)
        Number of the batch of each size, from 0.
    batches : int, optional

    Returns
    -------
    ndarray
        0 where a batch has fewer than two pieces.
    """
    total = (int(batch.max()) + 1 if batch.size else 0) if batches is None else batches
    together = batch[1:] == batch[:-1]
    ranges = np.abs(np.diff(sizes))[together]
    of = batch[1:][together]
    n = np.bincount(of, minlength=total)
    return np.asarray(np.bincount(of, ranges, total) / np.maximum(n, 1) * (math.sqrt(math.pi) / 2))


def _limits(given: Any, name: str, batches: int) -> Array:
    """Return the limit of each batch, from one for all or one each."""
    found = numbers(given, name)
    if found.shape not in ((), (1,), (batches,)):
        raise TrackerError(f"{name}: found shape {found.shape}; give one limit, or one for each of {batches} batches")
    return np.broadcast_to(found, (batches,))
