"""Each command end to end, as a shell sees it: what it prints and the status it ends with."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from tracker.cli.entrance import COMMANDS, tenthwise

SAMPLES = Path(__file__).parents[3] / "sample_readings"


def run(*arguments, **options):
    return CliRunner().invoke(tenthwise, [str(item) for item in arguments], **options)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name):
    done = run(name, "--help")
    assert done.exit_code == 0, done.output
    assert f"Example: tenthwise {name}" in done.output
    assert "--json" in done.output


@pytest.mark.parametrize(("sample", "status"), [("rest_buttons", 1), ("guide_pins", 0), ("coupling_pins", 0)])
def test_check_says_the_verdict_and_its_status(sample, status):
    done = run("check", SAMPLES / sample)
    assert done.exit_code == status
    assert "nan" not in done.output.lower().split()
    answer = json.loads(run("check", SAMPLES / sample, "--json").output)
    assert answer["verdict"]["word"].upper() in done.output
    assert answer["verdict"]["action"].split(".")[0] in " ".join(done.output.split())


@pytest.mark.parametrize(
    ("arguments", "status", "says"),
    [
        (["batch", "rest_buttons", "--feature", "shank"], 1, "capability"),
        (["batch", "guide_pins", "--feature", "pin"], 0, "spread"),
        (["pair", "rest_buttons"], 1, "10 of 12 pairs"),
        (["pair", "guide_pins"], 0, "8 of 8 pairs"),
        (["pair", "keyed_plugs"], 0, "at once: 10 of 10 pairs within all limits"),
        (["pair", "keyed_plugs", "--fit", "key_in_keyway"], 0, "the pairs meet plug in pocket and key in keyway"),
        (["classes", "coupling_pins", "--count", "3"], 0, "sorted into three trays a side"),
        (["shift", "rest_buttons"], 1, "larger"),
        (["shift", "guide_pins"], 0, "leave it alone"),
        (["wear", "coupling_pins", "--feature", "pin"], 1, "dressing"),
        (["wear", "guide_pins", "--feature", "pin"], 0, "no wear seen"),
        (["gauge", "rest_buttons"], 0, "good enough"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else None,
)
def test_one_question_each(arguments, status, says):
    name, sample, *rest = arguments
    done = run(name, SAMPLES / sample, *rest)
    assert done.exit_code == status, done.output
    assert says in done.output
    as_json = run(name, SAMPLES / sample, *rest, "--json")
    assert as_json.exit_code == status
    json.loads(as_json.output)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["check", "no_such_folder"], "no_such_folder"),
        (["batch", str(SAMPLES / "rest_buttons")], "--feature"),
        (["batch", str(SAMPLES / "rest_buttons"), "--feature", "bolt"], "bore, shank"),
    ],
    ids=["no folder", "several features", "unknown feature"],
)
def test_bad_input_is_one_line_and_status_2(arguments, says):
    done = run(*arguments)
    assert done.exit_code == 2
    assert says in done.output
    assert "Traceback" not in done.output


def test_limits_the_wrong_way_round_and_an_unknown_unit_are_both_named(tmp_path):
    (tmp_path / "job.toml").write_text(
        '[job]\nunit = "furlong"\n[features.bore]\nkind = "internal"\nnominal = 1\nlower = 1.2\nupper = 1.1\n',
        encoding="utf-8",
    )
    done = run("check", tmp_path)
    assert done.exit_code == 2
    assert "furlong" in done.output
    assert "swap them" in done.output


def test_log_keeps_a_folder_once_and_check_from_the_record_agrees(tmp_path):
    record = tmp_path / "bench.sqlite"
    first = run("log", SAMPLES / "rest_buttons", "--record", record, "--yes", "--by", "bench 2")
    assert first.exit_code == 0, first.output
    assert "120 readings kept" in first.output
    again = run("log", SAMPLES / "rest_buttons", "--record", record, "--yes")
    assert "120 were there already" in again.output
    folder = json.loads(run("check", SAMPLES / "rest_buttons", "--json").output)
    kept = json.loads(run("check", "Leak-test nest, rest buttons", "--record", record, "--json").output)
    assert kept["readings"]["fingerprint"] == folder["readings"]["fingerprint"]
    assert kept["verdict"] == folder["verdict"]
    assert kept["fits"] == folder["fits"]
    assert kept["features"] == folder["features"]


def test_log_from_standard_input_walks_through_the_pieces(tmp_path):
    record = tmp_path / "bench.sqlite"
    run("log", SAMPLES / "guide_pins", "--record", record, "--yes")
    typed = ["log", "1", "--record", record, "--feature", "pin", "--piece", "9", "--repeats", "1"]
    done = run(*typed, input=".37451\n.37449\n12 .3745\nbanana\n")
    assert done.exit_code == 1, done.output
    assert "piece 9" in done.output
    assert "piece 10" in done.output
    assert "piece 12" in done.output
    assert "not kept" in done.output


def test_log_takes_the_positions_and_repeats_of_the_job_in_turn(tmp_path):
    """Two a place as the job states, all places of a piece before the next piece; --repeats has the last word."""
    (tmp_path / "job.toml").write_text(
        '[job]\nname = "typed"\nunit = "in"\n[features.plug]\nkind = "external"\nnominal = 0.5\n'
        'positions = ["left", "right"]\nrepeats = 2\n',
        encoding="utf-8",
    )

    def places(*more: str) -> list[tuple]:
        given = ["log", tmp_path, "--record", tmp_path / "bench.sqlite", "--feature", "plug", *more, "--json"]
        kept = json.loads(run(*given, input=".5001\n.5002\n.5001\n.5003\n.5\n7 .5\n.5001\n.5002\n").stdout)["kept"]
        return [(item["piece"], item["position"], item["repeat"]) for item in kept]

    both = [("left", 1), ("left", 2), ("right", 1), ("right", 2)]
    assert places() == [*(("1", *place) for place in both), ("2", "left", 1), *(("7", *place) for place in both[:3])]
    assert places("--piece", "11", "--repeats", "1")[:5] == [
        ("11", "left", 1),
        ("11", "right", 1),
        ("12", "left", 1),
        ("12", "right", 1),
        ("13", "left", 1),
    ]


def test_another_job_of_the_same_name_is_not_mixed_in(tmp_path):
    record = tmp_path / "bench.sqlite"
    run("log", SAMPLES / "guide_pins", "--record", record, "--yes")
    other = tmp_path / "other"
    other.mkdir()
    text = (SAMPLES / "guide_pins" / "job.toml").read_text(encoding="utf-8").replace("0.0012", "0.0013")
    (other / "job.toml").write_text(text, encoding="utf-8")
    (other / "pin.csv").write_text("piece,value\n1,0.3745\n", encoding="utf-8")
    done = run("log", other, "--record", record, "--yes")
    assert done.exit_code == 2
    assert "--revise" in done.output
    assert run("log", other, "--record", record, "--yes", "--revise").exit_code == 0


def test_a_large_file_is_read_in_parts_and_kept_the_same(tmp_path, monkeypatch):
    from tracker.cli import importing

    monkeypatch.setattr(importing, "LARGE", 0)
    done = run("log", SAMPLES / "rest_buttons", "--record", tmp_path / "bench.sqlite", "--yes")
    assert done.exit_code == 0, done.output
    assert "120 readings kept" in done.output


def test_log_asks_before_it_keeps(tmp_path):
    done = run("log", SAMPLES / "guide_pins", "--record", tmp_path / "bench.sqlite")
    assert done.exit_code == 2
    assert "--yes" in done.output


def test_strict_keeps_nothing_of_a_faulty_file(tmp_path):
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.toml").write_bytes((SAMPLES / "guide_pins" / "job.toml").read_bytes())
    (folder / "pin.csv").write_text("piece,value\n1,0.3745\n2,banana\n", encoding="utf-8")
    record = tmp_path / "bench.sqlite"
    done = run("log", folder, "--record", record, "--strict")
    assert done.exit_code == 2
    assert "nothing kept" in done.output


@pytest.mark.parametrize("command", ["pair", "classes"])
def test_a_job_without_a_fit_is_told_so(command, tmp_path):
    (tmp_path / "job.toml").write_text(
        '[job]\nunit = "mm"\n[features.pin]\nkind = "length"\nnominal = 40\n', encoding="utf-8"
    )
    (tmp_path / "pin.csv").write_text("piece,value\n1,40.001\n2,40.002\n", encoding="utf-8")
    outcome = CliRunner().invoke(tenthwise, [command, str(tmp_path)])
    assert outcome.exit_code == 2
    assert "states no fit" in outcome.stderr
    assert "[fits.NAME]" in outcome.stderr


def test_the_answer_for_machines_names_what_was_refused_and_asked(tmp_path):
    (tmp_path / "job.toml").write_text(
        '[job]\nunit = "mm"\n[features.pin]\nkind = "length"\nnominal = 40\n', encoding="utf-8"
    )
    (tmp_path / "pin.csv").write_text("piece,value\n1,40.001\n2,40.002\n3,oil\n4,1016.02\n", encoding="utf-8")
    outcome = CliRunner().invoke(tenthwise, ["check", str(tmp_path), "--json"])
    found = json.loads(outcome.stdout)["readings"]
    assert [item["row"] for item in found["refusals"]] == [4]
    assert [item["row"] for item in found["suspects"]] == [5]


@pytest.mark.parametrize(
    ("arguments", "status", "says"),
    [
        # mean gap -0.018, sds 4 and 3 micrometres make 5: normal from 2.4 sd under to 2.6 over, 98.7 %
        (
            ["25H7/p6", "--spread", "4 um", "--spread", "3um", "--gap", "-0.030", "-0.005"],
            0,
            "98.7 % chance that a pair",
        ),
        (["25H7/p6", "--spread", "4 um", "--pairs", "12"], 0, "that all 12 do"),
        (["25H7/p6", "--gap", "-0.035", "-0.001"], 0, "By the drawing alone"),
        (["25H7", "--spread", "4 um"], 2, "go with a fit, such as 25H7/p6"),
        (["25H7/p6", "--spread", "-4 um"], 2, "a standard deviation from zero up"),
        (["25H7/p6", *["--spread", "1 um"] * 3], 2, "--spread is given 3 times"),
    ],
)
def test_a_drawing_and_a_stated_spread_give_the_chance(arguments, status, says):
    found = run("limits", *arguments)
    assert found.exit_code == status
    assert says in found.output


STAND = """
[job]
name = "Heads in recesses"
unit = "mm"
[features.head]
kind = "length"
nominal = 12
[features.recess]
kind = "length"
nominal = 6
[closures.stand]
terms = { head = 1, recess = -1 }
limits = [5.99, 6.01]
"""


def test_a_closure_alone_is_paired_too(tmp_path):
    (tmp_path / "job.toml").write_text(STAND, encoding="utf-8")
    for name, sizes in (("head", (12.0, 12.03, 12.06)), ("recess", (6.06, 6.0, 6.03))):
        rows = [f"{piece},{size:.3f}" for piece, size in enumerate(sizes, 1) for _ in range(3)]
        (tmp_path / f"{name}.csv").write_text("piece,value\n" + "\n".join(rows) + "\n", encoding="utf-8")
    done = run("pair", tmp_path)
    assert done.exit_code == 0, done.output
    assert "stand: 3 of 3 pairs within limits" in done.output
    found = json.loads(run("pair", tmp_path, "--json").output)
    assert [(row["internal"], row["external"]) for row in found["pairs"]] == [("1", "2"), ("2", "3"), ("3", "1")]
    assert run("pair", tmp_path, "--fit", "nothing").exit_code == 2
