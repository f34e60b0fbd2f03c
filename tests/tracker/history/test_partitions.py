"""The same numbers however the history is cut, in whatever order it is summed, whoever sums it."""

import json
import tempfile
from pathlib import Path

import numpy as np
import pyarrow.parquet as parquet
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.history import summarize_history
from tracker.history.blocks import find_blocks, task_sums
from tracker.history.cells import cells_of, joined
from tracker.history.series import series_of, way_of
from tracker.history.work import Sums, tasks_of


def assert_same(one, other):
    """Compare two summaries to 1e-12 of each number."""
    assert one.batch.tolist() == other.batch.tolist()
    assert one.series_readings.tolist() == other.series_readings.tolist()
    for result in ("spread", "capable", "flags"):
        mine, theirs = getattr(one, result).to_dict(), getattr(other, result).to_dict()
        for name, values in mine.items():
            np.testing.assert_allclose(
                np.array(values, dtype=float) if isinstance(values, list) else 0.0,
                np.array(theirs[name], dtype=float) if isinstance(values, list) else 0.0,
                rtol=1e-12,
                atol=1e-18,
                err_msg=name,
            )
    np.testing.assert_allclose(one.repeatability_sd, other.repeatability_sd, rtol=1e-12)
    assert one.uses.tolist() == other.uses.tolist()


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    group=st.integers(1, 90),
    groups_a_part=st.integers(1, 4),
    steps=st.integers(1, 7),
    by=st.sampled_from([None, "operator"]),
)
def test_numbers_do_not_hang_on_how_the_history_is_cut(make, seed, group, groups_a_part, steps, by):
    frame = make.readings(np.random.default_rng(seed), batches=5, pieces=6)
    with tempfile.TemporaryDirectory() as home:
        whole = make.write(Path(home) / "whole", frame)
        cut = make.write(Path(home) / "cut", frame, None, group, group * groups_a_part, steps)
        assert_same(summarize_history(whole, by), summarize_history(cut, by))


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_order_of_summing_is_irrelevant(make, seed):
    rng = np.random.default_rng(seed)
    frame = make.readings(rng, batches=4, pieces=6)
    with tempfile.TemporaryDirectory() as home:
        folder = make.write(Path(home) / "cut", frame, None, 7, 14)
        blocks, _ = find_blocks(folder, 4)
        ways, nominal = np.full(4, way_of("", "external")), np.full(4, make.nominal)
        done = [
            (task, task_sums(task))
            for task in tasks_of(blocks, str(folder), ways, nominal, split="", gauges=2, operators=3)
        ]
        found = []
        for order in (range(len(done)), rng.permutation(len(done))):
            sums = Sums(ways=ways, blocks=blocks)
            for at in order:
                sums.add(*done[at])
            assert not sums.waiting, "cells were left that belong to no batch"
            found.append(sums.series())
    for name in ("batch", "readings", "order_sp", "moving_sd", "noise_ss"):
        np.testing.assert_allclose(getattr(found[0], name), getattr(found[1], name), rtol=1e-12, atol=1e-22)
    np.testing.assert_allclose(found[0].sizes.ss, found[1].sizes.ss, rtol=1e-12, atol=1e-22)


def test_parts_whose_batches_overlap_and_stand_in_any_order(make, rng, tmp_path):
    frame = make.readings(rng, batches=6)
    whole = make.write(tmp_path / "whole", frame)
    mixed = make.write(tmp_path / "mixed", frame.sample(frac=1, random_state=3), None, 40, 80)
    one, other = summarize_history(whole), summarize_history(mixed)
    np.testing.assert_allclose(one.spread.mean, other.spread.mean, rtol=1e-12)
    np.testing.assert_allclose(one.spread.sd, other.spread.sd, rtol=1e-12)


@given(
    values=st.lists(st.floats(-1e-3, 1e-3), min_size=1, max_size=40),
    cut=st.integers(0, 40),
)
def test_cells_joined_are_the_cells_of_all(values, cut):
    value = np.array(values)
    rng = np.random.default_rng(len(values))
    batch, piece, position = (rng.integers(0, 3, value.size) for _ in range(3))
    whole = cells_of(value, batch, piece, position)
    halves = [cells_of(value[s], batch[s], piece[s], position[s]) for s in (slice(None, cut), slice(cut, None))]
    both = joined(halves)
    for name in ("batch", "piece", "position"):
        assert getattr(whole, name).tolist() == getattr(both, name).tolist()
    np.testing.assert_array_equal(whole.sums.n, both.sums.n)
    np.testing.assert_allclose(whole.sums.mean, both.sums.mean, rtol=1e-12, atol=1e-18)
    np.testing.assert_allclose(whole.sums.ss, both.sums.ss, rtol=1e-10, atol=1e-20)


def test_a_part_may_be_split_by_hand_with_any_tool(make, rng, tmp_path):
    frame = make.readings(rng)
    folder = make.write(tmp_path / "one", frame)
    before = summarize_history(folder)
    part = folder / "readings" / "part-000000.parquet"
    table = parquet.read_table(part)
    half = table.num_rows // 2 + 1
    parquet.write_table(table.slice(0, half), part)
    parquet.write_table(table.slice(half), folder / "readings" / "more.parquet")
    assert_same(before, summarize_history(folder))
    assert json.loads((folder / "history.json").read_text())["readings"] == len(frame)


def test_series_of_one_batch_needs_no_other(make, rng):
    frame = make.readings(rng, batches=3)
    columns = [frame[name].to_numpy() for name in ("value", "batch", "piece", "position")]
    ways = np.full(3, way_of("", "external"))
    together = series_of(cells_of(*columns), ways)
    mine = frame["batch"].to_numpy() == 1
    alone = series_of(cells_of(*(column[mine] for column in columns)), ways)
    assert alone.sizes.mean[0] == pytest.approx(together.sizes.mean[1], rel=1e-15)
    assert alone.noise_ss[0] == pytest.approx(together.noise_ss[1], rel=1e-12)
