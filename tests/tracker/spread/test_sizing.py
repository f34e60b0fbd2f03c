"""From readings to sizes: rules, shrinking, uncertainty, bounds, and the frame."""

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.errors import NotEnoughData, TrackerError
from tracker.spread import capability, piece_sizes, predict, sizes, summarize


@dataclass
class Feature:
    name: str = "shank"
    kind: str = "external"


def table(rows, **more):
    """Return readings from (piece, position, value)."""
    frame = pd.DataFrame(rows, columns=["piece", "position", "value"])
    frame.insert(0, "feature", "shank")
    frame["kind"] = "absolute"
    frame["low"] = frame["high"] = frame["value"]
    frame["step"] = 0.0001
    return frame.assign(**more)


PLAIN = [
    ("7", "top", 10.0),
    ("7", "top", 10.2),
    ("7", "low", 10.4),
    ("3", "top", 9.0),
    ("3", "low", 9.4),
    ("3", "low", 9.2),
]


@pytest.mark.parametrize(
    ("rule", "kind", "expected"),
    [
        ("mean", "external", [10.25, 9.15]),
        ("median", "external", [10.25, 9.15]),
        ("midrange", "external", [10.25, 9.15]),
    ],
    ids=lambda v: str(v),
)
def test_rules_after_repeats_are_averaged(rule, kind, expected):
    found = sizes(table(PLAIN), Feature(kind=kind), rule)
    assert found.piece == ("7", "3")
    assert found.size == pytest.approx(expected)
    assert found.readings.tolist() == [3, 3]
    assert found.within_range == pytest.approx([0.4, 0.4])


@pytest.mark.parametrize(
    ("rule", "kind", "expected"),
    [
        ("most_material", "external", 10.4),
        ("most_material", "internal", 10.0),
        ("least_material", "external", 10.0),
        ("least_material", "internal", 10.4),
        ("median", "external", 10.1),
        ("midrange", "external", 10.2),
        ("mean", "external", 10.1666666667),
        (None, "external", 10.4),
        (None, "internal", 10.0),
        (None, "length", 10.1666666667),
    ],
)
def test_rules_over_single_positions(rule, kind, expected):
    frame = table(
        [("1", "a", 10.0), ("1", "b", 10.1), ("1", "c", 10.4), ("2", "a", 10.0), ("2", "b", 10.0), ("2", "c", 10.0)]
    )
    assert sizes(frame, Feature(kind=kind), rule).size[0] == pytest.approx(expected)


def test_default_is_the_mean_when_there_is_one_position():
    frame = table([("1", "", 10.0), ("1", "", 10.2), ("2", "", 9.0)])
    found = sizes(frame, Feature())
    assert found.rule == "mean"
    assert found.size == pytest.approx([10.1, 9.0])


def test_a_name_alone_has_no_material_side():
    assert sizes(table(PLAIN), "shank").rule == "mean"
    with pytest.raises(TrackerError, match="where the material is"):
        sizes(table(PLAIN), "shank", "most_material")
    assert sizes(table(PLAIN), "shank", "most_material", kind="external").rule == "most_material"
    with pytest.raises(TrackerError, match="accepted"):
        sizes(table(PLAIN), "shank", "biggest")


def test_the_largest_of_noisy_positions_does_not_overstate():
    # No form at all: three positions of a perfect pin, read twice with noise 1. Plain maxima lie 0.6 too high.
    rng = np.random.default_rng(11)
    piece = np.repeat(np.arange(400), 6)
    position = np.tile([0, 0, 1, 1, 2, 2], 400)
    value = 100.0 + rng.normal(0.0, 1.0, piece.size)
    shrunk = piece_sizes(value, piece, position, rule="most_material", kind="external")
    plain = piece_sizes(value, piece, position, rule="most_material", kind="external", shrink=False)
    assert shrunk.shrunk
    assert plain.size.mean() == pytest.approx(100.0 + 0.846 / math.sqrt(2), abs=0.06)
    assert shrunk.size.mean() == pytest.approx(100.0, abs=0.12)


def test_shrinking_keeps_real_form():
    # Form 2, noise 0.5: expected largest of three true positions lies 0.846 * 2 above the piece.
    rng = np.random.default_rng(12)
    piece = np.repeat(np.arange(3000), 6)
    position = np.tile([0, 0, 1, 1, 2, 2], 3000)
    form = rng.normal(0.0, 2.0, 9000)
    true = form.reshape(-1, 3).max(axis=1)
    value = form[piece * 3 + position] + rng.normal(0.0, 0.5, piece.size)
    found = piece_sizes(value, piece, position, rule="most_material", kind="external")
    plain = piece_sizes(value, piece, position, rule="most_material", kind="external", shrink=False)
    assert found.repeatability_sd == pytest.approx(0.5, rel=0.03)
    assert found.form_sd == pytest.approx(2.0, rel=0.04)
    assert abs((found.size - true).mean()) < abs((plain.size - true).mean())
    assert ((found.size - true) ** 2).mean() < ((plain.size - true) ** 2).mean()
    # The uncertainty is what the sizes are really off by.
    assert found.uncertainty.mean() == pytest.approx(math.sqrt(((found.size - true) ** 2).mean()), rel=0.1)


def test_uncertainty_of_a_mean_by_hand():
    frame = table([("1", "", 10.0), ("1", "", 10.2), ("2", "", 10.0), ("2", "", 10.4)])
    found = sizes(frame, "shank", calibration=0.003, temperature=0.004, resolution=0.01)
    repeatability = math.sqrt((0.02 + 0.08) / 2)
    assert found.repeatability_sd == pytest.approx(repeatability)
    assert found.uncertainty == pytest.approx([math.sqrt(repeatability**2 / 2 + 0.01**2 / 12)] * 2)
    assert found.common_uncertainty == pytest.approx(0.005)
    assert found.step == 0.01


def test_one_reading_each_says_what_it_does_not_know():
    found = sizes(table([("1", "", 10.0), ("2", "", 10.2)]), "shank")
    assert found.repeatability_sd is None
    assert "read positions twice" in found.remark
    assert found.uncertainty == pytest.approx([0.0001 / math.sqrt(12)] * 2)


def go(rows):
    frame = pd.DataFrame(rows, columns=["piece", "low", "high"])
    return frame.assign(feature="bore", position="", kind="go_no_go", value=np.nan, step=0.001)


def test_bounds_intersect_and_contradictions_are_named():
    rows = [("1", 10.0, np.inf), ("1", -np.inf, 10.01), ("2", 10.01, 10.02), ("3", 10.0, 10.01)]
    frame = go([*rows, ("4", 10.02, np.inf), ("4", -np.inf, 10.0)])
    found = sizes(frame, "bore")
    assert found.go_no_go
    assert found.piece == ("1", "2", "3")
    assert found.contradictions == ("4",)
    assert "4" in found.remark
    assert found.low == pytest.approx([10.0, 10.01, 10.0])
    assert found.high == pytest.approx([10.01, 10.02, 10.01])
    assert found.size == pytest.approx([10.005, 10.015, 10.005])
    assert found.uncertainty == pytest.approx([0.01 / math.sqrt(12)] * 3)


def test_open_bounds_stay_open_and_the_same_questions_are_answered():
    edges = [-np.inf, 9.99, 10.0, 10.01, 10.02, np.inf]
    counts = [1, 3, 6, 3, 1]
    rows = [(f"{i}-{j}", edges[i], edges[i + 1]) for i in range(5) for j in range(counts[i])]
    found = sizes(go(rows), "bore")
    assert np.isinf(found.low[0])
    assert np.isfinite(found.size).all()
    summary = summarize(found, target=10.0)
    assert summary.mean.estimate == pytest.approx(10.005, abs=1e-6)
    assert summary.bias.estimate == pytest.approx(0.005, abs=1e-6)
    assert capability(found, 9.96, 10.05).cpk is None
    assert 0.9 < predict(found, 9.96, 10.05).chance_within < 1
    for item in (found, summary, capability(found, 9.96, 10.05), predict(found, 9.96, 10.05)):
        item.to_dict()
        assert "nan" not in str(item)


def test_readings_and_bounds_in_one_batch():
    read = table([("2", "", 10.004), ("3", "", 10.006)]).assign(feature="bore")
    found = sizes(pd.concat([go([("1", 10.0, 10.01), ("2", 10.0, np.inf)]), read]), "bore")
    assert found.piece == ("1", "2", "3")
    assert found.size == pytest.approx([10.005, 10.004, 10.006])
    wrong = pd.concat([go([("1", 10.0, 10.01), ("2", 10.1, np.inf)]), read])
    assert sizes(wrong, "bore").contradictions == ("2",)


def test_several_batches():
    frame = pd.concat([table(PLAIN, batch="a"), table(PLAIN, batch="b")])
    found = sizes(frame, "shank")
    assert found.piece == ("a/7", "a/3", "b/7", "b/3")
    assert sizes(frame, "shank", batch="b").piece == ("7", "3")
    with pytest.raises(NotEnoughData, match="batches: a, b"):
        sizes(frame, "shank", batch="c")


def test_messages():
    with pytest.raises(NotEnoughData, match="readings are of: shank"):
        sizes(table(PLAIN), "bore")
    with pytest.raises(TrackerError, match="no column 'value'"):
        sizes(table(PLAIN).drop(columns="value"), "shank")
    with pytest.raises(NotEnoughData, match="no piece of bore has a size"):
        sizes(go([("1", 2.0, np.inf), ("1", -np.inf, 1.0)]), "bore")


def test_coarse_readings_are_known_as_such():
    value = [10.001, 10.001, 10.002, 10.002, 10.000, 10.000]
    frame = table([(str(i // 2), "", v) for i, v in enumerate(value)]).assign(step=0.001)
    found = sizes(frame, "shank")
    assert found.coarse
    assert found.high - found.low == pytest.approx([0.001] * 3)
    frame.loc[1, "value"] = 10.002
    assert not sizes(frame, "shank").coarse


readings = st.lists(
    st.tuples(st.integers(0, 5), st.integers(0, 2), st.floats(-1.0, 1.0, allow_nan=False)), min_size=1, max_size=40
)


@given(readings, st.sampled_from(["mean", "median", "midrange", "most_material", "least_material"]), st.integers(-8, 8))
@settings(max_examples=80, deadline=None)
def test_shift_scale_and_order(items, rule, power):
    piece, position, value = (np.array(column) for column in zip(*items, strict=True))
    base = piece_sizes(value, piece, position, rule=rule, kind="external", pieces=6)
    read = base.readings > 0
    order = np.random.default_rng(1).permutation(value.size)
    mixed = piece_sizes(value[order], piece[order], position[order], rule=rule, kind="external", pieces=6)
    np.testing.assert_allclose(mixed.size[read], base.size[read], atol=1e-9)
    moved = piece_sizes(value + 25.0, piece, position, rule=rule, kind="external", pieces=6)
    np.testing.assert_allclose(moved.size[read], base.size[read] + 25.0, atol=1e-9)
    scale = 2.0**power
    scaled = piece_sizes(value * scale, piece, position, rule=rule, kind="external", pieces=6)
    np.testing.assert_allclose(scaled.size[read], base.size[read] * scale, rtol=1e-9, atol=1e-12 * scale)
    np.testing.assert_allclose(scaled.uncertainty[read], base.uncertainty[read] * scale, rtol=1e-7, atol=1e-9 * scale)
    mirrored = piece_sizes(-value, piece, position, rule=rule, kind="internal", pieces=6)
    np.testing.assert_allclose(mirrored.size[read], -base.size[read], atol=1e-9)
    assert (base.size[read] >= base.minimum[read] - 1e-12).all()
    assert (base.size[read] <= base.maximum[read] + 1e-12).all()


@pytest.mark.parametrize(
    ("values", "steps", "step"),
    [
        ([0.5, 0.5001, 0.4999, 0.5002], [0.1, 1e-4, 1e-4, 1e-4], 1e-4),  # a spreadsheet drops the zeros of 0.5000
        ([0.62, 0.6201, 0.6199], [0.01, 1e-4, 1e-4], 1e-4),
        ([0.500, 0.5001, 0.499, 0.502], [1e-3, 1e-4, 1e-3, 1e-3], 1e-3),  # 0.500 keeps its zeros
        ([0.501] * 19 + [0.5013], [1e-3] * 19 + [1e-4], 1e-3),  # too many short ones for dropped zeros
        ([0.5012, 0.5013, 0.5011], [1e-4] * 3, 1e-4),
    ],
)
def test_zeros_that_a_spreadsheet_dropped_make_no_coarse_step(values, steps, step):
    frame = table([(str(k), "", v) for k, v in enumerate(values)]).assign(step=steps)
    assert sizes(frame, Feature()).step == pytest.approx(step)


def test_the_coarser_of_two_gauges_counts():
    frame = table([("1", "", 0.501), ("2", "", 0.5012), ("3", "", 0.5011)]).assign(
        step=[1e-3, 1e-4, 1e-4], gauge=["calipers", "micrometer", "micrometer"]
    )
    assert sizes(frame, Feature()).step == 1e-3
