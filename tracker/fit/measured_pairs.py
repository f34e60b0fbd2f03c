"""The measured pieces in any order: share of good pairs, and the chance that a whole random order is good."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from tracker.fit.batch_spread import given_readings, normal_share
from tracker.fit.checks import Floats, round_off

CELLS = 400_000
DRAWS = 20_000
MANY = 1000


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredShare:
    """Shares of all m x n pairs of measured pieces: ``good + tight + loose = 1``."""

    good: float
    tight: float
    loose: float


def share_of_pairs(internal: Floats, external: Floats, low: float, high: float) -> MeasuredShare:
    """Return the shares of good, too tight and too loose pairs, exact over all m x n pairs.

    Parameters
    ----------
    internal, external : array
        Sizes in ascending order.
    low, high : float
        Gap limits; infinite when open.

    Notes
    -----
    For each internal piece the external pieces that are too large for it, and those that are too small,
    are counted by a search in the sorted list: O((m + n) log n).
    """
    near = round_off(internal, external)
    total = len(internal) * len(external)
    tight = loose = 0
    if math.isfinite(low):
        tight = total - int(np.searchsorted(external, internal - (low - near), side="right").sum())
    if math.isfinite(high):
        loose = int(np.searchsorted(external, internal - (high + near), side="left").sum())
    return MeasuredShare(good=(total - tight - loose) / total, tight=tight / total, loose=loose / total)


def _thinned(values: Floats, most: int = 600) -> Floats:
    """Return every k-th of sorted values, so that at most ``most`` remain."""
    if len(values) <= most:
        return values
    return values[((np.arange(most) + 0.5) * len(values) / most).astype(np.int64)]


def chance_of_pair(
    internal: Floats,
    external: Floats,
    low: float,
    high: float,
    uncertainty: tuple[Floats, Floats],
    common: float,
) -> float:
    """Return the chance that two of the measured pieces, met at random, are within limits in truth.

    The gauge's uncertainty of each piece, and the part common to all, are in it. Above 600 pieces a
    side an evenly thinned set stands for the side.
    """
    inside, inside_sd = given_readings(internal, uncertainty[0])
    outside, outside_sd = given_readings(external, uncertainty[1])
    inside, inside_sd, outside, outside_sd = map(_thinned, (inside, inside_sd, outside, outside_sd))
    gap = inside[:, None] - outside
    sd = np.sqrt(inside_sd[:, None] ** 2 + outside_sd**2 + common**2)
    return float(normal_share(gap, sd, low, high, round_off(internal, external)).mean())


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class WholeOrder:
    """Chance that every pair of a random order is good; ``error`` is the standard error of a simulation."""

    chance: float
    error: float
    method: str


def whole_order(
    internal: Floats,
    external: Floats,
    low: float,
    high: float,
    uncertainty: tuple[Floats, Floats],
    common: float,
    rng: np.random.Generator,
    pairs: int | None = None,
) -> WholeOrder:
    """Return the chance that all pairs are good when the measured pieces are met in a random order.

    Parameters
    ----------
    internal, external : array
        Measured sizes in ascending order.
    low, high : float
        Gap limits; infinite when open.
    uncertainty : (array, array)
        Standard uncertainty of each piece, independent from piece to piece.
    common : float
        Standard uncertainty of the gap that all pairs share.
    rng : numpy.random.Generator
        Where the simulated orders come from.
    pairs : int, optional
        How many pairs are made; by default as many as the shorter side has pieces.

    Notes
    -----
    Without gauge uncertainty: 1 when every pair is good, 0 when a piece that must be used fits none,
    and with one limit only an exact product (the sets of mates are nested). Otherwise orders (and true
    sizes, given the readings) are simulated, up to 20,000 of them. Above 1000 pieces a side the rows
    are taken as independent, which is right to about 1/n.
    """
    m, n = len(internal), len(external)
    shorter = min(m, n)
    count = shorter if pairs is None else min(pairs, shorter)
    sure = not (np.any(uncertainty[0] > 0) or np.any(uncertainty[1] > 0) or common > 0)
    near = round_off(internal, external)
    if sure:
        mates = _mates(internal, external, low, high, near)
        longer = max(m, n)
        if mates.min() == longer:
            return WholeOrder(chance=1.0, error=0.0, method="every measured pair is within limits")
        other = _mates(external, internal, -high, -low, near) if m == n else mates
        if count == shorter and min(mates.min(), other.min()) == 0:
            return WholeOrder(chance=0.0, error=0.0, method="a piece fits none of the others")
        if count == shorter and not (math.isfinite(low) and math.isfinite(high)):
            return _nested(mates, longer)
        if shorter > MANY:
            each = min(float(np.log(np.maximum(side, 1) / longer).mean()) for side in (mates, other))
            chance = math.exp(each * count)
            return WholeOrder(chance=chance, error=0.0, method="rows taken as independent (over 1000 pieces)")
    order = _simulated(internal, external, low, high, uncertainty, common, rng, count, near)
    if not sure or count < shorter:
        return order
    # meeting both limits is never likelier than meeting either one, and those two are known exactly
    ceiling = min(
        _nested(_mates(internal, external, low, math.inf, near), longer).chance,
        _nested(_mates(internal, external, -math.inf, high, near), longer).chance,
    )
    return dataclasses.replace(order, chance=min(order.chance, ceiling))


def _mates(internal: Floats, external: Floats, low: float, high: float, near: float) -> Floats:
    """Return for each piece of the shorter side how many of the other side fit it."""
    if len(internal) <= len(external):
        first = np.searchsorted(external, internal - (high + near), side="left")
        last = np.searchsorted(external, internal - (low - near), side="right")
    else:
        first = np.searchsorted(internal, external + (low - near), side="left")
        last = np.searchsorted(internal, external + (high + near), side="right")
    mates: Floats = np.maximum(last - first, 0).astype(np.float64)
    return mates


def _nested(mates: Floats, longer: int) -> WholeOrder:
    taken = np.arange(len(mates))
    free = np.sort(mates) - taken
    if free.min() <= 0:
        return WholeOrder(chance=0.0, error=0.0, method="exact: too few mates for the pieces at one end")
    chance = float(np.exp(np.log(free / (longer - taken)).sum()))
    return WholeOrder(chance=chance, error=0.0, method="exact: sets of mates are nested")


def _simulated(
    internal: Floats,
    external: Floats,
    low: float,
    high: float,
    uncertainty: tuple[Floats, Floats],
    common: float,
    rng: np.random.Generator,
    count: int,
    near: float,
) -> WholeOrder:
    inside, inside_sd = given_readings(internal, uncertainty[0])
    outside, outside_sd = given_readings(external, uncertainty[1])
    m, n = len(inside), len(outside)
    draws = int(min(DRAWS, max(50, CELLS // max(m, n))))
    noisy = bool(np.any(inside_sd > 0) or np.any(outside_sd > 0))
    good = np.zeros(draws, dtype=bool)
    block = max(1, min(draws, CELLS // max(m, n)))
    for start in range(0, draws, block):
        rows = min(block, draws - start)
        left = np.broadcast_to(np.arange(m), (rows, m))
        right = np.broadcast_to(np.arange(n), (rows, n))
        if n >= m:
            right = rng.permuted(right, axis=1)
        if m > n or count < min(m, n):
            left = rng.permuted(left, axis=1)
        left, right = left[:, :count], right[:, :count]
        gap = inside[left] - outside[right]
        if noisy:
            sd = np.sqrt(inside_sd[left] ** 2 + outside_sd[right] ** 2)
            gap = gap + sd * rng.standard_normal(gap.shape)
        if common > 0:
            gap = gap + common * rng.standard_normal((rows, 1))
        good[start : start + rows] = np.all((gap >= low - near) & (gap <= high + near), axis=1)
    chance = float(good.mean())
    # Agresti-Coull style floor, so that 0 of N is not given as certain
    smoothed = (good.sum() + 1.0) / (draws + 2.0)
    error = math.sqrt(smoothed * (1.0 - smoothed) / draws)
    return WholeOrder(chance=chance, error=error, method=f"{draws} simulated orders")
