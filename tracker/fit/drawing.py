"""What a drawing alone says of a fit: the chance from the limits of size and a stated spread."""

from __future__ import annotations

import dataclasses
import math

from tracker.errors import TrackerError
from tracker.fit.chances import percent
from tracker.fit.checks import limits_of, pair_of
from tracker.fit.closures import closure
from tracker.given import whole_number
from tracker.result import Interval, Result


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class DrawnChance(Result):
    """Chance that pieces made to a drawing go together, nothing measured yet.

    Attributes
    ----------
    pair, all : float
        Chance that one pair, and that all of `pairs` pairs, are within the gap limits.
    expected_good, too_tight, too_loose : float
        Expected numbers among `pairs` pairs.
    gap : Interval
        Middle and extremes of the gap that the limits of size allow.
    gap_lower, gap_upper : float
        Gap limits that the chance is for; infinite when open.
    internal_sd, external_sd : float or None
        Stated spread; None where a sixth of the tolerance was taken.
    pairs : int
        Number of pairs the answer is for.
    shape : str
        How sizes were taken to lie.
    method : str
        How it was found.
    """

    pair: float
    all: float
    expected_good: float
    too_tight: float
    too_loose: float
    gap: Interval
    gap_lower: float
    gap_upper: float
    internal_sd: float | None
    external_sd: float | None
    pairs: int
    shape: str
    method: str

    def __str__(self) -> str:
        return self.said("")

    def said(self, unit: str) -> str:
        """Return the answer with the unit of its lengths."""
        within = _ends(self.gap_lower, self.gap_upper, unit)
        every = "" if self.pairs == 1 else f", {_chance(self.all)} that all {self.pairs} do"
        return (
            f"By the drawing alone: {_chance(self.pair)} chance that a pair goes together, its gap {within}{every}; the"
            f" limits of size allow gaps {_ends(self.gap.low, self.gap.high, unit)}. No piece measured; {self.method}"
            f"{self._spread(unit)}."
        )

    def _spread(self, unit: str) -> str:
        """Return which spread was taken, and whether it was stated."""
        if self.shape == "uniform" and self.internal_sd is None and self.external_sd is None:
            return ""
        inner, outer = (_sd(value, unit) for value in (self.internal_sd, self.external_sd))
        if inner == outer:
            return f", {inner} on both sides"
        return f", {inner} on the internal side, {outer} on the external side"


def _sd(stated: float | None, unit: str) -> str:
    if stated is None:
        return "the limits of size six standard deviations apart (common practice, no spread stated)"
    return f"standard deviation {_length(stated, unit)} as stated"


def _chance(value: float) -> str:
    """Return a chance in percent; one that rests on what was stated is never all or nothing."""
    return percent(min(max(value, 1e-6), 1 - 1e-6))


def _ends(low: float, high: float, unit: str) -> str:
    if math.isinf(low) and math.isinf(high):
        return "of any size"
    if math.isinf(low):
        return f"at most {_length(high, unit)}"
    if math.isinf(high):
        return f"at least {_length(low, unit)}"
    return f"from {low:.6g} to {_length(high, unit)}"


def _length(value: float, unit: str) -> str:
    return f"{value:.6g} {unit}".strip()


def chance_drawn(
    internal: tuple[float, float],
    external: tuple[float, float],
    gap_lower: float | None,
    gap_upper: float | None,
    *,
    internal_sd: float | None = None,
    external_sd: float | None = None,
    shape: str = "normal",
    pairs: int = 1,
) -> DrawnChance:
    """Return the chance of a fit from the limits of size, with a stated spread or none.

    Parameters
    ----------
    internal, external : (float, float)
        Lower and upper limit of size.
    gap_lower, gap_upper : float or None
        Limits of internal minus external size; None is open.
    internal_sd, external_sd : float, optional
        Stated spread, centred between the limits; without it, by rule of thumb, a sixth of the tolerance.
    shape : {"normal", "uniform"}
        Sizes normal about the middle, or anywhere alike between the limits (a stated spread is normal).
    pairs : int, default 1
        Number of pairs asked about.

    Returns
    -------
    DrawnChance

    Raises
    ------
    TrackerError
        Limits missing or the wrong way round.

    Notes
    -----
    Nobody has measured anything: the chance is as good as the stated spread and the belief that sizes are
    centred. Measured pieces replace it as soon as there are some (`chance_any`).

    References
    ----------
    Uniform sizes: case fit-prob-uniform in tests/published/test_fit_chances.py.

    Examples
    --------
    >>> round(chance_drawn((0.0, 18.0), (1.0, 12.0), None, 0.0, shape="uniform").pair, 4)
    0.3611
    """
    terms = {}
    for name, limits, sd, sign in (("internal", internal, internal_sd, 1.0), ("external", external, external_sd, -1.0)):
        low, high = limits_of(*pair_of(limits, f"{name} limits of size"), f"{name} limits of size")
        if not (math.isfinite(low) and math.isfinite(high)):
            raise TrackerError(f"{name}: found the limits {limits}; both are needed when nothing is measured")
        middle = (low + high) / 2.0
        terms[name] = (sign, (middle, low, high) if sd is None else (middle, sd))
    pairs = whole_number(pairs, "pairs")
    found = closure(terms, gap_lower, gap_upper, shape=shape)
    least, most = float(internal[0]) - float(external[1]), float(internal[1]) - float(external[0])
    return DrawnChance(
        pair=found.chance,
        all=found.chance**pairs,
        expected_good=pairs * found.chance,
        too_tight=pairs * found.below,
        too_loose=pairs * found.above,
        gap=Interval((least + most) / 2.0, least, most, 1.0),
        gap_lower=found.lower,
        gap_upper=found.upper,
        internal_sd=None if internal_sd is None else float(internal_sd),
        external_sd=None if external_sd is None else float(external_sd),
        pairs=pairs,
        shape=shape,
        method=f"sizes taken as {shape} between the limits" if shape == "uniform" else "sizes taken as normal, centred",
    )
