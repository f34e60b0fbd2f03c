"""What reading a set of files gave: readings that count, suspect and refused ones, and what was understood."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from tracker.result import plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

TEXT_COLUMNS = (
    "batch",
    "feature",
    "piece",
    "position",
    "kind",
    "typed",
    "unit",
    "applied",
    "gauge",
    "operator",
    "note",
    "suspect",
    "file",
)
COLUMNS = (
    "batch",
    "feature",
    "piece",
    "position",
    "repeat",
    "kind",
    "value",
    "low",
    "high",
    "step",
    "typed",
    "unit",
    "applied",
    "gauge",
    "operator",
    "note",
    "time",
    "temperature",
    "suspect",
    "file",
    "row",
)
"""The columns of a readings frame, in order."""


class Refusal(NamedTuple):
    """What was refused: the row (0: the whole file) and column, what stood there, and what would be accepted.

    ``feature`` and ``piece`` are whose reading it would have been; "" where the row does not tell.
    """

    file: str
    row: int
    column: str
    found: str
    accepted: str
    feature: str = ""
    piece: str = ""


REFUSED_COLUMNS = Refusal._fields


def text_array(values: Any) -> Any:
    """Return texts as the frame's own kind of text column."""
    return pd.array(values, dtype="str")


def groups_of(frame: pd.DataFrame, names: list[str]) -> list[tuple[tuple[str, ...], np.ndarray[Any, Any]]]:
    """Return the rows of every group of equal ``names``, with its key as a tuple of text."""
    found: dict[Any, Any] = dict(frame.groupby(names, sort=False).indices)
    return [(key if isinstance(key, tuple) else (key,), np.asarray(rows)) for key, rows in found.items()]


def readings_frame(columns: Mapping[str, Any] | None = None) -> pd.DataFrame:
    """Return a frame in the shape of the readings contract; without columns, an empty one."""
    given = {name: [] for name in COLUMNS} if columns is None else columns
    data: dict[str, Any] = {}
    for name in COLUMNS:
        if name in ("repeat", "row"):
            data[name] = pd.array(given[name], dtype="int64") if len(given[name]) == 0 else given[name]
        elif name == "time":
            data[name] = pd.to_datetime(pd.Series(given[name], dtype="datetime64[us]"))
        elif name in TEXT_COLUMNS:
            data[name] = pd.Series(given[name], dtype="str")
        else:
            data[name] = pd.Series(given[name], dtype="float64")
    return pd.DataFrame(data, columns=list(COLUMNS))


def refused_frame(rows: Iterable[Refusal]) -> pd.DataFrame:
    """Return the refused rows as a frame, a column each of what `Refusal` tells."""
    listed = list(rows)
    names = REFUSED_COLUMNS
    return pd.DataFrame(
        {
            name: pd.Series([row[i] for row in listed], dtype="int64" if name == "row" else "str")
            for i, name in enumerate(names)
        }
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Import:
    """What a set of readings files held.

    Attributes
    ----------
    readings : pandas.DataFrame
        The readings that count, one a row, columns `COLUMNS`, lengths in ``unit``.
    suspects : pandas.DataFrame
        Readings held back until someone confirms them; the same columns with ``question`` and ``suggestion``.
    refused : pandas.DataFrame
        What could not be read: file, row (as a spreadsheet counts), column, found, accepted, and where the row tells
        it, the feature and piece it would have been of.
    understood : tuple of str
        What was understood of each file, as sentences.
    duplicates : int
        Readings that were there twice and kept once.
    files : tuple of str
        The files that were read.
    unit : str
        The unit of every length.
    headers : mapping of str to (pathlib.Path, int)
        For every table, by the name its rows carry: the file, and the row of its column names.
    """

    readings: pd.DataFrame
    suspects: pd.DataFrame
    refused: pd.DataFrame
    understood: tuple[str, ...] = ()
    duplicates: int = 0
    files: tuple[str, ...] = ()
    unit: str = "in"
    headers: Mapping[str, tuple[Path, int]] = field(default_factory=dict)

    def __str__(self) -> str:
        counts = [
            _count(len(self.readings), "good reading"),
            f"{len(self.suspects)} suspect",
            f"{len(self.refused)} refused",
        ]
        if self.duplicates:
            counts.append(f"{self.duplicates} there twice, kept once")
        where = ", ".join(self.files) or "no file"
        return f"{', '.join(counts)}; from {where}"

    def to_dict(self) -> dict[str, Any]:
        """Return counts, questions, refusals and what was understood as plain data."""
        return {
            "good": len(self.readings),
            "suspect": len(self.suspects),
            "refused": len(self.refused),
            "duplicates": self.duplicates,
            "files": list(self.files),
            "unit": self.unit,
            "understood": list(self.understood),
            "suspects": [
                {
                    name: plain(row[name])
                    for name in ("file", "row", "feature", "piece", "typed", "question", "suggestion")
                }
                for row in self.suspects.to_dict("records")
            ],
            "refusals": [{key: plain(value) for key, value in row.items()} for row in self.refused.to_dict("records")],
        }


def refusal_words(row: Mapping[str, Any]) -> str:
    """Return one refused row as a sentence."""
    place = str(row["file"])
    if row["row"]:
        place += f", row {row['row']}"
    if row["column"]:
        place += f", column {row['column']}"
    found = f" found {row['found']!r};" if row["found"] and str(row["found"]) not in str(row["accepted"]) else ""
    return f"{place}:{found} {row['accepted']}"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
