"""What to cut the mate to: Springer's economic mean with unequal costs, and the shop's own rule."""

import pytest

from tracker.fit import best_target


@pytest.mark.parametrize("name", ["adj-target-asym-1", "adj-target-asym-2"])
@pytest.mark.parametrize("side", ["external", "internal"])
def test_economic_mean_with_unequal_costs(case, name, side):
    """One mate of size zero turns the question into Springer's (Industrial Quality Control, 1951).

    An external part above its upper limit is too tight, an internal one below its lower limit is.
    """
    given, expected = case(name)["inputs"], case(name)["expected"]
    low, high = given["LSL"], given["USL"]
    below, above = given["cost_below"], given["cost_above"]
    if side == "external":
        found = best_target([0.0], given["sigma"], -high, -low, side, cost_tight=above, cost_loose=below)
    else:
        found = best_target([0.0], given["sigma"], low, high, side, cost_tight=below, cost_loose=above)
    assert found.target == pytest.approx(expected["mean"], abs=1e-7)
    assert found.expected_cost == pytest.approx(expected["cost"], rel=1e-5)


def test_the_plug_follows_the_hole(case):
    """Common practice, no source: hole 0.001 over nominal and 0.001 press give a plug of 0.252."""
    given, expected = case("practice-follow-the-hole")["inputs"], case("practice-follow-the-hole")["expected"]
    press = given["press_in"]
    for either_way in (0.0002, 0.0005):
        found = best_target([given["hole_measured_in"]], 0.0001, -press - either_way, -press + either_way)
        assert found.target == pytest.approx(expected["plug_target_in"], abs=1e-12)
