"""What was done to the machine, from ``events.csv``: tool changes, offset changes, dressings, set-ups."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tracker.errors import LengthError, ReadingsError
from tracker.readings.columns import is_remark, matching_feature, plain_words
from tracker.readings.tables import read_tables
from tracker.result import Result
from tracker.units import read_length

if TYPE_CHECKING:
    from tracker.job import Job

EVENTS = ("tool_change", "offset_change", "dressing", "setup")
EVENT_WORDS = {
    "tool change": "tool_change",
    "insert change": "tool_change",
    "wheel change": "tool_change",
    "new tool": "tool_change",
    "offset change": "offset_change",
    "offset": "offset_change",
    "dressing": "dressing",
    "wheel dressing": "dressing",
    "dressed": "dressing",
    "setup": "setup",
    "set up": "setup",
}
ACCEPTED_HEADER = "feature, after_piece, event and, where known, amount"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event(Result):
    """A mark in a batch's order of making.

    Attributes
    ----------
    feature : str
    after_piece : str
        The label of the last piece made before it; "" before the first.
    event : str
        ``tool_change``, ``offset_change``, ``dressing`` or ``setup``.
    amount : float or None
        By how much an offset was changed, in the job's unit.
    batch : str
    """

    feature: str
    after_piece: str
    event: str
    amount: float | None = None
    batch: str = ""

    def __str__(self) -> str:
        by = "" if self.amount is None else f" by {self.amount:+.6g}"
        after = f"after piece {self.after_piece}" if self.after_piece else "before the first piece"
        return f"{self.event.replace('_', ' ')}{by} {after} ({self.feature})"


def read_events(folder: str | Path, job: Job | None = None) -> list[Event]:
    """Return the events of a job's folder; none when it has no ``events.csv``.

    Parameters
    ----------
    folder : str or pathlib.Path
        The folder, or the file itself.
    job : Job, optional
        Its features are the ones that may be named, its unit is that of the amounts.

    Returns
    -------
    list of Event

    Raises
    ------
    ReadingsError
        Naming every row that does not make sense: an event passed over would move a wear line unseen.
    """
    path = Path(folder)
    if path.is_dir():
        path = path / "events.csv"
        if not path.exists():
            return []
    elif not path.exists():
        raise ReadingsError(f"there is no file {path}; accepted is a folder, or its events.csv")
    table = next(iter(read_tables(path)))
    columns: dict[str, int] | None = None
    events: list[Event] = []
    faults: list[str] = []
    for row in table.rows:
        if not any(cell.strip() for cell in row.cells) or is_remark(row.cells):
            continue
        if columns is None:
            columns = _event_columns(path.name, row.cells, job)
            continue
        try:
            events.append(_event(row.cells, columns, job))
        except (ReadingsError, LengthError) as error:
            faults.append(f"{path.name}, row {row.number}: {error}")
    if faults:
        raise ReadingsError("\n".join(faults))
    return events


def _event_columns(name: str, cells: list[str], job: Job | None) -> dict[str, int]:
    words = {plain_words(cell).replace(" ", "_"): i for i, cell in enumerate(cells)}
    for other, meant in (("piece", "after_piece"), ("after", "after_piece"), ("what", "event"), ("kind", "event")):
        if other in words and meant not in words:
            words[meant] = words.pop(other)
    missing = [column for column in ("after_piece", "event") if column not in words]
    if "feature" not in words and (job is None or len(job.features) != 1):
        missing.insert(0, "feature")
    if missing:
        raise ReadingsError(f"{name} has no column {', '.join(missing)}; accepted is a first row of {ACCEPTED_HEADER}")
    return words


def _event(cells: list[str], columns: dict[str, int], job: Job | None) -> Event:
    def cell(column: str) -> str:
        at = columns.get(column)
        return cells[at].strip() if at is not None and at < len(cells) else ""

    feature = cell("feature")
    if job is not None:
        known = matching_feature(feature, job.features) if feature else None
        if not feature and len(job.features) == 1:
            known = next(iter(job.features))
        if known is None:
            listed = ", ".join(job.features)
            raise ReadingsError(f"feature is {feature!r}, which is no feature of this job; accepted are {listed}")
        feature = known
    elif not feature:
        raise ReadingsError("feature is empty; accepted is the name of a feature")
    event = EVENT_WORDS.get(plain_words(cell("event")))
    if event is None:
        raise ReadingsError(f"event is {cell('event')!r}; accepted are {', '.join(EVENTS)}")
    amount = None
    if cell("amount"):
        unit, comma = ("in", False) if job is None else (job.unit, job.decimal_comma)
        amount = read_length(cell("amount"), unit, decimal_comma=comma).to(unit)
    return Event(feature=feature, after_piece=cell("after_piece"), event=event, amount=amount, batch=cell("batch"))
