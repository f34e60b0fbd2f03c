"""What to cut the mate to, against a general minimiser and simulation."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, special

from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import best_target

BORES = np.array([0.62510, 0.62516, 0.62519, 0.62524, 0.62527, 0.62531])
LOW, HIGH = -0.0009, -0.0003


def cost_of(target, mates, sd, low, high, tight, loose, side="external"):
    gap = mates - target if side == "external" else target - mates
    return np.mean(tight * special.ndtr((low - gap) / sd) + loose * special.ndtr((gap - high) / sd))


@pytest.mark.parametrize("side", ["external", "internal"])
@pytest.mark.parametrize(("tight", "loose"), [(1.0, 1.0), (5.0, 1.0), (1.0, 20.0)])
@pytest.mark.parametrize("sd", [0.00005, 0.0002, 0.001])
def test_no_target_costs_less(side, tight, loose, sd):
    result = best_target(BORES, sd, LOW, HIGH, side, tight, loose)
    grid = np.linspace(BORES.mean() - 0.02, BORES.mean() + 0.02, 4001)
    start = grid[np.argmin([cost_of(t, BORES, sd, LOW, HIGH, tight, loose, side) for t in grid])]
    oracle = optimize.minimize_scalar(
        cost_of,
        bounds=(start - 0.00002, start + 0.00002),
        args=(BORES, sd, LOW, HIGH, tight, loose, side),
        method="bounded",
        options={"xatol": 1e-12},
    )
    # the oracle stops a little beside the minimum (it compares values, which are flat there): ours may be lower
    assert result.expected_cost <= oracle.fun * (1 + 1e-9) + 1e-14
    assert result.expected_cost == pytest.approx(oracle.fun, rel=1e-6, abs=1e-12)
    assert result.expected_cost == pytest.approx(
        cost_of(result.target, BORES, sd, LOW, HIGH, tight, loose, side), rel=1e-9, abs=1e-14
    )


def test_two_populations_of_mates_the_lower_minimum_wins():
    mates = np.array([1.0, 1.0, 1.0, 2.0, 2.0])
    result = best_target(mates, 0.05, -0.2, 0.2)
    assert result.target == pytest.approx(1.0, abs=0.02)
    assert result.expected_good == pytest.approx(3.0, abs=0.01)


def test_shares_against_simulation():
    rng = np.random.default_rng(1)
    result = best_target(BORES, 0.0002, LOW, HIGH, cost_tight=3.0)
    gap = rng.choice(BORES, 400_000) - rng.normal(result.target, 0.0002, 400_000)
    assert result.share_tight == pytest.approx(np.mean(gap < LOW), abs=0.003)
    assert result.share_loose == pytest.approx(np.mean(gap > HIGH), abs=0.003)
    assert result.expected_good == pytest.approx(6 * np.mean((gap >= LOW) & (gap <= HIGH)), abs=0.02)


def test_the_window_loses_one_per_cent_at_both_ends():
    result = best_target(BORES, 0.0002, LOW, HIGH)
    best = 1 - cost_of(result.target, BORES, 0.0002, LOW, HIGH, 1, 1)
    for end in result.window:
        assert 1 - cost_of(end, BORES, 0.0002, LOW, HIGH, 1, 1) == pytest.approx(0.99 * best, rel=1e-6)
    assert result.window[0] < result.target < result.window[1]


def test_the_curve_holds_the_best():
    result = best_target(BORES, 0.0002, LOW, HIGH)
    assert result.curve_good.max() <= result.share_good + 1e-12
    assert result.curve_target[0] < result.window[0] < result.window[1] < result.curve_target[-1]
    assert len(result.curve_target) == len(result.curve_good) == len(result.curve_cost)


def test_limits_many_spreads_away_still_give_the_middle():
    assert best_target([0.251], 0.00001, -0.0015, -0.0005).target == pytest.approx(0.252, abs=1e-9)
    assert best_target([0.251], 1e-7, -0.0015, -0.0005).target == pytest.approx(0.252, abs=1e-9)


def test_the_dear_side_is_kept_away_from():
    even = best_target(BORES, 0.0002, LOW, HIGH)
    burst = best_target(BORES, 0.0002, LOW, HIGH, cost_tight=10.0)
    assert burst.target < even.target  # smaller plugs: looser
    assert burst.share_tight < even.share_tight
    hole = best_target(BORES, 0.0002, LOW, HIGH, side="internal", cost_tight=10.0)
    assert hole.target > best_target(BORES, 0.0002, LOW, HIGH, side="internal").target


def test_a_spread_from_few_pieces_and_a_gauge_cost_good_assemblies():
    known = best_target(BORES, 0.00015, LOW, HIGH).share_good
    few = best_target(BORES, 0.00015, LOW, HIGH, sd_pieces=5)
    assert few.share_good < known
    assert "from 5 pieces" in few.method
    assert best_target(BORES, 0.00015, LOW, HIGH, common_uncertainty=0.0001).share_good < known
    noisy = best_target(BORES[:2], 0.00015, LOW, HIGH, uncertainty=[0.0001, 0.0])
    assert noisy.share_good < best_target(BORES[:2], 0.00015, LOW, HIGH).share_good


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 40), min_size=1, max_size=8), st.integers(-30, 5), st.integers(4, 40))
def test_order_unit_and_datum_do_not_matter_and_wider_is_never_worse(mates, low, width):
    first = best_target(mates, 3.0, low, low + width)
    again = best_target(mates[::-1], 3.0, low, low + width)
    assert again.target == first.target
    metric = best_target(np.array(mates) * 25.4, 3.0 * 25.4, low * 25.4, (low + width) * 25.4)
    assert metric.share_good == pytest.approx(first.share_good, abs=1e-9)
    moved = best_target(np.array(mates) + 100.0, 3.0, low, low + width)
    assert moved.share_good == pytest.approx(first.share_good, abs=1e-9)
    assert best_target(mates, 3.0, low - 1, low + width + 1).share_good >= first.share_good - 1e-12


def test_many_mates_are_thinned_and_say_so():
    rng = np.random.default_rng(2)
    mates = rng.normal(25.0, 0.003, 5000)
    result = best_target(mates, 0.002, -0.02, -0.005)
    assert result.target == pytest.approx(25.0125, abs=0.0002)
    assert result.expected_good == pytest.approx(5000 * result.share_good)
    assert "standing for all" in result.method


def test_answer_reads_and_carries_sample_size_and_method():
    text = str(best_target(BORES, 0.0002, LOW, HIGH))
    for part in ("Cut the external part to 0.6258", "of 6 assemblies", "From 6 mates", "taken as known"):
        assert part in text


@pytest.mark.parametrize(
    ("arguments", "options", "error", "words"),
    [
        (([], 1.0, 0, 1), {}, NotEnoughData, "mates: 0 pieces"),
        (([1.0], 0.0, 0, 1), {}, TrackerError, "sd: found 0.0"),
        (([1.0], 1.0, None, 1), {}, TrackerError, "give both limits"),
        (([1.0], 1.0, 0, 1, "both"), {}, TrackerError, "external"),
        (([1.0], 1.0, 0, 1), {"cost_loose": 0.0}, TrackerError, "cost_loose"),
        (([1.0], 1.0, 0, 1), {"sd_pieces": 1}, TrackerError, "whole number of at least 2"),
        (([1.0], 1.0, 0, 1), {"uncertainty": -1.0}, TrackerError, "from zero up"),
    ],
)
def test_refusals_say_what_is_wanted(arguments, options, error, words):
    with pytest.raises(error, match=words):
        best_target(*arguments, **options)
