"""The joint behind a fit: what a job may state of its press and its seat."""

import numpy as np
import pytest

from tracker.errors import JobError, LengthError
from tracker.fit.pressing import press_fit
from tracker.fit.seating import corner_seat, seat
from tracker.job import parse_job
from tracker.judge.joints import press_of, seat_of
from tracker.units import parse_length

JOB = """
[job]
name = "invented nest"
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.6250
material = "aluminium"
[features.shank]
kind = "external"
nominal = 0.6256
[fits.button]
internal = "bore"
external = "shank"
gap = [-0.0009, -0.0003]
"""
GAPS = np.array([-0.0004, -0.0006, -0.0005])


def fit_of(*lines):
    job = parse_job(JOB + "\n".join(lines))
    return job, job.fits["button"]


def test_press_takes_the_table_the_materials_and_the_gaps():
    job, fit = fit_of('press = { length = "3/8", outer = 2.0, friction = [0.1, 0.14], outer_rz = "4 um" }')
    found = press_of(job, fit, GAPS)
    own = press_fit(
        0.625,
        0.375,
        -GAPS,
        outer=2.0,
        friction=(0.1, 0.14),
        units="in",
        outer_material="aluminium",
        outer_rz=parse_length("4 um", "in"),
        beyond_yield="mark",
    )
    assert found.to_dict() == own.to_dict()
    assert found.pairs == 3


def test_press_can_be_changed():
    job, fit = fit_of("press = { length = 0.375 }")
    changed = press_of(job, fit, GAPS, length="0.5", outer_material="steel", inner=None)
    assert (changed.length, changed.outer_material.name, changed.inner) == (0.5, "steel", 0.0)


def test_seat_and_corner():
    job, fit = fit_of('seat = { fillet = "0.012 in", relief = 0.010, feeler = [0.001, 0.003] }')
    assert seat_of(job, fit) == seat(0.012, 0.010, feeler=(0.001, 0.003), unit="in")
    job, fit = fit_of("seat = { fillet = 0.03, relief = 0.01, gap = 0.001, in_plan = true }")
    assert seat_of(job, fit) == corner_seat(0.03, 0.01, 0.001, unit="in")


@pytest.mark.parametrize(
    ("line", "ask", "words"),
    [
        ("", lambda job, fit: press_of(job, fit, GAPS), "states no press"),
        ("press = { outer = 2.0 }", lambda job, fit: press_of(job, fit, GAPS), "length"),
        ("press = { length = 1.0, lenght = 2.0 }", lambda job, fit: press_of(job, fit, GAPS), "'lenght'"),
        ("", seat_of, "no fillet and no relief"),
        ("seat = { fillet = 0.01 }", seat_of, "no relief"),
        ("seat = { fillet = 0.01, relief = 0.0, depth = 1.0 }", seat_of, "'depth'"),
    ],
)
def test_refused(line, ask, words):
    job, fit = fit_of(line)
    with pytest.raises(JobError, match=words):
        ask(job, fit)


def test_a_length_that_is_none_is_refused():
    job, fit = fit_of('press = { length = "long" }')
    with pytest.raises(LengthError, match="long"):
        press_of(job, fit, GAPS)
