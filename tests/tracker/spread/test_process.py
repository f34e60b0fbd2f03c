"""Capability: invariants, awkward batches, subgroups, families."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.errors import NotEnoughData, TrackerError
from tracker.spread import capability, interval_fit, summarize

INDICES = ("cp", "cpk", "pp", "ppk", "cpm")
SIZES = np.array([10.02, 10.05, 9.98, 10.01, 10.03, 10.00, 10.04, 9.97])


def ends(found, name):
    item = getattr(found, name)
    return [item.low, item.estimate, item.high]


@given(
    st.lists(st.integers(-400, 400).map(lambda v: v / 64), min_size=3, max_size=12).filter(lambda v: len(set(v)) > 2),
    st.integers(-16, 16),
    st.integers(-6, 6),
)
@settings(max_examples=20, deadline=None)
def test_place_unit_and_mirror_do_not_matter(batch, shift, power):
    batch = np.array(batch)
    base = capability(batch, -8.0, 9.0, target=1.0, distribution="normal")
    scale = 2.0**power
    for found in (
        capability(batch + shift, -8.0 + shift, 9.0 + shift, target=1.0 + shift, distribution="normal"),
        capability(batch * scale, -8.0 * scale, 9.0 * scale, target=scale, distribution="normal"),
        capability(-batch, -9.0, 8.0, target=-1.0, distribution="normal"),
    ):
        for name in INDICES:
            if getattr(base, name) is not None:
                assert ends(found, name) == pytest.approx(ends(base, name), rel=1e-6, abs=1e-7), name
        assert ends(found, "beyond") == pytest.approx(ends(base, "beyond"), rel=1e-4, abs=1e-9)
        assert found.pieces_needed == base.pieces_needed


def test_overall_indices_do_not_depend_on_order():
    mixed = np.random.default_rng(1).permutation(SIZES)
    one, other = (capability(s, 9.9, 10.1, distribution="normal") for s in (SIZES, mixed))
    for name in ("pp", "ppk", "cpm", "beyond"):
        assert ends(one, name) == pytest.approx(ends(other, name))


@pytest.mark.parametrize(("lower", "upper"), [(9.9, None), (None, 10.1), (9.9, 10.1)])
def test_estimates_by_hand_and_reasons(lower, upper):
    found = capability(SIZES, lower, upper, distribution="normal")
    mean, sd = SIZES.mean(), SIZES.std(ddof=1)
    sides = [(mean - lower) / (3 * sd)] if lower is not None else []
    sides += [(upper - mean) / (3 * sd)] if upper is not None else []
    assert found.ppk.estimate == pytest.approx(min(sides))
    assert found.ppk.low < found.ppk.estimate < found.ppk.high
    if lower is None or upper is None:
        assert found.pp is None
        assert found.cpm is None
        assert "both limits" in found.reasons["pp"]
        assert "both limits" in found.reasons["cp"]
    else:
        assert found.reasons.keys() <= {"pieces_needed"}
    found.to_dict()


def test_wider_limits_never_lower_an_index():
    widths = np.linspace(0.05, 0.4, 12)
    found = [capability(SIZES, 10.0 - w, 10.0 + w, distribution="normal") for w in widths]
    for name in ("ppk", "cpk", "pp"):
        for end in ("low", "estimate", "high"):
            assert np.all(np.diff([getattr(getattr(f, name), end) for f in found]) > 0), (name, end)
    assert np.all(np.diff([f.beyond.high for f in found]) < 0)


def test_two_pieces():
    found = capability([10.0, 10.1], 9.0, 11.0)
    assert found.ppk.low < 0.6
    assert found.ppk.high > 10
    assert "2 pieces cannot tell" in found.remark


def test_remark_says_how_many_would_show_it():
    found = capability(SIZES, 9.86, 10.17, asked=1.33, distribution="normal")
    assert found.ppk.low < 1.33 < found.ppk.estimate
    assert f"{found.pieces_needed} with this mean and spread would show it" in str(found)
    poor = capability(SIZES, 9.99, 10.03, distribution="normal")
    assert poor.pieces_needed is None
    assert "more pieces alone" in poor.reasons["pieces_needed"]
    assert "enough to say that 1.33 is not reached" in poor.remark


def test_remark_says_how_many_would_show_that_it_is_not_reached():
    found = capability([0.9, 1.0, 1.1, 1.02, 0.97], upper=1.25, distribution="normal")
    index = found.ppk.estimate
    assert index < 1.33 < found.ppk.high
    said = int(found.remark.split("; ")[1].split()[0])
    # The chance of an index this low, were it truly 1.33, by the noncentral t of scipy.
    low = [stats.nct.cdf(3 * index * math.sqrt(n), n - 1, 3 * 1.33 * math.sqrt(n)) for n in (said, said - 1)]
    assert low[0] <= 0.05 < low[1]
    assert "would show that it is not" in found.remark


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"lower": 11.0, "upper": 9.0}, "swapped"),
        ({"lower": None, "upper": None}, "at least one limit"),
        ({"lower": 9.0, "upper": 11.0, "subgroup": 3, "within": "moving_range"}, "single pieces"),
        ({"lower": 9.0, "upper": 11.0, "within": "pooled_sd"}, "needs subgroups"),
        ({"lower": 9.0, "upper": 11.0, "within": "guess"}, "accepted"),
        ({"lower": 9.0, "upper": 11.0, "subgroup": [1, 2]}, "2 subgroup labels for 8 pieces"),
        ({"lower": 9.0, "upper": 11.0, "subgroup": 1}, "at least 2"),
        ({"lower": 9.0, "upper": 11.0, "subgroup": 3, "within": "mean_range"}, "equal size"),
        ({"lower": 9.0, "upper": 11.0, "distribution": "cauchy"}, "accepted"),
        ({"lower": 9.0, "upper": 11.0, "asked": 0}, "above 0"),
    ],
)
def test_messages(arguments, message):
    with pytest.raises(TrackerError, match=message):
        capability(SIZES, **arguments)


def test_subgroup_labels_are_the_same_as_their_size():
    one = capability(SIZES, 9.9, 10.1, subgroup=2, distribution="normal")
    other = capability(SIZES, 9.9, 10.1, subgroup=list("aabbccdd"), distribution="normal")
    assert ends(one, "cpk") == ends(other, "cpk")
    with pytest.raises(NotEnoughData, match="every subgroup holds one piece"):
        capability(SIZES, 9.9, 10.1, subgroup=list("abcdefgh"))


def test_a_steady_drift_shows_between_within_and_overall():
    drift = 10.0 + 0.01 * np.arange(20) + np.random.default_rng(3).normal(0, 0.004, 20)
    found = capability(drift, 9.7, 10.5, distribution="normal")
    assert found.cp.estimate > 3 * found.pp.estimate


def test_few_pieces_never_choose_a_family():
    sizes = np.random.default_rng(5).permutation(stats.expon.ppf((np.arange(20) + 0.5) / 20))
    found = capability(sizes, None, 10.0)
    assert found.distribution == "normal"
    assert "20 pieces cannot say what they are instead" in found.remark


def test_many_form_errors_are_no_normal():
    sizes = np.random.default_rng(6).rayleigh(0.01, 200)
    found = capability(sizes, None, 0.05)
    assert found.distribution in ("rayleigh", "weibull", "folded_normal")
    assert "do not look normal" in found.remark
    found = capability(sizes, None, 0.05, distribution="rayleigh")
    true = (0.05 - stats.rayleigh.ppf(0.5, scale=0.01)) / (
        stats.rayleigh.ppf(0.99865, scale=0.01) - stats.rayleigh.ppf(0.5, scale=0.01)
    )
    assert found.ppk.low < true < found.ppk.high
    assert found.beyond.low <= stats.rayleigh.sf(0.05, scale=0.01) <= found.beyond.high


def test_many_normal_pieces_stay_normal():
    assert capability(np.random.default_rng(7).normal(10, 0.01, 300), 9.9, 10.1).distribution == "normal"


def test_bounds_answer_like_the_readings_behind_them():
    sizes = np.random.default_rng(8).normal(10.0, 1.0, 40)
    exact = capability(sizes, 6.0, 15.0, distribution="normal")
    low = np.floor(sizes / 0.2) * 0.2
    bounds = capability(interval_fit(low, low + 0.2), 6.0, 15.0)
    assert bounds.cp is None
    assert "bounds" in bounds.reasons["cp"]
    assert ends(bounds, "ppk") == pytest.approx(ends(exact, "ppk"), rel=0.03)
    assert summarize(interval_fit(low, low + 0.2)).sd.estimate == pytest.approx(sizes.std(ddof=1), rel=0.03)


def test_all_equal():
    with pytest.raises(NotEnoughData, match="same size"):
        capability([10.0] * 4, 9.0, 11.0)
    with pytest.raises(NotEnoughData, match="below what these steps can see"):
        capability([10.0] * 4, 9.0, 11.0, step=0.01)


def test_few_pieces_say_which_intervals_are_approximate():
    """What they cover stands in the table of the calibration, dashboard/help/calibration.md."""
    sizes = [10.001, 10.002, 9.999, 10.0, 10.003, 9.998, 10.001, 10.0, 10.002, 9.999, 10.001, 10.0, 10.002]
    assert "approximate" in str(capability(sizes[:12], 9.99, 10.01))
    assert "approximate" not in str(capability(sizes, 9.99, 10.01))
