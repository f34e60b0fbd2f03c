"""Gap limits that overstress a part: nothing is pressed, whatever way the pieces could be put together."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from tracker.cli.entrance import tenthwise
from tracker.fit.pressing import press_fit
from tracker.judge import check
from tracker.judge.text import check_lines

JOB = """[job]
name = "invented bushes"
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.625
gauge = "bench gauge"
[features.bush]
kind = "external"
nominal = 0.6265
gauge = "bench gauge"
[fits.bush_in_plate]
internal = "bore"
external = "bush"
gap = [LOWER, UPPER]
press = { length = 0.5, outer = 1.0, outer_yield = 40000, STATED }
[gauges."bench gauge"]
resolution = 0.00001
"""
HEIGHT = """
[features.flange]
kind = "length"
nominal = 0.25
gauge = "bench gauge"
[features.counterbore]
kind = "length"
nominal = 0.24
gauge = "bench gauge"
[closures.stand]
terms = { flange = 1, counterbore = -1 }
limits = [0.005, 0.015]
"""


@pytest.fixture
def job(tmp_path):
    """Return a function: gap limits, bush size, what the press states -> folder of a job, eight pieces a side."""

    def folder(lower, upper, bush, stated="friction = 0.1", more="", drift=0.0):
        text = JOB.replace("LOWER", str(lower)).replace("UPPER", str(upper)).replace("STATED", stated)
        (tmp_path / "job.toml").write_text(text + more, encoding="utf-8")
        sizes = {"bore": 0.6250, "bush": bush}
        if more:
            sizes |= {"flange": 0.25, "counterbore": 0.24}
        places = np.arange(8) * 5 % 8
        groups = [("bore", "counterbore"), ("bush", "flange")] if more else [("bore",), ("bush",)]
        for names in groups:
            rows = [
                ",".join([str(piece + 1), *(f"{sizes[name] + drift * places[piece]:.5f}" for name in names)])
                for piece in range(8)
            ]
            (tmp_path / f"{names[0]}.csv").write_text("\n".join([",".join(["piece", *names]), *rows]), encoding="utf-8")
        return tmp_path

    return folder


def run(*words):
    done = CliRunner().invoke(tenthwise, [str(word) for word in words])
    return done.exit_code, " ".join(done.output.split())


def most(margin, **stated):
    """Return the interference that leaves the plate this margin, by trial."""
    trial = press_fit(0.625, 0.5, 0.0001, outer=1.0, outer_yield=40000, units="in", **stated)
    return trial.interference.high * trial.margins["outer"] / margin


def test_within_limits_that_the_plate_does_not_stand_nothing_is_pressed(job):
    folder = job(-0.0030, -0.0004, 0.6268)
    status, text = run("check", folder)
    assert status == 2
    assert "PRESS AS THEY COME" not in text
    assert text.count("CANNOT SAY") == 2
    assert "why Do not press: with 64 of 64 pairs the outer part passes its strength; up to " in text
    assert "over every pair that may meet in any order: the margin of the outer part (the bore) is 0." in text
    assert f"do Do not press. Up to {int(most(1.25) * 1e5) / 1e5:.5f} in of interference keeps that margin" in text
    assert "push force" not in text
    assert "Press in any order" not in text
    found = check(folder)
    fit = found.fits[0]
    assert fit.do_not_press
    assert fit.verdict.exit_status == 2
    assert fit.plan is None
    assert fit.shift is None
    assert found.verdict == fit.verdict


def test_the_limit_that_it_names_is_pressed_within(job):
    lower = -int(most(1.25) * 1e5) / 1e5
    status, text = run("check", job(-0.0030, -0.0004, 0.6268))
    assert f"make {lower:.5f} in the lower gap limit and check again, or take a stronger or thicker outer part" in text
    status, text = run("check", job(lower, -0.0004, 0.6250 - (lower - 0.0004) / 2))
    assert status == 0
    assert "PRESS AS THEY COME" in text
    assert "Do not press" not in text


@pytest.mark.parametrize(
    ("lower", "upper", "bush", "stated", "words"),
    [
        (
            -0.0030,
            -0.0015,
            0.6270,
            "friction = 0.1",
            "limits ask for 0.00150 in or more: it takes other gap limits",
        ),
        (-0.0030, -0.0004, 0.6268, "friction = 0.1", "the lower gap limit and check again"),
        (
            -0.0014,
            -0.0001,
            0.6260,
            'friction = 0.1, service_temperature = 250, inner_material = "aluminium"',
            "or take a stronger or thicker outer part, or a service nearer to room temperature.",
        ),
    ],
    ids=["limits wholly beyond", "limits in part beyond", "in service alone"],
)
def test_the_action_says_what_would_do(job, lower, upper, bush, stated, words):
    status, text = run("check", job(lower, upper, bush, stated))
    assert status == 2
    assert "why Do not press: " in text
    assert "do Do not press. " in text
    assert words in text


def test_what_keeps_the_margin_in_service_does(job):
    """The interference named cold leaves the margin asked when it is hot."""
    stated = 'friction = 0.1, service_temperature = 250, inner_material = "aluminium"'
    fit = check(job(-0.0030, 0.0010, 0.6262, stated)).fits[0]
    named = float(fit.verdict.action.split("Up to ")[1].split(" in ")[0])
    again = press_fit(
        0.625,
        0.5,
        named,
        outer=1.0,
        outer_yield=40000,
        units="in",
        inner_material="aluminium",
        service_temperature=250,
        beyond_yield="mark",
    )
    least = min([*again.margins.values(), *again.service.margins.values()])
    assert least == pytest.approx(1.25, rel=0.03)
    assert least >= 1.25


def test_pieces_that_need_work_are_not_worked_into_it(job):
    """Bushes too small are remade or reworked to sizes that the plate does not stand: that is no way out either."""
    folder = job(-0.0030, -0.0022, 0.6268, drift=0.0001)
    fit = check(folder).fits[0]
    assert fit.verdict.word == "cannot say"
    assert fit.verdict.action.startswith("Do not press. ")
    assert fit.planned == ()
    assert fit.planned_cuts == ()


def test_pieces_that_must_meet_a_height_too_are_not_pressed(job):
    folder = job(-0.0030, -0.0004, 0.6268, more=HEIGHT)
    found = check(folder)
    assert found.assemblies[0].do_not_press
    assert found.fits[0].verdict == found.assemblies[0].verdict == found.closures[0].verdict == found.verdict
    assert "That is in bush in plate, over " in found.verdict.reason
    assert "PRESS AS THEY COME" not in "\n".join(check_lines(found))
    assert run("pair", folder)[0] == 1


def test_pairs_and_trays_say_it_too(job):
    folder = job(-0.0030, -0.0004, 0.6268, drift=0.00001)
    for command in ("pair", "classes"):
        status, text = run(command, folder)
        assert status == 1
        assert "why not Do not press: " in text
        assert "do Do not press. " in text
    assert run("press", folder)[0] == 1


def test_the_json_says_what_the_text_says(job):
    folder = job(-0.0030, -0.0004, 0.6268)
    done = CliRunner().invoke(tenthwise, ["check", str(folder), "--json"])
    assert done.exit_code == 2
    data = json.loads(done.output)
    assert data["verdict"]["word"] == "cannot say"
    assert data["fits"][0]["verdict"]["action"].startswith("Do not press. ")
