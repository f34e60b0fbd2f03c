"""The variances of a balanced crossed study by averages and ranges."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from tracker.errors import NotEnoughData
from tracker.gauge.crossed import Cells
from tracker.gauge.study_parts import Parts, negative_remarks, share_interval, sums_of
from tracker.spread.group_constants import range_moments
from tracker.spread.mean_squares import Term, combine, combined_interval
from tracker.spread.ranges import mean_range_dof

APPROXIMATE = "Any interaction stays hidden in this method, and its intervals are approximate."


def by_ranges(cells: Cells, confidence: float) -> Parts:
    """Return the parts by averages and ranges (d2 of the repeats, d2* of the one range of means).

    Intervals treat each range as an sd with the equivalent degrees of freedom (Patnaik), combined like mean squares.
    """
    p, o = cells.count.shape
    r = cells.repeats
    if r is None or r < 2:
        raise NotEnoughData(
            "the average and range method wants every operator to read every piece the same number of times, "
            "two or more; take method='anova'"
        )
    d2, _ = range_moments(r)
    repeat = Term(
        weight=1.0,
        mean_square=(float(cells.range.mean()) / d2) ** 2,
        dof=mean_range_dof(r, p * o),
        source="repeatability",
    )
    piece = _range_of_means(cells.mean.mean(axis=1), "piece")
    terms = {"repeatability": [repeat], "piece": [piece], "gauge": [repeat], "total": [repeat, piece]}
    remarks = []
    if o > 1:
        # The range of operator means holds repeatability / (p r); it is taken off again.
        apart = _range_of_means(cells.mean.mean(axis=0), "operator")
        less, rest = (replace(repeat, weight=weight) for weight in (-1 / (p * r), 1 - 1 / (p * r)))
        terms |= {"operator": [apart, less], "reproducibility": [apart, less]}
        terms |= {"gauge": [apart, rest], "total": [apart, rest, piece]}
    else:
        remarks.append("One operator: nothing is known of reproducibility.")
    raw = {name: combine(term) for name, term in terms.items()}
    return Parts(
        estimate={name: max(variance, 0.0) for name, variance in raw.items()} | sums_of(raw),
        interval={name: combined_interval(term, confidence) for name, term in terms.items()},
        share_interval=share_interval(terms["gauge"], terms["piece"], confidence),
        raw=raw,
        anova=(),
        pooled=False,
        interaction_p=None,
        method="average and range",
        remarks=(*remarks, *negative_remarks(raw), APPROXIMATE),
    )


def _range_of_means(means: np.ndarray, source: str) -> Term:
    """Return the variance from a single range over d2* (Duncan): the root mean square of the range."""
    d2, d3 = range_moments(means.size)
    variance = (float(np.ptp(means)) / math.hypot(d2, d3)) ** 2
    return Term(weight=1.0, mean_square=variance, dof=mean_range_dof(means.size, 1), source=source)
