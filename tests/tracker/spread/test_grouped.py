"""Grouped sums: against numpy group by group, merging, pooling, order."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.errors import TrackerError
from tracker.spread import grouped_sums, merge_sums, pool_sums

NAMES = ("n", "mean", "ss", "minimum", "maximum")


def same(one, other, rel=1e-12):
    for name in NAMES:
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=rel, atol=1e-300, err_msg=name)


@pytest.mark.parametrize("even", [True, False])
@pytest.mark.parametrize("ordered", [True, False])
def test_agrees_with_numpy_group_by_group(even, ordered):
    rng = np.random.default_rng(1)
    group = np.repeat(np.arange(40), 5) if even else np.sort(rng.integers(0, 40, 300))
    values = rng.normal(25.0, 0.01, group.size)
    if not ordered:
        order = rng.permutation(group.size)
        group, values = group[order], values[order]
    found = grouped_sums(values, group, 41)
    for g in range(41):
        of_group = values[group == g]
        assert found.n[g] == of_group.size
        if of_group.size:
            assert found.mean[g] == pytest.approx(of_group.mean(), rel=1e-15)
            assert found.ss[g] == pytest.approx(((of_group - of_group.mean()) ** 2).sum(), rel=1e-10, abs=1e-18)
            assert (found.minimum[g], found.maximum[g]) == (of_group.min(), of_group.max())
            if of_group.size > 1:
                assert found.sd[g] == pytest.approx(of_group.std(ddof=1), rel=1e-10, abs=1e-12)
        else:
            assert (found.mean[g], found.ss[g], found.sd[g]) == (0, 0, 0)


values_and_groups = st.lists(
    st.tuples(st.floats(-1e3, 1e3, allow_nan=False), st.integers(0, 4), st.booleans()), min_size=1, max_size=60
)


@given(values_and_groups)
@settings(max_examples=60, deadline=None)
def test_parts_merge_to_the_whole_in_any_split(items):
    value = np.array([v for v, _, _ in items])
    group = np.array([g for _, g, _ in items])
    first = np.array([b for _, _, b in items])
    whole = grouped_sums(value, group, 5)
    merged = merge_sums(grouped_sums(value[first], group[first], 5), grouped_sums(value[~first], group[~first], 5))
    for name in NAMES:
        np.testing.assert_allclose(getattr(merged, name), getattr(whole, name), rtol=1e-9, atol=1e-7)


def test_merging_is_exact_far_from_the_origin():
    rng = np.random.default_rng(2)
    value = 1e6 + rng.normal(0.0, 1e-3, 4000)
    group = np.zeros(4000, dtype=int)
    whole = grouped_sums(value, group)
    parts = [grouped_sums(value[i : i + 500], group[:500]) for i in range(0, 4000, 500)]
    merged = parts[0]
    for part in parts[1:]:
        merged = merge_sums(merged, part)
    np.testing.assert_allclose(merged.ss, whole.ss, rtol=1e-6)
    np.testing.assert_allclose(merged.mean, whole.mean, rtol=1e-15)


def test_pooling_pieces_gives_batches():
    rng = np.random.default_rng(3)
    batch_of_piece = np.repeat(np.arange(6), 10)
    piece = np.repeat(np.arange(60), 4)
    value = rng.normal(10.0, 0.1, 240)
    pooled = pool_sums(grouped_sums(value, piece), batch_of_piece)
    same(pooled, grouped_sums(value, batch_of_piece[piece]), rel=1e-10)


def test_nothing_adds_nothing():
    empty = grouped_sums(np.empty(0), np.empty(0, dtype=int), 2)
    some = grouped_sums(np.array([1.0, 2.0]), np.array([1, 1]), 2)
    same(merge_sums(empty, some), some)
    same(merge_sums(some, empty), some)
    assert (
        pool_sums(grouped_sums(np.empty(0), np.empty(0, dtype=int), 0), np.empty(0, dtype=int), 3).n.tolist() == [0] * 3
    )


def test_wrong_groups_are_named():
    with pytest.raises(TrackerError, match="one number a value"):
        grouped_sums(np.zeros(3), np.zeros(2, dtype=int))
    with pytest.raises(TrackerError, match="run from -1"):
        grouped_sums(np.zeros(2), np.array([-1, 0]))


@pytest.mark.parametrize("group", [[0], [0, 1], [0, 0, 0], [0, 0, 1], [1, 0, 1]])
def test_the_values_given_are_left_alone(group):
    values = np.arange(1.0, len(group) + 1)
    grouped_sums(values, np.array(group))
    assert values.tolist() == list(range(1, len(group) + 1))
