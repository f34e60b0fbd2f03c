"""What a reading near a limit proves: chance of conforming, and limits with a guard band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.errors import TrackerError
from tracker.result import Result
from tracker.spread.arguments import checked_limits, finite_number, no_less_than_zero, number, numbers, share

CONFORMING = "conforming"
NON_CONFORMING = "non-conforming"
NOT_PROVEN = "not proven"


@dataclass(frozen=True, slots=True, kw_only=True)
class Conformance(Result):
    """Whether one measured value proves that the true size lies within the limits.

    Attributes
    ----------
    chance_conforming : float
        Chance that the true size lies within the limits, given the reading.
    below_lower, above_upper : float
        Chance that it lies beyond either.
    decision : str
        ``conforming``, ``non-conforming`` or ``not proven``.
    assurance : float
        How sure the decision had to be.
    rule : str
        The rule that was used.
    """

    chance_conforming: float
    below_lower: float
    above_upper: float
    decision: str
    measured: float
    uncertainty: float
    lower: float | None
    upper: float | None
    assurance: float
    rule: str
    n: int = 1

    def __str__(self) -> str:
        """Say what the reading proves."""
        said = {
            CONFORMING: "within the limits is proven",
            NON_CONFORMING: "outside the limits is proven",
            NOT_PROVEN: "neither inside nor outside the limits is proven",
        }[self.decision]
        return (
            f"Measured {self.measured:.7g} with standard uncertainty {self.uncertainty:.3g}: {said}; the chance "
            f"that the true size is within is {share(round(self.chance_conforming, 3))} ({self.rule})."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardedLimits(Result):
    """Limits moved by the expanded uncertainty.

    Attributes
    ----------
    accept_lower, accept_upper : float or None
        A reading from here to there proves a good piece (None: that side is open).
    reject_below, reject_above : float or None
        A reading beyond these proves a bad piece.
    can_accept : bool
        Whether any reading can prove a good piece: false when the guard bands eat the whole tolerance.
    share_lost : float or None
        Part of the tolerance taken by the two guard bands (None with one limit).
    """

    accept_lower: float | None
    accept_upper: float | None
    reject_below: float | None
    reject_above: float | None
    can_accept: bool
    share_lost: float | None
    expanded_uncertainty: float

    def __str__(self) -> str:
        """Say from where to where to accept."""
        if not self.can_accept:
            return (
                f"No reading can prove a good piece: the expanded uncertainty {self.expanded_uncertainty:.3g} "
                "on both sides is wider than the tolerance. Measure better, or agree wider limits."
            )
        if self.accept_lower is None:
            return f"Accept up to {self.accept_upper:.7g}, reject above {self.reject_above:.7g}."
        if self.accept_upper is None:
            return f"Accept from {self.accept_lower:.7g}, reject below {self.reject_below:.7g}."
        return (
            f"Accept from {self.accept_lower:.7g} to {self.accept_upper:.7g}, reject below "
            f"{self.reject_below:.7g} and above {self.reject_above:.7g}; the guard bands take "
            f"{share(round(self.share_lost or 0.0, 2))} of the tolerance."
        )


def chance_within(
    measured: float | Sequence[float] | np.ndarray,
    uncertainty: float | Sequence[float] | np.ndarray,
    lower: float | None = None,
    upper: float | None = None,
    dof: float = math.inf,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the chances that true sizes lie within, below and above the limits, for many readings at once.

    Parameters
    ----------
    measured, uncertainty : array_like
        Measured values and their standard uncertainties (0 allowed), broadcast against each other.
    lower, upper : float, optional
        Limits.
    dof : float
        Degrees of freedom of the uncertainty; a t distribution stands for the normal when finite.

    Returns
    -------
    tuple of ndarray
        Within, below, above.
    """
    given = numbers(measured, "measured"), numbers(uncertainty, "uncertainty")
    for name, values in zip(("measured", "uncertainty"), given):
        if not np.isfinite(values).all() or (name == "uncertainty" and (values < 0).any()):
            raise TrackerError(
                f"{name} holds {values[~(np.isfinite(values) & (values >= 0))].ravel()[0]}; give numbers"
            )
    try:
        value, u = np.broadcast_arrays(*given)
    except ValueError:
        raise TrackerError(
            f"{given[0].shape} values measured and {given[1].shape} uncertainties; give one each"
        ) from None
    lower, upper = checked_limits(lower, upper, needed=False)
    dof = _degrees(dof)
    below = np.zeros(value.shape) if math.isinf(lower) else _tail(lower - value, u, dof)
    above = np.zeros(value.shape) if math.isinf(upper) else _tail(value - upper, u, dof)
    return np.clip(1.0 - below - above, 0.0, 1.0), below, above


def _degrees(dof: float) -> float:
    found = number(dof, "dof")
    if not found > 0:
        raise TrackerError(f"dof is {dof!r}; give degrees of freedom above 0, or inf")
    return found


def _tail(distance: np.ndarray, u: np.ndarray, dof: float) -> np.ndarray:
    """Return the chance of lying beyond a limit that is ``distance`` past the value (negative: inside)."""
    safe = np.where(u > 0, u, 1.0)
    z = distance / safe
    chance = special.ndtr(z) if math.isinf(dof) else special.stdtr(dof, z)
    return np.where(u > 0, chance, (distance > 0).astype(float))


def conformance(
    measured: float,
    uncertainty: float,
    lower: float | None = None,
    upper: float | None = None,
    assurance: float = 0.95,
    guard_factor: float | None = None,
    dof: float = math.inf,
    process_mean: float | None = None,
    process_sd: float | None = None,
) -> Conformance:
    """Return whether a reading proves that the piece lies within its limits.

    Parameters
    ----------
    measured : float
        Measured value.
    uncertainty : float
        Its standard uncertainty, same unit.
    lower, upper : float, optional
        Limits of size; at least one.
    assurance : float
        How sure: conforming when the chance of being within is at least this, non-conforming when the
        chance of being outside is.
    guard_factor : float, optional
        Decide by guard bands of this many standard uncertainties instead (2 with ISO 14253-1:1998, 1.65
        with the default of the 2017 edition).
    dof : float
        Degrees of freedom of the uncertainty.
    process_mean, process_sd : float, optional
        What is known of such pieces before measuring; then the reading is weighed against it.

    Returns
    -------
    Conformance

    Raises
    ------
    TrackerError
        Without any limit, with limits the wrong way round, or with a negative uncertainty.

    Notes
    -----
    The true size, given the reading, is taken as normal (t when ``dof`` is finite) about the reading. Without
    ``process_mean`` and ``process_sd`` every size is thought equally likely beforehand; for a good process
    that overstates how many pieces near a limit are bad.

    References
    ----------
    JCGM 106:2012, 7 and 8.3 (from memory); ISO 14253-1:2017 (from memory). Worked examples in
    tests/published/test_gauge_conformity.py.

    Examples
    --------
    >>> result = conformance(507, 8, lower=490)
    >>> round(result.chance_conforming, 2), result.decision
    (0.98, 'conforming')
    """
    checked_limits(lower, upper)
    measured = finite_number(measured, "the measured value")
    if not 0 <= number(uncertainty, "uncertainty") < math.inf:
        raise TrackerError(f"uncertainty is {uncertainty!r}; give a standard uncertainty of 0 or more")
    if not 0.5 < number(assurance, "assurance") < 1:
        raise TrackerError(f"assurance is {assurance!r}; give a share above 0.5 and below 1, for example 0.95")
    centre, u = weigh(measured, uncertainty, process_mean, process_sd)
    chances = chance_within(centre, u, lower, upper, dof)
    within, below, above = (float(chance) for chance in chances)
    if guard_factor is None:
        rule = f"decided at {share(assurance)} assurance after JCGM 106"
        decision = CONFORMING if within >= assurance else NON_CONFORMING if 1 - within >= assurance else NOT_PROVEN
    else:
        guard_factor = no_less_than_zero(guard_factor, "guard_factor")
        rule = f"guard bands of {guard_factor:g} standard uncertainties after ISO 14253-1"
        decision = _by_guard_band(measured, guard_band(lower, upper, guard_factor * uncertainty))
    return Conformance(
        chance_conforming=within,
        below_lower=below,
        above_upper=above,
        decision=decision,
        measured=float(measured),
        uncertainty=float(uncertainty),
        lower=lower,
        upper=upper,
        assurance=assurance,
        rule=rule,
    )


def weigh(
    measured: float, uncertainty: float, process_mean: float | None, process_sd: float | None
) -> tuple[float, float]:
    """Return mean and sd of the true size given the reading and what is known of such pieces (both normal)."""
    if process_mean is None or process_sd is None:
        if process_mean is not None or process_sd is not None:
            raise TrackerError("give process_mean and process_sd together, or neither")
        return float(measured), float(uncertainty)
    process_mean = finite_number(process_mean, "process_mean")
    if not finite_number(process_sd, "process_sd") > 0:
        raise TrackerError(f"process_sd is {process_sd!r}; give the sd of such pieces, above 0")
    weight = process_sd**2 / (process_sd**2 + uncertainty**2)
    return process_mean + weight * (measured - process_mean), math.sqrt(weight) * uncertainty


def guard_band(lower: float | None, upper: float | None, expanded_uncertainty: float) -> GuardedLimits:
    """Return the limits for readings that prove a good or a bad piece.

    Parameters
    ----------
    lower, upper : float or None
        Limits of size; at least one.
    expanded_uncertainty : float
        Width of the guard band, same unit: the expanded uncertainty, or 1.65 times the standard one.

    Returns
    -------
    GuardedLimits

    Raises
    ------
    TrackerError
        Without any limit, with limits the wrong way round, or with a negative uncertainty.

    References
    ----------
    ISO 14253-1:2017 (from memory): between the accept and the reject limits neither is proven.

    Examples
    --------
    >>> str(guard_band(10.0, 10.02, 0.002))
    'Accept from 10.002 to 10.018, reject below 9.998 and above 10.022; the guard bands take 20 % of the tolerance.'
    """
    checked_limits(lower, upper)
    if not finite_number(expanded_uncertainty, "expanded_uncertainty") >= 0:
        raise TrackerError(f"expanded_uncertainty is {expanded_uncertainty!r}; give 0 or more")
    u = float(expanded_uncertainty)
    both = lower is not None and upper is not None
    width = (upper - lower) if lower is not None and upper is not None else math.inf
    return GuardedLimits(
        accept_lower=None if lower is None else lower + u,
        accept_upper=None if upper is None else upper - u,
        reject_below=None if lower is None else lower - u,
        reject_above=None if upper is None else upper + u,
        can_accept=2 * u <= width,
        share_lost=2 * u / width if both else None,
        expanded_uncertainty=u,
    )


def _by_guard_band(measured: float, limits: GuardedLimits) -> str:
    low, high = limits.accept_lower, limits.accept_upper
    if (low is None or measured >= low) and (high is None or measured <= high):
        return CONFORMING
    below = limits.reject_below is not None and measured < limits.reject_below
    above = limits.reject_above is not None and measured > limits.reject_above
    return NON_CONFORMING if below or above else NOT_PROVEN
