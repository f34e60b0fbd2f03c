"""What the next cut is weighed by: limits, costs, the machine's steps, and the pieces to come."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.decide.levels import Level, below
from tracker.decide.machine import in_steps, machine_offset, part_change
from tracker.decide.words import Say


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What the decision is weighed by: limits, costs, the machine, and the pieces to come.

    ``settled`` says that set-ups are stated to land on their aim: then there is nothing to undo.
    """

    level: Level
    target: float
    true_sd: float
    lower: float | None
    upper: float | None
    under: float
    over: float
    touch: float
    ahead: np.ndarray
    increment: float | None
    diameter: bool
    plus_makes: str
    within: str
    across: str
    leans: str
    settled: bool
    say: Say
    say_offset: Say

    @property
    def limited(self) -> bool:
        """Whether there is a limit of size."""
        return self.lower is not None or self.upper is not None

    @property
    def middle(self) -> float:
        """The middle of the pieces to come, in the order of making."""
        return float(np.mean(self.ahead))

    @property
    def middle_sd(self) -> float:
        """Standard uncertainty of the level there."""
        return math.sqrt(float(self.level.variance_at(self.middle)))

    def outcome(self, change: float) -> tuple[float, float]:
        """Return (mean cost a piece, mean chance within the limits) over the pieces to come."""
        mean = self.target + self.level.at(self.ahead) + change
        scale = np.sqrt(self.true_sd**2 + self.level.variance_at(self.ahead))
        dof = self.level.dof
        under = 0.0 if self.lower is None else float(np.mean(below(self.lower, mean, scale, dof)))
        over = 0.0 if self.upper is None else float(np.mean(below(-self.upper, -mean, scale, dof)))
        return self.under * under + self.over * over, min(max(1.0 - under - over, 0.0), 1.0)

    def saved(self, change: float) -> float | None:
        """Return what the change is expected to save over the pieces to come; None without limits."""
        if not self.limited:
            return None
        return self.ahead.size * (self.outcome(0.0)[0] - self.outcome(change)[0])

    def offset(self, change: float) -> float:
        """Return the offset that brings a change of the part."""
        return machine_offset(change, diameter=self.diameter, plus_makes=self.plus_makes)

    def change(self, offset: float) -> float:
        """Return the change of the part that an offset brings."""
        return part_change(offset, diameter=self.diameter, plus_makes=self.plus_makes)


def economic_aim(lower: float, upper: float, sd: float, cost_under: float, cost_over: float) -> float:
    """Return where to aim a normal spread between two limits that do not cost the same.

    Notes
    -----
    Where cost_under * P(under) + cost_over * P(over) is least: the middle plus sd^2 ln(cost_under / cost_over) /
    (upper - lower); closed form, exact for a normal spread (Springer 1951, from memory; derived by setting the
    derivative to zero; tests/published/test_decide_adjustment.py).

    Examples
    --------
    >>> round(economic_aim(24.987, 25.0, 0.003, 5, 1), 6)
    24.994614
    """
    return (lower + upper) / 2 + sd * sd * math.log(cost_under / cost_over) / (upper - lower)


def cost_until_good(lower: float, upper: float, sd: float, cost_under: float, cost_over: float) -> float:
    """Return what misses of one piece come to until it is good, where a miss is cut once more and may miss again.

    Parameters
    ----------
    lower, upper : float
        Limits of size.
    sd : float
        Spread, of the first cut and of every one after it.
    cost_under, cost_over : float
        What cutting once more costs after a piece under the lower and over the upper limit.

    Notes
    -----
    With chances u and o of a miss on either side it is w = u (cost_under + w) + o (cost_over + w), so
    w = (u cost_under + o cost_over) / (1 - u - o) at the aim that makes it least, where a miss costs its own side's
    cost and w besides. Found by taking the aim and w from each other in turn.

    Examples
    --------
    >>> round(cost_until_good(-1.0, 1.0, 0.2, 40.0, 8.0), 6)
    1e-05
    >>> round(cost_until_good(-1.0, 1.0, 2.0, 40.0, 8.0), 1)
    30.0
    """
    again = 0.0
    if sd <= 0:
        return again
    for _ in range(50):
        aim = economic_aim(lower, upper, sd, cost_under + again, cost_over + again)
        under, over = (float(special.ndtr(z / sd)) for z in (lower - aim, aim - upper))
        found = (under * cost_under + over * cost_over) / max(1.0 - under - over, 1e-9)
        if abs(found - again) <= 1e-9 * found:
            return found
        again = found
    return again


def aim_off(terms: Terms) -> float:
    """Return how far off the target to aim because an error costs more on one side.

    With one limit only there is a miss on one side only: nothing to weigh, and the target stands as it was given.
    """
    if terms.under == terms.over or (terms.lower is None) != (terms.upper is None):
        return 0.0
    if terms.lower is not None and terms.upper is not None:
        spread = math.hypot(terms.true_sd, terms.middle_sd)
        middle = (terms.lower + terms.upper) / 2
        aim = economic_aim(terms.lower, terms.upper, spread, terms.under, terms.over) - middle
        return min(max(terms.target + aim, terms.lower), terms.upper) - terms.target
    return terms.middle_sd * float(special.ndtri(terms.under / (terms.under + terms.over)))


def entered(wanted: float, terms: Terms) -> float:
    """Return the offset for the wanted change, in whole steps of the machine where a step is stated.

    Of the two steps around it the one of less expected cost, where limits and unequal costs let that be told;
    else the nearest.
    """
    exact = terms.offset(wanted)
    if terms.increment is None:
        return exact
    if not terms.limited or terms.under == terms.over:
        return in_steps(exact, terms.increment)
    around = {in_steps(exact, terms.increment, -1), in_steps(exact, terms.increment, 1)}
    return min(
        sorted(around, key=lambda offset: (abs(offset - exact), offset)),
        key=lambda offset: terms.outcome(terms.change(offset))[0],
    )
