"""The chance that many gaps are all within limits, what they share in doubt handled as shared."""

from __future__ import annotations

import math

import numpy as np

from tracker.fit.batch_spread import legendre_nodes, normal_share
from tracker.fit.checks import Floats

REACH, BLUR, NODES = 8.5, 8.0, 48
AT_ONCE = 1_000_000


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
