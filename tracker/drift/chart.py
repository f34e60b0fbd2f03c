"""What a chart is: points with a centre and limits, the baseline they came from, and what is seen in them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from tracker.drift.runs import finite_sizes
from tracker.drift.signals import Signal
from tracker.errors import NotEnoughData, TrackerError
from tracker.plurals import noun
from tracker.result import Result


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline(Result):
    """Centre and sd found once and kept: the frozen limits of a chart.

    `to_dict` gives it as plain data for a file or the record, `from_dict` reads it back.

    Attributes
    ----------
    centre, sd : float
        Process centre and sd of single pieces.
    n : int
        Pieces that gave them.
    group_size : int
        Pieces in a group (1 for single values).
    sd_from : str
        How the sd was found.
    """

    centre: float
    sd: float
    n: int
    group_size: int
    sd_from: str

    def __str__(self) -> str:
        """Say centre, sd and where they come from."""
        return f"centre {self.centre:.7g}, sd {self.sd:.4g} (from {self.sd_from}, {self.n} {noun(self.n, 'piece')})"

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Baseline:
        """Return the baseline kept as plain data; refuse what lacks a field."""
        missing = [field.name for field in fields(cls) if field.name not in data]
        if missing:
            raise TrackerError(f"the kept baseline lacks {', '.join(missing)}; freeze it again from a chart")
        return cls(
            centre=float(data["centre"]),
            sd=float(data["sd"]),
            n=int(data["n"]),
            group_size=int(data["group_size"]),
            sd_from=str(data["sd_from"]),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chart(Result):
    """A control chart, ready to draw.

    Attributes
    ----------
    kind : str
        What is plotted.
    points, centre, lower, upper : ndarray, shape (k,)
        Points, centre line and limits, one entry a point.
    number : ndarray, shape (k,)
        Number of each point, counted from 1 (a moving range stands at the later of its pieces).
    sd : float
        Sd of single pieces that the limits come from.
    sd_from : str
        How it was found.
    signals : tuple of Signal
    looked_for : tuple of str
        Names of the signals that were looked for.
    baseline : Baseline
        What the limits come from; pass it on to freeze them.
    frozen : bool
        Whether the limits came from a baseline kept earlier.
    companion : Chart or None
        The chart of spread that belongs to it, or the lower sums of a cumulative-sum chart.
    n : int
        Pieces plotted.
    """

    kind: str
    points: np.ndarray
    centre: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    number: np.ndarray
    sd: float
    sd_from: str
    signals: tuple[Signal, ...]
    looked_for: tuple[str, ...]
    baseline: Baseline
    frozen: bool
    companion: Chart | None
    n: int
    remark: str = ""

    def __str__(self) -> str:
        """Say what was plotted and what is seen."""
        limits = _level(self.lower) + " to " + _level(self.upper)
        kept = "frozen " if self.frozen else ""
        text = (
            f"{self.kind}: {self.points.size} {noun(self.points.size, 'point')} about {_level(self.centre)}, "
            f"{kept}limits {limits} "
            f"(sd {self.sd:.4g} from {self.sd_from}, {self.n} {noun(self.n, 'piece')}). "
        )
        seen = [signal.words for signal in self.signals]
        text += "Seen: " + "; ".join(seen) + "." if seen else "Nothing unusual is seen."
        beside = () if self.companion is None else self.companion.signals
        more = [signal.words for signal in beside if signal not in self.signals]
        if self.companion is not None and more:
            text += f" In the {self.companion.kind}: " + "; ".join(more) + "."
        return text + (f" {self.remark}" if self.remark else "")


BaselineLike = Baseline | Mapping[str, Any] | Chart | Sequence[Any] | np.ndarray


def kept_baseline(baseline: BaselineLike, group_size: int | None, chart: Callable[[Any], Chart]) -> Baseline:
    """Return the baseline of a chart, a kept one, its plain data, or that of earlier pieces charted with ``chart``.

    Refuses one for another group size.
    """
    if isinstance(baseline, Chart):
        kept = baseline.baseline
    elif isinstance(baseline, Baseline):
        kept = baseline
    elif isinstance(baseline, Mapping):
        kept = Baseline.from_dict(baseline)
    else:
        kept = chart(baseline).baseline
    if not kept.sd > 0:
        raise TrackerError(f"the kept baseline has sd {kept.sd!r}; freeze one from pieces that differ")
    if group_size is not None and (kept.group_size == 1) != (group_size == 1):
        raise TrackerError(
            f"the kept baseline is for groups of {kept.group_size}, these are of {group_size}; freeze one for these"
        )
    return kept


def positive_sd(sd: float, pieces: int) -> float:
    """Refuse an sd of zero: a chart without spread has no limits."""
    if not sd > 0:
        raise NotEnoughData(
            f"all {pieces} pieces read the same, so there is no spread to set limits from; "
            "read to a finer step, or give a baseline"
        )
    return float(sd)


def grouped(groups: Sequence[Sequence[float]] | np.ndarray) -> list[np.ndarray]:
    """Return the groups as arrays of two or more pieces each."""
    if not isinstance(groups, Sequence | np.ndarray):
        raise TrackerError(f"groups: found a {type(groups).__name__}; give a list of groups, each a list of sizes")
    rows = [finite_sizes(group, f"group {k}") for k, group in enumerate(groups, start=1)]
    if not rows:
        raise NotEnoughData("there are no groups; give at least two groups of two pieces or more")
    for k, row in enumerate(rows, start=1):
        if row.size < 2:
            raise NotEnoughData(f"group {k} has one piece; chart single pieces with individuals_chart")
    return rows


def constant(value: float, size: int) -> np.ndarray:
    """Return a level line: the same value for every point."""
    return np.full(size, float(value))


def _level(values: np.ndarray) -> str:
    low, high = float(values.min()), float(values.max())
    return f"{low:.7g}" if low == high else f"{low:.7g} … {high:.7g}"
