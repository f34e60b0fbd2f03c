"""The Wear page: badge, headline and reason say one thing, and a signal is not taken for more than it is."""

import json
import re

import numpy as np
import pytest
from dash import html

from dashboard.pages.wear import page as wear_page
from dashboard.parts.address import Address
from dashboard.parts.answers import Answers
from dashboard.parts.steady import steady_chance
from tracker.drift import watch_runs
from tracker.judge import wear_verdict
from tracker.record import open_record

JOB = """[job]
name = "stop pins"
unit = "in"
[features.pin]
kind = "external"
nominal = 0.2500
lower = 0.2496
upper = 0.2502
repeats = 1
"""


def words_of(component):
    return json.dumps(component, default=lambda part: part.to_plotly_json(), ensure_ascii=False)


@pytest.fixture
def worn(tmp_path):
    """Return a function: sizes in order of making -> the answer of a job with these pins, and its address."""
    kept = []

    def measured(sizes):
        record = open_record(tmp_path / f"{len(kept)}.sqlite")
        kept.append(record)
        number = record.add_job(JOB, client_id="pins").id
        for piece, size in enumerate(sizes, 1):
            record.add_reading(number, "pin", str(piece), f"{size:.6f}", client_id=f"pin {piece}")
        return Answers(record).of(number), Address(page="wear", job=number, feature="pin")

    yield measured
    for record in kept:
        record.close()


def sizes_of(slope, pieces=12, seed=3, start=0.2501, sd=0.0001):
    noise = np.random.default_rng(seed).standard_normal(pieces)
    noise -= np.polyval(np.polyfit(np.arange(pieces), noise, 1), np.arange(pieces))
    return start + slope * np.arange(pieces) + sd * noise


CASES = [
    (0.0, "no wear seen", "keep going", "No wear can be seen."),
    (-0.000034, "perhaps wear", "measure better", "Perhaps. Measure more pins before acting on it."),
    (-0.00005, "wear seen", "change the tool", "Yes. See to the tool now: the middle is past the limit."),
    (-0.000045, "wear seen", "change the tool", "Yes. See to the tool before the next pin."),
]


@pytest.mark.parametrize(("slope", "verdict", "badge", "answer"), CASES, ids=[str(case[0]) for case in CASES])
def test_badge_headline_and_reason_agree(worn, slope, verdict, badge, answer):
    judged, address = worn(sizes_of(slope))
    assert wear_verdict(judged.check.features[0].wear) == verdict
    page = wear_page(judged, address)
    assert (page.word, page.answer) == (badge, answer)
    text = words_of(html.Div(page.body))
    assert ("are safe to make" in text) == (verdict == "wear seen")
    if verdict == "perhaps wear":
        assert page.said == "measure more"
        assert page.reasons[0].startswith("Perhaps: ")
        assert "Size may creep down" in text


def test_a_creep_too_small_for_two_decimals_keeps_two_digits(worn):
    judged, address = worn(sizes_of(0.0, pieces=60, sd=0.00001, start=0.2499))
    text = words_of(html.Div(wear_page(judged, address).body))
    assert re.search(r"A creep of up to 0\.00[1-9]\d? tenths a piece could hide", text)


def test_the_chance_of_a_signal_by_chance_is_that_of_the_whole_run(worn):
    rng = np.random.default_rng(41)
    runs = 2500
    seen = sum(bool(watch_runs(rng.standard_normal(60)).signals) for _ in range(runs)) / runs
    assert steady_chance(60) == pytest.approx(seen, abs=0.06)
    sizes = 0.2499 + 0.00005 * np.random.default_rng(5).standard_normal(60)
    sizes[26:34] = 0.2499 + 0.00005 * np.linspace(1.2, 1.6, 8)
    judged, address = worn(sizes)
    text = words_of(html.Div(wear_page(judged, address).body))
    said = re.search(r"A steady run of 60 pieces shows at least one of these four by chance in about (\d+)", text)
    assert float(said[1]) / 100 == pytest.approx(seen, abs=0.06)
    assert not re.search(r"\d looks", text)


def test_events_and_a_wear_line_are_part_of_the_chance():
    assert steady_chance(60, (30,)) < steady_chance(60)
    assert steady_chance(5) < 0.05
    assert steady_chance(3000) == 1.0
    assert 0 < steady_chance(60, on_line=True) < steady_chance(60)
