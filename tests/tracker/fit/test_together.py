"""The chance that all gaps hold, against exact cases, quadrature and simulation."""

import itertools
import math

import numpy as np
import pytest
from scipy import integrate, stats

from tracker.fit.together import all_hold, any_order_holds


def test_gaps_that_share_all_their_doubt_count_once():
    gap = np.zeros(12)
    exact = stats.norm.cdf(2) - stats.norm.cdf(-2)
    assert all_hold(gap, np.zeros(12), -2.0, 2.0, 1.0) == pytest.approx(exact, abs=1e-6)


def test_without_a_shared_part_it_is_a_product():
    gap, sd = np.array([0.1, -0.2, 0.4]), np.array([0.5, 0.3, 0.2])
    exact = np.prod(stats.norm.cdf(1, gap, sd) - stats.norm.cdf(-1, gap, sd))
    assert all_hold(gap, sd, -1.0, 1.0) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("common", [0.05, 0.3, 1.5])
def test_against_quadrature(common):
    gap, sd = np.array([0.1, -0.5, 0.4, 0.0]), np.array([0.2, 0.3, 0.1, 0.25])

    def inner(shift):
        each = stats.norm.cdf(1, gap + shift, sd) - stats.norm.cdf(-1, gap + shift, sd)
        return np.prod(each) * stats.norm.pdf(shift, scale=common)

    exact, _ = integrate.quad(
        inner, -9 * common, 9 * common, limit=400, points=[-1.4, -0.5, 0.5, 1.4][: 4 if common > 0.2 else 0] or None
    )
    assert all_hold(gap, sd, -1.0, 1.0, common) == pytest.approx(exact, abs=1e-7)


def test_against_simulation_with_one_limit_open():
    rng = np.random.default_rng(3)
    gap, sd, common = np.array([0.3, 0.5, 0.2]), np.array([0.2, 0.1, 0.3]), 0.2
    drawn = gap + sd * rng.standard_normal((200_000, 3)) + common * rng.standard_normal((200_000, 1))
    happened = np.mean(np.all(drawn >= 0.0, axis=1))
    assert all_hold(gap, sd, 0.0, np.inf, common) == pytest.approx(happened, abs=4 * np.sqrt(0.25 / 200_000))


def test_no_pair_and_very_many_pairs():
    assert all_hold(np.array([]), np.array([]), -1.0, 1.0, 0.1) == 1.0
    many = all_hold(np.zeros(50_000), np.full(50_000, 0.1), -1.0, 1.0, 0.1)
    assert 0.99 < many <= 1.0


def every_order(internal, external, noise, limits):
    """Return the mean over all orders of the chance that all pairs meet all limits, written out."""
    total, orders = 0.0, 0
    for order in itertools.permutations(range(len(external)), len(internal)):
        held = 1.0
        for i, j in enumerate(order):
            for k, (low, high) in enumerate(limits):
                gap = internal[i, k] - external[j, k]
                sd = math.hypot(noise[0][i, k], noise[1][j, k])
                held *= stats.norm.cdf(high, gap, sd) - stats.norm.cdf(low, gap, sd)
        total, orders = total + held, orders + 1
    return total / orders


@pytest.mark.parametrize("seed", range(6))
def test_any_order_of_several_closures_against_all_orders(seed):
    """Two pieces a side: then true sizes are taken as they read, and the sum can be written out."""
    rng = np.random.default_rng(seed)
    internal, external = rng.normal(0.0, 1.0, (2, 2)), rng.normal(0.0, 1.0, (2, 2))
    noise = rng.uniform(0.1, 0.5, (2, 2)), rng.uniform(0.1, 0.5, (2, 2))
    limits = [(-2.0, 1.5), (-1.5, math.inf)]
    found = any_order_holds(internal, external, noise, limits, [0.0, 0.0])
    assert found == pytest.approx(every_order(internal, external, noise, limits), abs=0.005)


def test_any_order_without_doubt_is_a_share_of_orders():
    internal = np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]])
    external = np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]])
    nothing = np.zeros((3, 2)), np.zeros((3, 2))
    found = any_order_holds(internal, external, nothing, [(-0.5, 0.5), (-1.0, 1.0)], [0.0, 0.0])
    assert found == pytest.approx(1 / 6, abs=0.015)


def test_any_order_shares_what_is_common():
    """One closure, everything in doubt shared: all pairs hold or none."""
    internal, external = np.zeros((8, 1)), np.zeros((8, 1))
    nothing = np.zeros((8, 1)), np.zeros((8, 1))
    found = any_order_holds(internal, external, nothing, [(-1.0, 1.0)], [1.0])
    assert found == pytest.approx(stats.norm.cdf(1) - stats.norm.cdf(-1), abs=0.015)
