"""Gauge studies: the 10 x 3 x 3 example of the automotive manual, and Montgomery, 20 x 3 x 2 (from memory)."""

import csv

import numpy as np
import pytest

from tracker.gauge import repeatability_study


def columns(path, *names):
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return [[row[name] for row in rows] for name in names]


@pytest.fixture(scope="module")
def ten_by_three(bank_data):
    part, who, y = columns(bank_data / "gauge_10x3x3.csv", "part", "appraiser", "y")
    return np.array(y, dtype=float), part, who


@pytest.fixture(scope="module")
def twenty_by_three(bank_data):
    part, who, y = columns(bank_data / "gauge_20x3x2.csv", "part", "operator", "y")
    return np.array(y, dtype=float), part, who


def test_average_and_range(case, ten_by_three):
    bank = case("gauge-10x3x3-range")
    expected, rel, points = bank["expected"], bank["tolerance"]["rel"], bank["tolerance"]["pct_abs"]
    study = repeatability_study(*ten_by_three, method="range")
    # The manual multiplies averages rounded to four figures: 3e-4 covers that (the bank's own tolerance).
    for found, name in (
        (study.repeatability_sd, "EV"),
        (study.reproducibility_sd, "AV"),
        (study.gauge_sd, "GRR"),
        (study.piece_sd, "PV"),
        (study.total_sd, "TV"),
    ):
        assert found.estimate == pytest.approx(expected[name], rel=rel), name
    for name, key in (("repeatability", "EV"), ("operator", "AV"), ("gauge", "GRR"), ("piece", "PV")):
        assert 100 * study.shares[name] == pytest.approx(expected[f"pct_{key}"], abs=points)
    assert study.category_ratio == pytest.approx(expected["ndc"], rel=rel)
    assert study.distinct_categories == 5


def test_analysis_of_variance_pooled(case, ten_by_three):
    bank = case("gauge-10x3x3-anova-components")
    expected, rel, points = bank["expected"], bank["tolerance"]["rel"], bank["tolerance"]["pct_abs"]
    study = repeatability_study(*ten_by_three)
    assert study.pooled
    assert study.interaction_sd is None
    assert study.variances["repeatability"] == pytest.approx(expected["var_equipment"], rel=rel)
    assert study.variances["operator"] == pytest.approx(expected["var_appraiser"], rel=rel)
    assert study.variances["piece"] == pytest.approx(expected["var_part"], rel=rel)
    for found, name in (
        (study.repeatability_sd, "EV"),
        (study.reproducibility_sd, "AV"),
        (study.gauge_sd, "GRR"),
        (study.piece_sd, "PV"),
        (study.total_sd, "TV"),
    ):
        assert found.estimate == pytest.approx(expected[name], rel=rel), name
    for name, key in (("repeatability", "EV"), ("operator", "AV"), ("gauge", "GRR"), ("piece", "PV")):
        assert 100 * study.shares[name] == pytest.approx(expected[f"pct_{key}"], abs=points)
    assert study.distinct_categories == 4


def test_restricted_maximum_likelihood_agrees_with_lme4(ten_by_three):
    # lme4 (quoted in the bank, same data): .0399732764, .0514552665, 1.0864465642; its optimiser stops near 1e-7.
    study = repeatability_study(*ten_by_three, method="reml")
    assert study.variances["repeatability"] == pytest.approx(0.0399732764, rel=5e-7)
    assert study.variances["operator"] == pytest.approx(0.0514552665, rel=5e-7)
    assert study.variances["piece"] == pytest.approx(1.0864465642, rel=5e-7)


def test_two_factor_random_model(case, twenty_by_three):
    bank = case("gauge-20x3x2-anova")
    expected, tol = bank["expected"], bank["tolerance"]
    study = repeatability_study(*twenty_by_three, pool_above=1.0)
    rows = {row.source: row for row in study.anova}
    names = {"piece": "part", "operator": "operator", "interaction": "interaction", "repeatability": "error"}
    assert set(rows) == set(names)
    for source, name in names.items():
        assert rows[source].sum_of_squares == pytest.approx(expected["SS"][name], abs=tol["abs"])
        assert rows[source].mean_square == pytest.approx(expected["MS"][name], abs=tol["abs"])
        assert study.variances[source] == pytest.approx(expected["var"][name], abs=tol["var_abs"])
        if name in expected["F"]:
            assert rows[source].f == pytest.approx(expected["F"][name], abs=tol["F_abs"])
    total = sum(row.sum_of_squares for row in study.anova)
    assert total == pytest.approx(expected["SS"]["total"], abs=tol["abs"])
    # The negative variance is kept as it came out and reported as 0.
    assert study.interaction_sd.estimate == 0.0
    assert any("negative" in remark for remark in study.remarks)


def test_chi_square_interval_of_repeatability(twenty_by_three):
    # Montgomery, same example (from memory): 95 % interval of the error variance from chi-square with 60 dof,
    # 60 * 0.99 / 83.30 = 0.71 to 60 * 0.99 / 40.48 = 1.47.
    interval = repeatability_study(*twenty_by_three, pool_above=1.0).repeatability_sd
    assert interval.low**2 == pytest.approx(0.71, abs=0.006)
    assert interval.high**2 == pytest.approx(1.47, abs=0.006)
