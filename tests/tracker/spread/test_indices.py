"""The distribution of capability indices against scipy's noncentral t and against simulation."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.spread.indices import chance_at_least, index_bound, index_interval


@pytest.mark.parametrize("index", [-1.0, -0.2, 0.0, 0.3, 0.41, 1.0, 2.5])
@pytest.mark.parametrize("n", [2, 3, 8, 60])
def test_one_limit_is_the_noncentral_t(index, n):
    true = np.array([-0.5, 0.0, 0.2, 0.9, 1.8])
    found = chance_at_least(index, true, math.inf, n, n - 1)
    expected = stats.nct.sf(3 * index * math.sqrt(n), n - 1, 3 * true * math.sqrt(n))
    assert found == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize(("n", "true", "offset"), [(5, 1.0, 0.0), (8, 0.3, 0.2), (5, 0.1, 0.5), (12, 1.33, 0.1)])
def test_two_limits_by_simulation(n, true, offset):
    rng = np.random.default_rng([n, 77])
    mean = rng.normal(offset, 1 / math.sqrt(n), 400_000)
    sd = np.sqrt(rng.chisquare(n - 1, mean.size) / (n - 1))
    index = (3 * true + offset - np.abs(mean)) / (3 * sd)
    for at in (-0.2, 0.2, 0.35, 0.6, 1.0, 1.7):
        assert chance_at_least(at, true, offset, n, n - 1) == pytest.approx((index >= at).mean(), abs=0.0035)


@given(st.floats(-2, 6), st.integers(2, 200), st.floats(0.01, 0.99), st.one_of(st.just(math.inf), st.floats(0.0, 6.0)))
@settings(max_examples=80, deadline=None)
def test_bound_solves_its_equation(index, n, confidence, offset):
    bound = float(index_bound(index, n, n - 1, confidence, offset))
    assert chance_at_least(index, bound, offset, n, n - 1) == pytest.approx(1 - confidence, abs=1e-5)


def test_many_at_once_are_the_same_as_one_by_one():
    mean, sd = np.array([0.1, -0.3, 0.9]), np.array([0.4, 0.5, 0.2])
    low, high = index_interval(mean, sd, 9, 8, -2.0, 2.0, 0.95)
    for i in range(3):
        one = index_interval(mean[i], sd[i], 9, 8, -2.0, 2.0, 0.95)
        assert (float(one[0]), float(one[1])) == pytest.approx((low[i], high[i]), abs=1e-7)


def test_open_limit_and_mirror():
    up = index_interval(1.0, 0.5, 7, 6, -np.inf, 2.5, 0.9)
    down = index_interval(-1.0, 0.5, 7, 6, -2.5, np.inf, 0.9)
    assert [float(v) for v in up] == pytest.approx([float(v) for v in down], abs=1e-8)
