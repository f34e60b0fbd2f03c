"""Lines through runs, held against scipy and statsmodels."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from tracker.drift.lines import common_fit, robust_slope, run_sums, separate_fit, slopes_differ_p


def drawn(seed, sizes, slopes):
    rng = np.random.default_rng(seed)
    run = np.repeat(np.arange(len(sizes)), sizes)
    x = np.arange(1.0, run.size + 1)
    y = 10 + np.asarray(slopes)[run] * x + 0.3 * run + rng.normal(0, 0.5, run.size)
    return x, y, run


def test_one_run_is_the_ordinary_line():
    x, y, run = drawn(1, [17], [0.1])
    fit = common_fit(x, y, run, run_sums(x, y, run, 1))
    known = stats.linregress(x, y)
    assert fit.slopes[0] == pytest.approx(known.slope, rel=1e-12)
    assert np.sqrt(fit.variance / fit.slope_sxx[0]) == pytest.approx(known.stderr, rel=1e-10)
    assert fit.dof == 15


def test_common_and_separate_slopes_are_those_of_an_analysis_of_covariance():
    x, y, run = drawn(2, [9, 6, 12], [0.1, 0.1, 0.25])
    sums = run_sums(x, y, run, 3)
    dummies = (run[:, None] == np.arange(3)).astype(float)
    together = sm.OLS(y, np.column_stack([dummies, x])).fit()
    apart = sm.OLS(y, np.column_stack([dummies, dummies * x[:, None]])).fit()
    common, separate = common_fit(x, y, run, sums), separate_fit(x, y, run, sums)
    assert common.slopes[0] == pytest.approx(together.params[3], rel=1e-10)
    assert separate.slopes == pytest.approx(apart.params[3:], rel=1e-10)
    assert np.sqrt(common.variance / common.slope_sxx[0]) == pytest.approx(together.bse[3], rel=1e-10)
    f, p, _ = apart.compare_f_test(together)
    assert slopes_differ_p(common, separate) == pytest.approx(p, rel=1e-8)
    assert f > 1


def test_robust_slope_is_theil_and_sen():
    x, y, run = drawn(3, [25], [0.1])
    y[4] += 40
    y[11] = y[12]
    slope, method = robust_slope(x, y, run, 0.9)
    known = stats.theilslopes(y, x, alpha=0.9)
    assert slope.estimate == pytest.approx(known.slope, rel=1e-12)
    assert slope.low == pytest.approx(known.low_slope, rel=1e-12)
    assert slope.high == pytest.approx(known.high_slope, rel=1e-12)
    assert "Sen" in method


@pytest.mark.parametrize("n", [4, 7, 11, 16])
@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.95])
def test_robust_interval_with_ties(n, confidence):
    rng = np.random.default_rng(n)
    x, y = np.sort(rng.integers(0, n, n)).astype(float), rng.integers(0, 5, n).astype(float)
    slope, _ = robust_slope(x, y, np.zeros(n, dtype=int), confidence)
    known = stats.theilslopes(y, x, alpha=confidence)
    assert (slope.low, slope.high) == pytest.approx((known.low_slope, known.high_slope), rel=1e-12)


def test_robust_slope_of_many_pieces_pairs_half_a_run_apart():
    rng = np.random.default_rng(4)
    x = np.arange(1.0, 20_001)
    y = 3 + 0.001 * x + rng.normal(0, 1, x.size)
    slope, method = robust_slope(x, y, np.zeros(x.size, dtype=int), 0.95)
    assert "incomplete" in method
    assert slope.low < 0.001 < slope.high
    assert slope.high - slope.low < 2e-5


def test_far_off_origin_costs_no_digits():
    x, y, run = drawn(5, [12], [0.1])
    near = common_fit(x, y, run, run_sums(x, y, run, 1))
    far = common_fit(x + 1e6, y + 1e4, run, run_sums(x + 1e6, y + 1e4, run, 1))
    assert far.slopes[0] == pytest.approx(near.slopes[0], rel=1e-9)
