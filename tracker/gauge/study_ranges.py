"""The variances of a balanced crossed study by averages and ranges."""

from __future__ import annotations

import math

import numpy as np

from tracker.errors import NotEnoughData
from tracker.gauge.crossed import Cells
from tracker.gauge.mean_squares import chi_square_reach
from tracker.gauge.study_parts import Parts, negative_remarks, sums_of
from tracker.spread.group_constants import range_moments

_MEMBERS = {
    "reproducibility": ("operator",),
    "gauge": ("repeatability", "operator"),
    "total": ("repeatability", "operator", "piece"),
}


def by_ranges(cells: Cells, confidence: float) -> Parts:
    """Return the parts by averages and ranges (d2 of the repeats, d2* of the one range of means)."""
    p, o = cells.count.shape
    r = cells.repeats
    if r is None or r < 2:
        raise NotEnoughData(
            "the average and range method wants every operator to read every piece the same number of times, "
            "two or more; take method='anova'"
        )
    d2, d3 = range_moments(r)
    repeatability = (float(cells.range.mean()) / d2) ** 2
    piece = (float(np.ptp(cells.mean.mean(axis=1))) / _d2_star(p)) ** 2
    dofs = {"repeatability": _range_dof(d3 / (d2 * math.sqrt(p * o))), "piece": _single_range_dof(p)}
    raw = {"repeatability": repeatability, "piece": piece}
    remarks = []
    if o > 1:
        apart = (float(np.ptp(cells.mean.mean(axis=0))) / _d2_star(o)) ** 2
        raw["operator"] = apart - repeatability / (p * r)
        dofs["operator"] = _single_range_dof(o)
    else:
        remarks.append("One operator: nothing is known of reproducibility.")
    remarks += [
        *negative_remarks(raw),
        "Any interaction stays hidden in this method, and its intervals are approximate.",
    ]
    estimate = {name: max(variance, 0.0) for name, variance in raw.items()}
    estimate |= sums_of(raw)
    interval = {}
    for name, variance in estimate.items():
        members = _MEMBERS.get(name, (name,))
        spread = sum(estimate[member] ** 2 / dofs[member] for member in members if member in dofs)
        reach = chi_square_reach(variance, variance**2 / spread, confidence) if spread else (0.0, math.inf)
        interval[name] = reach
    if o > 1 and raw["operator"] <= 0:
        apart = raw["operator"] + repeatability / (p * r)
        reach = (0.0, chi_square_reach(apart, dofs["operator"], confidence)[1])
        interval |= {"operator": reach, "reproducibility": reach}
    return Parts(
        estimate=estimate,
        interval=interval,
        raw=raw,
        anova=(),
        pooled=False,
        interaction_p=None,
        method="average and range",
        remarks=tuple(remarks),
    )


def _d2_star(n: int) -> float:
    """Return d2* for a single range: the root mean square of the range (Duncan)."""
    d2, d3 = range_moments(n)
    return math.hypot(d2, d3)


def _single_range_dof(n: int) -> float:
    """Return the equivalent degrees of freedom of the range of n values."""
    d2, d3 = range_moments(n)
    return _range_dof(d3 / d2)


def _range_dof(variation: float) -> float:
    """Return the degrees of freedom at which an sd varies by this share of its mean (Patnaik)."""
    low, high = 0.05, 1e7
    for _ in range(200):
        dof = math.sqrt(low * high)
        c4 = math.sqrt(2 / dof) * math.exp(math.lgamma((dof + 1) / 2) - math.lgamma(dof / 2))
        low, high = (dof, high) if math.sqrt(max(1 - c4**2, 0.0)) / c4 > variation else (low, dof)
    return dof
