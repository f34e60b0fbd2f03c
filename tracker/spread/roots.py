"""Where functions cross zero, for many at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tracker.spread.arguments import Array


def bracketed_roots(
    function: Callable[[Array], Array], low: Array, high: Array, tolerance: float = 1e-11, limit: int = 80
) -> Array:
    """Return, entry by entry, where a function crosses zero between two points at which its signs differ.

    Parameters
    ----------
    function : callable
        Array of shape (n,) to array of shape (n,), entry by entry.
    low, high : ndarray, shape (n,)
    tolerance : float
        Of the point, relative to its size or 1, whichever is larger.
    limit : int
        Evaluations at most; the bracket is halved at worst, so 80 settle any.

    References
    ----------
    Chandrupatla, Advances in Engineering Software 28 (1997) 145-149 (inverse quadratic steps where they are safe,
    else halving). Tests: ``tests/tracker/spread/test_roots.py``.
    """
    a, b = low.astype(float).copy(), high.astype(float).copy()
    fa, fb = function(a), function(b)
    c, fc = a.copy(), fa.copy()
    t = np.full(a.shape, 0.5)
    for _ in range(limit):
        x = a + t * (b - a)
        fx = function(x)
        same = np.sign(fx) == np.sign(fa)
        c, fc = np.where(same, a, b), np.where(same, fa, fb)
        b, fb = np.where(same, b, a), np.where(same, fb, fa)
        a, fa = x, fx
        best = np.where(np.abs(fa) < np.abs(fb), a, b)
        done = (np.abs(b - a) <= tolerance * np.maximum(1.0, np.abs(best))) | (fa == 0)
        if done.all():
            break
        t = _next_step(a, b, c, fa, fb, fc, tolerance)
        t = np.where(fa == 0, 0.0, t)
    return np.where(np.abs(fa) < np.abs(fb), a, b)


def _next_step(a: Array, b: Array, c: Array, fa: Array, fb: Array, fc: Array, tolerance: float) -> Array:
    """Return how far from a towards b to try next."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        xi = (a - b) / (c - b)
        phi = (fa - fb) / (fc - fb)
        safe = (phi * phi < xi) & ((1 - phi) ** 2 < 1 - xi)
        quadratic = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
        edge = np.clip(0.5 * tolerance * np.maximum(1.0, np.abs(a)) / np.abs(b - a), 0.0, 0.5)
    t = np.where(safe & np.isfinite(quadratic), quadratic, 0.5)
    edge = np.where(np.isfinite(edge), edge, 0.5)
    return np.asarray(np.clip(t, edge, 1 - edge))
