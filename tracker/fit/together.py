"""The chance that many gaps are all within limits, what they share in doubt handled as shared."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from tracker.fit.batch_spread import given_readings, legendre_nodes, normal_share
from tracker.fit.checks import Floats, generator, round_off

REACH, BLUR, NODES = 8.5, 8.0, 48
AT_ONCE = 1_000_000
ORDERS = 10_000
THINNED = 600


def all_hold(gap: Floats, sd: Floats, low: float, high: float, common: float = 0.0, near: float = 0.0) -> float:
    """Return the chance that all these gaps are within limits in truth.

    Parameters
    ----------
    gap, sd : array, shape (pairs,)
        Each gap as measured, and its own standard uncertainty.
    low, high : float
        Limits; infinite when open.
    common : float
        Standard uncertainty that all gaps share.
    near : float
        Gaps closer than this are the same.

    Returns
    -------
    float
        A product over pairs, averaged over what they share, which is normal; 1 without a pair.

    Notes
    -----
    The integral is cut where the product bends (around the shifts that bring the outermost gaps to their limits), so
    that it holds for gaps that share all their doubt too. Held against `scipy.stats` and simulation in
    tests/tracker/fit/test_together.py.
    """
    if gap.size == 0:
        return 1.0
    if common <= 0:
        return float(np.prod(normal_share(gap, sd, low, high, near)))
    reach = REACH * common
    blur = BLUR * float(np.max(sd))
    bends = [low - float(np.min(gap)), high - float(np.max(gap))]
    cuts = [-reach, reach, *(bend + side * blur for bend in bends for side in (-1, 0, 1) if math.isfinite(bend))]
    points = np.unique(np.clip(cuts, -reach, reach))
    x, weight = legendre_nodes(NODES)
    half = np.diff(points)[:, None] / 2
    shifts = (points[:-1, None] + half + half * x).ravel()
    density = np.exp(-0.5 * (shifts / common) ** 2) / (common * math.sqrt(2 * math.pi))
    parts = np.array_split(shifts, max(1, shifts.size * gap.size // AT_ONCE))
    shares = (normal_share(gap + some[:, None], np.tile(sd, (some.size, 1)), low, high, near) for some in parts)
    each = np.concatenate([np.prod(share, axis=1) for share in shares])
    return float(min((half * weight).ravel() * density @ each, 1.0))


def any_order_holds(
    internal: Floats,
    external: Floats,
    uncertainty: tuple[Floats, Floats],
    limits: Sequence[tuple[float, float]],
    common: Sequence[float],
    *,
    pairs: int | None = None,
    rng: np.random.Generator | int | None = None,
) -> float:
    """Return the chance that all pairs meet every closure when the measured pieces are met in a random order.

    Parameters
    ----------
    internal, external : array, shape (m, closures) and (n, closures)
        Measured sizes.
    uncertainty : (array, array)
        Standard uncertainties, shaped like the sizes.
    limits : sequence of (low, high)
        One a closure; infinite when open.
    common : sequence of float
        Standard uncertainty that all gaps of a closure share.
    pairs : int, optional
        How many pairs are made; by default as many as the shorter side has pieces.
    rng : numpy.random.Generator or seed, optional
        By default a fixed seed.

    Notes
    -----
    Random orders, each with a draw of what the gaps share; given these the chance of the whole order is computed, not
    drawn, so that few orders tell. Held against the exact mean over all orders in tests/tracker/fit/test_together.py.
    """
    random = generator(rng)
    m, n = len(internal), len(external)
    count = min(m, n) if pairs is None else min(pairs, m, n)
    draws = int(min(ORDERS, max(100, AT_ONCE // max(m, n))))
    left = random.permuted(np.broadcast_to(np.arange(m), (draws, m)), axis=1)[:, :count]
    right = random.permuted(np.broadcast_to(np.arange(n), (draws, n)), axis=1)[:, :count]
    near = round_off(internal, external)
    held = np.ones(draws)
    for k, (low, high) in enumerate(limits):
        inside, inside_sd = given_readings(internal[:, k], uncertainty[0][:, k])
        outside, outside_sd = given_readings(external[:, k], uncertainty[1][:, k])
        shared = common[k] * random.standard_normal((draws, 1))
        gap = inside[left] - outside[right] + shared
        sd = np.hypot(inside_sd[left], outside_sd[right])
        held = held * np.prod(normal_share(gap, sd, low, high, near), axis=1)
    return float(held.mean())


def random_pair_holds(
    internal: Floats,
    external: Floats,
    uncertainty: tuple[Floats, Floats],
    limits: Sequence[tuple[float, float]],
    common: Sequence[float],
) -> float:
    """Return the chance that two of the measured pieces, met at random, meet every closure; as `any_order_holds`.

    Above 600 pieces a side an evenly thinned set stands for the side.
    """
    near = round_off(internal, external)
    rows, columns = (np.unique(np.linspace(0, len(side) - 1, THINNED).astype(int)) for side in (internal, external))
    held = np.ones((rows.size, columns.size))
    for k, (low, high) in enumerate(limits):
        inside, inside_sd = given_readings(internal[:, k], uncertainty[0][:, k])
        outside, outside_sd = given_readings(external[:, k], uncertainty[1][:, k])
        gap = inside[rows][:, None] - outside[columns]
        sd = np.sqrt(inside_sd[rows][:, None] ** 2 + outside_sd[columns] ** 2 + common[k] ** 2)
        held = held * normal_share(gap, sd, low, high, near)
    return float(held.mean())
