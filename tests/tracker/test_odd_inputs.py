"""Odd inputs to every function of spread, drift and gauge: an answer without NaN, or a refusal in words."""

import json
import math

import numpy as np
import pytest

from tracker import drift, gauge, spread
from tracker.errors import TrackerError

RNG = np.random.default_rng(0)
NO_NUMBERS = {
    "text": ["a", "b", "c"],
    "a word among numbers": [1, "x", 3],
    "nothing": None,
    "not a number": [1, 2, math.nan, 3],
    "infinite": [1, 2, math.inf, 3],
    "missing": [1, None, 3.0, 4],
    "objects": [{}, 1, 2],
    "complex": [1 + 2j, 2, 3],
    "beyond any length": [1e300, 2e300, 1.5e300],
    "two dimensions": [[1, 2], [3, 4, 5]],
}
NUMBERS = {
    "none": [],
    "one": [5.0],
    "two": [1.0, 2.0],
    "two the same": [1.0, 1.0],
    "three": [1, 2, 4.0],
    "all the same": [0.625] * 8,
    "a hair apart": (0.625 + 1e-7 * RNG.normal(size=8)).tolist(),
    "the last bits differ": (0.625 + 2.0**-50 * RNG.integers(0, 3, 8)).tolist(),
    "far from zero": (1e6 + 1e-3 * RNG.normal(size=8)).tolist(),
    "very far from zero": (1e12 + RNG.normal(size=8)).tolist(),
    "one differs": [1.0] * 7 + [2.0],
    "one far off": [0.0] * 19 + [1e9],
    "numbers as text": ["1", "2", "3.5", "4"],
    "very small": [1e-300, 2e-300, 3e-300, 4e-300],
    "negative": [-5, -4, -4.5, -6.0, -5.5],
}


def count(x):
    return 1 if x is None else len(x)


def halves(x):
    return np.arange(count(x)) // 2


def quarters(x):
    return np.arange(count(x)) // 4


def twos(x):
    return np.arange(count(x)) % 2


CALLS = {
    "summarize": spread.summarize,
    "summarize, a step": lambda x: spread.summarize(x, target=1.0, step=0.5),
    "capability": lambda x: spread.capability(x, 0, 10),
    "capability, lower limit": lambda x: spread.capability(x, lower=0.5),
    "capability, upper limit": lambda x: spread.capability(x, upper=4),
    "capability, target outside": lambda x: spread.capability(x, 0, 10, target=55.0),
    "capability, limits far off": lambda x: spread.capability(x, 1e5, 1e5 + 1),
    "capability, narrow limits": lambda x: spread.capability(x, 0.6249, 0.6251),
    "capability, subgroups": lambda x: spread.capability(x, 0, 10, subgroup=2),
    "capability, mean range": lambda x: spread.capability(x, 0, 10, subgroup=3, within="mean_range"),
    "capability, weibull": lambda x: spread.capability(x, None, 10, distribution="weibull"),
    "capability, lognormal": lambda x: spread.capability(x, 0, 10, distribution="lognormal"),
    "capability, rayleigh": lambda x: spread.capability(x, 0, 10, distribution="rayleigh"),
    "capability, folded normal": lambda x: spread.capability(x, -1, 10, distribution="folded_normal"),
    "normality": spread.normality,
    "outliers": spread.outliers,
    "tolerance interval": spread.tolerance_interval,
    "tolerance interval, one side": lambda x: spread.tolerance_interval(x, sides=1),
    "distribution-free": lambda x: spread.tolerance_interval(x, 0.5, 0.5, method="distribution_free"),
    "predict": lambda x: spread.predict(x, 0, 3),
    "predict three": lambda x: spread.predict(x, 0, 3, pieces=3),
    "components": lambda x: spread.components(x, halves(x)),
    "components, positions": lambda x: spread.components(x, quarters(x), halves(x)),
    "individuals": drift.individuals_chart,
    "mean and range": lambda x: drift.mean_range_chart([x, x]),
    "mean and sd": lambda x: drift.mean_sd_chart([x, x]),
    "weighted averages": drift.ewma_chart,
    "cumulative sums": lambda x: drift.cusum_chart(x, 0, 1),
    "deviations": lambda x: drift.deviation_chart(x, [1.0] * count(x)),
    "stability": lambda x: drift.stability_chart(x, 1.0),
    "wear": lambda x: drift.wear_line(x, lower=0, upper=10),
    "wear, an event": lambda x: drift.wear_line(x, events=[(2, "dressing")], upper=10),
    "wear, capability": lambda x: drift.worn_capability(drift.wear_line(x, lower=0, upper=10)),
    "wear, chart": lambda x: drift.wear_chart(drift.wear_line(x)),
    "study, one operator": lambda x: gauge.repeatability_study(x, halves(x), ["A"] * count(x)),
    "study": lambda x: gauge.repeatability_study(x, quarters(x), twos(x), tolerance=1.0),
    "study by ranges": lambda x: gauge.repeatability_study(x, quarters(x), halves(x) % 2, method="range"),
    "study by likelihood": lambda x: gauge.repeatability_study(x, np.arange(count(x)) // 3, twos(x), method="reml"),
    "bias": lambda x: gauge.bias_study(x, 1.0, 2.0),
    "linearity": lambda x: gauge.linearity_study(x, halves(x)),
    "interval fit": lambda x: spread.interval_fit(x, x),
}
OPEN_SIDES = {"nothing", "missing", "not a number"}  # of bounds, where they mean an open side


@pytest.mark.parametrize("name", CALLS)
def test_what_is_no_size_is_refused_in_words(name):
    for what, values in NO_NUMBERS.items():
        if name == "interval fit" and what in OPEN_SIDES:
            continue
        with pytest.raises(TrackerError) as refused:
            CALLS[name](values)
        assert len(str(refused.value)) > 20, what


@pytest.mark.parametrize("name", CALLS)
def test_awkward_sizes_give_an_answer_or_a_reason_and_never_nan(name):
    for what, values in NUMBERS.items():
        try:
            found = CALLS[name](values)
        except TrackerError as refused:
            assert len(str(refused)) > 20, what
        else:
            # to_dict raises where a field is NaN.
            json.dumps(found.to_dict())
            assert "nan" not in str(found).lower(), what


ODD_ARGUMENTS = {
    "limits are words": lambda: spread.capability([1, 2, 3.0], "a", "b"),
    "a limit is NaN": lambda: spread.capability([1, 2, 3.0], math.nan, 3),
    "limits meet": lambda: spread.capability([1, 2, 3.0], 1, 1),
    "no limits": lambda: spread.capability([1, 2, 3.0]),
    "a piece nowhere": lambda: spread.interval_fit([1, math.inf], [2, math.inf]),
    "measured is NaN": lambda: gauge.conformance(math.nan, 0.1, 0, 1),
    "measured is a word": lambda: gauge.conformance("x", 0.1, 0, 1),
    "uncertainty is infinite": lambda: gauge.conformance(1.0, math.inf, 0, 1),
    "reference is NaN": lambda: gauge.bias_study([1, 2, 3.0], math.nan, 1.0),
    "process mean is NaN": lambda: gauge.global_risk(math.nan, 1.0, 0.1, 0, 1),
    "target is NaN": lambda: drift.cusum_chart([1, 2, 3.0], math.nan, 1.0),
    "centre is NaN": lambda: drift.ewma_chart([1, 2, 3.0], math.nan, 1.0),
    "budget of one number": lambda: gauge.uncertainty_budget(0.1),
    "budget rows are numbers": lambda: gauge.uncertainty_budget([0.1, 0.2]),
    "budget row of words": lambda: gauge.uncertainty_budget([("a", "b")]),
}


@pytest.mark.parametrize("name", ODD_ARGUMENTS)
def test_odd_arguments_are_refused_in_words(name):
    with pytest.raises(TrackerError) as refused:
        ODD_ARGUMENTS[name]()
    assert len(str(refused.value)) > 20


@pytest.mark.parametrize(("offset", "scale"), [(0.625, 1e-7), (1e6, 1e-3), (0.0, 1e-9)])
def test_far_from_zero_the_answers_are_those_near_it(offset, scale):
    near = np.round(np.random.default_rng(5).normal(0.0, 1.0, 12), 3)
    far = offset + scale * near
    # What the offset itself rounds off, in sd.
    loss = np.spacing(offset) / scale + 1e-12
    one, two = spread.capability(near, -4, 4), spread.capability(far, offset - 4 * scale, offset + 4 * scale)
    assert two.ppk.estimate == pytest.approx(one.ppk.estimate, rel=20 * loss)
    assert two.cpk.low == pytest.approx(one.cpk.low, rel=50 * loss)
    line, other = drift.wear_line(near), drift.wear_line(far)
    assert other.p_value == pytest.approx(line.p_value, rel=50 * loss)
    piece = np.repeat(np.arange(6), 2)
    shares = [spread.components(values, piece).ratio.high for values in (near, far)]
    assert shares[1] == pytest.approx(shares[0], rel=100 * loss)
