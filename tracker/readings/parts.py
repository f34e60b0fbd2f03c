"""Readings as they come out of a table, before repeats are numbered: the frame's columns and two of our own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from tracker.readings.imports import COLUMNS, readings_frame
from tracker.readings.rows import Reading

PART_COLUMNS = (*COLUMNS, "confirmed", "column")
"""Those of a readings frame (repeat 0 where none was stated), then confirmed and the header of the value."""


def part_of(readings: Sequence[Reading]) -> pd.DataFrame:
    """Return readings as a part."""
    entries = [item.entry for item in readings]
    return part_frame(
        {
            "batch": [item.batch for item in readings],
            "feature": [item.feature for item in readings],
            "piece": [item.piece for item in readings],
            "position": [item.position for item in readings],
            "repeat": np.array([item.repeat or 0 for item in readings], dtype=np.int64),
            "kind": [entry.kind for entry in entries],
            "value": [np.nan if entry.value is None else entry.value for entry in entries],
            "low": [entry.low for entry in entries],
            "high": [entry.high for entry in entries],
            "step": [item.step for item in readings],
            "typed": [entry.typed for entry in entries],
            "unit": [entry.unit for entry in entries],
            "applied": [item.applied for item in readings],
            "gauge": [item.gauge for item in readings],
            "operator": [item.operator for item in readings],
            "note": [item.note for item in readings],
            "time": [item.time for item in readings],
            "temperature": [item.temperature for item in readings],
            "suspect": [""] * len(readings),
            "file": [item.file for item in readings],
            "row": np.array([item.row for item in readings], dtype=np.int64),
            "confirmed": np.array([item.confirmed for item in readings], dtype=bool),
            "column": [item.column for item in readings],
        }
    )


def part_frame(columns: Mapping[str, Any]) -> pd.DataFrame:
    """Return columns as a part."""
    frame = readings_frame(columns)
    return frame.assign(
        confirmed=np.asarray(columns["confirmed"], dtype=bool), column=pd.Series(columns["column"], dtype="str")
    )


def joined(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Return several parts as one."""
    filled = [part for part in parts if len(part)]
    if not filled:
        return part_of([])
    return filled[0] if len(filled) == 1 else pd.concat(filled, ignore_index=True)
