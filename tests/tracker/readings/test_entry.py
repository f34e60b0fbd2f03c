"""One typed value: every form that is read, every form that is refused, and nothing in between."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.errors import LengthError
from tracker.readings import read_entry
from tracker.readings.entry import known_kind


@pytest.mark.parametrize(
    ("text", "unit", "value", "step"),
    [
        (".6252", "in", 0.6252, 0.0001),
        ('0.6252"', "mm", 0.6252, 0.0001),
        ("15.880 mm", "in", 15.880 / 25.4, 0.001 / 25.4),
        ("17/32", "in", 0.53125, None),
        ("1 1/8", "in", 1.125, None),
        ("625.2 thou", "in", 0.6252, 0.0001),
        (" 0.62520 ", "in", 0.6252, 0.00001),
    ],
)
def test_a_size_is_read_exactly(text, unit, value, step):
    entry = read_entry(text, unit=unit, into="in")
    assert entry.kind == "absolute"
    assert entry.value == pytest.approx(value, rel=1e-15)
    assert (entry.low, entry.high) == (entry.value, entry.value)
    assert entry.typed == text
    assert entry.step == (None if step is None else pytest.approx(step, rel=1e-12))


@pytest.mark.parametrize(
    ("text", "unit", "master", "value"),
    [
        ("+3 tenths", "in", 0.6250, 0.6253),
        ("-0.4 thou", "in", 0.6250, 0.6246),
        ("+0.0003", "in", 0.6250, 0.6253),
        ("0", "in", 0.6250, 0.6250),
        ("+3 tenths on 0.6260", "in", 0.6250, 0.6263),
        ("+3 tenths on 0.6260", "in", None, 0.6263),
        ("−2 tenths", "in", 0.6250, 0.6248),
        ("3 tenths", "in", 0.6250, 0.6253),
    ],
)
def test_a_deviation_is_added_to_its_master_exactly(text, unit, master, value):
    entry = read_entry(text, unit=unit, master=master)
    assert entry.kind == "comparator"
    assert entry.value == value  # as decimals, rounded once: not 0.6250 + 0.0003 in floats


def test_a_metric_comparator_reads_micrometres_against_a_master_in_millimetres():
    entry = read_entry("+21.0", unit="um", kind="comparator", master=16.0, into="mm")
    assert (entry.value, entry.deviation, entry.master) == (16.021, 0.021, 16.0)
    assert entry.step == pytest.approx(0.0001)
    assert entry.unit == "um"


def test_a_signed_value_as_large_as_the_size_is_a_size():
    assert read_entry("+0.6253", unit="in", master=0.6250).kind == "absolute"
    assert read_entry("+0.6253", unit="in", nominal=0.6250).kind == "absolute"


def test_an_unsigned_small_value_without_a_master_is_never_taken_for_a_deviation():
    assert read_entry("0.0003", unit="in", nominal=0.6250).kind == "absolute"
    assert read_entry("0.0003", unit="in").kind == "absolute"


def test_a_deviation_without_a_master_is_refused_with_what_to_do():
    with pytest.raises(LengthError, match=r"deviation, but from what.*master"):
        read_entry("+3 tenths", unit="in")


def test_the_nominal_stands_in_for_a_master_only_when_asked():
    with pytest.raises(LengthError, match="master"):
        read_entry("+3 tenths", unit="in", nominal=0.625)
    assert read_entry("+3 tenths", unit="in", nominal=0.625, nominal_as_master=True).value == 0.6253


@pytest.mark.parametrize(
    ("text", "feature_kind", "low", "high"),
    [
        ("goes .6250 / not .6252", None, 0.6250, 0.6252),
        ("goes .6250 / not .6252", "internal", 0.6250, 0.6252),
        ("Goes 0.6250, not 0.6252", "internal", 0.6250, 0.6252),
        ("go .6250 no-go .6252", "internal", 0.6250, 0.6252),
        ("go .6250 nogo .6252", "internal", 0.6250, 0.6252),
        ("not .6252 / goes .6250", "internal", 0.6250, 0.6252),
        ("goes .6250; does not go .6252", "internal", 0.6250, 0.6252),
        ("goes .6252 / not .6250", "external", 0.6250, 0.6252),
        ("goes .6250", "internal", 0.6250, math.inf),
        ("not .6252", "internal", -math.inf, 0.6252),
        ("goes .6252", "external", -math.inf, 0.6252),
        ("not .6250", "external", 0.6250, math.inf),
        ('goes 0.6250" / not 15.880 mm', "internal", 0.6250, float(Fraction("15.88") / Fraction("25.4"))),
    ],
)
def test_goes_and_does_not_go_bound_the_size(text, feature_kind, low, high):
    entry = read_entry(text, unit="in", feature_kind=feature_kind)
    assert entry.kind == "go_no_go"
    assert entry.value is None
    assert entry.step is None
    assert (entry.low, entry.high) == (low, high)


@pytest.mark.parametrize(
    ("text", "feature_kind", "words"),
    [
        ("goes .6252 / not .6250", "internal", "the smaller"),
        ("goes .6250 / not .6252", "external", "the larger"),
        ("goes .6250 / not .6250", None, "same gauge"),
        ("goes .6250", "length", "both are needed"),
        ("goes", None, "accepted is"),
        ("goes / not .6252", None, "accepted is"),
        ("goes .6250 / goes .6252", None, "twice"),
        ("maybe goes .6250", None, "accepted is goes"),
        ("goes -.6250", "internal", "not above zero"),
    ],
)
def test_goes_that_cannot_be_are_refused(text, feature_kind, words):
    with pytest.raises(LengthError, match=words):
        read_entry(text, unit="in", feature_kind=feature_kind)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  ",
        "abc",
        "0.62.52",
        "nan",
        "inf",
        "-inf",
        "1e3",
        "0x10",
        "0,6252",
        "--1",
        "-0.6252",
        "0.6252 furlong",
        "=A1",
        "=0.6252",
        "@SUM(1)",
        "0.62\x0052",
        "1/0",
        "0",
        "+",
        "0.6252 0.6253",
        "٠٫٦",
        "9" * 500,
    ],
)
def test_everything_else_is_refused_and_the_message_says_what_is_accepted(text):
    with pytest.raises(LengthError, match=r"accepted|write a point|set decimal_comma"):
        read_entry(text, unit="in")


def test_a_decimal_comma_is_read_only_when_the_job_says_so():
    assert read_entry("15,880", unit="mm", decimal_comma=True).value == 15.88
    with pytest.raises(LengthError, match="decimal_comma"):
        read_entry("15,880", unit="mm")


def test_the_kind_that_is_stated_wins_or_is_refused():
    assert read_entry("0.0003", unit="in", kind="comparator", master=0.625).value == 0.6253
    with pytest.raises(LengthError, match="absolute"):
        read_entry("goes .6250 / not .6252", unit="in", kind="absolute")
    with pytest.raises(LengthError, match="goes"):
        read_entry(".6250", unit="in", kind="go_no_go")
    with pytest.raises(LengthError, match="names a master"):
        read_entry("+3 tenths on .6250", unit="in", kind="absolute")


def test_kinds_are_known_by_their_words():
    assert [known_kind(word) for word in ("Absolute", "comparator", "go_no_go", "go/no-go", "Deviation")] == [
        "absolute",
        "comparator",
        "go_no_go",
        "go_no_go",
        "comparator",
    ]
    with pytest.raises(LengthError, match="accepted are absolute, comparator and go_no_go"):
        known_kind("guess")


def test_an_entry_says_itself():
    assert str(read_entry(".6252", unit="in")) == "'.6252' is 0.6252 in"
    assert str(read_entry("+3 tenths", unit="in", master=0.625)) == "'+3 tenths' is 0.6253 in: 0.625 and +0.0003"
    assert "0.625 to anything" in str(read_entry("goes .6250", unit="in", feature_kind="internal"))


sizes = st.decimals(min_value=Decimal("0.0001"), max_value=Decimal("400"), places=4, allow_nan=False)


@given(sizes, st.sampled_from(["in", "mm", "um", "thou", "tenth"]))
def test_what_is_written_is_what_is_read(size, unit):
    assert read_entry(f"{size}", unit=unit).value == float(size)
    assert read_entry(f"{size} {unit}", unit="mm", into=unit).value == float(size)


@given(sizes)
def test_inch_and_millimetre_give_the_same_size(size):
    inches = read_entry(f'{size}"', unit="mm", into="mm").value
    millimetres = read_entry(f"{size * Decimal('25.4')} mm", unit="in", into="mm").value
    assert inches == millimetres


@given(sizes, st.integers(-9, 9))
def test_a_deviation_and_the_size_it_makes_are_one_reading(master, tenths):
    size = master + tenths * Decimal("0.0001")
    if size <= 0:
        return
    by_comparator = read_entry(f"{tenths:+d} tenths", unit="in", kind="comparator", master=float(master))
    assert by_comparator.value == float(size)


@given(sizes, sizes)
def test_order_of_the_words_of_going_is_irrelevant(one, other):
    if one == other:
        return
    low, high = sorted([one, other])
    first = read_entry(f"goes {low} / not {high}", unit="in", feature_kind="internal")
    second = read_entry(f"not {high}, goes {low}", unit="in", feature_kind="internal")
    assert (first.low, first.high) == (second.low, second.high) == (float(low), float(high))


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_and_never_anything_else(text):
    try:
        entry = read_entry(text, unit="in", master=0.625, nominal=0.625, decimal_comma=False)
    except LengthError as error:
        assert str(error)
    else:
        assert not math.isnan(entry.low)
        assert not math.isnan(entry.high)
        assert entry.low <= entry.high
        assert entry.value is None or 0 < entry.value < math.inf


@given(st.text(alphabet='0123456789.,/+-" gonetsmuihd', max_size=24))
def test_texts_that_look_like_values_are_read_or_refused(text):
    try:
        entry = read_entry(text, unit="mm", nominal=16.0, nominal_as_master=True, decimal_comma=True)
    except LengthError as error:
        assert str(error)
    else:
        assert entry.kind in ("absolute", "comparator", "go_no_go")
        assert entry.low <= entry.high
