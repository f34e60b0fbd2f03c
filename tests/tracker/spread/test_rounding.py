"""What rounding to a step does to a mean, against simulation."""

import math

import numpy as np
import pytest

from tracker.spread.rounding import rounding_of_mean


@pytest.mark.parametrize("sd", [0.05, 0.15, 0.25, 0.4])
def test_against_the_error_of_very_many_rounded_sizes(sd):
    """The mean error over 400 places of the mean between two steps, each from 4,000 sizes."""
    rng = np.random.default_rng(7)
    places = (np.arange(400) + 0.5) / 400
    sizes = places[:, None] + sd * rng.normal(size=(400, 4000))
    error = np.round(sizes).mean(axis=1) - sizes.mean(axis=1)
    luck = math.sqrt(1 / 12 / 4000)  # at most, of one mean
    assert rounding_of_mean(1.0, sd) == pytest.approx(math.sqrt(np.mean(error**2)), abs=3 * luck)


def test_all_alike_is_anywhere_in_the_step_and_a_wide_spread_averages_it_out():
    assert rounding_of_mean(0.0005, 0.0) == pytest.approx(0.0005 / math.sqrt(12))
    assert rounding_of_mean(0.0005, 1e-9) == pytest.approx(0.0005 / math.sqrt(12), rel=0.01)
    assert rounding_of_mean(0.0005, 0.0005) < 1e-9
    assert rounding_of_mean(0.0, 1.0) == 0.0
