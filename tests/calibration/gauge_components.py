"""Coverage of the intervals of a gauge study, for usual and small designs and all three methods."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from tracker.gauge import repeatability_study

SAID = 0.95
NAMES = ("repeatability_sd", "operator_sd", "reproducibility_sd", "gauge_sd", "piece_sd", "total_sd")
DESIGNS = ((10, 3, 3), (10, 3, 2), (5, 2, 2))
SDS = {"small interaction": (1.0, 0.2, 0.05, 0.2), "large interaction": (1.0, 0.3, 0.3, 0.1)}
# Sums of mean squares (operator on two or three degrees of freedom) are on the safe side.
SAFE_SIDE = {"operator_sd": 0.975, "reproducibility_sd": 0.985, "gauge_sd": 0.975, "piece_sd": 0.965, "total_sd": 0.98}


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield the rows; a tenth of ``size`` studies each."""
    few = max(size // 10, 100)
    for design in DESIGNS:
        for words, sds in SDS.items():
            yield from measured(rng, few, design, sds, "anova", words)
    yield from measured(rng, few, (10, 3, 3), (1.0, 0.2, 0.0, 0.2), "range", "no interaction")
    yield from measured(
        rng, max(few // 2, 100), (10, 3, 3), SDS["small interaction"], "reml", "10 readings lost", lost=10
    )


def measured(rng, tries, design, sds, method, words, lost=0):
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
    }
    for _ in range(tries):
        y = rng.normal(0, piece_sd, p)[piece] + rng.normal(0, operator_sd, o)[operator]
        y = y + rng.normal(0, mixed_sd, (p, o))[piece, operator] + rng.normal(0, repeat_sd, piece.size)
        kept = rng.permutation(piece.size)[lost:]
        study = repeatability_study(y[kept], piece[kept], operator[kept], method=method)
        for name in NAMES:
            interval = getattr(study, name)
            hits[name].append(interval.low <= truth[name] <= interval.high)
    for name in NAMES:
        yield {
            "what": f"gauge study, {method}: interval of {name.removesuffix('_sd')}",
            "setting": f"{p} pieces, {o} operators, {r} repeats, {words}",
            "said": SAID,
            "happened": float(np.mean(hits[name])),
            "tries": tries,
            # Pooling a small interaction shifts repeatability by up to a point.
            "low": 0.93 if name == "repeatability_sd" else 0.935,
            "high": SAFE_SIDE.get(name, 0.96),
            "note": "" if name == "repeatability_sd" else "sums of mean squares are on the safe side",
        }
