"""Files as tables of text cells: CSV in any common encoding, XLSX, Parquet; nothing is interpreted here.

A table is a name, rows with the number a spreadsheet would show for them, and what had to be said about the way it
was read. Rows come one at a time, so that a file may be larger than memory.
"""

from __future__ import annotations

import codecs
import csv
import datetime
import io
import lzma
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from tracker.errors import ReadingsError

ENDINGS = (".csv", ".tsv", ".txt", ".xlsx", ".parquet")
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
LARGEST_UNPACKED = 300_000_000
LARGEST_PACKING = 150
LONGEST_CELL = 10_000
_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the number a spreadsheet shows for it, and its cells as text."""

    number: int
    cells: list[str]


@dataclass(frozen=True, slots=True)
class Table:
    """One sheet of cells.

    Attributes
    ----------
    name : str
        The file, with the sheet behind it when the file has several.
    stem : str
        What may name the feature: the file name without its ending.
    sheet : str
        The sheet, "" for other files.
    rows : iterator of Row
    strict_width : bool
        Whether a row with too few cells is a fault (in a CSV it is; a spreadsheet leaves out empty cells).
    said : tuple of str
        What is to be said about how the file was read.
    """

    name: str
    stem: str
    sheet: str
    rows: Iterator[Row]
    strict_width: bool = True
    said: tuple[str, ...] = ()


def read_tables(path: Path) -> Iterator[Table]:
    """Yield the tables of one file.

    Raises
    ------
    ReadingsError
        If it cannot be read at all; the message says why and what to do.
    """
    ending = path.suffix.casefold()
    if ending not in ENDINGS:
        raise ReadingsError(
            f"{path.name} ends in {ending or 'nothing'}; accepted are .csv, .xlsx and .parquet: save it as one of these"
        )
    try:
        if path.stat().st_size == 0:
            raise ReadingsError(f"{path.name} is empty; accepted is a line of column names and readings below it")
        if ending == ".xlsx":
            yield from _xlsx(path)
        elif ending == ".parquet":
            yield from _parquet(path)
        else:
            yield _csv(path)
    except OSError as error:
        raise ReadingsError(f"{path.name} cannot be read: {error.strerror or error}") from error


@dataclass(frozen=True, slots=True)
class TextForm:
    """How a text file is written: its encoding, its separator, and whether that had to be said."""

    encoding: str
    separator: str
    said: tuple[str, ...]
    has_nul: bool
    ascii_only: bool


def text_form(path: Path) -> TextForm:
    """Find the encoding and separator of a text file, reading it through once in small parts.

    Raises
    ------
    ReadingsError
        If it is not text.
    """
    with path.open("rb") as file:
        head = file.read(1 << 16)
    encoding = _marked_encoding(head)
    said: tuple[str, ...] = ()
    has_nul, ascii_only = False, False
    if encoding is None:
        if head.startswith(b"PK\x03\x04"):
            raise ReadingsError(f"{path.name} is a packed file, not text; if it is a spreadsheet, name it .xlsx")
        encoding, has_nul, ascii_only = _unmarked_encoding(path)
        if encoding == "cp1252":
            said = (f"{path.name} is not UTF-8; it was read as Windows-1252",)
        if head.count(0) * 10 > len(head):
            raise ReadingsError(f"{path.name} is not text (a tenth of it is NUL bytes); accepted is CSV text")
    start = head.decode(encoding, errors="replace").lstrip("\ufeff")
    return TextForm(encoding, _separator(start), said, has_nul, ascii_only)


def _marked_encoding(head: bytes) -> str | None:
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if head.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        return "utf-32"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    start = head[:200]
    if len(start) >= 8 and not any(start[1::2]) and all(start[0::2]):
        return "utf-16-le"
    if len(start) >= 8 and not any(start[0::2]) and all(start[1::2]):
        return "utf-16-be"
    return None


def _unmarked_encoding(path: Path) -> tuple[str, bool, bool]:
    decoder = codecs.getincrementaldecoder("utf-8")()
    has_nul, ascii_only = False, True
    encoding = "utf-8"
    with path.open("rb") as file:
        while part := file.read(_CHUNK):
            has_nul = has_nul or b"\0" in part
            if ascii_only and part.isascii():
                continue
            ascii_only = False
            if encoding == "utf-8":
                try:
                    decoder.decode(part)
                except UnicodeDecodeError:
                    encoding = "cp1252"
        if encoding == "utf-8" and not ascii_only:
            try:
                decoder.decode(b"", final=True)
            except UnicodeDecodeError:
                encoding = "cp1252"
    return encoding, has_nul, ascii_only


def _separator(start: str) -> str:
    """Return the separator that cuts the first lines into the most, equally many, fields."""
    lines = [line for line in start.splitlines()[:20] if line.strip() and not line.startswith("#")]
    if not lines:
        return ","
    best, best_score = ",", (0, 0)
    for separator in SEPARATORS:
        counts = [len(row) for row in csv.reader(lines, delimiter=separator)]
        usual = max(set(counts), key=counts.count) if counts else 1
        score = (counts.count(usual) if usual > 1 else 0, usual)
        if usual > 1 and score > best_score:
            best, best_score = separator, score
    return best


def _csv(path: Path) -> Table:
    form = text_form(path)
    said = list(form.said)
    if form.separator != ",":
        said.append(f"{path.name} is separated by {SEPARATORS[form.separator]}")
    return Table(path.name, path.stem, "", csv_rows_from(path, form), True, tuple(said))


def csv_rows_from(path: Path, form: TextForm, start: int = 0, first: int = 1) -> Iterator[Row]:
    """Yield rows from a byte of a file on, the first numbered ``first``.

    Each is numbered as a spreadsheet would show it: one a record, whatever lines it spans.

    Raises
    ------
    ReadingsError
        If the text is cut off or damaged.
    """
    with path.open("rb") as raw:
        raw.seek(start)
        encoding = "utf-8" if start and form.encoding == "utf-8-sig" else form.encoding
        text = io.TextIOWrapper(raw, encoding=encoding, errors="replace", newline="")
        lines = _Lines(text)
        reader = csv.reader(lines, delimiter=form.separator)
        number = first - 1
        while True:
            number += 1
            lines.taken = 0
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                raise ReadingsError(f"{path.name}, row {number}: {error}; look for an unclosed quote above") from error
            if lines.cut_off:
                raise ReadingsError(
                    f"{path.name}, row {number}: a quote is opened here and never closed, so the {lines.taken} lines"
                    " from here to the end would be one field; close the quote or take it out"
                )
            yield Row(number, cells)


class _Lines:
    """Lines of a text, a very long one cut: no line of readings is longer, and memory stays bounded.

    ``taken`` counts the lines since it was last set to 0; ``cut_off`` tells that a record asked for more than there
    are.
    """

    def __init__(self, file: io.TextIOBase) -> None:
        self.file = file
        self.taken = 0
        self.cut_off = False

    def __iter__(self) -> _Lines:
        return self

    def __next__(self) -> str:
        line = self.file.readline(_CHUNK)
        if not line:
            self.cut_off = self.taken > 0
            raise StopIteration
        self.taken += 1
        return line


def _xlsx(path: Path) -> Iterator[Table]:
    _refuse_bomb(path)
    from openpyxl import load_workbook

    try:
        book = load_workbook(path, read_only=True, data_only=False, keep_links=False)
    except Exception as error:
        raise ReadingsError(f"{path.name} is not a readable workbook: {error}; save it anew as .xlsx") from error
    try:
        sheets = [name for name in book.sheetnames if not name.startswith("_")]
        for title in sheets:
            sheet = book[title]
            if not hasattr(sheet, "iter_rows"):
                continue
            if hasattr(sheet, "reset_dimensions"):
                sheet.reset_dimensions()
            name = path.name if len(sheets) == 1 else f"{path.name}, sheet {title}"
            yield Table(name, path.stem, title, _sheet_rows(path, sheet), False)
    finally:
        book.close()


def _refuse_bomb(path: Path) -> None:
    """Refuse a workbook that would unpack to far more than readings need, or that holds entity definitions."""
    try:
        with zipfile.ZipFile(path) as packed:
            parts = packed.infolist()
            total = sum(part.file_size for part in parts)
            if total > LARGEST_UNPACKED:
                raise ReadingsError(
                    f"{path.name} would unpack to {total / 1e6:.0f} MB; accepted is up to"
                    f" {LARGEST_UNPACKED / 1e6:.0f} MB: save the readings as CSV"
                )
            for part in parts:
                if part.file_size > 10_000_000 and part.file_size > LARGEST_PACKING * max(part.compress_size, 1):
                    raise ReadingsError(
                        f"{path.name} is packed {part.file_size // max(part.compress_size, 1)} to 1, as no"
                        " readings are; it is not opened: save the readings as CSV"
                    )
                if part.filename.endswith((".xml", ".rels")):
                    with packed.open(part) as stream:
                        start = stream.read(1 << 16)
                    if b"<!DOCTYPE" in start or b"<!ENTITY" in start:
                        raise ReadingsError(
                            f"{path.name} holds XML definitions, which no spreadsheet writes; not opened"
                        )
    except zipfile.BadZipFile as error:
        raise ReadingsError(f"{path.name} is not a workbook, or is cut off: {error}; save it anew as .xlsx") from error
    except ReadingsError:
        raise
    except (EOFError, NotImplementedError, RuntimeError, ValueError, struct.error, zlib.error, lzma.LZMAError) as error:
        raise ReadingsError(f"{path.name} is damaged or locked: {error}; save it anew without a password") from error


def _sheet_rows(path: Path, sheet: Any) -> Iterator[Row]:
    try:
        for number, cells in enumerate(sheet.iter_rows(values_only=False), start=1):
            yield Row(number, [_cell_text(cell.value, getattr(cell, "number_format", None)) for cell in cells])
    except Exception as error:
        raise ReadingsError(f"{path.name}, sheet {sheet.title} is damaged: {error}; save it anew as .xlsx") from error


def _cell_text(value: Any, number_format: str | None = None) -> str:
    """Return a cell as a person would have typed it: a number with the decimals its cell shows."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if value != value or value in (float("inf"), float("-inf")):
            return str(value)
        return _number_text(value, number_format)
    if isinstance(value, datetime.datetime | datetime.date):
        return value.isoformat(sep=" ") if isinstance(value, datetime.datetime) else value.isoformat()
    text = getattr(value, "text", None)  # an array formula
    return str(value) if text is None else f"={text}"


def _number_text(value: float, number_format: str | None) -> str:
    if value.is_integer() and abs(value) < 1e15 and (number_format or "General") == "General":
        return str(int(value))
    plain = format(Decimal(repr(value)), "f")
    if number_format and "." in number_format and number_format.replace("0", "").replace("#", "") == ".":
        places = number_format.partition(".")[2].count("0")
        whole, _, digits = plain.partition(".")
        if places > len(digits):
            return f"{whole}.{digits.ljust(places, '0')}"
    return plain


def _parquet(path: Path) -> Iterator[Table]:
    try:
        import pyarrow
        import pyarrow.parquet as parquet
    except ImportError as error:
        raise ReadingsError(
            f"{path.name} is Parquet, which needs pyarrow; install it with: pip install tenthwise[parquet],"
            " or save the readings as CSV"
        ) from error
    try:
        file = parquet.ParquetFile(path)
    except pyarrow.ArrowException as error:
        raise ReadingsError(f"{path.name} is not a readable Parquet file: {error}") from error
    yield Table(path.name, path.stem, "", _parquet_rows(path, file), False)


def _parquet_rows(path: Path, file: Any) -> Iterator[Row]:
    names = list(file.schema_arrow.names)
    yield Row(1, [str(name) for name in names])
    number = 1
    try:
        for batch in file.iter_batches(batch_size=20_000):
            for values in zip(*(column.to_pylist() for column in batch.columns)):
                number += 1
                yield Row(number, [_cell_text(value) for value in values])
    except OSError as error:
        raise ReadingsError(f"{path.name} is damaged after row {number}: {error}") from error
