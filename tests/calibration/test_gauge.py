"""The quick part of the gauge pieces: their bounded rows hold in a small run (the full one is run.py)."""

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
    return run, list(run.table(20_260_930, 300, "gauge_"))


def test_bounded_rows_hold(measured):
    run, found = measured
    missed = [f"{row['what']}, {row['setting']}: {row['happened']:.4f}" for row in found if run.holds(row) is False]
    assert missed == []
    assert sum(run.holds(row) is True for row in found) >= 20


def test_intervals_too_short_would_be_seen(measured):
    """The bounds can fail: intervals that cover 85 %, measured by a thousand tries, are outside of them."""
    run, found = measured
    bounded = [row for row in found if row["said"] == 0.95 and row["low"] is not None]
    assert bounded
    assert all(run.holds({**row, "happened": 0.85, "tries": 1000}) is False for row in bounded)
