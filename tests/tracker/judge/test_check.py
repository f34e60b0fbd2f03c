"""The whole job judged: the samples, the invariants, and every odd folder a shop may hand over."""

import dataclasses
import datetime
import json
import math
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from scipy.special import ndtr

from tracker import check, load_job, parse_job
from tracker.errors import JobError
from tracker.judge import check_lines, fingerprint
from tracker.readings import read_events, read_readings

SAMPLES = Path(__file__).parents[3] / "sample_readings"

INCH = """
[job]
name = "Nest, test buttons"
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.5
lower = 0.5
upper = 0.5008
[features.plug]
kind = "external"
nominal = 0.5006
lower = 0.5003
upper = 0.5012
[fits.plug_in_bore]
internal = "bore"
external = "plug"
gap = [-0.0009, -0.0003]
[gauges.g]
resolution = 0.00001
"""


def folder_of(path, job=INCH, **files):
    (path / "job.toml").write_text(job, encoding="utf-8")
    for name, text in files.items():
        (path / f"{name}.csv").write_text(text, encoding="utf-8")
    return path


def column(feature, sizes, repeats=2):
    rows = [f"{piece},{size:.5f}" for piece, size in enumerate(sizes, 1) for _ in range(repeats)]
    return "piece,value\n" + "\n".join(rows) + "\n"


def judged(path, **files):
    return check(folder_of(path, **files))


@pytest.mark.parametrize(
    ("sample", "word"),
    [
        ("rest_buttons", "remake"),
        ("guide_pins", "press as they come"),
        ("coupling_pins", "press as they come"),
        ("lid_dowels", "press as they come"),
        ("depth_stops", "measure better"),
    ],
)
def test_the_samples_get_the_verdict_their_readme_states(sample, word):
    assert check(SAMPLES / sample).verdict.word == word
    assert f"| `{sample}` | {word} |" in (SAMPLES / "README.md").read_text(encoding="utf-8")


def test_the_samples_can_be_made_again_to_the_byte(tmp_path):
    made = tmp_path / "sample_readings"
    shutil.copytree(SAMPLES, made)
    for path in [*made.rglob("*.csv"), *made.rglob("*.xlsx")]:
        path.unlink()
    subprocess.run([sys.executable, made / "make_samples.py"], check=True)
    names = sorted(path.relative_to(SAMPLES) for path in [*SAMPLES.rglob("*.csv"), *SAMPLES.rglob("*.xlsx")])
    assert names == sorted(path.relative_to(made) for path in [*made.rglob("*.csv"), *made.rglob("*.xlsx")])
    assert [name for name in names if (made / name).read_bytes() != (SAMPLES / name).read_bytes()] == []


def test_rest_buttons_some_order_fails_a_pairing_exists_for_most_and_the_next_cut_is_larger():
    fit = check(SAMPLES / "rest_buttons").fits[0]
    assert fit.chance.all_measured < 0.01
    assert fit.pairing.good == 10
    assert {(item.feature, item.piece) for item in fit.left_over if item.feature == "shank"} == {
        ("shank", "1"),
        ("shank", "2"),
    }
    assert fit.cut_next == "shank"
    assert fit.shift.offset > 0


def test_coupling_pins_show_the_wheel_wearing_and_the_dressing():
    wear = check(SAMPLES / "coupling_pins").feature("pin").wear
    assert wear.seen
    assert wear.slope.low <= 0.00016 <= wear.slope.high
    assert [run.event for run in wear.runs] == [None, "dressing"]


def test_to_dict_is_plain_json_with_the_keys_others_lean_on():
    answer = check(SAMPLES / "rest_buttons").to_dict()
    again = json.loads(json.dumps(answer, allow_nan=False))
    assert {"job", "unit", "verdict", "fits", "features", "readings"} <= set(again)
    assert {"word", "reason", "action"} <= set(again["verdict"])
    assert {"name", "verdict", "chance", "pairing", "shift", "plan"} <= set(again["fits"][0])
    assert {"name", "summary", "capability", "components", "wear"} <= set(again["features"][0])
    assert {"good", "suspect", "refused", "fingerprint"} <= set(again["readings"])


def test_inch_and_millimetre_give_the_same_verdict_and_pairs(tmp_path):
    inch = SAMPLES / "rest_buttons"
    metric = tmp_path / "metric"
    shutil.copytree(inch, metric)
    text = (metric / "job.toml").read_text(encoding="utf-8")
    lines = []
    for line in text.splitlines():
        key, _, value = line.partition(" = ")
        if key in ("nominal", "lower", "upper", "target", "resolution", "calibration"):
            line = f'{key} = "{value} in"'
        elif key == "gap":
            line = 'gap = ["-0.0009 in", "-0.0003 in"]'
        elif key == "range":
            line = 'range = ["0 in", "1 in"]'
        elif key == "unit":
            line = 'unit = "mm"'
        lines.append(line.replace("increment = 0.0001", 'increment = "0.0001 in"'))
    (metric / "job.toml").write_text("\n".join(lines), encoding="utf-8")
    shank = (metric / "shank.csv").read_text(encoding="utf-8").splitlines()
    cells = [",".join([row.split(",")[0], *(f"{value} in" for value in row.split(",")[1:])]) for row in shank[1:]]
    (metric / "shank.csv").write_text("\n".join([shank[0], *cells]), encoding="utf-8")
    a, b = check(inch), check(metric)
    assert a.verdict.word == b.verdict.word
    assert [(row.internal, row.external) for row in a.fits[0].pairs] == [
        (row.internal, row.external) for row in b.fits[0].pairs
    ]
    assert b.fits[0].shift.offset == pytest.approx(a.fits[0].shift.offset * 25.4, rel=1e-9)
    assert b.fits[0].chance.pair == pytest.approx(a.fits[0].chance.pair, abs=1e-9)


def test_the_order_of_rows_changes_neither_verdict_nor_fingerprint():
    job = load_job(SAMPLES / "guide_pins")
    found = read_readings(job.folder, job)
    turned = dataclasses.replace(found, readings=found.readings.iloc[::-1].reset_index(drop=True))
    assert fingerprint(turned.readings) == fingerprint(found.readings)
    assert check(job, turned, []).verdict.word == check(job, found, []).verdict.word


def test_a_fit_that_holds_in_any_order(tmp_path):
    answer = judged(
        tmp_path,
        bore=column("bore", [0.50010, 0.50011, 0.50012] * 2),
        plug=column("plug", [0.50070, 0.50071, 0.50072] * 2),
    )
    assert answer.verdict.word == "press as they come"


def test_only_the_right_plug_in_the_right_bore_is_pair(tmp_path):
    sizes = [0.5001, 0.5003, 0.5005, 0.5007]
    answer = judged(tmp_path, bore=column("bore", sizes), plug=column("plug", [size + 0.0006 for size in sizes]))
    assert answer.verdict.word == "pair"
    assert [(row.internal, row.external) for row in answer.fits[0].pairs] == [(str(n), str(n)) for n in range(1, 5)]


def test_one_side_without_readings_gives_the_target_for_the_part_to_be_made(tmp_path):
    answer = judged(tmp_path, bore=column("bore", [0.50020, 0.50021, 0.50022, 0.50021]))
    assert answer.verdict.word == "cannot say"
    assert answer.fits[0].cut_next == "plug"
    assert answer.fits[0].cut_to == pytest.approx(0.50021 + 0.0006, abs=2e-5)
    assert "0.5008" in answer.verdict.action
    assert "plug" in answer.feature("plug").reasons["sizes"]


def test_a_drawing_alone_gives_the_chance_from_its_limits_and_says_the_rule_of_thumb(tmp_path):
    answer = judged(tmp_path)
    assert answer.verdict.word == "cannot say"
    assert "rule of thumb" in answer.verdict.reason
    sd = math.hypot(0.0008, 0.0009) / 6
    mean = 0.5004 - 0.50075
    expected = float(ndtr((-0.0003 - mean) / sd) - ndtr((-0.0009 - mean) / sd))
    assert answer.fits[0].from_drawing.chance == pytest.approx(expected, abs=1e-6)
    assert "no readings file" in "\n".join(check_lines(answer))


def test_one_piece_a_side(tmp_path):
    answer = judged(tmp_path, bore=column("bore", [0.5002]), plug=column("plug", [0.5008]))
    assert answer.verdict.word == "press as they come"
    assert "chance" in answer.fits[0].reasons
    assert "summary" in answer.feature("bore").reasons or answer.feature("bore").summary is not None
    json.dumps(answer.to_dict(), allow_nan=False)
    assert list(check_lines(answer))


def test_all_readings_equal(tmp_path):
    answer = judged(tmp_path, bore=column("bore", [0.5002] * 5), plug=column("plug", [0.5008] * 5))
    json.dumps(answer.to_dict(), allow_nan=False)
    assert answer.verdict.word in ("press as they come", "measure better")
    assert list(check_lines(answer))


def test_go_no_go_bores_are_judged_from_their_bounds(tmp_path):
    bores = "piece,value\n" + "".join(
        f"{n},goes {low} / not {high}\n"
        for n, (low, high) in enumerate([(0.5001, 0.5002), (0.5002, 0.5003), (0.5001, 0.5002), (0.5002, 0.5003)], 1)
    )
    answer = judged(tmp_path, bore=bores, plug=column("plug", [0.50080, 0.50081, 0.50079, 0.50080]))
    feature = answer.feature("bore")
    assert feature.sizes.go_no_go
    assert feature.bounds is not None
    json.dumps(answer.to_dict(), allow_nan=False)
    assert answer.fits[0].pairing.good == 4


def test_an_event_after_a_piece_that_was_never_measured_is_said(tmp_path):
    files = {"bore": column("bore", [0.5001] * 4), "plug": column("plug", [0.5007] * 4)}
    answer = judged(tmp_path, **files, events="feature,after_piece,event\nplug,99,tool_change\n")
    assert "99" in answer.feature("plug").reasons["events"]


def test_bad_rows_do_not_take_the_good_ones_down(tmp_path):
    bad = column("bore", [0.5001, 0.5002]) + "3,\n4,banana\n5,0.5003 furlong\n"
    path = folder_of(tmp_path, bore=bad, plug=column("plug", [0.5007, 0.5008]))
    job = load_job(path)
    found = read_readings(path, job)
    answer = check(job, found, read_events(path, job))
    assert answer.readings.refused == 3
    assert len(answer.feature("bore").sizes) == 2
    text = "\n".join(check_lines(answer, found))
    assert "row 8" in text
    assert "banana" in text
    assert "furlong" in text


STAND = """
[job]
name = "Nest, stand height"
unit = "mm"
[features.head]
kind = "length"
nominal = 10
[features.recess]
kind = "length"
nominal = 4
lower = 3.99
upper = 4.01
[closures.stand]
terms = { head = 1, recess = -1 }
limits = [5.9, 6.1]
[gauges.g]
resolution = 0.001
"""
HEAD, RECESS = [10.0, 10.01, 9.99, 10.0], [4.0, 4.01, 3.99, 4.0]


@pytest.mark.parametrize(
    ("head", "limits", "word", "says"),
    [
        (HEAD, "[5.9, 6.1]", "press as they come", "from 5.98000 to 6.02000 mm"),  # 9.99 - 4.01, 10.01 - 3.99
        (HEAD, "[5.975, 6.1]", "press as they come", "Whichever pieces meet"),
        (HEAD, "[5.985, 6.1]", "pair", "94 % of all ways"),  # 1 of 16 is 5.98
        (HEAD, "[5.98, 6.1]", "measure better", "less than the gauge can tell"),
        ([10.2, 10.21, 10.19, 10.2], "[5.9, 6.1]", "remake", "100.0 micrometres over the upper limit"),
        (HEAD, '["open", 6.1]', "press as they come", "within limits"),
    ],
)
def test_a_closure_of_measured_lengths_has_its_verdict(tmp_path, head, limits, word, says):
    # expected by hand: the least and the greatest difference of the pieces, and a count over all sixteen ways
    path = folder_of(
        tmp_path, STAND.replace("[5.9, 6.1]", limits), head=column("head", head), recess=column("r", RECESS)
    )
    answer = check(path)
    assert answer.closures[0].verdict.word == word
    assert answer.verdict == answer.closures[0].verdict
    text = "\n".join(check_lines(answer))
    assert says in f"{answer.verdict.reason} {answer.verdict.action}"
    assert f"stand: {word.upper()}" in text


def test_a_closure_that_is_not_measured_cannot_be_said_unless_the_drawing_suffices(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    sure = check(folder_of(tmp_path / "a", STAND, head=column("head", HEAD)))
    assert sure.verdict.word == "press as they come"
    assert "recess (not measured)" in sure.verdict.reason
    tight = check(folder_of(tmp_path / "b", STAND.replace("5.9,", "5.99,"), head=column("head", HEAD)))
    assert tight.verdict.word == "cannot say"
    assert tight.verdict.action == "Measure recess."


def test_a_good_fit_does_not_hide_a_closure_out_of_limits(tmp_path):
    job = INCH + "[closures.stand]\nterms = { bore = 1, plug = -1 }\nlimits = [0.01, 0.02]\n"
    answer = judged(tmp_path, job=job, bore=column("bore", [0.5002] * 4), plug=column("plug", [0.5008] * 4))
    assert answer.fits[0].chance.all_measured > 0.99  # the fit alone would do
    assert answer.verdict.word == answer.fits[0].verdict.word == answer.closures[0].verdict.word == "remake"
    assert next(iter(check_lines(answer))).endswith("REMAKE")


def test_a_gauge_past_its_date_is_said_unless_the_readings_are_older(tmp_path):
    job = INCH.replace("[features.plug]", 'gauge = "g"\n[features.plug]') + "due = 2026-03-01\n"
    dated = "piece,value,time\n1,0.5002,2026-02-01\n2,0.5002,\n"
    path = folder_of(tmp_path, job, bore=dated, plug=column("plug", [0.5008] * 2))
    remarks = " ".join(check(path, today=datetime.date(2026, 3, 2)).remarks)
    assert "due on 2026-03-01: 1 reading of bore has no time" in remarks
    assert "due on" not in " ".join(check(path, today=datetime.date(2026, 3, 1)).remarks)


def test_pieces_in_no_figure_are_named(tmp_path):
    job = INCH.replace('kind = "external"', 'kind = "external"\npieces = 5')
    bores = column("bore", [0.5002] * 4) + "7,12.705\n7,12.705\n"
    path = folder_of(tmp_path, job, bore=bores, plug=column("plug", [0.5008] * 4) + "9,oil\n")
    found = load_job(path)
    answer = check(path, read_readings(path, found), read_events(path, found))
    assert "bore 7: only suspect readings" in " ".join(answer.remarks)
    assert "4 of the 5 pieces of plug have readings that count" in " ".join(answer.remarks)
    assert "plug 9: only refused rows" in " ".join(answer.remarks)


def test_readings_there_twice_are_counted(tmp_path):
    bores = column("bore", [0.5002, 0.5003], repeats=1)
    twice = "piece,repeat,value\n" + "1,1,0.5002\n2,1,0.5003\n" * 2
    answer = judged(tmp_path, bore=twice, plug=bores.replace("0.500", "0.5009"))
    assert answer.readings.duplicates == 2
    assert "2 there twice and kept once" in "\n".join(check_lines(answer))


def test_an_event_that_cannot_be_placed_leaves_wear_and_next_cut_unsaid(tmp_path):
    files = {"bore": column("bore", [0.5001] * 6), "plug": column("plug", [0.5007, 0.5008] * 3)}
    answer = judged(tmp_path, **files, events="feature,after_piece,event\nplug,99,tool_change\n")
    plug = answer.feature("plug")
    assert plug.wear is None
    assert plug.shift is None
    assert "cannot be placed" in plug.reasons["wear"]
    assert "read the same" in answer.feature("bore").reasons["wear"]


def test_no_chance_from_readings_is_all_or_nothing(tmp_path):
    answer = judged(tmp_path, bore=column("bore", [0.5002] * 3), plug=column("plug", [0.5008] * 3))
    assert "over 99.9 % chance" in answer.verdict.reason
    text = "\n".join(check_lines(answer))
    assert "100 % chance" not in text
    assert "as they read, 100 % of all pairs are good" in " ".join(text.split())


def test_nor_is_it_nothing(tmp_path):
    """Each bore has its plug, and nearly no other order holds."""
    steps = [0.0002 * k for k in range(10)]
    bore, plug = [0.5 + step for step in steps], [0.5006 + step for step in steps]
    answer = judged(tmp_path, bore=column("bore", bore), plug=column("plug", plug))
    assert "all ten go together with under 0.1 % chance" in answer.verdict.reason
    assert " 0 % " not in answer.verdict.reason


def test_without_costs_the_side_that_is_cut_to_suit_is_remade(tmp_path):
    answer = judged(tmp_path, bore=column("bore", [0.5002] * 3), plug=column("plug", [0.5003] * 3))
    assert answer.verdict.word == "remake"
    assert "new plugs" in answer.verdict.action
    text = "\n".join(check_lines(answer))
    assert "left over    bores 1, 2 and 3: " in text
    assert text.count(answer.verdict.action[:20]) == 1
    assert "assumed: press, rework, remake and spoiled assembly" in " ".join(text.split())


def test_the_nominal_is_no_aim_for_a_part_of_a_fit(tmp_path):
    job = INCH.replace("lower = 0.5\nupper = 0.5008\n", "")
    answer = judged(tmp_path, job=job, bore=column("bore", [0.5002] * 3), plug=column("plug", [0.5008] * 3))
    assert answer.feature("bore").shift is None
    assert "no target and no limits" in answer.feature("bore").reasons["shift"]


def test_a_job_in_memory_without_its_readings_is_refused():
    with pytest.raises(JobError, match="no folder"):
        check(parse_job(INCH))


SPREADS = INCH.replace("upper = 0.5008", "upper = 0.5008\nspread = 0.0001").replace(
    "upper = 0.5012", "upper = 0.5012\nspread = 0.0001"
)


def test_nothing_measured_a_stated_spread_gives_the_chance(tmp_path):
    """Both aims are the middles of their limits, so the gap is -0.00035 with an sd of 0.0001 root 2."""
    answer = judged(tmp_path, job=SPREADS)
    drawn = answer.fits[0].from_drawing
    sd = 0.0001 * math.sqrt(2)
    assert drawn.chance == pytest.approx(ndtr((-0.0003 + 0.00035) / sd) - ndtr((-0.0009 + 0.00035) / sd), abs=1e-9)
    assert "the spread that the job states" in answer.fits[0].verdict.reason
    assert answer.fits[0].verdict.word == "cannot say"


def test_one_batch_and_a_stated_spread_give_the_target_for_the_other(tmp_path):
    job = INCH.replace("lower = 0.5003\nupper = 0.5012", "spread = 0.0001")
    answer = judged(tmp_path, job=job, bore=column("bore", [0.5001, 0.5002, 0.5003, 0.5002]))
    assert answer.fits[0].cut_to == pytest.approx(0.5002 + 0.0006, abs=2e-6)
    silent = judged(tmp_path, job=job.replace("spread = 0.0001", ""), bore=column("bore", [0.5001, 0.5002, 0.5003]))
    assert "give spread, or lower and upper" in silent.fits[0].reasons["best_target"]


def test_one_piece_and_a_stated_spread_give_the_next_cut(tmp_path):
    answer = judged(tmp_path, job=SPREADS, plug=column("plug", [0.5012]))
    assert answer.feature("plug").shift.sd == pytest.approx(0.0001, rel=0.01)  # the step of the gauge is in it
