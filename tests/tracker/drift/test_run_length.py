"""Run lengths: exact ones against simulation of the very signals that are reported."""

import numpy as np
import pytest

from tracker.drift import (
    ALL_SIGNALS,
    HANDBOOK_SIGNALS,
    cusum_chart,
    cusum_run_length,
    false_alarms,
)
from tracker.drift.run_length import ZONED, simulated_lengths
from tracker.errors import OutsideModel, TrackerError


@pytest.mark.parametrize(("names", "shift"), [(HANDBOOK_SIGNALS, 0.0), (ZONED, 0.0), (HANDBOOK_SIGNALS, 0.8)])
def test_the_chain_agrees_with_the_signals_as_found(names, shift):
    exact = false_alarms(names, shift).run_length
    lengths = simulated_lengths(tuple(names), shift, np.random.default_rng(51), 3000)
    error = lengths.std() / np.sqrt(lengths.size)
    assert exact == pytest.approx(lengths.mean(), abs=4 * error)


def test_more_signals_more_false_alarms():
    few, many = false_alarms(HANDBOOK_SIGNALS), false_alarms(ZONED)
    assert many.run_length < few.run_length < 370.4
    assert set(few.alone) == set(HANDBOOK_SIGNALS)
    assert "false signal" in str(few)


def test_rising_and_alternating_need_a_generator():
    with pytest.raises(OutsideModel, match="rng"):
        false_alarms(ALL_SIGNALS)
    found = false_alarms(ALL_SIGNALS, rng=np.random.default_rng(52), runs=1500)
    again = false_alarms(ALL_SIGNALS, rng=np.random.default_rng(52), runs=1500)
    assert found == again
    assert found.run_length.high < false_alarms(ZONED).run_length
    assert found.n == 1500


def test_no_signal_is_refused():
    with pytest.raises(TrackerError, match="no signal"):
        false_alarms(())


def test_cumulative_sum_against_simulation():
    rng = np.random.default_rng(53)
    lengths = []
    for _ in range(600):
        chart = cusum_chart(rng.normal(1.0, 1.0, 200), 0.0, 1.0)
        lengths.append(chart.signals[0].first)
    error = np.std(lengths) / np.sqrt(len(lengths))
    assert cusum_run_length(0.5, 5.0, 1.0) == pytest.approx(np.mean(lengths), abs=4 * error)
