"""Bias and linearity on masters, against scipy and statsmodels."""

import math

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from tracker.errors import NotEnoughData, TrackerError
from tracker.gauge import bias_study, linearity_study

READINGS = np.array([6.0013, 6.0009, 6.0011, 6.0010, 6.0014, 6.0008, 6.0012, 6.0010])


def test_bias_is_a_one_sample_t_test():
    study = bias_study(READINGS, 6.0, tolerance=0.020)
    known = stats.ttest_1samp(READINGS, 6.0)
    assert study.p_value == pytest.approx(known.pvalue, rel=1e-6)
    ends = known.confidence_interval()
    assert (study.bias.low, study.bias.high) == pytest.approx((ends.low - 6.0, ends.high - 6.0), rel=1e-6)
    sd = READINGS.std(ddof=1)
    assert study.cg.estimate == pytest.approx(0.2 * 0.020 / (6 * sd))
    assert study.cgk.estimate == pytest.approx((0.1 * 0.020 - (READINGS.mean() - 6)) / (3 * sd))
    assert study.cgk.low < study.cgk.estimate < study.cgk.high
    assert study.biased


def test_share_and_width_are_stated_and_used():
    study = bias_study(READINGS, 6.0, tolerance=0.020, share=0.15, sigmas=4)
    assert study.cg.estimate == pytest.approx(0.15 * 0.020 / (4 * READINGS.std(ddof=1)))
    assert "15 % of the tolerance over 4 sd" in str(study)


def test_an_uncertain_master_widens_the_interval():
    plain, unsure = bias_study(READINGS, 6.0), bias_study(READINGS, 6.0, reference_uncertainty=0.001)
    assert unsure.bias.high - unsure.bias.low > 5 * (plain.bias.high - plain.bias.low)
    assert unsure.bias.high == pytest.approx(unsure.bias.estimate + 1.96 * math.hypot(0.001, 0.00007), rel=0.01)
    assert not unsure.biased


def test_equal_readings_and_a_missing_tolerance_have_reasons():
    same = bias_study([6.0, 6.0, 6.0], 6.0, tolerance=0.02)
    assert same.cg is None
    assert "step of the gauge" in same.reason
    assert same.p_value == 1.0
    assert "No tolerance" in bias_study(READINGS, 6.0).reason
    same.to_dict()


def test_linearity_is_a_line_of_bias_over_size():
    rng = np.random.default_rng(81)
    reference = np.repeat([2.0, 4.0, 6.0, 8.0, 10.0], 6)
    values = reference + 0.7 - 0.13 * reference + rng.normal(0, 0.2, 30)
    study = linearity_study(values, reference, tolerance=5.0)
    known = sm.OLS(values - reference, sm.add_constant(reference)).fit()
    assert study.slope.estimate == pytest.approx(known.params[1], rel=1e-9)
    assert (study.slope.low, study.slope.high) == pytest.approx(tuple(known.conf_int()[1]), rel=1e-9)
    assert (study.intercept.low, study.intercept.high) == pytest.approx(tuple(known.conf_int()[0]), rel=1e-9)
    assert study.slope_p == pytest.approx(known.pvalues[1], rel=1e-6)
    assert study.sd == pytest.approx(math.sqrt(known.mse_resid))
    assert study.linearity == pytest.approx(known.params[1] * 8)
    assert study.share_of_tolerance == pytest.approx(abs(known.params[1]) * 8 / 5)
    # Lack of fit: against the model with a mean for each master.
    full = sm.OLS(values - reference, (reference[:, None] == np.unique(reference)).astype(float)).fit()
    assert study.curved_p == pytest.approx(full.compare_f_test(known)[1], rel=1e-6)
    first = stats.ttest_1samp((values - reference)[:6], 0)
    assert study.masters[0].p_value == pytest.approx(first.pvalue, rel=1e-6)


def test_a_bent_gauge_is_called_bent():
    reference = np.repeat([1.0, 2.0, 3.0, 4.0], 3)
    noise = np.tile([-0.01, 0.0, 0.01], 4)
    study = linearity_study(reference + 0.3 * (reference - 2.5) ** 2 + noise, reference)
    assert study.curved_p < 1e-6
    assert "master by master" in str(study)


def test_single_readings_of_masters_leave_open_what_they_cannot_say():
    study = linearity_study([1.0, 2.1, 2.9], [1.0, 2.0, 3.0])
    assert study.curved_p is None
    assert study.masters[0].p_value is None
    assert study.to_dict()["masters"][0]["bias"]["low"] is None


REFUSED = {
    "one reading": (lambda: bias_study([1.0], 1.0), NotEnoughData, "bias study"),
    "tolerance": (lambda: bias_study(READINGS, 6, tolerance=0), TrackerError, "tolerance"),
    "uncertainty": (lambda: bias_study(READINGS, 6, reference_uncertainty=-1), TrackerError, "0 or more"),
    "one master": (lambda: linearity_study([1, 2, 3], [1, 1, 1]), NotEnoughData, "two or more"),
    "lengths": (lambda: linearity_study([1, 2, 3], [1, 2, 3, 4]), TrackerError, "4 references"),
    "width": (lambda: linearity_study([1, 2, 3], [1, 2, 3], tolerance=-1), TrackerError, "tolerance"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusals(name):
    call, error, words = REFUSED[name]
    with pytest.raises(error, match=words):
        call()
