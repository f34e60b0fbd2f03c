"""How a history lies on the disk: a folder of Parquet files that any reader of Parquet can read.

::

    FOLDER/
      history.json           what this is: form, version, names of gauges and operators, how much there is
      batches.parquet        one row a batch of one feature
      readings/
        part-000000.parquet  readings, ascending by batch, piece and position; a batch may run on into the next part
        part-000001.parquet

``history.json`` is written last: a folder without it is one whose export did not end. Every page of the Parquet
files carries a checksum, and it is looked at when the page is read.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tracker.errors import TrackerError

FORM = "tenthwise history"
VERSION = 1
MANIFEST = "history.json"
BATCHES = "batches.parquet"
READINGS = "readings"

BATCH_COLUMNS = {
    "batch": "int64",
    "job": "int64",
    "record_batch": "int64",
    "part": "string",
    "feature": "string",
    "label": "string",
    "unit": "string",
    "kind": "string",
    "nominal": "float64",
    "target": "float64",
    "lower": "float64",
    "upper": "float64",
    "rule": "string",
    "machine": "string",
    "tool": "string",
    "gauge": "string",
    "resolution": "float64",
    "begun": "string",
    "month": "string",
    "revision": "int64",
    "readings": "int64",
}
"""Columns of ``batches.parquet``. ``batch`` counts from 0 without gaps; ``label`` is the batch's own name; lengths are
in ``unit``, null where open or not said; ``rule`` is how a piece gets one size ("" the usual one); ``readings`` counts
the rows that belong to the batch, which is how a lost one is noticed."""

READING_COLUMNS = {
    "batch": "int64",
    "piece": "int32",
    "position": "int16",
    "value": "float64",
    "gauge": "int16",
    "operator": "int16",
    "repeat": "int32",
    "low": "float64",
    "high": "float64",
    "step": "float64",
    "time": "timestamp",
    "reading": "int64",
    "piece_label": "string",
    "position_label": "string",
}
"""Columns of the parts. ``piece`` counts from 0 in the order of making within the batch, ``position`` from 0 within it;
``value`` (in the batch's unit, corrections applied) is null for a go / no-go reading, whose interval is ``low`` to
``high``; ``gauge`` and ``operator`` are places in the lists of ``history.json``; ``reading`` is the number in the
record. The first six are needed for a summary, the rest is kept so that nothing must be asked of the record again."""

NEEDED = ("batch", "piece", "position", "value", "gauge", "operator")


class HistoryError(TrackerError):
    """A history that cannot be written, read, or trusted."""


@dataclass(frozen=True, slots=True)
class Manifest:
    """What ``history.json`` says."""

    gauges: tuple[str, ...]
    operators: tuple[str, ...]
    readings: int
    batches: int


def need_arrow() -> Any:
    """Return ``pyarrow`` with its Parquet part loaded.

    Raises
    ------
    HistoryError
        If it is not installed; the message names the extra.
    """
    try:
        import pyarrow
        import pyarrow.parquet
    except ModuleNotFoundError as error:
        raise HistoryError("a history needs pyarrow; install it with: pip install 'tenthwise[history]'") from error
    return pyarrow


def schema_of(columns: dict[str, str]) -> Any:
    """Return the Parquet schema of some columns."""
    arrow = need_arrow()
    kinds = {"timestamp": arrow.timestamp("us"), "string": arrow.string()}
    return arrow.schema([(name, kinds.get(kind) or getattr(arrow, kind)()) for name, kind in columns.items()])


def write_manifest(folder: Path, manifest: Manifest) -> None:
    """Write ``history.json``."""
    said = {
        "form": FORM,
        "version": VERSION,
        "readings": manifest.readings,
        "batches": manifest.batches,
        "gauges": list(manifest.gauges),
        "operators": list(manifest.operators),
    }
    (folder / MANIFEST).write_text(json.dumps(said, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")


def read_manifest(folder: Path) -> Manifest:
    """Return what ``history.json`` says.

    Raises
    ------
    HistoryError
        If it is not there, cannot be read, or is of a newer version.
    """
    path = folder / MANIFEST
    if not path.is_file():
        raise HistoryError(
            f"{folder} holds no {MANIFEST}; accepted is a folder that `tenthwise history export` has finished writing"
        )
    try:
        said = json.loads(path.read_text(encoding="utf-8"))
        if said["form"] != FORM:
            raise KeyError("form")
        version = int(said["version"])
        manifest = Manifest(
            gauges=tuple(map(str, said["gauges"])),
            operators=tuple(map(str, said["operators"])),
            readings=int(said["readings"]),
            batches=int(said["batches"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise HistoryError(f"{path} does not say what a history says ({error!r}); export the history again") from error
    if version > VERSION:
        raise HistoryError(f"{path} is of form {version}, and this program reads up to {VERSION}; use a newer program")
    return manifest
