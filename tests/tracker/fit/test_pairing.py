"""The exact best pairing in one dimension, against every possible pairing and against general solvers."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import pair


def best_of_all(internal, external, low, high, target):
    """Return (pairs, worst margin, minus sum of squares) of the best of every possible pairing."""
    best = (0, math.inf, 0.0)

    def extend(row, used, pairs, worst, squares):
        nonlocal best
        if row == len(internal):
            best = max(best, (pairs, worst, -squares))
            return
        extend(row + 1, used, pairs, worst, squares)
        for column, size in enumerate(external):
            gap = internal[row] - size
            if not used >> column & 1 and low <= gap <= high:
                margin = min(worst, gap - low, high - gap)
                extend(row + 1, used | 1 << column, pairs + 1, margin, squares + (gap - target) ** 2)

    extend(0, 0, 0, math.inf, 0.0)
    return best


def outcome(result):
    worst = math.inf if result.worst_margin is None else result.worst_margin
    return result.good, worst, -result.sum_of_squares


def random_case(rng, most):
    """Return a small case in whole numbers, so that every sum is exact: sizes, limits (some open), target."""
    m, n = rng.integers(1, most + 1, 2)
    internal = rng.integers(0, rng.integers(1, 30) + 1, m).astype(float)
    external = rng.integers(0, rng.integers(1, 30) + 1, n).astype(float)
    low = float(rng.integers(-15, 10))
    high = low + float(rng.integers(0, 16))
    kind = rng.random()
    if kind < 0.1:
        low = -math.inf
    elif kind < 0.2:
        high = math.inf
    elif kind < 0.23:
        low, high = -math.inf, math.inf
    target = float(rng.integers(-20, 20)) / 2.0
    return internal, external, low, high, target


@pytest.mark.parametrize(("seed", "cases", "most"), [(1, 3000, 5), (2, 400, 6), (3, 60, 7)])
def test_no_pairing_at_all_is_better(seed, cases, most):
    rng = np.random.default_rng(seed)
    for _ in range(cases):
        internal, external, low, high, target = random_case(rng, most)
        result = pair(internal, external, low, high, target)
        assert outcome(result) == best_of_all(internal.tolist(), external.tolist(), low, high, target)


def test_default_target_is_the_middle_of_the_limits():
    rng = np.random.default_rng(4)
    for _ in range(300):
        internal, external, low, high, _ = random_case(rng, 5)
        if math.isfinite(low) and math.isfinite(high):
            result = pair(internal, external, low, high)
            assert result.target == (low + high) / 2
            assert outcome(result) == best_of_all(internal.tolist(), external.tolist(), low, high, result.target)


def test_agrees_with_general_solvers_on_middling_batches():
    rng = np.random.default_rng(5)
    for _ in range(60):
        m, n = rng.integers(5, 45, 2)
        internal = rng.integers(0, 60, m).astype(float)
        external = rng.integers(0, 80, n).astype(float)
        low, high = float(rng.integers(-30, 0)), float(rng.integers(0, 12))
        gap = internal[:, None] - external
        margin = np.minimum(gap - low, high - gap)

        def most(allowed):
            return int((maximum_bipartite_matching(csr_array(allowed), perm_type="column") >= 0).sum())

        pairs = most(margin >= 0)
        result = pair(internal, external, low, high)
        assert result.good == pairs
        if not pairs:
            continue
        worst = max(value for value in np.unique(margin[margin >= 0]) if most(margin >= value) == pairs)
        assert result.worst_margin == worst
        cost = np.where(margin >= worst, np.square(gap - (low + high) / 2), 1e7)
        rows, columns = linear_sum_assignment(cost)
        kept = margin[rows, columns] >= worst
        assert kept.sum() == pairs
        assert result.sum_of_squares == pytest.approx(cost[rows, columns][kept].sum(), rel=1e-12, abs=1e-9)


def test_indices_belong_to_the_pieces_as_given_and_nobody_is_used_twice():
    rng = np.random.default_rng(6)
    for _ in range(300):
        internal, external, low, high, target = random_case(rng, 9)
        result = pair(internal, external, low, high, target)
        assert np.array_equal(result.gap, internal[result.internal] - external[result.external])
        assert np.all((result.gap >= low) & (result.gap <= high))
        assert sorted([*result.internal, *result.left_internal]) == list(range(len(internal)))
        assert sorted([*result.external, *result.left_external]) == list(range(len(external)))
        assert list(result.internal) == sorted(result.internal)
        assert len(result.why_left_internal) == len(result.left_internal)
        assert len(result.why_left_external) == len(result.left_external)


def test_equal_pieces_are_taken_by_index():
    result = pair([5.0, 5.0, 5.0], [4.0, 4.0], 0, 2)
    assert result.internal.tolist() == [0, 1]
    assert result.external.tolist() == [0, 1]
    assert result.left_internal.tolist() == [2]


SIZES = st.lists(st.integers(0, 60), min_size=1, max_size=12)


@settings(max_examples=150, deadline=None)
@given(SIZES, SIZES, st.integers(-20, 10), st.integers(0, 20), st.randoms(use_true_random=False))
def test_order_of_pieces_unit_and_datum_do_not_matter(internal, external, low, width, random):
    first = pair(internal, external, low, low + width)
    shuffled = list(external)
    random.shuffle(shuffled)
    assert outcome(pair(internal, shuffled, low, low + width)) == outcome(first)
    inch = pair(
        np.array(internal) / 10000 + 0.625, np.array(external) / 10000 + 0.625, low / 10000, (low + width) / 10000
    )
    metric = pair(
        (np.array(internal) / 10000 + 0.625) * 25.4,
        (np.array(external) / 10000 + 0.625) * 25.4,
        low / 10000 * 25.4,
        (low + width) / 10000 * 25.4,
    )
    for other, unit in ((inch, 1e-4), (metric, 25.4e-4)):
        assert other.good == first.good
        if first.good:
            assert other.worst_margin / unit == pytest.approx(first.worst_margin, abs=1e-6)
            assert other.sum_of_squares / unit**2 == pytest.approx(first.sum_of_squares, abs=1e-5)


@settings(max_examples=150, deadline=None)
@given(SIZES, SIZES, st.integers(-20, 10), st.integers(0, 20), st.integers(0, 5), st.integers(0, 5))
def test_wider_limits_never_cost_a_pair(internal, external, low, width, more_low, more_high):
    narrow = pair(internal, external, low, low + width)
    wide = pair(internal, external, low - more_low, low + width + more_high)
    assert wide.good >= narrow.good
    if wide.good == narrow.good and narrow.good:
        assert wide.worst_margin >= narrow.worst_margin
    assert pair(internal, external, low, None).good >= narrow.good
    assert pair(internal, external, None, None).good == min(len(internal), len(external))


@settings(max_examples=100, deadline=None)
@given(SIZES, SIZES, st.integers(-20, 10), st.integers(0, 20), st.integers(0, 1000))
def test_never_worse_than_any_order(internal, external, low, width, seed):
    order = np.random.default_rng(seed).permutation(len(external))
    count = min(len(internal), len(external))
    gap = np.array(internal)[:count] - np.array(external)[order[:count]]
    by_chance = int(((gap >= low) & (gap <= low + width)).sum())
    assert pair(internal, external, low, low + width).good >= by_chance


def test_swapping_the_sides_mirrors_the_answer():
    rng = np.random.default_rng(7)
    for _ in range(200):
        internal, external, low, high, target = random_case(rng, 8)
        straight = pair(internal, external, low, high, target)
        mirrored = pair(-internal, -external, -high, -low, -target)
        turned = pair(external, internal, -high, -low, -target)
        assert outcome(straight) == outcome(mirrored) == outcome(turned)


@pytest.mark.parametrize(
    ("internal", "external", "words"),
    [
        ([9.0], [1.0, 2.0], ("too big for every plug",)),
        ([0.0], [3.0, 4.0], ("too small for every plug",)),
        ([5.0], [0.0, 10.0], ("between two sizes: too big for some plugs, too small for the others",)),
        ([5.0, 5.0], [4.0], ("fits one plug, which another piece needs",)),
        ([5.0, 5.0, 5.0], [4.0, 4.0], ("fits 2 plugs, all needed by other pieces",)),
    ],
    ids=["too big", "too small", "between", "one needed", "several needed"],
)
def test_left_overs_say_why(internal, external, words):
    assert pair(internal, external, 0, 2, names=("bore", "plug")).why_left_internal == words


def test_left_overs_of_the_external_side_say_why():
    result = pair([1.0, 2.0], [9.0, -9.0, 1.0, 1.0], 0, 2, names=("bore", "plug"))
    assert result.why_left_external == ("too big for every bore", "too small for every bore")


def test_a_gap_on_its_limit_counts_whatever_the_arithmetic_makes_of_it():
    assert 25.009 - 24.990 > 0.019
    assert pair([25.009], [24.990], 0.014, 0.019).good == 1
    assert pair([25.009], [24.990], 0.019, 0.024).good == 1
    assert pair([25.0091], [24.990], 0.014, 0.019).good == 0


def test_near_marks_a_margin_inside_its_uncertainty_from_both_sides():
    # the gap's standard uncertainty is 0.5: 95 % of it is 0.98
    inside, outside = [10.0, 30.0], [9.03, 29.01]
    result = pair(inside, outside, 0.0, 10.0, uncertainty=(0.3, 0.4))
    assert result.margin == pytest.approx([0.97, 0.99])
    assert result.near.tolist() == [True, False]
    assert result.uncertainty == pytest.approx([0.5, 0.5])
    assert not pair(inside, outside, 0.0, 10.0).near.any()


def test_common_part_is_in_the_uncertainty_of_each_gap():
    result = pair([10.0], [9.0], 0.0, 2.0, uncertainty=(0.0, 0.3), common_uncertainty=0.4)
    assert result.uncertainty == pytest.approx([0.5])


def test_chance_that_all_hold_against_simulation():
    rng = np.random.default_rng(8)
    internal, external = rng.normal(10.0, 1.0, 2), rng.normal(9.0, 1.0, 2)  # two pieces: taken as they read
    low, high, each, common = -0.5, 2.5, 0.3, 0.4
    result = pair(internal, external, low, high, uncertainty=each, common_uncertainty=common)
    draws = 400_000
    noise = np.hypot(each, each) * rng.standard_normal((draws, result.good)) + common * rng.standard_normal((draws, 1))
    gaps = result.gap + noise
    happened = np.mean(np.all((gaps >= low) & (gaps <= high), axis=1))
    assert result.good == 2
    assert result.chance_all == pytest.approx(happened, abs=4 * 0.5 / math.sqrt(draws))
    alone = np.mean((gaps >= low) & (gaps <= high), axis=0)
    assert result.chance_each == pytest.approx(alone, abs=4 * 0.5 / math.sqrt(draws))


def test_without_uncertainty_the_pairs_hold_for_sure():
    result = pair([2.0, 3.0], [1.0, 2.0], 0, 2)
    assert result.chance_all == 1.0
    assert result.to_dict()["chance_all"] == 1.0


def test_no_pair_is_an_answer():
    result = pair([1.0], [5.0], 0.0, 1.0)
    assert (result.good, result.worst_margin, result.chance_all) == (0, None, None)
    assert str(result).startswith("No pair")
    assert result.to_dict()["near"] == []


def test_answer_reads_and_carries_sample_size_and_method():
    text = str(pair([2.0, 3.0, 9.0], [1.0, 2.0], 0, 2, uncertainty=0.6))
    assert "2 of 2 pairs" in text
    assert "From 3 internal and 2 external pieces" in text
    assert "exact" in text
    assert "left over: 1 internal, 0 external" in text


def test_open_limits_give_an_infinite_margin_and_even_gaps():
    result = pair([1.0, 5.0, 9.0], [0.0, 4.0, 8.0], None, None)
    assert result.worst_margin == math.inf
    assert result.gap.tolist() == [1.0, 1.0, 1.0]
    assert result.to_dict()["worst_margin"] is None


@pytest.mark.parametrize(
    ("arguments", "error", "words"),
    [
        (([], [1.0], 0, 1), NotEnoughData, "internal: 0 pieces"),
        (([1.0], [math.nan], 0, 1), TrackerError, "index 0"),
        (([1.0], [1.0], 2, 1), TrackerError, "swap them"),
        (([1.0], [1.0], math.nan, 1), TrackerError, "give a number, or None"),
        (([1.0], [1.0], 0, 1, math.nan), TrackerError, "target"),
        (([1.0], [1.0], 0, 1, None, -0.1), TrackerError, "numbers from zero up"),
        (([1.0], [1.0], 0, 1, None, np.array([0.1])), TrackerError, "which side"),
        (([1.0], [1.0], 0, 1, None, (0.1, [0.1, 0.2])), TrackerError, "one for each of 1 pieces"),
        (([1.0], [1.0], 0, 1, None, (0.1, 0.1, 0.1)), TrackerError, "found 3 entries"),
    ],
)
def test_refusals_say_what_is_wanted(arguments, error, words):
    with pytest.raises(error, match=words):
        pair(*arguments)


def test_a_hundred_thousand_a_side_sorted_to_sorted():
    rng = np.random.default_rng(9)
    internal, external = rng.normal(25.01, 0.004, 100_000), rng.normal(25.0, 0.004, 100_000)
    result = pair(internal, external, 0.0, 0.02)
    assert result.good == 100_000
    assert result.worst_margin == pytest.approx(
        np.minimum(np.sort(internal) - np.sort(external), 0.02 - np.sort(internal) + np.sort(external)).min()
    )


def test_large_batches_with_left_overs_agree_with_maximum_matching():
    rng = np.random.default_rng(10)
    internal, external = rng.normal(0.0, 1.5, 1500), rng.normal(0.0, 1.0, 1400)
    gap = internal[:, None] - external
    allowed = csr_array(np.abs(gap) <= 0.3)
    expected = int((maximum_bipartite_matching(allowed, perm_type="column") >= 0).sum())
    result = pair(internal, external, -0.3, 0.3)
    assert result.good == expected < 1400
    # nothing better: with the margin just above, fewer pairs are possible
    tighter = csr_array(np.abs(gap) <= 0.3 - result.worst_margin - 1e-9)
    assert int((maximum_bipartite_matching(tighter, perm_type="column") >= 0).sum()) < expected


def test_brute_force_itself_finds_the_known_best():
    """The oracle is tried on a case worked by hand, so that it cannot agree by being wrong the same way."""
    assert best_of_all([2.0, 4.0], [1.0, 3.0], 0.0, 2.0, 1.0) == (2, 1.0, 0.0)
    every = [
        sum((a - b) ** 2 for a, b in zip((1, 2, 4), order, strict=True)) for order in itertools.permutations((0, 1, 2))
    ]
    assert best_of_all([1.0, 2.0, 4.0], [0.0, 1.0, 2.0], -math.inf, math.inf, 0.0)[2] == -min(every)
