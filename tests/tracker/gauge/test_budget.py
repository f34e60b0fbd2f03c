"""Budgets: combination, correlation, degrees of freedom, models, refusals."""

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tracker.errors import TrackerError
from tracker.gauge import BudgetRow, half_width_row, result_correlation, uncertainty_budget


def test_rows_in_three_ways_give_one_budget():
    fields = ("estimate", "standard", "sensitivity", "dof", "distribution")
    rows = [(1.0, 0.3, 2.0, 9.0, "normal"), (4.0, 0.1, -1.0, math.inf, "rectangular")]
    by_name = [{"name": f"row {k}", **dict(zip(fields, row))} for k, row in enumerate(rows, start=1)]
    as_rows = [BudgetRow(**row) for row in by_name]
    budgets = [uncertainty_budget(given).to_dict() for given in (rows, by_name, as_rows)]
    assert budgets[0] == budgets[1] == budgets[2]
    assert budgets[0]["value"] == pytest.approx(-2.0)
    assert budgets[0]["standard"] == pytest.approx(math.hypot(0.6, 0.1))


def test_the_coverage_factor_is_students_at_whole_degrees_of_freedom():
    budget = uncertainty_budget([(0, 1.0, 1, 7)], confidence=0.99)
    assert budget.coverage_factor == pytest.approx(stats.t.ppf(0.995, 7))
    unlimited = uncertainty_budget([(0, 1.0)])
    assert unlimited.coverage_factor == pytest.approx(1.959964, abs=1e-6)
    assert math.isinf(unlimited.dof)
    assert unlimited.to_dict()["dof"] is None


def test_full_correlation_adds_straight():
    rows = [BudgetRow(name="a", standard=3.0), BudgetRow(name="b", standard=4.0)]
    assert uncertainty_budget(rows, correlation={("a", "b"): 1.0}).standard == pytest.approx(7.0)
    assert uncertainty_budget(rows, correlation={("a", "b"): -1.0}).standard == pytest.approx(1.0)
    assert uncertainty_budget(rows).standard == pytest.approx(5.0)
    assert "correlations" in uncertainty_budget(rows, correlation={("a", "b"): 0.5}).method


def test_correlated_rows_share_the_smallest_degrees_of_freedom():
    rows = [BudgetRow(name="a", standard=1.0, dof=4), BudgetRow(name="b", standard=1.0, dof=20)]
    assert uncertainty_budget(rows, correlation={("a", "b"): 0.5}).dof == pytest.approx(4)
    assert uncertainty_budget(rows).dof == pytest.approx(4 / (1 / 4 + 1 / 20))


def test_a_model_gives_value_and_sensitivities():
    rows = [
        BudgetRow(name="length", estimate=50.0, standard=0.01),
        BudgetRow(name="warmth", estimate=3.0, standard=0.5),
    ]
    budget = uncertainty_budget(rows, model=lambda x: x[0] * (1 + 11.5e-6 * x[1]))
    assert budget.value == pytest.approx(50 * (1 + 34.5e-6))
    assert [row.sensitivity for row in budget.contributions] == pytest.approx([1 + 34.5e-6, 50 * 11.5e-6], rel=1e-6)


def test_trials_show_what_first_order_cannot():
    # y = x^2 about 0: first order sees no uncertainty at all, the truth is chi-square with mean 1 and sd sqrt 2.
    budget = uncertainty_budget(
        [BudgetRow(name="x", standard=1.0)],
        model=lambda x: x[0] ** 2,
        rng=np.random.default_rng(61),
        trials=200_000,
    )
    assert budget.standard == pytest.approx(0, abs=1e-9)
    assert budget.monte_carlo.mean == pytest.approx(1, abs=0.015)
    assert budget.monte_carlo.standard == pytest.approx(math.sqrt(2), abs=0.03)
    assert budget.monte_carlo.high == pytest.approx(stats.chi2.ppf(0.975, 1), rel=0.03)
    assert budget.monte_carlo.shortest_low == pytest.approx(0, abs=1e-3)


def test_result_correlation_of_sum_and_difference():
    rows = [BudgetRow(name="a", standard=2.0), BudgetRow(name="b", standard=1.0)]
    total = uncertainty_budget(rows, model=lambda x: x[0] + x[1])
    rest = uncertainty_budget(rows, model=lambda x: x[0] - x[1])
    assert result_correlation(total, rest) == pytest.approx(3 / 5)
    with pytest.raises(TrackerError, match="same inputs"):
        result_correlation(total, uncertainty_budget(rows[:1]))


@pytest.mark.parametrize(("shape", "divisor"), [("rectangular", 3), ("triangular", 6), ("arcsine", 2)])
def test_half_widths_and_their_draws(shape, divisor):
    row = half_width_row("x", 1.0, shape)
    assert row.standard == pytest.approx(1 / math.sqrt(divisor))
    drawn = uncertainty_budget([row], rng=np.random.default_rng(62), trials=100_000).monte_carlo
    assert drawn.standard == pytest.approx(row.standard, abs=0.006)
    assert -1 <= drawn.low < drawn.high <= 1


def test_a_row_with_few_degrees_of_freedom_is_drawn_as_students_t():
    drawn = uncertainty_budget([(0, 1.0, 1, 4)], rng=np.random.default_rng(63), trials=400_000).monte_carlo
    assert drawn.high == pytest.approx(stats.t.ppf(0.975, 4), abs=0.05)


def test_correlated_draws():
    rows = [BudgetRow(name="a", standard=3.0), BudgetRow(name="b", standard=4.0)]
    pair = {("a", "b"): 0.9}
    budget = uncertainty_budget(rows, correlation=pair, rng=np.random.default_rng(64), trials=200_000)
    assert budget.monte_carlo.standard == pytest.approx(budget.standard, rel=0.007)


LEVEL = BudgetRow(name="level", standard=1.0, distribution="rectangular")
REFUSED = {
    "no rows": (lambda: uncertainty_budget([]), "no rows"),
    "negative": (lambda: uncertainty_budget([(0, -1.0)]), "row 1"),
    "one entry": (lambda: uncertainty_budget([(0,)]), "2 to 5"),
    "unknown field": (lambda: uncertainty_budget([{"standard": 1, "spread": 2}]), "unknown spread"),
    "no standard": (lambda: uncertainty_budget([{"name": "x"}]), "no standard uncertainty"),
    "distribution": (lambda: uncertainty_budget([(0, 1, 1, 5, "flat")]), "flat"),
    "degrees of freedom": (lambda: uncertainty_budget([(0, 1, 1, 0)]), "degrees of freedom"),
    "estimate": (lambda: uncertainty_budget([(math.nan, 1)]), "estimate"),
    "confidence": (lambda: uncertainty_budget([(0, 1)], confidence=95), "confidence"),
    "no such row": (lambda: uncertainty_budget([(0, 1)], correlation={("row 1", "x"): 0.1}), "no row"),
    "impossible": (lambda: uncertainty_budget([(0, 1), (0, 1)], correlation=[[1, 2], [2, 1]]), "contradict"),
    "shape": (lambda: uncertainty_budget([(0, 1)], correlation=np.eye(2)), "shape"),
    "no sensitivity": (lambda: uncertainty_budget([BudgetRow(name="x", standard=1, sensitivity=None)]), "no model"),
    "few trials": (lambda: uncertainty_budget([(0, 1)], rng=np.random.default_rng(1), trials=10), "1000"),
    "correlated rectangle": (
        lambda: uncertainty_budget([LEVEL, (0, 1.0)], correlation=[[1, 0.5], [0.5, 1]], rng=np.random.default_rng(1)),
        "rectangular",
    ),
    "half width": (lambda: half_width_row("x", 1, "normal"), "half-width"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusals_say_why(name):
    call, words = REFUSED[name]
    with pytest.raises(TrackerError, match=words):
        call()


def test_words_and_plain_data():
    budget = uncertainty_budget([BudgetRow(name="dial step", standard=2.0), (0, 1.0)], rng=np.random.default_rng(1))
    assert "dial step (80 %)" in str(budget)
    assert "random trials" in str(budget)
    assert json.loads(json.dumps(budget.to_dict()))["monte_carlo"]["trials"] == 200_000


# Below about 1e-150 squares vanish in double precision; no length is that small in any unit.
standards = st.lists(st.floats(1e-9, 100), min_size=1, max_size=8)


@given(standards, st.floats(0.001, 1000))
def test_scale_and_order_do_not_matter(values, factor):
    one = uncertainty_budget([(0, u, 1, 5) for u in values])
    two = uncertainty_budget([(0, u * factor, 1, 5) for u in reversed(values)])
    assert two.standard == pytest.approx(one.standard * factor, rel=1e-9)
    assert one.standard >= max(values) * (1 - 1e-12)
