"""Hardened dowel pins: what a pin of a size measures, and the hole that goes with it."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from tracker.errors import LengthError, LimitsError
from tracker.limits.iso286 import limits_iso
from tracker.limits.tablefiles import read_table
from tracker.limits.zones import FitLimits, Limits, meet, zone
from tracker.units import known_unit, read_length


def dowel_pin(size: str | float, series: str = "standard", *, unit: str = "in") -> Limits:
    """Return the limits of a hardened dowel pin.

    Parameters
    ----------
    size : str or float
        Nominal: ``1/4``, ``0.25``, ``6 mm``, ``M6`` is not one.
    series : str
        ``standard`` or ``oversize`` (inch pins, for worn holes); metric pins have the one.
    unit : str
        ``in`` or ``mm``: the unit of a size that names none, and so whose pins are meant.

    Returns
    -------
    Limits
        In the pin's own unit.

    Raises
    ------
    LimitsError
        If there is no such pin.

    References
    ----------
    ASME B18.8.2-2000 (inch); ISO 8734 with ISO 286-2 (metric). Checked in tests/published/test_limits_dowels.py.

    Examples
    --------
    >>> pin = dowel_pin("1/4")
    >>> pin.lower, pin.upper
    (0.2501, 0.2503)
    >>> dowel_pin("6 mm").upper
    6.012
    """
    nominal, used = _size(size, unit)
    if used == "mm":
        if series != "standard":
            raise LimitsError(f"metric pins have no {series!r} series; accepted is standard")
        return _metric(nominal, "pin")
    name, table = _inch(nominal)
    if series not in ("standard", "oversize"):
        raise LimitsError(f"{series!r} is no series of inch dowel pins; accepted is standard or oversize")
    basic = Fraction(table[series][name]) - nominal
    spread = Fraction(table["tolerance"])
    return zone(
        nominal,
        (basic - spread, basic + spread),
        unit="in",
        symbol=f"dowel pin, {series} series",
        kind="external",
        source=table["source"],
    )


def dowel_fit(size: str | float, series: str = "standard", *, unit: str = "in") -> FitLimits:
    """Return a dowel pin in the hole it is pressed into: the suggested one (inch) or H7 (metric, common practice).

    Raises
    ------
    LimitsError
        If there is no such pin, or no hole is suggested for it.

    Examples
    --------
    >>> fit = dowel_fit("1/2")
    >>> fit.gap_lower, fit.gap_upper
    (-0.0008, -0.0001)
    """
    nominal, used = _size(size, unit)
    pin = dowel_pin(size, series, unit=unit)
    if used == "mm":
        return meet("H7/m6", _metric(nominal, "hole"), pin)
    name, table = _inch(nominal)
    if name not in table["hole"]:
        raise LimitsError(
            f"no hole is suggested for a {name} in dowel pin; there is one for: {', '.join(table['hole'])} in"
        )
    low, high = (Fraction(edge) - nominal for edge in table["hole"][name])
    hole = zone(nominal, (low, high), unit="in", symbol="suggested hole", kind="internal", source=table["source"])
    return meet(f"dowel pin, {series} series", hole, pin)


def _size(size: str | float, unit: str) -> tuple[Fraction, str]:
    """Return the nominal size in its own unit, and that unit."""
    try:
        length = read_length(size if isinstance(size, str) else repr(size), unit)
        used = "in" if known_unit(length.unit) != "mm" else "mm"
    except LengthError as error:
        raise LimitsError(f"{size!r} is no size of dowel pin: {error}") from error
    return length.mm / (1 if used == "mm" else Fraction(254, 10)), used


def _inch(nominal: Fraction) -> tuple[str, dict[str, Any]]:
    table: dict[str, Any] = read_table("dowels")["inch"]
    for name in table["standard"]:
        if Fraction(name) == nominal:
            return name, table
    listed = ", ".join(table["standard"])
    raise LimitsError(f"there is no {float(nominal):g} in dowel pin in {table['source']}; there are: {listed} in")


def _metric(nominal: Fraction, part: str) -> Limits:
    table = read_table("dowels")["metric"]
    if nominal not in [Fraction(size) for size in table["sizes"]]:
        listed = ", ".join(str(size) for size in table["sizes"])
        raise LimitsError(f"there is no {float(nominal):g} mm dowel pin in ISO 8734; there are: {listed} mm")
    return limits_iso(table[part], nominal=float(nominal))
