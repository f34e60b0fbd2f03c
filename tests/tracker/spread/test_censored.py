"""Bounds: invariants, likelihood, profile intervals against a plain grid, what cannot be told."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.errors import NotEnoughData, TrackerError
from tracker.spread import censored, interval_fit
from tracker.spread.censored import log_interval_chance


def pins(rng, n, step, start=0.0):
    low = np.floor((rng.normal(0.0, 1.0, n) - start) / step) * step + start
    return low, low + step


def test_log_chance_far_out():
    a = np.array([-1.0, 5.0, 20.0, -40.0, -np.inf, 30.0])
    b = np.array([0.5, 6.0, 21.0, -39.0, -30.0, np.inf])
    found = log_interval_chance(a, b)
    expected = [
        math.log(stats.norm.cdf(0.5) - stats.norm.cdf(-1.0)),
        math.log(stats.norm.sf(5.0) - stats.norm.sf(6.0)),
        stats.norm.logsf(20.0) + math.log1p(-math.exp(stats.norm.logsf(21.0) - stats.norm.logsf(20.0))),
        stats.norm.logsf(39.0) + math.log1p(-math.exp(stats.norm.logsf(40.0) - stats.norm.logsf(39.0))),
        stats.norm.logcdf(-30.0),
        stats.norm.logsf(30.0),
    ]
    assert found == pytest.approx(expected, rel=1e-10)


def test_derivatives_are_those_of_the_likelihood():
    low = np.array([-np.inf, 0.2, 1.0, 0.7, 1.4])
    high = np.array([0.3, 0.9, 1.0, 1.5, np.inf])
    sample = censored._Sample(low, high)
    mu, log_sd, h = 0.8, -0.3, 1e-5
    _, g_mu, g_sd, mm, ms, ss = (float(t) for t in sample.terms(np.array(mu), np.array(log_sd)))
    sd = math.exp(log_sd)
    assert g_mu == pytest.approx(sd * (sample.value(mu + h, log_sd) - sample.value(mu - h, log_sd)) / (2 * h), abs=1e-8)
    assert g_sd == pytest.approx((sample.value(mu, log_sd + h) - sample.value(mu, log_sd - h)) / (2 * h), abs=1e-8)

    def slopes(m, s):
        _, a, b, *_ = (float(t) for t in sample.terms(np.array(m), np.array(s)))
        return a / math.exp(s), b

    assert mm == pytest.approx(sd**2 * (slopes(mu + h, log_sd)[0] - slopes(mu - h, log_sd)[0]) / (2 * h), abs=1e-6)
    assert ms == pytest.approx(sd * (slopes(mu + h, log_sd)[1] - slopes(mu - h, log_sd)[1]) / (2 * h), abs=1e-6)
    assert ss == pytest.approx((slopes(mu, log_sd + h)[1] - slopes(mu, log_sd - h)[1]) / (2 * h), abs=1e-6)


@pytest.mark.parametrize("n", [5, 12, 40])
def test_bounds_by_newton_are_those_by_search(n, monkeypatch):
    low, high = pins(np.random.default_rng(n), n, 0.7)
    fast = interval_fit(low, high)
    monkeypatch.setattr(censored, "_constrained", lambda *a, **k: None)
    slow = interval_fit(low, high)
    for name in ("mean", "sd"):
        one, other = getattr(fast, name), getattr(slow, name)
        assert [one.low, one.high] == pytest.approx([other.low, other.high], rel=1e-6)


@given(st.integers(0, 2**32 - 1), st.integers(-20, 20), st.integers(-8, 8))
@settings(max_examples=30, deadline=None)
def test_shift_scale_mirror_and_order(seed, shift, power):
    rng = np.random.default_rng(seed)
    low, high = pins(rng, 12, 0.5)
    low[0], high[1] = -np.inf, np.inf
    base = interval_fit(low, high)
    if base.mean is None:
        return
    scale, order = 2.0**power, rng.permutation(12)
    cases = [
        (interval_fit(low + shift, high + shift), shift, 1.0),
        (interval_fit(low * scale, high * scale), 0.0, scale),
        (interval_fit(low[order], high[order]), 0.0, 1.0),
    ]
    for found, place, factor in cases:
        assert found.mean.estimate == pytest.approx(base.mean.estimate * factor + place, abs=1e-6 * factor)
        assert found.mean.low == pytest.approx(base.mean.low * factor + place, abs=1e-5 * factor)
        assert found.sd.estimate == pytest.approx(base.sd.estimate * factor, rel=1e-6)
        assert found.sd.high == pytest.approx(base.sd.high * factor, rel=1e-5)
    mirror = interval_fit(-high, -low)
    assert mirror.mean.low == pytest.approx(-base.mean.high, abs=1e-5)
    assert mirror.sd.low == pytest.approx(base.sd.low, rel=1e-5)


def test_finer_pins_tell_more():
    rng = np.random.default_rng(6)
    sizes = rng.normal(0.0, 1.0, 30)
    worth = []
    for step in (0.1, 0.5, 1.0, 2.0):
        low = np.floor(sizes / step) * step
        found = interval_fit(low, low + step)
        worth.append((found.mean_pieces, found.dof))
    assert all(a[0] > b[0] and a[1] > b[1] for a, b in itertools.pairwise(worth))
    assert worth[0] == pytest.approx((30, 29), rel=0.02)


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        ([0.0] * 4, [1.0] * 4, "one and the same size"),
        ([0.0, 1.0, 0.0, 1.0], [1.0, 2.0, 1.0, 2.0], "one and the same size"),
        ([-np.inf, 1.0, 1.0], [1.0, np.inf, np.inf], "only one limit"),
        ([-np.inf, 2.0, 2.0], [1.0, np.inf, np.inf], "bounded on both sides"),
    ],
    ids=["all the same", "two that touch", "one limit", "a gap"],
)
def test_what_bounds_cannot_tell(low, high, words):
    found = interval_fit(low, high)
    assert found.mean is None
    assert found.sd is None
    assert words in found.reason
    assert words in str(found)
    found.to_dict()


def test_messages():
    with pytest.raises(NotEnoughData, match="at least 2 pieces"):
        interval_fit([1.0], [2.0])
    with pytest.raises(NotEnoughData, match="1 piece with a bound"):
        interval_fit([1.0, -np.inf], [2.0, np.nan])
    with pytest.raises(TrackerError, match="piece 2: the lower bound 3 lies above the upper bound 2"):
        interval_fit([1.0, 3.0], [2.0, 2.0])
    with pytest.raises(TrackerError, match="one of each a piece"):
        interval_fit([1.0, 3.0], [2.0])
