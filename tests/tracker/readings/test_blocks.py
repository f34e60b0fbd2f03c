"""The quick way through a large file gives what the row by row way gives."""

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tracker.readings import blocks, iter_readings, read_readings

HEADER = "batch,feature,piece,position,repeat,value,unit,gauge,operator,time,temperature,note"
cells = {
    "batch": st.sampled_from(["", "B1", "B2"]),
    "feature": st.sampled_from(["bore", "Bores", "shank", "plug", ""]),
    "piece": st.sampled_from(["1", "2", "10", "A", "", "3.0", "=X"]),
    "position": st.sampled_from(["", "top", "=1"]),
    "repeat": st.sampled_from(["", "", "1", "2", "0", "x"]),
    "value": st.sampled_from(
        ["0.62520", "0.62535", "15.880 mm", "+3 tenths", "goes .6250 / not .6252", "", "abc", "-1", '0.6252"', "=A1"]
    ),
    "unit": st.sampled_from(["", "in", "mm", "furlong"]),
    "gauge": st.sampled_from(["", "bore gauge", "Bore Gauge", "other"]),
    "operator": st.sampled_from(["", "bench 2"]),
    "time": st.sampled_from(["", "2026-09-14 08:30", "2026-09-14 08:31", "later"]),
    "temperature": st.sampled_from(["", "20.5", "68 F", "hot"]),
    "note": st.sampled_from(["", "ok", "90°", "#1"]),
}
line = st.tuples(*cells.values()).map(",".join)
odd = st.sampled_from(["", "# a remark", "1,2,3", ",,,,,,,,,,,", ",".join(["x"] * 14), 'bore,"a\nb",1'])
lines = st.lists(st.one_of(line, line, line, line, odd), max_size=40)


def both_ways(path, job, monkeypatch, **kwargs):
    with monkeypatch.context() as patch:
        patch.setattr(blocks, "SMALL_FILE", 0)
        quick = read_readings(path, job, **kwargs)
        patch.setattr(blocks, "SMALL_FILE", 1 << 60)
        slow = read_readings(path, job, **kwargs)
    return quick, slow


def assert_same(quick, slow):
    pd.testing.assert_frame_equal(quick.readings, slow.readings)
    pd.testing.assert_frame_equal(quick.suspects, slow.suspects)
    order = ["row", "column", "found", "accepted"]
    pd.testing.assert_frame_equal(
        quick.refused.sort_values(order, ignore_index=True), slow.refused.sort_values(order, ignore_index=True)
    )
    assert sorted(quick.understood) == sorted(slow.understood)
    assert quick.duplicates == slow.duplicates


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines, st.sampled_from(["\n", "\r\n"]), st.sampled_from(["utf-8", "utf-8-sig", "cp1252"]))
def test_tidy_files_read_the_same_both_ways(tmp_path, job, monkeypatch, lines, ending, encoding):
    path = tmp_path / "x.csv"
    path.write_bytes(ending.join([HEADER, *lines, ""]).encode(encoding))
    assert_same(*both_ways(path, job, monkeypatch))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["1", "2", "3", "A", ""]),
            *[st.sampled_from(["0.6252", "0.62535", "", " ", "abc", "15.88 mm", "+2 tenths"])] * 3,
        ).map(";".join),
        max_size=30,
    )
)
def test_wide_files_read_the_same_both_ways(tmp_path, job, monkeypatch, lines):
    path = tmp_path / "bore.csv"
    path.write_text("\n".join(["piece;top 1;top 2;shank", *lines]), encoding="utf-8")
    assert_same(*both_ways(path, job, monkeypatch))


def large(path, batches=40):
    rows = [
        f"b{batch},bore,{piece},{position},{repeat},0.625{(7 * piece + 3 * repeat) % 10}{5 * (batch % 2)}"
        for batch in range(batches)
        for piece in range(1, 13)
        for position in ("top", "bottom")
        for repeat in (1, 2)
    ]
    path.write_text("\n".join(["batch,feature,piece,position,repeat,value", *rows, ""]), encoding="utf-8")
    return len(rows)


def test_some_at_a_time_gives_what_all_at_once_gives(tmp_path, job, monkeypatch):
    path = tmp_path / "x.csv"
    count = large(path)
    whole = read_readings(path, job)
    for small in (0, 1 << 60):
        monkeypatch.setattr(blocks, "SMALL_FILE", small)
        parts = list(iter_readings(path, job, chunk=96))
        assert len(parts) > 5
        got = pd.concat([part.readings for part in parts], ignore_index=True)
        assert len(got) == count == len(whole.readings)
        columns = ["batch", "feature", "piece", "position", "repeat", "value", "typed", "step"]
        key = ["batch", "feature", "piece", "position", "repeat"]
        pd.testing.assert_frame_equal(
            got.sort_values(key, ignore_index=True)[columns],
            whole.readings.sort_values(key, ignore_index=True)[columns],
        )
        assert sum("one reading a row" in line for part in parts for line in part.understood) == 1


def test_some_at_a_time_keeps_each_reading_once_over_parts_and_files(tmp_path, job, monkeypatch):
    monkeypatch.setattr(blocks, "SMALL_FILE", 0)
    count = large(tmp_path / "x.csv", batches=8)
    text = (tmp_path / "x.csv").read_text(encoding="utf-8")
    (tmp_path / "y.csv").write_text(text + "b0,bore,1,top,1,0.62490\n", encoding="utf-8")
    parts = list(iter_readings(tmp_path, job, chunk=50))
    assert sum(len(part.readings) for part in parts) == count
    assert sum(part.duplicates for part in parts) == count
    refused = pd.concat([part.refused for part in parts])
    assert refused["row"].tolist() == [count + 2]
    assert "is there already with another value" in refused["accepted"].iloc[0]


def test_repeats_that_nobody_numbered_are_counted_over_parts(tmp_path, job, monkeypatch):
    monkeypatch.setattr(blocks, "SMALL_FILE", 0)
    path = tmp_path / "bore.csv"
    path.write_text("piece,value\n" + "1,0.6252\n2,0.6253\n" * 60, encoding="utf-8")
    parts = list(iter_readings(path, job, chunk=1))
    assert len(parts) > 3
    got = pd.concat([part.readings for part in parts])
    for piece in ("1", "2"):
        assert got.loc[got["piece"] == piece, "repeat"].tolist() == list(range(1, 61))


@pytest.mark.parametrize("form", ["utf-16", "nul"])
def test_what_is_not_plain_takes_the_slow_way(tmp_path, job, monkeypatch, form):
    monkeypatch.setattr(blocks, "SMALL_FILE", 0)
    path = tmp_path / "bore.csv"
    text = "piece,value\n1,0.6252\n2,0.62\x0053\n" if form == "nul" else "piece,value\n1,0.6252\n"
    path.write_text(text, encoding="utf-16" if form == "utf-16" else "utf-8")
    found = read_readings(path, job)
    assert found.readings["value"].tolist() == [0.6252]
    assert found.refused["row"].tolist() == ([3] if form == "nul" else [])
