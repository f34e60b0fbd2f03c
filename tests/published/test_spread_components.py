"""Components of variance against published one-way examples."""

import math

import numpy as np
import pytest

from tracker.spread import components, grouped_sums
from tracker.spread.variance import reml_one_way


@pytest.fixture
def loom(bank_data):
    table = np.genfromtxt(bank_data / "loom.csv", delimiter=",", skip_header=1)
    return table[:, 1], table[:, 0].astype(int)


def test_loom(case, loom):
    item = case("oneway-loom")
    expected, tolerance = item["expected"], item["tolerance"]["abs"]
    found = components(*loom)
    assert found.between_sd.estimate**2 == pytest.approx(expected["var_looms"], abs=tolerance)
    assert found.within_sd.estimate**2 == pytest.approx(expected["var_error"], abs=tolerance)
    between = (4 * found.between_sd.estimate**2 + found.within_sd.estimate**2) * 3
    assert between == pytest.approx(expected["SS_looms"], abs=tolerance)
    assert found.within_sd.estimate**2 * 12 == pytest.approx(expected["SS_error"], abs=tolerance)
    assert found.method == "ANOVA"


def test_loom_intervals(case, loom):
    item = case("oneway-loom-ci")
    expected, tolerance = item["expected"], item["tolerance"]["rel"]
    found = components(*loom, confidence=item["inputs"]["confidence"])
    within, ratio, share = found.within_sd, found.ratio, found.share_between
    assert [within.low**2, within.high**2] == pytest.approx(expected["var_error"], rel=tolerance)
    assert [ratio.low, ratio.high] == pytest.approx(expected["ratio_between_to_error"], rel=tolerance)
    assert [share.low, share.high] == pytest.approx(expected["icc"], rel=tolerance)
    assert share.estimate == pytest.approx(expected["icc_point"], rel=tolerance)


def test_loom_between_interval_after_burdick_and_graybill(loom):
    # Independent arithmetic of the modified-large-sample formulas with scipy.stats quantiles.
    from scipy import stats

    s1, s2, n1, n2, k, a = 29.7291666667, 1.8958333333, 3, 12, 4, 0.025
    g1, g2 = (1 - 1 / stats.f.ppf(1 - a, n, 1e12) for n in (n1, n2))
    h1, h2 = (1 / stats.f.ppf(a, n, 1e12) - 1 for n in (n1, n2))
    top, bottom = stats.f.ppf(1 - a, n1, n2), stats.f.ppf(a, n1, n2)
    g12 = ((top - 1) ** 2 - g1**2 * top**2 - h2**2) / top
    h12 = ((1 - bottom) ** 2 - h1**2 * bottom**2 - g2**2) / bottom
    low = (s1 - s2 - math.sqrt(g1**2 * s1**2 + h2**2 * s2**2 + g12 * s1 * s2)) / k
    high = (s1 - s2 + math.sqrt(h1**2 * s1**2 + g2**2 * s2**2 + h12 * s1 * s2)) / k
    found = components(*loom).between_sd
    assert [found.low**2, found.high**2] == pytest.approx([low, high], rel=1e-6)


def test_dyestuff(case):
    item = case("oneway-dyestuff")
    batches, expected, tolerance = item["inputs"]["batches"], item["expected"], item["tolerance"]["rel"]
    value = np.array([v for rows in batches.values() for v in rows], dtype=float)
    group = np.repeat(np.arange(len(batches)), 5)
    between, within = reml_one_way(grouped_sums(value, group))
    assert between == pytest.approx(expected["REML"]["var_between"], rel=tolerance)
    assert within == pytest.approx(expected["REML"]["var_within"], rel=tolerance)
    found = components(value, group)
    # Balanced and positive: the mean squares give the same as REML.
    assert found.between_sd.estimate**2 == pytest.approx(expected["REML"]["var_between"], rel=tolerance)
    assert found.mean == pytest.approx(expected["mean"])
    f = 1 + 5 * found.ratio.estimate
    assert f == pytest.approx(expected["anova"]["F"], abs=5e-4)


def test_unbalanced_dyestuff_against_statsmodels():
    # statsmodels 0.14 MixedLM, REML, on the Dyestuff data with five readings left out.
    import warnings

    import pandas as pd
    import statsmodels.formula.api as smf

    value = [1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1595, 1550, 1605, 1510, 1445, 1440, 1595]
    value += [1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480]
    group = [0] * 5 + [1] * 4 + [2] * 4 + [3] * 3 + [4] * 5 + [5] * 4
    frame = pd.DataFrame({"value": value, "group": group})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = smf.mixedlm("value ~ 1", frame, groups=frame["group"]).fit(reml=True)
    found = components(np.array(value, dtype=float), group)
    assert found.method.startswith("REML")
    assert found.within_sd.estimate**2 == pytest.approx(model.scale, rel=1e-4)
    assert found.between_sd.estimate**2 == pytest.approx(float(model.cov_re.iloc[0, 0]), rel=2e-3)


def test_zener_voltage(case):
    # GUM H.5 prints day means and sds; five readings with exactly those are made for each day.
    item = case("gum-h5-anova")
    given, expected, tolerance = item["inputs"], item["expected"], item["tolerance"]
    k, days = given["K"], given["J"]
    base = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    base /= base.std(ddof=1)
    means = np.array(given["day_means"])
    value = (means[:, None] + 1e-6 * np.array(given["day_sds_uV"])[:, None] * base).ravel()
    found = components(value, np.repeat(np.arange(days), k))
    assert found.mean == pytest.approx(expected["mean"], abs=tolerance["mean_abs"])
    s_b = 1e6 * found.within_sd.estimate
    assert s_b == pytest.approx(expected["s_b_uV"], abs=tolerance["abs_uV"])
    assert 1e6 * found.between_sd.estimate == pytest.approx(expected["s_B_uV"], abs=tolerance["abs_uV"])
    s_a = 1e6 * math.sqrt(k * found.between_sd.estimate**2 + found.within_sd.estimate**2)
    assert s_a == pytest.approx(expected["s_a_uV"], abs=tolerance["abs_uV"])
    # The printed F = 2.25 comes from the rounded 57 and 85; unrounded it is 2.26.
    f = 1 + k * found.ratio.estimate
    assert f == pytest.approx(expected["F"], abs=tolerance["F_abs"])
    assert 1e6 * math.sqrt(means.var(ddof=1) / days) == pytest.approx(expected["u_mean_uV"], abs=tolerance["abs_uV"])
