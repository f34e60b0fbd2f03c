"""ANSI B4.1-1967, against the bank (cases b41-*, in thousandths of an inch)."""

import pytest

from tracker.errors import LimitsError
from tracker.limits import limits_ansi


def thousandths(value):
    return round(value * 1000, 6) + 0.0


@pytest.mark.parametrize("name", ["LC1", "LC2", "LT1", "LT3", "LN3", "FN1"])
def test_every_class_of_the_bank(case, name):
    known = case(f"b41-{name}")
    printed = known["expected"]
    for index, step in enumerate(known["inputs"]["ranges_in"]):
        low, high = (float(end) for end in step.split("-"))
        for size in (low + 0.001, high):
            shaft = printed["shaft_upper_lower"][index]
            if shaft is None:
                with pytest.raises(LimitsError, match=r"begins over 0\.24 in"):
                    limits_ansi(size, name)
                continue
            fit = limits_ansi(size, name)
            assert thousandths(fit.internal.upper_deviation) == printed["hole_upper"][index]
            assert fit.internal.lower_deviation == printed["hole_lower"] == 0
            assert [thousandths(fit.external.upper_deviation), thousandths(fit.external.lower_deviation)] == shaft
            assert fit.internal.remark == "" if high <= 4.73 else "from memory" in fit.internal.remark


@pytest.mark.parametrize("name", ["LC1", "LC2", "LT1", "LT3", "LN3"])
def test_printed_clearances_of_the_bank(case, name):
    known = case(f"b41-{name}")
    for step, printed in zip(known["inputs"]["ranges_in"], known["expected"]["max_min_clearance"], strict=True):
        if printed is not None:
            fit = limits_ansi(float(step.split("-")[1]), name)
            assert [thousandths(fit.gap_upper), thousandths(fit.gap_lower)] == printed


def test_printed_interferences_of_the_bank(case):
    known = case("b41-FN1")
    rows = zip(known["inputs"]["ranges_in"], known["expected"]["interference_min_max"], strict=True)
    for step, (least, most) in rows:
        fit = limits_ansi(float(step.split("-")[1]), "FN1")
        assert [thousandths(-fit.gap_upper), thousandths(-fit.gap_lower)] == [least, most]
        assert fit.kind == "interference"
