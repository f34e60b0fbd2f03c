"""What a mistyped number may have been: a digit dropped, doubled or swapped, or the point in the wrong place."""

from __future__ import annotations

import re
from collections.abc import Iterator

_PLAIN = re.compile(r"([+-]?)(\d*)([.,])(\d+)(.*)", re.DOTALL)


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
    """
    match = _PLAIN.fullmatch(typed.strip())
    if match is None or size == 0:
        return ""
    sign, whole, point, after, behind = match.groups()
    number = float(f"{whole or '0'}.{after}")
    if number == 0:
        return ""
    scale = abs(size) / number
    best, best_away = "", reach
    for digits, at in _one_slip(whole + after, len(whole), decimals):
        away = abs(float(f"{digits[:at] or '0'}.{digits[at:] or '0'}") * scale - centre)
        if away <= best_away and (not best or away < best_away):
            best, best_away = f"{sign}{digits[:at]}{point}{digits[at:]}{behind}", away
    return best


def _one_slip(digits: str, at: int, decimals: int | None) -> Iterator[tuple[str, int]]:
    """Yield digits and the place of the point, each one slip away; the likeliest slips first."""
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
    for place in (at - 1, at + 1):
        if 0 <= place < len(digits):
            yield digits, place
