"""ANSI B4.1: running, locational and force fits in inches."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

from tracker.errors import LimitsError
from tracker.limits.tablefiles import read_table, step_of
from tracker.limits.zones import FitLimits, exact, meet, zone

ACCEPTED = "accepted are RC1 to RC9, LC1 to LC11, LT1 to LT6, LN1 to LN3 and FN1 to FN5"
_NAME = re.compile(r"(?P<letters>[A-Za-z]{2})\s*(?P<number>\d{1,2})")


def limits_ansi(basic_size: float, fit_class: str) -> FitLimits:
    """Return both sizes of an ANSI B4.1 fit, and the gap (internal minus external) between them.

    Parameters
    ----------
    basic_size : float
        In inches.
    fit_class : str
        ``RC1`` to ``RC9`` (running), ``LC1`` to ``LC11``, ``LT1`` to ``LT6``, ``LN1`` to ``LN3`` (locational
        clearance, transition, interference) or ``FN1`` to ``FN5`` (force); hole basis.

    Returns
    -------
    FitLimits
        In inches; ``remark`` of its two sizes says where a figure stands on memory checked by structure.

    Raises
    ------
    LimitsError
        If there is no such class, the size is outside its table, or the printed value could not be established.

    References
    ----------
    ANSI B4.1-1967 (R1999). Checked in tests/published/test_limits_b4_1.py and tests/tracker/limits/test_b4_1_tables.py.

    Examples
    --------
    >>> fit = limits_ansi(0.5, "FN1")
    >>> fit.internal.upper, fit.external.lower, fit.external.upper
    (0.5004, 0.5005, 0.5008)
    """
    table = read_table("b4_1")
    written = str(fit_class).strip()
    match = _NAME.fullmatch(written)
    name = f"{match['letters'].upper()}{int(match['number'])}" if match else ""
    if name not in table["classes"]:
        raise LimitsError(f"{written!r} is no class of ANSI B4.1; {ACCEPTED}")
    if isinstance(basic_size, bool) or not isinstance(basic_size, int | float) or not 0 < basic_size < float("inf"):
        raise LimitsError(f"a basic size of {basic_size!r} is not possible; accepted is a length above 0 in inches")
    size = exact(float(basic_size))
    deviations = _deviations(table, name, size)
    checked = table["verified"].get(name)
    remark = (
        "" if checked is not None and size <= Fraction(checked) else "from memory of the standard, checked by structure"
    )
    hole, shaft = (
        zone(
            size,
            (edges[0] / 1000, edges[1] / 1000),
            unit="in",
            symbol=f"{name} {part}",
            kind=kind,
            source=table["source"],
            remark=remark,
        )
        for edges, part, kind in zip(deviations, ("hole", "shaft"), ("internal", "external"), strict=True)
    )
    return meet(name, hole, shaft)


def _deviations(
    table: dict[str, Any], name: str, size: Fraction
) -> tuple[tuple[Fraction, Fraction], tuple[Fraction, Fraction]]:
    """Return (lower, upper) of the hole and of the shaft, in thousandths."""
    rule = table["classes"][name]
    ends = table["force_steps"] if name.startswith("FN") else table["steps"]
    if size > ends[-1]:
        raise LimitsError(
            f"{float(size):g} in is outside the table of {name}: sizes over 0 up to {ends[-1]} in are kept"
        )
    index = step_of(size, ends)
    side = next(key for key in ("upper", "lower", "both") if key in rule)
    written = rule[side][index]
    if isinstance(written, str):
        raise LimitsError(_why_not(name, written, rule[side], ends, index))
    main = step_of(size, table["steps"])
    hole = Fraction(table["grades"][str(rule["hole"])][main])
    width = Fraction(table["grades"][str(rule["shaft"])][main])
    edge = Fraction(written)
    shaft = {"upper": (edge - width, edge), "lower": (edge, edge + width), "both": (-edge, edge)}[side]
    return (Fraction(0), hole), shaft


def _why_not(name: str, written: str, row: list[Any], ends: list[Any], index: int) -> str:
    step = f"over {ends[index - 1] if index else 0} up to {ends[index]} in"
    if written == "?":
        return (
            f"{name} {step}: the printed value could not be established, and none is invented; look it up in ANSI B4.1"
            " and state the limits themselves"
        )
    first = next(position for position, item in enumerate(row) if item != "")
    return f"{name} is not given {step}; its table begins over {ends[first - 1]} in"
