"""What a look-up hands back: the limits of one size, and the two sizes of a fit with the gap between them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from tracker.result import Result
from tracker.units import format_number


def exact(value: float | int | str) -> Fraction:
    """Return the number that was written, not its nearest binary: 0.1 is one tenth."""
    return Fraction(repr(value)) if isinstance(value, float) else Fraction(value)


def _decimals(unit: str, *values: float) -> int:
    """Return how many decimals show the values in full: from 3 (mm) or 4 (in) up to 4 (mm) or 5 (in)."""
    least, most = (4, 5) if unit == "in" else (3, 4)
    return next((n for n in range(least, most) if all(abs(v - round(v, n)) < 1e-9 for v in values)), most)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits(Result):
    """The limits of one size.

    Attributes
    ----------
    nominal, lower, upper : float
        Absolute sizes, in ``unit``.
    unit : str
        ``mm`` or ``in``.
    symbol : str
        The tolerance class, such as ``H7``; for ANSI B4.1 the class and the side.
    kind : str
        ``internal`` or ``external``.
    lower_deviation, upper_deviation : float
        Limit minus nominal, in ``unit``.
    source : str
        Where the figures come from.
    remark : str
        What a user should know about these figures; empty where there is nothing.
    """

    nominal: float
    lower: float
    upper: float
    unit: str
    symbol: str
    kind: str
    lower_deviation: float
    upper_deviation: float
    source: str
    remark: str = ""

    @property
    def tolerance(self) -> float:
        """Upper minus lower limit."""
        return self.upper_deviation - self.lower_deviation

    @property
    def middle(self) -> float:
        """The middle of the limits."""
        return (self.lower + self.upper) / 2

    def __str__(self) -> str:
        places = _decimals(self.unit, self.lower, self.upper)
        low, high = (format_number(value, places) for value in (self.lower, self.upper))
        below, above = (
            format_number(value, places, signed=True) for value in (self.lower_deviation, self.upper_deviation)
        )
        words = f"{self.nominal:g} {self.unit} {self.symbol}: {low} to {high} {self.unit} ({below} / {above})"
        return f"{words}; {self.remark}" if self.remark else words


@dataclass(frozen=True, slots=True, kw_only=True)
class FitLimits(Result):
    """Two sizes that go together, and the gap (internal minus external) between them.

    Attributes
    ----------
    symbol : str
        Such as ``H7/p6`` or ``FN2``.
    internal, external : Limits
    gap_lower, gap_upper : float
        The least and the largest gap, in ``unit``; negative is interference.
    unit : str
    """

    symbol: str
    internal: Limits
    external: Limits
    gap_lower: float
    gap_upper: float
    unit: str

    @property
    def kind(self) -> str:
        """``clearance`` (always a gap or line to line), ``interference`` (never a gap) or ``transition``."""
        if self.gap_lower >= 0:
            return "clearance"
        return "interference" if self.gap_upper <= 0 else "transition"

    def __str__(self) -> str:
        places = _decimals(self.unit, self.gap_lower, self.gap_upper)
        low, high = (format_number(value, places, signed=True) for value in (self.gap_lower, self.gap_upper))
        return (
            f"{self.internal.nominal:g} {self.unit} {self.symbol}, {self.kind} fit: gap {low} to {high} {self.unit}\n"
            f"  internal  {self.internal}\n"
            f"  external  {self.external}"
        )


def zone(
    nominal: Fraction,
    deviations: tuple[Fraction, Fraction],
    *,
    unit: str,
    symbol: str,
    kind: str,
    source: str,
    remark: str = "",
) -> Limits:
    """Return `Limits` from an exact nominal and its exact (lower, upper) deviations, rounded once."""
    lower, upper = deviations
    return Limits(
        nominal=float(nominal),
        lower=float(nominal + lower),
        upper=float(nominal + upper),
        unit=unit,
        symbol=symbol,
        kind=kind,
        lower_deviation=float(lower),
        upper_deviation=float(upper),
        source=source,
        remark=remark,
    )


def meet(symbol: str, internal: Limits, external: Limits) -> FitLimits:
    """Return the fit of two sizes of one nominal and one unit."""
    gaps = (
        exact(internal.lower_deviation) - exact(external.upper_deviation),
        exact(internal.upper_deviation) - exact(external.lower_deviation),
    )
    return FitLimits(
        symbol=symbol,
        internal=internal,
        external=external,
        gap_lower=float(gaps[0]),
        gap_upper=float(gaps[1]),
        unit=internal.unit,
    )
