"""Numbers as a bench reads them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.figures.numbers import Numbers, shared_digits, typeset

INCH, METRIC = Numbers("in", 0.00005), Numbers("mm", 0.001)


def test_a_size_has_the_decimals_of_its_gauge():
    assert INCH.size(0.6256) == "0.62560"
    assert METRIC.size(15.88) == "15.8800"
    assert Numbers("in", 0.000005).size(0.6256) == "0.625600"


@pytest.mark.parametrize(
    ("value", "said"), [(0.00067, "+6.7"), (-0.00041, "−4.1"), (0.0, "0.0"), (-0.000001, "0.0")], ids=str
)
def test_a_deviation_carries_its_sign(value, said):
    assert INCH.off(value) == said


@pytest.mark.parametrize(
    ("difference", "said"),
    [
        (0.0001, "one tenth"),
        (-0.0002, "two tenths"),
        (0.00013, "1.3 tenths"),
        (0.00041, "four tenths"),
        (0.0013, "13 tenths"),
    ],
    ids=str,
)
def test_a_heading_spells_a_difference(difference, said):
    assert INCH.about(difference) == said


def test_the_base_is_round():
    assert INCH.base(0.62503) == pytest.approx(0.6250)
    assert INCH.from_base(0.625) == "tenths from 0.6250 in"
    assert METRIC.from_base(16.0) == "micrometres from 16.000 mm"


def test_digits_that_all_share_are_found_and_two_are_left():
    assert shared_digits(["0.62532", "0.62526"]) == 5
    assert shared_digits(["0.62532", "0.62532"]) == 5
    assert shared_digits([]) == 0


@given(st.lists(st.floats(0.5, 0.7), min_size=1, max_size=20))
def test_shared_digits_are_shared(values):
    texts = [INCH.size(value) for value in values]
    count = shared_digits(texts)
    assert len({text[:count] for text in texts}) == 1
    assert count <= len(texts[0]) - 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a gap of -0.0006 to -0.0003", "a gap of −0.0006 to −0.0003"),
        ("0.7 +- 0.6", "0.7 ± 0.6"),
        ("leak-test nest, ISO 22514-2, 2026-09-30", "leak-test nest, ISO 22514-2, 2026-09-30"),
        ("(-4)", "(−4)"),
    ],
    ids=str,
)
def test_a_minus_is_a_minus_and_a_hyphen_a_hyphen(text, said):
    assert typeset(text) == said
