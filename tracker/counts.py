"""The noun after a number: one piece, two pieces, no pieces."""

from __future__ import annotations


def noun(number: float, one: str, several: str | None = None) -> str:
    """Return the word for so many of a thing.

    Examples
    --------
    >>> noun(1, "reading"), noun(0, "reading"), noun(3, "category", "categories")
    ('reading', 'readings', 'categories')
    """
    return one if number == 1 else several or f"{one}s"
