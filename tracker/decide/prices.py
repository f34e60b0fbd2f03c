"""What things cost, with stated defaults where the job says nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tracker.errors import TrackerError
from tracker.given import number, said
from tracker.result import Result

SIDES = ("internal", "external")
PRESS, REWORK, REMAKE = 1.0, 4.0, 10.0
KEYS = ("press", "rework", "remake", "spoiled_assembly", "unmade_assembly")
UNMADE_TIMES = 2.0
"""An assembly wanted and not made costs that many times a whole new one where no loss is stated: clearly more than
making it, so that what can be made is made (our choice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices(Result):
    """Costs (or minutes) of each step, in any one currency.

    ``rework`` and ``remake`` hold the sides on which it can be done. ``assumed`` names what was not stated:
    pressing 1, reworking a piece 4, remaking a piece 10, a spoiled assembly a pressing and a remade piece of each side.
    ``unmade_assembly`` is what it costs that an assembly wanted is not made; ``unmade_from`` says in words where that
    figure comes from, empty when it was stated.
    """

    press: float
    rework: dict[str, float]
    remake: dict[str, float]
    spoiled_assembly: float
    unmade_assembly: float
    unmade_from: str
    assumed: tuple[str, ...]

    def __str__(self) -> str:
        text = f"Pressing {self.press:g}"
        for word, sides in (("rework", self.rework), ("remake", self.remake)):
            text += "".join(f", {word} {side} {cost:g}" for side, cost in sides.items())
        text += f", a spoiled assembly {self.spoiled_assembly:g}"
        if self.unmade_assembly != self.spoiled_assembly:
            text += f", one not made {self.unmade_assembly:g}"
        return f"{text} (assumed: {', '.join(self.assumed)})." if self.assumed else f"{text}."


def prices(costs: Mapping[str, Any] | None) -> Prices:
    """Return the costs as stated, with the defaults for what is missing.

    Parameters
    ----------
    costs : mapping or None
        ``press``, ``spoiled_assembly`` and ``unmade_assembly``: numbers; ``rework`` and ``remake``: mappings with
        ``internal`` and ``external``; all optional. A side that one of these leaves out, where it is given, cannot be
        reworked (remade).
        A tuple of sides in place of a mapping: those sides, at the cost assumed.

    Notes
    -----
    An assembly wanted and not made is a loss. Where ``unmade_assembly`` is not stated it costs as much as a stated
    ``spoiled_assembly``: who says what a lost assembly costs has said what one is worth, and one not made loses no more
    than one spoiled, whose pieces are gone too. Where neither is stated it costs twice a whole new one (a pressing and
    a new piece of each side): our choice, no source, so that what can be made is made.
    """
    if costs is not None and not isinstance(costs, Mapping):
        raise TrackerError(f"costs: found {said(costs)}; give a mapping with any of {', '.join(KEYS)}")
    stated = dict(costs or {})
    unknown = sorted(set(stated) - set(KEYS))
    if unknown:
        raise TrackerError(f"costs holds {unknown[0]!r}; it can hold: {', '.join(KEYS)}")
    assumed = [key for key in KEYS if key != "unmade_assembly" and not _is_stated(stated.get(key))]
    press = _cost(stated.get("press"), "press", PRESS)
    rework = _sides(stated.get("rework"), "rework", REWORK)
    remake = _sides(stated.get("remake"), "remake", REMAKE)
    both = press + sum(remake.get(side, REMAKE) for side in SIDES)
    spoiled = _cost(stated.get("spoiled_assembly"), "spoiled_assembly", both)
    unmade, unmade_from = spoiled, "as much as one spoiled"
    if stated.get("spoiled_assembly") is None:
        unmade, unmade_from = UNMADE_TIMES * both, "assumed: twice a whole new one, our choice"
    return Prices(
        press=press,
        rework=rework,
        remake=remake,
        spoiled_assembly=spoiled,
        unmade_assembly=_cost(stated.get("unmade_assembly"), "unmade_assembly", unmade),
        unmade_from=unmade_from if stated.get("unmade_assembly") is None else "",
        assumed=tuple(assumed),
    )


def _is_stated(value: Any) -> bool:
    return value is not None and not isinstance(value, tuple)


def _sides(value: Any, key: str, default: float) -> dict[str, float]:
    if not _is_stated(value):
        unknown = sorted(str(side) for side in value or () if side not in SIDES)
        if unknown:
            raise TrackerError(f"costs.{key} names {unknown[0]!r}; it can name: {', '.join(SIDES)}")
        return dict.fromkeys(value or SIDES, default)
    if not isinstance(value, Mapping):
        raise TrackerError(f"costs.{key} is {value!r}; give a mapping from internal and external to a number")
    unknown = sorted(str(side) for side in value if side not in SIDES)
    if unknown:
        raise TrackerError(f"costs.{key} names {unknown[0]!r}; it can name: {', '.join(SIDES)}")
    return {side: _cost(value[side], f"{key}.{side}", default) for side in SIDES if value.get(side) is not None}


def _cost(value: Any, key: str, default: float) -> float:
    if value is None:
        return default
    found = number(value, f"costs.{key}")
    if not (found >= 0 and math.isfinite(found)):
        raise TrackerError(f"costs.{key} is {value!r}; give zero or more")
    return found
