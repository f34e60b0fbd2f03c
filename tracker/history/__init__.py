"""Many batches: a record as partitioned Parquet, and its summary, on one machine or on many."""

from tracker.history.blocks import Damage
from tracker.history.export import Exported, export_history
from tracker.history.flags import Flags
from tracker.history.grouping import WAYS_TO_GROUP, Group
from tracker.history.layout import HistoryError
from tracker.history.summary import History, summarize_history
from tracker.history.writing import HistoryWriter

__all__ = [
    "WAYS_TO_GROUP",
    "Damage",
    "Exported",
    "Flags",
    "Group",
    "History",
    "HistoryError",
    "HistoryWriter",
    "export_history",
    "summarize_history",
]
