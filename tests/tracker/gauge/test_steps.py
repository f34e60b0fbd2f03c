"""Resolution against rounding simulated."""

import numpy as np
import pytest

from tracker.errors import TrackerError
from tracker.gauge import resolution_check


@pytest.mark.parametrize("step", [0.25, 0.5, 1.0, 2.0])
def test_inflation_is_what_rounding_does(step):
    rng = np.random.default_rng(91)
    sizes = rng.normal(rng.uniform(0, 1), 1.0, 400_000)
    rounded = np.round(sizes / step) * step
    # Sheppard's correction holds to a step of two sd within half a per cent; sampling error 0.0011.
    assert 1 + resolution_check(step, sd=1.0).inflation == pytest.approx(rounded.std(), abs=0.008)


FINE = {
    "a tenth": ({"tolerance": 0.001}, True),
    "more than a tenth": ({"tolerance": 0.00099}, False),
    "half an sd": ({"sd": 0.0002}, True),
    "more than half an sd": ({"sd": 0.00019}, False),
    "one of two": ({"tolerance": 0.001, "sd": 0.0001}, False),
    "nothing to compare with": ({}, None),
}


@pytest.mark.parametrize("name", FINE)
def test_fine_enough(name):
    given, fine = FINE[name]
    result = resolution_check(0.0001, **given)
    assert result.fine_enough is fine
    assert str(result)


def test_uncertainty_of_a_step():
    # GUM F.2.2.1 (from memory): u = 0.29 step.
    assert resolution_check(1.0).uncertainty == pytest.approx(0.29, abs=0.005)


def test_guard_bands_hold_nineteen_in_twenty_roundings():
    # A uniform error of half a step exceeds nine tenths of it, on one side, in one of twenty.
    result = resolution_check(0.0001, tolerance=0.0006)
    assert result.guarded_share == pytest.approx(2 * 0.9 * 0.00005 / 0.0006)
    assert result.share_of_tolerance == pytest.approx(1 / 6)


@pytest.mark.parametrize("call", [{"step": 0}, {"step": 1, "sd": -1}, {"step": 1, "tolerance": 0}])
def test_refusals(call):
    with pytest.raises(TrackerError, match="above 0"):
        resolution_check(**call)
