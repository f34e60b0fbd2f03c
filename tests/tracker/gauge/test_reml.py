"""Restricted maximum likelihood on cells, against a dense likelihood and statsmodels."""

import warnings

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy import optimize

from tracker.errors import NotEnoughData
from tracker.gauge.crossed import cells_of, squares_of
from tracker.gauge.reml import crossed_reml


def study(seed, p=8, o=3, r=3, sds=(1.0, 0.4, 0.3, 0.2), drop=9):
    rng = np.random.default_rng(seed)
    piece, who, _ = (a.ravel() for a in np.meshgrid(range(p), range(o), range(r), indexing="ij"))
    y = rng.normal(0, sds[0], p)[piece] + rng.normal(0, sds[1], o)[who]
    y = y + rng.normal(0, sds[2], (p, o))[piece, who] + rng.normal(0, sds[3], piece.size)
    keep = np.sort(rng.permutation(piece.size)[drop:])
    return y[keep], piece[keep], who[keep]


def dense_criterion(theta, y, piece, who):
    """-2 log restricted likelihood on single readings, written out in full."""
    same = [np.equal.outer(piece, piece), np.equal.outer(who, who)]
    v = theta[0] * same[0] + theta[1] * same[1] + theta[2] * (same[0] & same[1]) + theta[3] * np.eye(y.size)
    inverse = np.linalg.inv(v)
    weight = inverse.sum()
    mean = inverse.sum(axis=0) @ y / weight
    return np.linalg.slogdet(v)[1] + np.log(weight) + (y - mean) @ inverse @ (y - mean)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_other_variances_are_likelier(seed):
    y, piece, who = study(seed)
    fit = crossed_reml(cells_of(y, piece, who))
    found = np.array([fit.piece, fit.operator, fit.interaction, fit.error])
    best = dense_criterion(found, y, piece, who)
    other = optimize.minimize(
        lambda log: dense_criterion(np.exp(log), y, piece, who),
        np.log(np.maximum(found, 1e-6)) + 0.3,
        method="Nelder-Mead",
        options={"maxiter": 4000, "maxfev": 4000, "fatol": 1e-10, "xatol": 1e-8},
    )
    assert best <= other.fun + 1e-7


def test_against_an_independent_mixed_model():
    y, piece, who = study(4)
    frame = pd.DataFrame({"y": y, "piece": piece, "who": who, "cell": piece * 10 + who, "all": 1})
    parts = {"piece": "0 + C(piece)", "who": "0 + C(who)", "cell": "0 + C(cell)"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        known = smf.mixedlm("y ~ 1", frame, groups="all", vc_formula=parts).fit(reml=True, method="lbfgs", maxiter=500)
    names = known.model.exog_vc.names
    variances = dict(zip(names, known.vcomp))
    fit = crossed_reml(cells_of(y, piece, who))
    # That optimiser stops near 1e-3 relative.
    assert fit.error == pytest.approx(known.scale, rel=5e-3)
    assert fit.piece == pytest.approx(variances["piece"], rel=5e-3)
    assert fit.operator == pytest.approx(variances["who"], rel=5e-3)
    assert fit.interaction == pytest.approx(variances["cell"], rel=2e-2)


def test_balanced_data_give_the_analysis_of_variance():
    y, piece, who = study(5, drop=0)
    cells = cells_of(y, piece, who)
    s = squares_of(cells)
    mixed = s.interaction / s.interaction_dof
    error = s.error / s.error_dof
    fit = crossed_reml(cells)
    assert fit.error == pytest.approx(error, rel=1e-8)
    assert fit.interaction == pytest.approx((mixed - error) / 3, rel=1e-7)
    assert fit.operator == pytest.approx((s.operator / 2 - mixed) / 24, rel=1e-7)
    assert fit.piece == pytest.approx((s.piece / 7 - mixed) / 9, rel=1e-7)


def test_a_variance_at_zero_is_held_there():
    y, piece, who = study(6, sds=(1.0, 0.0, 0.0, 0.5), drop=5)
    fit = crossed_reml(cells_of(y, piece, who))
    assert fit.interaction >= 0
    assert fit.operator >= 0
    for k, value in enumerate((fit.piece, fit.operator, fit.interaction, fit.error)):
        assert value > 0 or not fit.covariance[k].any()


def test_without_repeats_interaction_cannot_be_told():
    with pytest.raises(NotEnoughData, match="told apart"):
        crossed_reml(cells_of([1.0, 2.0, 3.0, 4.5], [1, 1, 2, 2], ["A", "B"] * 2))
