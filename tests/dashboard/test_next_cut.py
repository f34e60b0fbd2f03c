"""Next cut in its odd states: a length, one piece, none; every reason begins as a sentence does."""

import json

import pytest

from dashboard.parts.address import Address
from dashboard.parts.answers import Answers
from dashboard.server import page_at, rendered
from tracker.record import open_record

JOB = """[job]
name = "stand pins"
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.7500
lower = 0.7500
upper = 0.7508
[features.pin]
kind = "external"
nominal = 0.7494
lower = 0.7490
upper = 0.7498
[features.head_height]
kind = "length"
nominal = 0.5
lower = 0.4990
upper = 0.5010
[fits.pin_in_bore]
internal = "bore"
external = "pin"
gap = [0.0006, 0.0014]
"""


@pytest.fixture
def stand(tmp_path):
    with open_record(tmp_path / "stand.sqlite") as record:
        number = record.add_job(JOB, client_id="stand").id

        def measure(feature, *sizes):
            for piece, size in enumerate(sizes, 1):
                record.add_reading(number, feature, str(piece), f"{size:.5f}", client_id=f"{feature} {piece}")

        yield Answers(record), number, measure


def text_of(answers, number, feature):
    component, _ = rendered(answers, "/next", f"?job={number}&feature={feature}")
    return json.dumps(component, default=lambda part: part.to_plotly_json(), ensure_ascii=False)


def test_the_offset_of_a_length_is_on_the_length(stand):
    answers, number, measure = stand
    measure("head_height", 0.5003, 0.5004, 0.5003, 0.5004, 0.5003)
    measure("pin", 0.7496, 0.7497, 0.7496, 0.7497, 0.7496)
    text = text_of(answers, number, "head_height")
    assert "On the length, inches; plus makes the part larger" in text
    assert "diameter" not in text
    assert "On the diameter, inches" in text_of(answers, number, "pin")


def test_one_piece_measured_is_not_told_to_be_the_first(stand):
    answers, number, measure = stand
    bores = (0.7503, 0.7504, 0.7503, 0.7505, 0.7504, 0.7503)
    measure("bore", *bores)
    page, _, _ = page_at(answers, Address(page="next", job=number, feature="pin"))
    assert (page.word, page.answer[:22]) == ("cannot say", "Cut the first pins to ")
    measure("pin", 0.7495)
    page, _, _ = page_at(answers, Address(page="next", job=number, feature="pin"))
    assert (page.word, page.answer[:42]) == ("cannot say", "Cannot say by how much; aim the next pins ")
    assert "irst pins" not in text_of(answers, number, "pin")


@pytest.mark.parametrize("page", ["batch", "fit", "next", "wear", "plan", "gauges"])
@pytest.mark.parametrize("pieces", [0, 1])
def test_reasons_are_sentences(stand, page, pieces):
    answers, number, measure = stand
    for feature in ("bore", "pin", "head_height"):
        measure(feature, *[0.7495 if feature != "head_height" else 0.5] * pieces)
    component, _ = rendered(answers, f"/{page}", f"?job={number}&feature=bore")
    said = []

    def walk(node, inside=False):
        if hasattr(node, "to_plotly_json"):
            plain = node.to_plotly_json()
            look = plain["props"].get("className", "")
            text = plain["props"].get("children")
            if isinstance(text, str) and plain["type"] == "P" and (inside or look == "reason"):
                said.append(text)
            walk(list(plain["props"].values()), inside or look == "panel empty")
        elif isinstance(node, list | tuple):
            for item in node:
                walk(item, inside)

    walk(component)
    for text in said:
        assert text[0].isupper() or not text[0].isalpha(), text
        assert text.endswith((".", "!", "?")), text
    if page in ("fit", "next"):
        assert said
