"""Part terms to machine terms: table of cuts, each with its sign worked out by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.cuts import CONVENTIONS
from tracker.decide import convention, machine_offset, part_change
from tracker.decide.machine import in_steps
from tracker.errors import TrackerError

# operation, wanted change of the part (across), what is entered
SIGNS = [
    pytest.param("outside turning", +0.0004, +0.0004, id="shaft larger: tool out, on the diameter"),
    pytest.param("outside turning", -0.0004, -0.0004, id="shaft smaller: tool in"),
    pytest.param("boring", +0.0004, +0.0004, id="bore larger: tool out"),
    pytest.param("milling a pocket", +0.0004, -0.0002, id="pocket larger: a smaller stored cutter, half of it"),
    pytest.param("milling a pocket", -0.0004, +0.0002, id="pocket smaller: a larger stored cutter"),
    pytest.param("milling outside", +0.0004, +0.0002, id="boss larger: a larger stored cutter, half of it"),
    pytest.param("outside grinding", -0.0003, -0.0003, id="ground pin smaller: wheel in"),
    pytest.param("bore grinding", +0.0003, +0.0003, id="ground bore larger: wheel out"),
    pytest.param("surface grinding", -0.001, -0.001, id="plate thinner: wheel down"),
]


@pytest.mark.parametrize(("operation", "change", "entered"), SIGNS)
def test_sign_of_each_cut(operation, change, entered):
    usual = convention(operation)
    assert machine_offset(change, diameter=usual.offset_on == "diameter", plus_makes=usual.plus_makes) == pytest.approx(
        entered
    )


def test_every_cut_listed_has_a_case():
    assert {param.values[0] for param in SIGNS} == set(CONVENTIONS)


def test_compensation_side_is_said_in_words():
    assert "left or right of the path alike" in convention("Milling a pocket").words


def test_unknown_cut_names_the_known_ones():
    with pytest.raises(TrackerError, match="outside turning, boring"):
        convention("sawing")


def test_plus_must_make_larger_or_smaller():
    with pytest.raises(TrackerError, match='"larger" or "smaller"'):
        machine_offset(1.0, plus_makes="bigger")


@given(st.floats(-1, 1), st.booleans(), st.sampled_from(["larger", "smaller"]))
def test_there_and_back(change, diameter, plus_makes):
    offset = machine_offset(change, diameter=diameter, plus_makes=plus_makes)
    assert part_change(offset, diameter=diameter, plus_makes=plus_makes) == pytest.approx(change)


@pytest.mark.parametrize(
    ("offset", "step", "up", "expected"),
    [
        (0.00034, 0.0001, 0, 0.0003),
        (0.00036, 0.0001, 0, 0.0004),
        (0.00036, 0.0001, -1, 0.0003),
        (-0.00036, 0.0001, 1, -0.0003),
        (0.0003, 0.0001, 1, 0.0003),
        (0.0003, 0.0001, -1, 0.0003),
        (0.00004, 0.0001, 0, 0.0),
        (0.013, 0.005, 0, 0.015),
    ],
)
def test_whole_steps(offset, step, up, expected):
    assert in_steps(offset, step, up) == expected  # exact: a step is a decimal, 0.0003 and not 0.00030000000000000003


def test_zero_has_no_sign():
    assert str(in_steps(-0.00001, 0.0001)) == "0.0"


@pytest.mark.parametrize("step", [0.0, -0.1, float("nan"), float("inf")])
def test_step_must_be_a_length(step):
    with pytest.raises(TrackerError, match="smallest step"):
        in_steps(1.0, step)
