"""Coverage of what ``wear_line`` says: slope, spread, jumps, single pieces, and pieces that may still be made."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from _rows import row

from tracker.drift import wear_line

PIECES = (5, 8, 12, 30)
WEAR = 0.5  # a piece, in sd about the line


def covers(interval, truth):
    """Return whether an interval holds the truth."""
    return interval.low <= truth <= interval.high


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield the rows; a quarter of ``size`` batches each, for every batch goes through the public function."""
    few = max(size // 4, 100)
    for n in PIECES:
        yield from one_run(rng, n, few)
        yield from no_wear(rng, n, few)
    for n in (8, 12, 30):
        for last in (n // 2, 3):
            yield from two_runs(rng, n, few, 1.0, last, (0.94, 0.96))
            yield from two_runs(rng, n, few, 2.0, last, None)


def one_run(rng, n, tries):
    """Yield intervals and bounds in a batch that wears, with no event."""
    hits = {"slope": [], "robust slope": [], "sd": [], "band": [], "safe": []}
    limit = WEAR * n + 12.0
    for _ in range(tries):
        line = wear_line(WEAR * np.arange(1, n + 1) + rng.normal(size=n), upper=limit)
        hits["slope"].append(covers(line.slope, WEAR))
        hits["robust slope"].append(covers(line.robust_slope, WEAR))
        hits["sd"].append(covers(line.sd, 1.0))
        band = line.predict(n + 3)
        hits["band"].append(band.low[0] <= WEAR * (n + 3) + rng.normal() <= band.high[0])
        safe = line.pieces_left_safe
        if safe is not None:  # None: wear is seen the other way, towards no limit
            hits["safe"].append(safe == 0 or WEAR * (n + safe) + rng.normal() <= limit)
    yield row("wear: interval of the slope", f"n = {n}", hits["slope"])
    yield row("wear: interval of the sd about the line", f"n = {n}", hits["sd"])
    yield row("wear: band for a piece three ahead", f"n = {n}", hits["band"])
    note = "whole numbers of pieces round to the safe side"
    yield row("wear: the last of the safe pieces is within the limit", f"n = {n}", hits["safe"], 0.94, 0.975, note=note)
    note = "few distinct ranks: on the safe side at small n"
    yield row("wear: interval of the robust slope", f"n = {n}", hits["robust slope"], 0.94, 0.99, note=note)


def no_wear(rng, n, tries):
    """Yield how often wear is seen where there is none."""
    seen = [wear_line(rng.normal(size=n)).seen for _ in range(tries)]
    yield row("wear: seen where there is none", f"n = {n}", seen, 0.04, 0.06, said=0.05)


def two_runs(rng, n, tries, ratio, last, bounds):
    """Yield slope and jump with an event ``last`` pieces before the end; the second wears ``ratio`` times faster."""
    slope, jump = [], []
    made = np.arange(1, n + 1)
    cut = n - last
    second = WEAR / 4 * ratio
    line_of = np.where(made <= cut, WEAR / 4 * made, second * (made - cut) - 3.0)
    true_jump = (second - 3.0) - WEAR / 4 * (cut + 1)
    for _ in range(tries):
        line = wear_line(line_of + rng.normal(size=n), events=[(cut, "dressing")])
        slope.append(covers(line.slope, second))
        jump.append(covers(line.runs[1].jump, true_jump))
    low, high = bounds or (None, None)
    setting = f"n = {n}, event before the last {last}, " + ("one slope" if ratio == 1 else f"slopes 1 to {ratio:g}")
    note = "" if bounds else "slopes that differ but cannot be told apart are pooled; the result says so"
    yield row("wear: slope in use", setting, slope, low, high, note=note)
    yield row("wear: jump at the event", setting, jump, low, high, note=note)
