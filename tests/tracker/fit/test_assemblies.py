"""Assemblies: exact for two terms against every order, sound for three, and honest about what stays outside."""

import itertools
from itertools import permutations

import numpy as np
import pytest

from tracker.errors import NotEnoughData, TrackerError
from tracker.fit.assemblies import assemblies


def best_of_all(first, second, low, high):
    """Return (outside, squares) of the best way to give each of the fewer pieces one of the others, by trying all."""
    aim = (low + high) / 2
    tried = []
    for order in permutations(range(len(second)), len(first)):
        sums = np.array([first[index] + second[place] for index, place in enumerate(order)])
        tried.append((int(np.sum((sums < low) | (sums > high))), float(np.sum((sums - aim) ** 2))))
    return min(tried)


@pytest.mark.parametrize("seed", range(12))
def test_two_terms_are_the_best_of_all_ways(seed):
    rng = np.random.default_rng(seed)
    heads, depths = rng.normal(0.5, 0.0004, 5), rng.normal(0.125, 0.0004, 6)
    found = assemblies([(1, heads), (-1, depths)], 0.3748, 0.3752)
    outside, squares = best_of_all(heads, -depths, 0.3748, 0.3752)
    assert len(found.sums) - found.good == outside
    assert np.sum((found.sums - 0.375) ** 2) == pytest.approx(squares)
    assert found.method == "the best of all ways"


def test_each_piece_is_used_once_and_the_sum_is_that_of_the_pieces():
    rng = np.random.default_rng(3)
    sizes = [rng.normal(10, 0.01, many) for many in (9, 7, 8)]
    factors = [1, 2, -1]
    found = assemblies(list(zip(factors, sizes)), 19.98, 20.02)
    assert found.picks.shape == (7, 3)
    for place in range(3):
        assert len(set(found.picks[:, place].tolist())) == 7
    sums = sum(factor * own[found.picks[:, place]] for place, (factor, own) in enumerate(zip(factors, sizes)))
    np.testing.assert_allclose(found.sums, sums)
    assert "other ways" in found.method


@pytest.mark.parametrize("seed", range(6))
def test_three_terms_are_never_worse_than_as_they_come(seed):
    rng = np.random.default_rng(seed)
    sizes = [rng.normal(1, 0.001, 8) for _ in range(3)]
    found = assemblies([(1, part) for part in sizes], 2.999, 3.001)
    plain = sum(sizes)
    assert found.good >= np.sum((plain >= 2.999) & (plain <= 3.001))


def most_of_all(sizes, low, high):
    """Return how many sums of three terms can be within limits at once, by trying every way."""
    first, second, third = sorted(sizes, key=len)
    best = 0
    for one in itertools.permutations(second, len(first)):
        for two in itertools.permutations(third, len(first)):
            sums = first + np.array(one) + np.array(two)
            best = max(best, int(np.sum((sums >= low) & (sums <= high))))
    return best


@pytest.mark.parametrize("seed", range(24))
def test_three_terms_of_few_pieces_have_the_most_of_all_ways(seed):
    rng = np.random.default_rng(seed)
    sizes = [rng.normal(1, 0.001 * rng.uniform(0.2, 3), many) for many in ((4, 4, 4) if seed % 2 else (3, 5, 4))]
    middle = 3 + rng.normal(0, 0.001)
    found = assemblies([(1, part) for part in sizes], middle - 0.0008, middle + 0.0008)
    assert found.good == found.most == most_of_all(sizes, middle - 0.0008, middle + 0.0008)
    assert "no way has more" in found.method


def test_what_the_mean_of_all_sums_rules_out_needs_no_search():
    """Sums of 3.3 to 3.9 with a mean of 3.6: however the forty meet, few enough lie under 3.5."""
    rng = np.random.default_rng(1)
    sizes = [1.2 + 0.1 * rng.uniform(-1, 1, 40) for _ in range(3)]
    found = assemblies([(1, part) for part in sizes], None, 3.5)
    total, farthest = sum(part.sum() for part in sizes), sum(part.max() for part in sizes)
    assert found.good <= found.most <= (40 * farthest - total) / (farthest - 3.5) < 40


def test_more_pieces_than_can_be_searched_are_said_to_be_a_heuristic():
    methods = set()
    for seed in range(12):
        rng = np.random.default_rng(seed)
        sizes = [rng.normal(1, 0.001, 12) for _ in range(3)]
        found = assemblies([(1, part) for part in sizes], 2.9996, 3.0004)
        assert found.good <= found.most
        methods.add(found.method if found.good < found.most else "proven")
    assert methods == {"proven", "each term in turn given its best place; other ways may do as well, or better"}


def test_a_sum_on_its_limit_is_within_and_one_open_end_is_no_trouble():
    found = assemblies([(1, [0.5, 0.6]), (1, [0.1])], None, 0.6)
    assert (found.good, found.sums.tolist(), found.margins.tolist()) == (1, [0.6], [0.0])


def test_what_cannot_be_put_together_is_said():
    with pytest.raises(NotEnoughData, match="no measured piece"):
        assemblies([(1, [1.0]), (-1, [])], 0, 1)
    with pytest.raises(TrackerError, match="neither a limit nor a target"):
        assemblies([(1, [1.0])], None, None)
    with pytest.raises(TrackerError, match="more than 600"):
        assemblies([(1, np.ones(601))], 0, 2)
