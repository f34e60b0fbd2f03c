"""Seating: the formulas against a brute-force contact search that knows nothing of them."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.errors import OutsideModel
from tracker.fit.seating import corner_seat, seat

POINTS = 4001


def edge(relief, kind, angle):
    """Points on the relieved edge, from the wall (x = 0) to the face (y = 0), and a little of both."""
    if kind == "radius":
        turn = np.linspace(math.pi, math.pi / 2, POINTS)
        x, y = relief + relief * np.cos(turn), -relief + relief * np.sin(turn)
    else:
        depth = relief * math.tan(math.radians(angle))
        share = np.linspace(0.0, 1.0, POINTS)
        x, y = relief * share, -depth * (1 - share)
    reach = np.linspace(0.0, 3.0, POINTS)
    x = np.concatenate([x, np.zeros(POINTS), x.max() + reach])
    y = np.concatenate([y, y.min() - reach, np.zeros(POINTS)])
    return x, y


def cuts(x, y, radius, gap, height):
    """Whether any point stands in the material of the shank, of the shoulder or of the fillet between them."""
    slack = 1e-9
    in_shank = x < -gap - slack
    in_shoulder = y > height + slack
    across, down = radius - gap - x, y - (height - radius)  # left of, and above, the fillet's centre
    in_fillet = (across > 0) & (down > 0) & (across**2 + down**2 > radius**2 * (1 + slack))
    return bool(np.any(in_shank | in_shoulder | in_fillet))


def lowest(blocked, top):
    """The least lift that clears, by bisection."""
    if not blocked(0.0):
        return 0.0
    low, high = 0.0, top
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if blocked(middle) else (low, middle)
    return high


def brute_stand_off(radius, relief, gap, kind, angle):
    x, y = edge(relief, kind, angle)
    return lowest(lambda height: cuts(x, y, radius, gap, height), 2 * radius)


def brute_corner(radius, relief, gap, kind, angle):
    x, y = edge(relief, kind, angle)
    return lowest(lambda more: cuts(x, y, radius, gap + more, gap + more), 2 * radius)


KINDS = st.sampled_from(["chamfer", "radius"])
SHARE = st.floats(0.0, 1.2)
ANGLES = st.sampled_from([15.0, 30.0, 45.0, 60.0, 75.0])


@given(radius=st.floats(0.2, 2.0), relief=SHARE, gap=SHARE, kind=KINDS, angle=ANGLES)
def test_stand_off_by_brute_force(radius, relief, gap, kind, angle):
    found = seat(radius, relief * radius, gap * radius, relief_kind=kind, angle=angle)
    by_search = brute_stand_off(radius, relief * radius, gap * radius, kind, angle)
    assert found.stand_off == pytest.approx(by_search, abs=3e-4 * radius)
    assert found.seats == (found.stand_off == 0.0)


@given(radius=st.floats(0.2, 2.0), relief=SHARE, gap=st.floats(0.0, 0.4), kind=KINDS, angle=ANGLES)
def test_corner_by_brute_force(radius, relief, gap, kind, angle):
    found = corner_seat(radius, relief * radius, gap * radius, relief_kind=kind, angle=angle)
    by_search = brute_corner(radius, relief * radius, gap * radius, kind, angle)
    assert found.stand_off == pytest.approx(by_search, abs=3e-4 * radius)


@given(radius=st.floats(0.01, 2.0), gap=st.floats(0.0, 1.2), kind=KINDS, angle=ANGLES, plan=st.booleans())
def test_the_relief_needed_is_just_enough(radius, gap, kind, angle, plan):
    ask = corner_seat if plan else seat
    needed = ask(radius, 0.0, gap * radius, relief_kind=kind, angle=angle).relief_needed
    assert ask(radius, needed * (1 + 1e-9), gap * radius, relief_kind=kind, angle=angle).stand_off < 1e-6 * radius
    if needed > 1e-3 * radius:
        assert ask(radius, needed * 0.99, gap * radius, relief_kind=kind, angle=angle).stand_off > 0.0


@given(
    radius=st.floats(0.01, 2.0),
    gap=st.floats(0.0, 1.2),
    allowed=st.floats(0.0, 1.1),
    kind=KINDS,
    angle=ANGLES,
    plan=st.booleans(),
)
def test_the_relief_for_what_is_allowed_is_just_enough(radius, gap, allowed, kind, angle, plan):
    """Asked again with that relief, the stand-off is what is allowed; with less it is more."""
    ask, how = corner_seat if plan else seat, {"relief_kind": kind, "angle": angle}
    relief = ask(radius, 0.0, gap * radius, allowed=allowed * radius, **how).relief_allowed
    assert ask(radius, relief, gap * radius, **how).stand_off <= (allowed + 1e-6) * radius
    if relief > 1e-3 * radius:
        assert ask(radius, relief * 0.99, gap * radius, **how).stand_off > allowed * radius
        assert ask(radius, relief, gap * radius, **how).stand_off == pytest.approx(allowed * radius, abs=1e-6 * radius)


def test_what_is_allowed_is_said_by_name():
    """R = 0.015 against 0.010 at 45 degrees: held 0.005 off; 0.013 leaves 0.002."""
    over = seat(0.015, 0.010, allowed=0.002, unit="in")
    assert over.relief_allowed == pytest.approx(0.013)
    assert "held 0.005 in off the face" in str(over)
    assert "more than the 0.002 in allowed" in str(over)
    assert "An edge break of 0.013 in or more would do; 0.015 in would clear it." in str(over)
    assert seat(0.015, 0.013, allowed=0.002).seats
    within = seat(0.015, 0.010, allowed=0.005, unit="in")
    assert str(within).endswith("to clear it. The stand-off, 0.005 in, is within the 0.005 in allowed.")
    assert "allowed" not in str(seat(0.015, 0.010, unit="in"))
    corner = corner_seat(0.030, 0.0, allowed=0.009, unit="in")  # 0.2929 of 0.030 is 0.0088
    assert str(corner).endswith("The gap wanting a side, 0.00879 in, is within the 0.009 in allowed.")


@given(radius=st.floats(0.01, 2.0), relief=SHARE, gap=SHARE, more=st.floats(0, 0.5), kind=KINDS)
def test_more_relief_or_more_gap_never_hurts(radius, relief, gap, more, kind):
    base = seat(radius, relief * radius, gap * radius, relief_kind=kind).stand_off
    slack = 1e-9 * radius
    assert seat(radius, (relief + more) * radius, gap * radius, relief_kind=kind).stand_off <= base + slack
    assert seat(radius, relief * radius, (gap + more) * radius, relief_kind=kind).stand_off <= base + slack
    assert seat(radius * 1.1, relief * radius, gap * radius, relief_kind=kind).stand_off >= base - slack


def test_sharp_edge_with_a_gap_by_hand():
    """R = 1, g = 0.2: the corner meets the arc at 1 - sqrt(2 0.2 - 0.04) = 0.4."""
    assert seat(1.0, 0.0, 0.2).stand_off == pytest.approx(0.4)
    assert seat(1.0, 0.0, 0.2).relief_needed == pytest.approx(0.8)


@pytest.mark.parametrize("size", [0.0005, 0.015, 0.031, 1.0, 25.4])
def test_a_break_as_large_as_the_fillet_seats_exactly(size):
    assert seat(size, size).seats
    assert seat(size, size, relief_kind="radius").seats
    assert corner_seat(size, size).seats
    assert not seat(size, size * 0.999).seats


def test_interference_counts_as_no_gap():
    assert seat(0.015, 0.01, -0.0003).stand_off == seat(0.015, 0.01, 0.0).stand_off
    assert seat(0.015, 0.01, -0.0003).gap == 0.0


def test_no_fillet_always_seats():
    assert seat(0.0, 0.0).seats
    assert corner_seat(0.0, 0.0).seats


def test_allowed_stand_off():
    held = seat(0.015, 0.013)
    assert not held.seats
    assert seat(0.015, 0.013, allowed=held.stand_off).seats
    assert "allowed" in str(seat(0.015, 0.013, allowed=0.002, unit="in"))


@pytest.mark.parametrize(
    ("feeler", "explained"),
    [
        (0.004, True),
        ((0.004, 0.006), True),
        ((0.004, 0.005), True),
        ((None, 0.006), True),
        (0.006, False),
        ((0.002, 0.004), False),
        ((0.006, None), False),
    ],
)
def test_feeler_gauge(feeler, explained):
    """Held off 0.005 by the geometry (fillet 0.015, break 0.010, no gap)."""
    held = seat(0.015, 0.010, feeler=feeler)
    assert held.stand_off == pytest.approx(0.005)
    assert held.explained is explained
    assert ("does not agree" in str(held)) is not explained


def test_feeler_under_a_shoulder_that_should_seat():
    found = seat(0.015, 0.020, feeler=0.0015)
    assert found.seats and found.explained is False
    assert "burr" in str(found)


@pytest.mark.parametrize(
    ("arguments", "more", "words"),
    [
        ((-0.01, 0.0), {}, "fillet"),
        ((0.01, -1.0), {}, "relief"),
        ((math.nan, 0.0), {}, "fillet"),
        ((0.01, 0.0, math.nan), {}, "gap"),
        ((0.01, 0.0), {"relief_kind": "step"}, "chamfer or radius"),
        ((0.01, 0.0), {"angle": 90.0}, "degrees"),
        ((0.01, 0.0), {"allowed": -1.0}, "allowed"),
        ((0.01, 0.0), {"feeler": -1.0}, "leaf"),
        ((0.01, 0.0), {"feeler": (0.003, 0.002)}, "not thinner"),
    ],
)
def test_refused(arguments, more, words):
    for ask in (seat, corner_seat):
        with pytest.raises(OutsideModel, match=words):
            ask(*arguments, **more)


def test_words():
    assert str(seat(0.015, 0.0, unit="in")).startswith(
        "The shoulder is held 0.015 in off the face by the edge of the hole"
    )
    assert str(seat(0.015, 0.02, unit="in")).startswith("The shoulder sits flat")
    assert str(corner_seat(0.03, 0.03, unit="in")).startswith("The corner goes home")
    assert "more gap a side" in str(corner_seat(0.03, 0.0, unit="in"))
