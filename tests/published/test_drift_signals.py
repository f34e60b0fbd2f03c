"""False-alarm chances of single signals: Nelson, J. Quality Technology 16 (1984) 237-239 (from memory)."""

import pytest

from tracker.drift import signal_chance

NAMES = {
    "8_in_row": ["eight in a row on one side"],
    "6_steadily_up_or_down": ["six in a row rising", "six in a row falling"],
    "14_alternating": ["fourteen alternating"],
    "2of3_beyond_2s": ["two of three beyond 2 sigma on one side"],
    "4of5_beyond_1s": ["four of five beyond 1 sigma on one side"],
    "15_within_1s": ["fifteen within 1 sigma"],
    "8_beyond_1s_both_sides": ["eight beyond 1 sigma on both sides"],
}


@pytest.mark.parametrize("key", NAMES)
def test_chance_of_each_signal(case, key):
    bank = case("runs-single-test-probs")
    found = sum(signal_chance(name) for name in NAMES[key])
    assert found == pytest.approx(bank["expected"]["p"][key], rel=bank["tolerance"]["rel"])
    assert found == pytest.approx(bank["expected"]["printed"][key], abs=bank["tolerance"]["printed_abs"])


def test_nine_in_a_row_is_half_of_eight(case):
    # We watch eight in a row (the 1956 handbook); the bank's nine is one more doubling.
    nine = case("runs-single-test-probs")["expected"]["p"]["9_in_row"]
    assert signal_chance("eight in a row on one side") / 2 == pytest.approx(nine, rel=1e-12)
