"""Families that are not normal: fits and quantiles against scipy.stats."""

import numpy as np
import pytest
from scipy import optimize, stats

from tracker.errors import TrackerError
from tracker.spread import capability
from tracker.spread.nonnormal import FAMILIES, choose_family, fit_family

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
