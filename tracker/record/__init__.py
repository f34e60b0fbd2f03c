"""Where readings are kept: append-only, on SQLite or PostgreSQL; the only room that knows SQL."""

from tracker.record.database import default_record_path
from tracker.record.kinds import (
    Baseline,
    BatchInfo,
    Bulk,
    Copy,
    GaugeInfo,
    JobInfo,
    Kept,
    KeptEvent,
    LogEntry,
    LogState,
    Piece,
    Proof,
)
from tracker.record.opening import open_record, restore
from tracker.record.record import Record

__all__ = [
    "Baseline",
    "BatchInfo",
    "Bulk",
    "Copy",
    "GaugeInfo",
    "JobInfo",
    "Kept",
    "KeptEvent",
    "LogEntry",
    "LogState",
    "Piece",
    "Proof",
    "Record",
    "default_record_path",
    "open_record",
    "restore",
]
