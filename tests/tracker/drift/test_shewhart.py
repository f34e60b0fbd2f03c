"""Charts of single values and groups: limits, baselines, breaks, words."""

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.drift import (
    Baseline,
    chart_constants,
    deviation_chart,
    individuals_chart,
    mean_range_chart,
    mean_sd_chart,
    stability_chart,
    standardised_chart,
)
from tracker.errors import NotEnoughData, TrackerError

RNG = np.random.default_rng(31)


@pytest.fixture(autouse=True)
def same_draws():
    """Begin each test with the same draws, whichever ran before it."""
    RNG.bit_generator.state = np.random.default_rng(31).bit_generator.state


GROUPS = RNG.normal(5, 0.1, (12, 5))


def test_mean_and_range_by_the_table_factors():
    chart = mean_range_chart(GROUPS)
    constants = chart_constants(5)
    mean_range = float(np.mean(np.ptp(GROUPS, axis=1)))
    centre = float(GROUPS.mean())
    assert chart.centre[0] == pytest.approx(centre)
    assert chart.upper[0] == pytest.approx(centre + constants.A2 * mean_range)
    assert chart.companion.centre[0] == pytest.approx(mean_range)
    assert chart.companion.upper[0] == pytest.approx(constants.D4 * mean_range)
    assert chart.companion.lower[0] == 0
    assert chart.sd == pytest.approx(mean_range / constants.d2)


def test_mean_and_sd_by_the_table_factors():
    chart = mean_sd_chart(GROUPS)
    constants = chart_constants(5)
    mean_sd = float(np.mean(GROUPS.std(axis=1, ddof=1)))
    assert chart.lower[0] == pytest.approx(GROUPS.mean() - constants.A3 * mean_sd)
    assert chart.companion.centre[0] == pytest.approx(mean_sd)
    assert chart.companion.upper[0] == pytest.approx(constants.B4 * mean_sd)
    assert chart.sd == pytest.approx(mean_sd / constants.c4)


def test_varying_groups_have_their_own_limits_and_an_unbiased_sd():
    rng = np.random.default_rng(32)
    sizes = [2, 3, 5, 9] * 6
    found = []
    for _ in range(400):
        groups = [rng.normal(0, 1, n) for n in sizes]
        found.append([mean_sd_chart(groups).sd, mean_range_chart(groups).sd])
    # 400 runs with an sd of about 0.08 each: standard error 0.004; four of them.
    assert np.mean(found, axis=0) == pytest.approx([1, 1], abs=0.016)
    chart = mean_sd_chart(groups)
    half = (chart.upper - chart.lower) / 2
    assert half == pytest.approx(3 * chart.sd / np.sqrt(sizes))
    assert half[3] < half[0]


def test_groups_are_weighted_by_what_they_know():
    # Variance of s / c4 is (1 - c4^2) / c4^2, of R / d2 it is (d3 / d2)^2: weights are their inverses (Burr 1969).
    groups = [[0.0, 1.0], [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]]
    few, many = chart_constants(2), chart_constants(9)
    spreads = [np.std(group, ddof=1) for group in groups]
    weights = [c.c4**2 / (1 - c.c4**2) for c in (few, many)]
    known = np.average([spreads[0] / few.c4, spreads[1] / many.c4], weights=weights)
    assert mean_sd_chart(groups).sd == pytest.approx(known)
    weights = [(c.d2 / c.d3) ** 2 for c in (few, many)]
    assert mean_range_chart(groups).sd == pytest.approx(np.average([1 / few.d2, 8 / many.d2], weights=weights))


def test_a_frozen_baseline_goes_through_text_and_back():
    first = individuals_chart(RNG.normal(10, 0.1, 30))
    kept = Baseline.from_dict(json.loads(json.dumps(first.baseline.to_dict())))
    assert kept == first.baseline
    later = individuals_chart([10.0, 10.1, 12.0], baseline=kept)
    assert later.frozen
    assert later.upper[0] == first.upper[0]
    assert [signal.first for signal in later.signals if "3 sigma" in signal.name] == [3]
    for same in (first, kept.to_dict(), first.points):
        assert individuals_chart([10.0, 10.1], baseline=same).upper[0] == first.upper[0]


def test_one_piece_can_be_watched_against_a_baseline():
    kept = individuals_chart(RNG.normal(10, 0.1, 30)).baseline
    chart = individuals_chart([10.9], baseline=kept)
    assert chart.companion is None
    assert len(chart.signals) == 1


def test_a_baseline_of_groups_serves_groups_only():
    kept = mean_range_chart(GROUPS).baseline
    assert mean_range_chart(GROUPS[:2], baseline=kept).sd == kept.sd
    assert mean_range_chart(GROUPS[:2], baseline=GROUPS).sd == kept.sd
    with pytest.raises(TrackerError, match="freeze one for these"):
        individuals_chart([5.0, 5.1], baseline=kept)
    with pytest.raises(TrackerError, match="lacks sd"):
        individuals_chart([5.0, 5.1], baseline={"centre": 5, "n": 3, "group_size": 1, "sd_from": "x"})


def test_no_moving_range_is_taken_across_a_break():
    sizes = [1.0, 1.1, 1.0, 9.0, 9.1, 9.0]
    assert individuals_chart(sizes, breaks=[3]).sd == pytest.approx(0.1 / chart_constants(2).d2)
    assert individuals_chart(sizes).sd > 1


def test_too_little_to_chart():
    with pytest.raises(NotEnoughData, match="two pieces"):
        individuals_chart([1.0])
    with pytest.raises(NotEnoughData, match="read the same"):
        individuals_chart([1.0, 1.0, 1.0])
    with pytest.raises(NotEnoughData, match="individuals_chart"):
        mean_range_chart([[1.0], [2.0]])
    with pytest.raises(NotEnoughData, match="no groups"):
        mean_sd_chart([])


def test_deviations_over_different_nominals():
    nominal = np.repeat([10.0, 25.0, 40.0], 5)
    away = RNG.normal(0, 0.01, 15)
    chart = deviation_chart(nominal + away, nominal)
    plain = individuals_chart(away)
    assert chart.upper == pytest.approx(plain.upper, rel=1e-9)
    assert "deviations" in chart.kind


def test_standardised_values_have_limits_of_three():
    nominal, sd = np.repeat([10.0, 25.0], 5), np.repeat([0.01, 0.1], 5)
    chart = standardised_chart(nominal + 4 * sd, nominal, sd, ["one point beyond 3 sigma"])
    assert chart.points == pytest.approx(np.full(10, 4.0))
    assert (chart.lower[0], chart.upper[0]) == (-3, 3)
    assert len(chart.signals) == 10
    with pytest.raises(TrackerError, match="above 0"):
        standardised_chart([1.0, 2.0], [1.0, 2.0], [0.1, 0.0])


def test_a_check_master_over_time():
    readings = 25.0 + np.array([0.002, 0.001, 0.002, 0.003, 0.002, 0.001, 0.002, 0.002])
    # A standing bias of two thousandths: seen against the master, not seen against the readings themselves.
    known = stability_chart(readings, 25.0, sd=0.0015)
    assert known.centre[0] == 0
    assert [s.name for s in known.signals if "eight" in s.name] == ["eight in a row on one side"]
    assert not [s for s in stability_chart(readings, 25.0).signals if "eight" in s.name]
    with pytest.raises(TrackerError, match="not both"):
        stability_chart(readings, 25.0, sd=0.001, baseline=known)


def test_words_and_plain_data():
    chart = individuals_chart([5.1, 5.3, 4.9, 5.2, 5.0, 5.1])
    assert "Nothing unusual is seen" in str(chart)
    assert "uncertain" in str(chart)
    assert math.isfinite(json.loads(json.dumps(chart.to_dict()))["companion"]["upper"][0])


@given(
    st.lists(st.integers(-99, 99), min_size=3, max_size=30).filter(lambda v: len(set(v)) > 1), st.integers(-500, 500)
)
def test_a_shift_moves_all_and_a_scale_stretches_all(values, shift):
    sizes = np.array(values, dtype=float)
    base, other = individuals_chart(sizes), individuals_chart(25.4 * (sizes + shift))
    assert other.upper == pytest.approx(25.4 * (base.upper + shift), rel=1e-9, abs=1e-6)
    assert other.sd == pytest.approx(25.4 * base.sd, rel=1e-9)
