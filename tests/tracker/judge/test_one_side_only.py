"""A hole that a pin goes into, and no more is known: whatever rests on its size is refused, everywhere alike."""

import pytest
from click.testing import CliRunner

from tracker import check
from tracker.cli.entrance import tenthwise
from tracker.judge import check_lines

JOB = """[job]
name = "Pins in holes"
unit = "mm"
[features.hole]
kind = "internal"
nominal = 6
lower = 6.000
upper = 6.006
gauge = "pins"
[features.pin]
kind = "external"
nominal = 6
lower = 5.990
upper = 5.998
gauge = "mic"
[gauges.pins]
resolution = "2 um"
[gauges.mic]
resolution = "1 um"
[fits.pin_in_hole]
internal = "hole"
external = "pin"
gap = [0.004, 0.014]
"""
CLOSURE = "[closures.play]\nterms = { hole = 1, pin = -1 }\nlimits = [0.004, 0.014]\n"
PINS = ["5.994", "5.993", "5.995", "5.994", "5.996", "5.994"]
BOTH = ["goes 6.000 / not 6.002", *["goes 6.002 / not 6.004"] * 5, *["goes 6.004 / not 6.006"] * 2]


def written(path, holes, pins=PINS, job=JOB):
    (path / "job.toml").write_text(job, encoding="utf-8")
    for name, own in (("hole", holes), ("pin", pins)):
        rows = "".join(f"{number},{value}\n" for number, value in enumerate(own, 1))
        (path / f"{name}.csv").write_text(f"piece,value\n{rows}", encoding="utf-8")
    return path


def ran(*arguments):
    return CliRunner().invoke(tenthwise, [str(item) for item in arguments])


@pytest.mark.parametrize(
    ("holes", "says"),
    [
        (["goes 6.002"] * 6, "holes 1, 2, 3, 4, 5 and 6 are known from one side only: they go 6.002; not-go readings"),
        (
            ["not 6.004"] * 6,
            "holes 1, 2, 3, 4, 5 and 6 are known from one side only: they do not go 6.004; go",
        ),
        (
            ["goes 6.002", *["goes 6.002 / not 6.004"] * 3],
            "hole 1 is known from one side only: it goes 6.002; a not",
        ),
        ([*BOTH, "goes 6.010"], "hole 9 is known from one side only: it goes 6.010; a not-go reading is missing"),
    ],
    ids=["go only", "not-go only", "one among few", "one beyond the others"],
)
def test_a_size_that_nothing_bounds_is_refused_with_all_that_rests_on_it(tmp_path, holes, says):
    folder = written(tmp_path, holes, job=JOB + CLOSURE)
    answer = check(folder)
    fit, closure = answer.fits[0], answer.closures[0]
    assert answer.verdict.word == fit.verdict.word == closure.verdict.word == "measure better"
    assert answer.verdict.exit_status == 2
    assert says in fit.verdict.reason
    assert says in closure.verdict.reason
    assert "hole" in fit.verdict.action
    assert (fit.chance, fit.pairing, fit.plan, fit.cut_to, fit.best_target, fit.from_drawing) == (None,) * 6
    assert answer.feature("hole").sizes is None
    assert answer.feature("pin").sizes is not None
    text = " ".join("\n".join(check_lines(answer)).split())
    assert says in text
    assert "PRESS AS THEY COME" not in text
    assert "not measured" not in text
    for command in ("check", "pair", "batch", "shift", "classes", "press"):
        feature = ["--feature", "hole"] if command in ("batch", "shift") else ["--fit", "pin_in_hole"]
        outcome = ran(command, folder, *([] if command == "check" else feature))
        if command == "shift" and answer.feature("hole").shift is not None:
            continue  # mean and spread of the bounds suffice for it
        assert outcome.exit_code == 2, command
        assert says in " ".join(outcome.output.split()).replace("not- go", "not-go"), command


def test_a_piece_that_its_batch_bounds_counts_with_its_own_uncertainty(tmp_path):
    folder = written(tmp_path, [*BOTH, "goes 6.002"], [*PINS, "5.994", "5.995", "5.993"])
    answer = check(folder)
    found = answer.feature("hole")
    assert found.sizes.expected == ("9",)
    assert found.one_sided == ()
    assert found.shift.sd == pytest.approx(found.bounds.sd.estimate * (9 / 8) ** 0.5)  # of the bounds, not of the sizes
    assert found.sizes.uncertainty[8] > found.sizes.uncertainty[1]
    assert len(answer.fits[0].pairs) == 9
    assert "9" in found.reasons["wear"]
    assert "9" in found.reasons["normality"]
    assert "known from one side only, with the size that the others lead to expect: 9" in found.sizes.remark
    # Within limits as it is expected, but not as it was measured.
    assert ran("batch", folder, "--feature", "hole").exit_code == 2


def test_what_the_bounds_tell_of_the_batch_is_said_where_no_piece_has_a_size(tmp_path):
    """Pins that overlap: mean, spread, capability and next cut by the fit to the bounds; no size, no verdict."""
    holes = ["goes 6.002", "goes 6.001", "not 6.003", "not 6.004", "goes 6.003", "not 6.002", "goes 6.001", "not 6.005"]
    answer = check(written(tmp_path, holes))
    found = answer.feature("hole")
    assert found.sizes is None
    assert found.summary.mean.estimate == pytest.approx(found.bounds.mean.estimate)
    assert found.capability is not None
    assert found.shift is not None
    assert answer.verdict.word == "measure better"
    text = "\n".join(check_lines(answer))
    assert "hole: 8 pieces known from one side only" in text


def test_a_side_that_is_not_measured_is_asked_for_too(tmp_path):
    folder = written(tmp_path, ["goes 6.002"] * 3)
    (folder / "pin.csv").unlink()
    verdict = check(folder).verdict
    assert verdict.word == "measure better"
    assert verdict.action.endswith("Then measure pin.")
