"""The quick part of the fit's honesty: its bounded rows hold in a small run (the full one is run.py)."""

import importlib.util
from pathlib import Path

import pytest


def load(name):
    spec = importlib.util.spec_from_file_location(f"quick_{name}", Path(__file__).with_name(f"{name}.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def measured():
    run = load("run")
    return run, list(run.table(20_260_930, 240, "fit_"))


def test_bounded_rows_hold(measured):
    run, found = measured
    missed = [
        f"{row['what']}, {row['setting']}: {row['said']:.3f} {row['happened']:.3f}"
        for row in found
        if run.holds(row) is False
    ]
    assert missed == []
    assert sum(run.holds(row) is True for row in found) >= 30


def test_a_chance_fifteen_points_too_high_would_be_seen(measured):
    """The bounds can fail: said 0.85 and happened 0.70 in a few hundred tries is outside of them."""
    run, found = measured
    row = next(row for row in found if row["low"] is not None)
    assert run.holds({**row, "low": 0.83, "high": 0.87, "happened": 0.70, "tries": 300}) is False
