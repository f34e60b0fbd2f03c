"""What a toolmaker asks of the commands that judge a fit: odd jobs, odd words, and answers that hold together."""

import json

import pytest
from click.testing import CliRunner

from tracker.cli.entrance import tenthwise
from tracker.decide.words import plural

JOB = """
[job]
name = "Nest, plugs"
unit = "mm"
[features.bore]
kind = "internal"
nominal = 12
lower = 12.000
upper = 12.018
gauge = "g"
[features.bush]
kind = "external"
nominal = 12
lower = 12.001
upper = 12.004
gauge = "g"
[fits.f]
internal = "bore"
external = "bush"
gap = [-0.004, 0.006]
[gauges.g]
resolution = 0.001
"""
BORES = [12.001, 12.016, 12.011, 12.007, 12.007, 12.009, 12.005, 12.012]
BUSHES = [12.003, 12.006, 12.004, 12.010, 12.008, 12.022]


def run(*words):
    return CliRunner().invoke(tenthwise, [str(word) for word in words])


def said(result):
    return " ".join(result.output.split())


@pytest.fixture
def folder(tmp_path):
    return written(tmp_path, JOB, bore=BORES, bush=BUSHES)


def written(path, job, **columns):
    (path / "job.toml").write_text(job, encoding="utf-8")
    for name, sizes in columns.items():
        rows = "".join(f"{k},{size}\n" for k, size in enumerate(sizes, 1))
        (path / f"{name}.csv").write_text(f"piece,value\n{rows}", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("limits", "press"), "press has no size; write it after the word: press 0.25"),
        (("limits", "dowel"), "dowel has no size; write it after the word: dowel 1/4"),
        (("limits", "screw"), "screw has no size; write it after the word: screw M6"),
        (("limits", "25H7/p6", "--spread", "-4um"), "--spread is -4um; accepted is a standard deviation from zero up"),
        (
            ("limits", "25H7/p6", "--spread", "4um", "--gap", "-0.01", "-0.02"),
            "--gap is -0.01 -0.02: the lower limit is not under the upper limit; swap them",
        ),
    ],
)
def test_a_question_that_lacks_something_is_told_what(words, message):
    result = run(*words)
    assert result.exit_code == 2
    assert message in said(result)


def test_what_a_drawing_allows_is_said_with_its_unit():
    assert "allow gaps from -0.035 to -0.001 mm." in said(run("limits", "25H7/p6", "--spread", "4um"))


def test_trays_are_the_same_in_check_and_in_classes_and_name_what_is_in_none(folder):
    whole = json.loads(run("check", folder, "--json").output)["fits"][0]["classes"]
    alone = json.loads(run("classes", folder, "--json", "--count", len(whole["labels"])).output)
    assert alone["expected_good"] == whole["expected_good"]
    assert alone["share"] == whole["share"]
    there = {"bore": len(BORES), "bush": len(BUSHES)}
    out = {
        name: there[name] - sum(alone[f"count_{side}"]) for name, side in (("bore", "internal"), ("bush", "external"))
    }
    assert sum(out.values()) > 0
    words = said(run("classes", folder, "--count", len(whole["labels"])))
    assert ("in no tray" in words) and ("bushs" not in words)


def test_trays_are_refused_in_the_words_of_the_shop(folder):
    result = run("classes", folder, "--count", 50)
    assert result.exit_code == 2
    assert "trays cannot be told apart" in said(result)
    assert "count:" not in said(result)


def test_a_part_cut_outside_its_own_drawing_to_suit_its_mates_is_said(folder):
    assert "micrometres over the upper limit of its drawing (12.0040); ask before cutting outside" in said(
        run("check", folder)
    )


def test_pieces_to_come_are_weighed_against_a_mate_of_mean_size(folder):
    assert "pieces suit a bore of mean size" in said(run("shift", folder))


def test_a_plan_with_work_in_it_has_its_own_list_and_says_so(folder):
    words = said(run("check", folder))
    assert "pairs as the plan lists them" in words
    assert "pieces as they are: once any is reworked or new, pair as the plan lists them" in words
    assert "Costs not stated were assumed: press, rework, remake and spoiled assembly." in words


def test_a_length_is_not_entered_on_a_diameter(tmp_path):
    job = '[job]\nname = "n"\nunit = "mm"\n[features.head]\nkind = "length"\nnominal = 5\nlower = 4.99\nupper = 5.01\n'
    folder = written(tmp_path, job, head=[5.006, 5.007, 5.005, 5.008, 5.006])
    assert "on the length (plus makes the part larger)" in said(run("shift", folder))


BORED = """[job]
name = "n"
unit = "mm"
[features.head]
kind = "external"
nominal = 5
lower = 4.99
upper = 5.01
machine = { MACHINE }
"""


def test_a_cut_for_the_other_side_is_refused_or_stands_beside_the_offset(tmp_path):
    sizes = [5.006, 5.007, 5.005, 5.008, 5.006]
    refused = run("shift", written(tmp_path, BORED.replace("MACHINE", 'operation = "boring"'), head=sizes))
    assert refused.exit_code == 2
    assert "boring makes an internal feature, and this is external" in said(refused)
    assert "accepted is outside turning, milling outside, outside grinding" in said(refused)
    stated = BORED.replace("MACHINE", 'operation = "boring", plus_makes = "larger"')
    taken = said(run("shift", written(tmp_path, stated, head=sizes)))
    assert "note [features.head] machine: boring makes an internal feature, and this is external" in taken


def test_several_of_a_thing():
    assert [plural(word) for word in ("bore", "bush", "boss", "box", "body", "key")] == [
        *("bores", "bushes", "bosses", "boxes", "bodies", "keys")
    ]
