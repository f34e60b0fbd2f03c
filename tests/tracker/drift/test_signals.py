"""Signals: each found at its boundary from both sides."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.drift import ALL_SIGNALS, HANDBOOK_SIGNALS, find_signals, signal_chance
from tracker.errors import TrackerError

ZIGZAG = [0.5, -0.5] * 10

CASES = {
    "one point beyond 3 sigma": ([0, 3.01, 0], [0, 3.0, 0], (2, 2)),
    "two of three beyond 2 sigma on one side": ([0, 2.1, 0, 2.1], [2.1, 0, 0, 2.1], (2, 4)),
    "four of five beyond 1 sigma on one side": ([1.1, 1.1, -2, 1.1, 1.1], [1.1, 1.1, -2, 1.1, -1.1, 1.1], (1, 5)),
    "eight in a row on one side": ([-1] + [0.1] * 8, [-1] + [0.1] * 7 + [0.0], (2, 9)),
    "six in a row rising": ([0, -1, 0, 1, 2, 3, 4], [0, -1, 0, 1, 2, 3, 3], (2, 7)),
    "six in a row falling": ([0, 1, 0, -1, -2, -3, -4], [0, 1, 0, -1, -2, -3, -3], (2, 7)),
    "fourteen alternating": (ZIGZAG[:14], [*ZIGZAG[:13], 0.6], (1, 14)),
    "fifteen within 1 sigma": ([2, *[0.9, -0.9] * 7, 0.1], [2, *[0.9, -0.9] * 7, 1.0], (2, 16)),
    "eight beyond 1 sigma on both sides": ([1.1, -1.1] * 4, [1.1, -1.1] * 3 + [1.1, -1.0], (1, 8)),
}


@pytest.mark.parametrize("name", CASES)
def test_seen_and_not_seen(name):
    shown, not_shown, (first, last) = CASES[name]
    (signal,) = find_signals(np.array(shown, dtype=float), [name])
    assert (signal.name, signal.first, signal.last) == (name, first, last)
    assert name in signal.words
    assert signal.false_alarm == signal_chance(name)
    assert find_signals(np.array(not_shown, dtype=float), [name]) == ()


def test_every_signal_has_a_case():
    assert set(CASES) == set(ALL_SIGNALS)


def test_a_longer_stretch_is_one_signal():
    (signal,) = find_signals(np.full(12, 0.5), ["eight in a row on one side"])
    assert (signal.first, signal.last) == (1, 12)
    (rise,) = find_signals(np.arange(9.0), ["six in a row rising"])
    assert (rise.first, rise.last) == (1, 9)


def test_both_sides_are_told_apart():
    words = [s.words for s in find_signals(np.array([3.5, 0, -3.5]), ["one point beyond 3 sigma"])]
    assert "upper side" in words[0]
    assert "lower side" in words[1]


def test_signals_are_switched_by_name():
    z = np.array([3.5, *[0.5] * 8])
    assert {s.name for s in find_signals(z)} == {"one point beyond 3 sigma", "eight in a row on one side"}
    assert find_signals(z, ()) == ()
    with pytest.raises(TrackerError, match="take from"):
        find_signals(z, ["nine in a row"])


def test_words_name_the_piece_with_an_offset():
    (signal,) = find_signals(np.array([3.5]), ["one point beyond 3 sigma"], offset=24)
    assert signal.first == 25
    assert "piece 25" in str(signal)


@settings(deadline=None)
@given(st.lists(st.floats(-4, 4), min_size=1, max_size=40))
def test_turned_upside_down_the_same_stretches_are_seen(values):
    swap = {"six in a row rising": "six in a row falling", "six in a row falling": "six in a row rising"}
    z = np.array(values)
    up = {(s.name, s.first, s.last) for s in find_signals(z, ALL_SIGNALS)}
    down = {(swap.get(s.name, s.name), s.first, s.last) for s in find_signals(-z, ALL_SIGNALS)}
    assert up == down


@pytest.mark.parametrize("name", HANDBOOK_SIGNALS[1:])
def test_chance_of_one_window_by_simulation(name):
    # 100000 windows: the standard error of a chance of 0.008 is 0.0003; four of them.
    width = {"two of three": 3, "four of five": 5, "eight in a row": 8}[
        " ".join(name.split()[: 4 if "row" in name else 3])
    ]
    z = np.random.default_rng(8).standard_normal((100_000, width))
    if width == 8:
        seen = np.all(z > 0, axis=1) | np.all(z < 0, axis=1)
    else:
        level, need = (2, 2) if width == 3 else (1, 4)
        seen = (np.sum(z > level, axis=1) >= need) | (np.sum(z < -level, axis=1) >= need)
    assert np.mean(seen) == pytest.approx(signal_chance(name), abs=0.0012)
