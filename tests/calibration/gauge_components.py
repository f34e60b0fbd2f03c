"""Coverage of the intervals of a gauge study, for usual and small designs and all three methods."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from tracker.gauge import repeatability_study

SAID = 0.95
LOW, HIGH = 0.94, 0.965
NAMES = {
    "repeatability_sd": "repeatability",
    "operator_sd": "operator",
    "reproducibility_sd": "reproducibility",
    "gauge_sd": "gauge",
    "piece_sd": "piece",
    "total_sd": "total",
    "share_of_total_interval": "the gauge's share of the total",
}
DESIGNS = ((10, 3, 3), (5, 2, 2), (12, 3, 2), (30, 3, 2))
SDS = {"small interaction": (1.0, 0.2, 0.05, 0.2), "large interaction": (1.0, 0.3, 0.3, 0.1)}


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield the rows; a quarter of ``size`` studies each, a twentieth where they are fitted by likelihood."""
    few, fewer = max(size // 4, 100), max(size // 20, 50)
    for design in DESIGNS:
        for words, sds in SDS.items():
            yield from measured(rng, few, design, sds, "anova", words)
    yield from measured(rng, few, (10, 3, 3), (1.0, 0.2, 0.0, 0.2), "range", "no interaction")
    yield from measured(rng, fewer, (10, 3, 3), SDS["small interaction"], "reml", "10 readings lost", lost=10)
    yield from measured(rng, fewer, (5, 2, 2), SDS["large interaction"], "reml", "4 readings lost", lost=4)


def measured(rng, tries, design, sds, method, under, lost=0):
    """Yield the coverage of every component."""
    p, o, r = design
    piece, operator, _ = (a.ravel() for a in np.meshgrid(range(p), range(o), range(r), indexing="ij"))
    hits = {name: [] for name in NAMES}
    piece_sd, operator_sd, mixed_sd, repeat_sd = sds
    truth = {
        "operator_sd": operator_sd,
        "reproducibility_sd": math.hypot(operator_sd, mixed_sd),
        "gauge_sd": math.hypot(operator_sd, mixed_sd, repeat_sd),
        "piece_sd": piece_sd,
        "total_sd": math.hypot(*sds),
        "repeatability_sd": repeat_sd,
        "share_of_total_interval": math.hypot(operator_sd, mixed_sd, repeat_sd) / math.hypot(*sds),
    }
    for _ in range(tries):
        y = rng.normal(0, piece_sd, p)[piece] + rng.normal(0, operator_sd, o)[operator]
        y = y + rng.normal(0, mixed_sd, (p, o))[piece, operator] + rng.normal(0, repeat_sd, piece.size)
        kept = rng.permutation(piece.size)[lost:]
        study = repeatability_study(y[kept], piece[kept], operator[kept], method=method)
        for name in NAMES:
            interval = getattr(study, name)
            hits[name].append(interval.low <= truth[name] <= interval.high)
    for name, words in NAMES.items():
        yield {
            "what": f"gauge study, {method}: interval of {words}",
            "setting": f"{p} pieces, {o} operators, {r} repeats, {under}",
            "said": SAID,
            "happened": float(np.mean(hits[name])),
            "tries": tries,
            "low": LOW,
            "high": HIGH,
        }
