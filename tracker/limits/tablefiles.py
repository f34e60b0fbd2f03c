"""Reads a table of limits from its data file; numbers stay exact."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

_FOLDER = Path(__file__).parent / "tables"


@cache
def read_table(name: str) -> dict[str, Any]:
    """Return the data file of a name; decimal numbers come as `decimal.Decimal`.

    Examples
    --------
    >>> read_table("iso286")["grades"]["7"][4]
    21
    """
    text = (_FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text, parse_float=Decimal)


def step_of(size: object, upper_ends: list[Any]) -> int:
    """Return which step of a table a size falls in: over the end before, up to and including its own end.

    Parameters
    ----------
    size : number
        Not above the last end.
    upper_ends : list of number
        Ascending.

    Examples
    --------
    >>> step_of(3, [3, 6, 10]), step_of(3.001, [3, 6, 10])
    (0, 1)
    """
    return next(index for index, end in enumerate(upper_ends) if size <= end)
