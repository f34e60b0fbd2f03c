"""Odd inputs to every public function of the numeric rooms: an answer without NaN, or a refusal in words."""

import json
import math
import re
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from tracker import decide, drift, fit, gauge, limits, spread
from tracker.errors import TrackerError
from tracker.fit.press_window import interference_window

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
    "next shift": lambda x: decide.next_shift(x, 2.0),
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


S = [0.2500, 0.2501, 0.2503, 0.2502, 0.2504, 0.2501]
T = [0.2505, 0.2507, 0.2506, 0.2508, 0.2505, 0.2506]
LIMITS = {"gap_lower": -0.0008, "gap_upper": -0.0002}
LINE = drift.wear_line([1.0, 1.2, 1.1, 1.4, 1.5, 1.7, 1.6], lower=0, upper=3)
SUMS = spread.grouped_sums(np.array(S), np.array([0, 0, 0, 1, 1, 1]))

# For every public function of the numeric rooms: what it takes as a number, or as numbers, each with a good value.
TAKES = {
    fit.pair: {"internal": S, "external": T, **LIMITS, "target": -0.0005, "uncertainty": 1e-5}
    | {"common_uncertainty": 1e-5},
    fit.chance_any: {"internal": S, "external": T, **LIMITS, "uncertainty": 1e-5, "common_uncertainty": 1e-5}
    | {"pairs": 3, "rng": 1},
    fit.best_target: {"mates": S, "sd": 1e-4, **LIMITS, "cost_tight": 1.0, "cost_loose": 2.0, "uncertainty": 1e-5}
    | {"common_uncertainty": 1e-5, "sd_pieces": 8},
    fit.unmade: {"mates": S, "target": 0.2506, **LIMITS, "sd": 1e-4, "uncertainty": 1e-5, "common_uncertainty": 1e-5}
    | {"assurance": 0.9},
    fit.classes: {"internal": S, "external": T, **LIMITS, "count": 2, "uncertainty": 1e-5, "common_uncertainty": 1e-5},
    fit.seat: {"fillet": 0.015, "relief": 0.01, "gap": 0.001, "angle": 45.0, "allowed": 0.001, "feeler": 0.002},
    fit.corner_seat: {"corner_radius": 0.015, "relief": 0.01, "gap": 0.001, "angle": 45.0, "allowed": 0.001}
    | {"feeler": 0.002},
    fit.press_fit: {"diameter": 50, "length": 40, "interference": 0.04, "inner": 10, "outer": 80, "friction": 0.12}
    | {"inner_modulus": 2e5, "outer_modulus": 2e5, "inner_poisson": 0.3, "outer_poisson": 0.3}
    | {"inner_expansion": 1.1e-5, "outer_expansion": 1.1e-5, "inner_yield": 400, "outer_yield": 400}
    | {"inner_rz": 0.002, "outer_rz": 0.002, "friction_holding": 0.1, "assembly_clearance": 0.05, "ambient": 20}
    | {"service_temperature": 60, "reserve": 1.5},
    interference_window: {"diameter": 50, "length": 40, "inner": 0, "outer": 80, "friction": 0.12, "hold": 20000}
    | {"torque": 10, "margin": 1.25, "inner_rz": 0.001, "outer_rz": 0.001},
    fit.closure: {"terms": [(1, S), (-1, T)], "lower": -0.001, "upper": 0.001, "uncertainty": 1e-5}
    | {"common_uncertainty": 1e-5, "rng": 3},
    fit.chance_drawn: {"internal": (0.25, 0.251), "external": (0.2505, 0.2512), **LIMITS, "internal_sd": 1e-4}
    | {"external_sd": 1e-4, "pairs": 3},
    decide.plan: {"internal": S[:3], "external": T[:3], **LIMITS, "wanted": 3, "target": -0.0005, "uncertainty": 1e-5}
    | {"common_uncertainty": 1e-5, "increment": 1e-4, "least_cut": 1e-4, "step": 1e-5, "assurance": 0.9}
    | {"most_risk": 0.5, "compare": False},
    decide.pieces_to_make: {"wanted": 3, "sizes": S, "lower": 0.24, "upper": 0.251, "shift": 1e-5, "assurance": 0.95},
    decide.bounded_adjustment: {"wander": 0.3, "band": 1.0, "sd": 1.0},
    decide.machine_offset: {"change": 0.001},
    decide.part_change: {"offset": 0.001},
    decide.verdict: {"internal": 8, "external": 8, "wanted": 8, "chance_all": 0.5, "pairs_good": 8}
    | {"chance_pairs": 0.5, "pairs_good_most": 8, "near": 1, "class_good": 7.0, "class_count": 3, "reworked": 0}
    | {"remade": 0, "chance_planned": 0.5, "assurance": 0.9, "gap_tolerance": 0.001, "gap_uncertainty": 1e-4}
    | {"gap_common": 0.0, "gap_operators": 1e-6, "worst_margin": 1e-4, "target": 0.25, "sort_from": 30},
    spread.summarize: {"sizes": S, "target": 0.25, "confidence": 0.9, "step": 1e-4},
    spread.capability: {"sizes": S, "lower": 0.24, "upper": 0.26, "target": 0.25, "subgroup": 2, "confidence": 0.9}
    | {"asked": 1.33, "step": 1e-4},
    spread.normality: {"sizes": S},
    spread.outliers: {"sizes": S, "significance": 0.05, "at_most": 1},
    spread.tolerance_factor: {"n": 8, "coverage": 0.9, "confidence": 0.9, "sides": 2},
    spread.tolerance_interval: {"sizes": S, "coverage": 0.9, "confidence": 0.9, "sides": 2},
    spread.predict: {"sizes": S, "lower": 0.24, "upper": 0.26, "pieces": 2, "confidence": 0.9}
    | {"common_uncertainty": 1e-5},
    spread.components: {"values": S, "confidence": 0.9, "fitted": 0, "piece": [1, 1, 2, 2, 3, 3]},
    spread.interval_fit: {"low": S, "high": T, "confidence": 0.9},
    spread.grouped_sums: {"values": np.array(S), "group": np.array([0, 0, 0, 1, 1, 1])},
    spread.batch_spreads: {"sums": SUMS, "confidence": 0.9},
    spread.batch_capabilities: {"sums": SUMS, "lower": 0.24, "upper": 0.26, "confidence": 0.9},
    drift.chart_constants: {"n": 5},
    drift.individuals_chart: {"sizes": S},
    drift.mean_range_chart: {"groups": [S, T]},
    drift.mean_sd_chart: {"groups": [S, T]},
    drift.ewma_chart: {"sizes": S, "centre": 0.25, "sd": 1e-4, "weight": 0.2, "width": 3.0},
    drift.cusum_chart: {"sizes": S, "target": 0.25, "sd": 1e-4, "slack": 0.5, "decision": 5.0, "head_start": 1.0},
    drift.deviation_chart: {"sizes": S, "nominal": T},
    drift.stability_chart: {"readings": S, "reference": 0.25, "sd": 1e-4},
    drift.standardised_chart: {"sizes": S, "nominal": T, "sd": [1e-4] * 6},
    drift.ewma_run_length: {"weight": 0.2, "width": 2.0, "shift": 1.0},
    drift.cusum_run_length: {"slack": 0.5, "decision": 4.0, "shift": 1.0, "head_start": 1.0},
    drift.shewhart_run_length: {"shift": 1.0, "width": 3.0},
    drift.false_alarms: {"shift": 1.0, "runs": 50},
    drift.find_signals: {"z": np.array([0.0, 1.0, 4.0, 1.0])},
    drift.watch_runs: {"sizes": S * 3},
    drift.wear_line: {"sizes": S, "order": [1, 2, 3, 4, 5, 6], "lower": 0.24, "upper": 0.26, "confidence": 0.9}
    | {"resolution": 1e-5},
    drift.worn_capability: {"line": LINE, "lower": 0.0, "upper": 3.0},
    gauge.bias_study: {"values": S, "reference": 0.25, "tolerance": 0.01, "confidence": 0.9, "share": 0.2}
    | {"sigmas": 6.0, "reference_uncertainty": 1e-5},
    gauge.chance_within: {"measured": 0.25, "uncertainty": 1e-4, "lower": 0.24, "upper": 0.26, "dof": 5},
    gauge.conformance: {"measured": 0.25, "uncertainty": 1e-4, "lower": 0.24, "upper": 0.26, "assurance": 0.9}
    | {"guard_factor": 1.6, "dof": 9.0, "process_mean": 0.25, "process_sd": 0.001},
    gauge.global_risk: {"process_mean": 0.25, "process_sd": 0.001, "uncertainty": 1e-4, "lower": 0.249}
    | {"upper": 0.251, "accept_lower": 0.249, "accept_upper": 0.251},
    gauge.guard_band: {"lower": 0.24, "upper": 0.26, "expanded_uncertainty": 1e-4},
    gauge.linearity_study: {"values": S, "reference": [1, 1, 2, 2, 3, 3], "tolerance": 0.1, "confidence": 0.9},
    gauge.repeatability_study: {"value": S * 2, "piece": [1, 1, 2, 2, 3, 3] * 2, "operator": [1] * 6 + [2] * 6}
    | {"tolerance": 0.01, "confidence": 0.9, "pool_above": 0.25},
    gauge.resolution_check: {"step": 1e-4, "tolerance": 0.01, "sd": 1e-3},
    gauge.half_width_row: {"name": "ruler", "half_width": 0.1, "estimate": 1.0, "sensitivity": 1.0},
    gauge.uncertainty_budget: {"rows": [(1.0, 0.1)], "confidence": 0.9, "coverage_factor": 2.0},
    limits.shop_hole: {"nominal": 0.25, "rule": "slip", "change": 0.001},
    limits.shop_interference: {"diameter": 0.25},
    limits.plating_allowance: {"thickness": 0.001, "plated_faces": 2},
    limits.tolerance_iso: {"grade": 7, "nominal": 25.0},
    limits.limits_iso: {"text": "H7", "nominal": 25.0},
    limits.fit_iso: {"text": "H7/p6", "nominal": 25.0},
    limits.limits_ansi: {"basic_size": 0.625, "fit_class": "FN2"},
}
# What is no number: labels, words, and results of other functions.
LABELS = {
    "compare",
    "subgroup",
    "count",
    "group",
    "piece",
    "operator",
    "rule",
    "name",
    "text",
    "fit_class",
    "grade",
    "sums",
    "line",
    "rows",
    "terms",
}
NEVER = {"a word": "x", "digits in quotes": "5", "complex": 1 + 2j, "a boolean": True, "an object": object()}
MUST_BE_REFUSED = {*NEVER, "complex numbers", "booleans", "words"}
ODD = NEVER | {"nothing": None, "not a number": math.nan, "infinite": math.inf, "minus infinity": -math.inf}
ODD |= {"far too large": 1e300, "negative": -1.0, "zero": 0, "a list": [1.0, 2.0], "no list": [], "a table": [[1.0]]}
ODD |= {"a mapping": {}, "half": 0.5, "a million": 1e6, "tiny": 1e-300}


def odd_for(value):
    """Return odd values in place of a good one: each in it, and in place of it all."""
    if isinstance(value, int | float):
        return ODD | {"a generator": (x for x in [1.0])}
    each = {f"{what} in it": [*value[:2], one, *value[3:]] for what, one in ODD.items()}
    each |= {f"{what} in front": [one, *value[1:]] for what, one in ODD.items()}
    masked = np.ma.masked_array(value, mask=np.arange(np.size(value)).reshape(np.shape(value)) == 0)
    whole = {
        "masked": masked,
        "complex numbers": np.array(value) * (1 + 1j),
        "booleans": np.ones(np.shape(value), bool),
    }
    whole |= {"words": np.array(value).astype(str), "a generator": (x for x in value), "a set": {1.0, 2.0}}
    return each | whole | {what: ODD[what] for what in ("nothing", "a word", "a boolean", "a mapping", "no list")}


def is_whole(found):
    """Tell whether an answer holds no NaN, in its figures or in its words."""
    if hasattr(found, "to_dict"):
        json.dumps(found.to_dict())
        return re.search(r"\bnan\b", str(found).lower()) is None
    if isinstance(found, tuple):
        return all(map(is_whole, found))
    return not np.isnan(np.asarray(found, dtype=float)).any()


@pytest.mark.parametrize("function", TAKES, ids=lambda function: function.__name__)
def test_odd_numbers_are_refused_in_words_or_answered_without_nan(function):
    good = TAKES[function]
    assert is_whole(function(**good))
    faults = []
    for name, value in good.items():
        for what, odd in {} if name in LABELS else odd_for(value).items():
            try:
                found = function(**{**good, name: odd})
            except TrackerError as refused:
                if len(str(refused)) < 20:
                    faults.append(f"{name}, {what}: refused with {str(refused)!r}")
            except Exception as fault:  # noqa: BLE001 - a bare fault of Python is what must not come out
                faults.append(f"{name}, {what}: {type(fault).__name__}: {fault}")
            else:
                if what.removesuffix(" in it").removesuffix(" in front") in MUST_BE_REFUSED:
                    faults.append(f"{name}, {what}: accepted")
                elif not is_whole(found):
                    faults.append(f"{name}, {what}: an answer with NaN")
    assert not faults, "\n".join(faults)


def test_every_public_function_that_takes_numbers_is_tried():
    """What stands in another table, takes results and labels alone, or arrays that another function has checked."""
    elsewhere = {
        "class_shares",
        "expected_matches",
        "matched_fraction",
        "convention",
        "economic_aim",
        "next_shift",
        "prices",
    }
    elsewhere |= {"sizes", "size_limits", "piece_sizes", "operator_spread", "merge_sums", "pool_sums"}
    elsewhere |= {"signal_chance", "wear_chart", "go_no_go_study", "result_correlation"}
    elsewhere |= {"clearance_hole", "dowel_fit", "dowel_pin"}
    public = {
        name for room in (fit, decide, spread, drift, gauge, limits) for name in room.__all__ if name[0].islower()
    }
    assert public - elsewhere == {function.__name__ for function in TAKES} - {"interference_window"}


MORE = {
    "no coefficient": lambda: fit.closure([(None, [1, 2])], 0, 2),
    "sizes so large that squares overflow": lambda: fit.chance_any([1e200, 2e200, 3e200], [1e199, 1e200, 2e200], 0, 1),
    "sizes so small that squares are lost": lambda: fit.chance_any([1e-150, 2e-150], [1e-150, 3e-150], 0, 1e-150),
    "more assemblies than anyone makes": lambda: decide.verdict(internal=8, external=8, wanted=1e12),
    "costs are words": lambda: decide.plan(S, T, -0.0008, -0.0002, {"press": "x"}),
    "costs are a number": lambda: decide.plan(S, T, -0.0008, -0.0002, 5),
    "spreads are a number": lambda: decide.plan(S, T, -0.0008, -0.0002, rework_sd=5),
    "a spread is a word": lambda: decide.plan(S, T, -0.0008, -0.0002, make_sd={"external": "x"}),
    "a chance is a word": lambda: decide.pieces_to_make(3, "0.9"),
    "a chance is NaN": lambda: decide.pieces_to_make(3, math.nan),
    "a whole table is complex": lambda: fit.pair(np.ones((2, 2)) * 1j, np.ones((2, 2)), 0, 1),
    "a table of uncertainties is a word": lambda: fit.pair(np.ones((2, 2)), np.ones((2, 2)), 0, 1, uncertainty="x"),
}


@pytest.mark.parametrize("name", MORE)
def test_more_of_the_odd_is_refused_in_words(name):
    with pytest.raises(TrackerError) as refused:
        MORE[name]()
    assert len(str(refused.value)) > 20


def test_an_uncertainty_of_none_is_one_that_nobody_stated():
    for function in (fit.pair, fit.chance_any):
        plain = function(S, T, -0.0008, -0.0002)
        assert str(function(S, T, -0.0008, -0.0002, None, common_uncertainty=None)) == str(plain)
    assert fit.best_target(S, 1e-4, -0.0008, -0.0002, uncertainty=None, common_uncertainty=None).n_mates == 6


def test_a_masked_size_is_a_missing_one():
    masked = np.ma.masked_array(S, mask=[False, True, False, False, False, False])
    for function in (fit.pair, fit.chance_any):
        with pytest.raises(TrackerError, match="piece at index 1 has the size nan"):
            function(masked, T, -0.0008, -0.0002)
    with pytest.raises(TrackerError, match="size 2 of 6 is nan"):
        spread.summarize(masked)
    nothing_masked = np.ma.masked_array(S, mask=False)
    assert fit.pair(nothing_masked, T, -0.0008, -0.0002).good == fit.pair(S, T, -0.0008, -0.0002).good


def test_numbers_of_every_kind_are_numbers():
    kinds = [int, np.int64, np.float32, np.float64, Fraction, Decimal]
    found = {str(spread.summarize([kind(1), kind(2), kind(4)])) for kind in kinds}
    assert len(found) == 1
    assert fit.seat(Fraction(1, 64), 0).stand_off == 1 / 64
