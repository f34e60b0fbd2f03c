"""Weighted averages and cumulative sums."""

import numpy as np
import pytest

from tracker.drift import cusum_chart, ewma_chart, individuals_chart
from tracker.errors import NotEnoughData, TrackerError

RNG = np.random.default_rng(41)


@pytest.fixture(autouse=True)
def same_draws():
    """Begin each test with the same draws, whichever ran before it."""
    RNG.bit_generator.state = np.random.default_rng(41).bit_generator.state


def test_weighted_average_by_its_definition():
    sizes = RNG.normal(3, 1, 25)
    chart = ewma_chart(sizes, centre=3.0, sd=1.0, weight=0.3)
    past = 3.0
    for size, point in zip(sizes, chart.points):
        past = 0.3 * size + 0.7 * past
        assert point == pytest.approx(past)


def test_start_up_limits_are_exact():
    # The sd of each average, from its weights.
    chart = ewma_chart(RNG.normal(0, 1, 8), centre=0.0, sd=2.0, weight=0.25, width=2.5)
    for i in range(8):
        weights = 0.25 * 0.75 ** np.arange(i + 1)
        assert chart.upper[i] == pytest.approx(2.5 * 2.0 * np.sqrt(np.sum(weights**2)))


def test_weight_one_is_the_chart_of_single_values():
    sizes = RNG.normal(0, 1, 12)
    one, other = ewma_chart(sizes, weight=1.0), individuals_chart(sizes)
    assert one.points == pytest.approx(other.points)
    assert one.upper == pytest.approx(other.upper)


def test_a_small_lasting_shift_is_seen_sooner():
    sizes = np.concatenate([np.zeros(10), np.full(30, 1.5)]) + RNG.normal(0, 0.3, 40)
    chart = ewma_chart(sizes, centre=0.0, sd=1.0)
    assert chart.signals[0].first < 25
    kept = ewma_chart(sizes, baseline=chart.baseline)
    assert kept.frozen
    assert kept.signals == chart.signals


def test_both_sums_and_the_change_point():
    sizes = np.concatenate([np.zeros(10), np.full(15, -2.0)])
    chart = cusum_chart(sizes, target=0.0, sd=1.0)
    (signal,) = chart.signals
    # Sums grow by 1.5 a piece from piece 11 on: over 5 at the fourth.
    assert (signal.first, signal.change_after) == (14, 10)
    assert signal.new_level == pytest.approx(-2.0)
    assert "after piece 10" in signal.words
    assert chart.companion.signals == chart.signals
    assert np.all(chart.points == 0)
    assert np.all(chart.companion.points <= 0)


def test_head_start_finds_a_bad_start_sooner():
    sizes = np.full(12, 1.2)
    plain, fast = cusum_chart(sizes, 0.0, 1.0), cusum_chart(sizes, 0.0, 1.0, head_start=2.5)
    assert fast.signals[0].first < plain.signals[0].first
    assert "from the start" in fast.signals[0].words


REFUSED = [
    (lambda: ewma_chart([1, 2], weight=0.0), "weight"),
    (lambda: ewma_chart([1, 2], width=-1), "width"),
    (lambda: ewma_chart([1, 2], sd=0.0), "above 0"),
    (lambda: cusum_chart([1, 2], 0, 0), "sd"),
    (lambda: cusum_chart([1, 2], 0, 1, decision=0), "decision"),
    (lambda: cusum_chart([1, 2], 0, 1, slack=-1), "slack"),
]


@pytest.mark.parametrize(("call", "names"), REFUSED, ids=[names for _, names in REFUSED])
def test_arguments_out_of_range(call, names):
    with pytest.raises(TrackerError, match=names):
        call()


def test_one_piece_gives_no_sd():
    with pytest.raises(NotEnoughData, match="no sd"):
        ewma_chart([1.0])
    assert ewma_chart([1.0], centre=0.0, sd=1.0).points[0] == pytest.approx(0.2)
