"""What a drawing alone says of a fit."""

import numpy as np
import pytest
from scipy import stats

from tracker.errors import TrackerError
from tracker.fit import chance_drawn


def test_stated_spreads_give_the_normal_chance():
    found = chance_drawn((10.0, 10.2), (9.8, 10.0), 0.1, 0.3, internal_sd=0.03, external_sd=0.04, pairs=12)
    expected = stats.norm.cdf(2) - stats.norm.cdf(-2)
    assert found.pair == pytest.approx(expected, abs=1e-12)
    assert found.all == pytest.approx(expected**12)
    assert found.expected_good + found.too_tight + found.too_loose == pytest.approx(12)


def test_without_a_stated_spread_a_sixth_of_the_tolerance_is_taken():
    found = chance_drawn((10.0, 10.6), (9.0, 9.6), 0.9, None)
    assert found.pair == pytest.approx(stats.norm.cdf((1.0 - 0.9) / np.hypot(0.1, 0.1)), abs=1e-12)
    assert (found.gap.low, found.gap.high) == pytest.approx((0.4, 1.6))


def test_uniform_against_simulation():
    rng = np.random.default_rng(1)
    gap = rng.uniform(0, 21, 500_000) - rng.uniform(2, 15, 500_000)
    found = chance_drawn((0, 21), (2, 15), -3.0, 8.0, shape="uniform")
    assert found.pair == pytest.approx(np.mean((gap >= -3) & (gap <= 8)), abs=0.003)


def test_answer_says_that_nothing_is_measured():
    text = str(chance_drawn((10.0, 10.2), (9.8, 10.0), 0.1, 0.3))
    assert "By the drawing alone" in text
    assert "No piece measured" in text


def test_answer_says_the_gap_limits_and_the_spread_it_is_for():
    drawing = (10.0, 10.2), (9.8, 10.0)
    assumed = chance_drawn(*drawing, 0.1, 0.3).said("mm")
    assert "its gap from 0.1 to 0.3 mm" in assumed
    assert "six standard deviations apart (common practice, no spread stated) on both sides" in assumed
    stated = chance_drawn(*drawing, 0.1, None, internal_sd=0.03, external_sd=0.04).said("mm")
    assert "its gap at least 0.1 mm" in stated
    assert "0.03 mm as stated on the internal side, standard deviation 0.04 mm as stated on" in stated
    assert "six" not in stated
    half = chance_drawn(*drawing, None, 0.3, external_sd=0.04).said("mm")
    assert "its gap at most 0.3 mm" in half
    assert "six standard deviations apart" in half and "0.04 mm as stated on the external side" in half
    assert "six" not in str(chance_drawn(*drawing, 0.1, 0.3, shape="uniform"))


def test_no_spread_is_no_certainty():
    sure = chance_drawn((10.0, 10.2), (9.8, 10.0), 0.1, 0.3, internal_sd=0.0, external_sd=0.0, pairs=4)
    assert (sure.pair, sure.all) == (1.0, 1.0)
    assert str(sure).count("over 99.9 %") == 2
    never = chance_drawn((10.0, 10.2), (9.8, 10.0), 0.5, 0.6, internal_sd=0.0, external_sd=0.0)
    assert "under 0.1 % chance" in str(never)


@pytest.mark.parametrize(
    ("internal", "options", "words"),
    [
        ((None, 1.0), {}, "both are needed"),
        ((2.0, 1.0), {}, "swap"),
        ((1.0, 2.0), {"pairs": 0}, "whole number of at least 1"),
        ((1.0, 2.0), {"internal_sd": -1.0}, "from zero up"),
    ],
)
def test_refusals_say_what_is_wanted(internal, options, words):
    with pytest.raises(TrackerError, match=words):
        chance_drawn(internal, (0.0, 1.0), 0, 1, **options)
