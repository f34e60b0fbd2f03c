"""Cutting a batch at events."""

import numpy as np
import pytest

from tracker.drift.runs import cut_into_runs
from tracker.errors import NotEnoughData, TrackerError

CASES = {
    "no event": ([], [(1, 6, None, 6)], None),
    "in the middle": ([(4, "dressing")], [(1, 4, None, 4), (5, 6, "dressing", 2)], None),
    "before the first": ([(0, "setup")], [(1, 6, "setup", 6)], None),
    "after the last": ([(6, "tool change")], [(1, 6, None, 6)], "tool change"),
    "long after the last": ([(60, "tool change")], [(1, 6, None, 6)], "tool change"),
    "two at one place": ([(2, "a"), (2, "b")], [(1, 2, None, 2), (3, 6, "a and b", 4)], None),
    "out of order": ([(4, "b"), (2, "a")], [(1, 2, None, 2), (3, 4, "a", 2), (5, 6, "b", 2)], None),
}


@pytest.mark.parametrize("name", CASES)
def test_runs(name):
    events, expected, waiting = CASES[name]
    cut = cut_into_runs(np.arange(6.0), events=events)
    assert [(run.first, run.last, run.event, run.n) for run in cut.runs] == expected
    assert cut.waiting_event == waiting
    assert np.bincount(cut.run).tolist() == [run.n for run in cut.runs]


def test_pieces_are_put_in_order_of_making():
    cut = cut_into_runs([30, 10, 20], order=[30, 10, 20], events=[(15, "dressing")])
    assert cut.size.tolist() == [10, 20, 30]
    assert cut.run.tolist() == [0, 1, 1]


def test_unmeasured_pieces_between_two_events_merge_them():
    cut = cut_into_runs([1, 2, 3, 4], order=[1, 2, 9, 10], events=[(3, "a"), (6, "b")])
    assert [run.event for run in cut.runs] == [None, "a and b"]


def test_refusals_say_what_is_wrong():
    with pytest.raises(NotEnoughData, match="0 pieces"):
        cut_into_runs([])
    with pytest.raises(TrackerError, match="size 2 of 3 is nan"):
        cut_into_runs([1.0, float("nan"), 2.0])
    with pytest.raises(TrackerError, match="2 entries for 3 sizes"):
        cut_into_runs([1.0, 2.0, 3.0], order=[1, 2])
