"""The quick part of the calibration of spread: few tries, bounds that can fail."""

import importlib.util
import math
import sys
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).parent


def load(name):
    spec = importlib.util.spec_from_file_location(f"calibration_{name}", HERE / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


run = load("run")
coverage = load("spread_coverage")
families = load("spread_families")


def check(rows, sigmas=3.0):
    """Assert that each row lies within its bounds, widened by so many standard errors at the bound."""
    seen = 0
    for row in rows:
        seen += 1
        for bound, side in ((row["low"], -1), (row["high"], 1)):
            slack = sigmas * math.sqrt(max(bound * (1 - bound), 0.0) / row["tries"])
            assert side * (row["happened"] - bound) <= slack, row
    assert seen


@pytest.mark.parametrize("n", [5, 30])
def test_mean_sd_prediction_and_tolerance(n):
    check(coverage.scalar_intervals(np.random.default_rng([1, n]), n, 400))


@pytest.mark.parametrize("n", [5, 12])
def test_indices(n):
    rng = np.random.default_rng([2, n])
    check(coverage.index_rows(rng, n, 700, indices=(0.5, 1.33), offsets=(0.0, 0.5, 2.0)))


@pytest.mark.parametrize("n", [5, 30])
def test_cpm_and_share_beyond(n):
    check(coverage.cpm_rows(np.random.default_rng([3, n]), n, 2000))
    check(coverage.share_rows(np.random.default_rng([4, n]), n, 40))


def test_predictive_chances_are_honest():
    check(coverage.chance_rows(np.random.default_rng(5), 8, 2000))


def test_components():
    check(coverage.component_rows(np.random.default_rng(6), 8, 120))


def test_bounds():
    check(families.bounds_rows(np.random.default_rng(7), 12, 150))


def test_families():
    check(families.family_rows(np.random.default_rng(9), 8, 100))


def test_bounds_can_fail():
    # The same bounds refuse an interval that does not hold at n = 5: normal instead of t.
    batch = np.random.default_rng(8).normal(0.0, 1.0, (1500, 5))
    reach = 1.96 * batch.std(axis=1, ddof=1) / math.sqrt(5)
    with pytest.raises(AssertionError):
        check([coverage.row("mean, normal instead of t", "n = 5", np.abs(batch.mean(axis=1)) <= reach)])


def test_the_table_is_made_with_seed_and_size(capsys):
    assert run.holds({"happened": 0.95, "tries": 1000, "low": 0.94, "high": 0.96}) is True
    assert run.holds({"happened": 0.90, "tries": 1000, "low": 0.94, "high": 0.96}) is False
    assert run.holds({"happened": 0.90, "tries": 1000, "low": None, "high": None}) is None
    assert run.main(["--only", "nothing of that name", "--size", "7", "--seed", "3"]) == 0
    assert "Seed 3, 7 tries a row" in capsys.readouterr().out
