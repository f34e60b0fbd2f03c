"""What may be expected of parts that are not made yet, once they are cut to a size that suits measured mates."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import special

from tracker.errors import TrackerError
from tracker.fit.batch_spread import given_readings
from tracker.fit.checks import limits_of, not_negative, side_uncertainty, sizes_of
from tracker.given import finite_number, number
from tracker.plurals import noun
from tracker.result import Result

Floats = npt.NDArray[np.float64]

HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Unmade(Result):
    """Parts to be cut to ``target``, one for each measured mate.

    Attributes
    ----------
    target : float
        The mean size they are cut to.
    sd : float or None
        Their spread about it; None where it is not known, and with it all that hangs on it.
    share_good, share_tight, share_loose : float or None
        Chances of one assembly; they add up to 1.
    expected_good : float or None
        Expected good assemblies of ``n_mates``.
    sd_allowed : float or None
        The largest spread with which all are good with ``assurance``; None where no spread is small enough.
    assurance : float
    n_mates : int
    """

    target: float
    sd: float | None
    share_good: float | None
    share_tight: float | None
    share_loose: float | None
    expected_good: float | None
    sd_allowed: float | None
    assurance: float
    n_mates: int

    def __str__(self) -> str:
        text = f"Cut to {self.target:.6g} for {self.n_mates} {noun(self.n_mates, 'mate')}"
        if self.share_good is not None and self.share_tight is not None and self.share_loose is not None:
            text += (
                f": {100 * self.share_good:.1f} % expected good, {100 * self.share_tight:.1f} % too tight,"
                f" {100 * self.share_loose:.1f} % too loose"
            )
        if self.sd_allowed is None:
            return f"{text}; no spread is small enough for all to be good."
        return f"{text}; a spread of up to {self.sd_allowed:.3g} makes all good with {self.assurance:.0%} chance."


def unmade(
    mates: npt.ArrayLike,
    target: float,
    gap_lower: float | None,
    gap_upper: float | None,
    side: str = "external",
    *,
    sd: float | None = None,
    uncertainty: Any = 0.0,
    common_uncertainty: float = 0.0,
    assurance: float = 0.95,
) -> Unmade:
    """Return what comes of parts cut to ``target``, and how closely they must be held for all to be good.

    Parameters
    ----------
    mates : array of float, shape (n,)
        Measured sizes of the parts already there.
    target : float
        Mean size of the parts to be cut.
    gap_lower, gap_upper : float or None
        Limits of internal minus external size; an open one is None.
    side : {"external", "internal"}
        Which part is cut.
    sd : float, optional
        Its spread, zero or more.
    uncertainty : float or array
        Standard uncertainty of one mate's size.
    common_uncertainty : float
        Standard uncertainty that all mates share.
    assurance : float
        Chance that all are to be good.

    Returns
    -------
    Unmade

    Raises
    ------
    TrackerError
        No gap limit, an unknown side, a negative spread or uncertainty, an assurance outside 0 to 1.
    NotEnoughData
        No mate.

    Notes
    -----
    Sizes to come are normal about the target; each goes to the mate it meets, and every mate gets one. For all of
    them the chances are multiplied: what the mates share would make them a little likelier to be good together, so
    the spread allowed errs on the small side.

    Examples
    --------
    >>> found = unmade([0.2510, 0.2511], 0.25205, -0.0015, -0.0005, sd=0.0002)
    >>> round(found.share_good, 3), round(found.sd_allowed, 6)
    (0.985, 0.000218)
    """
    measured = sizes_of(mates, "mates")
    low, high = limits_of(gap_lower, gap_upper)
    if math.isinf(low) and math.isinf(high):
        raise TrackerError("gap limits: both are open, so every gap is good; give at least one")
    if side not in ("external", "internal"):
        raise TrackerError(f"side: found {side!r}; the part that is cut is 'external' or 'internal'")
    target = finite_number(target, "target")
    if not 0 < number(assurance, "assurance") < 1:
        raise TrackerError(f"assurance is {assurance!r}; it lies between 0 and 1, for example 0.95")
    true, true_sd = given_readings(measured, side_uncertainty(uncertainty, measured.size))
    own = np.hypot(true_sd, not_negative(common_uncertainty, "common_uncertainty"))
    gap = (true - target) if side == "external" else (target - true)

    def chances(spread: float) -> tuple[Floats, Floats]:
        scale = np.maximum(np.hypot(own, spread), 1e-300)
        return special.ndtr((low - gap) / scale), special.ndtr((gap - high) / scale)

    def all_good(spread: float) -> float:
        tight, loose = chances(spread)
        return float(np.prod(np.clip(1.0 - tight - loose, 0.0, 1.0)))

    tight = loose = None
    if sd is not None:
        tight, loose = (float(part.mean()) for part in chances(not_negative(sd, "sd")))
    return Unmade(
        target=float(target),
        sd=sd,
        share_good=None if tight is None or loose is None else max(1.0 - tight - loose, 0.0),
        share_tight=tight,
        share_loose=loose,
        expected_good=None if tight is None or loose is None else measured.size * max(1.0 - tight - loose, 0.0),
        sd_allowed=_largest(all_good, low, high, assurance),
        assurance=assurance,
        n_mates=measured.size,
    )


def _largest(all_good: Any, low: float, high: float, assurance: float) -> float | None:
    """Return the largest spread with which all are good; with one limit open the room to it sets the scale."""
    if all_good(0.0) < assurance:
        return None
    enough = high - low if math.isfinite(high - low) else max(abs(side) for side in (low, high) if math.isfinite(side))
    under, over = 0.0, max(enough, 1e-12)
    while all_good(over) >= assurance:
        under, over = over, 2.0 * over
        if not math.isfinite(over):
            return None
    for _ in range(HALVINGS):
        middle = (under + over) / 2
        under, over = (middle, over) if all_good(middle) >= assurance else (under, middle)
    return under
