"""Pieces that must meet two fits at once, as the pages and the press bench sheet show them."""

import datetime
import json
import re

import pytest

from dashboard.parts.at_once import asked_of, at_once_panel
from dashboard.server import rendered
from dashboard.sheets.shelf import make_sheet


class _Encoder(json.JSONEncoder):
    def default(self, value):
        return value.to_plotly_json()


def words_of(component) -> str:
    return json.dumps(component.to_plotly_json(), cls=_Encoder, ensure_ascii=False)


@pytest.mark.parametrize("unit", ["in", "mm"])
@pytest.mark.parametrize(("fit", "other"), [("plug_in_pocket", "key_in_keyway"), ("key_in_keyway", "plug_in_pocket")])
def test_each_fit_shows_what_its_pairs_meet_besides(sample, fit, other, unit):
    answer = sample("keyed_plugs", unit)
    found = answer.fit(fit)
    text = words_of(at_once_panel(answer, found))
    assert f"These ten pairs meet {other.replace('_', ' ')} too" in text
    numbers = answer.numbers(found.internal, found.external)
    (item,) = answer.check.assemblies
    for row in item.pairs:
        assert numbers.off(row.gaps[other]) in text


def test_both_units_show_the_same_pairs(sample):
    inch, metric = sample("keyed_plugs", "in"), sample("keyed_plugs", "mm")
    pairs = [[(row.internal, row.external) for row in one.check.assemblies[0].pairs] for one in (inch, metric)]
    assert pairs[0] == pairs[1]
    for one, other in zip(inch.check.assemblies[0].pairs, metric.check.assemblies[0].pairs):
        for name, gap in one.gaps.items():
            assert other.gaps[name] == pytest.approx(gap * 25.4)


def test_a_lone_fit_has_no_such_panel(sample):
    answer = sample("guide_pins")
    assert at_once_panel(answer, answer.check.fits[0]) is None


def test_any_order_is_that_of_all_at_once(answers, numbers_of, sample):
    """The round fit alone would do in any order with 67 %; with the key it hardly ever does."""
    text = words_of(rendered(answers, "/fit", f"?job={numbers_of['keyed_plugs']}&fit=plug_in_pocket")[0])
    (item,) = sample("keyed_plugs").check.assemblies
    assert f"{item.wanted * item.pair_any:.1f}" in text
    assert re.search(r"all 10 hold: 1.%", text)
    assert "trays:" not in text


def test_the_bench_sheet_carries_the_other_gap(sample):
    answer = sample("keyed_plugs")
    when = datetime.datetime(2026, 11, 25, 14, 5)
    text = make_sheet(answer, "bench", by="bench 2", when=when, fit="plug_in_pocket").document()
    assert "key in keyway, tenths" in text
    assert "do not change them" in text


def test_a_sum_is_written_from_the_middle_of_its_limits(sample):
    answer = sample("keyed_plugs")
    asked = asked_of(answer, answer.check.assemblies[0])
    assert [one.base for one in asked] == [0.0, 0.0]
    assert asked[0].head(answer.numbers("bore")) == "plug in pocket, tenths"


def kept(tmp_path, files, job):
    """Return the answer of a job in a record of its own."""
    from dashboard.parts.answers import Answers
    from tracker import parse_job
    from tracker.readings import read_readings
    from tracker.record import open_record

    (tmp_path / "job.toml").write_text(job, encoding="utf-8")
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    read = parse_job(job, folder=tmp_path)
    record = open_record(tmp_path / "own.sqlite")
    number = record.add_job(read.text).id
    record.add_readings(number, read_readings(tmp_path, read))
    return Answers(record).of(number)


STAND = """
[job]
name = "Buttons that stand at one height"
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.5
part = "plate"
[features.shank]
kind = "external"
nominal = 0.5006
part = "button"
[features.head_height]
kind = "length"
nominal = 0.75
part = "button"
[features.counterbore_depth]
kind = "length"
nominal = 0.25
part = "plate"
[fits.button_in_plate]
internal = "bore"
external = "shank"
gap = [-0.0009, -0.0003]
[closures.stand_height]
terms = { head_height = 1, counterbore_depth = -1 }
limits = [0.4995, 0.5005]
[gauges.g]
resolution = 0.00001
[costs]
press = 1
rework = { shank = 4 }
remake = { shank = 30 }
spoiled_assembly = 300
"""


def rows(columns, skip=()):
    lines = []
    for piece, sizes in enumerate(zip(*columns.values()), 1):
        for name, size in zip(columns, sizes):
            if (piece, name) not in skip:
                lines += [f"{name},{piece},{size:.5f}"] * 2
    return "feature,piece,value\n" + "\n".join(lines) + "\n"


def test_a_piece_that_lacks_a_reading_does_not_shift_the_names_of_the_others(tmp_path):
    """The plan counts pieces of the assembly, and the page must name those very pieces."""
    plate = rows({"bore": [0.5] * 4, "counterbore_depth": [0.25] * 4})
    button = rows({"shank": [0.5005, 0.5003, 0.5011, 0.5008], "head_height": [0.75] * 4}, skip={(1, "head_height")})
    answer = kept(tmp_path, {"plate": plate, "button": button}, STAND)
    fit = answer.check.fits[0]
    assert fit.plan.reworked == 1
    from dashboard.pages.fit import page
    from dashboard.parts.address import Address

    whole = " ".join(words_of(part) for part in page(answer, Address(page="fit")).body)
    assert "no reading of its head height" in whole
    assert "stand height, tenths from 0.50000" in whole
    assert "Regrind" not in whole
    assert "rework the button to" in whole
    assert fit.verdict.action.startswith("Rework shank 3 to ")
