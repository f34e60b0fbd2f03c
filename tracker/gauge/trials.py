"""Propagation of distributions by random trials, after JCGM 101."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.errors import TrackerError
from tracker.result import Result
from tracker.spread.arguments import share


@dataclass(frozen=True, slots=True, kw_only=True)
class MonteCarlo(Result):
    """Mean, sd and coverage intervals of the drawn results.

    ``low`` and ``high`` cut equal tails; ``shortest_low`` and ``shortest_high`` are the shortest interval.
    """

    mean: float
    standard: float
    low: float
    high: float
    shortest_low: float
    shortest_high: float
    confidence: float
    trials: int

    def __str__(self) -> str:
        """Say the interval and how many trials gave it."""
        return (
            f"By {self.trials} random trials (JCGM 101): standard uncertainty {self.standard:.4g}, "
            f"between {self.low:.8g} and {self.high:.8g} with {share(self.confidence)}."
        )


def draw_trials(
    model: Callable[[np.ndarray], Any],
    estimates: np.ndarray,
    standards: np.ndarray,
    dofs: np.ndarray,
    distributions: Sequence[str],
    correlation: np.ndarray,
    confidence: float,
    trials: int,
    rng: np.random.Generator,
) -> MonteCarlo:
    """Return the results of random trials of the inputs through the model.

    Parameters
    ----------
    model : callable
        Takes an array of shape (k, trials), gives an array of shape (trials,).
    estimates, standards, dofs : ndarray, shape (k,)
        Best values, standard uncertainties, degrees of freedom of the inputs.
    distributions : sequence of str
        Of each input. A normal input with finite degrees of freedom is drawn as a scaled t (JCGM 101, 6.4.9).
    correlation : ndarray, shape (k, k)
        Correlated inputs are drawn together as normals (JCGM 101, 6.4.8) and must be normal.
    confidence : float
    trials : int
        At least 1000.
    rng : numpy.random.Generator

    Returns
    -------
    MonteCarlo
    """
    if trials < 1000:
        raise TrackerError(f"{trials} trials cannot show an interval; take 1000 or more (200000 is usual)")
    inputs = np.empty((estimates.size, trials))
    linked = np.any(correlation != np.eye(estimates.size), axis=1)
    for k in np.flatnonzero(~linked).tolist():
        inputs[k] = estimates[k] + standards[k] * _draw(distributions[k], dofs[k], trials, rng)
    together = np.flatnonzero(linked)
    if together.size:
        odd = [distributions[k] for k in together.tolist() if distributions[k] != "normal"]
        if odd:
            raise TrackerError(f"a correlated row is {odd[0]}; random trials of correlated rows want normal ones")
        values, vectors = np.linalg.eigh(correlation[np.ix_(together, together)])
        root = vectors * np.sqrt(np.clip(values, 0.0, None))
        normal = root @ rng.standard_normal((together.size, trials))
        inputs[together] = estimates[together, None] + standards[together, None] * normal
    results = np.broadcast_to(np.asarray(model(inputs), dtype=float), (trials,))
    bad = int(np.sum(~np.isfinite(results)))
    if bad:
        raise TrackerError(
            f"the model gives no number in {bad} of {trials} trials; the inputs reach where it cannot be computed"
        )
    return _summary(np.sort(results), confidence)


def _draw(distribution: str, dof: float, trials: int, rng: np.random.Generator) -> np.ndarray:
    """Return draws of standard uncertainty 1 (of scale 1 for a t)."""
    if distribution == "rectangular":
        return rng.uniform(-math.sqrt(3), math.sqrt(3), trials)
    if distribution == "triangular":
        return rng.triangular(-math.sqrt(6), 0.0, math.sqrt(6), trials)
    if distribution == "arcsine":
        return math.sqrt(2) * np.sin(rng.uniform(-math.pi, math.pi, trials))
    if math.isfinite(dof):
        return rng.standard_t(dof, trials)
    return rng.standard_normal(trials)


def _summary(ordered: np.ndarray, confidence: float) -> MonteCarlo:
    """Return mean, sd, and both intervals (JCGM 101, 7.7) of sorted results."""
    trials = ordered.size
    inside = min(round(confidence * trials), trials - 1)
    start = (trials - inside) // 2
    widths = ordered[inside:] - ordered[: trials - inside]
    shortest = int(np.argmin(widths))
    return MonteCarlo(
        mean=float(np.mean(ordered)),
        standard=float(np.std(ordered, ddof=1)),
        low=float(ordered[start]),
        high=float(ordered[min(start + inside, trials - 1)]),
        shortest_low=float(ordered[shortest]),
        shortest_high=float(ordered[shortest + inside]),
        confidence=confidence,
        trials=trials,
    )
