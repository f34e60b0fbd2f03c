"""Why a piece was left over, in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tracker.fit.checks import Floats, Ints
from tracker.plurals import plural

TOO_BIG, TOO_SMALL = -1, -2
Words = tuple[tuple[str, ...], tuple[str, ...]]


def why_left_line(
    internal: Floats,
    external: Floats,
    left: tuple[Ints, Ints],
    low: float,
    high: float,
    near: float,
    names: tuple[str, str],
) -> Words:
    """Return for each piece left over why no mate was found, one closure.

    Parameters
    ----------
    internal, external : array
        Sizes as given.
    left : (array, array)
        Indices of the pieces left over.
    low, high, near : float
        Gap limits (infinite when open) and the distance at which two gaps are the same.
    names : (str, str)
        What internal and external pieces are called.
    """
    return (
        _side(internal[left[0]], np.sort(external), -high - near, -low + near, names),
        _side(external[left[1]], np.sort(internal), low - near, high + near, (names[1], names[0])),
    )


def _side(sizes: Floats, mates: Floats, smallest: float, largest: float, names: tuple[str, str]) -> tuple[str, ...]:
    """Say it for one side: a piece of size x takes mates from x + smallest to x + largest."""
    first = np.searchsorted(mates, sizes + smallest, side="left")
    last = np.searchsorted(mates, sizes + largest, side="right")
    fits = np.where(last > first, last - first, 0)
    fits[(fits == 0) & (first >= len(mates))] = TOO_BIG
    fits[(fits == 0) & (last == 0)] = TOO_SMALL
    kinds, which = np.unique(fits, return_inverse=True)
    words = [_why(kind, names) for kind in kinds.tolist()]
    return tuple([words[kind] for kind in which.tolist()])


def _why(fits: int, names: tuple[str, str]) -> str:
    """Say why a piece is left that fits so many others, or none: too big, too small, or between two sizes."""
    if fits > 0:
        return _all_taken(fits, names[1])
    if fits == TOO_BIG:
        return f"too big for every {names[1]}"
    if fits == TOO_SMALL:
        return f"too small for every {names[1]}"
    return f"between two sizes: too big for some {plural(names[1])}, too small for the others"


def _all_taken(count: int, mate: str) -> str:
    if count == 1:
        return f"fits one {mate}, which another piece needs"
    return f"fits {count} {plural(mate)}, all needed by other pieces"


def why_left_table(
    internal: Floats,
    external: Floats,
    left: tuple[Ints, Ints],
    low: Floats,
    high: Floats,
    near: float,
    names: tuple[str, str],
    closures: Sequence[str],
) -> Words:
    """Return for each piece left over why no mate was found, several closures (named) at once."""
    return (
        tuple(_row(internal[row] - external, low - near, high + near, names[1], 1, closures) for row in left[0]),
        tuple(_row(internal - external[column], low - near, high + near, names[0], -1, closures) for column in left[1]),
    )


def _row(gaps: Floats, low: Floats, high: Floats, mate: str, side: int, closures: Sequence[str]) -> str:
    """Say it for one piece from its gaps with every piece of the other side."""
    tight, loose = gaps < low, gaps > high
    fits = int(np.sum(~np.any(tight | loose, axis=1)))
    if fits:
        return _all_taken(fits, mate)
    big, small = (loose, tight) if side > 0 else (tight, loose)
    for number, closure in enumerate(closures):
        if np.all(big[:, number]):
            return f"too big for every {mate} ({closure})"
        if np.all(small[:, number]):
            return f"too small for every {mate} ({closure})"
    return f"no {mate} meets all {gaps.shape[1]} closures with it"
