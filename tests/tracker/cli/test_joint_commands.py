"""The commands limits, seat and press: what they print, their JSON and their exit status."""

import json

import pytest
from click.testing import CliRunner

from tracker.cli.entrance import COMMANDS, tenthwise


def run(*words):
    done = CliRunner().invoke(tenthwise, list(words), prog_name="tenthwise")
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done


@pytest.mark.parametrize("name", ["limits", "seat", "press"])
def test_help_has_its_example(name):
    done = run(name, "--help")
    assert done.exit_code == 0
    assert f"Example: tenthwise {name} " in done.output
    assert name in COMMANDS


@pytest.mark.parametrize("name", ["limits", "seat", "press"])
def test_the_example_of_the_help_runs(name):
    example = run(name, "--help").output.split("Example: tenthwise ")[1].split()
    assert run(*example).exit_code in (0, 1)


@pytest.mark.parametrize(
    ("words", "status", "printed"),
    [
        (["25H7/p6"], 0, "gap -0.035 to -0.001 mm"),
        (["25", "H7"], 0, "25.000 to 25.021 mm"),
        (["1/2", "in", "H7/p6"], 0, "gap -0.00114 to 0.00000 in"),
        (["H7", "--nominal", "25"], 0, "25.021"),
        (["H7", "--nominal", "1/2 in"], 0, "0.50071 in"),
        ([".5", "FN1"], 0, "gap -0.0008 to -0.0001 in"),
        (["12.7", "FN1", "--unit", "mm"], 0, "0.5 in FN1"),
        (["FN1", "--nominal", "12.7 mm"], 0, "0.5 in FN1"),
        (["dowel", "1/4"], 0, "gap -0.0008 to -0.0001 in"),
        (["dowel", "1/4", "--series", "oversize"], 0, "0.2509 to 0.2511 in"),
        (["dowel", "5/32"], 0, "0.1563 to 0.1565 in"),
        (["dowel", "6", "--unit", "mm"], 0, "6.004 to 6.012 mm"),
        (["screw", "1/2"], 0, "17/32"),
        (["slip", ".25"], 0, "0.251 in"),
        (["press", "--nominal", ".25"], 0, "0.249 in"),
        (["25H7", "--size", "25.021"], 0, "25.021 is within"),
        (["25H7", "--size", "25.022"], 1, "25.022 is not within"),
        (["25H7", "--size", "0.9852 in"], 1, "not within"),
    ],
)
def test_limits(words, status, printed):
    done = run("limits", *words)
    assert printed in done.output
    assert done.exit_code == status


@pytest.mark.parametrize(
    "words",
    [
        ["25H19"],
        ["FN2"],
        ["dowel", "1/3"],
        ["screw", "M7"],
        ["slip"],
        ["slip", "0"],
        ["press", "0.0005"],
        ["25H7/p6", "--size", "25"],
        ["12,7", "FN1"],
    ],
)
def test_limits_refused_in_one_line(words):
    done = run("limits", *words)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
    assert done.stderr.startswith("tenthwise: ")


def test_two_classes_without_a_slash_are_told_of_the_slash():
    for words in (["25H7 p6"], ["25H7", "p6"], ["25", "H7", "p6"]):
        assert "write a slash between those of a fit: 25" in run("limits", *words).stderr
    assert "H7/p6" in run("limits", "25", "H7", "p6").stderr
    assert "H7/p6" in run("limits", "H7 p6", "--nominal", "25").stderr


@pytest.mark.parametrize(
    ("words", "printed"),
    [
        (["25H7/p6", "--pairs", "40"], "its gap from -0.035 to -0.001 mm, 99.9 % that all 40 do"),
        (["25H7/p6", "--pairs", "40"], "six standard deviations apart"),
        (["0.75 LN2", "--spread", "0.0002in", "--gap", "-0.0012", "-0.0003"], "its gap from -0.0012 to -0.0003 in;"),
        (["0.75 LN2", "--spread", "0.0002in"], "standard deviation 0.0002 in as stated on both sides"),
        (["25H7/p6", "--spread", "0"], "over 99.9 % chance"),
    ],
)
def test_limits_says_what_a_chance_is_for(words, printed):
    assert printed in run("limits", *words).output


def test_limits_json():
    data = json.loads(run("limits", "25H7/p6", "--json").output)
    assert (data["gap_lower"], data["gap_upper"], data["internal"]["upper"]) == (-0.035, -0.001, 25.021)
    assert json.loads(run("limits", "25H7", "--size", "25", "--json").output)["within"] is True


@pytest.mark.parametrize(
    ("words", "status", "printed"),
    [
        (["--fillet", ".015", "--relief", "0"], 1, "held 0.015 in off"),
        (["--fillet", ".015", "--relief", "1/64"], 0, "sits flat"),
        (["--fillet", ".015", "--relief", ".010", "--feeler", ".004"], 1, "agrees"),
        (["--fillet", ".015", "--relief", ".020", "--feeler", ".002"], 1, "does not agree"),
        (["--fillet", ".015", "--relief", ".014", "--allowed", "2 thou"], 0, "The stand-off, 0.001 in, is within"),
        (
            ["--fillet", ".015", "--relief", ".010", "--allowed", ".002"],
            1,
            "An edge break of 0.013 in or more",
        ),
        (["--fillet", "0.4", "--relief", "0.4", "--unit", "mm", "--relief-kind", "radius"], 0, "mm"),
        (["--fillet", ".03", "--relief", "0", "--in-plan"], 1, "more gap a side"),
        (["--fillet", ".015"], 2, "--fillet and --relief"),
        ([], 2, "--fillet and --relief"),
        (["--fillet", "-1", "--relief", "0"], 2, "from 0"),
    ],
)
def test_seat(words, status, printed):
    done = run("seat", *words)
    assert done.exit_code == status
    assert printed in done.output


PRESS = ["press", "--diameter", "50", "--length", "40", "--outer", "80", "--unit", "mm"]


@pytest.mark.parametrize(
    ("words", "status", "printed"),
    [
        (["--interference", "0.04"], 0, "51.2 MPa"),
        (["--interference", "40 um"], 0, "51.2 MPa"),
        (["--interference", ".02", "--interference", ".04", "--friction", ".08", "--friction", ".16"], 0, "51,500 N"),
        (["--interference", "0.2"], 1, "passes its strength"),
        (["--interference", "0.04", "--shape", "keyed"], 0, "outside the model"),
        (["--interference", "0.04", "--service", "120", "--outer-material", "aluminium"], 1, "in service"),
        (["--interference", "0.04", "--service", "120"], 0, "in service"),
        (["--interference", "-0.04"], 2, "no interference"),
        (["--interference", "0.04", "--shape", "square"], 2, "outside the model"),
        (["--interference", "0.04", "--outer-material", "wood"], 2, "no material"),
        (["--hold", "20000", "--friction", "0.12"], 0, "Between 0.0208 mm and 0.0750 mm"),
        (["--hold", "200000"], 1, "No interference does both"),
        (["--hold", "0"], 2, "nothing to hold"),
        ([], 2, "--interference"),
    ],
)
def test_press(words, status, printed):
    done = run(*PRESS, *words)
    assert done.exit_code == status
    assert printed in done.output


@pytest.mark.parametrize(
    ("words", "status", "first"),
    [
        (["--interference", "0.04"], 0, "It presses, and holds "),
        (["--interference", "0.09"], 0, "of interference keeps that."),  # margin 1.04
        (["--interference", "0.2"], 1, "Do not press: the outer part passes its strength; "),
        (["--interference", "0.04", "--interference", "-0.01"], 1, "Do not press as they are: 1 of 2 pairs has no "),
        (
            ["--interference", "0.04", "--service", "120", "--outer-material", "aluminium"],
            1,
            "does not hold in service",
        ),
        (["--interference", "0.04", "--service", "82", "--outer-material", "aluminium"], 0, "little of it is left"),
        (["--interference", "0.04", "--service", "400", "--inner-material", "aluminium"], 1, "Do not press: at 400 °C"),
        (["--hold", "20000"], 0, "Between "),
        (["--hold", "200000"], 1, "No interference does both"),
    ],
)
def test_press_says_its_verdict_first(words, status, first):
    done = run(*PRESS, *words)
    assert first in done.output.splitlines()[0]
    assert done.exit_code == status


def test_press_json_and_cautions():
    data = json.loads(run(*PRESS, "--interference", "0.04", "--json").output)
    assert data["pressure"] == pytest.approx(51.1875)  # bank, case press-steel-50-80
    assert any("eye protection" in words for words in data["cautions"])
    assert "eye protection" in run(*PRESS, "--interference", "0.04").output


def test_press_of_the_sample_job():
    """The press table of the job, the measured pairs, tool steel in tool steel."""
    from pathlib import Path

    folder = Path(__file__).parents[3] / "sample_readings" / "rest_buttons"
    done = run("press", str(folder))
    assert done.output.startswith("It presses, and holds ")
    assert done.output.splitlines()[1].startswith("over  ")
    assert "effective over" in done.output
    data = json.loads(run("press", str(folder), "--json").output)
    assert data["outer_material"]["name"] == "tool-steel"
    # every pair lies within the job's gap limits of -0.0009 to -0.0003 in
    assert 0.0003 <= data["interference"]["low"] <= data["interference"]["high"] <= 0.0009
    any_order = json.loads(run("press", str(folder), "--any-order", "--json").output)
    assert any_order["pairs"] > data["pairs"]
    assert any_order["interference"]["high"] >= data["interference"]["high"]


def test_seat_of_the_sample_job():
    from pathlib import Path

    folder = Path(__file__).parents[3] / "sample_readings" / "rest_buttons"
    assert run("seat", str(folder)).exit_code == 0
    assert run("seat", str(folder), "--relief", "0.010").exit_code == 1
    assert run("seat", str(folder.parent / "guide_pins")).exit_code == 2
