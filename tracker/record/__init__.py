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
    SignOff,
    TokenInfo,
    UserInfo,
)
from tracker.record.opening import open_record, restore
from tracker.record.people import OF_A_TOKEN, ROLES, may, same_of
from tracker.record.record import Record

__all__ = [
    "OF_A_TOKEN",
    "ROLES",
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
    "SignOff",
    "TokenInfo",
    "UserInfo",
    "default_record_path",
    "may",
    "open_record",
    "restore",
    "same_of",
]
