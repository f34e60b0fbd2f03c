"""How often charts of single values call falsely: with known limits, and with limits from the same few pieces."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tracker.drift import HANDBOOK_SIGNALS, Baseline, cusum_chart, ewma_chart, individuals_chart, signal_chance
from tracker.drift.run_length import simulated_lengths, zone_run_length

KNOWN = Baseline(centre=0.0, sd=1.0, n=1000, group_size=1, sd_from="known sd")
BEYOND = (HANDBOOK_SIGNALS[0],)


def row(what, setting, hits, said, low=None, high=None, note=""):
    """Return one row from hits."""
    hits = np.asarray(hits, dtype=float)
    return {
        "what": what,
        "setting": setting,
        "said": said,
        "happened": float(hits.mean()),
        "tries": hits.size,
        "low": low,
        "high": high,
        "note": note,
    }


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield the rows."""
    said = 1 - (1 - signal_chance(BEYOND[0])) ** 30
    hits = [bool(individuals_chart(rng.normal(size=30), KNOWN, BEYOND).signals) for _ in range(size)]
    yield row("chart: false signal in 30 pieces, 3 sigma alone", "known limits", hits, said, said - 0.01, said + 0.01)
    for names, words in ((BEYOND, "3 sigma alone"), (HANDBOOK_SIGNALS, "four handbook signals")):
        # Run lengths are near geometric, so the chance of passing the mean is near exp(-1).
        mean = zone_run_length(tuple(names))
        lengths = simulated_lengths(tuple(names), 0.0, rng, size)
        yield row(
            f"chart: longer than the average run, {words}", "known limits", lengths > mean, np.exp(-1), 0.34, 0.39
        )
        for n in (8, 12, 30):
            hits = [bool(individuals_chart(rng.normal(size=n), None, names).signals) for _ in range(size)]
            note = "limits from the same pieces; the more signals watched, the more are false"
            yield row(f"chart: false signal, {words}", f"n = {n}", hits, 0.0, note=note)
    hits = [bool(ewma_chart(rng.normal(size=30), 0.0, 1.0).signals) for _ in range(size)]
    yield row("chart: false signal in 30 pieces, weighted average", "known limits", hits, 0.0)
    hits = [bool(cusum_chart(rng.normal(size=30), 0.0, 1.0).signals) for _ in range(size)]
    yield row("chart: false signal in 30 pieces, cumulative sums", "known limits", hits, 0.0)
