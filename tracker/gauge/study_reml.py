"""The variances of an unbalanced crossed study, and their intervals."""

from __future__ import annotations

import math

import numpy as np
from scipy import special

from tracker.gauge.crossed import Cells, squares_of
from tracker.gauge.reml import CrossedFit, crossed_reml
from tracker.gauge.study_parts import Parts, f_test, intervals_of, pooled_remark, share_interval, sums_of, terms_of
from tracker.spread.mean_squares import chi_square_reach


def by_reml(cells: Cells, confidence: float, pool_above: float) -> Parts:
    """Return the parts by restricted maximum likelihood, intervals on unweighted means where no cell is empty."""
    several = len(cells.operators) > 1
    repeated = cells.total > int(np.sum(cells.count > 0))
    f_p = _interaction_p(cells) if several and repeated else None
    pooled = f_p is not None and f_p > pool_above
    with_interaction = several and repeated and not pooled
    fit = crossed_reml(cells, interaction=with_interaction)
    raw = {"repeatability": fit.error, "piece": fit.piece}
    if several:
        raw["operator"] = fit.operator
    if with_interaction:
        raw["interaction"] = fit.interaction
    remarks = [pooled_remark(f_p)] if pooled and f_p is not None else []
    if not several:
        remarks.append("One operator: nothing is known of reproducibility.")
    full = cells.count.min() > 0 and repeated
    if full:
        squares = squares_of(cells)
        terms = terms_of(squares, without_interaction=not with_interaction)
        interval = intervals_of(terms, squares, confidence)
        of_total = share_interval(terms["gauge"], terms["piece"], confidence)
    else:
        interval = _information_intervals(fit, confidence)
        of_total = _information_share(fit, confidence)
        remarks.append("Not every operator read every piece: the intervals are approximate.")
    return Parts(
        estimate=raw | sums_of(raw),
        interval=interval,
        share_interval=of_total,
        raw=raw,
        anova=(),
        pooled=pooled,
        interaction_p=f_p,
        method="restricted maximum likelihood",
        remarks=tuple(remarks),
    )


def _interaction_p(cells: Cells) -> float | None:
    """Return the p-value of the interaction after pieces and operators, by least squares on the cell means."""
    used = cells.count > 0
    row, column = np.nonzero(used)
    weight = np.sqrt(cells.count[used])
    p, o = cells.count.shape
    design = np.zeros((row.size, p + o - 1))
    design[np.arange(row.size), row] = 1.0
    rest = column > 0
    design[np.flatnonzero(rest), p + column[rest] - 1] = 1.0
    y = (cells.mean[used] - cells.grand_mean) * weight
    found, _, rank, _ = np.linalg.lstsq(design * weight[:, None], y, rcond=None)
    residual = y - (design * weight[:, None]) @ found
    dof, error_dof = row.size - int(rank), int(cells.total - row.size)
    if dof < 1 or error_dof < 1:
        return None
    return f_test(float(residual @ residual) / dof, dof, float(cells.squares.sum()) / error_dof, error_dof)[1]


def _information_intervals(fit: CrossedFit, confidence: float) -> dict[str, tuple[float, float]]:
    """Return chi-square intervals whose degrees of freedom match each variance's standard error."""
    values = np.array([fit.piece, fit.operator, fit.interaction, fit.error])
    sums = {
        "piece": [1, 0, 0, 0],
        "operator": [0, 1, 0, 0],
        "interaction": [0, 0, 1, 0],
        "reproducibility": [0, 1, 1, 0],
        "repeatability": [0, 0, 0, 1],
        "gauge": [0, 1, 1, 1],
        "total": [1, 1, 1, 1],
    }
    found = {}
    for name, weights in sums.items():
        w = np.array(weights, dtype=float)
        value, variance = float(w @ values), float(w @ fit.covariance @ w)
        found[name] = chi_square_reach(value, 2 * value**2 / variance, confidence) if variance > 0 else (0.0, math.inf)
    return found


def _information_share(fit: CrossedFit, confidence: float) -> tuple[float, float]:
    """Return the interval of the gauge's share of the total variance, normal on the scale of log odds."""
    gauge = fit.operator + fit.interaction + fit.error
    if fit.piece <= 0 or gauge <= 0:
        return 0.0, 1.0
    slope = np.array([-1 / fit.piece, 1 / gauge, 1 / gauge, 1 / gauge])
    reach = float(special.ndtri(0.5 + confidence / 2)) * math.sqrt(max(float(slope @ fit.covariance @ slope), 0.0))
    middle = math.log(gauge / fit.piece)
    return float(special.expit(middle - reach)), float(special.expit(middle + reach))
