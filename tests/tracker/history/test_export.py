"""Out of the record, SQLite or PostgreSQL, and summed up: the numbers that the record's own readings give."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pyarrow.parquet as parquet
import pytest
from click.testing import CliRunner

from tracker.cli.entrance import tenthwise
from tracker.history import export, export_history, summarize_history
from tracker.history.layout import BATCH_COLUMNS, READING_COLUMNS
from tracker.job import load_job
from tracker.readings import read_readings
from tracker.record import open_record
from tracker.spread import sizes, summarize

SAMPLES = Path(__file__).parents[3] / "sample_readings"
NAMES = ("rest_buttons", "guide_pins", "coupling_pins")


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A record with three jobs, one reading of it struck out."""
    path = tmp_path_factory.mktemp("shop") / "shop.sqlite"
    with open_record(path) as record:
        for name in NAMES:
            job = load_job(SAMPLES / name)
            number = record.add_job(job.text.replace('tool = "wheel"', 'tool = "wheel", name = "grinder 1"')).id
            record.add_readings(number, read_readings(SAMPLES / name, job), "bench 1")
        record.strike(5, "gauge slipped", "bench 2")
    return path


def run(*arguments):
    return CliRunner().invoke(tenthwise, [str(item) for item in arguments])


def assert_as_the_record_says(record, folder):
    found = summarize_history(folder)
    rows = [found.row(at) for at in range(len(found.batch))]
    assert found.readings == sum(info.readings for info in record.jobs())
    for row in rows:
        job = record.job(row["job"])
        frame = record.readings(row["job"], row["feature"], batch=row["label"]).readings
        feature = job.features[row["feature"]]
        wanted = summarize(sizes(frame, feature, feature.rule), feature.aim)
        assert (row["pieces"], row["readings"]) == (wanted.n, len(frame))
        assert row["mean"] == pytest.approx(wanted.mean.estimate, rel=1e-12)
        assert row["sd"] == pytest.approx(wanted.sd.estimate, rel=1e-9)
        assert row["bias"] == pytest.approx(wanted.bias.estimate, abs=1e-12)
        assert (row["lower"], row["upper"], row["unit"]) == (feature.lower, feature.upper, job.unit)
    return rows


@pytest.mark.parametrize("at_once", [500_000, 100, 0], ids=["a job", "a feature", "a batch"])
def test_every_batch_is_as_the_record_says(shop, tmp_path, monkeypatch, at_once):
    monkeypatch.setattr(export, "MOST_AT_ONCE", at_once)
    with open_record(shop) as record:
        done = export_history(record, tmp_path / "h")
        rows = assert_as_the_record_says(record, tmp_path / "h")
    assert (done.jobs, done.batches, done.readings) == (3, 6, sum(row["readings"] for row in rows))
    assert {row["machine"] for row in rows} == {"", "grinder 1"}


def test_a_batch_begun_meanwhile_is_left_for_the_next_export(job_text, tmp_path, monkeypatch):
    with open_record(tmp_path / "r.sqlite") as record:
        job = record.add_job(job_text).id
        for piece in ("1", "2"):
            record.add_reading(job, "bore", piece, "0.6252", batch="b", client_id=piece)
        listed = record.batches(job)
        record.add_reading(job, "bore", "1", "0.6253", batch="a", client_id="late")
        monkeypatch.setattr(type(record), "batches", lambda self, job_id: listed)
        done = export_history(record, tmp_path / "h")
    assert (done.batches, done.readings) == (1, 2)
    assert summarize_history(tmp_path / "h").row(0)["label"] == "b"


def test_columns_are_those_that_are_documented(shop, tmp_path):
    with open_record(shop) as record:
        export_history(record, tmp_path / "h")
        typed = record.readings(1, "shank").readings
    batches = parquet.read_table(tmp_path / "h" / "batches.parquet")
    readings = parquet.read_table(tmp_path / "h" / "readings")
    assert batches.column_names == list(BATCH_COLUMNS)
    assert readings.column_names == list(READING_COLUMNS)
    mine = readings.to_pandas().query("batch == 1").set_index("reading").sort_index()
    theirs = typed.set_index("id").sort_index()
    pd.testing.assert_series_equal(mine["value"], theirs["value"], check_names=False)
    assert mine["piece_label"].tolist() == theirs["piece"].tolist()
    assert mine["position_label"].tolist() == theirs["position"].tolist()


def test_several_batches_limits_and_go_no_go(job_text, tmp_path):
    with open_record(tmp_path / "r.sqlite") as record:
        job = record.add_job(job_text).id
        for batch, size in (("first", "0.6252"), ("second", "0.6254")):
            for piece in ("10", "9", "2"):
                record.add_reading(job, "bore", piece, f"{size}{piece[0]}", batch=batch, client_id=batch + piece)
        record.revise_job(job, job_text.replace("upper = 0.6257", "upper = 0.6259"))
        record.add_reading(job, "bore", "1", "goes .6250 / not .6252", batch="third", client_id="x")
        record.add_reading(job, "bore", "2", "0.6251", batch="third", client_id="y")
        done = export_history(record, tmp_path / "h")
        found = summarize_history(tmp_path / "h", "operator")
        assert done.readings == 8
        kept = parquet.read_table(tmp_path / "h" / "readings").to_pandas()
    assert kept["piece_label"][:3].tolist() == ["2", "9", "10"], "pieces stand in their order of making"
    assert [found.about["upper"][batch] for batch in range(3)] == [0.6257, 0.6257, 0.6259]
    assert found.bounded.tolist() == [0, 0, 1]
    low_high = kept[kept["value"].isna()][["low", "high"]].iloc[0].tolist()
    assert low_high == [0.6250, 0.6252]
    assert len(str(found.about["month"][0])) == 7


def test_an_empty_record_exports_and_says_so(tmp_path):
    open_record(tmp_path / "r.sqlite").close()
    out = run("history", "export", "--record", tmp_path / "r.sqlite", "--out", tmp_path / "h", "--json")
    assert (out.exit_code, json.loads(out.output)["readings"]) == (0, 0)
    said = run("history", "summary", tmp_path / "h")
    assert (said.exit_code, "holds no measured size" in said.output) == (2, True)


def test_the_commands(shop, tmp_path):
    out = run("history", "export", "--record", shop, "--out", tmp_path / "h")
    assert (out.exit_code, "of 6 batches out of 3 jobs" in out.output) == (0, True)
    again = run("history", "export", "--record", shop, "--out", tmp_path / "h")
    assert (again.exit_code, "holds something" in again.output) == (2, True)
    plain = run("history", "summary", tmp_path / "h", "--most", 2)
    assert plain.exit_code == 1, "a batch of the sample jobs has a piece far off"
    assert "and 4 more" in plain.output
    answer = json.loads(run("history", "summary", tmp_path / "h", "--by", "machine", "--json").output)
    assert len(answer["batches"]) == 6
    assert {group["value"] for group in answer["groups"]} == {"not said", "grinder 1"}
    both = run("history", "summary", tmp_path / "h", "--workers", 2, "--cluster", "tcp://127.0.0.1:1")
    assert (both.exit_code, "accepted is one of them" in both.output) == (2, True)


def test_damage_from_the_command_line(shop, tmp_path):
    run("history", "export", "--record", shop, "--out", tmp_path / "h")
    path = tmp_path / "h" / "readings" / "part-000000.parquet"
    data = bytearray(path.read_bytes())
    shutil.copy(path, tmp_path / "h" / "readings" / "spare.parquet")
    data[30] ^= 1
    path.write_bytes(bytes(data))
    stopped = run("history", "summary", tmp_path / "h")
    assert (stopped.exit_code, "part-000000.parquet, block 0" in stopped.output) == (2, True)
    went_on = run("history", "summary", tmp_path / "h", "--keep-going")
    assert (went_on.exit_code, "damaged and left out: readings/part-000000" in went_on.output) == (1, True)


def test_a_summary_loads_no_record_and_no_frames():
    code = """
import sys, tracker.history
print([name for name in ("pandas", "sqlalchemy", "distributed", "dask") if name in sys.modules])
"""
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
