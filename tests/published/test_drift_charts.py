"""Worked charts: NIST/SEMATECH e-Handbook 6.3.2 and Montgomery, *Introduction to SQC* (recalled, then recomputed)."""

import numpy as np
import pytest

from tracker.drift import chart_constants, cusum_chart, ewma_chart, individuals_chart


@pytest.mark.parametrize("identity", ["imr-nist-6322", "imr-montgomery-loan", "imr-montgomery-paint"])
def test_individuals(case, identity):
    bank = case(identity)
    expected, tol = bank["expected"], bank["tolerance"]["abs"]
    chart = individuals_chart(bank["inputs"]["x"])
    assert chart.centre[0] == pytest.approx(expected["mean"], abs=tol)
    assert np.mean(chart.companion.points) == pytest.approx(expected["mr_bar"], abs=tol)
    # The printed limits use d2 = 1.128; ours are exact (1.12838), so the width is brought to the printed constant.
    to_printed = chart_constants(2).d2 / bank["inputs"]["d2"]
    half = (chart.upper[0] - chart.centre[0]) * to_printed
    assert chart.centre[0] + half == pytest.approx(expected["UCL"], abs=tol)
    assert chart.centre[0] - half == pytest.approx(expected["LCL"], abs=tol)
    if "MR_UCL" in expected:
        # Printed with D4 = 3.267; exact 3.26653.
        assert chart.companion.upper[0] == pytest.approx(expected["MR_UCL"], abs=tol)
    beyond = [signal for signal in chart.signals if signal.name == "one point beyond 3 sigma"]
    assert len(beyond) == len(expected.get("out_of_control_points", []))


def test_exact_limits_of_the_handbook_example(case):
    # The bank's note: with exact d2 = 1.1283792 the upper limit is 55.8024.
    chart = individuals_chart(case("imr-nist-6322")["inputs"]["x"])
    assert chart.upper[0] == pytest.approx(55.8024, abs=5e-5)


def test_cusum_of_the_handbook(case):
    bank = case("cusum-nist-6323")
    inputs, expected, tol = bank["inputs"], bank["expected"], bank["tolerance"]["abs"]
    chart = cusum_chart(inputs["x"], inputs["target"], 1.0, slack=inputs["k_abs"], decision=inputs["h_abs"])
    assert chart.points == pytest.approx(expected["Sh"], abs=tol)
    assert -chart.companion.points == pytest.approx(expected["Sl"], abs=tol)
    assert chart.signals[0].first == expected["first_signal_index"]


def test_weighted_averages_of_the_handbook():
    # NIST/SEMATECH e-Handbook 6.3.2.4 (from memory): averages to two decimals, final limits 52.5884 and 47.4115.
    sizes = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5]
    sizes += [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    printed = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33]
    printed += [50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]
    chart = ewma_chart(sizes, centre=50.0, sd=2.0539, weight=0.3)
    assert chart.points == pytest.approx(printed, abs=0.0051)
    # Ours start narrower and have come within 1e-6 of the handbook's constant limits by the twentieth point.
    assert chart.upper[-1] == pytest.approx(52.5884, abs=6e-5)
    # 47.41157, printed cut, not rounded.
    assert chart.lower[-1] == pytest.approx(47.4115, abs=1.0e-4)
    assert not chart.signals


def test_start_up_limits_of_montgomery(case):
    # Montgomery, EWMA example on the data of his CUSUM example, weight 0.1, width 2.7 (from memory).
    chart = ewma_chart(case("cusum-montgomery")["inputs"]["x"], centre=10.0, sd=1.0, weight=0.1, width=2.7)
    assert chart.points[:2] == pytest.approx([9.945, 9.7495], abs=5e-5)
    assert (chart.lower[0], chart.upper[0]) == pytest.approx((9.73, 10.27), abs=5e-3)
    assert (chart.lower[-1], chart.upper[-1]) == pytest.approx((9.38, 10.62), abs=5e-3)


def test_cusum_of_montgomery(case):
    bank = case("cusum-montgomery")
    inputs, expected, tol = bank["inputs"], bank["expected"], bank["tolerance"]["abs"]
    chart = cusum_chart(inputs["x"], inputs["target"], inputs["sigma"], inputs["k"], inputs["h"])
    assert chart.points[27] == pytest.approx(expected["C_plus_28"], abs=tol)
    assert chart.points[28] == pytest.approx(expected["C_plus_29"], abs=tol)
    (signal,) = chart.signals
    assert signal.first == expected["first_signal_index"]
    assert signal.change_after == expected["last_in_control_index"]
    assert signal.first - signal.change_after == expected["N_plus_29"]
    assert signal.new_level == pytest.approx(expected["new_mean_estimate"], abs=tol)
