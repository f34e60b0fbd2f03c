"""Shares beyond limits: the curves behind them, and the distribution of the estimate by simulation."""

import math

import numpy as np
import pytest
from scipy import special, stats

from tracker.spread import capability
from tracker.spread.fallout import SameShare, chance_of_less, half_width


@pytest.mark.parametrize("share", [1e-9, 0.002, 0.3, 0.8, 0.99])
def test_half_width_and_distance_undo_each_other(share):
    distance = np.array([0.0, 0.02, 0.3, 1.0, 4.0, 8.0, 12.0])
    width = half_width(np.full(7, math.log(share)), distance)
    assert stats.norm.cdf(distance - width) + stats.norm.cdf(-distance - width) == pytest.approx(share, rel=1e-9)
    curve = SameShare(math.log(share))
    assert curve.middle_distance(width) == pytest.approx(distance, abs=2e-4)
    assert curve.middle_distance(np.array([width[0] * 0.99])) == 0


@pytest.mark.parametrize(("n", "half", "offset"), [(5, 2.0, 0.0), (8, 2.5, 0.7), (30, 3.0, 0.2)])
def test_distribution_of_the_estimate_by_simulation(n, half, offset):
    rng = np.random.default_rng([n, 3])
    mean = rng.normal(offset, 1 / math.sqrt(n), 400_000)
    sd = np.sqrt(rng.chisquare(n - 1, mean.size) / (n - 1))
    seen = special.ndtr((-half - mean) / sd) + special.ndtr((mean - half) / sd)
    true = special.ndtr(-half - offset) + special.ndtr(offset - half)
    for level in (0.001, 0.01, 0.05, 0.2):
        found = chance_of_less(SameShare(math.log(level)), np.array([special.logit(true)]), offset, n, n - 1)
        assert found == pytest.approx((seen <= level).mean(), abs=0.0035)


@pytest.mark.parametrize("limits", [(-1, 2), (-0.1, 0.3), (5, 6), (-1000, 1000), (-1000, -999)])
@pytest.mark.parametrize("sizes", [[0.0, 1.0], [0.0, 1e-6, 2e-6], [0.1, -0.4, 0.3, 0.0]])
def test_far_out_it_stays_a_share(limits, sizes):
    found = capability(sizes, *limits, distribution="normal")
    for item in (found.beyond_lower, found.beyond_upper, found.beyond):
        assert 0 <= item.low <= item.estimate <= item.high <= 1
    found.to_dict()
