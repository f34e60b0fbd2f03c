"""One typed value, read in its three ways: a size, a deviation from a master, or goes / does not go."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from tracker.errors import LengthError
from tracker.result import Result
from tracker.units import ACCEPTED, MM_PER, Length, known_unit, read_length

ABSOLUTE, COMPARATOR, GO_NO_GO = "absolute", "comparator", "go_no_go"
KIND_WORDS = {
    "absolute": ABSOLUTE,
    "size": ABSOLUTE,
    "direct": ABSOLUTE,
    "comparator": COMPARATOR,
    "deviation": COMPARATOR,
    "difference": COMPARATOR,
    "from master": COMPARATOR,
    "go no go": GO_NO_GO,
    "goes": GO_NO_GO,
    "go/no go": GO_NO_GO,
    "limit gauge": GO_NO_GO,
    "gauge pin": GO_NO_GO,
    "gauge pins": GO_NO_GO,
}
"""Every way the kind of a reading may be written."""

ACCEPTED_GO = "goes .6250 / not .6252"
INCH_UNITS = ("in", "thou", "tenth")
TINY = Fraction(1, 20)  # common practice, no source: a deviation is far below this share of the size
_LONGEST = 160
_GOES = r"(?:goes|go)"
_NOT = r"(?:does\s+not\s+go|does\s+not|doesn't\s+go|doesn't|no[\s-]?go|nogo|not\s+go|not)"
_SPLIT = re.compile(rf"(?P<word>{_NOT}|{_GOES})(?![A-Za-z])", re.IGNORECASE)
_ON = re.compile(r"(?P<deviation>.+?)\s+(?:on|from)\s+(?P<master>\S.*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry(Result):
    """One typed value as it was understood.

    Attributes
    ----------
    typed : str
        Exactly what stood there.
    kind : str
        ``absolute``, ``comparator`` or ``go_no_go``.
    unit : str
        The unit the value was read in.
    into : str
        The unit of the numbers below.
    value : float or None
        The size (a comparator's master is already added); None for goes / does not go.
    low, high : float
        What the size lies between; equal to ``value`` for a number, infinite where open.
    step : float or None
        The last digit typed; None for a fraction and for goes / does not go.
    deviation, master : float or None
        Of a comparator reading.
    unit_written : bool
        Whether the text itself named its unit.
    """

    typed: str
    kind: str
    unit: str
    into: str
    value: float | None
    low: float
    high: float
    step: float | None
    deviation: float | None = None
    master: float | None = None
    unit_written: bool = False

    def __str__(self) -> str:
        if self.kind == GO_NO_GO:
            low = "anything" if math.isinf(self.low) else f"{self.low:.9g}"
            high = "anything" if math.isinf(self.high) else f"{self.high:.9g}"
            return f"{self.typed!r} is a size from {low} to {high} {self.into}"
        if self.kind == COMPARATOR:
            return f"{self.typed!r} is {self.value:.9g} {self.into}: {self.master:.9g} and {self.deviation:+.9g}"
        return f"{self.typed!r} is {self.value:.9g} {self.into}"


def known_kind(text: str) -> str:
    """Return the kind of reading that a word means.

    Raises
    ------
    LengthError
        If the word names no kind.
    """
    words = " ".join(text.casefold().replace("_", " ").replace("-", " ").split())
    kind = KIND_WORDS.get(words)
    if kind is None:
        raise LengthError(f"{text!r} is no kind of reading; accepted are absolute, comparator and go_no_go")
    return kind


def exact(value: float | Fraction, unit: str) -> Fraction:
    """Return a float length as the exact millimetres of its shortest decimal form."""
    return (value if isinstance(value, Fraction) else Fraction(repr(float(value)))) * MM_PER[unit]


def read_entry(
    text: str,
    *,
    unit: str,
    kind: str | None = None,
    master: float | None = None,
    nominal: float | None = None,
    feature_kind: str | None = None,
    into: str | None = None,
    decimal_comma: bool = False,
    nominal_as_master: bool = False,
) -> Entry:
    """Read one typed value.

    Parameters
    ----------
    text : str
        A size (``.6252``, ``15.880 mm``, ``17/32``), a deviation (``+3 tenths``, ``-0.4 thou``, ``+3 tenths on
        0.6250``) or ``goes .6250 / not .6252``.
    unit : str
        The unit of a text that names none.
    kind : str, optional
        ``absolute``, ``comparator`` or ``go_no_go`` when it is known; otherwise it is told from the text: words of
        going are go / no-go, and a value with a sign in small units, or far smaller than the master or nominal, is
        a deviation.
    master : float, optional
        What the comparator was zeroed on, in ``into``.
    nominal : float, optional
        Of the feature, in ``into``: helps to tell a size from a deviation.
    feature_kind : str, optional
        ``internal``, ``external`` or ``length``: which side a gauge that goes bounds.
    into : str, optional
        The unit of the answer; ``unit`` when not given.
    decimal_comma : bool
        Whether a comma is the decimal sign.
    nominal_as_master : bool
        Whether the nominal stands in for a master that nobody named; whoever asks for this must say so to the user.

    Returns
    -------
    Entry

    Raises
    ------
    LengthError
        If the text is none of these; the message says what stood there and what would be accepted.

    Notes
    -----
    A deviation is added to its master exactly (as decimals), then rounded once.

    Examples
    --------
    >>> read_entry("+3 tenths", unit="in", master=0.6250).value
    0.6253
    >>> print(read_entry("goes .6250 / not .6252", unit="in"))
    'goes .6250 / not .6252' is a size from 0.625 to 0.6252 in
    """
    default = known_unit(unit)
    answer_in = default if into is None else known_unit(into)
    stripped = text.strip()
    if not stripped:
        raise LengthError(f"nothing stands there; accepted is {ACCEPTED}")
    if "\0" in text:
        raise LengthError(f"{text[:40]!r} holds a NUL character; accepted is {ACCEPTED}")
    if stripped.startswith(("=", "@")):
        raise LengthError(f"{text[:40]!r} is a formula; accepted is the value itself: paste values, not formulas")
    if len(stripped) > _LONGEST:
        raise LengthError(f"{text[:40]!r}… is too long; accepted is {ACCEPTED}")
    going = _SPLIT.search(stripped) is not None
    if kind == GO_NO_GO or (kind is None and going):
        return _go_no_go(text, stripped, default, answer_in, feature_kind, decimal_comma)
    if going:
        raise LengthError(f"{text!r} says what goes, but this reading is {kind}; accepted is {ACCEPTED}")
    zeroed = None if master is None else exact(master, answer_in)
    on = _ON.fullmatch(stripped)
    if on is not None:
        if kind == ABSOLUTE:
            raise LengthError(f"{text!r} names a master, but this reading is absolute; accepted is {ACCEPTED}")
        kind, stripped = COMPARATOR, on["deviation"]
        block = read_length(on["master"], default, decimal_comma=decimal_comma)
        zeroed = block.mm
    length = read_length(stripped, default, decimal_comma=decimal_comma)
    size = None if nominal is None else exact(nominal, answer_in)
    told = _told_kind(length, zeroed, size) if kind is None else kind
    if told == COMPARATOR:
        return _deviation(text, length, size if zeroed is None and nominal_as_master else zeroed, answer_in)
    if length.mm <= 0 and not (length.mm == 0 and size == 0):
        hint = "; a deviation needs a master" if length.signed else ""
        raise LengthError(f"{text!r} is not above zero, so it is no size{hint}; accepted is {ACCEPTED}")
    value = length.to(answer_in)
    return Entry(
        typed=text,
        kind=ABSOLUTE,
        unit=length.unit,
        into=answer_in,
        value=value,
        low=value,
        high=value,
        step=length.step(answer_in),
        unit_written=length.unit_written,
    )


def _told_kind(length: Length, master: Fraction | None, nominal: Fraction | None) -> str:
    """Tell a size from a deviation: by its sign and unit, and by how it stands to the size it belongs to."""
    if master is not None and master > 0:
        return COMPARATOR if abs(length.mm) <= master * TINY else ABSOLUTE
    if nominal is not None and nominal > 0:
        return COMPARATOR if length.signed and abs(length.mm) <= nominal * TINY else ABSOLUTE
    small = length.unit in ("thou", "tenth") or (length.unit == "um" and abs(length.mm) < 1)
    return COMPARATOR if length.signed and small else ABSOLUTE


def _deviation(text: str, length: Length, master: Fraction | None, into: str) -> Entry:
    if master is None:
        raise LengthError(
            f"{text!r} is a deviation, but from what? Set master under the feature in job.toml,"
            " or write it behind: +3 tenths on 0.6250"
        )
    if master <= 0 or master + length.mm <= 0:
        raise LengthError(
            f"{text!r} on a master of {float(master / MM_PER[into]):.6g} {into} leaves no size above zero"
        )
    value = float((master + length.mm) / MM_PER[into])
    return Entry(
        typed=text,
        kind=COMPARATOR,
        unit=length.unit,
        into=into,
        value=value,
        low=value,
        high=value,
        step=length.step(into),
        deviation=length.to(into),
        master=float(master / MM_PER[into]),
        unit_written=length.unit_written,
    )


def _go_no_go(text: str, stripped: str, unit: str, into: str, feature_kind: str | None, decimal_comma: bool) -> Entry:
    goes, stops = _gauges_named(text, stripped, unit, decimal_comma)
    low: Fraction | None
    high: Fraction | None
    if goes is not None and stops is not None:
        if goes.mm == stops.mm:
            raise LengthError(f"{text!r} says that the same gauge goes and does not; accepted is {ACCEPTED_GO}")
        if feature_kind == "internal" and goes.mm > stops.mm:
            raise LengthError(f"{text!r}: in a hole the pin that goes is the smaller; accepted is {ACCEPTED_GO}")
        if feature_kind == "external" and goes.mm < stops.mm:
            raise LengthError(
                f"{text!r}: over a pin the ring or gap that goes is the larger; accepted is goes .6252 / not .6250"
            )
        low, high = min(goes.mm, stops.mm), max(goes.mm, stops.mm)
    elif feature_kind == "length":
        raise LengthError(f"{text!r} names one gauge; for a length both are needed: {ACCEPTED_GO}")
    elif feature_kind == "external":
        low, high = (None if stops is None else stops.mm), (None if goes is None else goes.mm)
    else:
        low, high = (None if goes is None else goes.mm), (None if stops is None else stops.mm)
    used = goes if goes is not None else stops
    assert used is not None
    return Entry(
        typed=text,
        kind=GO_NO_GO,
        unit=used.unit,
        into=into,
        value=None,
        low=-math.inf if low is None else float(low / MM_PER[into]),
        high=math.inf if high is None else float(high / MM_PER[into]),
        step=None,
        unit_written=used.unit_written,
    )


def _gauges_named(text: str, stripped: str, unit: str, decimal_comma: bool) -> tuple[Length | None, Length | None]:
    """Return the gauge that goes and the one that does not, either may be missing."""
    found: dict[str, Length] = {}
    pieces = _SPLIT.split(stripped)
    if pieces[0].strip() or len(pieces) < 3:
        raise LengthError(f"{text!r} is not goes / does not go; accepted is {ACCEPTED_GO}")
    for word, rest in zip(pieces[1::2], pieces[2::2]):
        side = "goes" if word.casefold() in ("goes", "go") else "not"
        if side in found:
            raise LengthError(f"{text!r} says {word!r} twice; accepted is {ACCEPTED_GO}")
        cleaned = rest.strip()
        cleaned = cleaned.rstrip(" /,;").rstrip() if word is not pieces[-2] else cleaned
        length = read_length(cleaned.lstrip(":= "), unit, decimal_comma=decimal_comma)
        if length.mm <= 0:
            raise LengthError(f"{text!r} names a gauge that is not above zero; accepted is {ACCEPTED_GO}")
        found[side] = length
    return found.get("goes"), found.get("not")
