"""Roots of many functions at once against scipy."""

import numpy as np
import pytest
from scipy import optimize

from tracker.spread.roots import bracketed_roots


def test_against_brentq():
    a = np.array([0.1, 1.0, 2.0, 50.0])
    found = bracketed_roots(lambda x: np.exp(x) - a - x, np.full(4, 0.0) + 1e-9, np.full(4, 10.0))
    for value, answer in zip(a, found, strict=True):
        if value > 1:
            assert answer == pytest.approx(optimize.brentq(lambda x, v=value: np.exp(x) - v - x, 1e-9, 10.0), abs=1e-9)


def test_steps_and_either_direction():
    found = bracketed_roots(lambda x: np.where(x < 0.3, -1.0, 1.0), np.array([-5.0]), np.array([5.0]))
    assert found == pytest.approx(0.3, abs=1e-9)
    found = bracketed_roots(lambda x: 1 - x**3, np.array([0.0, 4.0]), np.array([4.0, 0.0]))
    assert found == pytest.approx([1.0, 1.0])


def test_evaluations_are_few():
    calls = 0

    def function(x):
        nonlocal calls
        calls += 1
        return np.tanh(x) - 0.3

    bracketed_roots(function, np.array([-5.0]), np.array([5.0]))
    assert calls < 25
