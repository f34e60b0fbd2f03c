"""Chart constants over the whole range of group sizes."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from tracker.drift import chart_constants
from tracker.errors import TrackerError


def test_closed_forms():
    # d2(2) = 2/sqrt(pi), d3(2) = sqrt(2 - 4/pi), d2(3) = 3/sqrt(pi): exact.
    assert chart_constants(2).d2 == pytest.approx(2 / math.sqrt(math.pi), rel=1e-12)
    assert chart_constants(2).d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), rel=1e-12)
    assert chart_constants(3).d2 == pytest.approx(3 / math.sqrt(math.pi), rel=1e-12)


@pytest.mark.parametrize("n", [2, 7, 26, 50, 75, 100])
def test_range_against_adaptive_integration(n):
    mean, _ = integrate.quad(
        lambda x: 1 - stats.norm.cdf(x) ** n - stats.norm.sf(x) ** n, -12, 12, epsabs=1e-12, points=[-4, 0, 4]
    )
    assert chart_constants(n).d2 == pytest.approx(mean, abs=1e-9)


@pytest.mark.parametrize("n", [30, 60, 100])
def test_spread_of_the_range_against_simulation(n):
    rng = np.random.default_rng(n)
    ranges = np.ptp(rng.standard_normal((40_000, n)), axis=1)
    # The sd of an sd is about sd / sqrt(2 * 40000): 0.0022 here; four of them.
    assert chart_constants(n).d3 == pytest.approx(ranges.std(), abs=0.009)


@pytest.mark.parametrize("n", [2, 25, 100])
def test_mean_sd_against_the_chi_distribution(n):
    assert chart_constants(n).c4 == pytest.approx(stats.chi(n - 1).mean() / math.sqrt(n - 1), rel=1e-10)


def test_all_sizes_are_served_and_move_one_way():
    rows = [chart_constants(n) for n in range(2, 101)]
    for name, up in (("d2", True), ("c4", True), ("D4", False), ("B4", False), ("E2", False), ("A2", False)):
        steps = np.diff([getattr(row, name) for row in rows])
        assert np.all(steps > 0 if up else steps < 0), name


@pytest.mark.parametrize("n", [1, 0, 101, 2.5])
def test_other_sizes_are_refused(n):
    with pytest.raises(TrackerError, match="2 to 100"):
        chart_constants(n)
