"""Uncertainty budgets: GUM (JCGM 100:2008) H.1 and H.2, EA-4/02 S4, JCGM 101 section 9.2 (digits from memory)."""

import math

import numpy as np
import pytest

from tracker.gauge import BudgetRow, half_width_row, result_correlation, uncertainty_budget


def rows_of(standards, dofs):
    return [BudgetRow(name=f"source {k}", standard=u, dof=float(d)) for k, (u, d) in enumerate(zip(standards, dofs))]


def test_end_gauge(case):
    bank = case("gum-h1")
    inputs, expected = bank["inputs"], bank["expected"]
    budget = uncertainty_budget(rows_of(inputs["components_nm"], inputs["df"]), confidence=inputs["confidence"])
    assert round(budget.standard) == expected["u_c_nm"]
    assert math.floor(budget.dof) == expected["nu_eff"]
    # H.1.6 prints 16.7 before it is cut: that needs the unrounded 31.67 nm (bank's note).
    assert budget.dof == pytest.approx(16.7, abs=0.07)
    assert budget.coverage_factor == pytest.approx(expected["t99"], abs=5.1e-3)
    # Printed 93 = 2.92 * 32, rounded on the way; unrounded 92.5.
    assert budget.coverage_factor * round(budget.standard) == pytest.approx(expected["U99_nm"], abs=0.5)
    assert budget.expanded == pytest.approx(92.5, abs=0.05)


def test_difference_of_end_gauges(case):
    bank = case("gum-h1-d-component")
    budget = uncertainty_budget(rows_of(bank["inputs"]["components_nm"], bank["inputs"]["df"]))
    assert budget.standard == pytest.approx(bank["expected"]["u_nm"], abs=bank["tolerance"]["abs"])
    # Printed 25.6 puts the rounded 9.7 into the numerator.
    rounded = budget.dof * (9.7 / budget.standard) ** 4
    assert rounded == pytest.approx(bank["expected"]["nu_eff"], abs=bank["tolerance"]["abs"])


def test_resistance_and_reactance(case):
    bank = case("gum-h2")
    inputs, expected = bank["inputs"], bank["expected"]
    tol, r_tol = bank["tolerance"]["abs"], bank["tolerance"]["r_abs"]
    data = np.array([inputs["V"], np.array(inputs["I_mA"]) / 1000, inputs["phi_rad"]])
    n = data.shape[1]
    correlation = np.corrcoef(data)
    assert correlation[0, 1] == pytest.approx(expected["r_VI"], abs=r_tol)
    assert correlation[0, 2] == pytest.approx(expected["r_Vphi"], abs=r_tol)
    assert correlation[1, 2] == pytest.approx(expected["r_Iphi"], abs=r_tol)
    rows = [
        BudgetRow(name=name, estimate=float(x.mean()), standard=float(x.std(ddof=1)) / math.sqrt(n), dof=n - 1)
        for name, x in zip(("V", "I", "phi"), data)
    ]
    models = {
        "R": lambda x: x[0] / x[1] * np.cos(x[2]),
        "X": lambda x: x[0] / x[1] * np.sin(x[2]),
        "Z": lambda x: x[0] / x[1],
    }
    found = {name: uncertainty_budget(rows, correlation=correlation, model=model) for name, model in models.items()}
    for name, budget in found.items():
        assert budget.value == pytest.approx(expected[name], abs=tol)
        # u_X is .29558; the GUM prints .295 (bank's note), inside the bank's tolerance.
        assert budget.standard == pytest.approx(expected[f"u_{name}"], abs=tol)
        # Five simultaneous observations: four degrees of freedom, whatever the model.
        assert budget.dof == pytest.approx(n - 1)
    assert result_correlation(found["R"], found["X"]) == pytest.approx(expected["r_RX"], abs=r_tol)
    assert result_correlation(found["R"], found["Z"]) == pytest.approx(expected["r_RZ"], abs=r_tol)
    assert result_correlation(found["X"], found["Z"]) == pytest.approx(expected["r_XZ"], abs=r_tol)


def test_gauge_block(case):
    bank = case("ea-gaugeblock-s4")
    inputs, expected, tol = bank["inputs"], bank["expected"], bank["tolerance"]
    budget = uncertainty_budget(
        rows_of(inputs["contributions_nm"], [math.inf] * len(inputs["contributions_nm"])),
        coverage_factor=inputs["k"],
    )
    assert budget.standard == pytest.approx(expected["u_nm"], abs=tol["u_abs"])
    assert budget.expanded == pytest.approx(expected["U_nm"], abs=tol["U_abs"])


def test_effective_degrees_of_freedom(case):
    bank = case("ws-simple")
    inputs, expected, rel = bank["inputs"], bank["expected"], bank["tolerance"]["rel"]
    budget = uncertainty_budget(rows_of(inputs["u"], inputs["df"]), confidence=inputs["confidence"])
    assert budget.standard == pytest.approx(expected["u_c"], rel=rel)
    assert budget.dof == pytest.approx(expected["nu_eff"], rel=rel)
    assert budget.coverage_factor == pytest.approx(expected["k"], rel=rel)


@pytest.mark.parametrize(
    ("rows", "standard", "half"),
    [
        # JCGM 101:2008 tables 2, 3 and 4 (from memory): sums of four inputs, 95 % coverage intervals.
        ([BudgetRow(name=str(k), standard=1.0) for k in range(4)], 2.0, 3.92),
        ([half_width_row(str(k), math.sqrt(3)) for k in range(4)], 2.0, 3.88),
        ([half_width_row(str(k), math.sqrt(3) * (10 if k == 3 else 1)) for k in range(4)], 10.1, 17.0),
    ],
    ids=["four normal", "four rectangular", "one ten times as wide"],
)
def test_random_trials_of_sums(rows, standard, half):
    budget = uncertainty_budget(rows, rng=np.random.default_rng(20260101), trials=1_000_000)
    drawn = budget.monte_carlo
    # Half a unit of the printed digit and three standard errors of a million trials: 0.0021 u for the standard
    # uncertainty; for the ends 0.016 (0.03 in the last case).
    wide = standard > 10
    assert drawn.standard == pytest.approx(standard, abs=(0.05 if wide else 0.005) + 0.0021 * standard)
    assert drawn.high == pytest.approx(half, abs=0.08 if wide else 0.021)
    assert drawn.low == pytest.approx(-half, abs=0.08 if wide else 0.021)
    if half == 17.0:
        # The same table: the GUM's own interval is 19.9, too long because one rectangle rules.
        assert budget.expanded == pytest.approx(19.9, abs=0.05)
