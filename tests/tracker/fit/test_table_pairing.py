"""Pairing with several closures at once, against every possible pairing."""

import math

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from tracker.errors import TrackerError
from tracker.fit import pair
from tracker.fit.free_columns import largest_matching


def best_of_all(internal, external, low, high, target):
    """Return (pairs, worst margin, minus sum of squares) of the best of every possible pairing."""
    best = (0, math.inf, 0.0)
    gap = internal[:, None, :] - external
    margin = np.minimum(gap - low, high - gap).min(axis=2)
    squares = np.square(gap - target).sum(axis=2)

    def extend(row, used, pairs, worst, total):
        nonlocal best
        if row == len(internal):
            best = max(best, (pairs, worst, -total))
            return
        extend(row + 1, used, pairs, worst, total)
        for column in range(len(external)):
            if not used >> column & 1 and margin[row, column] >= 0:
                extend(
                    row + 1,
                    used | 1 << column,
                    pairs + 1,
                    min(worst, margin[row, column]),
                    total + squares[row, column],
                )

    extend(0, 0, 0, math.inf, 0.0)
    return best


def outcome(result):
    worst = math.inf if result.worst_margin is None else result.worst_margin
    return result.good, worst, -result.sum_of_squares


def random_table(rng, most):
    m, n = rng.integers(1, most + 1, 2)
    closures = int(rng.integers(1, 4))
    internal = rng.integers(0, rng.integers(1, 14) + 1, (m, closures)).astype(float)
    external = rng.integers(0, rng.integers(1, 14) + 1, (n, closures)).astype(float)
    low = rng.integers(-10, 3, closures).astype(float)
    high = low + rng.integers(2, 16, closures)
    if rng.random() < 0.2:
        low[rng.integers(closures)] = -math.inf
    target = rng.integers(-6, 6, closures).astype(float)
    return internal, external, low, high, target


@pytest.mark.parametrize(("seed", "cases", "most"), [(1, 2500, 5), (2, 150, 6)])
def test_no_pairing_at_all_is_better(seed, cases, most):
    rng = np.random.default_rng(seed)
    for _ in range(cases):
        internal, external, low, high, target = random_table(rng, most)
        result = pair(internal, external, low, high, target)
        assert outcome(result) == best_of_all(internal, external, low, high, target)


def test_one_closure_in_a_table_is_the_same_as_a_plain_fit():
    rng = np.random.default_rng(3)
    for _ in range(200):
        m, n = rng.integers(1, 12, 2)
        internal, external = rng.integers(0, 20, m).astype(float), rng.integers(0, 20, n).astype(float)
        low = float(rng.integers(-10, 3))
        high = low + float(rng.integers(1, 12))
        assert outcome(pair(internal[:, None], external[:, None], low, high)) == outcome(
            pair(internal, external, low, high)
        )


def test_a_second_closure_without_limits_and_without_scatter_changes_nothing():
    rng = np.random.default_rng(4)
    internal, external = rng.integers(0, 30, 20).astype(float), rng.integers(0, 30, 25).astype(float)
    plain = pair(internal, external, -4, 3)
    both = pair(
        np.column_stack([internal, np.full(20, 7.0)]),
        np.column_stack([external, np.full(25, 5.0)]),
        [-4, None],
        [3, None],
    )
    assert outcome(both) == outcome(plain)


def test_middling_tables_agree_with_a_dense_assignment():
    rng = np.random.default_rng(5)
    for scale in (1.0, 0.25):
        internal, external = rng.normal(0, 1, (120, 2)), rng.normal(0, 1, (130, 2))
        low, high = np.array([-1.2, -1.5]) * scale, np.array([1.2, 1.5]) * scale
        result = pair(internal, external, low, high)
        gap = internal[:, None, :] - external
        margin = np.minimum(gap - low, high - gap).min(axis=2)
        allowed = margin >= result.worst_margin - 1e-12
        cost = np.where(allowed, np.square(gap).sum(axis=2), 1e5)
        rows, columns = linear_sum_assignment(cost)
        kept = allowed[rows, columns]
        assert kept.sum() == result.good
        assert result.sum_of_squares == pytest.approx(cost[rows, columns][kept].sum(), rel=1e-9)
        rows, columns = linear_sum_assignment(np.where(margin > result.worst_margin + 1e-12, 0.0, 1.0))
        assert np.sum(margin[rows, columns] > result.worst_margin + 1e-12) < result.good
        rows, columns = linear_sum_assignment(np.where(margin >= 0, 0.0, 1.0))
        assert np.sum(margin[rows, columns] >= 0) == result.good


def test_a_large_table_pairs_everyone_it_can():
    rng = np.random.default_rng(6)
    internal, external = rng.normal(0, 1, (600, 2)), rng.normal(0, 1, (600, 2))
    result = pair(internal, external, [-3, -3], [3, 3])
    assert result.good == 600
    assert np.all(np.abs(result.gap) <= 3)


@pytest.mark.parametrize("share", [0.003, 0.01, 0.03, 0.3])
def test_largest_matching_is_as_large_as_scipys(share):
    rng = np.random.default_rng(7)
    for shape in ((150, 150), (120, 200), (200, 90)):
        allowed = rng.random(shape) < share
        for start in (None, largest_matching(allowed & (rng.random(shape) < 0.5))):
            mate = largest_matching(allowed, start)
            held = np.flatnonzero(mate >= 0)
            assert np.all(allowed[held, mate[held]])
            assert len(set(mate[held].tolist())) == len(held)
            expected = maximum_bipartite_matching(csr_array(allowed), perm_type="column")
            assert len(held) == int((expected >= 0).sum())


def test_many_pieces_of_unequal_number_and_left_overs_agree_with_a_dense_assignment():
    """Large enough for the prepared cost table; some pieces stay over on both sides."""
    rng = np.random.default_rng(8)
    internal, external = rng.normal(0, 1, (300, 2)), rng.normal(0.3, 1.2, (330, 2))
    result = pair(internal, external, -0.35, 0.35, target=0.1)
    gap = internal[:, None, :] - external
    margin = (0.35 - np.abs(gap)).min(axis=2)
    allowed = margin >= result.worst_margin - 1e-12
    cost = np.where(allowed, np.square(gap - 0.1).sum(axis=2), 1e4)
    rows, columns = linear_sum_assignment(cost)
    kept = allowed[rows, columns]
    assert kept.sum() == result.good < 300
    assert result.sum_of_squares == pytest.approx(cost[rows, columns][kept].sum(), rel=1e-9)


def test_left_overs_say_which_closure_stops_them():
    result = pair([[1.0, 9.0], [1.0, 1.0], [5.0, 0.5]], [[1.0, 1.0]], [0, 0], [1, 1], names=("bore", "plug"))
    assert result.internal.tolist() == [1]
    assert result.why_left_internal == (
        "too big for every plug (closure 2)",
        "too big for every plug (closure 1)",
    )


def test_a_piece_that_no_single_closure_rules_out_says_so():
    result = pair([[5.0, 5.0]], [[5.0, 9.0], [9.0, 5.0]], [0, 0], [1, 1], names=("bore", "plug"))
    assert result.why_left_internal == ("no plug meets all 2 closures with it",)


def test_uncertainty_by_piece_by_closure_and_both():
    internal, external = [[2.0, 3.0], [4.0, 5.0]], [[1.5, 2.5], [3.5, 4.5]]
    by_piece = pair(internal, external, 0, 1, uncertainty=([0.3, 0.6], 0.4))
    assert by_piece.uncertainty == pytest.approx(np.array([[0.5, 0.5], [math.hypot(0.6, 0.4)] * 2]))
    by_closure = pair(internal, external, 0, 1, uncertainty=([[0.3, 0.0]], 0.4), common_uncertainty=[0.0, 0.3])
    assert by_closure.uncertainty == pytest.approx(np.full((2, 2), 0.5))
    assert by_closure.near.tolist() == [True, True]
    with pytest.raises(TrackerError, match="found shape"):
        pair(internal, external, 0, 1, uncertainty=([0.1, 0.1, 0.1], 0.4))


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(TrackerError, match="one column a closure"):
        pair([[1.0, 2.0]], [1.0], 0, 1)
    with pytest.raises(TrackerError, match="2 values for 3 closures"):
        pair([[1.0, 2.0, 3.0]], [[1.0, 2.0, 3.0]], [0, 0], 1)
