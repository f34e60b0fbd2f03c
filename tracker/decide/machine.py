"""From the part to the machine: diameter or radius, what plus does, the smallest step."""

from __future__ import annotations

import math
from decimal import Decimal

from tracker.errors import TrackerError
from tracker.given import finite_number

PLUS_MAKES = ("larger", "smaller")


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
    return _sign(plus_makes) * finite_number(change, "change") / (1.0 if diameter else 2.0)


def part_change(offset: float, *, diameter: bool = True, plus_makes: str = "larger") -> float:
    """Return how much larger the part gets by an offset entered at the machine; undoes `machine_offset`."""
    return _sign(plus_makes) * finite_number(offset, "offset") * (1.0 if diameter else 2.0)


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
    if not finite_number(increment, "the machine's smallest step") > 0:
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
