"""The summary against pandas, scipy and the rooms that answer for one batch."""

import json

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tracker.errors import TrackerError
from tracker.history import summarize_history
from tracker.spread import batch_capabilities, grouped_sums, piece_sizes, sizes, summarize

RULES = [("", "external"), ("", "internal"), ("", "length"), ("mean", "external"), ("median", "internal")]
RULES += [("midrange", "external"), ("most_material", "internal"), ("least_material", "internal")]
RULES += [("least_material", "external"), ("most_material", "length")]


def test_size_and_spread_are_those_of_a_groupby(make, rng, tmp_path):
    frame = make.readings(rng, positions=1)
    found = summarize_history(make.write(tmp_path / "h", frame))
    pieces = frame.groupby(["batch", "piece"])["value"].mean()
    wanted = pieces.groupby("batch").agg(["count", "mean", "std", "min", "max"])
    rows = pd.DataFrame([found.row(at) for at in range(len(found.batch))]).set_index("batch")
    assert rows["pieces"].tolist() == wanted["count"].tolist()
    np.testing.assert_allclose(rows["mean"], wanted["mean"], rtol=1e-12)
    np.testing.assert_allclose(rows["sd"].astype(float), wanted["std"], rtol=1e-9)  # pandas works about 0.625
    np.testing.assert_allclose(rows["minimum"], wanted["min"], rtol=1e-12)
    np.testing.assert_allclose(rows["maximum"], wanted["max"], rtol=1e-12)
    assert rows["readings"].tolist() == frame["batch"].value_counts().sort_index().tolist()


@pytest.mark.parametrize(("rule", "kind"), RULES)
def test_sizes_are_those_that_check_takes(make, rng, tmp_path, rule, kind):
    frame = make.readings(rng, batches=6, pieces=8, positions=3)
    counts = frame["batch"].value_counts()
    rows = [make.about(i, int(counts[i]), rule=rule, kind=kind) for i in range(6)]
    found = summarize_history(make.write(tmp_path / "h", frame, rows, 50, 100))
    for at, batch in enumerate(found.batch.tolist()):
        mine = frame[frame["batch"] == batch]
        columns = (mine[name].to_numpy() for name in ("value", "piece", "position"))
        chosen = rule or ("mean" if kind == "length" else "most_material")
        one = piece_sizes(*columns, rule=chosen, kind=kind)
        row = found.row(at)
        assert row["mean"] == pytest.approx(one.size.mean(), rel=1e-12)
        assert row["minimum"] == pytest.approx(one.size.min(), rel=1e-12)
        assert row["maximum"] == pytest.approx(one.size.max(), rel=1e-12)
        if one.size.size > 1:
            assert row["sd"] == pytest.approx(one.size.std(ddof=1), rel=1e-9)
        if one.repeatability_sd is not None:
            assert row["repeatability_sd"] == pytest.approx(one.repeatability_sd, rel=1e-9)


def test_intervals_are_those_of_summarize(make, rng, tmp_path):
    frame = make.readings(rng, batches=3, positions=1, repeats=1, uneven=False)
    found = summarize_history(make.write(tmp_path / "h", frame))
    one = frame[frame["batch"] == 1].assign(
        feature="shank", piece=lambda rows: rows["piece"].astype(str), kind="absolute"
    )
    wanted, row = summarize(sizes(one, "shank", "mean")), found.row(1)
    assert (row["mean_low"], row["mean_high"]) == pytest.approx((wanted.mean.low, wanted.mean.high), rel=1e-10)
    assert (row["sd_low"], row["sd_high"]) == pytest.approx((wanted.sd.low, wanted.sd.high), rel=1e-8)


def test_capability_against_the_batch_s_own_limits(make, rng, tmp_path):
    frame = make.readings(rng, batches=3, positions=1, repeats=1, uneven=False)
    limits = [(None, 0.6254), (0.6249, None), (None, None)]
    rows = [make.about(i, 10, lower=low, upper=high) for i, (low, high) in enumerate(limits)]
    found = summarize_history(make.write(tmp_path / "h", frame, rows))
    sums = grouped_sums(frame["value"].to_numpy(), frame["batch"].to_numpy())
    one = batch_capabilities(sums, [-np.inf, 0.6249, 0.0], [0.6254, np.inf, 1.0])
    for at in (0, 1):
        row = found.row(at)
        assert row["ppk"] == pytest.approx(one.ppk[at], rel=1e-8)
        assert row["beyond_upper"] == pytest.approx(one.beyond_upper[at], rel=1e-6, abs=1e-300)
        assert row["pp"] is None, "an open limit has no Pp"
    assert found.row(2)["ppk"] is None
    assert "no limits" in found.row(2)["why_not"]


def test_trend_is_that_of_a_regression(make, rng, tmp_path):
    frame = make.readings(rng, batches=3, pieces=20, positions=1, repeats=1, uneven=False)
    frame.loc[frame["batch"] == 1, "value"] += 0.00003 * frame["piece"]
    found = summarize_history(make.write(tmp_path / "h", frame))
    for at in range(3):
        mine = frame[frame["batch"] == at]
        line = stats.linregress(mine["piece"], mine["value"])
        assert found.flags.slope[at] == pytest.approx(line.slope, rel=1e-9)
        assert found.flags.slope_p[at] == pytest.approx(line.pvalue, rel=1e-7)
    assert found.flags.trend.tolist() == [False, True, False]


@pytest.mark.parametrize("pieces", [5, 12])
def test_steady_batches_show_a_trend_as_often_as_is_said(make, rng, tmp_path, pieces):
    frame = make.readings(rng, batches=4000, pieces=pieces, positions=1, repeats=1, uneven=False)
    found = summarize_history(make.write(tmp_path / "h", frame))
    assert stats.binomtest(int(found.flags.trend.sum()), 4000, 0.01).pvalue > 0.001


def test_a_piece_far_off_and_a_batch_far_off_are_flagged(make, rng, tmp_path):
    frame = make.readings(rng, batches=20, pieces=12, positions=1, repeats=1, uneven=False)
    frame.loc[(frame["batch"] == 4) & (frame["piece"] == 6), "value"] += 0.002
    frame.loc[frame["batch"] == 16, "value"] += 0.0006
    rows = [make.about(i, 12, part="rest button", machine="lathe 1", begun=f"2026-01-{i + 1:02d}") for i in range(20)]
    found = summarize_history(make.write(tmp_path / "h", frame, rows), "machine")
    assert found.flags.beyond[4] == 1
    assert found.flags.off[16] and not found.flags.off[:4].any()
    group = found.groups[0]
    assert (group.value, group.batches, group.pieces) == ("lathe 1", 20, 240)
    assert group.drifting_since == min(f"2026-01-{i + 1:02d}" for i in np.flatnonzero(found.flags.any))


@pytest.mark.parametrize("by", ["part", "feature", "machine", "tool", "month", "job"])
def test_groups_are_those_of_a_groupby(make, rng, tmp_path, by):
    frame = make.readings(rng, positions=1, repeats=1)
    found = summarize_history(make.write(tmp_path / "h", frame), by)
    said = pd.DataFrame([make.about(i, 0) for i in range(12)])[by].astype(str)
    frame["value_by"] = frame["batch"].map(said)
    frame["bias"] = frame["value"] - make.nominal - 0.0001
    wanted = frame.groupby("value_by")
    assert [group.value for group in found.groups] == sorted(wanted.groups)
    for group in found.groups:
        mine = wanted.get_group(group.value)
        assert (group.batches, group.pieces) == (mine["batch"].nunique(), len(mine))
        assert group.bias == pytest.approx(mine["bias"].mean(), rel=1e-9, abs=1e-15)
        within = mine["value"] - mine.groupby("batch")["value"].transform("mean")
        dof = len(mine) - mine["batch"].nunique()
        if dof == 0:
            assert group.sd_within is None
        else:
            assert group.sd_within == pytest.approx(np.sqrt((within**2).sum() / dof), rel=1e-9)


@pytest.mark.parametrize("by", ["operator", "gauge"])
def test_operators_and_gauges_are_told_apart_within_batches(make, rng, tmp_path, by):
    frame = make.readings(rng, positions=1)
    found = summarize_history(make.write(tmp_path / "h", frame, None, 31, 62), by)
    names = {"operator": ["operator A", "operator B"], "gauge": ["tenths micrometer", "bench micrometer"]}[by]
    pieces = frame.groupby([by, "batch", "piece"])["value"].mean()
    for code, name in enumerate(names):
        group = next(group for group in found.groups if group.value == name)
        assert group.pieces == len(pieces.loc[code])
        assert group.readings == int((frame[by] == code).sum())
        assert group.bias == pytest.approx(pieces.loc[code].mean() - make.nominal - 0.0001, abs=1e-13)


def test_uses_of_gauges_are_counted(make, rng, tmp_path):
    frame = make.readings(rng)
    found = summarize_history(make.write(tmp_path / "h", frame, None, 31, 62))
    wanted = frame.groupby(["batch", "gauge"]).size()
    for batch in range(12):
        uses = found.gauges(batch)
        for code, name in enumerate(("tenths micrometer", "bench micrometer")):
            assert uses.get(name, 0) == wanted.get((batch, code), 0)


def test_go_no_go_readings_are_counted_and_are_in_no_size(make, rng, tmp_path):
    frame = make.readings(rng, batches=3, positions=1, repeats=1, uneven=False)
    frame.loc[frame["piece"] == 2, "value"] = np.nan
    found = summarize_history(make.write(tmp_path / "h", frame, None, 7, 14))
    row = found.row(0)
    assert (row["pieces"], row["readings"], row["go_no_go_readings"]) == (9, 9, 1)
    assert row["mean"] == pytest.approx(frame[frame["batch"] == 0]["value"].mean(), rel=1e-12)


def test_one_piece_and_pieces_alike_say_why(make, tmp_path):
    frame = pd.DataFrame(
        {"batch": [0, 1, 1], "piece": [0, 0, 1], "position": 0, "value": [0.6251, 0.6252, 0.6252], "gauge": 0}
    ).assign(operator=0)
    found = summarize_history(make.write(tmp_path / "h", frame))
    one, alike = found.row(0), found.row(1)
    assert (one["sd"], one["ppk"], one["pieces"]) == (None, None, 1)
    assert "two or more" in one["why_not"]
    assert (alike["sd"], alike["ppk"]) == (0.0, None)
    json.dumps(found.to_dict(), allow_nan=False)


def test_inch_and_millimetre_make_groups_of_their_own(make, rng, tmp_path):
    frame = make.readings(rng, batches=2, uneven=False)
    rows = [make.about(0, 40, tool="wheel"), make.about(1, 40, tool="wheel", unit="mm")]
    found = summarize_history(make.write(tmp_path / "h", frame, rows), "tool")
    assert [(group.value, group.unit) for group in found.groups] == [("wheel", "in"), ("wheel", "mm")]


def test_an_unknown_grouping_says_what_is_accepted(tmp_path):
    with pytest.raises(TrackerError, match="accepted: part, feature, machine"):
        summarize_history(tmp_path, "colour")
