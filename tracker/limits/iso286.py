"""ISO 286: tolerance classes and fits for nominal sizes to 500 mm."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

from tracker.errors import LengthError, LimitsError
from tracker.given import finite_number
from tracker.limits.tablefiles import read_table, step_of
from tracker.limits.zones import FitLimits, Limits, exact, meet, zone
from tracker.units import known_unit, read_length

_LISTED = "a b c cd d e ef f fg g h js j k m n p r s t u v x y z za zb zc"
SHAFT_LETTERS = tuple(_LISTED.split())
_UPPER_SHAFT = SHAFT_LETTERS[: SHAFT_LETTERS.index("h") + 1]
_DELTA_TO_8 = ("k", "m", "n")
_CLASS = re.compile(r"(?P<letters>[A-Z]{1,2}|[a-z]{1,2})\s*(?P<grade>\d{1,2})")
_SIZE_AND_CLASS = re.compile(r"(?P<size>.*?)\s*(?P<name>(?:[A-Z]{1,2}|[a-z]{1,2})\s*\d{1,2})")
_ACCEPTED = "accepted is a class such as H7, js6 or p6, with its size before it (25H7) or given beside it"
_MICROMETRES_PER = {"mm": 1000, "in": 25400}


def limits_iso(text: str, nominal: float | None = None, *, unit: str | None = None) -> Limits:
    """Return the limits of a size with an ISO tolerance class.

    Parameters
    ----------
    text : str
        ``25H7``, ``25 h6``, ``1/2 in H7``; or the class alone (``H7``) with ``nominal``.
    nominal : float, optional
        The nominal size in ``unit``, when the text holds the class alone.
    unit : str, optional
        ``mm`` or ``in``: the unit of a size that names none, and of the answer; unless given, the unit that the text
        names, else mm. An inch size falls in the step of its millimetres, and the deviations are turned into inches
        exactly.

    Returns
    -------
    Limits
        Absolute sizes in ``unit``.

    Raises
    ------
    LimitsError
        If the class is not known, the size is outside 0 to 500 mm, or the standard gives no value there.

    Notes
    -----
    ``js`` and ``JS`` are plus and minus half the grade exactly; older tables round the half of an odd grade down from
    grade 7 on. Holes follow the standard's rules: A to H are the shafts turned over; K, M and N to grade 8 and P to ZC
    to grade 7 are the shafts turned over plus the difference of two neighbouring grades; N from grade 9 on ends at 0
    (over 3 mm); M6 over 250 up to 315 mm is -9 and not -11 micrometres.

    References
    ----------
    ISO 286-1:2010, ISO 286-2:2010 (from memory; checked in tests/published/test_limits_iso286.py).

    Examples
    --------
    >>> found = limits_iso("25H7")
    >>> found.lower, found.upper
    (25.0, 25.021)
    >>> print(limits_iso("js6", nominal=12))
    12 mm js6: 11.9945 to 12.0055 mm (-0.0055 / +0.0055)
    """
    written = str(text).strip()
    match = _SIZE_AND_CLASS.fullmatch(written)
    if match is None:
        raise LimitsError(f"{written!r} is no ISO tolerance class; {_ACCEPTED}")
    if _SIZE_AND_CLASS.fullmatch(match["size"]) is not None:
        raise LimitsError(
            f"{written!r} names two classes; write a slash between those of a fit: {match['size']}/{match['name']}"
        )
    wanted = _unit_of(match["size"], unit)
    size = _size(match["size"], nominal, wanted, written)
    return _of_class(size, match["name"].replace(" ", ""), wanted)


def fit_iso(text: str, nominal: float | None = None, *, unit: str | None = None) -> FitLimits:
    """Return both sizes of an ISO fit, and the gap (internal minus external) between them.

    Parameters
    ----------
    text : str
        ``25H7/p6``, ``25 H7/p6``; or the classes alone (``H7/p6``) with ``nominal``. The hole stands first.
    nominal : float, optional
        The nominal size in ``unit``, when the text holds the classes alone.
    unit : str, optional
        ``mm`` or ``in``, as in `limits_iso`.

    Returns
    -------
    FitLimits

    Raises
    ------
    LimitsError
        As `limits_iso`; also when the two classes are not a hole and a shaft, in this order.

    References
    ----------
    As `limits_iso`.

    Examples
    --------
    >>> fit = fit_iso("25H7/p6")
    >>> fit.gap_lower, fit.gap_upper
    (-0.035, -0.001)
    """
    written = str(text).strip()
    hole, slash, shaft = (part.strip() for part in written.partition("/"))
    if "/" in shaft or re.search(r"\d\s*/\s*\d+\s*(in|\")?\s*[A-Z]", written):  # the size is a fraction such as 1/2
        hole, slash, shaft = (part.strip() for part in written.rpartition("/"))
    match = _SIZE_AND_CLASS.fullmatch(hole)
    if not slash or match is None or _CLASS.fullmatch(shaft) is None:
        raise LimitsError(f"{written!r} is no ISO fit; accepted is a hole and a shaft class, such as 25H7/p6")
    names = match["name"].replace(" ", ""), shaft.replace(" ", "")
    if not names[0][0].isupper() or not names[1][0].islower():
        raise LimitsError(
            f"{written!r} does not name a hole (capital letters) and then a shaft (small letters), such as H7/p6"
        )
    wanted = _unit_of(match["size"], unit)
    size = _size(match["size"], nominal, wanted, written)
    return meet("/".join(names), *(_of_class(size, name, wanted) for name in names))


def tolerance_iso(grade: int | str, nominal: float, *, unit: str = "mm") -> float:
    """Return the width of a standard tolerance grade (IT), in ``unit``.

    Raises
    ------
    LimitsError
        If there is no such grade, or the size is outside 0 to 500 mm.

    Examples
    --------
    >>> tolerance_iso(7, 25)
    0.021
    """
    wanted = _known(unit)
    size = exact(finite_number(nominal, "a nominal size", fault=LimitsError))
    return float(_grade(str(grade), _checked(size, wanted)) / _MICROMETRES_PER[wanted])


def _known(unit: str) -> str:
    try:
        wanted = known_unit(unit)
    except LengthError as error:
        raise LimitsError(str(error)) from error
    if wanted not in _MICROMETRES_PER:
        raise LimitsError(f"limits in {unit!r} are not offered; accepted is mm or in")
    return wanted


def _unit_of(size: str, unit: str | None) -> str:
    """Return the unit of the answer: as given, else as the size was written, else mm."""
    if unit is not None:
        return _known(unit)
    try:
        return "mm" if read_length(size, "mm").unit in ("mm", "um") else "in"
    except LengthError:
        return "mm"  # no size, or one that is refused when it is read in earnest


def _size(written: str, nominal: float | None, unit: str, text: str) -> Fraction:
    """Return the nominal size in ``unit``, from the text or from beside it."""
    given: Fraction | None = None
    if nominal is not None:
        given = exact(finite_number(nominal, "a nominal size", fault=LimitsError))
    if not written:
        if given is None:
            raise LimitsError(f"{text!r} has no size; write it before the class (25{text}) or give nominal beside it")
        return given
    try:
        found = read_length(written, unit).mm / (1 if unit == "mm" else Fraction(254, 10))
    except LengthError as error:
        raise LimitsError(f"{text!r}: the size is not understood: {error}") from error
    if given is not None and given != found:
        raise LimitsError(f"{text!r} says one size and nominal={float(given):g} another; give one of them")
    return found


def _checked(size: Fraction, unit: str) -> Fraction:
    """Return the size in millimetres, refused when it is outside the table."""
    in_mm = size if unit == "mm" else size * Fraction(254, 10)
    last = read_table("iso286")["steps"][-1]
    if not 0 < in_mm <= last:
        raise LimitsError(
            f"a nominal size of {float(size):g} {unit} is outside the table; ISO 286 is kept here for sizes over 0"
            f" up to {last} mm ({last / 25.4:.3f} in)"
        )
    return in_mm


def _of_class(size: Fraction, name: str, unit: str) -> Limits:
    match = _CLASS.fullmatch(name)
    letters, grade = (match["letters"], match["grade"]) if match else ("", "")
    if letters.lower() not in SHAFT_LETTERS or grade not in read_table("iso286")["grades"]:
        raise LimitsError(
            f"{name!r} is no ISO tolerance class; accepted are the letters {' '.join(SHAFT_LETTERS)} (capitals for a"
            " hole) with a grade 01, 0, 1 to 18"
        )
    in_mm = _checked(size, unit)
    deviations = _deviations(letters, grade, in_mm)
    return zone(
        size,
        (deviations[0] / _MICROMETRES_PER[unit], deviations[1] / _MICROMETRES_PER[unit]),
        unit=unit,
        symbol=name,
        kind="internal" if letters[0].isupper() else "external",
        source=read_table("iso286")["source"],
        remark=_remark(letters, in_mm),
    )


def _deviations(letters: str, grade: str, size: Fraction) -> tuple[Fraction, Fraction]:
    """Return the lower and the upper deviation in micrometres; the size in millimetres."""
    width = _grade(grade, size)
    if grade in ("01", "0") and letters.lower() not in ("h", "js"):
        raise LimitsError(f"{letters}{grade}: grades 01 and 0 go with H, h, JS and js alone")
    if size <= 1 and (grade.isdigit() and int(grade) >= 14):
        raise LimitsError(f"{letters}{grade}: grades 14 to 18 are not used up to 1 mm; accepted there is 01 to 13")
    if letters.lower() == "js":
        return -width / 2, width / 2
    hole = letters[0].isupper()
    deviation, at_upper = _hole(letters, grade, size) if hole else _shaft(letters, grade, size)
    return (deviation - width, deviation) if at_upper else (deviation, deviation + width)


def _grade(grade: str, size: Fraction) -> Fraction:
    table = read_table("iso286")
    if grade not in table["grades"]:
        raise LimitsError(f"IT{grade} is no tolerance grade; accepted are 01, 0 and 1 to 18")
    return Fraction(table["grades"][grade][step_of(size, table["steps"])])


def _shaft(letters: str, grade: str, size: Fraction, name: str = "") -> tuple[Fraction, bool]:
    """Return a shaft's fundamental deviation, and whether it is the upper one; ``name`` is what errors call it."""
    table = read_table("iso286")
    name = name or f"{letters}{grade}"
    if letters == "j":
        rows = table["shaft_j"]
        if grade not in rows:
            raise LimitsError(f"{name}: j is given for the grades {', '.join(rows)} alone; js is given for all")
        return _entry(rows[grade], step_of(size, table["steps"]), name, size), False
    if letters in ("a", "b") and size <= 1:
        raise LimitsError(f"{name}: a and b, A and B are not used up to 1 mm; c is the next")
    if letters == "k" and not 4 <= int(grade) <= 7:
        return Fraction(0), False
    at_upper = letters in _UPPER_SHAFT
    row = table["shaft_upper" if at_upper else "shaft_lower"][letters]
    return _entry(row, step_of(size, table["fine_steps"]), name, size), at_upper


def _hole(letters: str, grade: str, size: Fraction) -> tuple[Fraction, bool]:
    """Return a hole's fundamental deviation, and whether it is the upper one."""
    table = read_table("iso286")
    name, letter, number = f"{letters}{grade}", letters.lower(), int(grade)
    step = step_of(size, table["steps"])
    if letter == "j":
        rows = table["hole_j"]
        if grade not in rows:
            raise LimitsError(f"{name}: J is given for the grades {', '.join(rows)} alone; JS is given for all")
        return _entry(rows[grade], step, name, size), True
    if letter in _UPPER_SHAFT:
        return -_shaft(letter, grade, size, name)[0], False
    if letter == "k" and (number < 3 or number > 8) and not (number > 8 and size <= 3):
        raise LimitsError(f"{name}: K is given for the grades 3 to 8 (above 8 only up to 3 mm)")
    if letter == "n" and number > 8:
        if size <= 1:
            raise LimitsError(f"{name}: N above grade 8 is not used up to 1 mm")
        return Fraction(-4 if size <= 3 else 0), True
    if letter == "m" and grade == "6" and 250 < size <= 315:
        return Fraction(-9), True
    turned = -_entry(table["shaft_lower"][letter], step_of(size, table["fine_steps"]), name, size)
    if number > 8 and letter == "k":
        return Fraction(0), True
    if number <= (8 if letter in _DELTA_TO_8 else 7):
        turned += _delta(number, step, table)
    return turned, True


def _delta(grade: int, step: int, table: dict[str, Any]) -> Fraction:
    """Return the standard's delta: this grade less the next finer one; none up to 3 mm, or under grade 3."""
    if step == 0 or grade < 3:
        return Fraction(0)
    return Fraction(table["grades"][str(grade)][step]) - Fraction(table["grades"][str(grade - 1)][step])


def _entry(row: list[Any], index: int, name: str, size: Fraction) -> Fraction:
    if row[index] != "":
        return Fraction(row[index])
    table = read_table("iso286")
    ends = table["steps"] if len(row) == len(table["steps"]) else table["fine_steps"]
    filled = [position for position, item in enumerate(row) if item != ""]
    parts: list[list[int]] = []
    for position in filled:
        if parts and parts[-1][1] == position - 1:
            parts[-1][1] = position
        else:
            parts.append([position, position])
    ranges = " and ".join(f"over {ends[low - 1] if low else 0} up to {ends[high]} mm" for low, high in parts)
    raise LimitsError(f"{name} is not given for {float(size):g} mm; it is kept here for sizes {ranges}")


def _remark(letters: str, size: Fraction) -> str:
    """Return a warning for the entries that no second way confirms."""
    unconfirmed = read_table("iso286")["unconfirmed"].get(letters.lower())
    if unconfirmed is None or size > unconfirmed:
        return ""
    return "this deviation is from memory alone: look it up in ISO 286-1 before relying on it"
