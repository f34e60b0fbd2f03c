"""Spread within subgroups: moving range, mean range, pooled sd, each with what it is worth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.errors import NotEnoughData, TrackerError
from tracker.result import Result
from tracker.spread.arguments import Array, IntArray, whole_number
from tracker.spread.group_constants import mean_sd_factor, range_moments
from tracker.spread.grouped import run_sums
from tracker.spread.ranges import mean_range_dof, moving_range_dof

WITHIN = ("moving_range", "pooled_sd", "mean_range")


@dataclass(frozen=True, slots=True, kw_only=True)
class WithinSpread(Result):
    """Spread within subgroups: the sd, what it is worth in degrees of freedom, and how it was found.

    ``chi_scale`` times ``sd`` is distributed like a sample sd with ``dof`` degrees of freedom.
    """

    sd: float
    dof: float
    chi_scale: float
    method: str

    def __str__(self) -> str:
        return f"sd {self.sd:.4g} within subgroups ({self.method})"


def within_spread(values: Array, subgroup: Any, within: str | None) -> WithinSpread:
    """Return the spread within subgroups of sizes in order of making.

    Raises
    ------
    NotEnoughData
        If no subgroup has two pieces.
    TrackerError
        If the method does not suit the subgroups.
    """
    if within is not None and within not in WITHIN:
        raise TrackerError(f"within {within!r}; accepted: {', '.join(WITHIN)}")
    method = within or ("moving_range" if subgroup is None else "pooled_sd")
    if method == "moving_range":
        if subgroup is not None:
            raise TrackerError("a moving range goes over single pieces; leave subgroup out, or use pooled_sd")
        dof = moving_range_dof(values.size)
        sd = float(np.abs(np.diff(values)).mean()) * math.sqrt(math.pi) / 2
        return WithinSpread(sd=sd, dof=dof, chi_scale=mean_sd_factor(dof + 1), method="mean moving range")
    if subgroup is None:
        raise TrackerError(f"within {method} needs subgroups; give how many neighbouring pieces make one")
    starts, ordered = _subgroups(values, subgroup)
    sums = run_sums(ordered, starts)
    dof_pooled = int(sums.dof.sum())
    if dof_pooled == 0:
        raise NotEnoughData("every subgroup holds one piece; a spread within subgroups needs two or more in some")
    if method == "pooled_sd":
        sd = math.sqrt(float(sums.ss.sum()) / dof_pooled)
        return WithinSpread(sd=sd, dof=float(dof_pooled), chi_scale=1.0, method="pooled sd")
    sizes_of_groups = np.unique(sums.n)
    if sizes_of_groups.size > 1:
        raise TrackerError("a mean range needs subgroups of equal size; use within='pooled_sd' for unequal ones")
    size = int(sizes_of_groups[0])
    dof = mean_range_dof(size, int(sums.n.size))
    sd = float((sums.maximum - sums.minimum).mean()) / range_moments(size)[0]
    return WithinSpread(sd=sd, dof=dof, chi_scale=mean_sd_factor(dof + 1), method="mean range")


def _subgroups(values: Array, subgroup: Any) -> tuple[IntArray, Array]:
    """Return where subgroups start in the values, and the values in their order."""
    if np.ndim(subgroup) == 0:
        size = whole_number(float(subgroup), "subgroup", 2)
        return np.arange(0, values.size, size), values
    labels = np.asarray(subgroup)
    if labels.shape != values.shape:
        raise TrackerError(f"{labels.size} subgroup labels for {values.size} pieces; accepted is one a piece")
    codes = np.unique(labels, return_inverse=True)[1]
    order = np.argsort(codes, kind="stable")
    codes = codes[order]
    return np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]]), values[order]
