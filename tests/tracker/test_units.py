"""Lengths in and out: exact, strict, and never guessed."""

import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.errors import LengthError
from tracker.units import (
    UNIT_WORDS,
    convert,
    decimals_of,
    format_length,
    format_number,
    known_unit,
    magnitude,
    parse_length,
    quantity,
    read_length,
    small_unit,
)


def test_an_inch_is_25_4_millimetres_exactly():
    # International yard and pound agreement, 1959.
    assert parse_length("1 in", "mm") == 25.4
    assert convert(1.0, "in", "mm") == 25.4
    assert convert(25.4, "mm", "in") == 1.0
    assert convert(1.0, "in", "um") == 25_400.0


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        (".6252", "in", 0.6252),
        ('0.6252"', "in", 0.6252),
        ("0.6252 in.", "in", 0.6252),
        ("15.880 mm", "mm", 15.88),
        ("15.88mm", "in", float(Fraction("15.88") / Fraction("25.4"))),
        ("17/32", "in", 0.53125),
        ("1 1/8", "in", 1.125),
        ('1 1/8"', "mm", 28.575),
        ("17/32 in", "mm", 13.49375),
        ("+3 tenths", "in", 0.0003),
        ("-0.4 thou", "in", -0.0004),
        ("5 µm", "mm", 0.005),
        ("5 μm", "mm", 0.005),
        ("5 microns", "mm", 0.005),
        ("−3 tenths", "in", -0.0003),
        ("7.", "mm", 7.0),
        (3, "mm", 3.0),
        (0.25, "in", 0.25),
        (np.float64(0.25), "in", 0.25),
        (np.int64(3), "mm", 3.0),
    ],
)
def test_lengths_are_read(text, unit, value):
    assert parse_length(text, unit) == value
    assert type(parse_length(text, unit)) is float


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "abc",
        "1e3",
        "0x1",
        "1.2.3",
        "1,234.5",
        "25,4 mm",
        "1 mil",
        "1/0",
        "1 1/4 mm",
        "1/4 mm",
        "--3",
        "3-",
        "+",
        "1 ft",
        "½",
        "٣",
        "1 2",
        "1 / 2 / 3",
        "nan",
        "inf",
        "9" * 400,
        None,
        True,
        [],
        math.nan,
        math.inf,
        10**400,
        b"1",
    ],
)
def test_everything_else_is_refused(text):
    with pytest.raises(LengthError):
        parse_length(text, "in")


def test_the_message_says_what_would_be_accepted():
    with pytest.raises(LengthError, match="'1,5' has a comma; write a point, or set decimal_comma"):
        parse_length("1,5")
    with pytest.raises(LengthError, match="for a thousandth of an inch write thou"):
        parse_length("1 mil")
    with pytest.raises(LengthError, match="fractions are read in inches only"):
        parse_length("1/4 mm")
    with pytest.raises(LengthError, match="has a point, but this job writes a decimal comma"):
        parse_length("1.5", "mm", decimal_comma=True)
    with pytest.raises(LengthError, match="accepted are in, mm, um, thou and tenths"):
        parse_length("1.5", "furlong")


def test_a_decimal_comma_is_read_when_asked():
    assert parse_length("15,88", "mm", decimal_comma=True) == 15.88
    assert parse_length(",5", "mm", decimal_comma=True) == 0.5


def test_the_last_digit_typed_is_the_step():
    assert read_length("0.62520").step("in") == 0.00001
    assert read_length("3 tenths").step("in") == 0.0001
    assert read_length("17/32").step("in") is None
    assert read_length("15.880", "mm").step("um") == 1.0


@pytest.mark.parametrize(
    ("step", "decimals"),
    [
        (0.0001, 4),
        (0.0005, 4),
        (5e-05, 5),
        (0.00025, 5),
        (2, 0),
        (10, 0),
        (0.25, 2),
        (1, 0),
        (0.1 + 0.2, 1),
        (0.001 / 25.4, 5),
        (0.00254, 3),
        (0.00127, 3),
    ],
)
def test_decimals_of_a_step(step, decimals):
    assert decimals_of(step) == decimals


@pytest.mark.parametrize("step", [0, -1, math.nan, math.inf])
def test_a_step_that_cannot_be_is_refused(step):
    with pytest.raises(LengthError):
        decimals_of(step)


def test_lengths_are_written():
    assert format_length(0.6252, "in", 0.0001) == "0.6252 in"
    assert format_length(0.62525, "in") == "0.62525 in"
    assert format_length(3.0, "tenth", signed=True) == "+3.0 tenths"
    assert format_length(-1.24, "um", 0.1) == "-1.2 micrometres"
    assert format_length(-0.00004, "in", 0.0001, signed=True) == "0.0000 in"
    assert format_number(0.5, 0) == "0"
    assert format_number(1.5, 0) == "2"
    assert format_number(-3, 1, minus="−") == "−3.0"
    for value in (math.nan, math.inf):
        with pytest.raises(LengthError):
            format_length(value, "in")


def test_small_differences_are_said_in_the_shops_unit():
    assert [small_unit(unit) for unit in ("in", "thou", "mm", "um")] == ["tenth", "tenth", "um", "um"]


def test_quantities_other_than_lengths():
    assert magnitude(quantity(1.0, "kilonewton"), "newton") == pytest.approx(1000.0)
    assert magnitude(quantity(3.0, "tenth"), "mm") == pytest.approx(0.00762)
    assert magnitude(quantity(2.0, "thou"), "inch") == pytest.approx(0.002)
    assert magnitude(5.0, "mm") == 5.0
    with pytest.raises(LengthError, match="cannot be said in"):
        magnitude(quantity(1.0, "kilogram"), "mm")


units = st.sampled_from(["in", "mm", "um", "thou", "tenth"])
numbers = st.decimals(min_value=Decimal("-999"), max_value=Decimal("999"), places=5, allow_nan=False)


@given(numbers, units)
def test_what_is_written_is_read(number, unit):
    assert parse_length(f"{number} {unit}", unit) == float(number)


@given(numbers, units, units)
def test_there_and_back_is_where_it_began(number, unit, other):
    value = float(number)
    assert convert(convert(value, unit, other), other, unit) == pytest.approx(value, rel=1e-14, abs=0)
    assert parse_length(f"{number} {unit}", other) == pytest.approx(convert(value, unit, other), rel=1e-14, abs=0)


@given(st.integers(0, 99), st.integers(1, 127), st.sampled_from([2, 4, 8, 16, 32, 64, 128]))
def test_fractions_of_an_inch_are_exact(whole, above, below):
    assert parse_length(f"{whole} {above}/{below}", "in") == whole + above / below


@given(st.sampled_from(sorted(UNIT_WORDS)), st.booleans())
def test_every_word_for_a_unit_is_known_whatever_its_case(word, upper):
    text = word.upper() if upper and word.isascii() else word
    assert known_unit(f" {text} ") == UNIT_WORDS[word]
    assert parse_length(f"1 {text}", UNIT_WORDS[word]) == 1.0


@given(st.text(max_size=80), units, st.booleans())
def test_any_text_is_read_or_refused(text, unit, comma):
    try:
        value = parse_length(text, unit, decimal_comma=comma)
    except LengthError as error:
        assert str(error)
    else:
        assert math.isfinite(value)


@given(numbers, st.integers(0, 5))
def test_a_number_is_written_within_half_a_unit_of_its_last_place(number, places):
    text = format_number(float(number), places)
    assert abs(Decimal(text) - number) <= Decimal(1).scaleb(-places) / 2 + Decimal("1e-9")
    assert not text.startswith("-0") or float(text) != 0
