"""A line that pieces do not follow: a jump that no event explains, or wear that is curved."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.drift.lines import LineFit, RunSums
from tracker.result import Result

FALSE_ALARM = 0.01
"""How often, at most, a batch that does follow its lines is said not to."""
LEAST_IN_RUN, LEAST_ASIDE = 6, 2
"""A run under the first is too short to tell; a jump has at least the second many pieces on both sides in its run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure(Result):
    """What speaks against straight lines between the events.

    Attributes
    ----------
    kind : str
        ``jump`` or ``curve``.
    after : float or None
        Order number of the last piece before the jump (None for a curve).
    amount : float
        How far the jump goes, wear taken out; for a curve how far it bends from its line.
    p_value : float
        Chance, at most, of a departure this clear in a batch that does follow its lines.
    looked_at : int
        How many jumps and curves were held against the pieces.
    """

    kind: str
    after: float | None
    amount: float
    p_value: float
    looked_at: int

    def __str__(self) -> str:
        """Say what is seen."""
        if self.kind == "curve":
            return f"wear is curved, by {abs(self.amount):.3g} from its line (p under {self.p_value:.2g})"
        return f"size jumps by {self.amount:.3g} after piece {self.after:g} (p under {self.p_value:.2g})"


def departure(
    x: np.ndarray, residual: np.ndarray, run: np.ndarray, sums: RunSums, fit: LineFit, resolution: float = 0.0
) -> Departure | None:
    """Return the clearest jump or curve within a run, or None where the pieces follow their lines.

    Parameters
    ----------
    x, residual, run : ndarray, shape (n,)
        Order, distance from the run's own line, and number of the run, sorted by order.
    sums : RunSums
    fit : LineFit
        With a slope for each run: runs that wear at different rates are no departure.
    resolution : float
        Step of the readings; what is no larger may be rounding.

    Returns
    -------
    Departure or None

    Notes
    -----
    Every place in a run is tried for a jump, and each run for a square term: the t test of that term beside the line,
    its p-value multiplied by the number of terms tried (Bonferroni's inequality). So at most one batch in a hundred
    that does follow its lines with independent normal scatter is said to depart; neighbouring places say almost the
    same, and the rate is lower (tests/tracker/drift/test_breaks.py, by simulation).

    References
    ----------
    R. E. Quandt, J. Am. Stat. Assoc. 53 (1958) 873-880 (a change at an unknown place); K. J. Worsley, Technometrics 25
    (1983) 35-42 (Bonferroni's inequality for it). From memory.
    """
    # A departing term takes one degree of freedom more, and one must be left.
    if fit.dof < 2 or fit.rss <= 0:
        return None
    gains, afters, amounts = [], [], []
    for number in range(sums.n.size):
        own = np.flatnonzero(run == number)
        if own.size < LEAST_IN_RUN or sums.sxx[number] <= 0:
            continue
        away, rest = x[own] - sums.mean_x[number], residual[own]
        k = np.arange(LEAST_ASIDE, own.size - LEAST_ASIDE + 1)
        behind, lean, left = (_from_each(values)[k] for values in (np.ones(own.size), away, rest))
        free = behind * (own.size - behind) / own.size - lean**2 / sums.sxx[number]
        # Several pieces of one order number (or two places on the axis) leave nothing of a jump beside the line.
        told = free > 1e-9 * own.size
        gains += (left[told] ** 2 / free[told]).tolist()
        amounts += (left[told] / free[told]).tolist()
        afters += x[own][k[told] - 1].tolist()
        bend = away**2 - np.mean(away**2)
        bend -= away * float(bend @ away) / sums.sxx[number]
        if bend @ bend > 1e-9 * sums.sxx[number] ** 2 / own.size:
            slope = float(bend @ rest) / float(bend @ bend)
            gains.append(slope * float(bend @ rest))
            amounts.append(slope * float(np.ptp(bend)))
            afters.append(math.nan)
    if not gains:
        return None
    best = int(np.argmax(gains))
    variance = max((fit.rss - gains[best]) / (fit.dof - 1), resolution**2 / 12)
    t = math.sqrt(gains[best] / variance) if variance > 1e-12 * fit.rss else math.inf
    p_value = 0.0 if math.isinf(t) else min(2 * float(special.stdtr(fit.dof - 1, -t)) * len(gains), 1.0)
    if p_value >= FALSE_ALARM or abs(amounts[best]) <= resolution * (1 + 1e-6):
        return None
    jump = not math.isnan(afters[best])
    return Departure(
        kind="jump" if jump else "curve",
        after=afters[best] if jump else None,
        amount=amounts[best],
        p_value=p_value,
        looked_at=len(gains),
    )


def _from_each(values: np.ndarray) -> np.ndarray:
    """Return the sum of the values from each place on."""
    return np.asarray(np.cumsum(values[::-1])[::-1])
