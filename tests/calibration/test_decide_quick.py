"""The quick part of decide_shift.py and decide_verdict.py: their bounded rows hold in a small run (full: run.py)."""

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
    found = list(run.table(20_260_930, 1_000, "decide_shift"))
    return run, found


def test_bounded_rows_hold(measured):
    run, found = measured
    missed = [f"{row['what']}, {row['setting']}: {row['happened']:.4f}" for row in found if run.holds(row) is False]
    assert missed == []
    assert sum(run.holds(row) is True for row in found) >= 20


def test_chasing_doubles_the_variance_and_ours_does_not(measured):
    added = {row["what"]: row["happened"] for row in measured[1] if row["what"].startswith("funnel")}
    assert added["funnel: variance added by chasing every piece"] == pytest.approx(1.0, abs=0.25)
    assert added["funnel: variance added by next_shift"] < added["funnel: variance added by the harmonic rule"] < 0.4


def test_a_wrong_rule_would_be_seen(measured):
    """The bounds can fail: a rule that never touches, and one that always does, are both outside of them."""
    run, found = measured
    touches = next(row for row in found if row["what"] == "next_shift touches a process on target")
    for happened in (0.0, 1.0):
        assert run.holds({**touches, "happened": happened}) is False


def test_verdicts_hold():
    run = load("run")
    found = list(run.table(20_260_930, 1_200, "decide_verdict"))
    assert [row for row in found if run.holds(row) is False] == []
    assert sum(row["tries"] for row in found) > 100
