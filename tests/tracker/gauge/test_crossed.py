"""Cells of a crossed study against statsmodels' analysis of variance."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from statsmodels.stats.anova import anova_lm

from tracker.errors import NotEnoughData
from tracker.gauge.crossed import cells_of, squares_of


def test_sums_of_squares():
    rng = np.random.default_rng(121)
    piece, who, _ = (a.ravel() for a in np.meshgrid(range(5), list("ABC"), range(4), indexing="ij"))
    y = rng.normal(100, 1, piece.size) + piece
    table = anova_lm(smf.ols("y ~ C(piece) * C(who)", pd.DataFrame({"y": y, "piece": piece, "who": who})).fit())
    found = squares_of(cells_of(y, piece, who))
    assert found.piece == pytest.approx(table.loc["C(piece)", "sum_sq"], rel=1e-9)
    assert found.operator == pytest.approx(table.loc["C(who)", "sum_sq"], rel=1e-9)
    assert found.interaction == pytest.approx(table.loc["C(piece):C(who)", "sum_sq"], rel=1e-9)
    assert found.error == pytest.approx(table.loc["Residual", "sum_sq"], rel=1e-9)
    assert (found.interaction_dof, found.error_dof, found.repeats) == (8, 45, pytest.approx(4))


def test_cells_hold_counts_means_and_ranges():
    cells = cells_of([1.0, 3.0, 5.0, 2.0], [1, 1, 2, 2], ["A", "A", "A", "B"])
    assert cells.count.tolist() == [[2, 0], [1, 1]]
    assert cells.mean[0, 0] == 2
    assert cells.range.tolist() == [[2, 0], [0, 0]]
    assert cells.repeats is None
    with pytest.raises(NotEnoughData, match="operator B did not measure piece 1"):
        squares_of(cells)


def test_unequal_cells_enter_by_their_harmonic_mean():
    cells = cells_of([1.0, 3.0, 5.0, 2.0, 2.5, 7.0], [1, 1, 2, 1, 1, 2], ["A", "A", "A", "B", "B", "B"])
    assert squares_of(cells).repeats == pytest.approx(4 / (1 / 2 + 1 + 1 / 2 + 1))


def test_a_far_origin_costs_no_digits():
    rng = np.random.default_rng(122)
    y = np.round(rng.normal(0, 1, 24), 3)
    piece, who = np.repeat(np.arange(4), 6), np.tile(["A", "B"], 12)
    near, far = squares_of(cells_of(y, piece, who)), squares_of(cells_of(y + 1e7, piece, who))
    assert far.error == pytest.approx(near.error, rel=1e-6)
