"""Refused rows as a file that can be corrected and fed again: the rows as they stood, with what was wrong behind."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

from tracker.errors import LengthError, ReadingsError
from tracker.readings.entry import read_entry
from tracker.readings.tables import read_tables

if TYPE_CHECKING:
    from tracker.readings.imports import Import

BECAUSE = ("refused row", "refused because")
"""The columns that are added; they are passed over when the file is read again."""


def write_refused(found: Import, folder: str | Path) -> list[Path]:
    """Write the refused rows of an import, one file for each table they came from.

    Parameters
    ----------
    found : Import
    folder : str or pathlib.Path
        Where to write. The names begin with ``_refused``, so that the folder itself can be read again before they are
        corrected; name a corrected file to read it.

    Returns
    -------
    list of pathlib.Path
        None when no row was refused: a file that could not be read at all is not written out.

    Raises
    ------
    ReadingsError
        If a file was taken away meanwhile, or the folder cannot be written.
    """
    reasons: dict[str, dict[int, list[str]]] = {}
    for name, row, accepted in zip(found.refused["file"], found.refused["row"], found.refused["accepted"]):
        if row > 0:
            reasons.setdefault(str(name), {}).setdefault(int(row), []).append(str(accepted))
    written = []
    for name, wrong in reasons.items():
        path, header_row = found.headers[name]
        target = _new_name(Path(folder), name)
        try:
            with target.open("x", newline="", encoding="utf-8") as file:
                writer = csv.writer(file, lineterminator="\n")
                for number, cells in _rows(path, name, {header_row, *wrong}):
                    if number == header_row:
                        writer.writerow([*cells, *BECAUSE])
                        width = len(cells)
                    else:
                        filled = [harmless(cell) for cell in [*cells, *[""] * (width - len(cells))]]
                        writer.writerow([*filled, f"{name}, row {number}", harmless("; ".join(wrong[number]))])
        except OSError as error:
            raise ReadingsError(f"the refused rows cannot be written to {target}: {error.strerror or error}") from error
        written.append(target)
    return written


def harmless(text: str) -> str:
    """Return a cell that no spreadsheet runs as a formula: an apostrophe before what could be one.

    A value with a sign (``+3 tenths``, ``-0.4 thou``) stays as it is.

    Examples
    --------
    >>> harmless("=1+1"), harmless("+3 tenths"), harmless("bench 2")
    ("'=1+1", '+3 tenths', 'bench 2')
    """
    if text[:1] in ("=", "@", "\t", "\r"):
        return f"'{text}"
    if text[:1] in ("+", "-"):
        try:
            read_entry(text, unit="in", kind="comparator", master=1e6)
        except LengthError:
            return f"'{text}"
    return text


def _new_name(folder: Path, name: str) -> Path:
    """Return a name that is not taken: corrections already made in an earlier file are never overwritten."""
    stem = "".join(letter if letter.isalnum() or letter in " -_" else "_" for letter in Path(name).stem)
    taken = 1
    target = folder / f"_refused {stem}.csv"
    while target.exists():
        taken += 1
        target = folder / f"_refused {stem} {taken}.csv"
    return target


def _rows(path: Path, name: str, wanted: set[int]) -> list[tuple[int, list[str]]]:
    for table in read_tables(path):
        if table.name == name:
            return [(row.number, row.cells) for row in table.rows if row.number in wanted]
    raise ReadingsError(f"{name} is no longer at {path}; its refused rows cannot be written out")
