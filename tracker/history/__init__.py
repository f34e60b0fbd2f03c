"""Many batches: a record as partitioned Parquet, and its summary, on one machine or on many."""

from tracker.history.blocks import Damage
from tracker.history.export import Exported, export_history
from tracker.history.flags import Flags
from tracker.history.grouping import WAYS_TO_GROUP, Group
from tracker.history.layout import HistoryError
from tracker.history.standing import Standing
from tracker.history.strands import Strand, strands_of
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
    "Standing",
    "Strand",
    "export_history",
    "strands_of",
    "summarize_history",
]
