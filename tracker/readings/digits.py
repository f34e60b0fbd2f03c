"""What a mistyped number may have been: a digit dropped, doubled or swapped, or the point in the wrong place."""

from __future__ import annotations

import re
from collections.abc import Iterator

_PLAIN = re.compile(r"([+-]?)(\d*)([.,])(\d+)(.*)", re.DOTALL)
_WITHOUT_POINT = re.compile(r"([+-]?)(\d+)()()([^\d/]*)", re.DOTALL)
MOST_PLACES = 6
"""How far a decimal point may have slipped."""


def likely_digits(typed: str, size: float, centre: float, reach: float, decimals: int | None) -> str:
    """Return the nearest number to ``centre`` that one slip of the hand turns into ``typed``; "" when none is near.

    Parameters
    ----------
    typed : str
        As it stands, for example ``0.62506``.
    size : float
        What it was read as, in the unit of ``centre``.
    centre, reach : float
        What is looked for lies within ``reach`` of ``centre``.
    decimals : int or None
        Digits after the point that the others have; a candidate has as many, when this is known.

    Returns
    -------
    str

    Examples
    --------
    >>> likely_digits("0.62056", 0.62056, 0.6250, 0.0003, 5)
    '0.62506'
    >>> likely_digits("0.6526", 0.6526, 0.6256, 0.0003, 4)
    '0.6256'
    >>> likely_digits("6256", 6256.0, 0.6256, 0.0003, None)
    '0.6256'
    """
    match = _PLAIN.fullmatch(typed.strip()) or _WITHOUT_POINT.fullmatch(typed.strip())
    if match is None or size == 0:
        return ""
    sign, whole, point, after, behind = match.groups()
    number = float(f"{whole or '0'}.{after or '0'}")
    if number == 0:
        return ""
    scale = abs(size) / number
    for slips in (_moved_point(whole + after, len(whole)), _one_slip(whole + after, len(whole), decimals)):
        best, best_away = "", reach
        for digits, at in slips:
            away = abs(float(f"{digits[:at] or '0'}.{digits[at:] or '0'}") * scale - centre)
            if away <= best_away and (not best or away < best_away):
                front = digits[:at] if at == len(whole) else digits[:at].lstrip("0") or ("0" if whole else "")
                best, best_away = f"{sign}{front}{point or '.'}{digits[at:]}{behind}", away
        if best:
            return best
    return ""


def _moved_point(digits: str, at: int) -> Iterator[tuple[str, int]]:
    """Yield digits and the place of the point, which has slipped or was left out."""
    for places in range(1, MOST_PLACES + 1):
        if at >= places:
            yield digits, at - places
        else:
            yield "0" * (places - at) + digits, 0
        if at + places < len(digits):
            yield digits, at + places


def _one_slip(digits: str, at: int, decimals: int | None) -> Iterator[tuple[str, int]]:
    """Yield digits and the place of the point, a digit swapped, dropped or doubled; the likeliest slips first."""
    for i in range(len(digits) - 1):
        if digits[i] != digits[i + 1]:
            yield digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :], at
    for i in range(len(digits) + 1):
        for digit in "0123456789":
            longer = digits[:i] + digit + digits[i:]
            for place in (at, at + 1):
                if decimals is None or len(longer) - place == decimals:
                    yield longer, place
    for i in range(len(digits)):
        shorter = digits[:i] + digits[i + 1 :]
        for place in {at, at - 1}:
            if place >= 0 and (decimals is None or len(shorter) - place == decimals):
                yield shorter, place
