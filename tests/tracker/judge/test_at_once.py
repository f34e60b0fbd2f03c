"""Fits and closures on the same pieces are judged at once: which pieces those are, and what comes out."""

import dataclasses
import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker import check, parse_job
from tracker.judge import check_lines
from tracker.judge.parts import assemblies_of, parts_of
from tracker.readings import read_readings, readings_frame

SAMPLE = Path(__file__).parents[3] / "sample_readings" / "keyed_plugs"

JOB = """
[job]
name = "Nest, buttons that stand at one height"
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.5
PLATE
[features.shank]
kind = "external"
nominal = 0.5006
BUTTON
[features.head_height]
kind = "length"
nominal = 0.75
BUTTON
[features.counterbore_depth]
kind = "length"
nominal = 0.25
PLATE
[fits.button_in_plate]
internal = "bore"
external = "shank"
gap = [-0.0009, -0.0003]
[closures.stand_height]
terms = { head_height = 1, counterbore_depth = -1 }
limits = [0.4995, 0.5005]
[gauges.g]
resolution = 0.00001
"""
STATED = JOB.replace("PLATE", 'part = "plate"').replace("BUTTON", 'part = "button"')
SILENT = JOB.replace("PLATE", "").replace("BUTTON", "")

BORES, SHANKS = [0.5000, 0.5001, 0.5002], [0.5006, 0.5007, 0.5008]
DEPTHS, HEADS = [0.2500, 0.2512, 0.2524], [0.7524, 0.7500, 0.7512]
"""By diameter any button goes in any bore; by height 1 belongs to 2, 2 to 3, 3 to 1."""


def written(path, job, **files):
    path.mkdir(exist_ok=True)
    (path / "job.toml").write_text(job, encoding="utf-8")
    for name, text in files.items():
        (path / f"{name}.csv").write_text(text, encoding="utf-8")
    return path


def wide(columns, labels=None, repeats=2):
    """Return a file with one row a piece."""
    names = [f"{name} {n}" for name in columns for n in range(1, repeats + 1)]
    rows = [
        ",".join([str(label), *(f"{size:.5f}" for size in sizes for _ in range(repeats))])
        for label, *sizes in zip(labels or range(1, 99), *columns.values())
    ]
    return "\n".join([",".join(["piece", *names]), *rows]) + "\n"


def tidy(columns):
    """Return one file for everything, one row a reading: columns are {feature: {label: size}}."""
    rows = [
        f"{name},{label},{size:.5f}"
        for name, sizes in columns.items()
        for label, size in sizes.items()
        for _ in range(2)
    ]
    return "feature,piece,value\n" + "\n".join(rows) + "\n"


PLATE = wide({"bore": BORES, "counterbore_depth": DEPTHS})
BUTTON = wide({"shank": SHANKS, "head_height": HEADS})


def test_both_gaps_choose_the_pairs(tmp_path):
    answer = check(written(tmp_path, STATED, plate=PLATE, button=BUTTON))
    (item,) = answer.assemblies
    assert (item.internal, item.external) == ("plate", "button")
    assert [(row.internal, row.external) for row in item.pairs] == [("1", "2"), ("2", "3"), ("3", "1")]
    assert all(row.gaps["stand_height"] == pytest.approx(0.5) for row in item.pairs)
    assert answer.verdict.word == "pair"
    fit, closure = answer.fits[0], answer.closures[0]
    assert fit.verdict == closure.verdict == item.verdict
    assert [(row.internal, row.external) for row in fit.pairs] == [(r.internal, r.external) for r in item.pairs]
    assert [(row.internal, row.external) for row in closure.pairs] == [(r.internal, r.external) for r in item.pairs]
    assert fit.chance.all_measured > 0.99  # the diameters alone would go together in any order
    assert item.chance_any < 0.2
    assert item.verdict.reason.startswith("Button in plate and stand height at once: in any order")


def test_each_fit_sees_its_own_gaps(tmp_path):
    answer = check(written(tmp_path, STATED, plate=PLATE, button=BUTTON))
    for row in answer.fits[0].pairs:
        assert row.gap == pytest.approx(row.internal_size - row.external_size)
        assert row.margin == pytest.approx(min(row.gap + 0.0009, -0.0003 - row.gap))
    text = "\n".join(check_lines(answer))
    assert "button in plate and stand height, at once: PAIR" in text
    assert text.count("judged at once above") == 2
    assert json.loads(json.dumps(answer.to_dict()))["assemblies"][0]["pairs"][0]["gaps"]["stand_height"]


@pytest.mark.parametrize("job", [SILENT, STATED], ids=["by file", "stated"])
def test_one_file_a_part_tells_the_parts(tmp_path, job):
    answer = check(written(tmp_path, job, plate=PLATE, button=BUTTON))
    assert len(answer.assemblies) == 1
    assert not any("judged by itself" in remark for remark in answer.remarks)


def test_labels_tell_the_parts(tmp_path):
    readings = {
        "bore": dict(zip(["B1", "B2", "B3"], BORES)),
        "counterbore_depth": dict(zip(["B1", "B2", "B3"], DEPTHS)),
        "shank": dict(zip(["P1", "P2", "P3"], SHANKS)),
        "head_height": dict(zip(["P1", "P2", "P3"], HEADS)),
    }
    answer = check(written(tmp_path, SILENT, all=tidy(readings)))
    assert [(row.internal, row.external) for row in answer.assemblies[0].pairs] == [
        ("B1", "P2"),
        ("B2", "P3"),
        ("B3", "P1"),
    ]


def test_where_nothing_tells_each_is_judged_by_itself_and_that_is_said(tmp_path):
    numbered = [str(n) for n in (1, 2, 3)]
    readings = {
        name: dict(zip(numbered, sizes))
        for name, sizes in (("bore", BORES), ("counterbore_depth", DEPTHS), ("shank", SHANKS), ("head_height", HEADS))
    }
    answer = check(written(tmp_path, SILENT, all=tidy(readings)))
    assert answer.assemblies == ()
    assert answer.fits[0].verdict.word == "press as they come"
    (remark,) = [item for item in answer.remarks if "judged by itself" in item]
    assert "stand height is judged by itself" in remark
    assert 'part = "rest button"' in remark
    assert answer.closures[0].verdict.word == "pair"
    assert [(row.internal, row.external) for row in answer.closures[0].pairs] == [("1", "3"), ("2", "1"), ("3", "2")]


def test_both_sides_of_a_fit_never_are_one_part(tmp_path):
    job = SILENT.replace('kind = "internal"', 'kind = "internal"\npart = "nest"').replace(
        'kind = "external"', 'kind = "external"\npart = "nest"'
    )
    answer = check(written(tmp_path, job, plate=PLATE, button=BUTTON))
    assert any("are the two sides of a fit" in remark for remark in answer.remarks)
    assert answer.fits[0].pairing is not None


def test_a_piece_without_one_of_its_readings_is_left_over_with_the_reason(tmp_path):
    lines = BUTTON.splitlines()
    lines[3] = "3,0.50080,0.50080,,"
    answer = check(written(tmp_path, STATED, plate=PLATE, button="\n".join(lines) + "\n"))
    (item,) = answer.assemblies
    assert ("3", "no reading of its head height") in [(left.piece, left.why) for left in item.left_over]
    assert len(item.pairs) == 2


def test_no_piece_with_all_its_readings_means_one_by_one(tmp_path):
    button = wide({"shank": SHANKS}, ["P1", "P2", "P3"])
    heads = wide({"head_height": HEADS}, ["Q1", "Q2", "Q3"])
    answer = check(written(tmp_path, STATED, plate=PLATE, button=button, heads=heads))
    assert answer.assemblies == ()
    assert any("judged one by one: no piece has readings of" in remark for remark in answer.remarks)
    assert answer.fits[0].verdict.word == "press as they come"
    assert answer.closures[0].pairs


def test_a_sum_on_one_part_alone_holds_or_fails_piece_by_piece(tmp_path):
    job = STATED.replace("{ head_height = 1, counterbore_depth = -1 }", "{ head_height = 1 }").replace(
        "[0.4995, 0.5005]", "[0.7495, 0.7515]"
    )
    answer = check(written(tmp_path, job, plate=PLATE, button=BUTTON))
    (item,) = answer.assemblies
    assert {row.external for row in item.pairs} == {"2", "3"}
    assert [left.piece for left in item.left_over if left.feature == "shank"] == ["1"]


def test_a_second_fit_may_be_the_other_way_round(tmp_path):
    """The plate carries a stud, and the button the hole for it."""
    job = (
        STATED.replace("[closures.stand_height]\nterms = { head_height = 1, counterbore_depth = -1 }\n", "")
        .replace("limits = [0.4995, 0.5005]\n", "")
        .replace('[features.head_height]\nkind = "length"', '[features.hole]\nkind = "internal"')
        .replace('[features.counterbore_depth]\nkind = "length"', '[features.stud]\nkind = "external"')
        .replace("nominal = 0.75", "nominal = 0.25")
        + '[fits.stud_in_hole]\ninternal = "hole"\nexternal = "stud"\ngap = [0.0002, 0.0008]\n'
    )
    plate = wide({"bore": BORES, "stud": [0.2500, 0.2510, 0.2520]})
    button = wide({"shank": SHANKS, "hole": [0.2525, 0.2505, 0.2515]})
    answer = check(written(tmp_path, job, plate=plate, button=button))
    (item,) = answer.assemblies
    assert [(row.internal, row.external) for row in item.pairs] == [("1", "2"), ("2", "3"), ("3", "1")]
    stud = next(fit for fit in answer.fits if fit.name == "stud_in_hole")
    assert [(row.internal, row.external) for row in stud.pairs] == [("2", "1"), ("3", "2"), ("1", "3")]
    assert all(row.gap == pytest.approx(0.0005) for row in stud.pairs)
    assert stud.left_over == ()


def test_the_sample_needs_both_gaps():
    answer = check(SAMPLE)
    (item,) = answer.assemblies
    assert (answer.verdict.word, len(item.pairs), item.left_over) == ("pair", 10, ())
    assert sorted(row.external for row in item.pairs) == sorted(f"P{n}" for n in range(1, 11))
    job = parse_job((SAMPLE / "job.toml").read_text(encoding="utf-8"), folder=SAMPLE)
    for name in job.fits:
        alone = dataclasses.replace(job, fits={name: job.fits[name]})
        pairs = [(row.internal, row.external) for row in check(alone).fits[0].pairs]
        assert pairs != [(row.internal, row.external) for row in item.pairs]


def brute(gaps, limits):
    """Return the most pairs within all limits, over every choice."""
    m, n = gaps.shape[:2]
    fits = np.all((gaps >= limits[:, 0] - 1e-12) & (gaps <= limits[:, 1] + 1e-12), axis=2)
    most = 0
    for columns in itertools.permutations(range(max(m, n)), min(m, n)):
        pairs = zip(range(m), columns) if m <= n else zip(columns, range(n))
        most = max(most, sum(bool(fits[i, j]) for i, j in pairs))
    return most


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000), m=st.integers(2, 5), n=st.integers(2, 5))
def test_most_pairs_by_brute_force(tmp_path_factory, seed, m, n):
    rng = np.random.default_rng(seed)
    bores, depths = 0.5 + 0.0002 * rng.normal(size=m), 0.25 + 0.0006 * rng.normal(size=m)
    shanks, heads = 0.5006 + 0.0002 * rng.normal(size=n), 0.75 + 0.0006 * rng.normal(size=n)
    bores, depths, shanks, heads = (np.round(sizes, 5) for sizes in (bores, depths, shanks, heads))
    plate, button = wide({"bore": bores, "counterbore_depth": depths}), wide({"shank": shanks, "head_height": heads})
    answer = check(written(tmp_path_factory.mktemp("job"), STATED, plate=plate, button=button))
    gaps = np.stack([bores[:, None] - shanks, heads[None, :] - depths[:, None]], axis=2)
    assert len(answer.assemblies[0].pairs) == brute(gaps, np.array([[-0.0009, -0.0003], [0.4995, 0.5005]]))


def test_a_wide_open_height_changes_no_pair(tmp_path):
    job = STATED.replace("[0.4995, 0.5005]", "[0.4, 0.6]")
    rng = np.random.default_rng(8)
    plate = wide({"bore": 0.5 + 0.0002 * rng.normal(size=8), "counterbore_depth": [0.25] * 8})
    button = wide({"shank": 0.5006 + 0.0002 * rng.normal(size=8), "head_height": [0.75] * 8})
    both = check(written(tmp_path / "both", job, plate=plate, button=button))
    lone = job[: job.index("[closures")] + job[job.index("[gauges") :]
    alone = check(written(tmp_path / "alone", lone, plate=plate, button=button))
    assert both.verdict.word == alone.verdict.word
    assert both.fits[0].pairing.good == alone.fits[0].pairing.good
    assert both.fits[0].pairing.worst_margin == pytest.approx(alone.fits[0].pairing.worst_margin)


def test_inch_and_millimetre_agree(tmp_path):
    inch = check(written(tmp_path / "in", STATED, plate=PLATE, button=BUTTON))
    metric_job = STATED.replace('unit = "in"', 'unit = "mm"')
    for number in ("-0.0009, -0.0003", "0.4995, 0.5005"):
        one, two = number.split(", ")
        metric_job = metric_job.replace(number, f"{float(one) * 25.4:.6f}, {float(two) * 25.4:.6f}")
    for number in ("0.5006", "0.75", "0.25", "0.5\n"):
        value = f"{float(number) * 25.4:.5f}" + ("\n" if "\n" in number else "")
        metric_job = metric_job.replace(f"nominal = {number}", f"nominal = {value}")
    metric_job = metric_job.replace("0.00001", "0.000254")
    files = {
        name: wide({feature: [size * 25.4 for size in sizes] for feature, sizes in columns.items()})
        for name, columns in (
            ("plate", {"bore": BORES, "counterbore_depth": DEPTHS}),
            ("button", {"shank": SHANKS, "head_height": HEADS}),
        )
    }
    metric = check(written(tmp_path / "mm", metric_job, **files))
    assert metric.verdict.word == inch.verdict.word
    assert [(row.internal, row.external) for row in metric.assemblies[0].pairs] == [
        (row.internal, row.external) for row in inch.assemblies[0].pairs
    ]


def test_a_plan_for_both_gaps_keeps_the_height(tmp_path):
    """Two shanks are too big; regrinding them is planned for the bores that their heads suit."""
    shanks = [0.5012, 0.5007, 0.5013]
    costs = "[costs]\npress = 1\nrework = { shank = 4 }\nremake = { shank = 30 }\nspoiled_assembly = 300\n"
    button = wide({"shank": shanks, "head_height": HEADS})
    answer = check(written(tmp_path, STATED + costs, plate=PLATE, button=button))
    (item,) = answer.assemblies
    plan = item.plan
    assert (answer.verdict.word, plan.reworked, plan.remade) == ("rework", 2, 0)
    assert [(item.pieces[0][one.internal], item.pieces[1][one.external]) for one in plan.pairs] == [
        ("1", "2"),
        ("2", "3"),
        ("3", "1"),
    ]
    assert "shank 1" in answer.verdict.action
    assert "shank 3" in answer.verdict.action


def test_a_feature_two_demands_rest_on_is_not_reworked(tmp_path):
    """Grinding the shank for the bore would spoil it for the second fit."""
    job = (
        STATED.replace("[closures.stand_height]", "[closures.wall]")
        .replace("{ head_height = 1, counterbore_depth = -1 }", "{ bore = 1, shank = -1 }")
        .replace("[0.4995, 0.5005]", "[-0.0008, -0.0004]")
    )
    costs = "[costs]\nrework = { shank = 1 }\nremake = { shank = 30 }\nspoiled_assembly = 300\n"
    button = wide({"shank": [0.5012, 0.5013, 0.5014], "head_height": HEADS})
    answer = check(written(tmp_path, job + costs, plate=PLATE, button=button))
    assert answer.assemblies[0].plan.reworked == 0


def test_three_parts_are_two_assemblies():
    job = parse_job(
        """
[job]
name = "Bushing in a plate, pin in the bushing"
unit = "mm"
[features.bore]
kind = "internal"
nominal = 10
[features.outside]
kind = "external"
nominal = 10
part = "bushing"
[features.inside]
kind = "internal"
nominal = 6
part = "bushing"
[features.pin]
kind = "external"
nominal = 6
[fits.bushing_in_plate]
internal = "bore"
external = "outside"
gap = [-0.02, -0.005]
[fits.pin_in_bushing]
internal = "inside"
external = "pin"
gap = [0.002, 0.01]
[closures.through]
terms = { bore = 1, outside = -1, inside = 1, pin = -1 }
limits = [-0.02, 0.01]
"""
    )
    parts = parts_of(job, readings_frame())
    found = assemblies_of(job, parts, ["bore", "outside", "inside", "pin"])
    assert [item.name for item in found] == ["bushing in plate", "pin in bushing"]


def test_order_of_rows_changes_nothing(tmp_path):
    turned = "\n".join([BUTTON.splitlines()[0], *reversed(BUTTON.splitlines()[1:])]) + "\n"
    one = check(written(tmp_path / "a", STATED, plate=PLATE, button=BUTTON))
    other = check(written(tmp_path / "b", STATED, plate=PLATE, button=turned))
    assert one.verdict.word == other.verdict.word
    assert {(row.internal, row.external) for row in one.assemblies[0].pairs} == {
        (row.internal, row.external) for row in other.assemblies[0].pairs
    }


def test_readings_from_two_files_for_one_feature_do_not_confuse(tmp_path):
    folder = written(tmp_path, SILENT, plate=PLATE, button=BUTTON, more=wide({"shank": [0.5009]}, [4]))
    job = parse_job((folder / "job.toml").read_text(encoding="utf-8"), folder=folder)
    answer = check(job, read_readings(folder, job), ())
    assert answer.fits[0].pairing is not None
