"""Average run lengths: Champ & Woodall (1987), Lucas & Crosier (1982), Lucas & Saccucci (1990) (from memory)."""

import pytest

from tracker.drift import cusum_run_length, ewma_run_length, false_alarms, shewhart_run_length

HANDBOOK = {
    "1": "one point beyond 3 sigma",
    "2": "two of three beyond 2 sigma on one side",
    "3": "four of five beyond 1 sigma on one side",
    "4": "eight in a row on one side",
}


def test_three_sigma_limits_alone(case):
    bank = case("arl-shewhart")
    for shift, length in zip(bank["inputs"]["shift_sigma"], bank["expected"]["ARL_all_computed"]):
        assert shewhart_run_length(shift) == pytest.approx(length, rel=1e-5)
        assert false_alarms([HANDBOOK["1"]], shift).run_length == pytest.approx(length, rel=1e-5)
    for shift, printed in bank["expected"]["ARL"].items():
        # 370.4 and the one-decimal entries are printed shorter than the others.
        half = 0.5 * 10 ** -len(str(printed).partition(".")[2]) + 1e-9
        assert shewhart_run_length(float(shift)) == pytest.approx(printed, abs=half)
    assert 1 / shewhart_run_length(0) == pytest.approx(bank["expected"]["false_alarm"], abs=5e-5)


@pytest.mark.parametrize("chosen", ["1", "12", "13", "14", "123", "124", "134", "1234"])
def test_handbook_signals_together(case, chosen):
    bank = case("arl-zone-rules-incontrol")
    found = false_alarms([HANDBOOK[key] for key in chosen]).run_length
    printed = bank["expected"]["ARL0"][chosen]
    half = 0.5 * 10 ** -len(str(printed).partition(".")[2]) + 1e-9
    assert found == pytest.approx(printed, abs=half)


@pytest.mark.parametrize("decision", [4, 5])
def test_cumulative_sums(case, decision):
    bank = case(f"arl-cusum-h{decision}")
    expected = bank["expected"]
    for shift, printed, computed in zip(bank["inputs"]["shift_sigma"], expected["ARL"], expected["ARL_computed"]):
        found = cusum_run_length(bank["inputs"]["k"], decision, shift)
        assert found == pytest.approx(computed, rel=1e-5)
        assert found == pytest.approx(printed, rel=bank["tolerance"]["rel"])


def test_cumulative_sums_with_a_head_start():
    # Lucas & Crosier (1982), h = 5, k = 0.5, head start 2.5 (from memory): 430 when steady, 6.35 at one sd.
    assert cusum_run_length(0.5, 5, 0.0, head_start=2.5) == pytest.approx(430, abs=0.5)
    assert cusum_run_length(0.5, 5, 1.0, head_start=2.5) == pytest.approx(6.35, abs=0.005)


@pytest.mark.parametrize("weight", ["0.25", "0.2", "0.05"])
def test_weighted_averages(case, weight):
    bank = case(f"arl-ewma-lam{weight}")
    inputs, expected, tolerance = bank["inputs"], bank["expected"], bank["tolerance"]
    for shift, printed, computed in zip(inputs["shift_sigma"], expected["ARL"], expected["ARL_computed"]):
        found = ewma_run_length(inputs["lam"], inputs["L"], shift)
        assert found == pytest.approx(computed, rel=1e-5)
        # The printed table was found by a coarser Markov chain: 48.2 at 0.25 and half an sd, exact 48.29.
        assert found == pytest.approx(printed, abs=tolerance["abs"], rel=tolerance["rel"])
