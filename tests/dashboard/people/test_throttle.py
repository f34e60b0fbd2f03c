"""Tries of a sign-in: the wait doubles up to a limit, per name and per address, and memory is bounded."""

import threading

import pytest

from dashboard.people.throttle import (
    FREE_PER_ADDRESS,
    FREE_PER_NAME,
    LONGEST_WAIT_S,
    Throttle,
    place_of,
)


class Clock:
    def __init__(self):
        self.now = 1000.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


def test_the_wait_begins_after_the_free_tries_and_doubles_to_a_limit(clock):
    throttle = Throttle(clock)
    waits = []
    for _ in range(FREE_PER_NAME):
        assert throttle.begin("operator A", "192.0.2.1") == 0
    for _ in range(8):
        wait = throttle.begin("Operator A", "192.0.2.1")
        waits.append(wait)
        clock.now += wait
        assert throttle.begin("operator a", "192.0.2.1") == 0
    assert waits == [10, 20, 40, 80, 160, LONGEST_WAIT_S, LONGEST_WAIT_S, LONGEST_WAIT_S]


def test_asking_during_the_wait_does_not_make_it_longer(clock):
    throttle = Throttle(clock)
    for _ in range(FREE_PER_NAME):
        throttle.begin("operator A", "192.0.2.1")
    assert [throttle.begin("operator A", "192.0.2.1") for _ in range(100)] == [10] * 100
    clock.now += 4.5
    assert throttle.begin("operator A", "192.0.2.1") == 6


def test_a_name_waits_from_every_address_and_an_address_for_every_name(clock):
    throttle = Throttle(clock)
    for turn in range(FREE_PER_NAME):
        assert throttle.begin("operator A", f"192.0.2.{turn}") == 0
    assert throttle.begin("operator A", "192.0.2.99") > 0
    assert throttle.begin("operator B", "192.0.2.99") == 0
    other = Throttle(clock)
    for turn in range(FREE_PER_ADDRESS):
        assert other.begin(f"name {turn}", "192.0.2.1") == 0
    assert other.begin("a name never tried", "192.0.2.1") > 0
    assert other.begin("a name never tried", "192.0.2.2") == 0


def test_a_right_password_frees_the_name_and_not_the_address(clock):
    throttle = Throttle(clock)
    for turn in range(FREE_PER_ADDRESS - 2):
        throttle.begin(f"name {turn}", "192.0.2.1")
    assert throttle.begin("own", "192.0.2.1") == 0
    throttle.succeeded("own", "192.0.2.1")
    assert throttle.begin("x", "192.0.2.1") == 0
    assert throttle.begin("y", "192.0.2.1") == 0
    assert throttle.begin("z", "192.0.2.1") > 0
    fresh = Throttle(clock)
    for _ in range(50):
        assert fresh.begin("own", "192.0.2.1") == 0
        fresh.succeeded("own", "192.0.2.1")


def test_after_an_hour_all_is_forgotten(clock):
    throttle = Throttle(clock)
    for _ in range(FREE_PER_NAME):
        throttle.begin("operator A", "192.0.2.1")
    clock.now += 3601
    for _ in range(FREE_PER_NAME):
        assert throttle.begin("operator A", "192.0.2.1") == 0


def test_memory_is_bounded_and_what_was_touched_last_stays(clock):
    throttle = Throttle(clock, most=100)
    for turn in range(5000):
        throttle.begin(f"name {turn}", f"10.{turn // 250}.{turn % 250}.1")
        throttle.begin("tried all the time", "192.0.2.1")
    assert len(throttle) <= 200
    assert throttle.begin("tried all the time", "192.0.2.1") > 0


def test_many_at_once_get_no_more_tries(clock):
    throttle = Throttle(clock)
    passed = []
    barrier = threading.Barrier(32)

    def ask():
        barrier.wait()
        passed.append(throttle.begin("operator A", "192.0.2.1") == 0)

    threads = [threading.Thread(target=ask) for _ in range(32)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(passed) == FREE_PER_NAME


@pytest.mark.parametrize(
    ("address", "place"),
    [
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("", "unknown"),
        ("not an address", "unknown"),
    ],
)
def test_what_counts_as_one_address(address, place):
    assert place_of(address) == place


@pytest.mark.parametrize(
    "written", ["LEAD TOOLMAKER", "  lead toolmaker ", "lead   toolmaker", "ｌead toolmaker", "lead\u00a0toolmaker"]
)
def test_a_name_written_in_another_way_counts_as_the_same(clock, written):
    throttle = Throttle(clock)
    for place in range(FREE_PER_NAME):
        assert throttle.begin("lead toolmaker", f"192.0.2.{place}") == 0
    assert throttle.begin(written, "198.51.100.1") == 10


def test_a_long_name_takes_no_more_memory_than_a_short_one(clock):
    throttle = Throttle(clock)
    throttle.begin("x" * 1_000_000, "192.0.2.1")
    assert max(len(key) for key in throttle._names) < 100
