"""What the look-up accepts, refuses and keeps to."""

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.errors import LimitsError
from tracker.limits import fit_iso, limits_iso, tolerance_iso
from tracker.limits.iso286 import SHAFT_LETTERS


@pytest.mark.parametrize("text", ["25H7", "25 H7", " 25 H7 ", "25.0H7", "25 mm H7", "25mm H7"])
def test_ways_of_writing(text):
    found = limits_iso(text)
    assert (found.nominal, found.lower, found.upper, found.unit, found.kind) == (25.0, 25.0, 25.021, "mm", "internal")


def test_class_alone_takes_its_nominal():
    assert limits_iso("H7", nominal=25) == limits_iso("25H7")
    assert fit_iso("H7/p6", nominal=25) == fit_iso("25H7/p6") == fit_iso("25 H7 / p6")


@pytest.mark.parametrize("text", ["0.625 H7/p6", "5/8 H7/p6", "5/8 in H7/p6", '5/8" H7/p6', "15.875 mm H7/p6"])
def test_inch_sizes(text):
    fit = fit_iso(text, unit="in")
    assert fit.unit == "in"
    assert fit.internal.nominal == 0.625
    assert fit.internal.upper == pytest.approx(0.625 + 0.018 / 25.4, abs=1e-15)  # 15.875 mm: H7 is 18 micrometres
    assert fit.gap_lower * 25.4 == pytest.approx(-0.029, abs=1e-12)


def test_the_unit_that_is_written_counts_unless_another_is_asked_for():
    assert (limits_iso("1/2 in H7").unit, fit_iso("12.7 mm H7/p6").unit, limits_iso("0.5H7", unit="in").unit) == (
        "in",
        "mm",
        "in",
    )
    assert limits_iso("1/2 in H7", unit="mm") == limits_iso("12.7H7")


def test_inch_nominal_in_the_step_of_its_millimetres():
    """0.7087 in is 18.00098 mm: over 18; 0.7086 in is not."""
    assert tolerance_iso(7, 0.7086, unit="in") * 25.4 == pytest.approx(0.018, abs=1e-12)
    assert tolerance_iso(7, 0.7087, unit="in") * 25.4 == pytest.approx(0.021, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("25", "accepted is a class"),
        ("", "accepted is a class"),
        ("H7", "has no size"),
        ("25H19", "grade 01, 0, 1 to 18"),
        ("25i7", "accepted are the letters"),
        ("25W7", "accepted are the letters"),
        ("501H7", "up to 500 mm"),
        ("0H7", "over 0"),
        ("-5H7", "over 0"),
        ("25hH7", "not understood"),
        ("25,4H7", "comma"),
        ("20t6", "over 24 up to 500 mm"),
        ("20EF7", "EF7"),
        ("60cd7", "up to 50 mm"),
        ("25j9", "js"),
        ("25J5", "JS"),
        ("25K9", "3 to 8"),
        ("1a9", "1 mm"),
        ("1B9", "1 mm"),
        ("1N9", "1 mm"),
        ("1h14", "1 mm"),
        ("25g0", "01 and 0"),
    ],
)
def test_refused_with_what_is_accepted(text, words):
    with pytest.raises(LimitsError, match=words):
        limits_iso(text)


@pytest.mark.parametrize("text", ["25H7", "25H7/", "25p6/H7", "25H7/H7", "25h7/p6", "H7/p6", "25H7/p6/n6", "25H7-p6"])
def test_fits_refused(text):
    with pytest.raises(LimitsError):
        fit_iso(text)


@pytest.mark.parametrize("nominal", [math.nan, math.inf, True, -1, 0])
def test_nominals_refused(nominal):
    with pytest.raises(LimitsError):
        limits_iso("H7", nominal=nominal)


def test_two_sizes_that_differ_are_refused():
    with pytest.raises(LimitsError, match="one size"):
        limits_iso("25H7", nominal=26)
    assert limits_iso("25H7", nominal=25).upper == 25.021


@pytest.mark.parametrize("unit", ["um", "furlong"])
def test_units_refused(unit):
    with pytest.raises(LimitsError, match="accepted"):
        limits_iso("25H7", unit=unit)


def test_memory_is_said():
    assert "from memory" in limits_iso("2z6").remark
    assert "from memory" in str(limits_iso("2ZC9"))
    assert limits_iso("25H7").remark == ""


def test_js_is_exact_half_and_words_show_it():
    assert str(limits_iso("25JS7")) == "25 mm JS7: 24.9895 to 25.0105 mm (-0.0105 / +0.0105)"
    assert str(fit_iso("25H7/p6")).startswith("25 mm H7/p6, interference fit: gap -0.035 to -0.001 mm")


@pytest.mark.parametrize(
    ("text", "kind"), [("25H7/h6", "clearance"), ("25H7/k6", "transition"), ("25H7/p6", "interference")]
)
def test_kind_of_fit(text, kind):
    assert fit_iso(text).kind == kind


SIZES = st.decimals(min_value="0.1", max_value="500", places=3).map(float)
CLASSES = st.tuples(st.sampled_from(SHAFT_LETTERS), st.integers(1, 18))


def look_up(name, size):
    try:
        return limits_iso(name, nominal=size)
    except LimitsError:
        return None


@given(SIZES, CLASSES)
def test_width_is_the_grade_and_limits_are_in_order(size, letter_and_grade):
    letters, grade = letter_and_grade
    for name in (f"{letters}{grade}", f"{letters.upper()}{grade}"):
        found = look_up(name, size)
        if found is not None:
            assert found.lower < found.upper
            assert found.tolerance == pytest.approx(tolerance_iso(grade, size), abs=1e-12)
            assert found.to_dict()["lower"] == found.lower


@given(SIZES, CLASSES)
def test_hole_and_shaft_basis_give_the_same_fit(size, letter_and_grade):
    """The purpose of the standard's delta: with the hole one grade coarser, H/p and P/h give the same gaps (over 3 mm).

    A to H always; K, M, N to grade 8 and P to ZC to grade 7, except M6 over 250 up to 315 mm and the letters js, j.
    """
    letters, grade = letter_and_grade
    if size <= 3 or grade < 3 or letters in ("js", "j"):
        return
    # k is 0 under grade 4 and above 7, while K counts from the tabled k in grades 3 and 8: it is compared between
    last = 8 if letters in ("m", "n") or (letters == "k" and grade > 4) else 7 if letters > "h" else 18
    if grade > last or (letters == "m" and grade == 6 and 250 < size <= 315) or (letters == "k" and grade < 5):
        return
    shaft = look_up(f"{letters}{grade - 1}", size)
    hole = look_up(f"{letters.upper()}{grade}", size)
    if shaft is None or hole is None:
        return
    by_hole = fit_iso(f"H{grade}/{letters}{grade - 1}", nominal=size)
    by_shaft = fit_iso(f"{letters.upper()}{grade}/h{grade - 1}", nominal=size)
    assert by_hole.gap_lower == pytest.approx(by_shaft.gap_lower, abs=1e-12)
    assert by_hole.gap_upper == pytest.approx(by_shaft.gap_upper, abs=1e-12)


def test_nothing_heavy_is_loaded():
    code = (
        "import sys, tracker.limits as t; t.fit_iso('25H7/p6'); t.limits_ansi(0.5, 'FN2');"
        "print([m for m in ('numpy', 'scipy', 'pandas', 'pint', 'plotly') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
