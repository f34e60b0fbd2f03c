"""Argument checks of the fit room: what is taken as sizes, limits and uncertainties."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from tracker.errors import NotEnoughData, TrackerError
from tracker.given import finite_number, length_scale, number, numbers, said
from tracker.plurals import noun

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

ROUND_OFF = 16.0 * float(np.finfo(np.float64).eps)


def sizes_of(values: npt.ArrayLike, name: str, least: int = 1) -> Floats:
    """Return ``values`` as a float array of one size a piece.

    Raises
    ------
    NotEnoughData
        Fewer than ``least`` pieces.
    TrackerError
        Not one-dimensional, or a size that is not a finite number.
    """
    array = numbers(values, name)
    if array.ndim != 1:
        raise TrackerError(f"{name}: found an array of shape {array.shape}; one size a piece is needed")
    return _finite(array, name, least)


def table_of(values: npt.ArrayLike, name: str, columns: int) -> Floats:
    """Return ``values`` as a table of pieces x closures, with ``columns`` closures.

    Raises
    ------
    NotEnoughData
        No piece at all.
    TrackerError
        Another shape, or a size that is not a finite number.
    """
    array = numbers(values, name)
    if array.ndim != 2 or array.shape[1] != columns:
        raise TrackerError(
            f"{name}: found an array of shape {array.shape}; with {columns} closures it must be "
            f"(pieces, {columns}), one column a closure"
        )
    return _finite(array, name, 1)


def _finite(array: Floats, name: str, least: int) -> Floats:
    if len(array) < least:
        raise NotEnoughData(
            f"{name}: {len(array)} {noun(len(array), 'piece')} measured; at least {least} are needed for this answer"
        )
    bad = np.argwhere(~np.isfinite(array))
    if len(bad):
        raise TrackerError(
            f"{name}: piece at index {int(bad[0][0])} has the size {array[tuple(bad[0])]}; leave out pieces "
            "without a size"
        )
    return length_scale(array, name)


def limits_of(lower: float | None, upper: float | None, name: str = "gap limits") -> tuple[float, float]:
    """Return the limits with an open end as an infinity.

    Raises
    ------
    TrackerError
        A limit that is not a number, or a lower limit above the upper one.
    """
    low = -math.inf if lower is None else number(lower, f"{name}, the lower one")
    high = math.inf if upper is None else number(upper, f"{name}, the upper one")
    if math.isnan(low) or math.isnan(high):
        raise TrackerError(f"{name}: found {lower} and {upper}; give a number, or None for an open end")
    if low > high:
        raise TrackerError(f"{name}: the lower one, {low:g}, is above the upper one, {high:g}; swap them")
    return low, high


def not_negative(value: Any, name: str) -> float:
    """Return ``value``, refused when it is negative or not finite; None is zero, an uncertainty that is not stated."""
    return 0.0 if value is None else finite_number(value, name, least=0)


def uncertainties(uncertainty: Any, n_internal: int, n_external: int) -> tuple[Floats, Floats]:
    """Return the standard uncertainty of every internal and every external piece.

    Parameters
    ----------
    uncertainty : float or (internal, external)
        One number for all pieces, or a tuple or list of two, one for each side; each of the two is a
        number or an array of one value a piece.
    n_internal, n_external : int
        Pieces a side.

    Raises
    ------
    TrackerError
        Another shape, or a negative value.
    """
    if isinstance(uncertainty, tuple | list):
        if len(uncertainty) != 2:
            raise TrackerError(
                f"uncertainty: found {len(uncertainty)} entries; give one number, or two entries (internal, external)"
            )
        parts: Sequence[Any] = uncertainty
    else:
        if getattr(uncertainty, "ndim", 0) != 0:
            raise TrackerError(
                "uncertainty: found one array; say which side it belongs to by giving (internal, external)"
            )
        parts = (uncertainty, uncertainty)
    return (
        side_uncertainty(parts[0], n_internal, "uncertainty of the internal pieces"),
        side_uncertainty(parts[1], n_external, "uncertainty of the external pieces"),
    )


def side_uncertainty(value: Any, pieces: int, name: str = "uncertainty") -> Floats:
    """Return the standard uncertainty of every piece of one side from one number, one a piece, or none stated.

    Raises
    ------
    TrackerError
        Another shape, or a negative value.
    """
    array = numbers(0.0 if value is None else value, name)
    if array.ndim > 1 or (array.ndim == 1 and len(array) != pieces):
        raise TrackerError(f"{name}: found shape {array.shape}; give one number, or one for each of {pieces} pieces")
    if not np.all(np.isfinite(array)) or np.any(array < 0):
        raise TrackerError(f"{name}: found a negative or missing value; numbers from zero up are needed")
    return np.broadcast_to(array, (pieces,)).astype(np.float64)


def pair_of(value: Any, name: str) -> tuple[Any, Any]:
    """Return both of a pair such as (lower, upper).

    Raises
    ------
    TrackerError
        Anything else than two values.
    """
    if not isinstance(value, tuple | list | np.ndarray) or len(value) != 2:
        raise TrackerError(f"{name}: found {said(value)}; two numbers are needed")
    first, second = value
    return first, second


def per_closure(value: Any, closures: int, name: str) -> list[Any]:
    """Return one value a closure from a single value or a sequence."""
    if not isinstance(value, Sequence) and getattr(value, "ndim", 0) == 0:
        return [value] * closures
    if isinstance(value, str | bytes):
        raise TrackerError(f"{name}: found {value!r}; give a number, or one a closure")
    listed = list(value)
    if len(listed) != closures:
        raise TrackerError(f"{name}: found {len(listed)} values for {closures} closures; give one each, or one for all")
    return listed


def table_uncertainties(uncertainty: Any, inside: tuple[int, ...], outside: tuple[int, ...]) -> tuple[Floats, Floats]:
    """Return the standard uncertainty of every piece in every closure, as two tables of pieces x closures.

    Raises
    ------
    TrackerError
        Another shape, or a negative value.
    """
    parts = tuple(uncertainty) if isinstance(uncertainty, tuple | list) else (uncertainty, uncertainty)
    if len(parts) != 2:
        raise TrackerError(f"uncertainty: found {len(parts)} entries; give one number, or (internal, external)")
    tables = []
    for part, shape, name in zip(parts, (inside, outside), ("internal", "external"), strict=True):
        array = numbers(0.0 if part is None else part, f"uncertainty of the {name} pieces")
        if array.ndim > 2:
            raise TrackerError(f"uncertainty of the {name} pieces: found shape {array.shape}; give at most a table")
        if array.ndim == 1:
            array = array[:, None]  # one value a piece, the same for all closures
        if array.ndim == 2 and (array.shape[0] not in (1, shape[0]) or array.shape[1] not in (1, shape[1])):
            raise TrackerError(
                f"uncertainty of the {name} pieces: found shape {array.shape} for {shape[0]} pieces and "
                f"{shape[1]} closures; give a number, one a piece, (1, closures) or (pieces, closures)"
            )
        if not np.all(np.isfinite(array)) or np.any(array < 0):
            raise TrackerError(
                f"uncertainty of the {name} pieces: negative or missing; numbers from zero up are needed"
            )
        tables.append(np.broadcast_to(array, shape).astype(np.float64))
    return tables[0], tables[1]


def round_off(*arrays: npt.ArrayLike) -> float:
    """Return how far two sizes may lie apart and still be the same number, arithmetic being what it is.

    A few units in the last place of the largest size: 25.009 - 24.990 is 0.019 to a person and
    0.019000000000001904 to the machine, and a gap on its limit must count as within it.
    """
    largest = 0.0
    for array in arrays:
        values = np.abs(np.asarray(array, dtype=np.float64))
        values = values[np.isfinite(values)]
        if values.size:
            largest = max(largest, float(values.max()))
    return ROUND_OFF * largest


def generator(rng: np.random.Generator | int | None, default: int = 20) -> np.random.Generator:
    """Return a generator: the given one, one from a seed, or one from a fixed seed (same answer each time)."""
    if isinstance(rng, np.random.Generator):
        return rng
    if isinstance(rng, bool):
        raise TrackerError(f"rng: found {rng}; give a whole number from zero up, or a generator")
    try:
        return np.random.default_rng(default if rng is None else rng)
    except (TypeError, ValueError):
        raise TrackerError(f"rng: found {said(rng)}; give a whole number from zero up, or a generator") from None
