"""Tests of normality against scipy and statsmodels."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.diagnostic import normal_ad

from tracker.errors import NotEnoughData
from tracker.spread import normality


@pytest.mark.parametrize("n", [3, 4, 5, 6, 11, 12, 40, 300])
@pytest.mark.parametrize("draw", ["normal", "exponential", "uniform"])
def test_against_scipy_and_statsmodels(n, draw):
    rng = np.random.default_rng([n, 1])
    sizes = {"normal": rng.normal(25, 0.01, n), "exponential": rng.exponential(1, n), "uniform": rng.random(n)}[draw]
    found = normality(sizes)
    w, p = stats.shapiro(sizes)
    assert found.shapiro_wilk == pytest.approx(w, abs=2e-6)
    assert found.shapiro_wilk_p == pytest.approx(p, rel=2e-4, abs=1e-9)
    if n > 4:
        statistic, p = normal_ad(sizes)
        assert found.anderson_darling == pytest.approx(statistic, rel=1e-9)
        if p > 1e-20:
            assert found.anderson_darling_p == pytest.approx(p, rel=1e-6)


def test_scale_and_place_do_not_matter():
    sizes = np.random.default_rng(4).normal(0, 1, 20)
    one, other = normality(sizes), normality(25.0 + 1e-3 * sizes)
    assert one.shapiro_wilk == pytest.approx(other.shapiro_wilk, rel=1e-9)
    assert one.anderson_darling == pytest.approx(other.anderson_darling, rel=1e-8)


def test_words():
    rng = np.random.default_rng(5)
    assert "can hardly tell" in str(normality(rng.normal(0, 1, 8)))
    assert "do not look normal" in str(normality(rng.exponential(1, 60)))
    assert "step" in str(normality(np.round(rng.normal(0, 0.5, 40))))
    with pytest.raises(NotEnoughData, match="2 pieces"):
        normality([1.0, 2.0])
    with pytest.raises(NotEnoughData, match="same size"):
        normality([1.0] * 5)


@pytest.mark.parametrize(("n", "said"), [(5, 1 / 6), (8, 1 / 3), (12, 0.5), (30, 0.97)])
def test_the_power_it_speaks_of(n, said):
    # The remark says how often a lopsided (exponential) spread would be noticed at 5 %.
    rng = np.random.default_rng([n, 6])
    caught = np.mean([normality(rng.exponential(1, n)).shapiro_wilk_p < 0.05 for _ in range(1500)])
    assert caught == pytest.approx(said, abs=0.06)
