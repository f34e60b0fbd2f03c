"""A result in a notebook is the picture of the page: the same function, found by the name of the result."""

from xml.etree import ElementTree

import pytest

from dashboard.figures.tape import tape
from dashboard.figures.two_batches import two_batches
from dashboard.notebook import OF_FEATURE, OF_FIT, draw, svg_of
from dashboard.parts.pictures import signals_of
from tracker.errors import NotEnoughData, TrackerError
from tracker.job import parse_job
from tracker.judge import check
from tracker.readings import read_readings
from tracker.result import Interval


def test_a_judged_job_shows_its_picture_by_itself(sample):
    answer = sample("rest_buttons")
    fit = answer.check.fits[0]
    sides = [answer.check.feature(name) for name in (fit.internal, fit.external)]
    wanted = two_batches(fit, *sides, answer.numbers(fit.internal, fit.external), 900).svg("light")
    assert answer.check._repr_svg_() == wanted
    assert ElementTree.fromstring(wanted).tag.endswith("svg")


def test_a_result_that_has_no_picture_shows_none():
    assert Interval(1.0, 0.5, 1.5)._repr_svg_() is None


@pytest.mark.parametrize("name", [*OF_FIT, *OF_FEATURE])
def test_every_picture_can_be_asked_for(sample, name):
    found = draw(sample("coupling_pins").check, name, feature="" if name in OF_FIT else "pin")
    assert ElementTree.fromstring(found._repr_svg_()).tag.endswith("svg")


def test_the_tape_of_a_notebook_is_that_of_the_page(sample):
    answer = sample("coupling_pins")
    found = answer.check.feature("pin")
    wanted = tape(found, answer.numbers("pin"), 640, signals=signals_of(found))
    assert draw(answer.check, "tape", feature="pin", width=640).svg() == wanted.svg()


def test_what_cannot_be_drawn_is_said(sample, tmp_path):
    with pytest.raises(TrackerError, match="there are: batches, pieces"):
        draw(sample("rest_buttons").check, "pie")
    with pytest.raises(TrackerError, match="no feature 'nut'"):
        draw(sample("rest_buttons").check, "pieces", feature="nut")
    job = parse_job('[job]\nunit = "in"\n[features.bore]\nkind = "internal"\nnominal = 1.0\n')
    (tmp_path / "bore.csv").write_text("piece,value\n")
    empty = check(job, read_readings(tmp_path, job), ())
    with pytest.raises(NotEnoughData, match="bore is not measured"):
        draw(empty)
    assert svg_of(empty) is None
