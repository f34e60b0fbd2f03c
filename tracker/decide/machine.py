"""From the part to the machine: diameter or radius, what plus does, the smallest step."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from tracker.errors import TrackerError
from tracker.result import Result

PLUS_MAKES = ("larger", "smaller")


@dataclass(frozen=True, slots=True, kw_only=True)
class Convention(Result):
    """How a change of size is entered for one kind of cut.

    Attributes
    ----------
    operation : str
        The kind of cut.
    offset_on : str
        ``diameter`` or ``radius``: what the number entered counts on.
    plus_makes : str
        Whether a plus offset makes the feature ``larger`` or ``smaller``.
    words : str
        The same in a sentence, with what to look out for.
    """

    operation: str
    offset_on: str
    plus_makes: str
    words: str

    def __str__(self) -> str:
        return self.words


def _convention(operation: str, offset_on: str, plus_makes: str, words: str) -> tuple[str, Convention]:
    return operation, Convention(operation=operation, offset_on=offset_on, plus_makes=plus_makes, words=words)


# Common practice, no source: controls differ, so the first step entered is always a trial.
CONVENTIONS: dict[str, Convention] = dict(
    [
        _convention(
            "outside turning",
            "diameter",
            "larger",
            "Outside turning: plus on the wear offset across the axis moves the tool away from the centre line, so the "
            "part gets larger; most controls count it on the diameter.",
        ),
        _convention(
            "boring",
            "diameter",
            "larger",
            "Boring on a lathe: plus moves the tool away from the centre line, so the bore gets larger; most controls "
            "count it on the diameter.",
        ),
        _convention(
            "milling a pocket",
            "radius",
            "smaller",
            "Milling a pocket with tool compensation, left or right of the path alike: a larger stored cutter keeps "
            "further from the wall, so the pocket gets smaller; where the table holds the cutter's radius, half the "
            "change across is entered.",
        ),
        _convention(
            "milling outside",
            "radius",
            "larger",
            "Milling an outside contour with tool compensation, left or right of the path alike: a larger stored "
            "cutter keeps further from the part, so the part gets larger; where the table holds the cutter's radius, "
            "half the change across is entered.",
        ),
        _convention(
            "outside grinding",
            "diameter",
            "larger",
            "Outside grinding: plus moves the wheel away from the work, so the part gets larger; it counts on the "
            "diameter where the infeed dial does.",
        ),
        _convention(
            "bore grinding",
            "diameter",
            "larger",
            "Bore grinding: plus moves the wheel out from the centre line, so the bore gets larger; it counts on the "
            "diameter where the infeed dial does.",
        ),
        _convention(
            "surface grinding",
            "diameter",
            "larger",
            "Surface grinding: plus raises the wheel, so the part stays thicker; the step entered is the whole change.",
        ),
    ]
)


def convention(operation: str) -> Convention:
    """Return how a change of size is usually entered for one kind of cut.

    Parameters
    ----------
    operation : str
        ``outside turning``, ``boring``, ``milling a pocket``, ``milling outside``, ``outside grinding``,
        ``bore grinding`` or ``surface grinding``.

    Raises
    ------
    TrackerError
        If the kind of cut is not listed.

    Notes
    -----
    Common practice, no source. Controls differ: enter the smallest step once and measure what it did.
    """
    found = CONVENTIONS.get(operation.strip().lower())
    if found is None:
        raise TrackerError(f"no kind of cut {operation!r}; it can be: {', '.join(CONVENTIONS)}")
    return found


def machine_offset(change: float, *, diameter: bool = True, plus_makes: str = "larger") -> float:
    """Return what to enter at the machine for a change of size of the part.

    Parameters
    ----------
    change : float
        How much larger the part should get (negative: smaller), across the part, in its unit.
    diameter : bool
        Whether the machine counts on the diameter (or the full width); else on the radius (one side).
    plus_makes : str
        ``larger`` or ``smaller``: what a plus offset does to the part.

    Examples
    --------
    >>> machine_offset(0.0004), machine_offset(0.0004, diameter=False, plus_makes="smaller")
    (0.0004, -0.0002)
    """
    return _sign(plus_makes) * change / (1.0 if diameter else 2.0)


def part_change(offset: float, *, diameter: bool = True, plus_makes: str = "larger") -> float:
    """Return how much larger the part gets by an offset entered at the machine; undoes `machine_offset`."""
    return _sign(plus_makes) * offset * (1.0 if diameter else 2.0)


def in_steps(offset: float, increment: float, steps_up: int = 0) -> float:
    """Return the offset in whole steps of the machine, as an exact decimal.

    Parameters
    ----------
    offset : float
        What would be entered if every number could be.
    increment : float
        The smallest step of the machine.
    steps_up : int
        0 for the nearest step, -1 for the next at or below, +1 for the next at or above.

    Examples
    --------
    >>> in_steps(0.00034, 0.0001), in_steps(0.00034, 0.0001, 1), in_steps(-0.00002, 0.0001)
    (0.0003, 0.0004, 0.0)
    """
    if not (increment > 0 and math.isfinite(increment)):
        raise TrackerError(f"the machine's smallest step is {increment!r}; give a length above zero, or leave it out")
    ratio = offset / increment
    whole = round(ratio)
    if steps_up and abs(ratio - whole) > 1e-9 * max(1.0, abs(ratio)):
        whole = math.ceil(ratio) if steps_up > 0 else math.floor(ratio)
    return float(Decimal(str(increment)) * whole) + 0.0


def _sign(plus_makes: str) -> float:
    if plus_makes not in PLUS_MAKES:
        raise TrackerError(f'plus_makes is {plus_makes!r}; it is "larger" or "smaller": what a plus offset does')
    return 1.0 if plus_makes == "larger" else -1.0
