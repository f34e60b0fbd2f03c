"""Intervals of sums of mean squares."""

import numpy as np
import pytest
from scipy import stats

from tracker.gauge.mean_squares import Term, combine, combined_interval, f_test


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


def test_equal_mean_squares_pool_exactly():
    # Ting et al. (1990): the cross terms are such that n1 S + n2 S behaves as one sum of squares of n1 + n2 degrees
    # of freedom; a vanishing negative term switches them on.
    terms = [Term(weight=4, mean_square=3.0, dof=4), Term(weight=9, mean_square=3.0, dof=9)]
    low, _ = combined_interval([*terms, Term(weight=-1e-12, mean_square=1.0, dof=5)], 0.95)
    assert low == pytest.approx(13 * 3.0 * 13 / stats.chi2.ppf(0.975, 13), rel=1e-6)


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
    # 2000 runs: standard error 0.5 points. Graybill & Wang: never much under the asked confidence, and above it where
    # a mean square of two degrees of freedom rules the upper end (it then misses far less often than 2.5 %).
    assert 0.935 <= inside / runs <= (0.965 if len(weights) < 3 else 0.99)


def test_f_test_with_no_scatter_below():
    assert f_test(1.0, 2, 0.0, 3) == (np.inf, 0.0)
    assert f_test(0.0, 2, 0.0, 3) == (0.0, 1.0)
    f, p = f_test(3.0, 2, 1.5, 8)
    assert (f, p) == pytest.approx((2.0, stats.f.sf(2.0, 2, 8)))
