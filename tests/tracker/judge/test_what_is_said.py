"""The work that a check asks for keeps the drawing, says what it reaches, and agrees with the machine's numbers."""

import pytest

from tracker import check, next_shift, verdict
from tracker.judge import check_lines
from tracker.judge.text import feature_lines

JOB = """
[job]
name = "Nest, test pins"
unit = "in"
[features.bore]
kind = "internal"
lower = 0.5000
upper = 0.5008
gauge = "bore gauge"
BORE
[features.pin]
kind = "external"
lower = 0.5004
upper = 0.5012
gauge = "mic"
machine = { operation = "outside turning", increment = 0.0005 }
PIN
[fits.f]
internal = "bore"
external = "pin"
gap = [-0.0010, -0.0002]
[gauges."bore gauge"]
resolution = 0.00001
[gauges.mic]
resolution = 0.00001
COSTS
"""
BORES = (0.50041, 0.50055, 0.50029, 0.50052, 0.50037, 0.50037)
PINS = (0.50101, 0.50110, 0.50130, 0.50102, 0.50097, 0.50160)


def judged(path, bores=BORES, pins=PINS, *, job=JOB, bore="", pin="", costs="", more=""):
    text = job.replace("BORE", bore).replace("PIN", pin).replace("COSTS", costs)
    (path / "job.toml").write_text(text, encoding="utf-8")
    for name, sizes in (("bore", bores), ("pin", pins)):
        rows = "\n".join(f"{piece},{size}" for piece, size in enumerate(sizes, 1))
        (path / f"{name}.csv").write_text(f"piece,value\n{rows}\n{more if name == 'pin' else ''}", encoding="utf-8")
    return check(path)


def test_no_piece_is_reworked_beyond_its_drawing_where_another_can_be(tmp_path):
    """Opening bore 3 to 0.5010 costs the same as grinding pin 6, but 0.5008 is the bore's limit."""
    fit = judged(tmp_path).fits[0]
    assert fit.verdict.action.startswith("Rework pin 6 to 0.50100 in.")


def test_where_nothing_within_the_drawing_suits_it_is_asked_first(tmp_path):
    """In bores of 0.5015 the largest pin that may be made, 0.5012, is loose: no pin to drawing presses."""
    fit = judged(tmp_path, bores=[0.5015] * 4, pins=[0.5004, 0.5005, 0.5005, 0.5006]).fits[0]
    assert "Ask before cutting" in fit.verdict.action
    assert "beyond the drawing of the pin (from 0.50040 to 0.50120 in)" in fit.verdict.action


def test_a_plan_that_does_not_reach_the_assurance_says_so(tmp_path):
    fit = judged(tmp_path).fits[0]
    assert fit.plan.chance_all < 0.95
    assert "Measure what is reworked before pressing: pressed unmeasured, all six hold with only" in fit.verdict.action
    facts = {"internal": 6, "external": 6, "pairs_good": 5, "reworked": 1, "work": "Rework pin 6."}
    assert verdict(**facts, chance_planned=0.96).action == "Rework pin 6."
    assert verdict(**facts, chance_planned=0.94).action.startswith("Rework pin 6. Measure what is reworked")
    both = verdict(**facts | {"remade": 2}, chance_planned=0.94).action
    assert "Measure what is reworked and made new before pressing" in both


def test_an_empty_rework_and_remake_mean_none(tmp_path):
    plan = judged(tmp_path, costs="[costs]\nrework = {}\nremake = {}").fits[0].plan
    assert (plan.reworked, plan.remade, plan.not_made) == (0, 0, 1)
    assert plan.prices.rework == plan.prices.remake == {}


def test_pieces_without_a_size_are_set_aside_by_the_action(tmp_path):
    good = {"bores": [0.5004] * 4, "pins": [0.5010] * 4}
    assert judged(tmp_path, **good).verdict.action == "Press in any order."
    said = judged(tmp_path, **good, pin="pieces = 6").verdict
    assert said.action == "Press in any order. Set aside what has no size: two pins of 6."


def test_pieces_outside_their_own_drawing_are_named(tmp_path):
    answer = judged(tmp_path, bores=[0.5012] * 4, pins=[0.5018, 0.5013, 0.5014, 0.50035])
    words = " ".join(" ".join(check_lines(answer)).split())
    assert "not to the drawing: all 4 bores read over 0.50080 in" in words
    assert "not to the drawing: pin 4 reads under 0.50040, pins 1, 2 and 3 read over 0.50120 in" in words
    named = [line for line in feature_lines(answer, answer.feature("bore")) if "beyond" in line]
    assert named[0].endswith("all 4 bores read over 0.50080 in")


def test_a_piece_on_its_limit_is_within_the_drawing(tmp_path):
    answer = judged(tmp_path, bores=[0.5000, 0.5008, 0.5004], pins=[0.5004, 0.5012, 0.5008])
    assert [item.outside for item in answer.features] == [((), ()), ((), ())]


def test_the_plans_new_pieces_have_their_own_offset(tmp_path):
    """Bores 5 and 6 are large, so the new pins are larger than what suits the batch: the machine is told so."""
    answer = judged(
        tmp_path,
        bores=[0.5002, 0.5002, 0.50025, 0.5002, 0.5007, 0.5007],
        pins=[0.5008, 0.5008, 0.50085, 0.5008, 0.50078, 0.50082],
        job=JOB.replace("increment = 0.0005", "increment = 0.0001"),
        costs="[costs]\nremake = { pin = 5 }\nrework = {}",
    )
    fit = answer.fits[0]
    made = [cut for pair in fit.plan.pairs if pair.way == "new external" for cut in pair.cuts]
    assert sum(cut.pieces for cut in fit.planned_cuts) == len(made) == 2
    for cut in fit.planned_cuts:
        stands = sum((0.5008, 0.5008, 0.50085, 0.5008, 0.50078, 0.50082)) / 6
        assert cut.change == pytest.approx(cut.size - stands, abs=1e-9)
        assert cut.offset == pytest.approx(round((cut.size - stands) / 0.0001) * 0.0001)
        assert f"enter +{cut.offset:.4f} in on the diameter" in cut.words
    assert fit.planned_cuts[0].words in " ".join(" ".join(check_lines(answer)).split())


def test_one_limit_has_no_cheaper_side():
    """Too small is the only miss there is: nothing is aimed off toward it, whatever the other side would cost."""
    sizes = [0.5003, 0.5006, 0.5001, 0.5005, 0.5004]
    for costs in ({"cost_under": 30.0, "cost_over": 3.0}, {"cost_under": 3.0, "cost_over": 30.0}):
        assert next_shift(sizes, 0.5010, 0.5000, None, **costs).aim_off == 0.0
        assert next_shift(sizes, 0.5010, None, 0.5020, **costs).aim_off == 0.0
        assert next_shift(sizes, 0.5010, **costs).aim_off != 0.0


def test_a_target_that_leans_says_why_fewer_are_within():
    """0.5013 is cut to on purpose: an oversize pin is ground down, an undersize one is scrap."""
    sizes = [0.50100, 0.50108, 0.50092, 0.50104, 0.50096]
    plain = next_shift(sizes, 0.5013, 0.5006, 0.5014)
    assert (plain.leave_alone, plain.because) == (True, "not worth it")
    assert "the target stands nearer to a limit than the pieces do" in plain.reason
    leaning = next_shift(sizes, 0.5013, 0.5006, 0.5014, leans="larger")
    assert leaning.within_after < leaning.within_before
    assert leaning.reason.endswith("the target leans to the larger side, where a miss costs less.")


def test_a_step_too_coarse_for_the_limits_is_no_leave_alone_without_a_word():
    """Limits 0.0004 apart, a step of 0.0010 on the diameter, and pieces just outside: no setting is good."""
    sizes = [0.50029, 0.50030, 0.50028, 0.50029, 0.50029]
    found = next_shift(sizes, 0.5, 0.4998, 0.5002, increment=0.0005, diameter=False)
    assert found.because == "under one step"
    assert "too coarse for these limits" in found.reason
    fine = next_shift([size - 0.0002 for size in sizes], 0.5, 0.4998, 0.5002, increment=0.0005, diameter=False)
    assert "too coarse" not in fine.reason


def test_a_saving_of_nothing_is_said_in_words_not_in_powers_of_ten():
    sizes = [0.50010, 0.50011, 0.50009, 0.50010, 0.50010]
    found = next_shift(sizes, 0.5, 0.4990, 0.5010, touch_cost=5.0, increment=0.00001)
    assert found.because == "not worth it"
    assert "saves next to nothing" in found.reason
    assert "e-" not in found.reason


def test_pieces_that_all_read_alike_have_no_noise_of_nothing():
    found = next_shift(
        [0.5001] * 6, 0.5001, 0.4990, 0.5010, uncertainty=0.000003, say=lambda value: f"{value * 1e4:.1f} tenths"
    )
    assert "0.0 tenths of it is noise" not in found.reason
    assert "all read alike" in found.reason


def test_means_that_are_equal_have_no_interval_and_say_so(tmp_path):
    """Repeats differ, their means do not: the spread of pieces does not show."""
    (tmp_path / "job.toml").write_text(
        '[job]\nname = "t"\nunit = "in"\n[features.pin]\nkind = "external"\nlower = 0.5004\nupper = 0.5012\n',
        encoding="utf-8",
    )
    rows = "piece,repeat,value\n1,1,0.50150\n1,2,0.50100\n2,1,0.50100\n2,2,0.50150\n"
    (tmp_path / "pin.csv").write_text(rows, encoding="utf-8")
    answer = check(tmp_path)
    words = "\n".join(feature_lines(answer, answer.feature("pin")))
    assert "0.50125 in, and how far off that may be does not show" in " ".join(words.split())
    assert "inf" not in words.casefold().replace("infer", "")
