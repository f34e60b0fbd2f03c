"""What stands beside a capability: each share is the chance of something named, and a poor calibration shows."""

import dataclasses
from pathlib import Path

import pytest

from dashboard.pages import batch as batch_page
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.sheets.shelf import make_sheet
from tracker import check
from tracker.job import load_job
from tracker.judge import check_lines, readings_of
from tracker.judge.capability_words import beyond_words, shared_words
from tracker.judge.words import Scale

JOB = """
[job]
name = "Holes"
unit = "in"
[features.hole]
kind = "internal"
nominal = 0.2500
lower = 0.2498
upper = 0.2504
gauge = "hole gauge"
machine = { operation = "boring", increment = 0.0001 }
[gauges."hole gauge"]
resolution = 0.00001
calibration = CALIBRATION
"""
HOLES = (0.25000, 0.25005, 0.25003, 0.25012, 0.25010, 0.25019, 0.25016, 0.25004, 0.25021, 0.25010)
NOISE = "if mean and spread are just as found"


def judged(path, calibration):
    (path / "job.toml").write_text(JOB.replace("CALIBRATION", str(calibration)), encoding="utf-8")
    rows = "\n".join(f"{piece},{size}" for piece, size in enumerate(HOLES, 1))
    (path / "hole.csv").write_text(f"piece,value\n{rows}\n", encoding="utf-8")
    return check(path)


def texts(component):
    if isinstance(component, str):
        return component.replace("\xa0", " ")
    if isinstance(component, list | tuple):
        return " ".join(texts(item) for item in component)
    return texts(getattr(component, "children", "") or "")


def test_a_poor_calibration_is_in_mean_and_bias(tmp_path):
    fine, poor = judged(tmp_path, 0.000001).feature("hole"), judged(tmp_path, 0.0004).feature("hole")
    assert poor.summary.common_uncertainty == 0.0004
    assert poor.summary.bias.high - poor.summary.bias.estimate > 1.96 * 0.0004
    assert fine.summary.bias.high - fine.summary.bias.estimate < 0.0001
    assert poor.summary.sd == fine.summary.sd


def test_a_poor_calibration_is_said_beside_the_capability_everywhere(tmp_path):
    answer = judged(tmp_path, 0.0004)
    said = shared_words(answer.feature("hole"), Scale("in", 0.00001))
    assert "may have moved the whole batch by up to 7.8 tenths either way (95 %)" in said
    assert said.endswith("; moved so far, over 99.9 % would be beyond the limits")
    assert said in " ".join(" ".join(check_lines(answer)).split())
    readings = readings_of(tmp_path, load_job(tmp_path))
    shown = Answer(
        job_id=1, job=load_job(tmp_path), own_unit="in", unit="in", check=answer, readings=readings, events=[]
    )
    assert said[1:] in texts(batch_page.page(shown, Address(page="batch", feature="hole")).body)
    report = make_sheet(shown, "report", feature="hole").document().replace("\xa0", " ")
    assert said in report
    assert beyond_words(answer.feature("hole")).removeprefix("expected beyond the limits ") in report


def test_a_good_calibration_needs_no_word(tmp_path):
    answer = judged(tmp_path, 0.000001)
    assert shared_words(answer.feature("hole"), Scale("in", 0.00001)) == ""
    assert "what all sizes share" not in " ".join(" ".join(check_lines(answer)).split())


def test_both_shares_beyond_the_limits_say_what_they_are_of(tmp_path):
    found = judged(tmp_path, 0.00001).feature("hole")
    beyond, within = found.capability.beyond, found.shift.within_before
    assert 1 - within > 2 * beyond.estimate
    words = beyond_words(found)
    assert words.startswith(f"expected beyond the limits under 0.1 % {NOISE}, at most ")
    assert words.endswith(f"{100 * (1 - within):.1f} % of the next pieces, all that is uncertain counted in")


@pytest.mark.parametrize("what", ["capability", "shift"])
def test_without_the_figures_nothing_is_claimed(tmp_path, what):
    found = dataclasses.replace(judged(tmp_path, 0.00001).feature("hole"), **{what: None})
    assert "of the next pieces" not in beyond_words(found)
    assert (beyond_words(found) == "") == (what == "capability")


def test_the_next_pieces_after_an_event_are_not_those_of_the_whole_batch():
    """Two shanks made before the offset was changed are too small; capability holds them, the next pieces do not."""
    folder = Path(__file__).parents[3] / "sample_readings" / "rest_buttons"
    words = beyond_words(check(folder).feature("shank"))
    assert "14 % if mean and spread are just as found" in words
    assert "; as the machine stands since the last offset change, 0.2 % of the next pieces" in words
