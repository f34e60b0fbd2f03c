"""What is damaged, missing or unfinished is named; the rest goes on only when asked to."""

import json
import os
import subprocess
import sys
import textwrap

import numpy as np
import pandas as pd
import pyarrow.parquet as parquet
import pytest

from tracker.history import HistoryError, HistoryWriter, summarize_history


@pytest.fixture
def history(make, rng, tmp_path):
    """A history of 30 batches in several parts of several blocks."""
    frame = make.readings(rng, batches=30, uneven=False)
    return make.write(tmp_path / "h", frame, None, 110, 330)


def part(history, number):
    return history / "readings" / f"part-{number:06d}.parquet"


def flip(path, column="value", block=1):
    """Change one bit in the middle of the data of a column."""
    chunk = next(
        parquet.read_metadata(path).row_group(block).column(i)
        for i in range(parquet.read_metadata(path).num_columns)
        if parquet.read_metadata(path).row_group(block).column(i).path_in_schema == column
    )
    data = bytearray(path.read_bytes())
    start = chunk.dictionary_page_offset or chunk.data_page_offset
    data[start + chunk.total_compressed_size - 9] ^= 1
    path.write_bytes(bytes(data))


def cut(path):
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


@pytest.mark.parametrize("spoil", [flip, cut, lambda path: path.write_bytes(b"")], ids=["bit", "cut", "empty"])
def test_a_damaged_part_is_named(history, spoil):
    spoil(part(history, 1))
    with pytest.raises(HistoryError, match=r"part-000001\.parquet.*--keep-going"):
        summarize_history(history)


@pytest.mark.parametrize("spoil", [flip, cut], ids=["bit", "cut"])
def test_the_rest_goes_on_with_the_same_numbers(history, spoil):
    before = summarize_history(history)
    spoil(part(history, 1))
    after = summarize_history(history, keep_going=True)
    assert [lost.file for lost in after.damaged] == ["readings/part-000001.parquet"]
    assert 0 < len(after.incomplete) < 30
    assert sorted([*after.incomplete, *after.batch.tolist()]) == list(range(30))
    kept = np.isin(before.batch, after.batch)
    np.testing.assert_allclose(after.spread.mean, before.spread.mean[kept], rtol=1e-12)
    np.testing.assert_allclose(after.spread.sd, before.spread.sd[kept], rtol=1e-12)
    assert "damaged" in str(after)
    json.dumps(after.to_dict(), allow_nan=False)


def test_a_bit_takes_down_one_block_and_not_the_part(history):
    flip(part(history, 1), block=2)
    after = summarize_history(history, keep_going=True)
    assert [(lost.file, lost.block) for lost in after.damaged] == [("readings/part-000001.parquet", 2)]


def test_a_missing_part_is_not_passed_over(history):
    part(history, 2).unlink()
    with pytest.raises(HistoryError, match="a part is missing or there twice"):
        summarize_history(history)
    after = summarize_history(history, keep_going=True)
    assert "a part is missing" in after.damaged[0].reason
    assert sorted([*after.incomplete, *after.batch.tolist()]) == list(range(30))


def test_a_part_there_twice_is_not_counted_twice(history):
    (history / "readings" / "copy.parquet").write_bytes(part(history, 0).read_bytes())
    with pytest.raises(HistoryError, match="a part is missing or there twice"):
        summarize_history(history)
    after = summarize_history(history, keep_going=True)
    assert not set(after.incomplete) & set(after.batch.tolist())
    assert after.series_readings.max() == 40


def test_the_table_of_batches_must_hold(history):
    cut(history / "batches.parquet")
    with pytest.raises(HistoryError, match=r"batches\.parquet is damaged"):
        summarize_history(history, keep_going=True)


@pytest.mark.parametrize(
    ("text", "words"),
    [("{", "does not say"), ('{"form": "x"}', "does not say"), (None, "has finished writing")],
    ids=["cut", "other", "missing"],
)
def test_the_manifest_must_hold(history, text, words):
    path = history / "history.json"
    path.unlink() if text is None else path.write_text(text)
    with pytest.raises(HistoryError, match=words):
        summarize_history(history)


def test_a_newer_form_is_refused(history):
    path = history / "history.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | {"version": 99}))
    with pytest.raises(HistoryError, match="use a newer program"):
        summarize_history(history)


def test_a_column_that_is_missing_is_named(history):
    table = parquet.read_table(part(history, 0)).drop_columns(["piece"])
    parquet.write_table(table, part(history, 0))
    with pytest.raises(HistoryError, match=r"part-000000\.parquet: has no column piece"):
        summarize_history(history)


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [("gauge", 7, r"speaks of gauge 7, and history\.json lists 0 to 1"), ("operator", 3, "speaks of operator 3")],
)
def test_a_name_that_is_not_listed_is_said(history, column, value, words):
    frame = parquet.read_table(part(history, 0)).to_pandas().assign(**{column: np.int16(value)})
    frame.to_parquet(part(history, 0), index=False)
    with pytest.raises(HistoryError, match=words):
        summarize_history(history, "operator")


def test_a_column_of_another_type_is_said(history):
    frame = parquet.read_table(part(history, 0)).to_pandas().astype({"piece": float})
    frame.to_parquet(part(history, 0), index=False)
    with pytest.raises(HistoryError, match="column piece is of type double; accepted is int32"):
        summarize_history(history)


def test_readings_without_a_needed_column_are_not_written(tmp_path):
    with pytest.raises(HistoryError, match="readings without piece"), HistoryWriter(tmp_path / "h") as writer:
        writer.add_readings({"batch": [0], "value": [1.0], "position": [0], "gauge": [0], "operator": [0]})


def test_what_did_not_end_leaves_nothing(tmp_path):
    with pytest.raises(KeyError), HistoryWriter(tmp_path / "h") as writer:
        writer.add_batches([{"job": 1}])
        raise KeyError
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_holds_something_is_refused(history, tmp_path):
    with pytest.raises(HistoryError, match="holds something"):
        HistoryWriter(history)
    (tmp_path / "new.part").mkdir()
    with pytest.raises(HistoryError, match="did not end"):
        HistoryWriter(tmp_path / "new")


@pytest.mark.parametrize(("module", "extra"), [("pyarrow", "a history needs pyarrow"), ("distributed", "distributed")])
def test_a_missing_extra_is_named(history, monkeypatch, module, extra):
    monkeypatch.setitem(sys.modules, module, None)
    with pytest.raises(HistoryError, match=rf"{extra}.*pip install 'tenthwise\[history\]'"):
        summarize_history(history, workers=2)


LIMITED = """
import resource, sys
from tracker.history import summarize_history
from tracker.history.layout import NEEDED
import numpy as np, pyarrow.parquet as parquet
small, large = sys.argv[1:3]
summarize_history(small)  # all that is loaded once is loaded now
used = int(open("/proc/self/statm").read().split()[0]) * resource.getpagesize()
resource.setrlimit(resource.RLIMIT_AS, (used + int(sys.argv[3]), used + int(sys.argv[3])))
try:
    table = parquet.read_table(large + "/readings", columns=list(NEEDED), use_threads=False)
    columns = [table.column(name).to_numpy().copy() for name in NEEDED]
    print("it all fits")
except (MemoryError, OSError):
    print("too large")
found = summarize_history(large)
print(found.readings, int(found.spread.n.sum()), repr(float(found.spread.sd[7])))
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the limit is set and read as on Linux")
def test_more_readings_than_memory(make, rng, tmp_path):
    batches, each = 500, 8_000
    size = batches * each
    frame = pd.DataFrame(
        {
            "batch": np.repeat(np.arange(batches), each),
            "piece": np.tile(np.arange(each) // 2, batches).astype(np.int32),
            "position": np.zeros(size, np.int16),
            "value": rng.normal(make.nominal, 0.0001, size),
            "gauge": np.zeros(size, np.int16),
            "operator": np.zeros(size, np.int16),
        }
    )
    large = make.write(tmp_path / "large", frame, None, 131_072, 1_000_000)
    small = make.write(tmp_path / "small", frame.iloc[:each])
    environment = {**os.environ, "ARROW_DEFAULT_MEMORY_POOL": "system", "MALLOC_ARENA_MAX": "1", "OMP_NUM_THREADS": "1"}
    limited = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(LIMITED), str(small), str(large), str(90_000_000)],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    assert limited.returncode == 0, limited.stderr
    first, second = limited.stdout.splitlines()
    assert first == "too large", "the limit is too wide to show anything"
    mine = frame["value"][frame["batch"] == 7].to_numpy().reshape(-1, 2).mean(axis=1)
    assert second.split()[:2] == [str(size), str(size // 2)]
    assert float(second.split()[2]) == pytest.approx(mine.std(ddof=1), rel=1e-10)
