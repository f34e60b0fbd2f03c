"""Signals in a batch as it was made: each run between two events looked at by itself."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from tracker.drift.constants import chart_constants
from tracker.drift.lines import without_rounding
from tracker.drift.runs import cut_into_runs
from tracker.drift.signals import HANDBOOK_SIGNALS, Signal, check_names, find_signals
from tracker.drift.wear_results import WearLine
from tracker.errors import NotEnoughData
from tracker.plurals import pieces
from tracker.result import Result
from tracker.spread.arguments import count


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched(Result):
    """What stands out between events.

    Attributes
    ----------
    about : str
        What the distances are taken from: the wear line, or the mean of each run.
    sd : float
        Mean moving range / d2, no moving range taken across an event.
    n : int
        Pieces.
    signals : tuple of Signal
        In the order of their first piece; none reaches across an event. Pieces are counted from 1.
    """

    about: str
    sd: float
    n: int
    signals: tuple[Signal, ...]

    def __str__(self) -> str:
        """Say what is seen, or that nothing is."""
        seen = "; ".join(signal.words for signal in self.signals) or "nothing unusual is seen"
        return f"{count(self.n, 'piece')}, distances from {self.about}: {seen}."


def watch_runs(
    sizes: Sequence[float] | np.ndarray,
    events: Sequence[tuple[float, str]] = (),
    wear: WearLine | None = None,
    signals: Iterable[str] = HANDBOOK_SIGNALS,
) -> Watched:
    """Return the signals of a batch whose making was interrupted by events.

    Parameters
    ----------
    sizes : array_like, shape (n,)
        Sizes in order of making, one length unit.
    events : sequence of (after_piece, name)
        How many pieces had been made before each event, and what it was.
    wear : WearLine, optional
        Of the same sizes and events; where it sees wear, distances are taken from its line.
    signals : iterable of str
        What to look for.

    Returns
    -------
    Watched

    Raises
    ------
    NotEnoughData
        If no two pieces follow each other without an event, or these are all alike.

    Notes
    -----
    An event may move the size, so a stretch of pieces on one side of the centre that lies across one says nothing
    about the process: centre and signals begin anew after it. A short run pulls its own mean toward itself, so fewer
    signals show there than the stated false-alarm rates say.

    References
    ----------
    As `find_signals`; moving ranges as in `individuals_chart`.

    Examples
    --------
    >>> shifted = [0.0, 0.1, -0.1, 0.1] + [1.0, 1.1, 0.9, 1.1, 0.95, 1.05, 1.0, 1.1]
    >>> len(watch_runs(shifted, [(4, "offset change")]).signals)
    0
    """
    names = check_names(signals)
    cut = cut_into_runs(sizes, None, events)
    seen = wear is not None and wear.seen
    residual = wear.residual if wear is not None and seen else cut.size
    # What only floating-point rounding tells apart is alike: pieces exactly on a line show no spread.
    ranges = without_rounding(np.abs(np.diff(residual)), cut.size)[np.diff(cut.run) == 0]
    sd = float(np.mean(ranges)) / chart_constants(2).d2 if ranges.size else 0.0
    if sd <= 0 and seen:
        raise NotEnoughData("all pieces lie exactly on the wear line; signals need a spread about it")
    if sd <= 0:
        raise NotEnoughData(
            f"{pieces(residual.size)}, and no two in a row that differ between events; signals need a spread"
        )
    found: list[Signal] = []
    for number in range(len(cut.runs)):
        here = cut.run == number
        own = residual[here] if seen else residual[here] - residual[here].mean()
        found += find_signals(own / sd, names, offset=int(np.flatnonzero(here)[0]))
    about = "the wear line" if seen else ("the mean of each run" if len(cut.runs) > 1 else "their mean")
    return Watched(about=about, sd=sd, n=int(residual.size), signals=tuple(found))
