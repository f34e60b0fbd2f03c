"""What operators add to readings: against statsmodels' analysis of variance, and against simulated truth."""

import math

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from statsmodels.stats.anova import anova_lm

from tracker.spread import components, operator_spread, sizes


def study(rng, pieces=10, operators=3, repeats=2, *, apart=0.7, by_piece=0.0, noise=0.4, pieces_sd=2.0):
    piece, who, _ = (a.ravel() for a in np.meshgrid(range(pieces), range(operators), range(repeats), indexing="ij"))
    value = 100 + rng.normal(0, pieces_sd, pieces)[piece] + rng.normal(0, apart, operators)[who]
    value += by_piece * rng.normal(size=(pieces, operators))[piece, who] + rng.normal(0, noise, piece.size)
    return value, piece, who


def spread_of(value, piece, who, position=None):
    position = np.zeros_like(piece) if position is None else position
    return operator_spread(value, piece, position, who, [f"op {k}" for k in range(int(who.max()) + 1)])


@pytest.mark.parametrize("by_piece", [0.0, 0.6], ids=["pooled", "interaction"])
def test_a_crossed_study_gives_the_variances_of_the_analysis_of_variance(by_piece):
    value, piece, who = study(np.random.default_rng(30), by_piece=by_piece)
    found = spread_of(value, piece, who)
    frame = pd.DataFrame({"y": value, "piece": piece, "who": who})
    table = anova_lm(smf.ols("y ~ C(piece) * C(who)", frame).fit())
    squares, dof = table["sum_sq"], table["df"]
    if by_piece:
        assert table.loc["C(piece):C(who)", "PR(>F)"] < 0.25
        error, below = squares["Residual"] / dof["Residual"], table.loc["C(piece):C(who)", "mean_sq"]
        assert found.interaction_sd == pytest.approx(math.sqrt((below - error) / 2))
    else:
        assert table.loc["C(piece):C(who)", "PR(>F)"] > 0.25
        error = below = (squares["Residual"] + squares["C(piece):C(who)"]) / (dof["Residual"] + dof["C(piece):C(who)"])
        assert found.interaction_sd == 0
        assert found.dof == 48
    assert found.repeatability_sd == pytest.approx(math.sqrt(error))
    assert found.operator_sd == pytest.approx(math.sqrt((table.loc["C(who)", "mean_sq"] - below) / 20))
    means = frame.groupby("who")["y"].mean()
    assert found.level == pytest.approx((means - means.mean()).tolist())
    if not by_piece:
        additive = anova_lm(smf.ols("y ~ C(piece) + C(who)", frame).fit())
        assert found.p_value == pytest.approx(additive.loc["C(who)", "PR(>F)"], rel=1e-6)


def test_levels_of_an_uneven_study_are_those_of_least_squares():
    value, piece, who = study(np.random.default_rng(32), repeats=1)
    keep = np.random.default_rng(33).random(value.size) < 0.7
    keep[:3] = True
    value, piece, who = value[keep], np.unique(piece[keep], return_inverse=True)[1], who[keep]
    found = spread_of(value, piece, who)
    fit = smf.ols("y ~ C(piece) + C(who)", pd.DataFrame({"y": value, "piece": piece, "who": who})).fit()
    level = np.array([0.0, fit.params["C(who)[T.1]"], fit.params["C(who)[T.2]"]])
    assert found.level == pytest.approx((level - level.mean()).tolist(), abs=1e-9)
    assert found.repeatability_sd == pytest.approx(math.sqrt(fit.mse_resid))


@pytest.mark.parametrize(
    ("reads", "by_piece"),
    [("all", 0.0), ("all", 0.8), ("some", 0.0)],
    ids=["both read all", "and differ by piece", "one reads some again"],
)
def test_the_uncertainty_of_a_size_is_what_it_is_really_off_by(reads, by_piece):
    # Two operators of a population with sd 0.5, noise 0.2, four repeats: 0.5 / sqrt(2) stays in the mean of all.
    rng = np.random.default_rng(34)
    together, alone, said_together, said_alone = [], [], [], []
    for _ in range(1500):
        value, piece, who = study(rng, 8, 2, 4, apart=0.5, by_piece=by_piece, noise=0.2, pieces_sd=0.0)
        keep = (who == 0) | (piece < 3) if reads == "some" else np.full(value.size, True)
        frame = pd.DataFrame({"piece": piece[keep], "value": value[keep], "operator": who[keep].astype(str)})
        found = sizes(frame, "pin")
        off = found.size - 100
        together.append(off.mean() ** 2)
        alone.append(np.mean(off**2))
        # What is each piece's own is left in the mean of eight pieces too, divided by eight.
        said_together.append(found.common_uncertainty**2 + np.mean(found.uncertainty**2) / 8)
        said_alone.append(found.common_uncertainty**2 + np.mean(found.uncertainty**2))
    assert math.sqrt(np.mean(said_together)) == pytest.approx(math.sqrt(np.mean(together)), rel=0.08)
    assert math.sqrt(np.mean(said_alone)) == pytest.approx(math.sqrt(np.mean(alone)), rel=0.08)


def test_the_difference_of_two_operators_is_not_averaged_out_by_repeats():
    rng = np.random.default_rng(35)
    rows = [
        {"piece": str(p), "value": size + 0.3 * k + rng.normal(0, 0.02), "operator": f"op {k}"}
        for p, size in enumerate(rng.normal(500, 0.3, 8))
        for k in (0, 1)
        for _ in range(6)
    ]
    found = sizes(pd.DataFrame(rows), "pin")
    assert found.common_uncertainty == pytest.approx(0.15, rel=0.05)
    assert found.repeatability_sd == pytest.approx(0.02, rel=0.3)
    repeats, by_piece = found.repeatability_sd / math.sqrt(12), found.operators.interaction_sd / math.sqrt(2)
    assert found.uncertainty == pytest.approx([math.hypot(repeats, by_piece)] * 8, rel=1e-6)
    assert found.operators.apart == pytest.approx(0.3, rel=0.05)
    assert found.operators.p_value < 1e-6
    json = found.to_dict()["operators"]
    assert json["operators"] == ["op 0", "op 1"]


def test_operators_who_share_no_piece_or_stand_alone_change_nothing():
    frame = pd.DataFrame(
        {"piece": list("aabbccdd"), "value": [1, 1.1, 2, 2.2, 3, 3.1, 4, 4.3], "operator": list("xxxxyyyy")}
    )
    plain = sizes(frame.drop(columns="operator"), "pin")
    for table in (frame, frame.assign(operator="x")):
        found = sizes(table, "pin")
        assert found.operators is None
        assert found.uncertainty == pytest.approx(plain.uncertainty)
        assert found.common_uncertainty == 0


def test_positions_are_no_repeats_of_an_operator():
    rng = np.random.default_rng(36)
    piece, position, who = (a.ravel() for a in np.meshgrid(range(10), range(3), range(2), indexing="ij"))
    value = rng.normal(0, 5, (10, 3))[piece, position] + 0.4 * who + rng.normal(0, 0.05, piece.size)
    found = spread_of(value, piece, who, position)
    assert found.repeatability_sd == pytest.approx(0.05, rel=0.3)
    assert found.apart == pytest.approx(0.4, rel=0.1)
    assert found.places == 30


def test_operators_read_alike_seem_apart_as_often_as_said():
    rng = np.random.default_rng(37)
    p = [spread_of(*study(rng, 6, 2, 2, apart=0.0)).p_value for _ in range(2000)]
    assert np.mean(np.array(p) < 0.05) == pytest.approx(0.05, abs=0.015)


def test_constants_fitted_before_take_degrees_of_freedom_from_what_lies_within():
    value, piece, who = study(np.random.default_rng(38))
    found = spread_of(value, piece, who)
    parts = components(value - np.array(found.level)[who], piece, fitted=2)
    assert parts.dof_within == 60 - 10 - 2
    assert parts.within_sd.estimate == pytest.approx(found.repeatability_sd)


def test_a_single_reading_by_each_of_two_on_one_piece_is_left_as_repeats():
    frame = pd.DataFrame({"piece": ["1", "1", "2"], "value": [1.0, 1.4, 2.0], "operator": ["a", "b", "a"]})
    found = sizes(frame, "pin")
    assert found.operators is None
    assert found.repeatability_sd == pytest.approx(0.4 / math.sqrt(2))
