"""Conformance of single readings and guard bands."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tracker.errors import TrackerError
from tracker.gauge import chance_within, conformance, guard_band

DECISIONS = {
    "well inside": (10.010, "conforming"),
    "just proven": (10.000 + 1.6449 * 0.001, "conforming"),
    "just not proven": (10.000 + 1.6447 * 0.001, "not proven"),
    "on the limit": (10.000, "not proven"),
    "not yet bad": (10.000 - 1.6447 * 0.001, "not proven"),
    "proven bad": (10.000 - 1.6449 * 0.001, "non-conforming"),
}


@pytest.mark.parametrize("name", DECISIONS)
def test_decision_at_95_per_cent(name):
    measured, decision = DECISIONS[name]
    result = conformance(measured, 0.001, lower=10.0, upper=10.02)
    assert result.decision == decision
    assert result.chance_conforming + result.below_lower + result.above_upper == pytest.approx(1)


def test_what_is_known_of_the_process_pulls_towards_it():
    blind = conformance(10.0205, 0.001, lower=10.0, upper=10.02)
    informed = conformance(10.0205, 0.001, lower=10.0, upper=10.02, process_mean=10.01, process_sd=0.002)
    assert informed.chance_conforming > blind.chance_conforming
    # JCGM 106, 7.3 (from memory): posterior mean and sd of two normals.
    mean = (10.01 / 0.002**2 + 10.0205 / 0.001**2) / (1 / 0.002**2 + 1 / 0.001**2)
    sd = (1 / 0.002**2 + 1 / 0.001**2) ** -0.5
    assert informed.chance_conforming == pytest.approx(
        stats.norm.cdf(10.02, mean, sd) - stats.norm.cdf(10.0, mean, sd), rel=1e-9
    )


def test_few_degrees_of_freedom_prove_less():
    sure = conformance(10.002, 0.001, lower=10.0)
    unsure = conformance(10.002, 0.001, lower=10.0, dof=3)
    assert unsure.chance_conforming == pytest.approx(stats.t.cdf(2, 3), rel=1e-6)
    assert (sure.decision, unsure.decision) == ("conforming", "not proven")


def test_without_uncertainty_the_reading_decides():
    within, below, above = chance_within([9.9, 10.0, 10.1, 10.3], 0.0, 10.0, 10.2)
    assert within.tolist() == [0, 1, 1, 0]
    assert below.tolist() == [1, 0, 0, 0]
    assert above.tolist() == [0, 0, 0, 1]


def test_many_readings_at_once():
    within, _, _ = chance_within(np.linspace(9.9, 10.1, 5), [0.01, 0.02, 0.03, 0.02, 0.01], upper=10.0)
    for value, u, chance in zip(np.linspace(9.9, 10.1, 5), [0.01, 0.02, 0.03, 0.02, 0.01], within):
        assert chance == pytest.approx(stats.norm.cdf((10.0 - value) / u), abs=1e-12)


GUARDED = {9.985: "non-conforming", 9.995: "not proven", 10.005: "not proven", 10.015: "conforming"}


@pytest.mark.parametrize("measured", GUARDED)
@pytest.mark.parametrize("mirrored", [False, True], ids=["lower side", "upper side"])
def test_decision_by_guard_bands(measured, mirrored):
    # Limits 10.0 and 10.1, band 0.01: accept from 10.01 to 10.09, reject below 9.99 and above 10.11.
    value = 20.1 - measured if mirrored else measured
    result = conformance(value, 0.005, lower=10.0, upper=10.1, guard_factor=2.0)
    assert result.decision == GUARDED[measured]
    band = guard_band(10.0, 10.1, 0.01)
    assert (band.accept_lower, band.accept_upper) == pytest.approx((10.01, 10.09))
    assert (band.reject_below, band.reject_above) == pytest.approx((9.99, 10.11))


def test_guarded_limits_with_one_limit_and_with_no_room():
    upper = guard_band(None, 5.0, 0.1)
    assert (upper.accept_lower, upper.accept_upper, upper.reject_below, upper.reject_above) == (None, 4.9, None, 5.1)
    assert upper.share_lost is None
    assert str(upper) == "Accept up to 4.9, reject above 5.1."
    none = guard_band(1.0, 1.1, 0.06)
    assert not none.can_accept
    assert "Measure better" in str(none)
    assert str(guard_band(5.0, None, 0.1)).startswith("Accept from 5.1")


REFUSED = {
    "no limit": (lambda: conformance(1, 1), "open"),
    "swapped": (lambda: guard_band(2, 1, 0.1), "swapped"),
    "negative uncertainty": (lambda: conformance(1, -1, lower=0), "uncertainty"),
    "negative band": (lambda: guard_band(0, 1, -0.1), "0 or more"),
    "assurance": (lambda: conformance(1, 1, lower=0, assurance=0.4), "assurance"),
    "half a process": (lambda: conformance(1, 1, lower=0, process_mean=1), "together"),
    "process sd": (lambda: conformance(1, 1, lower=0, process_mean=1, process_sd=0), "above 0"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusals(name):
    call, words = REFUSED[name]
    with pytest.raises(TrackerError, match=words):
        call()


@given(st.floats(9, 11), st.floats(0.0001, 1), st.floats(0, 1))
def test_wider_limits_never_lower_the_chance(measured, u, wider):
    near = conformance(measured, u, lower=9.9, upper=10.1)
    far = conformance(measured, u, lower=9.9 - wider, upper=10.1 + wider)
    assert far.chance_conforming >= near.chance_conforming - 1e-12


@given(st.floats(9, 11), st.floats(0.001, 1))
def test_inch_and_millimetre_decide_alike(measured, u):
    inch = conformance(measured, u, lower=9.9, upper=10.1)
    metric = conformance(measured * 25.4, u * 25.4, lower=9.9 * 25.4, upper=10.1 * 25.4)
    assert metric.chance_conforming == pytest.approx(inch.chance_conforming, abs=1e-9)
