"""One comparison: what is timed, what it is timed against, and how the answers are written down."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_readings" / "rest_buttons"
HEAD = (
    "| what | against | ours, s | theirs, s | ratio | wanted at most |",
    "| --- | --- | ---: | ---: | ---: | ---: |",
)


@dataclass(frozen=True)
class Row:
    """What is timed, what it is measured against, the ratio that is wanted; what is known where it is missed."""

    what: str
    against: str
    wanted: float | None
    ours: Callable[[], object]
    theirs: Callable[[], object] | None
    times: int = 5
    missed: str = ""


@dataclass(frozen=True)
class Measured:
    """The medians of one row."""

    row: Row
    ours: float
    theirs: float | None

    @property
    def is_missed(self) -> bool:
        return self.theirs is not None and self.row.wanted is not None and self.ours > self.row.wanted * self.theirs

    def __str__(self) -> str:
        ratio = "" if self.theirs is None else f"{self.ours / self.theirs:.2f}"
        other = "" if self.theirs is None else f"{self.theirs:.4f}"
        wanted = "" if self.row.wanted is None else f"{self.row.wanted:g}"
        return f"| {self.row.what} | {self.row.against} | {self.ours:.4f} | {other} | {ratio} | {wanted} |"


def seconds(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def measured(row: Row) -> Measured:
    """Run both sides in turn, once to warm up and then several times."""
    row.ours()
    if row.theirs is None:
        return Measured(row, statistics.median(seconds(row.ours) for _ in range(row.times)), None)
    row.theirs()
    ours, theirs = [], []
    for _ in range(row.times):
        ours.append(seconds(row.ours))
        theirs.append(seconds(row.theirs))
    return Measured(row, statistics.median(ours), statistics.median(theirs))


def table(rows: Iterable[Row]) -> str:
    """Measure rows one after the other, print each, and return the table with what is known of those that miss."""
    lines, known = list(HEAD), []
    for row in rows:
        found = measured(row)
        lines.append(str(found))
        print(lines[-1], flush=True)
        if found.is_missed:
            known.append(f"- {row.what}: {row.missed or 'missed in this run; nothing is known of why'}.")
            print(known[-1], flush=True)
    return "\n".join([*lines, *(["", "Missed:", "", *known] if known else [])])
