"""The window of interference, against the press fit at both its ends."""

import re

import pytest

from tracker.errors import OutsideModel
from tracker.fit.press_window import interference_window
from tracker.fit.pressing import press_fit

JOINT = {"inner": 10.0, "outer": 80.0, "inner_rz": 0.004, "outer_rz": 0.006}


def test_least_holds_exactly_and_most_keeps_the_margin():
    window = interference_window(50.0, 40.0, friction=(0.08, 0.16), hold=20_000.0, margin=1.5, **JOINT)
    low = press_fit(50.0, 40.0, window.least, friction=(0.08, 0.16), **JOINT)
    high = press_fit(50.0, 40.0, window.most, friction=(0.08, 0.16), **JOINT)
    assert low.ranges["holding_force"].low == pytest.approx(20_000.0)
    assert min(high.margins.values()) == pytest.approx(1.5)
    assert window.possible


@pytest.mark.parametrize("hold", [11_111.0, 20_000.0, 33_333.0])
def test_the_printed_ends_keep_what_they_promise(hold):
    words = str(interference_window(50.0, 40.0, friction=0.12, hold=hold, **JOINT))
    least, most = (float(part) for part in re.findall(r"([\d.]+) mm", words)[:2])
    assert press_fit(50.0, 40.0, least, friction=0.12, **JOINT).ranges["holding_force"].low >= hold
    assert min(press_fit(50.0, 40.0, most, friction=0.12, **JOINT).margins.values()) >= 1.25


def test_torque_is_turned_into_force():
    """1 N m at a radius of 25 mm is 40 N; in inches 1 lbf in at 0.5 in is 2 lbf."""
    assert interference_window(50.0, 40.0, outer=80.0, torque=100.0).hold == pytest.approx(4000.0)
    assert interference_window(1.0, 1.0, outer=2.0, torque=100.0, units="in").hold == pytest.approx(200.0)
    both = interference_window(50.0, 40.0, outer=80.0, torque=75.0, hold=4000.0)
    assert both.hold == pytest.approx(5000.0)


def test_impossible_is_said():
    window = interference_window(50.0, 10.0, outer=55.0, hold=500_000.0)
    assert not window.possible
    assert "Make the joint longer" in str(window)


@pytest.mark.parametrize(
    "asked", [{}, {"hold": 0.0}, {"hold": -1.0}, {"torque": float("nan")}, {"hold": 1.0, "margin": 0.0}]
)
def test_refused(asked):
    with pytest.raises(OutsideModel):
        interference_window(50.0, 40.0, outer=80.0, **asked)
