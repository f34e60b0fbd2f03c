"""The gauge of a feature: what few repeats leave open is said."""

import json
import math
import re

import numpy as np
import pytest
from click.testing import CliRunner
from scipy import stats

from tracker import check, load_job
from tracker.cli.entrance import tenthwise
from tracker.judge import gauge_lines, judge_gauge
from tracker.readings import read_readings

JOB = """
[job]
name = "Nest, test buttons"
unit = "mm"
[features.plug]
kind = "external"
nominal = 12.0
lower = 11.98
upper = 12.02
gauge = "g"
[gauges.g]
resolution = 0.0001
"""


def judged(folder, pieces, noise):
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    rng = np.random.default_rng(3)
    rows = [
        f"plug,{piece},{turn},{12 + size + noise * rng.normal():.4f},mm"
        for piece, size in enumerate(rng.normal(0, 0.004, pieces), start=1)
        for turn in (1, 2)
    ]
    (folder / "plug.csv").write_text("feature,piece,repeat,value,unit\n" + "\n".join(rows) + "\n", encoding="utf-8")
    job = load_job(folder)
    found = read_readings(folder, job)
    answer = check(job, found)
    return judge_gauge(job, answer.feature("plug"), found.readings)


def test_few_repeats_leave_it_open_and_it_is_said_how_many_more_would_settle_it(tmp_path):
    found = judged(tmp_path, pieces=5, noise=0.0023)
    low, high = (
        6 * math.hypot(found.repeatability.estimate * math.sqrt(5 / stats.chi2.ppf(end, 5) / 2), 0.0001 / math.sqrt(12))
        for end in (0.975, 0.025)
    )
    assert low / 0.04 < 0.3 < high / 0.04
    assert f"5 repeats leave it open between {100 * low / 0.04:.0f} and {100 * high / 0.04:.0f} %" in found.reason
    assert "more would settle it" in found.reason


@pytest.mark.parametrize(("pieces", "noise"), [(60, 0.0018), (5, 0.0003)])
def test_nothing_is_said_where_the_repeats_are_enough(tmp_path, pieces, noise):
    assert "leave it open" not in judged(tmp_path, pieces, noise).reason


def crossed(folder, *, pieces=8, operators=2, repeats=6, apart=0.0, noise=0.0004, calibration=0.0, part="plug", seed=5):
    """Write a crossed study of a feature with a tolerance of 0.04 and return its job, its check and its gauge."""
    (folder / "job.toml").write_text(JOB + f"calibration = {calibration}\n", encoding="utf-8")
    rng = np.random.default_rng(seed)
    rows = [
        f"{part},{piece},{turn},{12 + size + apart * who + noise * rng.normal():.4f},mm,op {who + 1}"
        for piece, size in enumerate(rng.normal(0, 0.004, pieces), start=1)
        for who in range(operators)
        for turn in range(1, repeats + 1)
    ]
    text = "feature,piece,repeat,value,unit,operator\n" + "\n".join(rows) + "\n"
    (folder / "plug.csv").write_text(text, encoding="utf-8")
    job = load_job(folder)
    found = read_readings(folder, job)
    answer = check(job, found)
    return answer, judge_gauge(job, answer.feature("plug"), found.readings)


def test_operators_who_differ_are_not_averaged_out_and_headline_study_and_exit_agree(tmp_path):
    _, found = crossed(tmp_path, apart=0.006)
    # Half the distance of the two stays in their mean, whatever the repeats: 6 x 0.003 / 0.04 of the tolerance.
    assert found.share_of_tolerance == pytest.approx(6 * 0.003 / 0.04, rel=0.05)
    assert found.study.verdict == "does not serve"
    assert found.serves is False
    assert found.judged_share == pytest.approx(max(found.share_of_tolerance, found.study.share_of_tolerance))
    done = CliRunner().invoke(tenthwise, ["gauge", str(tmp_path)])
    assert done.exit_code == 1
    assert "not good enough" in done.output
    said = json.loads(CliRunner().invoke(tenthwise, ["gauge", str(tmp_path), "--json"]).output)
    assert said["gauges"][0]["serves"] is False


def test_a_mean_that_serves_does_not_make_a_single_reading_serve(tmp_path):
    _, found = crossed(tmp_path, noise=0.0025)
    assert found.share_of_tolerance < 0.3 < found.study.share_of_tolerance
    assert found.serves is False
    assert "one reading by any of the operators takes" in found.reason
    assert "only the mean of as many readings as here serves" in found.reason


def test_repeats_are_those_of_one_operator_and_there_is_one_figure_for_them(tmp_path):
    _, found = crossed(tmp_path, pieces=10, operators=3, repeats=2, apart=0.0008)
    assert found.repeatability == found.study.repeatability_sd
    assert found.repeatability.estimate == pytest.approx(0.0004, rel=0.25)


def test_lengths_of_a_study_have_the_unit_of_the_shop(tmp_path):
    answer, found = crossed(tmp_path, apart=0.0008)
    (line,) = [text for text in joined(gauge_lines(answer, found)) if text.startswith("study")]
    repeatability = found.study.repeatability_sd.estimate * 1000
    assert f"repeatability {repeatability:.2f}, " in line
    assert "micrometres (eight pieces, two operators, six repeats; analysis of variance)" in line
    assert "e-0" not in line


def joined(lines):
    """Return the labelled texts of an answer, each in one piece."""
    texts = []
    for line in lines:
        if line[2:3] == " ":
            texts[-1] += f" {line.strip()}"
        else:
            texts.append(line.strip())
    return texts


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (
            {"apart": 0.009, "repeats": 3},
            r"operators who read up to (8\.9|9\.[01]) micrometres apart: a master",
        ),
        ({"calibration": 0.0021}, r"the calibration, known to 2\.1 micrometres \(standard uncertainty\)"),
        ({"noise": 0.004, "operators": 1, "repeats": 2}, "that repeats differ: the mean of four times as many"),
    ],
    ids=["operators", "calibration", "repeats"],
)
def test_what_would_help_is_what_the_uncertainty_is_made_of(tmp_path, made, said):
    _, found = crossed(tmp_path, **made)
    assert found.serves is False
    assert re.search(f"Most of it is {said}", found.reason)
    assert ("more would settle it" in found.reason) is False or "noise" in made


def test_operators_who_surely_differ_are_remarked_on_in_the_check_and_count_in_every_size(tmp_path):
    apart, _ = crossed(tmp_path, apart=0.006)
    (remark,) = [text for text in apart.remarks if "operators" in text]
    assert remark.startswith("plug: operators read the same pieces up to ")
    assert "op 2 larger than op 1" in remark
    assert apart.feature("plug").sizes.common_uncertainty == pytest.approx(0.003, rel=0.05)
    alike, _ = crossed(tmp_path)
    assert not [text for text in alike.remarks if "operators" in text]


def test_two_operators_who_share_no_piece_make_no_study(tmp_path):
    crossed(tmp_path)
    rows = (tmp_path / "plug.csv").read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows[1:] if row.endswith("op 1") == (int(row.split(",")[1]) < 5)]
    (tmp_path / "plug.csv").write_text("\n".join([rows[0], *kept]) + "\n", encoding="utf-8")
    job = load_job(tmp_path)
    read = read_readings(tmp_path, job)
    found = judge_gauge(job, check(job, read).feature("plug"), read.readings)
    assert found.study is None
    assert "no piece was measured by two operators" in found.reasons["study"]


def test_form_between_positions_is_no_noise_of_the_gauge_in_a_study(tmp_path):
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    rng = np.random.default_rng(8)
    rows = [
        f"plug,{piece},{place},{turn},{form + 0.0004 * rng.normal():.4f},mm,op {who}"
        for piece in range(1, 9)
        for place, form in zip("ab", 12 + rng.normal(0, 0.004, 2))
        for who in (1, 2)
        for turn in (1, 2)
    ]
    text = "feature,piece,position,repeat,value,unit,operator\n" + "\n".join(rows) + "\n"
    (tmp_path / "plug.csv").write_text(text, encoding="utf-8")
    job = load_job(tmp_path)
    read = read_readings(tmp_path, job)
    answer = check(job, read)
    found = judge_gauge(job, answer.feature("plug"), read.readings)
    assert found.study.repeatability_sd.estimate == pytest.approx(0.0004, rel=0.3)
    assert "of these places apart" in " ".join(joined(gauge_lines(answer, found)))


FIT_JOB = """
[job]
name = "Bores and plugs"
unit = "in"
[features.bore]
kind = "internal"
lower = 0.4993
upper = 0.5007
[features.plug]
kind = "external"
nominal = 0.5007
GAUGE
[fits.plug_in_bore]
internal = "bore"
external = "plug"
gap = [-0.0012, -0.0003]
[gauges.mic]
resolution = 0.0001
"""


def of_plug(folder, gauge="", rows=""):
    (folder / "job.toml").write_text(FIT_JOB.replace("GAUGE", gauge), encoding="utf-8")
    (folder / "bore.csv").write_text("piece,value\n1,0.50010\n2,0.50020\n", encoding="utf-8")
    if rows:
        (folder / "plug.csv").write_text(f"piece,r1,r2\n{rows}", encoding="utf-8")
    job = load_job(folder)
    found = read_readings(folder, job)
    return judge_gauge(job, check(job, found).feature("plug"), found.readings)


def test_a_tolerance_that_is_taken_from_the_fit_is_named(tmp_path):
    whose = "half the 9.0 tenths between the gap limits of plug in bore (plug states no limits of its own)"
    found = of_plug(tmp_path, 'gauge = "mic"')
    assert found.resolution.words.startswith(f"One step is 22 % of {whose}, more than a tenth")
    measured = of_plug(tmp_path, 'gauge = "mic"', "1,0.50070,0.50075\n2,0.50060,0.50060\n")
    assert f"% of {whose}" in measured.reason


def test_a_step_that_nobody_stated_is_not_made_up(tmp_path):
    found = of_plug(tmp_path)
    assert found.resolution is None
    assert found.reasons["resolution"].startswith("the step of the gauge is not known")
    assert found.reasons["study"].startswith("no reading with a number")


def test_one_piece_read_twice_shows_its_repeats(tmp_path):
    found = of_plug(tmp_path, 'gauge = "mic"', "1,0.50070,0.50075\n")
    assert "repeats" not in found.reasons
    assert found.repeatability.estimate == pytest.approx(0.00005 / math.sqrt(2))
    assert found.repeatability.high == pytest.approx(found.repeatability.estimate / math.sqrt(stats.chi2.ppf(0.025, 1)))
    assert "more repeats do not" in found.reason


def test_what_a_coarse_step_calls_for_can_be_done_at_the_bench(tmp_path):
    found = of_plug(tmp_path, 'gauge = "mic"', "1,0.5007,0.5008\n2,0.5006,0.5006\n3,0.5007,0.5006\n")
    assert "a gauge with a step of half that sd or less would show it better" in found.resolution.words
