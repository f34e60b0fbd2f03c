"""Days and months as figures and sentences write them."""

from __future__ import annotations

from collections.abc import Sequence

MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


def day(begun: str) -> str:
    """Return the day of a moment in ISO form.

    Examples
    --------
    >>> day("2026-03-09T08:00:00")
    '9 March 2026'
    """
    year, month, number = begun[:10].split("-")
    return f"{int(number)} {MONTHS[int(month) - 1]} {year}"


def months(begun: Sequence[str]) -> list[tuple[int, str]]:
    """Return the place of the first moment of each month, and its short name; the year where one begins.

    Examples
    --------
    >>> months(["2025-12-01", "2025-12-09", "2026-01-05", "2026-02-01"])
    [(0, 'Dec 25'), (2, 'Jan 26'), (3, 'Feb')]
    """
    found: list[tuple[int, str]] = []
    before = ""
    for place, moment in enumerate(begun):
        if moment[:7] != before:
            name = MONTHS[int(moment[5:7]) - 1][:3]
            found.append((place, name if moment[:4] == before[:4] else f"{name} {moment[2:4]}"))
            before = moment[:7]
    return found
