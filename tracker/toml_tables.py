"""TOML read with bounds: a text from outside must not take the memory or the time of everybody else."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from typing import Any

DEEPEST = 16
"""Tables and lists inside one another; a job needs five."""

LONGEST = 1_000_000
_PART = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+"""
_DEEP_KEY = re.compile(rf"(?<![\w-])(?:{_PART}){{{DEEPEST}}}")
"""More parts of a key in a row than are read: `tomllib` needs time and memory that grow with their square."""


def toml_tables(text: str, *, parse_float: Callable[[str], Any] = float) -> dict[str, Any]:
    r"""Return the tables of a TOML text.

    Parameters
    ----------
    text : str
    parse_float : callable, optional
        What is made of a number with a fraction.

    Raises
    ------
    tomllib.TOMLDecodeError
        If it is not TOML, too long, too deep, or holds a number that is none.

    Examples
    --------
    >>> toml_tables("[job]\nunit = 'in'")
    {'job': {'unit': 'in'}}
    """
    if len(text) > LONGEST:
        raise tomllib.TOMLDecodeError(f"it has {len(text):,} characters; accepted are {LONGEST:,}")
    too_deep = f"something in it lies more than {DEEPEST} deep; accepted are tables as the help shows them"
    found = _DEEP_KEY.search(text)
    if found is not None:
        line = text.count("\n", 0, found.start()) + 1
        raise tomllib.TOMLDecodeError(f"{too_deep} (at line {line}, column 1)")
    try:
        data = tomllib.loads(text, parse_float=parse_float)
    except tomllib.TOMLDecodeError:
        raise
    except RecursionError as error:
        raise tomllib.TOMLDecodeError(too_deep) from error
    except (ValueError, ArithmeticError) as error:
        raise tomllib.TOMLDecodeError(f"a number or a date in it cannot be read: {error}") from error
    if depth_of(data) > DEEPEST:
        raise tomllib.TOMLDecodeError(too_deep)
    return data


def depth_of(data: object) -> int:
    """Return how deep tables and lists lie inside one another.

    Examples
    --------
    >>> depth_of({"job": {"unit": "in"}}), depth_of("in")
    (2, 0)
    """
    deepest, level = 0, [data]
    while level:
        inner: list[object] = []
        for item in level:
            if isinstance(item, Mapping):
                inner.extend(item.values())
            elif isinstance(item, list):
                inner.extend(item)
        if any(isinstance(item, Mapping | list) for item in level):
            deepest += 1
        level = inner
    return deepest
