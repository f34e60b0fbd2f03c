"""Capability against published examples and tables."""

import math

import numpy as np
import pytest
from scipy import special, stats

from tracker.errors import NotEnoughData
from tracker.spread import capability
from tracker.spread.indices import bissell_interval, index_bound


def with_mean_and_sd(mean, sd, n=8):
    """Return n sizes with exactly that mean and sd."""
    base = np.arange(n) - (n - 1) / 2
    return mean + base * sd / base.std(ddof=1)


def test_handbook_example(case):
    item = case("cap-nist-616")
    given, expected, tolerance = item["inputs"], item["expected"], item["tolerance"]["abs"]
    found = capability(with_mean_and_sd(given["mean"], given["sd"]), given["LSL"], given["USL"], distribution="normal")
    assert found.pp.estimate == pytest.approx(expected["Cp"], abs=tolerance)
    assert found.ppk.estimate == pytest.approx(expected["Cpk"], abs=tolerance)
    sizes = with_mean_and_sd(given["mean"], given["sd"])
    assert capability(sizes, None, given["USL"]).ppk.estimate == pytest.approx(expected["Cpu"], abs=tolerance)
    assert capability(sizes, given["LSL"], None).ppk.estimate == pytest.approx(expected["Cpl"], abs=tolerance)


@pytest.mark.parametrize("name", ["cap-cpk-ci-magazine", "cap-cpk-ci-approx-n20"])
def test_approximate_interval(case, name):
    item = case(name)
    given, expected = item["inputs"], item["expected"]
    low, high = bissell_interval(given["Cpk_hat"], given["n"], given["n"] - 1, given["confidence"])
    assert low == pytest.approx(expected["lower"], abs=item["tolerance"]["abs"])
    assert high == pytest.approx(expected["upper"], abs=item["tolerance"]["abs"])


def test_bissell_stands_beside_the_better_interval(case):
    given = case("cap-cpk-ci-magazine")["inputs"]
    sizes = with_mean_and_sd(0.0, 1.0, given["n"])
    found = capability(sizes, None, 3 * given["Cpk_hat"], distribution="normal")
    assert found.bissell.low == pytest.approx(0.89, abs=0.006)
    assert found.bissell.high == pytest.approx(1.41, abs=0.006)


def test_exact_one_sided_bound(case):
    item = case("cap-cpk-exact-small-n")
    for given, expected in zip(item["inputs"]["cases"], item["expected"]["lower95_one_sided"], strict=True):
        n, index = given["n"], given["index_hat"]
        assert index_bound(index, n, n - 1, 0.95) == pytest.approx(expected, abs=item["tolerance"]["abs"])
        # A two-sided 90 % interval has the one-sided 95 % bound as its lower end.
        found = capability(with_mean_and_sd(0.0, 1.0, n), None, 3 * index, confidence=0.9, distribution="normal")
        assert found.ppk.low == pytest.approx(expected, abs=item["tolerance"]["abs"])


def test_fallout_table(case):
    item = case("cap-ppm-table")
    expected = item["expected"]
    for ratio, one, two in zip(
        item["inputs"]["PCR"], expected["one_sided_exact"], expected["two_sided_exact"], strict=True
    ):
        found = capability(with_mean_and_sd(0.0, 1.0), -3 * ratio, 3 * ratio, distribution="normal")
        assert 1e6 * found.beyond_upper.estimate == pytest.approx(one, rel=item["tolerance"]["exact_rel"])
        assert 1e6 * found.beyond.estimate == pytest.approx(two, rel=item["tolerance"]["exact_rel"])


def test_detectable_ratio(case):
    # Kane's ratio of capabilities is the ratio of the ends of a 90 % interval of Cp.
    item = case("cap-kane-ratio")
    for n, exact in item["expected"]["exact"].items():
        sizes = with_mean_and_sd(0.0, 1.0, int(n))
        found = capability(sizes, -3.0, 3.0, confidence=0.9, distribution="normal").pp
        assert found.high / found.low == pytest.approx(exact, abs=5e-5)
        assert found.high / found.low == pytest.approx(item["expected"]["ratio"][n], abs=item["tolerance"]["abs"])


def test_cpm(case):
    item = case("cap-cpm")
    given, expected = item["inputs"], item["expected"]
    sizes = with_mean_and_sd(given["mean"], given["sd"])
    found = capability(sizes, given["LSL"], given["USL"], target=given["target"], distribution="normal")
    assert found.cpm.estimate == pytest.approx(expected["Cpm"], abs=item["tolerance"]["abs"])
    assert found.pp.estimate == pytest.approx(expected["Cp"], abs=item["tolerance"]["abs"])
    assert found.ppk.estimate == pytest.approx(expected["Cpk"], abs=item["tolerance"]["abs"])


def test_pieces_needed_is_the_least_number_that_shows_it():
    # Independent: noncentral t of scipy.stats.
    found = capability(with_mean_and_sd(0.0, 1.0, 12), -5.0, 5.0, asked=1.33, distribution="normal")
    n, index = found.pieces_needed, 5 / 3

    def shown(m):
        return stats.nct.sf(3 * index * math.sqrt(m), m - 1, 3 * 1.33 * math.sqrt(m)) <= 0.05

    assert shown(n)
    assert not shown(n - 1)


def test_moving_range_and_mean_range_by_hand():
    # d2(2) = 1.128, d2(3) = 1.693 (ASTM MNL 7 table, from memory).
    sizes = np.array([10.0, 10.3, 10.1, 10.4, 10.2, 10.6])
    single = capability(sizes, 9.0, 11.0, distribution="normal")
    assert single.within_sd == pytest.approx(np.mean([0.3, 0.2, 0.3, 0.2, 0.4]) / 1.128, rel=5e-4)
    threes = capability(sizes, 9.0, 11.0, subgroup=3, within="mean_range", distribution="normal")
    assert threes.within_sd == pytest.approx(np.mean([0.3, 0.4]) / 1.693, rel=5e-4)
    pooled = capability(sizes, 9.0, 11.0, subgroup=3, distribution="normal")
    assert pooled.within_sd == pytest.approx(math.sqrt((sizes[:3].var(ddof=1) + sizes[3:].var(ddof=1)) / 2))


def test_quantile_method_on_a_rayleigh():
    # ISO 22514-2 general method by hand: quantiles of a Rayleigh are s sqrt(-2 ln(1 - p)).
    rng = np.random.default_rng(20)
    sizes = rng.rayleigh(2.0, 60)
    scale = math.sqrt(float(np.mean(sizes**2)) / 2)
    low, middle, high = (scale * math.sqrt(-2 * math.log1p(-p)) for p in (0.00135, 0.5, 0.99865))
    found = capability(sizes, None, 9.0, distribution="rayleigh")
    assert found.ppk.estimate == pytest.approx((9 - middle) / (high - middle), rel=1e-9)
    assert found.beyond_upper.estimate == pytest.approx(math.exp(-((9 / scale) ** 2) / 2), rel=1e-9)
    both = capability(sizes, 0.01, 9.0, distribution="rayleigh")
    assert both.pp.estimate == pytest.approx(8.99 / (high - low), rel=1e-9)


def test_share_beyond_one_limit_has_the_noncentral_t_interval():
    # Owen & Hua (1977): the upper bound of the share beyond a limit is Phi(-nc/sqrt(n)), nc from the noncentral t.
    found = capability(with_mean_and_sd(0.0, 1.0, 12), None, 3.0, confidence=0.9, distribution="normal")
    nc = -special.ndtri(found.beyond_upper.high) * math.sqrt(12)
    assert stats.nct.sf(3.0 * math.sqrt(12), 11, nc) == pytest.approx(0.05, rel=1e-6)


def test_equal_sizes_have_no_capability():
    with pytest.raises(NotEnoughData, match="same size"):
        capability([10.0] * 5, 9.0, 11.0)
