"""Pieces that lie on the bench without a size are named wherever pieces are pressed, and hold the status up."""

import pytest
from click.testing import CliRunner

from tracker import check
from tracker.cli.entrance import tenthwise
from tracker.job import load_job
from tracker.judge import pair_lines
from tracker.readings import read_readings

JOB = """
[job]
name = "Holes and pins"
unit = "in"
[features.hole]
kind = "internal"
lower = 0.2498
upper = 0.2504
gauge = "hole gauge"
HOLE
[features.pin]
kind = "external"
lower = 0.2505
upper = 0.2510
gauge = "mic"
[fits.f]
internal = "hole"
external = "pin"
gap = [-0.0012, -0.0002]
[gauges."hole gauge"]
resolution = 0.00005
[gauges.mic]
resolution = 0.00005
"""
GOOD = ("1,0.25010", "3,0.25015", "7,0.25010")


def folder(path, *holes, hole="", file="hole.csv", head="piece,value"):
    path.mkdir(exist_ok=True)
    (path / "job.toml").write_text(JOB.replace("HOLE", hole), encoding="utf-8")
    (path / "pin.csv").write_text("piece,value\n1,0.25075\n2,0.2507\n3,0.2508\n", encoding="utf-8")
    (path / file).write_text("\n".join((head, *holes)) + "\n", encoding="utf-8")
    return path


def status(*arguments):
    return CliRunner().invoke(tenthwise, [str(item) for item in arguments]).exit_code


CASES = [
    pytest.param([*GOOD, "4,2502", "5,O.2501", "9,"], "", "holes 4, 5 and 9", id="suspect and refused"),
    pytest.param([*GOOD, "9,nan"], "", "hole 9", id="refused only"),
    pytest.param([*GOOD, ",0.2501"], "", "the hole of one refused row", id="no piece named"),
    pytest.param([*GOOD, ",0.2501", ",0.2502"], "", "the holes of two refused rows", id="two without a piece"),
    pytest.param([*GOOD, "9,nan"], "pieces = 6", "hole 9 and two more of 6", id="and some not measured"),
    pytest.param(GOOD, "pieces = 4", "one hole of 4", id="not measured yet"),
    pytest.param([*GOOD, "5,0,2501"], "", "hole 5", id="too many fields"),
]


@pytest.mark.parametrize(("holes", "stated", "words"), CASES)
def test_what_has_no_size_is_set_aside_and_the_status_says_so(tmp_path, holes, stated, words):
    job = folder(tmp_path / "job", *holes, hole=stated)
    answer = check(job)
    assert answer.verdict.word == "press as they come"
    assert answer.verdict.action == f"Press in any order. Set aside what has no size: {words}."
    assert status("check", job) == status("pair", job) == 1
    assert f"what has no size: {words}" in " ".join(" ".join(pair_lines(answer, answer.fits[0])).split())


@pytest.mark.parametrize("more", [(), ("7,0.25x",)], ids=["all read", "a refused row of a piece that has a size"])
def test_where_every_piece_has_a_size_nothing_is_set_aside(tmp_path, more):
    job = folder(tmp_path / "job", *GOOD, *more)
    assert check(job).verdict.action == "Press in any order."
    assert status("check", job) == status("pair", job) == 0


def test_a_row_that_tells_neither_piece_nor_feature_may_be_of_any(tmp_path):
    rows = [f"hole,{row}" for row in GOOD]
    job = folder(tmp_path / "job", *rows, "bung,4,0.2501", file="x.csv", head="feature,piece,value")
    assert check(job).verdict.action.endswith("Set aside what has no size: the piece of one refused row.")


def test_a_file_that_cannot_be_read_may_hold_pieces(tmp_path):
    job = folder(tmp_path / "job", *GOOD)
    (job / "more.xlsx").write_bytes(b"PK\x03\x04 cut short")
    answer = check(job)
    assert answer.verdict.action.endswith("what stands in one file that could not be read.")
    assert answer.verdict.exit_status == 1


def test_they_are_left_over_for_the_sheets_with_the_reason(tmp_path):
    answer = check(folder(tmp_path / "job", *GOOD, "4,2502", "5,O.2501"))
    left = {(item.feature, item.piece): item.why for item in answer.fits[0].left_over}
    assert left == {("hole", "4"): "no size, only suspect readings", ("hole", "5"): "no size, only refused rows"}
    assert [item.feature for item in answer.unsized] == ["hole"]
    assert "holes 4" not in " ".join(answer.remarks)
    assert "hole 5: only refused rows, so it is in no figure and in no verdict" in answer.remarks


def test_several_suspects_are_named_in_the_plural(tmp_path):
    answer = check(folder(tmp_path / "job", *GOOD, "4,2502", "5,2503"))
    assert "holes 4 and 5: only suspect readings, so they are in no figure and in no verdict" in answer.remarks


def test_a_plan_with_work_sets_them_aside_too(tmp_path):
    answer = check(folder(tmp_path / "job", "1,0.2501", "3,0.2501", "7,0.2524", "9,nan"))
    assert answer.verdict.word in ("rework", "remake")
    assert answer.verdict.action.endswith("Set aside what has no size: hole 9.")


def test_a_refused_row_names_feature_and_piece_where_it_tells_them(tmp_path):
    job = folder(tmp_path / "job", *GOOD, "5,O.2501", ",0.2501", "6,0.2501,0.2502")
    found = read_readings(job, load_job(job)).refused
    assert found[["feature", "piece"]].to_numpy().tolist() == [["hole", "5"], ["hole", ""], ["hole", "6"]]


def test_a_row_with_a_field_too_many_before_the_piece_does_not_name_it(tmp_path):
    job = folder(tmp_path / "job", "0.2501,1", "0,2501,2", head="value,piece")
    found = read_readings(job, load_job(job)).refused
    assert found[["feature", "piece"]].to_numpy().tolist() == [["hole", ""]]
