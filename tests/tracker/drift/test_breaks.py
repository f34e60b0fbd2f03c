"""Pieces that do not follow their line: how often that is said wrongly, what is found, and what is withheld."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from tracker.drift import watch_runs, wear_line
from tracker.errors import NotEnoughData


def pins(rng, n=30, wear=0.3, drop=0.0, after=15, sd=0.3):
    made = np.arange(1, n + 1)
    return 11_990 + wear * made - np.where(made > after, drop, 0.0) + rng.normal(0, sd, n)


@pytest.mark.parametrize(
    ("n", "events"),
    [(6, ()), (12, ()), (30, ()), (30, ((15, "tool change"),)), (24, ((8, "dressing"), (16, "dressing")))],
    ids=["6", "12", "30", "two runs", "three runs"],
)
def test_at_most_one_batch_in_a_hundred_that_follows_its_lines_is_said_not_to(n, events):
    rng = np.random.default_rng(n + len(events))
    tries = 1500
    said = sum(wear_line(pins(rng, n), events=events).departure is not None for _ in range(tries))
    # One-sided 99.9 % of a binomial count with the stated rate; a test that never speaks would be none.
    assert 0 < said <= stats.binom.ppf(0.999, tries, 0.01)


@pytest.mark.slow
def test_rounding_to_a_coarse_step_makes_no_jumps():
    rng = np.random.default_rng(3)
    said = 0
    for _ in range(1000):
        y = np.round(rng.uniform(0, 0.6) * np.arange(15) + rng.uniform() + rng.uniform(0, 0.5) * rng.normal(size=15))
        said += np.ptp(y) > 0 and wear_line(y, resolution=1.0).departure is not None
    assert said <= stats.binom.ppf(0.999, 1000, 0.01)


def test_the_clearest_jump_is_that_of_least_squares_with_a_step_at_every_place():
    y = pins(np.random.default_rng(4), drop=1.2)
    found = wear_line(y, upper=12_010).departure
    made = np.arange(1.0, 31)
    best = []
    for k in range(2, 29):
        fit = sm.OLS(y, np.column_stack([np.ones(30), made, made > k]).astype(float)).fit()
        best.append((fit.pvalues[2], k, fit.params[2]))
    p, k, jump = min(best)
    assert (found.kind, found.after) == ("jump", k)
    assert found.amount == pytest.approx(jump, rel=1e-6)
    assert found.p_value == pytest.approx(28 * p, rel=1e-6)
    assert found.looked_at == 28


def test_pieces_left_are_withheld_across_a_jump_and_told_once_it_is_logged():
    y = pins(np.random.default_rng(5), drop=4.0)
    silent = wear_line(y, lower=11_980, upper=12_010)
    assert silent.departure.after == 15
    assert silent.departure.amount == pytest.approx(-4.0, abs=0.6)
    assert (silent.pieces_left, silent.pieces_left_safe) == (None, None)
    assert "something changed after piece 15" in silent.reason
    assert "log the event" in str(silent)
    logged = wear_line(y, events=[(15, "offset change")], lower=11_980, upper=12_010)
    assert logged.departure is None
    # The mean starts at 11 995.3 after 30 pieces and moves 0.3 a piece: 49 on, and a little fewer on the safe side.
    assert logged.pieces_left_safe < logged.pieces_left
    assert logged.pieces_left == pytest.approx((12_010 - (11_990 + 0.3 * 30 - 4)) / 0.3, abs=6)


def test_a_jump_is_found_four_times_in_five_when_it_is_four_sd():
    rng = np.random.default_rng(6)
    found = [wear_line(pins(rng, drop=1.2), upper=12_010).departure for _ in range(200)]
    near = [item is not None and item.kind == "jump" and abs(item.after - 15) <= 1 for item in found]
    assert np.mean(near) > 0.8


def test_curved_wear_is_told_from_a_jump():
    made = np.arange(40.0)
    y = 10 * (1 - np.exp(-made / 12)) + np.random.default_rng(7).normal(0, 0.2, 40)
    line = wear_line(y, upper=20)
    assert line.departure.kind == "curve"
    assert line.departure.after is None
    assert line.pieces_left_safe is None
    assert "wear is curved" in line.reason


def test_runs_that_wear_at_different_rates_are_no_departure():
    rng = np.random.default_rng(8)
    y = np.concatenate([pins(rng, 15, 0.1), pins(rng, 15, 0.6)])
    assert wear_line(y, events=[(15, "other insert")], upper=12_050).departure is None


def test_what_only_rounding_of_floats_tells_apart_is_no_residual_and_no_signal():
    y = np.array([0.4995 + 0.00004 * k for k in range(12)])
    line = wear_line(y, upper=0.501)
    assert not line.residual.any()
    assert line.departure is None
    with pytest.raises(NotEnoughData, match="exactly on the wear line"):
        watch_runs(y, wear=line)
    alike = np.array([0.1 + 0.2, 0.3, 0.1 + 0.2, 0.3, 0.3])
    with pytest.raises(NotEnoughData, match="no two in a row that differ"):
        watch_runs(alike)


def test_past_the_limit_is_said():
    line = wear_line([10.0, 10.1, 10.21, 10.3, 10.4], upper=10.25)
    assert line.past
    assert line.pieces_left == 0
    assert "already past the limit" in str(line)
    near = wear_line([10.0, 10.1, 10.21, 10.3, 10.4], upper=10.45)
    assert not near.past
    assert "next piece is already beyond" in str(near)


def test_a_mean_past_the_limit_it_moves_away_from_has_no_safe_piece():
    line = wear_line([10.0, 10.1, 10.21, 10.3, 10.4], lower=11.0, upper=13.0)
    assert line.pieces_left_safe == 0
    assert "past the lower limit, and wear moves it back" in str(line)
    assert wear_line([10.0, 10.1, 10.21, 10.3, 10.4], lower=9.0, upper=13.0).pieces_left_safe > 0
