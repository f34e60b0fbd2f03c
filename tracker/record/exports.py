"""Readings out of the record: CSV, XLSX, Parquet and JSON, harmless in a spreadsheet and readable by us again."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tracker.errors import RecordError

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = {
    "batch": "batch",
    "feature": "feature",
    "piece": "piece",
    "position": "position",
    "repeat": "repeat",
    "kind": "kind",
    "value": "typed",
    "unit": "unit",
    "gauge": "gauge",
    "operator": "operator",
    "time": "time",
    "temperature": "temperature",
    "note": "note",
    "size": "value",
    "size_low": "low",
    "size_high": "high",
    "applied": "applied",
    "suspect": "suspect",
    "reading": "id",
    "struck_out": "struck",
}
"""What the columns of an export are called, and where they come from: ``value`` is as typed, ``size`` is corrected."""

_RUNS = ("=", "+", "-", "@", "\t", "\r", "\n")
_LENGTH = re.compile(r"[+\-−]\s*[\d.,]+(\s*/\s*\d+|\s+\d+\s*/\s*\d+)?\s*[A-Za-zµμ\"″”']{0,12}", re.ASCII)
MOST_IN_A_SHEET = 1_048_575


def harmless(text: str) -> str:
    """Return a text that a spreadsheet does not run as a formula: an apostrophe is set before one that it would.

    A signed length is left as it is: it holds no name, reference or call.

    Examples
    --------
    >>> harmless("=1+1"), harmless("-0.4 thou"), harmless("bench 2")
    ("'=1+1", '-0.4 thou', 'bench 2')
    """
    if text.startswith(_RUNS) and not _LENGTH.fullmatch(text.strip()):
        return f"'{text}"
    return text


def export_frame(frame: pd.DataFrame, unit: str) -> pd.DataFrame:
    """Return what is written of a readings frame; ``size`` columns say their unit."""
    import numpy as np

    columns: dict[str, Any] = {}
    for name, source in COLUMNS.items():
        if source not in frame.columns:
            continue
        title = f"{name}_{unit}" if name.startswith("size") else name
        columns[title] = frame[source]
    written = frame.assign(**columns)[list(columns)]
    for title in columns:
        if title.startswith("size"):
            written[title] = written[title].replace([np.inf, -np.inf], np.nan)
    return written


def write_export(frame: pd.DataFrame, path: Path, unit: str) -> int:
    """Write a readings frame in the form that the file's ending names; return the number of rows.

    Raises
    ------
    RecordError
        If the ending is not known, the file cannot be written, or a sheet cannot hold so many rows.
    """
    writers: dict[str, Callable[[pd.DataFrame, Path], None]] = {
        ".csv": _csv,
        ".xlsx": _xlsx,
        ".parquet": _parquet,
        ".json": _json,
    }
    write = writers.get(path.suffix.casefold())
    if write is None:
        raise RecordError(f"{path.name} ends in {path.suffix or 'nothing'}; accepted are {', '.join(writers)}")
    half = path.with_name(f"{path.name}.part{path.suffix}")
    try:
        write(export_frame(frame, unit), half)
        half.replace(path)
    except OSError as error:
        raise RecordError(f"{path} cannot be written: {error.strerror or error}") from error
    finally:
        half.unlink(missing_ok=True)
    return len(frame)


def _texts(written: pd.DataFrame) -> pd.DataFrame:
    named = {name: written[name].map(harmless) for name in written.columns if written[name].dtype == "str"}
    return written.assign(**named)


def _csv(written: pd.DataFrame, path: Path) -> None:
    _texts(written).to_csv(path, index=False, encoding="utf-8", lineterminator="\r\n")


def _xlsx(written: pd.DataFrame, path: Path) -> None:
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    if len(written) > MOST_IN_A_SHEET:
        raise RecordError(f"a sheet holds {MOST_IN_A_SHEET} rows and there are {len(written)}; write .csv or .parquet")
    book = Workbook(write_only=True)
    sheet = book.create_sheet("readings")
    sheet.append(list(written.columns))
    for row in _texts(written).itertuples(index=False):
        cells = []
        for value in row:
            cell = WriteOnlyCell(sheet, value=_plain(value))
            if isinstance(value, str):
                cell.data_type = "s"  # text stays text, whatever it begins with
            cells.append(cell)
        sheet.append(cells)
    book.save(path)


def _parquet(written: pd.DataFrame, path: Path) -> None:
    try:
        import pyarrow  # noqa: F401
    except ModuleNotFoundError as error:
        raise RecordError("a Parquet file needs pyarrow; install it with: pip install 'tenthwise[parquet]'") from error
    written.to_parquet(path, index=False)


def _json(written: pd.DataFrame, path: Path) -> None:
    with path.open("w", encoding="utf-8") as file:
        file.write("[")
        for number, row in enumerate(written.itertuples(index=False)):
            file.write(",\n" if number else "\n")
            named = {name: _plain(value) for name, value in zip(written.columns, row)}
            for name, value in named.items():
                if hasattr(value, "isoformat"):
                    named[name] = value.isoformat()
            json.dump(named, file, ensure_ascii=False, allow_nan=False)
        file.write("\n]\n")


def _plain(value: Any) -> Any:
    import pandas as pd

    if isinstance(value, str):
        return value
    if pd.isna(value):
        return None
    if isinstance(value, pd.Timestamp):
        return value.to_pydatetime()
    return value.item() if hasattr(value, "item") else value
