"""Tolerance factors and intervals against published tables."""

import numpy as np
import pytest

from tracker.errors import NotEnoughData
from tracker.spread import tolerance_factor, tolerance_interval
from tracker.spread.tolerance import distribution_free_pieces, howe_factor


def test_handbook_example(case):
    item = case("ti-nist-7263-two")
    given, expected, tolerance = item["inputs"], item["expected"], item["tolerance"]
    n, coverage, confidence = given["n"], given["coverage"], given["confidence"]
    # The printed 2.217 is Howe's approximation; the exact factor is 2.2228.
    assert howe_factor(n, coverage, confidence) == pytest.approx(expected["k2"], abs=tolerance["k2_abs"])
    exact = tolerance_factor(n, coverage, confidence)
    assert exact == pytest.approx(expected["k2_exact"], abs=tolerance["exact_abs"])
    base = np.arange(n) - (n - 1) / 2
    sizes = given["mean"] + base * given["s"] / base.std(ddof=1)
    found = tolerance_interval(sizes, coverage, confidence, method="howe")
    assert found.low == pytest.approx(expected["lower"], abs=tolerance["limits_abs"])
    assert found.high == pytest.approx(expected["upper"], abs=tolerance["limits_abs"])


def test_exact_two_sided(case):
    item = case("ti-exact-two-sided-9595")
    for n, printed in item["expected"]["k2"].items():
        k = tolerance_factor(int(n))
        assert k == pytest.approx(printed, abs=item["tolerance"]["abs"])
        assert k == pytest.approx(item["expected"]["k2_computed"][n], abs=item["tolerance"]["computed_abs"])


def test_old_table_is_not_what_we_print(case):
    # The old table is the Wald-Wolfowitz approximation; ours is exact; at n = 10 they differ by 0.014.
    printed = case("ti-waldwolfowitz-9595")["expected"]["k"]["10"]
    assert printed == 3.379
    assert abs(tolerance_factor(10) - printed) > 0.01


def wald_wolfowitz(n, coverage, confidence):
    from scipy import optimize, stats

    off = 1 / np.sqrt(n)
    r = optimize.brentq(lambda r: stats.norm.cdf(off + r) - stats.norm.cdf(off - r) - coverage, 0, 10)
    return r * np.sqrt((n - 1) / stats.chi2.ppf(1 - confidence, n - 1))


def test_old_table_reproduces_from_its_own_formula(case):
    item = case("ti-waldwolfowitz-9595")
    for n, printed in item["expected"]["k"].items():
        assert wald_wolfowitz(int(n), 0.95, 0.95) == pytest.approx(printed, abs=item["tolerance"]["abs"])


def test_grid(case):
    item = case("ti-grid-computed")
    for coverage, confidence in item["inputs"]["combos"]:
        key = f"{coverage}/{confidence}"
        for sides, name in ((1, "one_sided"), (2, "two_sided")):
            for n, expected in zip(item["inputs"]["n"], item["expected"][name][key], strict=True):
                found = tolerance_factor(n, coverage, confidence, sides)
                assert found == pytest.approx(expected, abs=item["tolerance"]["abs"]), (key, sides, n)


def test_pieces_for_extremes(case):
    item = case("ti-nonparametric-n")
    for sides, name in ((2, "two_sided_min_max"), (1, "one_sided")):
        for key, n in item["expected"][name].items():
            coverage, confidence = (float(part) for part in key.split("/"))
            assert distribution_free_pieces(coverage, confidence, sides) == n


def test_distribution_free_interval_is_the_extremes_at_the_least_number():
    sizes = np.random.default_rng(3).permutation(np.arange(93.0))
    found = tolerance_interval(sizes, method="distribution_free")
    assert (found.low, found.high) == (0.0, 92.0)
    assert found.achieved >= 0.95
    with pytest.raises(NotEnoughData, match="needs 93"):
        tolerance_interval(sizes[:92], method="distribution_free")
