"""Columns of many rows in which values come again: each different value once, and which row has which."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

SELDOM = 8
"""Neighbouring columns are joined while each of their pairs of values comes in so many rows, on average."""

Codes = np.ndarray[Any, np.dtype[np.int64]]


@dataclass(frozen=True, slots=True)
class Coded:
    """One column: ``values[codes[i]]`` is the value of row i, a plain Python one that a database takes."""

    codes: Codes
    values: list[Any]

    @classmethod
    def same(cls, value: Any, size: int) -> Coded:
        """Return a column that holds one value throughout."""
        return cls(np.zeros(size, dtype=np.int64), [value])

    @classmethod
    def of(cls, column: Any, told: Callable[[Any], Any] | None = None) -> Coded:
        """Return a column of a frame, or any array; ``told`` says what becomes of a different value."""
        import pandas as pd

        codes, found = pd.factorize(column, use_na_sentinel=False)
        values = found.tolist()
        return cls(codes.astype(np.int64, copy=False), values if told is None else [told(value) for value in values])

    @classmethod
    def of_numbers(cls, column: pd.Series[Any]) -> Coded:
        """Return a column of numbers; what is not a number, or an open end, becomes None."""
        values = column.to_numpy() + 0.0  # minus nothing is nothing: SQLite keeps no sign of zero
        return cls.of(values, lambda value: value if np.isfinite(value) else None)

    @classmethod
    def of_run(cls, first: int, size: int) -> Coded:
        """Return whole numbers that go up by one."""
        return cls(np.arange(size, dtype=np.int64), list(range(first, first + size)))

    def __len__(self) -> int:
        return int(self.codes.size)

    def told(self, read: Callable[[Any], Any]) -> Coded:
        """Return the column of what is read from each value."""
        return Coded(self.codes, [read(value) for value in self.values])

    def taken(self, rows: Any) -> Coded:
        """Return some of the rows."""
        return Coded(self.codes[rows], self.values)

    def objects(self) -> np.ndarray[Any, Any]:
        """Return the value of every row as an array of Python's own values."""
        values = np.empty(len(self.values), dtype=object)
        values[:] = self.values
        return values[self.codes]

    def listed(self) -> list[Any]:
        """Return the value of every row."""
        listed: list[Any] = self.objects().tolist()
        return listed

    def is_same(self) -> bool:
        """Tell whether one value stands in every row."""
        return len(self.values) == 1


def equal(one: Coded, other: Coded) -> bool:
    """Tell whether two columns say the same."""
    return one.values == other.values and (one.codes is other.codes or bool(np.array_equal(one.codes, other.codes)))


def pairs_of(one: Coded, other: Coded) -> Coded:
    """Return the column of pairs of two columns."""
    width = len(other.values)
    paired = Coded.of(one.codes * width + other.codes)
    return Coded(paired.codes, [(one.values[at // width], other.values[at % width]) for at in paired.values])


def texts_joined(columns: Sequence[Coded], text: Callable[[Any], str], between: str) -> list[str]:
    """Return the text of every row: its values as text, with ``between`` between them."""
    parts: list[list[str]] = []
    held: Coded | None = None
    for column in columns:
        told = column.told(text)
        joint = told if held is None else _joined(held, told, between)
        if joint is None and held is not None:
            parts.append(held.listed())
            joint = told
        held = joint
    if held is not None:
        parts.append(held.listed())
    return parts[0] if len(parts) == 1 else list(map(between.join, zip(*parts)))


def _joined(one: Coded, other: Coded, between: str) -> Coded | None:
    """Return two columns of texts as one, or None where nearly every row would have a text of its own."""
    most = len(one) // SELDOM
    if max(len(one.values), len(other.values)) > most:
        return None
    if one.is_same():
        ahead = one.values[0] + between
        return other.told(lambda text: ahead + text)
    pairs = pairs_of(one, other)
    return pairs.told(between.join) if len(pairs.values) <= most else None


class RowsOfStatements:
    """Rows given as columns, cut into statements that insert many at a time.

    A value that stands in every row is given once a statement, and so is a column that says what another one says.
    """

    def __init__(self, columns: Sequence[Coded]) -> None:
        self._constant = [column.values[0] for column in columns if column.is_same()]
        self._places: list[int | None] = []
        varying: list[Coded] = []
        for column in columns:
            if column.is_same():
                self._places.append(None)
                continue
            place = next((at for at, other in enumerate(varying) if equal(column, other)), len(varying))
            if place == len(varying):
                varying.append(column)
            self._places.append(place)
        self._width = len(varying)
        self._cells = np.empty((len(columns[0]), len(varying)), dtype=object)
        for at, column in enumerate(varying):
            self._cells[:, at] = column.objects()

    def of(self, head: str, rows: int) -> Iterator[tuple[str, list[Any]]]:
        """Yield statements, so many rows at a time, with what is bound to each."""
        statement = ""
        for start in range(0, len(self._cells), rows):
            part = self._cells[start : start + rows]
            if not statement or len(part) < rows:
                statement = f"{head} VALUES {', '.join(self._row(row) for row in range(len(part)))}"
            yield statement, [*self._constant, *part.ravel().tolist()]

    def _row(self, row: int) -> str:
        before = len(self._constant) + 1
        constant = iter(range(1, before))
        signs = (
            f"?{next(constant)}" if place is None else f"?{before + row * self._width + place}"
            for place in self._places
        )
        return f"({','.join(signs)})"
