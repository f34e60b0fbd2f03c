"""Signals between events: none reaches across one, and what is seen within a run stays seen."""

import numpy as np
import pytest

from tracker.drift import individuals_chart, watch_runs, wear_line
from tracker.errors import NotEnoughData

LEVEL = [0.0, 0.4, -0.3, 0.5, -0.4, 0.1, -0.2, 0.3]


def test_without_events_the_signals_are_those_of_the_chart_of_single_values():
    sizes = np.array([*LEVEL, 4.0, *LEVEL])
    assert watch_runs(sizes).signals == individuals_chart(sizes).signals
    assert len(watch_runs(sizes).signals) == 1


def test_a_logged_offset_cuts_what_lies_on_one_side_of_the_mean_of_all():
    sizes = np.array([*LEVEL, *LEVEL, *[value + 3.0 for value in (*LEVEL, *LEVEL)]])
    across = watch_runs(sizes).signals
    assert any(signal.name == "eight in a row on one side" for signal in across)
    assert watch_runs(sizes, [(16, "offset change")]).signals == ()


def test_what_stands_out_within_a_run_is_named_by_its_piece():
    sizes = np.array([*LEVEL, *[value + 3.0 for value in (*LEVEL, 5.0, *LEVEL)]])
    (signal,) = watch_runs(sizes, [(8, "offset change")]).signals
    assert (signal.name, signal.first, signal.last, signal.side) == ("one point beyond 3 sigma", 17, 17, "upper")


def test_no_signal_holds_pieces_of_two_runs():
    rng = np.random.default_rng(20)
    for cut in range(5, 40, 5):
        sizes = np.cumsum(rng.normal(size=40))
        for signal in watch_runs(sizes, [(cut, "tool change")]).signals:
            assert signal.last <= cut or signal.first > cut


def test_where_size_creeps_the_distances_are_from_the_line():
    sizes = 0.5 * np.arange(24) + np.resize(LEVEL, 24)
    wear = wear_line(sizes)
    assert wear.seen
    assert watch_runs(sizes).signals
    watched = watch_runs(sizes, wear=wear)
    assert watched.about == "the wear line"
    assert watched.signals == ()


def test_no_spread_is_said():
    with pytest.raises(NotEnoughData, match="no two in a row that differ"):
        watch_runs([1.0, 1.0, 1.0])
    with pytest.raises(NotEnoughData, match="no two in a row"):
        watch_runs([1.0, 2.0], [(1, "set-up")])
