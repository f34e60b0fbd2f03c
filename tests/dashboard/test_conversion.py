"""A job in the other unit says the same."""

import pytest

from dashboard.parts.conversion import job_in
from tracker.units import convert

JOBS = ["rest_buttons", "guide_pins", "coupling_pins"]


@pytest.mark.parametrize("name", JOBS)
def test_inch_and_millimetre_give_the_same_answer(sample, name):
    inch, metric = sample(name, "in"), sample(name, "mm")
    for one, other in zip(inch.check.fits, metric.check.fits, strict=True):
        assert one.verdict.word == other.verdict.word
        assert one.chance.pair == pytest.approx(other.chance.pair, rel=1e-6)
        assert [(row.internal, row.external) for row in one.pairs] == [
            (row.internal, row.external) for row in other.pairs
        ]
        assert convert(one.mean_gap, "in", "mm") == pytest.approx(other.mean_gap, rel=1e-9)
    for one, other in zip(inch.check.features, metric.check.features, strict=True):
        assert convert(one.summary.sd.estimate, "in", "mm") == pytest.approx(other.summary.sd.estimate, rel=1e-6)


def test_there_and_back_is_the_same_job(sample):
    job = sample("rest_buttons").job
    back = job_in(job_in(job, "mm"), "in")
    for name, feature in job.features.items():
        assert back.features[name].nominal == pytest.approx(feature.nominal, rel=1e-12)
        assert back.features[name].machine.increment == pytest.approx(feature.machine.increment, rel=1e-12)
    fit = job.fits["button_in_plate"]
    assert back.fits["button_in_plate"].press["length"] == pytest.approx(fit.press["length"], rel=1e-12)
    assert back.fits["button_in_plate"].gap_lower == pytest.approx(fit.gap_lower, rel=1e-12)


def test_the_press_force_is_the_same_in_both_units(sample):
    import numpy as np

    from tracker.judge.joints import press_of

    forces = []
    for unit in ("in", "mm"):
        answer = sample("rest_buttons", unit)
        gaps = np.array([row.gap for row in answer.check.fits[0].pairs])
        forces.append(press_of(answer.job, answer.job.fits["button_in_plate"], gaps).push_force)
    # 1 lbf is 4.4482216152605 N exactly (international pound and standard gravity)
    assert forces[0] * 4.4482216152605 == pytest.approx(forces[1], rel=1e-6)
