"""The measured pieces in a random order, against counting every pair and every order."""

import itertools
import math

import numpy as np
import pytest

from tracker.fit import chance_any
from tracker.fit.measured_pairs import share_of_pairs, whole_order

QUIET = (np.zeros(1), np.zeros(1))


def share_of_orders(internal, external, low, high):
    """Count every order of the longer side against the shorter one."""
    if len(internal) > len(external):
        internal, external, low, high = [-x for x in external], [-x for x in internal], low, high
    orders = list(itertools.permutations(external, len(internal)))
    good = sum(all(low <= a - b <= high for a, b in zip(internal, order, strict=True)) for order in orders)
    return good / len(orders)


def random_case(rng, most=6):
    m, n = rng.integers(1, most + 1, 2)
    low = float(rng.integers(-12, 4))
    return (
        np.sort(rng.integers(0, 15, m)).astype(float),
        np.sort(rng.integers(0, 15, n)).astype(float),
        low,
        low + float(rng.integers(0, 20)),
    )


def test_share_counts_every_pair_exactly():
    rng = np.random.default_rng(1)
    for _ in range(500):
        internal, external, low, high = random_case(rng, 12)
        gap = internal[:, None] - external
        share = share_of_pairs(internal, external, low, high)
        assert share.good == pytest.approx(np.mean((gap >= low) & (gap <= high)), abs=1e-15)
        assert share.tight == np.mean(gap < low)
        assert share.loose == np.mean(gap > high)


def test_share_of_ten_thousand_million_pairs_agrees_with_a_sample():
    rng = np.random.default_rng(2)
    internal, external = np.sort(rng.normal(25.01, 0.004, 100_000)), np.sort(rng.normal(25, 0.004, 100_000))
    share = share_of_pairs(internal, external, 0.004, 0.02)
    gap = rng.choice(internal, 1_000_000) - rng.choice(external, 1_000_000)
    assert share.good == pytest.approx(np.mean((gap >= 0.004) & (gap <= 0.02)), abs=0.0025)


def test_whole_order_against_every_order():
    rng = np.random.default_rng(3)
    for _ in range(60):
        internal, external, low, high = random_case(rng, 5)
        order = whole_order(internal, external, low, high, QUIET, 0.0, np.random.default_rng(1))
        expected = share_of_orders(internal.tolist(), external.tolist(), low, high)
        assert order.chance == pytest.approx(expected, abs=5 * order.error + 1e-12)


def test_with_one_limit_the_chance_is_exact():
    rng = np.random.default_rng(4)
    for _ in range(150):
        internal, external, low, _ = random_case(rng, 6)
        for limits in ((low, math.inf), (-math.inf, low)):
            order = whole_order(internal, external, *limits, QUIET, 0.0, np.random.default_rng(1))
            assert order.error == 0.0
            expected = share_of_orders(internal.tolist(), external.tolist(), *limits)
            assert order.chance == pytest.approx(expected, abs=1e-12)


def test_fewer_pairs_than_pieces():
    """Two pairs out of 3 x 3: every choice and order counted."""
    internal, external, low, high = [0.0, 2.0, 5.0], [0.0, 1.0, 3.0], -1.0, 2.0
    total = good = 0
    for rows in itertools.permutations(internal, 2):
        for columns in itertools.permutations(external, 2):
            total += 1
            good += all(low <= a - b <= high for a, b in zip(rows, columns, strict=True))
    result = chance_any(internal, external, low, high, pairs=2)
    assert result.all_measured == pytest.approx(good / total, abs=5 * result.all_measured_error)


def test_gauge_noise_on_measured_pieces_against_direct_simulation():
    rng = np.random.default_rng(5)
    internal, external = np.array([10.0, 10.4]), np.array([9.0, 9.3])  # two a side: taken as they read
    low, high, noise, common = 0.5, 1.6, 0.2, 0.15
    draws = 300_000
    first = internal + noise * rng.standard_normal((draws, 2))
    second = rng.permuted(external + noise * rng.standard_normal((draws, 2)), axis=1)
    gap = first - second + common * rng.standard_normal((draws, 1))
    inside = (gap >= low) & (gap <= high)
    result = chance_any(internal, external, low, high, noise, common_uncertainty=common)
    assert result.all_measured == pytest.approx(np.mean(inside.all(axis=1)), abs=5 * result.all_measured_error)
    assert result.pair_measured == pytest.approx(inside.mean(), abs=0.005)


def test_a_gauge_spreads_what_it_measures_and_the_chance_knows():
    """Over many batches, measured with much noise, the chance of a measured pair is what happens."""
    rng = np.random.default_rng(6)
    said, happened = [], []
    for _ in range(150):
        true_in, true_out = rng.normal(1.0, 1.0, 12), rng.normal(0.0, 1.0, 12)
        seen_in, seen_out = true_in + 0.7 * rng.standard_normal(12), true_out + 0.7 * rng.standard_normal(12)
        said.append(chance_any(seen_in, seen_out, -0.5, 2.5, 0.7).pair_measured)
        gap = true_in[:, None] - true_out
        happened.append(np.mean((gap >= -0.5) & (gap <= 2.5)))
    assert np.mean(said) == pytest.approx(np.mean(happened), abs=0.025)


def test_thousands_of_pieces_take_rows_as_independent():
    internal, external = np.zeros(2000), np.concatenate([np.zeros(1999), [5.0]])
    order = whole_order(internal, external, -1.0, 1.0, QUIET, 0.0, np.random.default_rng(1))
    assert order.chance == 0.0  # the one plug that fits nowhere must be used
    rng = np.random.default_rng(7)
    internal, external = np.sort(rng.normal(0, 1, 1200)), np.sort(rng.normal(0, 1, 1200))
    order = whole_order(internal, external, -4.5, 4.5, QUIET, 0.0, rng)
    orders = [np.max(np.abs(internal - rng.permutation(external))) <= 4.5 for _ in range(3000)]
    assert order.method.startswith("rows taken as independent")
    assert order.chance == pytest.approx(np.mean(orders), abs=5 * 0.5 / math.sqrt(3000))
