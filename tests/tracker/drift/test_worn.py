"""Charts and capability about the line of wear."""

import numpy as np
import pytest
from scipy import stats

from tracker.drift import wear_chart, wear_line, worn_capability
from tracker.errors import NotEnoughData, TrackerError


def line_of(wear, **limits):
    rng = np.random.default_rng(21)
    return wear_line(10 + wear * np.arange(30) + rng.normal(0, 0.1, 30), **limits)


def test_limits_slope_with_the_line():
    chart = wear_chart(line_of(0.05))
    assert np.diff(chart.centre) == pytest.approx(np.full(29, chart.centre[1] - chart.centre[0]))
    assert chart.upper - chart.lower == pytest.approx(np.full(30, 6 * chart.sd))
    assert not chart.signals


def test_a_piece_off_the_line_is_a_signal_though_within_the_spread_of_all():
    rng = np.random.default_rng(21)
    y = 10 + 0.05 * np.arange(30) + rng.normal(0, 0.1, 30)
    y[3] += 0.8
    chart = wear_chart(wear_line(y))
    assert [signal.first for signal in chart.signals if "3 sigma" in signal.name] == [4]
    assert y[3] < y.max()


def test_capability_about_the_line_does_not_see_the_wear():
    level, sloped = line_of(0.0, lower=8.0, upper=13.0), line_of(0.05, lower=8.0, upper=13.0)
    flat, worn = worn_capability(level), worn_capability(sloped)
    assert worn.width_about_line.estimate == pytest.approx(flat.width_about_line.estimate, rel=1e-9)
    assert worn.with_drift.ppk.estimate < 0.6 * flat.with_drift.ppk.estimate
    sd = sloped.sd.estimate
    assert worn.nearest_now.estimate == pytest.approx((13.0 - sloped.band.line[-1]) / (3 * sd))
    assert worn.nearest_now.low < worn.nearest_now.estimate < worn.nearest_now.high


def test_where_it_stands_now_with_one_limit_is_a_noncentral_t():
    line = line_of(0.05, upper=13.0)
    now = worn_capability(line).nearest_now
    # The line at its last piece has variance 1/n + 14.5^2 / 2247.5 in sd^2.
    root = (1 / 30 + 14.5**2 / 2247.5) ** -0.5
    seen = 3 * now.estimate * root
    assert stats.nct.sf(seen, 28, 3 * now.low * root) == pytest.approx(0.025, abs=1e-5)
    assert stats.nct.cdf(seen, 28, 3 * now.high * root) == pytest.approx(0.025, abs=1e-5)


def test_one_limit_and_none():
    one = worn_capability(line_of(0.05, upper=13.0))
    assert one.width_about_line is None
    with pytest.raises(TrackerError, match="limit"):
        worn_capability(line_of(0.05))


def test_an_exact_line_has_no_limits():
    line = wear_line(np.arange(5.0), upper=9)
    with pytest.raises(NotEnoughData, match="exactly on the line"):
        wear_chart(line)
    with pytest.raises(NotEnoughData, match="exactly on the line"):
        worn_capability(line)
