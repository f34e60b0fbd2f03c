"""Chance of a transition fit from its tolerance zones: the bank's case fit-prob-uniform (exact area)."""

from fractions import Fraction

import pytest

from tracker.fit import chance_drawn, closure


def test_chance_of_interference_with_sizes_anywhere_in_their_zones(case):
    given, expected = case("fit-prob-uniform")["inputs"], case("fit-prob-uniform")["expected"]
    assert float(Fraction(expected["p_interference"][0])) == pytest.approx(expected["values"][0], abs=1e-9)
    for fit, value in zip(given["cases"], expected["values"], strict=True):
        found = chance_drawn(tuple(fit["hole"]), tuple(fit["shaft"]), 0.0, None, shape="uniform")
        assert found.too_tight == pytest.approx(value, abs=1e-9), fit["fit"]
        hole, shaft = ((sum(zone) / 2, *zone) for zone in (fit["hole"], fit["shaft"]))
        summed = closure({"hole": (1, hole), "shaft": (-1, shaft)}, 0.0, None, shape="uniform")
        assert summed.below == pytest.approx(value, abs=1e-9), fit["fit"]
