"""Interval-censored normal fits against R survreg, closed forms, and scipy's own censored fit."""

import numpy as np
import pytest
from scipy import optimize, stats

from tracker.spread import interval_fit


def expand(edges, counts):
    open_edges = [-np.inf if i == 0 and e is None else (np.inf if e is None else e) for i, e in enumerate(edges)]
    low = np.repeat(open_edges[:-1], counts)
    high = np.repeat(open_edges[1:], counts)
    return low, high


@pytest.mark.parametrize("name", ["ic-pins-6mm", "ic-plug-quarter-inch"])
def test_pins(case, name):
    item = case(name)
    expected, tolerance = item["expected"], item["tolerance"]
    found = interval_fit(*expand(item["inputs"]["interval_edges"], item["inputs"]["counts"]))
    sigma = expected["sigma_ml"]
    assert found.sd.estimate == pytest.approx(sigma, rel=tolerance["sigma_rel"])
    assert abs(found.mean.estimate - expected["mean"]) / sigma < tolerance["rel_mean_over_sigma"]
    assert found.log_likelihood == pytest.approx(expected["loglik"], abs=tolerance["loglik_abs"])
    assert found.standard_error_mean == pytest.approx(expected["se_mean"], rel=tolerance["se_rel"])
    assert found.standard_error_log_sd == pytest.approx(expected["se_log_sigma"], rel=tolerance["se_rel"])


def test_readings_and_bounds_mixed(case):
    item = case("ic-mixed")
    exact, intervals = item["inputs"]["exact"], item["inputs"]["intervals"]
    low = exact + [-np.inf if pair[0] is None else pair[0] for pair in intervals]
    high = exact + [np.inf if pair[1] is None else pair[1] for pair in intervals]
    found = interval_fit(low, high)
    expected, tolerance = item["expected"], item["tolerance"]
    assert found.mean.estimate == pytest.approx(expected["mean"], abs=tolerance["abs_mean"])
    assert found.sd.estimate == pytest.approx(expected["sigma_ml"], rel=tolerance["sigma_rel"])
    assert found.log_likelihood == pytest.approx(expected["loglik"], abs=tolerance["loglik_abs"])


def test_three_categories_in_closed_form(case):
    item = case("ic-closed-form-3cat-b")
    given, expected = item["inputs"], item["expected"]
    found = interval_fit(*expand([None, given["go"], given["nogo"], None], given["counts"]))
    assert found.mean.estimate == pytest.approx(expected["mean"], rel=item["tolerance"]["rel"])
    assert found.sd.estimate == pytest.approx(expected["sigma"], rel=item["tolerance"]["rel"])


def test_one_limit_leaves_the_spread_open(case):
    item = case("ic-one-limit-only")
    limit, counts, expected = item["inputs"]["limit"], item["inputs"]["counts"], item["expected"]
    found = interval_fit(*expand([None, limit, None], counts))
    assert found.mean is None
    assert found.sd is None
    assert "one limit" in found.reason
    assert found.share_below.estimate == pytest.approx(expected["p_below"])
    ends = [found.share_below.low, found.share_below.high]
    assert ends == pytest.approx(expected["clopper_pearson95"], abs=item["tolerance"]["abs"])


def test_against_scipy_censored_data():
    rng = np.random.default_rng(8)
    size = rng.normal(10.0, 0.02, 24)
    low = np.floor(size / 0.01) * 0.01
    high = low + 0.01
    data = stats.CensoredData(interval=np.column_stack([low, high]))
    # scipy's own fit stops at four digits, so its likelihood is maximised here to the end.
    rough = stats.norm.fit(data)
    start = np.array([rough[0], np.log(rough[1])])
    best = optimize.minimize(
        lambda p: -np.log(np.diff(stats.norm.cdf([low, high], p[0], np.exp(p[1])), axis=0)).sum(),
        start,
        method="Nelder-Mead",
        options={"xatol": 1e-10, "fatol": 1e-12, "initial_simplex": np.add(start, [[0, 0], [0.001, 0], [0, 0.05]])},
    )
    found = interval_fit(low, high)
    assert found.mean.estimate == pytest.approx(best.x[0], abs=1e-8)
    assert found.sd.estimate == pytest.approx(np.exp(best.x[1]), rel=1e-6)
    assert found.log_likelihood == pytest.approx(-best.fun, abs=1e-9)
    assert found.mean.estimate == pytest.approx(rough[0], abs=2e-5)


def test_exact_readings_give_the_t_and_the_chi_square_interval():
    sizes = np.random.default_rng(9).normal(10.0, 0.02, 9)
    found = interval_fit(sizes, sizes)
    assert found.sd.estimate == pytest.approx(sizes.std(), rel=1e-8)
    t = stats.t.interval(0.95, 8, sizes.mean(), sizes.std(ddof=1) / 3)
    assert [found.mean.low, found.mean.high] == pytest.approx(t, abs=1e-7)
    ends = np.sqrt(8 * sizes.var(ddof=1) / stats.chi2.ppf([0.975, 0.025], 8))
    assert [found.sd.low, found.sd.high] == pytest.approx(ends, rel=1e-6)
