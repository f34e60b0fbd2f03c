"""Small words that a reader stumbles over: plurals, zeros, a way that is worse, an event that is not named."""

import dataclasses

import numpy as np
import pytest
from click.testing import CliRunner

from tracker import check
from tracker.cli.entrance import tenthwise
from tracker.drift import wear_line
from tracker.job import load_job
from tracker.judge import check_lines, fit_lines
from tracker.readings import read_readings

JOB = """
[job]
name = "Holes and pins"
unit = "in"
[features.hole]
kind = "internal"
nominal = 0.2500
lower = 0.2498
upper = 0.2504
gauge = "pins"
[features.pin]
kind = "external"
nominal = 0.2507
gauge = "mic"
[fits.f]
internal = "hole"
external = "pin"
gap = [-0.0012, -0.0002]
[gauges.pins]
resolution = 0.00005
[gauges.mic]
resolution = 0.00005
"""
PINS = "piece,value\n" + "".join(f"{piece},{0.2507 + piece % 3 / 20000:.5f}\n" for piece in range(1, 9))
EVENT = "feature,after_piece,event\npin,120,tool_change\n"


def folder(path, holes, events=""):
    (path / "job.toml").write_text(JOB, encoding="utf-8")
    (path / "pin.csv").write_text(PINS, encoding="utf-8")
    (path / "hole.csv").write_text("piece,value\n" + "".join(f"{row}\n" for row in holes), encoding="utf-8")
    if events:
        (path / "events.csv").write_text(events, encoding="utf-8")
    return path


def said(path):
    return " ".join(" ".join(check_lines(check(path))).split())


def test_pieces_known_from_one_side_are_in_the_plural_and_keep_their_zeros(tmp_path):
    text = said(folder(tmp_path, [f"{piece},goes 0.2500" for piece in range(1, 4)]))
    assert "holes 1, 2 and 3 are known from one side only: they go 0.25000; not-go readings are missing" in text
    assert "Try the missing gauge on holes 1, 2 and 3, or" in text


def test_it_is_said_five_of_what_may_bound_a_piece(tmp_path):
    bounds = [f"{piece},goes 0.2500 / not 0.2502" for piece in (1, 2)]
    assert "are too few to bound it; 5 such pieces may" in said(folder(tmp_path, [*bounds, "3,not 0.2502"]))


@pytest.mark.parametrize("command", ["wear", "shift"])
def test_an_event_that_cannot_be_placed_is_named(tmp_path, command):
    path = folder(tmp_path, ["1,0.2501", "2,0.2502"], EVENT)
    more = ["--own-target"] if command == "shift" else []
    done = CliRunner().invoke(tenthwise, [command, str(path), "--feature", "pin", *more])
    assert done.exit_code == 2
    assert (
        "cannot be placed among the pieces, and it may have moved the size: an event of pin (tool change) stands"
        in (done.output)
    )
    assert "see events" not in done.output


def test_trays_worse_than_no_order_are_not_listed(tmp_path):
    """Cut as well as can be they are as good as any order here; were they worse, they would not be worth a line."""
    bounds = [f"{piece},goes 0.2500 / not 0.2502" for piece in range(2, 9)]
    path = folder(tmp_path, ["1,goes 0.2498 / not 0.2500", *bounds])
    answer = check(path)
    assert answer.verdict.word == "press as they come"
    (fit,) = answer.fits
    assert "sorted into" in "\n".join(fit_lines(answer, fit))
    worse = dataclasses.replace(fit, classes=dataclasses.replace(fit.classes, expected_good=7.0))
    assert "sorted into" not in "\n".join(fit_lines(answer, worse))


def test_a_file_with_a_heading_alone_is_said_to_have_no_row(tmp_path):
    path = folder(tmp_path, [])
    said_of = read_readings(path, load_job(path)).understood
    assert "hole.csv: there is no row below the column names, so nothing was read from it" in said_of
    assert not any(line.startswith("pin.csv: there is no row") for line in said_of)


def test_two_runs_are_both():
    rng = np.random.default_rng(4)
    size = 10 + 0.01 * np.r_[np.arange(12), np.arange(12)] + rng.normal(0, 0.004, 24)
    assert "that both runs wear alike" in wear_line(size, None, [(12, "tool change")]).one_slope_assumed
