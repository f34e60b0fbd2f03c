"""The slope of size against order of making, run by run between events: one for all, or the last run's own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tracker.drift.lines import (
    LineFit,
    RunSums,
    common_fit,
    holding_both,
    run_sums,
    separate_fit,
    slopes_differ_p,
    unsure_of_common,
)
from tracker.drift.runs import Cut
from tracker.errors import NotEnoughData
from tracker.plurals import noun

SLOPES_DIFFER_BELOW = 0.05
SURELY_DIFFER_BELOW = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Slopes:
    """The lines of all runs: ``fit`` is the one that holds for the last.

    ``separate`` has a slope for each run; ``differ_p`` is the p-value of the test that one slope will do (None: nothing
    to compare), ``differ`` whether it speaks against that.
    """

    sums: RunSums
    separate: LineFit
    fit: LineFit
    differ_p: float | None
    differ: bool


def slopes_of(cut: Cut, confidence: float) -> Slopes:
    """Return the slopes of pieces cut at events.

    Raises
    ------
    NotEnoughData
        If no run has pieces at three places, or none is left to judge a slope by.
    """
    x, y, run = cut.order, cut.size, cut.run
    sums = run_sums(x, y, run, len(cut.runs))
    dof = x.size - len(cut.runs) - 1
    if dof < 1 or not np.any(sums.sxx > 0):
        raise NotEnoughData(
            f"a wear line needs at least three pieces made one after another between two events; there "
            f"{noun(x.size, 'is', 'are')} {x.size} {noun(x.size, 'piece')} in {len(cut.runs)} "
            f"{noun(len(cut.runs), 'run')} of {', '.join(str(int(n)) for n in sums.n)}. "
            f"Measure {max(2 - dof, 1)} more {noun(max(2 - dof, 1), 'piece')} after the last event"
        )
    common = common_fit(x, y, run, sums)
    separate = separate_fit(x, y, run, sums)
    differ_p = slopes_differ_p(common, separate)
    differ = differ_p is not None and differ_p < SLOPES_DIFFER_BELOW
    fit = unsure_of_common(common, separate)
    if differ and sums.n[-1] >= 3 and sums.sxx[-1] > 0:
        surely = differ_p is not None and differ_p < SURELY_DIFFER_BELOW
        fit = separate if surely else holding_both(common, separate, confidence)
    return Slopes(sums=sums, separate=separate, fit=fit, differ_p=differ_p, differ=differ)
