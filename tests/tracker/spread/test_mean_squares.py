"""Intervals of sums of mean squares."""

import numpy as np
import pytest
from scipy import stats

from tracker.gauge.study_parts import f_test
from tracker.spread.mean_squares import Term, chi_square_reach, combine, combined_interval, generalised_interval


def test_one_term_is_the_exact_chi_square_interval():
    term = Term(weight=2.0, mean_square=3.0, dof=7)
    low, high = combined_interval([term], 0.95)
    assert low == pytest.approx(2 * 3 * 7 / stats.chi2.ppf(0.975, 7))
    assert high == pytest.approx(2 * 3 * 7 / stats.chi2.ppf(0.025, 7))


def test_a_difference_reaches_zero_where_the_f_test_says_so():
    # Burdick & Graybill (1992), 3.3: an end of S1 - S2 is 0 exactly when F is at its critical value.
    below = Term(weight=-1, mean_square=1, dof=12)
    low, _ = combined_interval([Term(weight=1, mean_square=stats.f.ppf(0.975, 5, 12), dof=5), below], 0.95)
    assert low == pytest.approx(0, abs=1e-9)
    _, high = combined_interval([Term(weight=1, mean_square=stats.f.ppf(0.025, 5, 12), dof=5), below], 0.95)
    assert high == pytest.approx(0, abs=1e-9)


def test_the_lattice_gives_known_distributions():
    one, other = (
        Term(weight=1, mean_square=2.0, dof=4, source="a"),
        Term(weight=1, mean_square=3.0, dof=9, source="b"),
    )
    low, high = generalised_interval([one], lambda true: true["a"], 0.95)
    assert (low, high) == pytest.approx(chi_square_reach(2.0, 4, 0.95), rel=2e-3)
    # A ratio of two is F exactly.
    low, high = generalised_interval([one, other], lambda true: true["a"] / true["b"], 0.95)
    assert low == pytest.approx(2 / 3 * stats.f.ppf(0.025, 9, 4), rel=5e-3)
    assert high == pytest.approx(2 / 3 * stats.f.ppf(0.975, 9, 4), rel=5e-3)


def test_the_lattice_fills_four_dimensions():
    known = ((1, 4.0, 2), (0.5, 1.0, 9), (2, 0.5, 18), (1, 0.2, 60))
    terms = [Term(weight=w, mean_square=m, dof=d) for w, m, d in known]
    drawn = sum(
        t.weight * t.mean_square * t.dof / np.random.default_rng(i).chisquare(t.dof, 400_000)
        for i, t in enumerate(terms)
    )
    assert combined_interval(terms, 0.95) == pytest.approx(tuple(np.quantile(drawn, [0.025, 0.975])), rel=0.015)


@pytest.mark.parametrize(
    ("weights", "true", "dof"),
    [
        ([1, 1], [4.0, 1.0], [3, 12]),
        ([1, -1], [4.0, 1.0], [9, 18]),
        ([0.1, 0.3, -0.4], [5.0, 2.0, 1.0], [2, 18, 60]),
        ([0.1, 0.3, 0.6], [5.0, 2.0, 1.0], [2, 18, 60]),
    ],
    ids=["sum", "difference", "three with one negative", "three"],
)
def test_coverage(weights, true, dof):
    rng = np.random.default_rng(111)
    target = float(np.dot(weights, true))
    inside, runs = 0, 2000
    for _ in range(runs):
        squares = np.array(true) * rng.chisquare(dof) / dof
        terms = [Term(weight=w, mean_square=s, dof=d) for w, s, d in zip(weights, squares, dof)]
        low, high = combined_interval(terms, 0.95)
        assert low <= combine(terms) <= high
        inside += low <= target <= high
    # 2000 runs: standard error 0.5 points.
    assert 0.94 - 0.015 <= inside / runs <= 0.965 + 0.012


def test_f_test_with_no_scatter_below():
    assert f_test(1.0, 2, 0.0, 3) == (np.inf, 0.0)
    assert f_test(0.0, 2, 0.0, 3) == (0.0, 1.0)
    f, p = f_test(3.0, 2, 1.5, 8)
    assert (f, p) == pytest.approx((2.0, stats.f.sf(2.0, 2, 8)))
