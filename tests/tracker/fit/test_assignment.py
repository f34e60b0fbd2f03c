"""Assignments against every permutation, and against scipy to the last tie."""

from itertools import permutations
from pathlib import Path
from subprocess import run
from sys import executable

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from tracker.fit.assignment import by_paths, cheapest_assignment


@pytest.mark.parametrize("seed", range(40))
def test_no_permutation_costs_less(seed):
    rng = np.random.default_rng(seed)
    size = int(rng.integers(1, 7))
    cost = rng.integers(0, 6, (size, size)).astype(float) if seed % 2 else rng.normal(size=(size, size))
    found = by_paths(cost)
    assert sorted(found) == list(range(size))
    least = min(sum(cost[row, column] for row, column in enumerate(order)) for order in permutations(range(size)))
    assert cost[np.arange(size), found].sum() == pytest.approx(least, abs=1e-12)


@pytest.mark.parametrize("seed", range(60))
def test_the_same_rows_and_columns_as_scipy_ties_included(seed):
    rng = np.random.default_rng(seed)
    size = int(rng.integers(1, 60))
    cost = rng.integers(0, 4, (size, size)).astype(float) if seed % 2 else rng.normal(size=(size, size))
    if seed % 3 == 0:
        cost[rng.random(cost.shape) < 0.5] = 1e6  # forbidden
    assert by_paths(cost).tolist() == linear_sum_assignment(cost)[1].tolist()


def test_a_large_table_goes_to_the_solver():
    cost = np.random.default_rng(3).random((200, 200))
    rows, columns = cheapest_assignment(cost)
    assert rows.tolist() == list(range(200))
    assert cost[rows, columns].sum() == pytest.approx(cost[linear_sum_assignment(cost)].sum(), abs=1e-12)


def test_a_small_table_loads_no_solver():
    code = (
        "import sys, numpy as np\nfrom tracker.fit.assignment import cheapest_assignment\n"
        "print(cheapest_assignment(np.array([[1.0, 2.0], [0.0, 9.0]]))[1].tolist(), 'scipy.optimize' in sys.modules)"
    )
    said = run([executable, "-c", code], cwd=Path(__file__).parents[3], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[1, 0] False"
