"""Dowels, rules of thumb, clearance holes and plating: what is accepted and what is refused."""

import pytest

from tracker.errors import LimitsError
from tracker.limits import clearance_hole, dowel_fit, dowel_pin, plating_allowance, shop_hole, shop_interference


@pytest.mark.parametrize("size", ["1/4", "0.25", 0.25, "1/4 in", '.250"'])
def test_one_pin_many_ways(size):
    assert dowel_pin(size).lower == 0.2501


def test_metric_pin_beside_inch_default():
    assert dowel_pin("6 mm") == dowel_pin(6, unit="mm")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: dowel_pin("1/3"), "there are: 1/16"),
        (lambda: dowel_pin(7, unit="mm"), "there are: 1, 1.5"),
        (lambda: dowel_pin("M6"), "no size of dowel pin"),
        (lambda: dowel_pin("1/4", "undersize"), "standard or oversize"),
        (lambda: dowel_pin("6 mm", "oversize"), "standard"),
        (lambda: dowel_fit("1/16"), "no hole is suggested"),
        (lambda: shop_hole(1.0, "snug"), "slip or press"),
        (lambda: shop_hole(1.0, "slip", unit="um"), "in or mm"),
        (lambda: shop_hole(-1, "slip"), "above zero"),
        (lambda: shop_hole(0.0, "slip"), "above zero"),
        (lambda: shop_hole(0.0005, "press"), "above 0.001 in"),
        (lambda: shop_hole(0.001, "press"), "above 0.001 in"),
        (lambda: shop_hole(0.01, "press", unit="mm"), "above 0.0254 mm"),
        (lambda: shop_hole(0.25, "press", change=-0.25), "above 0.25 in"),
        (lambda: shop_hole(float("nan"), "slip"), "found nan"),
        (lambda: shop_hole(0.25, "slip", change=float("inf")), "found inf"),
        (lambda: shop_interference(-1.0), "above zero"),
        (lambda: shop_interference(1.0, "hard"), "light, press, heavy"),
        (lambda: shop_interference(1.0, pair="steel in wood"), "bronze in steel"),
        (lambda: clearance_hole("M7"), "M6"),
        (lambda: clearance_hole("7/16"), "1/2"),
        (lambda: plating_allowance(-1.0), "from 0"),
        (lambda: plating_allowance(float("nan")), "from 0"),
        (lambda: plating_allowance(1.0, "thread"), "external, internal, length"),
        (lambda: plating_allowance(1.0, plated_faces=3), "0, 1 or 2"),
    ],
)
def test_refused(call, words):
    with pytest.raises(LimitsError, match=words):
        call()


def test_interference_by_rule_and_pair():
    """Common practice, no source: harder rules and softer pairs ask for more."""
    by_rule = [shop_interference(1.0, rule) for rule in ("light", "press", "heavy")]
    assert by_rule == [0.00025, 0.0005, 0.001]
    hard, plain, soft = (
        shop_interference(1.0, pair=pair)
        for pair in ("hardened steel in hardened steel", "steel in steel", "steel in aluminium")
    )
    assert hard < plain < soft
    assert shop_interference(25.4) == pytest.approx(25.4 * shop_interference(1.0))  # a share of the diameter


def test_rules_in_millimetres_are_the_same_length():
    assert shop_hole(25.4, "slip", unit="mm").size == pytest.approx(25.4 * 1.001, abs=1e-12)


def test_the_least_hole_that_a_press_fit_leaves():
    assert shop_hole(0.0011, "press").size == pytest.approx(0.0001, abs=1e-15)


def test_the_shop_sets_its_own_figure():
    own = shop_hole(0.5, "press", change=-0.0007)
    assert own.size == 0.4993
    assert "as stated" in str(own)


def test_plating_goes_both_ways():
    """A plated pin in a plated bore loses four layers of gap."""
    layer = 0.0002
    assert plating_allowance(layer, "internal") - plating_allowance(layer) == pytest.approx(-4 * layer)
    assert plating_allowance(layer, "length", plated_faces=2) == 2 * layer
    assert plating_allowance(layer, "external", plated_faces=1) == layer


def test_words():
    assert str(clearance_hole("m6")).startswith("M6 screw: clearance drill 6.6 mm, counterbore 11 mm")
    assert "0.251 in" in str(shop_hole(0.25, "slip"))
