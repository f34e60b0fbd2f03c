"""Tolerance intervals: against scipy, by simulation, invariants, messages."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.errors import NotEnoughData, TrackerError
from tracker.spread import tolerance_factor, tolerance_interval


@pytest.mark.parametrize("n", [2, 5, 12, 100, 5000])
@pytest.mark.parametrize(("coverage", "confidence"), [(0.9, 0.9), (0.99, 0.95), (0.3, 0.6)])
def test_one_side_is_the_noncentral_t(n, coverage, confidence):
    expected = stats.nct.ppf(confidence, n - 1, stats.norm.ppf(coverage) * math.sqrt(n)) / math.sqrt(n)
    assert tolerance_factor(n, coverage, confidence, sides=1) == pytest.approx(expected, abs=1e-6)


def test_two_sides_tend_to_the_normal():
    assert tolerance_factor(10_000_000) == pytest.approx(stats.norm.ppf(0.975), abs=2e-3)


@given(st.integers(2, 60), st.floats(0.5, 0.995), st.floats(0.5, 0.995))
@settings(max_examples=30, deadline=None)
def test_factor_falls_with_pieces_and_rises_with_demands(n, coverage, confidence):
    k = tolerance_factor(n, coverage, confidence)
    assert tolerance_factor(n + 1, coverage, confidence) < k
    assert tolerance_factor(n, coverage + 0.004, confidence) > k
    assert tolerance_factor(n, coverage, confidence + 0.004) > k


@given(st.integers(-20, 20), st.integers(-6, 6), st.sampled_from(["normal", "howe"]))
@settings(max_examples=30, deadline=None)
def test_shift_and_scale(shift, power, method):
    sizes = np.array([10.0, 10.25, 9.5, 10.125, 9.875])
    base = tolerance_interval(sizes, method=method)
    scale = 2.0**power
    found = tolerance_interval(sizes * scale + shift, method=method)
    assert [found.low, found.high] == pytest.approx([base.low * scale + shift, base.high * scale + shift], abs=1e-8)


def test_distribution_free_by_simulation():
    rng = np.random.default_rng(1)
    found = tolerance_interval(np.arange(200.0), 0.95, 0.9, method="distribution_free")
    rank = int(found.low) + 1
    assert rank > 1
    draws = np.sort(rng.random((20_000, 200)), axis=1)
    held = (draws[:, -rank] - draws[:, rank - 1] >= 0.95).mean()
    assert held == pytest.approx(found.achieved, abs=0.008)
    assert held >= 0.9 - 0.008
    one = tolerance_interval(np.arange(200.0), 0.95, 0.9, sides=1, method="distribution_free")
    held = (draws[:, -(int(one.low) + 1)] >= 0.95).mean()
    assert held == pytest.approx(one.achieved, abs=0.008)


def test_words_and_messages():
    sizes = np.array([10.0, 10.2, 9.9])
    assert "95 % of pieces lie between" in str(tolerance_interval(sizes))
    assert "each on its own" in str(tolerance_interval(sizes, sides=1))
    with pytest.raises(NotEnoughData, match="measure 90 more"):
        tolerance_interval(sizes, method="distribution_free")
    with pytest.raises(NotEnoughData, match="at least 2"):
        tolerance_factor(1)
    with pytest.raises(NotEnoughData, match="same size"):
        tolerance_interval([1.0, 1.0])
    for arguments, message in (
        ({"coverage": 95}, "coverage is 95"),
        ({"confidence": 0}, "confidence is 0"),
        ({"sides": 3}, "1 or 2"),
        ({"method": "guess"}, "accepted"),
        ({"method": "howe", "sides": 1}, "two-sided"),
    ):
        with pytest.raises(TrackerError, match=message):
            tolerance_interval(sizes, **arguments)
