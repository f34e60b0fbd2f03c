"""Signals: what is seen in a chart that chance alone seldom shows, each named by what is seen."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.errors import TrackerError
from tracker.given import numbers
from tracker.result import Result

BEYOND_3 = "one point beyond 3 sigma"
TWO_OF_THREE = "two of three beyond 2 sigma on one side"
FOUR_OF_FIVE = "four of five beyond 1 sigma on one side"
EIGHT_ONE_SIDE = "eight in a row on one side"
SIX_RISING = "six in a row rising"
SIX_FALLING = "six in a row falling"
FOURTEEN_ALTERNATING = "fourteen alternating"
FIFTEEN_WITHIN_1 = "fifteen within 1 sigma"
EIGHT_BEYOND_1 = "eight beyond 1 sigma on both sides"

HANDBOOK_SIGNALS = (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_ONE_SIDE)
ALL_SIGNALS = (
    *HANDBOOK_SIGNALS,
    SIX_RISING,
    SIX_FALLING,
    FOURTEEN_ALTERNATING,
    FIFTEEN_WITHIN_1,
    EIGHT_BEYOND_1,
)

# Euler's zigzag number: of the 14! orders of fourteen values, 2 * 199360981 alternate.
ZIGZAG_14 = 199_360_981
FACTORIAL_14 = 87_178_291_200
FACTORIAL_6 = 720


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal(Result):
    """One stretch of a chart that calls for a look.

    Attributes
    ----------
    name : str
        What is seen.
    first, last : int
        Number of the first and last point of the stretch, counted from 1.
    words : str
        What is seen and where, as a phrase.
    side : str
        ``upper`` or ``lower``, "" where the signal has no side.
    false_alarm : float or None
        Chance that a steady normal process shows this over the one window that completes it (None: depends
        on the chart's whole past, see its average run length).
    change_after : int or None
        Estimated last point before the change (cumulative sums only).
    new_level : float or None
        Estimated level since then (cumulative sums only).
    """

    name: str
    first: int
    last: int
    words: str
    side: str = ""
    false_alarm: float | None = None
    change_after: int | None = None
    new_level: float | None = None

    def __str__(self) -> str:
        """Say what is seen and where."""
        return self.words


def signal_chance(name: str) -> float:
    """Return the chance that a steady normal process shows a signal over one window of its length.

    References
    ----------
    L. S. Nelson, J. Quality Technology 16 (1984) 237-239 (from memory); closed forms, held against the
    published digits in tests/published/test_drift_signals.py.

    Examples
    --------
    >>> round(signal_chance("eight in a row on one side"), 4)
    0.0078
    """
    check_names((name,))
    beyond_1, beyond_2, beyond_3 = (float(special.ndtr(-k)) for k in (1, 2, 3))
    chances = {
        BEYOND_3: 2 * beyond_3,
        TWO_OF_THREE: 2 * (3 * beyond_2**2 * (1 - beyond_2) + beyond_2**3),
        FOUR_OF_FIVE: 2 * (5 * beyond_1**4 * (1 - beyond_1) + beyond_1**5),
        EIGHT_ONE_SIDE: 2 * 0.5**8,
        SIX_RISING: 1 / FACTORIAL_6,
        SIX_FALLING: 1 / FACTORIAL_6,
        FOURTEEN_ALTERNATING: 2 * ZIGZAG_14 / FACTORIAL_14,
        FIFTEEN_WITHIN_1: (1 - 2 * beyond_1) ** 15,
        EIGHT_BEYOND_1: (2 * beyond_1) ** 8,
    }
    return chances[name]


def find_signals(z: np.ndarray, names: Iterable[str] = HANDBOOK_SIGNALS, offset: int = 0) -> tuple[Signal, ...]:
    """Return the signals in a row of standardised points.

    Parameters
    ----------
    z : ndarray, shape (n,)
        (point - centre) / sd of the point.
    names : iterable of str
        Which signals to look for.
    offset : int
        Added to the point numbers that are reported.

    Returns
    -------
    tuple of Signal
        In the order of their first point. Windows that overlap or touch are one signal.

    Notes
    -----
    "Two of three" and "four of five" complete at a point that is itself beyond. "Eight beyond 1 sigma" means
    none of eight in a row lies within 1 sigma. A point on the centre line is on neither side, and equal
    neighbours neither rise nor fall.

    References
    ----------
    Western Electric, *Statistical Quality Control Handbook* (1956); Nelson (1984); ISO 7870-2 (from memory).
    """
    chosen, z = check_names(names), numbers(z, "z")
    if z.ndim != 1 or np.isnan(z).any():
        raise TrackerError(f"z: found shape {z.shape}, {int(np.isnan(z).sum())} of them missing; give a row of numbers")
    found: list[Signal] = []
    for name in chosen:
        for first, last, seen in _FINDERS[name](z):
            found.append(
                Signal(
                    name=name,
                    first=first + offset,
                    last=last + offset,
                    words=f"{seen}, {where(first + offset, last + offset)}",
                    side=next((side for side in ("upper", "lower") if seen.endswith(f"({side} side)")), ""),
                    false_alarm=signal_chance(name),
                )
            )
    return tuple(sorted(found, key=lambda signal: (signal.first, signal.last)))


def check_names(names: Iterable[str]) -> tuple[str, ...]:
    """Return the names as a tuple; refuse one that is no signal."""
    chosen = (names,) if isinstance(names, str) else tuple(names)
    for name in chosen:
        if name not in ALL_SIGNALS:
            raise TrackerError(f"{name!r} is not a signal; take from: {'; '.join(ALL_SIGNALS)}")
    return chosen


def where(first: int, last: int) -> str:
    """Return "piece 7" or "pieces 4 to 9"."""
    return f"piece {first}" if first == last else f"pieces {first} to {last}"


Stretch = tuple[int, int, str]


def stretches(hit: np.ndarray, reach: int = 1) -> list[tuple[int, int]]:
    """Return first and last number (from 1) of the stretches covered by windows that end where ``hit`` is true."""
    stretch: list[tuple[int, int]] = []
    for end in np.flatnonzero(hit).tolist():
        start = max(end - reach + 1, 0)
        if stretch and start <= stretch[-1][1]:
            stretch[-1] = (stretch[-1][0], end + 1)
        else:
            stretch.append((start + 1, end + 1))
    return stretch


def _counted(flag: np.ndarray, window: int, need: int) -> np.ndarray:
    """Return where a window that ends at a flagged point holds at least ``need`` flagged ones."""
    total = np.concatenate([[0], np.cumsum(flag)])
    ends = np.arange(1, flag.size + 1)
    count = total[ends] - total[np.maximum(ends - window, 0)]
    hit: np.ndarray = flag & (count >= need)
    return hit


def _sided(z: np.ndarray, level: float, window: int, need: int, seen: str) -> list[Stretch]:
    found = []
    for flag, side in ((z > level, "upper"), (z < -level, "lower")):
        for first, last in stretches(_counted(flag, window, need), window):
            inside = np.flatnonzero(flag[first - 1 : last]) + first
            found.append((int(inside[0]), int(inside[-1]), f"{seen} ({side} side)"))
    return found


def _beyond_3(z: np.ndarray) -> list[Stretch]:
    hits = np.flatnonzero(np.abs(z) > 3).tolist()
    return [(i + 1, i + 1, f"{BEYOND_3} ({'upper' if z[i] > 0 else 'lower'} side)") for i in hits]


def _one_side(z: np.ndarray) -> list[Stretch]:
    return _sided(z, 0.0, 8, 8, EIGHT_ONE_SIDE)


def _monotone(z: np.ndarray, sign: int, seen: str) -> list[Stretch]:
    steps = sign * np.diff(z) > 0
    return [(first, last + 1, seen) for first, last in stretches(_counted(steps, 5, 5), 5)]


def _alternating(z: np.ndarray) -> list[Stretch]:
    steps = np.sign(np.diff(z))
    turns = steps[1:] * steps[:-1] < 0
    return [(first, last + 2, FOURTEEN_ALTERNATING) for first, last in stretches(_counted(turns, 12, 12), 12)]


def _within_1(z: np.ndarray) -> list[Stretch]:
    hits = stretches(_counted(np.abs(z) < 1, 15, 15), 15)
    return [(first, last, FIFTEEN_WITHIN_1) for first, last in hits]


def _beyond_1(z: np.ndarray) -> list[Stretch]:
    hits = stretches(_counted(np.abs(z) > 1, 8, 8), 8)
    return [(first, last, EIGHT_BEYOND_1) for first, last in hits]


_FINDERS: dict[str, Callable[[np.ndarray], list[Stretch]]] = {
    BEYOND_3: _beyond_3,
    TWO_OF_THREE: lambda z: _sided(z, 2.0, 3, 2, TWO_OF_THREE),
    FOUR_OF_FIVE: lambda z: _sided(z, 1.0, 5, 4, FOUR_OF_FIVE),
    EIGHT_ONE_SIDE: _one_side,
    SIX_RISING: lambda z: _monotone(z, 1, SIX_RISING),
    SIX_FALLING: lambda z: _monotone(z, -1, SIX_FALLING),
    FOURTEEN_ALTERNATING: _alternating,
    FIFTEEN_WITHIN_1: _within_1,
    EIGHT_BEYOND_1: _beyond_1,
}
