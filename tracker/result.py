"""What every answer is made of: `Interval`, and `Result` with its `to_dict`."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from functools import cache
from typing import Any


class Result:
    """Base of all results: a frozen dataclass that can turn itself into plain data.

    Subclasses are declared ``@dataclass(frozen=True, slots=True, kw_only=True)`` and have a
    ``__str__`` that reads like an answer.
    """

    __slots__ = ()

    def to_dict(self) -> dict[str, Any]:
        """Return plain data (dict, list, str, int, float, bool, None), fit for JSON.

        Returns
        -------
        dict
            One key a field. Arrays become lists; an unbounded end (infinite) becomes None.

        Raises
        ------
        ArithmeticError
            If a field holds NaN: an answer never carries one, so this is a bug of the caller.
        """
        return {
            field.name: plain(getattr(self, field.name), field.name)
            for field in dataclasses.fields(self)  # type: ignore[arg-type]
        }

    def _repr_svg_(self) -> str | None:
        """Let a notebook draw the result, where a program that draws is installed beside this one; None elsewhere."""
        draw = drawings().get(type(self).__name__)
        return None if draw is None else draw(self)


@dataclasses.dataclass(frozen=True, slots=True)
class Interval(Result):
    """An estimate and the interval it stands in.

    ``low`` may be ``-inf`` and ``high`` ``inf`` when that side is not bounded by the data.
    """

    estimate: float
    low: float
    high: float
    confidence: float = 0.95

    def __str__(self) -> str:
        share = f"{self.confidence:.0%}".replace("%", " %")
        return f"{self.estimate:.6g} (between {self.low:.6g} and {self.high:.6g}, {share})"


@cache
def drawings() -> dict[str, Callable[[Any], str | None]]:
    """Return what draws results as SVG, by the name of the result: the entry points ``tenthwise.drawings``."""
    from importlib.metadata import entry_points

    return {entry.name: entry.load() for entry in entry_points(group="tenthwise.drawings")}


def plain(value: Any, where: str = "value") -> Any:
    """Return ``value`` as plain data; ``where`` names it in an error."""
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, float):
        if math.isnan(value):
            raise ArithmeticError(f"{where} is not a number; a result never carries NaN")
        return None if math.isinf(value) else float(value)
    if isinstance(value, Result):
        return value.to_dict()
    if isinstance(value, dict):
        return {str(key): plain(item, f"{where}.{key}") for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item, where) for item in value]
    if hasattr(value, "isoformat"):
        return value.isoformat()
    if hasattr(value, "tolist"):
        return plain(value.tolist(), where)
    raise TypeError(f"{where} is a {type(value).__name__}, which has no plain form")
