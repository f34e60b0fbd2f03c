"""Dowel pins, clearance holes and the shop's rules of thumb, against the bank."""

import pytest

from tracker.limits import clearance_hole, dowel_fit, dowel_pin, shop_hole


def test_inch_pins_of_the_bank(case):
    known = case("dowel-b1882")  # ASME B18.8.2-2000
    tolerance = known["inputs"]["tolerance_on_basic"]
    for series in ("standard", "oversize"):
        for size, basic in known["expected"][f"{series}_series_basic"].items():
            pin = dowel_pin(size, series)
            assert (pin.lower, pin.upper) == pytest.approx((basic - tolerance, basic + tolerance), abs=1e-12)
            assert pin.unit == "in"


def test_inch_holes_of_the_bank(case):
    known = case("dowel-b1882")
    for size, (low, high) in known["expected"]["suggested_hole_min_max"].items():
        fit = dowel_fit(size)
        assert (fit.internal.lower, fit.internal.upper) == (low, high)
        assert (fit.gap_lower, fit.gap_upper) == pytest.approx((-0.0008, -0.0001), abs=1e-12)  # the case's notes


def test_metric_pins_of_the_bank(case):
    known = case("dowel-iso8734")  # from memory: m6 of ISO 286-2
    for size, (low, high) in known["expected"]["limits_mm"].items():
        pin = dowel_pin(float(size), unit="mm")
        assert (pin.lower, pin.upper) == pytest.approx((low, high), abs=1e-9)
        assert dowel_fit(f"{size} mm").internal.symbol == "H7"


def test_screw_holes_of_the_bank(case):
    known = case("shcs-metric")["expected"]  # ISO 273 from memory, DIN 974-1 on a public chart
    for screw, sizes in known["iso273"].items():
        hole = clearance_hole(screw)
        assert [hole.fine, hole.medium, hole.coarse] == sizes
        assert hole.counterbore == known["din974_cbore"][screw]


def test_inch_screw_of_the_bank(case):
    known = case("practice-screw-clearance")  # common practice, no source
    hole = clearance_hole("1/2")
    assert hole.drill == known["expected"]["clearance_drill_in"]
    assert hole.medium == 0.53125


def test_slip_and_press_of_the_bank(case):
    known = case("practice-slip-press")  # common practice, no source
    nominal, rule = known["inputs"]["nominal_in"], known["expected"]
    assert shop_hole(nominal, "slip").size - nominal == pytest.approx(rule["slip_hole_over_in"], abs=1e-12)
    assert nominal - shop_hole(nominal, "press").size == pytest.approx(rule["press_hole_under_in"], abs=1e-12)
    assert "no source" in shop_hole(nominal, "press").source
