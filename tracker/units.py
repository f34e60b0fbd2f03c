"""Lengths as people write them, in and out.

A small strict grammar on exact fractions reads text (1 in is 25.4 mm exactly, by the international yard and
pound agreement of 1959); nothing is guessed. `pint` is loaded only for quantities that are not plain lengths.
"""

from __future__ import annotations

import math
import re
import sys
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from numbers import Real
from typing import TYPE_CHECKING, Any, TypeVar

from tracker.errors import LengthError

if TYPE_CHECKING:
    import numpy as np

    Number = TypeVar("Number", float, np.ndarray[Any, np.dtype[np.float64]])

MM_PER = {
    "in": Fraction(254, 10),
    "mm": Fraction(1),
    "um": Fraction(1, 1000),
    "thou": Fraction(254, 10_000),
    "tenth": Fraction(254, 100_000),
}
"""Millimetres in one of each unit, exactly."""

UNIT_WORDS = {
    "in": "in",
    "in.": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "″": "in",
    "”": "in",
    "''": "in",
    "mm": "mm",
    "mm.": "mm",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "um": "um",
    "µm": "um",
    "μm": "um",
    "micron": "um",
    "microns": "um",
    "micrometre": "um",
    "micrometres": "um",
    "micrometer": "um",
    "micrometers": "um",
    "thou": "thou",
    "thousandth": "thou",
    "thousandths": "thou",
    "tenth": "tenth",
    "tenths": "tenth",
}
"""Every way a unit may be written, and the unit it means."""

ACCEPTED = 'a number such as .6252, 0.6252", 15.880 mm, 17/32, 1 1/8, +3 tenths or -0.4 thou'

_NUMBER = re.compile(
    r"""(?P<sign>[+-])?\s*
    (?:(?P<whole>\d+)\s+(?P<above>\d+)\s*/\s*(?P<below>\d+)
      |(?P<num>\d+)\s*/\s*(?P<den>\d+)
      |(?P<decimal>\d+(?:[.,]\d*)?|[.,]\d+))
    \s*(?P<unit>[^\d\s.,+\-/].*)?""",
    re.VERBOSE | re.ASCII,
)
_LONGEST = 64

_EVEN = Context(prec=400, rounding=ROUND_HALF_EVEN)
GUARD_DIGITS = 6
"""Digits beyond those written that still count as the value; what lies beyond them is the noise of the arithmetic."""


@dataclass(frozen=True, slots=True)
class Length:
    """A length as it was written.

    Attributes
    ----------
    mm : fractions.Fraction
        The exact value in millimetres.
    unit : str
        The unit it was written in, or the one it was taken to be in.
    unit_written : bool
        Whether the text itself named the unit.
    signed : bool
        Whether the text carried a sign.
    decimals : int or None
        Digits written after the point; None for a fraction.
    """

    mm: Fraction
    unit: str
    unit_written: bool
    signed: bool
    decimals: int | None

    def to(self, unit: str) -> float:
        """Return the value in ``unit``, rounded once from the exact value."""
        return float(self.mm / MM_PER[known_unit(unit)])

    def step(self, unit: str) -> float | None:
        """Return the value of the last digit written, in ``unit``; None for a fraction."""
        if self.decimals is None:
            return None
        return float(MM_PER[self.unit] / Fraction(10) ** self.decimals / MM_PER[known_unit(unit)])


def known_unit(text: str) -> str:
    """Return the unit that a word means: ``in``, ``mm``, ``um``, ``thou`` or ``tenth``.

    Raises
    ------
    LengthError
        If the word is no unit of length that is accepted here.
    """
    unit = UNIT_WORDS.get(str(text).strip().casefold())
    if unit is None:
        hint = " (for a thousandth of an inch write thou)" if str(text).strip().casefold() in ("mil", "mils") else ""
        raise LengthError(f"{str(text)!r} is not a unit; accepted are in, mm, um, thou and tenths{hint}")
    return unit


def read_length(text: str, unit: str = "in", *, decimal_comma: bool = False) -> Length:
    """Read one length as a person writes it, exactly.

    Parameters
    ----------
    text : str
        For example ``.6252``, ``0.6252"``, ``15.880 mm``, ``17/32``, ``1 1/8``, ``+3 tenths``, ``-0.4 thou``.
    unit : str
        The unit of a text that names none.
    decimal_comma : bool
        Whether a comma is the decimal sign; otherwise a comma is refused.

    Returns
    -------
    Length

    Raises
    ------
    LengthError
        If the text is anything else; the message says what stood there and what would be accepted.

    Examples
    --------
    >>> read_length("1 1/8").to("mm")
    28.575
    >>> read_length("+3 tenths").to("in")
    0.0003
    """
    default = known_unit(unit)
    shown = text if len(text) <= _LONGEST else text[:_LONGEST] + "…"
    cleaned = text.strip().replace("−", "-")
    match = _NUMBER.fullmatch(cleaned) if 0 < len(cleaned) <= _LONGEST else None
    if match is None:
        raise LengthError(f"{shown!r} is not a length; accepted is {ACCEPTED}")
    written = match["unit"]
    used = known_unit(written) if written else default
    sign = -1 if match["sign"] == "-" else 1
    decimals: int | None = None
    if match["decimal"] is not None:
        digits = match["decimal"]
        if "," in digits and not decimal_comma:
            raise LengthError(
                f"{shown!r} has a comma; write a point, or set decimal_comma = true under [job] in job.toml"
            )
        if "." in digits and decimal_comma:
            raise LengthError(f"{shown!r} has a point, but this job writes a decimal comma")
        digits = digits.replace(",", ".")
        value = Fraction(Decimal(digits))
        decimals = len(digits.partition(".")[2])
    else:
        above, below = (match["above"], match["below"]) if match["whole"] else (match["num"], match["den"])
        if int(below) == 0:
            raise LengthError(f"{shown!r} divides by nothing; accepted is {ACCEPTED}")
        if used != "in":
            raise LengthError(f"{shown!r} is a fraction of {used}; fractions are read in inches only: write its unit")
        value = int(match["whole"] or 0) + Fraction(int(above), int(below))
    return Length(
        mm=sign * value * MM_PER[used],
        unit=used,
        unit_written=bool(written),
        signed=match["sign"] is not None,
        decimals=decimals,
    )


def parse_length(text: str | float, unit: str = "in", *, decimal_comma: bool = False) -> float:
    """Return a length as a number in ``unit``.

    Parameters
    ----------
    text : str or float
        A text as `read_length` takes it; a plain number is taken to be in ``unit`` already.
    unit : str
        ``in``, ``mm``, ``um``, ``thou`` or ``tenth``.
    decimal_comma : bool
        Whether a comma is the decimal sign.

    Returns
    -------
    float

    Raises
    ------
    LengthError
        If the text is not a length, or the number is not finite.

    Examples
    --------
    >>> parse_length('0.6252"', "mm")
    15.88008
    >>> parse_length("17/32")
    0.53125
    """
    given: Any = text
    if isinstance(given, bool) or not isinstance(given, str | Real):
        raise LengthError(f"{given!r} is not a length; accepted is {ACCEPTED}")
    if isinstance(given, Real):
        known_unit(unit)
        number: Any = given
        if not abs(number) <= sys.float_info.max:
            raise LengthError(f"{str(number)[:_LONGEST]} is not a length; accepted is {ACCEPTED}")
        return float(number)
    return read_length(given, unit, decimal_comma=decimal_comma).to(unit)


def convert(value: Number, from_unit: str, to_unit: str) -> Number:
    """Return a length, or an array of lengths, in another unit.

    Raises
    ------
    LengthError
        If a unit is not known.

    Examples
    --------
    >>> convert(1.0, "in", "mm")
    25.4
    """
    start, end = known_unit(from_unit), known_unit(to_unit)
    if start == end:
        return value
    ratio = MM_PER[start] / MM_PER[end]
    if ratio >= 1:
        return value * float(ratio)
    return value / float(1 / ratio)


def decimals_of(step: float) -> int:
    """Return how many decimals it takes to write whole steps: 4 for 0.0001, 4 for 0.0005, 0 for 2.

    A step that is a whole number in another unit (0.001 mm is 0.0000393701 in) has no end of decimals: then as many
    as show its first digit, 5.

    Raises
    ------
    LengthError
        If the step is not a positive number.
    """
    if not 0 < step < float("inf"):
        raise LengthError(f"a step of {step!r} is not possible; accepted is a positive length")
    written = Decimal(f"{step:.6g}").normalize().as_tuple()
    if len(written.digits) > 2:
        return max(0, -math.floor(math.log10(step)))
    return max(0, -int(written.exponent))


def format_number(value: float, decimals: int, *, signed: bool = False, minus: str = "-") -> str:
    """Return a number with fixed decimals, halves to the even digit; zero carries no sign.

    The half is that of the decimal value as typed or averaged: what a binary number and a mean leave beyond
    `GUARD_DIGITS` further digits is taken off first. ``dashboard/assets/log-lengths.js`` rounds by the same rule.

    Examples
    --------
    >>> format_number(0.624425, 5), format_number((0.62442 + 0.62443) / 2, 5)
    ('0.62442', '0.62442')
    >>> format_number(-0.00004, 4, signed=True)
    '0.0000'
    """
    exact = Decimal(float(value)).quantize(Decimal(1).scaleb(-decimals - GUARD_DIGITS), context=_EVEN)
    rounded = exact.quantize(Decimal(1).scaleb(-decimals), context=_EVEN)
    if rounded == 0:
        return f"{abs(rounded):f}"
    sign = minus if rounded < 0 else "+" if signed else ""
    return f"{sign}{abs(rounded):f}"


def format_length(value: float, unit: str, step: float | None = None, *, signed: bool = False) -> str:
    """Return a length as text with its unit.

    Parameters
    ----------
    value : float
        In ``unit``.
    unit : str
    step : float, optional
        What the gauge can read, in ``unit``; sets the decimals. Without it: 0.00001 in, 0.0001 mm, 0.1 of the rest.
    signed : bool
        Whether a plus sign is written.

    Returns
    -------
    str

    Raises
    ------
    LengthError
        If the unit is not known, the step not positive or the value not finite.

    Examples
    --------
    >>> format_length(0.6252, "in", 0.0001)
    '0.6252 in'
    """
    used = known_unit(unit)
    if not abs(value) < float("inf"):
        raise LengthError(f"{value!r} is not a length that can be written")
    plain_step = {"in": 0.00001, "mm": 0.0001}.get(used, 0.1) if step is None else step
    word = {"um": "micrometres", "tenth": "tenths"}.get(used, used)
    return f"{format_number(value, decimals_of(plain_step), signed=signed)} {word}"


def small_unit(unit: str) -> str:
    """Return the unit in which a shop says small differences: tenths in inch work, micrometres in metric."""
    return "tenth" if known_unit(unit) in ("in", "thou", "tenth") else "um"


def quantity(value: Any, unit: str) -> Any:
    """Return a `pint` quantity of any unit (length, force, stress, torque, temperature).

    ``unit`` is a name that pint knows; the words ``thou`` and ``tenth`` are added to its lengths.
    """
    return _registry().Quantity(value, unit)


def magnitude(value: Any, unit: str) -> Any:
    """Return a quantity as a plain number (or array) in ``unit``; a plain number is handed back as it is.

    Raises
    ------
    LengthError
        If the quantity cannot be said in that unit.
    """
    if not hasattr(value, "to"):
        return value
    import pint

    try:
        return _registry().Quantity(value.magnitude, str(value.units)).to(unit).magnitude
    except pint.DimensionalityError as error:
        raise LengthError(f"{value} cannot be said in {unit}: {error}") from error


_kept_registry: Any = None


def _registry() -> Any:
    global _kept_registry  # one registry a process: pint quantities of two registries do not mix
    if _kept_registry is None:
        import pint

        _kept_registry = pint.UnitRegistry()
        _kept_registry.define("thou = inch / 1000")
        _kept_registry.define("tenth = inch / 10000 = tenth = tenths")
    return _kept_registry
