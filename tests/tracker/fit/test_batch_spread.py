"""What a batch says about true sizes, against closed forms and simulation."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from tracker.fit.batch_spread import (
    gap_spread,
    given_readings,
    normal_share,
    probability_nodes,
    side_spread,
    variance_nodes,
)


def test_nodes_average_over_a_probability():
    nodes, weight = probability_nodes()
    assert weight.sum() == pytest.approx(1.0, abs=1e-13)
    assert (weight * nodes).sum() == pytest.approx(0.5, abs=1e-13)
    assert (weight * np.sqrt(nodes)).sum() == pytest.approx(2 / 3, abs=1e-9)


@pytest.mark.parametrize("dof", [1.0, 5.0, 29.0, 7.3])
def test_variance_nodes_give_the_t_distribution(dof):
    observed, weight = variance_nodes(4.0, dof, 0.0)
    for z in (-3.0, -0.5, 1.0, 2.5):
        mixed = (weight * stats.norm.cdf(z / np.sqrt(observed / 4.0))).sum()
        assert mixed == pytest.approx(stats.t.cdf(z, dof), abs=5e-6)


def test_variance_nodes_stay_above_the_gauge():
    observed, weight = variance_nodes(1.0, 5.0, 2.0)
    assert observed.min() >= 2.0
    cut = stats.chi2.cdf(5.0 / 2.0, 5)
    expected, _ = integrate.quad(lambda x: math.sqrt(5.0 / x) * stats.chi2.pdf(x, 5), 0, 2.5)
    assert (weight * np.sqrt(observed)).sum() == pytest.approx(expected / cut, rel=1e-5)


def test_variance_nodes_have_a_limit_when_readings_do_not_scatter():
    nearly, weight = variance_nodes(1e-10, 5.0, 1.0)
    none, _ = variance_nodes(0.0, 5.0, 1.0)
    assert nearly == pytest.approx(none, rel=1e-6)
    assert np.all(np.isfinite(none))
    assert weight.sum() == pytest.approx(1.0)


def test_given_readings_pull_towards_the_mean_by_the_share_of_the_gauge():
    rng = np.random.default_rng(1)
    true = rng.normal(5.0, 1.0, 4000)
    seen = true + 0.5 * rng.standard_normal(4000)
    middle, sd = given_readings(seen, np.full(4000, 0.5))
    assert np.polyfit(seen, middle, 1)[0] == pytest.approx(0.8, abs=0.02)
    assert sd[0] == pytest.approx(math.sqrt(0.8) * 0.5, abs=0.01)
    assert np.std(true - middle) == pytest.approx(sd[0], rel=0.05)
    assert np.mean(np.abs(true - middle) < 1.96 * sd) == pytest.approx(0.95, abs=0.012)


def test_given_readings_leave_exact_and_tiny_batches_alone():
    sizes = np.array([1.0, 2.0, 3.0])
    same, none = given_readings(sizes, np.zeros(3))
    assert same.tolist() == sizes.tolist()
    assert none.tolist() == [0, 0, 0]
    same, sd = given_readings(sizes[:2], np.array([0.1, 0.2]))
    assert same.tolist() == [1.0, 2.0]
    assert sd.tolist() == [0.1, 0.2]


def test_one_uncertain_piece_among_exact_ones():
    middle, sd = given_readings(np.array([1.0, 2.0, 3.0, 10.0]), np.array([0.0, 0.0, 0.0, 2.0]))
    assert middle[:3].tolist() == [1.0, 2.0, 3.0]
    assert 4.0 < middle[3] < 10.0
    assert 0 < sd[3] < 2.0


def test_gap_spread_has_the_degrees_of_freedom_of_the_unequal_variance_t_test():
    """For mean differences scipy's Welch test gives the dof; here each part carries 1 + 1/n in place of 1/n."""
    rng = np.random.default_rng(2)
    x, y = rng.normal(0, 1, 9), rng.normal(0, 3, 9)
    found = gap_spread(side_spread(x, np.zeros(9)), side_spread(y, np.zeros(9)), 0.0)
    assert found.dof == pytest.approx(stats.ttest_ind(x, y, equal_var=False).df)
    assert found.mean == pytest.approx(x.mean() - y.mean())
    assert found.of_mean / found.spread == pytest.approx(np.full(len(found.spread), 1 / 9))


def test_normal_share_keeps_digits_in_the_tails_and_copes_with_no_spread():
    far = normal_share(0.0, np.array([1.0]), 10.0, 11.0)
    assert far[0] == pytest.approx(stats.norm.sf(10.0) - stats.norm.sf(11.0), rel=1e-12)
    assert normal_share(np.array([1.0, 3.0]), np.array([0.0, 0.0]), 0.0, 2.0).tolist() == [1.0, 0.0]
    assert normal_share(0.0, np.array([1.0]), -math.inf, math.inf)[0] == 1.0
