"""Risks of accepting and rejecting by reading: over all pieces of a process."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.errors import TrackerError
from tracker.result import Result
from tracker.spread.arguments import checked_limits, finite_number

REACH = 9.5


@dataclass(frozen=True, slots=True, kw_only=True)
class GlobalRisk(Result):
    """What happens to all pieces when readings decide.

    Attributes
    ----------
    consumer_risk : float
        Share of all pieces that are bad and accepted.
    producer_risk : float
        Share of all pieces that are good and rejected.
    bad : float
        Share of all pieces that are bad.
    accepted : float
        Share of all pieces that are accepted.
    bad_among_accepted : float
        consumer_risk / accepted (0 when nothing is accepted).
    """

    consumer_risk: float
    producer_risk: float
    bad: float
    accepted: float
    bad_among_accepted: float
    accept_lower: float | None
    accept_upper: float | None
    method: str
    n: int | None = None

    def __str__(self) -> str:
        """Say both risks, in pieces of ten thousand."""
        return (
            f"Of 10000 pieces, {1e4 * self.consumer_risk:.1f} are bad and accepted, "
            f"{1e4 * self.producer_risk:.1f} good and rejected; {1e4 * self.bad:.1f} are bad ({self.method})."
        )


def global_risk(
    process_mean: float,
    process_sd: float,
    uncertainty: float,
    lower: float | None = None,
    upper: float | None = None,
    accept_lower: float | None = None,
    accept_upper: float | None = None,
) -> GlobalRisk:
    """Return consumer's and producer's risk over all pieces of a process.

    Parameters
    ----------
    process_mean, process_sd : float
        Of the true sizes.
    uncertainty : float
        Standard uncertainty of a reading.
    lower, upper : float, optional
        Limits of size; at least one.
    accept_lower, accept_upper : float, optional
        Limits for readings, `guard_band` gives them; the limits of size when not given.

    Returns
    -------
    GlobalRisk

    Raises
    ------
    TrackerError
        Without any limit, with limits the wrong way round, or an sd or uncertainty out of range.

    Notes
    -----
    True sizes normal, reading = size + normal error, both known. Integrated over the true size with breaks at all
    limits, so that a small uncertainty costs no accuracy.

    References
    ----------
    JCGM 106:2012, 9.5 (from memory): tests/published/test_gauge_conformity.py.
    """
    low, high = checked_limits(lower, upper)
    process_mean = finite_number(process_mean, "process_mean")
    from_low, to_high = checked_limits(
        low if accept_lower is None else accept_lower, high if accept_upper is None else accept_upper
    )
    if not finite_number(process_sd, "process_sd") > 0 or not finite_number(uncertainty, "uncertainty") >= 0:
        raise TrackerError(
            f"process_sd is {process_sd!r}, uncertainty {uncertainty!r}; give an sd above 0 and an uncertainty "
            "of 0 or more"
        )
    x, weight = _points(process_mean, process_sd, uncertainty, (low, high, from_low, to_high))
    z = (x - process_mean) / process_sd
    mass = weight * np.exp(-0.5 * z * z) / (process_sd * math.sqrt(2 * math.pi))
    passed = _accepted(x, uncertainty, from_low, to_high)
    good = (x >= low) & (x <= high)
    bad_share = float(
        special.ndtr((low - process_mean) / process_sd) + special.ndtr((process_mean - high) / process_sd)
    )
    consumer = float(np.sum((mass * passed)[~good]))
    producer = float(np.sum((mass * (1 - passed))[good]))
    accepted = float(np.sum(mass * passed))
    return GlobalRisk(
        consumer_risk=consumer,
        producer_risk=producer,
        bad=bad_share,
        accepted=accepted,
        bad_among_accepted=consumer / accepted if accepted > 0 else 0.0,
        accept_lower=None if math.isinf(from_low) else from_low,
        accept_upper=None if math.isinf(to_high) else to_high,
        method="normal sizes and readings, integrated",
    )


def _accepted(x: np.ndarray, u: float, low: float, high: float) -> np.ndarray:
    """Return the chance that a piece of each true size reads within the acceptance limits."""
    if u == 0:
        return ((x >= low) & (x <= high)).astype(float)
    chance: np.ndarray = special.ndtr((high - x) / u) - special.ndtr((low - x) / u)
    return chance.clip(min=0.0)


def _points(mean: float, sd: float, u: float, limits: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Return Gauss-Legendre points and weights on panels with breaks where the integrand bends."""
    start, end = mean - REACH * sd, mean + REACH * sd
    steps = np.arange(-8.0, 8.5, 1.0)
    breaks = [np.array([start, end]), mean + sd * steps]
    breaks += [limit + u * steps for limit in limits if math.isfinite(limit)]
    edges = np.unique(np.clip(np.concatenate(breaks), start, end))
    point, weight = np.polynomial.legendre.leggauss(12)
    half = np.diff(edges) / 2
    middle = (edges[:-1] + edges[1:]) / 2
    return (middle[:, None] + half[:, None] * point).ravel(), (half[:, None] * weight).ravel()
