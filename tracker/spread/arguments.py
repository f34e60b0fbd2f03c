"""What the functions of this room accept: sizes as an array or as `Sizes`, limits, confidence."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np

from tracker.errors import NotEnoughData, TrackerError
from tracker.given import length_scale
from tracker.given import number as given_number
from tracker.given import numbers as given_numbers
from tracker.given import whole_number as given_whole_number
from tracker.plurals import noun

Array = np.ndarray[Any, np.dtype[np.float64]]
IntArray = np.ndarray[Any, np.dtype[np.int64]]


def numbers(values: Any, name: str = "sizes") -> Array:
    """Return numbers as a float array of any shape; what is missing (None, masked) becomes NaN; as `tracker.given`."""
    return given_numbers(values, name)


def number(value: Any, name: str) -> float:
    """Return one number as a float, NaN where it is missing.

    Raises
    ------
    TrackerError
        If it is not one.
    """
    return float("nan") if value is None else given_number(value, name)


def finite_number(value: Any, name: str) -> float:
    """Return one number that is neither missing nor infinite.

    Raises
    ------
    TrackerError
        If it is.
    """
    found = number(value, name)
    if not np.isfinite(found):
        raise TrackerError(f"{name} is {value!r}; give a number")
    return found


def no_less_than_zero(value: Any, name: str) -> float:
    """Return a number from zero up.

    Raises
    ------
    TrackerError
        If it is not one.
    """
    found = finite_number(value, name)
    if found < 0:
        raise TrackerError(f"{name} is {value!r}; a number from zero up is needed")
    return found


def above_zero(value: Any, name: str) -> float:
    """Return a number above zero.

    Raises
    ------
    TrackerError
        If it is not one.
    """
    found = finite_number(value, name)
    if found <= 0:
        raise TrackerError(f"{name} is {value!r}; a number above zero is needed")
    return found


def sizes_array(sizes: Any, at_least: int = 1, purpose: str = "this answer") -> Array:
    """Return the sizes as a one-dimensional float array in order of making.

    Parameters
    ----------
    sizes : array_like, shape (n,), or Sizes
        One size a piece.
    at_least : int
        How many pieces the caller needs.
    purpose : str
        What they are needed for, in words; it stands in the message.

    Raises
    ------
    NotEnoughData
        If there are fewer pieces.
    TrackerError
        If a size is not a finite number, or the array has more than one dimension.
    """
    values = numbers(getattr(sizes, "size", sizes) if hasattr(sizes, "piece") else sizes)
    if values.ndim == 0:
        values = values.reshape(1)
    if values.ndim != 1:
        raise TrackerError(f"sizes have {values.ndim} dimensions; accepted is one size a piece, one dimension")
    if not np.isfinite(values).all():
        first = int(np.flatnonzero(~np.isfinite(values))[0])
        raise TrackerError(f"size {first + 1} of {values.size} is {values[first]}; leave out pieces without a size")
    if values.size < at_least:
        raise NotEnoughData(
            f"{count(values.size, 'piece')} measured; {purpose} needs at least {at_least}: "
            f"measure {at_least - values.size} more"
        )
    return length_scale(values, "sizes")


def one_each(values: Any, name: str, pieces: int) -> Array:
    """Return a number for each piece, from one for all or one each.

    Raises
    ------
    TrackerError
        If there are not as many, or one is not a number.
    """
    found = numbers(values, name)
    if found.shape not in ((), (1,), (pieces,)):
        raise TrackerError(f"{name}: found shape {found.shape}; give one number, or one for each of {pieces} pieces")
    if not np.isfinite(found).all():
        raise TrackerError(f"{name} hold {found[~np.isfinite(found)][0]}; give numbers")
    return np.broadcast_to(found, (pieces,))


def positive_step(step: float | None) -> float | None:
    """Return the step of the readings, or None when it is not known."""
    found = number(step, "step")
    return found if 0 < found < np.inf else None


def checked_limits(lower: float | None, upper: float | None, needed: bool = True) -> tuple[float, float]:
    """Return the limits as floats, an open one as an infinity.

    Raises
    ------
    TrackerError
        If they stand the wrong way round, are not numbers, or both are missing and one is needed.
    """
    low = -np.inf if lower is None else number(lower, "lower limit")
    high = np.inf if upper is None else number(upper, "upper limit")
    if np.isnan(low) or np.isnan(high):
        raise TrackerError("a limit is not a number; give a length, or None for an open side")
    if low >= high:
        raise TrackerError(f"the lower limit {low:g} is not below the upper limit {high:g}; are they swapped?")
    if needed and np.isinf(low) and np.isinf(high):
        raise TrackerError("both limits are open; give at least one limit")
    return low, high


SMALLEST_SHARE = 1e-12  # below it quantiles run out of digits


def checked_confidence(confidence: float, name: str = "confidence") -> float:
    """Return a share strictly between 0 and 1.

    Raises
    ------
    TrackerError
        If it is not.
    """
    found = number(confidence, name)
    if not SMALLEST_SHARE < found < 1:
        raise TrackerError(f"{name} is {confidence}; accepted is a share between 0 and 1, such as 0.95")
    return found


def whole_number(value: float, name: str, least: int = 1) -> int:
    """Return a whole number of at least ``least``.

    Raises
    ------
    TrackerError
        If it is not one.
    """
    return given_whole_number(value, name, least)


def count(number: int, word: str) -> str:
    """Return a count in words: ``1 piece``, ``8 pieces``."""
    return f"{number:,} {noun(number, word)}"


def listed(items: Iterable[str]) -> str:
    """Return ``3, 7 and 11``."""
    texts = list(items)
    return f"{', '.join(texts[:-1])} and {texts[-1]}" if len(texts) > 1 else "".join(texts)


def decimals_alike(*bounds: Array, step: float | None = None) -> int:
    """Return how many decimals write all of these numbers, and a step, to the last digit: at most six.

    Examples
    --------
    >>> decimals_alike(np.array([0.25, 0.2498, np.inf])), decimals_alike(np.array([0.25]), step=0.00005)
    (4, 5)
    """
    values = [value for value in np.concatenate(bounds).tolist() if math.isfinite(value)]
    written = [f"{value:.6f}".rstrip("0").partition(".")[2] for value in [*values, *([step] if step else [])]]
    return max(map(len, written), default=0)


def share(value: float) -> str:
    """Return a share as people say it: ``95 %``; one that rounds to nothing or to all is said to be under or over."""
    if 0 < value < 1e-5:
        return "under 0.001 %"
    if 1 - 1e-5 < value < 1:
        return "over 99.999 %"
    return f"{value * 100:.4g} %"
