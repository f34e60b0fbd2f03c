"""The History page and its tapes, from nothing at all to thousands of batches, without a browser."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from dashboard.figures.tapes import MOST_STEPS, MOST_TAPES, Tape, Wall, tapes
from dashboard.figures.when import months
from dashboard.parts.address import Address, read_address
from dashboard.parts.answers import Answers
from dashboard.server import create_app, rendered
from tracker.record import open_record

SVG = "{http://www.w3.org/2000/svg}"
MARKS = ("rect", "line", "circle", "path")
JOB = """[job]
name = "{name}"
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.6250
lower = 0.6250
upper = 0.6257
machine = {{ name = "mill 1", tool = "reamer" }}
"""


def wall(batches, count=1, look=("bore",), **more):
    """A wall of tapes with invented means; the first tape holds one batch far off."""
    rng = np.random.default_rng(9)
    ranks = np.arange(batches)
    made = []
    for number in range(count):
        mine = ranks[ranks % count == number]
        mean = rng.normal(0, 0.1, mine.size)
        if number == 0:
            mean[mine.size // 3], mean[2 * mine.size // 3] = 0.97, -0.93
        looks = [look[i % len(look)] for i in range(mine.size)]
        told = {"half": np.full(mine.size, 0.1), "look": looks, "says": [""] * mine.size}
        made.append(Tape(name=f"mill {number}", rank=mine, mean=mean, **told, **more))
    days = [f"2026-{1 + i * 12 // batches:02d}-01" for i in range(batches)]
    return Wall(tapes=tuple(made), ranks=batches, months=months(days), left_out=0, more=0)


def marks(drawing):
    root = ElementTree.fromstring(drawing.svg())
    return [item for name in MARKS for item in root.iter(SVG + name)]


@pytest.mark.parametrize("width", [344, 760, 1340])
@pytest.mark.parametrize("batches", [1, 150, 151, 20_000])
@pytest.mark.parametrize("look", [("bore",), ("shank", "length", "bore")], ids=["bores", "mixed"])
def test_however_many_batches_never_more_than_5000_marks_are_sent(width, batches, look):
    drawn = tapes(wall(batches, min(MOST_TAPES, batches), look), width)
    assert len(marks(drawn)) <= 5000
    assert len(drawn.svg()) < 700_000
    for item in marks(drawn):
        if item.tag != f"{SVG}rect":
            continue
        assert float(item.get("x", 0)) >= -0.1
        assert float(item.get("x", 0)) + float(item.get("width", "0").rstrip("%")) <= width + 0.1
        assert float(item.get("y", 0)) + float(item.get("height", "0").rstrip("%")) <= drawn.height + 0.1


@pytest.mark.parametrize("batches", [MOST_STEPS, 1000, 20_000])
def test_thinning_keeps_the_extremes(batches):
    drawn = tapes(wall(batches), 900)
    dots = [item for item in marks(drawn) if (item.get("class") or "").endswith("dot")]
    left = min(float(item.get("x")) for item in dots)
    right = max(float(item.get("x")) + float(item.get("width")) for item in dots)
    limits = sorted(float(item.get("x1")) for item in marks(drawn) if item.get("class") == "limit")
    half = (limits[-1] - limits[0]) / 2
    middle = (limits[-1] + limits[0]) / 2
    assert right - 2 == pytest.approx(middle + 0.97 * half, abs=1.5)
    assert left + 2 == pytest.approx(middle - 0.93 * half, abs=1.5)


def test_a_tape_is_cut_where_it_moved_and_says_so(answers):
    found = answers.back.at(Address(page="history"))
    drawn = tapes(found.wall, 1000)
    text = drawn.svg()
    assert drawn.title == "Grinder 1 moved by +2.0 tenths on 8 May 2026"
    assert text.count('class="cut"') == 1
    assert "since 8 May 2026" in text
    assert len(found.wall.tapes[0].rank) == 24


def said(answers, query=""):
    """Return the words of the page, and the address of its picture."""
    room, _ = rendered(answers, "/history", query)
    text = str(room.to_plotly_json())
    return text, re.findall(r"/pictures/tapes\.svg[^'\"]*", text)


def test_the_page_says_what_moved_by_how_much_and_since_when(answers):
    text, pictures = said(answers)
    assert "Grinder 1 cuts guide pins two tenths larger since 8 May 2026." in text
    assert "The worst job is Leak-test nest, depth stops" in text
    assert "by=machine" in pictures[0]


def test_the_truth_that_was_put_into_the_sample_comes_out(answers):
    """2.1 tenths from the sixteenth batch on, as the README of the samples says; nothing else moved."""
    found = answers.back.at(Address(page="history", by="part"))
    assert [strand.feature for strand in found.moved] == ["guide_pin"]
    assert found.moved[0].first == 15
    assert found.moved[0].move == pytest.approx(0.00021, abs=0.00005)


def test_millimetres_say_the_same(answers):
    text, _ = said(answers, "?unit=mm")
    assert "Grinder 1 cuts guide pins five micrometres larger since 8 May 2026." in text
    assert "tenths" not in text.replace("tenths micrometer", "").replace("tenthwise", "")


@pytest.mark.parametrize("by", ["part", "machine", "tool", "operator", "month"])
def test_every_way_is_an_address_of_its_own(record, by):
    assert read_address("/history", f"?by={by}").href == f"/history?by={by}"
    client = create_app(record).server.test_client()
    drawn = client.get(f"/pictures/tapes.svg?by={by}&width=800")
    assert (drawn.status_code, drawn.data[:4]) == (200, b"<svg")


def test_an_unknown_way_is_the_usual_one():
    assert read_address("/history", "?by=colour").by == ""


def test_nothing_measured_says_what_to_do(tmp_path):
    with open_record(tmp_path / "r.sqlite") as record:
        assert "no batch is measured" in said(Answers(record))[0]
        assert create_app(record).server.test_client().get("/pictures/tapes.svg?width=800").status_code == 404
        record.add_job(JOB.format(name="begun"))
        assert "no batch is measured" in said(Answers(record))[0]


def test_one_batch_says_how_many_are_needed(tmp_path):
    with open_record(tmp_path / "r.sqlite") as record:
        job = record.add_job(JOB.format(name="one")).id
        record.add_reading(job, "bore", "1", "0.6253", client_id="a")
        text, _ = said(Answers(record))
        assert "Cannot say yet: six batches of one feature are needed, and there is 1." in text
        record.add_reading(job, "bore", "1", "goes .6250 / not .6252", batch="b", client_id="b")
        assert "there is 1." in said(Answers(record))[0]
        drawn = tapes(Answers(record).back.at(Address(page="history")).wall, 800)
        assert drawn.title == "1 batch so far: too few to tell whether anything moved"


def test_batches_without_limits_are_named_and_not_drawn(tmp_path):
    with open_record(tmp_path / "r.sqlite") as record:
        job = record.add_job(JOB.format(name="open").replace("upper = 0.6257\n", "")).id
        record.add_reading(job, "bore", "1", "0.6253", client_id="a")
        found = Answers(record).back.at(Address(page="history"))
        drawn = tapes(found.wall, 800)
        assert (found.wall.tapes, found.wall.left_out) == ((), 1)
        assert drawn.title == "No batch has two limits, so none has a place on a tape"


def test_what_is_new_is_seen_at_once(tmp_path):
    with open_record(tmp_path / "r.sqlite") as record:
        job = record.add_job(JOB.format(name="live")).id
        answers = Answers(record)
        for number in range(3):
            record.add_reading(job, "bore", "1", "0.6253", batch=str(number), client_id=str(number))
            words = "1 reading in 1 batch;" if not number else f"{number + 1} readings in {number + 1} batches;"
            assert words in said(answers)[0]
        record.revise_job(job, JOB.format(name="renamed"))
        record.add_reading(job, "bore", "2", "0.6254", batch="2", client_id="x")
        assert "renamed" in said(answers)[0]


def test_what_says_no_machine_is_none_and_batches_without_a_ppk_are_counted(tmp_path):
    silent = JOB.replace('machine = {{ name = "mill 1", tool = "reamer" }}\n', "")
    metric = silent.replace('"in"', '"mm"').replace("0.62", "15.62")
    with open_record(tmp_path / "r.sqlite") as record:
        jobs = [record.add_job(text.format(name=name)).id for name, text in (("a", JOB), ("b", silent), ("c", metric))]
        for job, size in zip(jobs, (0.625, 0.625, 15.625)):
            for piece in range(4):
                record.add_reading(job, "bore", str(piece), f"{size + piece / 10_000:.4f}", client_id=f"{job} {piece}")
        record.add_reading(jobs[0], "bore", "1", "0.6253", batch="one piece", client_id="alone")
        text, _ = said(Answers(record), "?by=machine")
        assert "1 machine, what moved first; 2 batches say none" in text
        assert "The worst of 3 batches" in text
        assert "1 more has no Ppk: without limits, or with no two pieces that differ." in text


@pytest.mark.parametrize("path", ["/history", "/help"])
def test_a_page_of_no_job_names_the_job_it_was_opened_from(answers, numbers_of, path):
    number = numbers_of["guide_pins"]
    text = str(rendered(answers, path, f"?job={number}")[0].to_plotly_json())
    assert "Span(children='Leak-test nest, guide pins', className='job-name'" in text
    assert f"/fit?job={number}" in text
    text = str(rendered(answers, path, "")[0].to_plotly_json())
    assert "className='job-name'" in text
    assert "Span(children='', className='job-name'" in text
