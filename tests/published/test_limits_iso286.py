"""ISO 286-1 and ISO 286-2, against the bank (cases iso-*) and against limits printed in preferred-fit tables.

`from_memory` in the bank means that the digits were recalled and then recomputed; the case says how.
"""

import pytest

from tracker.errors import LimitsError
from tracker.limits import fit_iso, limits_iso, tolerance_iso


def deviations(found):
    """Upper and lower deviation in micrometres."""
    return [round(found.upper_deviation * 1000, 6), round(found.lower_deviation * 1000, 6)]


def inside_and_end(step):
    """A size just inside the step's lower end, and its upper end."""
    low, high = (float(end) for end in step.split("-"))
    return low + 0.001 if low else 0.5, high


def test_every_grade_of_the_bank(case):
    known = case("iso-it-grades")  # ISO 286-1 table 1
    for grade, row in known["expected"]["IT"].items():
        for step, width in zip(known["inputs"]["ranges_mm"], row, strict=True):
            for size in inside_and_end(step):
                assert tolerance_iso(grade.removeprefix("IT"), size) == pytest.approx(width / 1000, abs=1e-12)


def test_every_interference_letter_of_the_bank(case):
    known = case("iso-shaft-m-to-x")  # ISO 286-1 table 5, on a public textbook page to 180 mm
    for letter, row in known["expected"]["ei_um"].items():
        for step, ei in zip(known["inputs"]["ranges_mm"], row, strict=True):
            for size in inside_and_end(step):
                if ei is None:
                    with pytest.raises(LimitsError, match="not given"):
                        limits_iso(f"{letter}6", nominal=size)
                else:
                    assert deviations(limits_iso(f"{letter}6", nominal=size))[1] == ei


def test_every_clearance_letter_and_k_of_the_bank(case):
    known = case("iso-shaft-d-to-k")
    steps = known["inputs"]["ranges_mm"]
    for letter, row in known["expected"]["es_um"].items():
        for step, es in zip(steps, row, strict=True):
            for size in inside_and_end(step):
                assert deviations(limits_iso(f"{letter}7", nominal=size))[0] == es
    for step, ei in zip(steps, known["expected"]["ei_k_um"], strict=True):
        for size in inside_and_end(step):
            for grade in (4, 5, 6, 7):
                assert deviations(limits_iso(f"k{grade}", nominal=size))[1] == ei
            for grade in (3, 8, 11):
                assert deviations(limits_iso(f"k{grade}", nominal=size))[1] == 0


def test_every_shaft_class_of_the_bank(case):
    known = case("iso-shaft-classes")  # ISO 286-2
    for name, by_size in known["expected"]["limits_um"].items():
        for size, limits in by_size.items():
            assert deviations(limits_iso(f"{size}{name}")) == limits


@pytest.mark.parametrize(
    "name",
    [
        "25H7p6",
        "6H7m6",
        "10H7s6",
        "50H8f7",
        "50H7p6",
        "100H7p6",
        "6H7g6",
        "20H7h6",
        "30K7h6",
        "30N7h6",
        "80H7s6",
        "12H7js6",
        "20H9d9",
        "45H7n6",
    ],
)
def test_every_fit_of_the_bank(case, name):
    known = case(f"iso-fit-{name}")
    given, printed = known["inputs"], known["expected"]
    fit = fit_iso(f"{given['nominal_mm']:g}{given['hole']}/{given['shaft']}")
    assert deviations(fit.internal) == printed["hole_um"]
    assert deviations(fit.external) == printed["shaft_um"]
    assert fit.gap_upper * 1000 == pytest.approx(printed["max_clearance_um"], abs=1e-9)
    assert fit.gap_lower * 1000 == pytest.approx(printed["min_clearance_um"], abs=1e-9)


def test_the_tolerance_unit_of_the_bank(case):
    """The formula behind a grade, at 3 to 6 mm: the table's entries come of it by rounding (6 is rounded up)."""
    known = case("iso-unit-i")
    low, high = known["inputs"]["range_mm"]
    mean = (low * high) ** 0.5
    unit = 0.45 * mean ** (1 / 3) + 0.001 * mean
    assert mean == pytest.approx(known["expected"]["D_geo_mm"], abs=0.006)
    assert unit == pytest.approx(known["expected"]["i_um"], abs=0.0002)
    assert round(tolerance_iso(7, 5) * 1000) == known["expected"]["IT7_16i"] == round(16 * unit)
    assert round(tolerance_iso(6, 5) * 1000) == known["expected"]["IT6_10i"] == -int(-10 * unit // 1)


# ANSI B4.2-1978 (metric preferred fits), first choice sizes, hole and shaft limits in mm; recalled from its tables
B42_HOLE_BASIS = [
    ("20H11/c11", 20.130, 20.000, 19.890, 19.760),
    ("40H11/c11", 40.160, 40.000, 39.880, 39.720),
    ("12H11/c11", 12.110, 12.000, 11.905, 11.795),
    ("100H11/c11", 100.220, 100.000, 99.830, 99.610),
    ("20H9/d9", 20.052, 20.000, 19.935, 19.883),
    ("20H8/f7", 20.033, 20.000, 19.980, 19.959),
    ("20H7/g6", 20.021, 20.000, 19.993, 19.980),
    ("20H7/h6", 20.021, 20.000, 20.000, 19.987),
    ("20H7/k6", 20.021, 20.000, 20.015, 20.002),
    ("20H7/n6", 20.021, 20.000, 20.028, 20.015),
    ("20H7/p6", 20.021, 20.000, 20.035, 20.022),
    ("20H7/s6", 20.021, 20.000, 20.048, 20.035),
    ("20H7/u6", 20.021, 20.000, 20.054, 20.041),
]
B42_SHAFT_BASIS = [
    ("20C11/h11", 20.240, 20.110, 20.000, 19.870),
    ("20D9/h9", 20.117, 20.065, 20.000, 19.948),
    ("20F8/h7", 20.053, 20.020, 20.000, 19.979),
    ("20G7/h6", 20.028, 20.007, 20.000, 19.987),
    ("20K7/h6", 20.006, 19.985, 20.000, 19.987),
    ("20N7/h6", 19.993, 19.972, 20.000, 19.987),
    ("20P7/h6", 19.986, 19.965, 20.000, 19.987),
    ("20S7/h6", 19.973, 19.952, 20.000, 19.987),
    ("20U7/h6", 19.967, 19.946, 20.000, 19.987),
    ("100P7/h6", 99.976, 99.941, 100.000, 99.978),
    ("6S7/h6", 5.985, 5.973, 6.000, 5.992),
]


@pytest.mark.parametrize(("text", "hole_high", "hole_low", "shaft_high", "shaft_low"), B42_HOLE_BASIS + B42_SHAFT_BASIS)
def test_preferred_metric_fits(text, hole_high, hole_low, shaft_high, shaft_low):
    fit = fit_iso(text)
    assert (fit.internal.upper, fit.internal.lower) == pytest.approx((hole_high, hole_low), abs=1e-9)
    assert (fit.external.upper, fit.external.lower) == pytest.approx((shaft_high, shaft_low), abs=1e-9)


# ISO 286-2 hole tables, ES / EI in micrometres, recalled (an independent recollection of the worked-out table)
ISO_286_2_HOLES = [
    ("30M7", 0, -21),
    ("30M6", -4, -17),
    ("50M8", 5, -34),
    ("300M6", -9, -41),
    ("300M7", 0, -52),
    ("10K6", 2, -7),
    ("100K6", 4, -18),
    ("100K8", 16, -38),
    ("100N9", 0, -87),
    ("2N9", -4, -29),
    ("100N6", -16, -38),
    ("100N8", -4, -58),
    ("50P6", -21, -37),
    ("50P8", -26, -65),
    ("30R8", -28, -61),
    ("25U8", -48, -81),
    ("50P9", -26, -88),
    ("50R7", -25, -50),
    ("50J7", 14, -11),
    ("50J6", 10, -6),
    ("50J8", 24, -15),
    ("3P7", -6, -16),
    ("50JS9", 31, -31),
    ("40F6", 41, 25),
    ("40E9", 112, 50),
    ("40A11", 470, 310),
    ("40B11", 330, 170),
]


@pytest.mark.parametrize(("text", "upper", "lower"), ISO_286_2_HOLES)
def test_holes_by_the_rules_of_the_standard(text, upper, lower):
    assert deviations(limits_iso(text)) == [upper, lower]
