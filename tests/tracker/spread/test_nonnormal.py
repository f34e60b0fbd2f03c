"""Families that are not normal: fits and quantiles against scipy.stats."""

import math

import numpy as np
import pytest
from scipy import optimize, stats

from tracker.errors import TrackerError
from tracker.spread import capability
from tracker.spread.nonnormal import FAMILIES, choose_family, family_tails, fit_family, quantile_indices
from tracker.spread.pivots import likely_parameters

DRAWS = {
    "lognormal": lambda rng: rng.lognormal(-4.0, 0.5, 80),
    "weibull": lambda rng: 0.01 * rng.weibull(1.7, 80),
    "rayleigh": lambda rng: rng.rayleigh(0.01, 80),
    "folded_normal": lambda rng: np.abs(rng.normal(0.01, 0.01, 80)),
}


def scipy_fit(family, sizes):
    if family == "lognormal":
        return stats.lognorm(*stats.lognorm.fit(sizes, floc=0))
    if family == "weibull":
        return stats.weibull_min(*stats.weibull_min.fit(sizes, floc=0))
    if family == "rayleigh":
        return stats.rayleigh(*stats.rayleigh.fit(sizes, floc=0))
    # scipy's own fit stops early; its likelihood is maximised here to the end.
    best = optimize.minimize(
        lambda p: -stats.foldnorm.logpdf(sizes, np.exp(p[0]), 0, np.exp(p[1])).sum(),
        [0.0, np.log(sizes.std())],
        method="Nelder-Mead",
        options={"xatol": 1e-10, "fatol": 1e-11},
    )
    return stats.foldnorm(np.exp(best.x[0]), 0, np.exp(best.x[1]))


@pytest.mark.parametrize("family", FAMILIES)
def test_fit_quantiles_and_shares_against_scipy(family):
    sizes = DRAWS[family](np.random.default_rng(1))
    found, known = fit_family(sizes, family), scipy_fit(family, sizes)
    assert found.log_likelihood >= known.logpdf(sizes).sum() - 1e-6
    for level in (0.00135, 0.5, 0.99865):
        assert found.quantile(level) == pytest.approx(
            known.ppf(level), rel=1e-3
        )  # scipy stops at about four digits; ours is likelier
        assert found.below(found.quantile(level)) == pytest.approx(level, rel=1e-7)
    assert (found.below(0.0), found.below(-1.0), found.below(np.inf)) == (0.0, 0.0, 1.0)


@pytest.mark.parametrize("family", FAMILIES)
def test_unit_does_not_matter(family):
    sizes = DRAWS[family](np.random.default_rng(2))
    one = capability(sizes, None, 0.08, distribution=family)
    other = capability(sizes * 25.4, None, 0.08 * 25.4, distribution=family)
    for name in ("ppk", "beyond"):
        a, b = getattr(one, name), getattr(other, name)
        assert [a.low, a.estimate, a.high] == pytest.approx([b.low, b.estimate, b.high], rel=2e-3)


def test_sizes_below_zero_are_refused():
    with pytest.raises(TrackerError, match="above zero"):
        capability([-1.0, 2.0, 3.0], None, 5.0, distribution="weibull")
    assert "below zero" in choose_family(np.r_[-1.0, np.ones(60)], 0.001)[1]


def test_normal_is_kept_unless_clearly_worse():
    sizes = np.random.default_rng(3).normal(10.0, 0.1, 80)
    assert choose_family(sizes, 0.3) == (None, "")
    assert choose_family(sizes, 0.005)[0] is None


def test_rayleigh_has_its_chi_square_interval():
    x = stats.rayleigh.rvs(size=12, random_state=4)
    fitted = fit_family(x, "rayleigh")
    _, ppk = quantile_indices(fitted, x, -math.inf, 4.5, 0.95)
    middle, high = stats.rayleigh.ppf([0.5, 0.99865])
    ends = np.sqrt(np.sum(x**2) / stats.chi2.ppf([0.975, 0.025], 24))
    wanted = (4.5 - ends * middle) / (ends * (high - middle))
    assert (ppk.low, ppk.high) == pytest.approx((wanted[1], wanted[0]), rel=2e-3)


def test_lognormal_share_is_the_noncentral_t_of_the_logs():
    x = stats.lognorm(0.3).rvs(size=9, random_state=5)
    _, _, beyond = family_tails(fit_family(x, "lognormal"), x, -math.inf, 2.0, 0.95)
    logs = np.log(x)
    k = (math.log(2.0) - logs.mean()) / logs.std(ddof=1)

    def share_at(level):
        found = optimize.brentq(lambda c: stats.nct.cdf(3 * k, 8, 3 * c) - level, -5, 20)
        return stats.norm.sf(found)

    assert (beyond.low, beyond.high) == pytest.approx((share_at(0.025), share_at(0.975)), rel=0.03)


def test_weibull_pivots_do_not_depend_on_the_truth():
    # The fitted over the true shape: mean by scipy's own fits of batches from another Weibull.
    rng = np.random.default_rng(6)
    ratios = [stats.weibull_min.fit(3.0 * rng.weibull(2.5, 10), floc=0)[0] / 2.5 for _ in range(300)]
    likely = likely_parameters("weibull", np.array([math.log(3.0), math.log(2.5)]), 10)
    assert likely.shape[0] == 2
    found = 2.5 / np.exp(likely[1])
    assert np.mean(found) == pytest.approx(np.mean(ratios), abs=4 * np.std(ratios) / math.sqrt(300))
    assert np.quantile(found, 0.9) == pytest.approx(np.quantile(ratios, 0.9), rel=0.08)


def test_a_tail_far_out_stays_above_zero():
    x = stats.weibull_min(2.0).rvs(size=6, random_state=1)
    _, _, beyond = family_tails(fit_family(x, "weibull"), x, -math.inf, 9.0, 0.95)
    assert beyond.low <= beyond.estimate < beyond.high
    assert beyond.high > 0
