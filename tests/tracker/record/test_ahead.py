"""Reading ahead: the same parts in the same order, faults and early ends included."""

import threading

import pytest

from tracker.record.ahead import read_ahead


def test_parts_come_in_order():
    assert list(read_ahead(iter(range(100)))) == list(range(100))


def test_no_more_than_two_parts_are_read_beyond_the_one_in_hand():
    taken = []
    going = read_ahead(taken.append(at) or at for at in range(50))
    for _ in range(10):
        next(going)
    assert len(taken) <= 13
    going.close()


def test_a_fault_comes_after_the_parts_before_it():
    def parts():
        yield 1
        yield 2
        raise ValueError("damaged here")

    found = []
    with pytest.raises(ValueError, match="damaged here"):
        for part in read_ahead(parts()):
            found.append(part)
    assert found == [1, 2]


def test_whoever_stops_early_leaves_no_thread():
    before = threading.active_count()
    for part in read_ahead(iter(range(1000))):
        if part == 3:
            break
    assert threading.active_count() == before
