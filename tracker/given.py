"""What was given as a number: taken as one, or refused in words. Text, booleans and complex numbers are none."""

from __future__ import annotations

import itertools
import math
import reprlib
from collections.abc import Iterable, Sequence
from decimal import Decimal
from numbers import Real
from typing import TYPE_CHECKING, Any

from tracker.errors import TrackerError

if TYPE_CHECKING:
    import numpy as np

    Floats = np.ndarray[Any, np.dtype[np.float64]]

FARTHEST, NEAREST = 1e50, 1e-50
"""No length is larger, and no batch of sizes other than zero smaller; their sixth powers still fit into a float."""


def number(value: Any, name: str, fault: type[TrackerError] = TrackerError) -> float:
    """Return one number as a float; NaN (a masked one too) and infinite ones as they are.

    Parameters
    ----------
    value : real number
        Any kind of it: int, float, Fraction, Decimal, one of numpy's.
    name : str
        What it is called in the message.
    fault : type
        What is raised.

    Raises
    ------
    TrackerError
        If it is text, a boolean, a complex number, missing or anything else, or too large for a length.

    Examples
    --------
    >>> number(3, "pairs")
    3.0
    """
    found = None
    if isinstance(value, float):
        found = float(value)
    elif isinstance(value, int | Real | Decimal) and not isinstance(value, bool):
        try:
            found = float(value)
        except (ValueError, OverflowError):  # a signalling NaN, a whole number of hundreds of digits
            found = None
    elif getattr(value, "ndim", None) == 0 and value.dtype.kind in "fiu":
        found = math.nan if getattr(value, "mask", False) else float(value)
    if found is None:
        raise fault(f"{name}: {said(value)} is not a number; give a plain number such as 25.4")
    if FARTHEST < abs(found) < math.inf:
        raise fault(f"{name}: found {found:g}, beyond {FARTHEST:g}; that is no length")
    return found


def finite_number(
    value: Any,
    name: str,
    *,
    above: float = -math.inf,
    least: float = -math.inf,
    fault: type[TrackerError] = TrackerError,
) -> float:
    """Return one number that is neither missing nor infinite, larger than ``above`` and no less than ``least``.

    Raises
    ------
    TrackerError
        If it is not.
    """
    found = number(value, name, fault)
    if math.isfinite(found) and found > above and found >= least:
        return found
    raise fault(f"{name}: found {said(value)}; {_wanted(above, least)} is needed")


def whole_number(value: Any, name: str, least: int = 1, fault: type[TrackerError] = TrackerError) -> int:
    """Return a whole number of at least ``least``; 3.0 is one.

    Raises
    ------
    TrackerError
        If it is not one.
    """
    found = number(value, name, fault)
    if math.isfinite(found) and found == int(found) and found >= least:
        return int(found)
    raise fault(f"{name}: found {said(value)}; a whole number of at least {least} is needed")


def share_of_one(value: Any, name: str, fault: type[TrackerError] = TrackerError) -> float:
    """Return a chance from 0 to 1.

    Raises
    ------
    TrackerError
        If it is not one.
    """
    found = number(value, name, fault)
    if 0 <= found <= 1:
        return found
    raise fault(f"{name} is {said(value)}; a chance lies between 0 and 1")


def numbers(values: Any, name: str, fault: type[TrackerError] = TrackerError) -> Floats:
    """Return numbers as a float array of any shape; what is missing (None, masked) becomes NaN.

    Parameters
    ----------
    values : array_like
        A list, an array or a column of numbers; no text, no booleans, no complex numbers, no generator.
    name : str
        What they are called in the message.
    fault : type
        What is raised.

    Raises
    ------
    TrackerError
        If one is not a number, or beyond what a length can be.

    Examples
    --------
    >>> numbers([1, None, 2.5], "sizes").tolist()
    [1.0, nan, 2.5]
    """
    import numpy as np

    array = _as_array(values, name, fault)
    far = np.abs(array) > FARTHEST
    if far.any() and (far := far & np.isfinite(array)).any():
        place = tuple(np.argwhere(far)[0].tolist())
        at = f", entry {', '.join(str(one + 1) for one in place)}" if place else ""
        raise fault(f"{name}{at}: found {array[place]:g}, beyond {FARTHEST:g}; that is no length")
    return array


def length_scale(values: Floats, name: str, fault: type[TrackerError] = TrackerError) -> Floats:
    """Return the sizes, refused where all are so near zero (and not zero) that their squares are lost.

    Raises
    ------
    TrackerError
        If they are.
    """
    largest = max(-float(values.min()), float(values.max())) if values.size else 0.0
    if 0 < largest < NEAREST:
        raise fault(
            f"{name}: the largest is {largest:g}, under {NEAREST:g}; that is no length, give them in another unit"
        )
    return values


def _as_array(values: Any, name: str, fault: type[TrackerError]) -> Floats:
    import numpy as np

    kind = getattr(getattr(values, "dtype", None), "kind", None)
    if isinstance(values, np.ma.MaskedArray) and kind in ("f", "i", "u"):
        return np.asarray(np.ma.filled(values.astype(np.float64), np.nan))
    if kind in ("f", "i", "u"):
        return np.asarray(values, dtype=np.float64)
    if hasattr(values, "__array__"):
        array = values if isinstance(values, np.ndarray) else np.asarray(values)
        listed = array.ravel().tolist()  # what is masked comes out as None
        return np.array(_one_by_one(listed, name, fault), dtype=np.float64).reshape(array.shape)
    if isinstance(values, Sequence) and not isinstance(values, str | bytes):
        return _listed(values, name, fault)
    if isinstance(values, Iterable) and not isinstance(values, str | bytes):
        raise fault(f"{name}: found a {type(values).__name__}; give a list or an array of numbers")
    return np.asarray(math.nan if values is None else number(values, name, fault))


def _listed(values: Sequence[Any], name: str, fault: type[TrackerError]) -> Floats:
    import numpy as np

    kinds = set(map(type, values))
    rows = kinds <= {list, tuple}
    if _are_plain(set(map(type, itertools.chain.from_iterable(values))) if rows else kinds):
        try:
            return np.asarray(values, dtype=np.float64)
        except (ValueError, OverflowError):  # rows that are not alike, a whole number of hundreds of digits
            pass
    found = _one_by_one(values, name, fault)
    if len({np.shape(one) for one in found}) > 1:
        raise fault(f"{name} are not a plain list of numbers; give one number a piece, and rows of one length")
    return np.array(found, dtype=np.float64)


def _are_plain(kinds: set[type]) -> bool:
    import numpy as np

    return all(issubclass(kind, float | int | np.floating | np.integer) and kind is not bool for kind in kinds)


def _one_by_one(values: Sequence[Any], name: str, fault: type[TrackerError]) -> list[float | Floats]:
    """Return each entry as a number, None as NaN, and a row in it as an array; what is none is named."""
    found: list[float | Floats] = []
    for place, value in enumerate(values, start=1):
        called = f"{name}, entry {place}"
        if isinstance(value, list | tuple) or getattr(value, "ndim", 0) > 0:
            found.append(_as_array(value, called, fault))
        else:
            found.append(math.nan if value is None else number(value, called, fault))
    return found


def said(value: Any) -> str:
    """Return what was found, as it is written, cut short where it is long."""
    return reprlib.repr(value)


def _wanted(above: float, least: float) -> str:
    if least == 0:
        return "a number from zero up"
    if above == 0:
        return "a number above zero"
    return "a number"
