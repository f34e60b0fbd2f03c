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
