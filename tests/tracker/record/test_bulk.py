"""Files into the record: all or nothing, each reading once, the same frame back; suspects held until confirmed."""

import shutil
from pathlib import Path

import pandas as pd
import pytest

from tracker.errors import ReadingsError, RecordError
from tracker.job import load_job
from tracker.readings import iter_readings, read_readings
from tracker.record import open_record

SAMPLES = Path(__file__).parents[3] / "sample_readings"


def kept(record, folder):
    job = load_job(folder)
    found = read_readings(folder, job)
    number = record.add_job(job.text).id
    return number, found, record.add_readings(number, found, "bench 1")


@pytest.mark.parametrize("name", ["rest_buttons", "guide_pins", "coupling_pins"])
def test_stored_then_loaded_is_the_same_frame(record, name):
    number, found, bulk = kept(record, SAMPLES / name)
    assert bulk.kept == len(found.readings) + len(found.suspects)
    back = record.readings(number)
    pd.testing.assert_frame_equal(back.readings.drop(columns="id"), found.readings)
    assert back.unit == found.unit
    assert record.verify().holds


def test_the_same_file_twice_keeps_each_reading_once(record):
    number, found, first = kept(record, SAMPLES / "rest_buttons")
    again = record.add_readings(number, found)
    assert (again.kept, again.there_already) == (0, first.kept)
    assert len(record.readings(number).readings) == first.kept


def write(folder, name, rows):
    (folder / name).write_text("feature,piece,repeat,value\n" + "\n".join(rows) + "\n")


@pytest.fixture
def folder(tmp_path, job_text):
    (tmp_path / "job.toml").write_text(job_text)
    write(tmp_path, "bores.csv", [f"bore,{i},1,0.6254{i}" for i in range(1, 7)])
    return tmp_path


def test_a_file_that_grew_keeps_only_what_is_new(record, folder):
    number, _, _ = kept(record, folder)
    write(folder, "bores.csv", [f"bore,{i},1,0.6254{i}" for i in range(1, 9)])
    bulk = record.add_readings(number, read_readings(folder, record.job(number)))
    assert (bulk.kept, bulk.there_already) == (2, 6)
    assert record.readings(number).readings["piece"].tolist() == [str(i) for i in range(1, 9)]


def test_a_file_under_another_name_is_known_by_what_it_says(record, folder):
    number, _, _ = kept(record, folder)
    (folder / "bores.csv").rename(folder / "bores (copy).csv")
    bulk = record.add_readings(number, read_readings(folder, record.job(number)))
    assert (bulk.kept, bulk.there_already) == (0, 6)


def test_another_file_that_repeats_a_value_is_another_reading(record, folder):
    number, _, _ = kept(record, folder)
    (folder / "bores.csv").unlink()
    write(folder, "second look.csv", ["bore,1,1,0.62541", "bore,2,1,0.62543"])
    bulk = record.add_readings(number, read_readings(folder, record.job(number)))
    assert bulk.kept == 2
    frame = record.readings(number).readings
    assert frame[frame["piece"] == "1"]["repeat"].tolist() == [1, 2]


def test_suspects_are_held_until_confirmed_and_stay_marked(record, folder):
    write(folder, "bores.csv", [*(f"bore,{i},1,0.6254{i}" for i in range(1, 7)), "bore,7,1,0.6524"])
    number, found, bulk = kept(record, folder)
    assert (len(found.suspects), bulk.waiting) == (1, 1)
    back = record.readings(number)
    assert back.suspects["typed"].tolist() == ["0.6524"]
    assert back.suspects["question"].tolist() == found.suspects["question"].tolist()
    assert "7" not in back.readings["piece"].tolist()
    entry = record.confirm(int(back.suspects["id"].iloc[0]), "bench 2")
    assert (entry.counts, entry.confirmed_by) == (True, "bench 2")
    after = record.readings(number)
    assert after.suspects.empty
    assert after.readings.iloc[-1][["piece", "suspect"]].tolist() == ["7", found.suspects["suspect"].iloc[0]]


def test_progress_is_told_and_a_fault_on_the_way_keeps_nothing(record, folder):
    job = load_job(folder)
    number = record.add_job(job.text).id
    told = []
    record.add_readings(number, read_readings(folder, job), progress=lambda done, whole: told.append((done, whole)))
    assert told == [(6, 6)]

    def fail(done, whole):
        raise KeyboardInterrupt

    write(folder, "bores.csv", ["bore,9,1,0.62545"])
    with pytest.raises(KeyboardInterrupt):
        record.add_readings(number, read_readings(folder, job), progress=fail)
    assert len(record.readings(number).readings) == 6
    assert record.verify().holds


def test_readings_of_another_unit_or_feature_are_refused(record, folder, job_text):
    found = read_readings(folder, load_job(folder))
    metric = record.add_job('[job]\nname="m"\nunit="mm"\n[features.bore]\nkind="internal"\nnominal=16\n').id
    with pytest.raises(RecordError, match="the job is in mm"):
        record.add_readings(metric, found)
    other = record.add_job('[job]\nname="o"\nunit="in"\n[features.pin]\nkind="external"\nnominal=0.5\n').id
    with pytest.raises(ReadingsError, match="no feature 'bore'"):
        record.add_readings(other, found)


def test_a_logged_reading_that_looks_mistyped_is_asked_about(record, job_text):
    job = record.add_job(job_text).id
    for i in range(6):
        assert not record.add_reading(job, "bore", str(i), f".6254{i}", client_id=str(i)).held
    swapped = record.add_reading(job, "bore", "6", ".6524", client_id="swap")
    assert swapped.held
    assert swapped.question
    assert swapped.suggestion.strip() == "0.6254" or ".6254" in swapped.suggestion
    wrong = record.add_reading(job, "bore", "7", "15.885", client_id="mm")
    assert (wrong.held, wrong.suspect) == (True, "wrong unit")
    state = record.log_state(job, "bore")
    assert (state.readings, state.waiting) == (6, 2)
    record.strike(wrong.id, "unit", "bench 1")
    assert record.confirm(swapped.id, "bench 1").counts
    assert record.log_state(job, "bore").waiting == 0
    assert record.add_reading(job, "bore", "6", ".6524", client_id="swap").duplicate


def test_corrections_are_made_and_said_beside_what_was_typed(record, job_text):
    text = job_text.replace("resolution = 0.00005", "resolution = 0.00005\ncorrection = 0.0001")
    job = record.add_job(text).id
    kept_reading = record.add_reading(job, "bore", "1", ".6254", client_id="a")
    assert kept_reading.value == pytest.approx(0.6255, abs=1e-12)
    assert "gauge correction +0.0001 in" in kept_reading.applied
    row = record.readings(job).readings.iloc[0]
    assert (row["typed"], row["applied"]) == (".6254", kept_reading.applied)


def test_a_gauge_past_its_date_marks_the_reading(record, job_text):
    import datetime

    job = record.add_job(job_text.replace("resolution = 0.00005", "resolution = 0.00005\ndue = 2026-01-31")).id
    before = record.add_reading(job, "bore", "1", ".6254", client_id="a", time=datetime.datetime(2026, 1, 31, 12))
    after = record.add_reading(job, "bore", "2", ".6254", client_id="b", time=datetime.datetime(2026, 2, 1, 12))
    assert (before.suspect, before.held) == ("", False)
    assert (after.suspect, after.held) == ("gauge past its calibration date", False)
    assert len(record.readings(job).readings) == 2


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
@pytest.mark.parametrize("name", ["rest_buttons", "coupling_pins"])
def test_what_is_exported_can_be_read_again(record, tmp_path, name, ending):
    number, found, _ = kept(record, SAMPLES / name)
    (tmp_path / "out").mkdir()
    shutil.copy(SAMPLES / name / "job.toml", tmp_path / "out")
    assert record.export(number, tmp_path / "out" / f"all{ending}") == len(found.readings)
    again = read_readings(tmp_path / "out", record.job(number))
    columns = ["feature", "piece", "position", "repeat", "kind", "value", "typed", "unit"]
    pd.testing.assert_frame_equal(again.readings[columns], found.readings[columns])


def test_exports_are_harmless_in_a_spreadsheet(record, job_text, tmp_path):
    import csv
    import json

    from openpyxl import load_workbook

    job = record.add_job(job_text).id
    record.add_reading(job, "shank", "1", "+3 tenths", client_id="a", note="=HYPERLINK(1)", operator="@operator A")
    for ending in (".csv", ".xlsx", ".json", ".parquet"):
        record.export(job, tmp_path / f"x{ending}")
    with (tmp_path / "x.csv").open(encoding="utf-8", newline="") as file:
        row = next(csv.DictReader(file))
    assert (row["value"], row["note"], row["operator"]) == ("+3 tenths", "'=HYPERLINK(1)", "'@operator A")
    sheet = load_workbook(tmp_path / "x.xlsx").active
    kinds = {cell.data_type for line in sheet.iter_rows() for cell in line}
    assert kinds <= {"s", "inlineStr", "n", "d"}  # no "f": nothing is a formula
    assert json.loads((tmp_path / "x.json").read_text(encoding="utf-8"))[0]["note"] == "=HYPERLINK(1)"
    assert pd.read_parquet(tmp_path / "x.parquet")["value"].tolist() == ["+3 tenths"]
    with pytest.raises(RecordError, match=r"accepted are .csv"):
        record.export(job, tmp_path / "x.doc")


def test_numpy_numbers_are_made_plain_at_the_edge(record, job_text):
    import numpy as np

    job = record.add_job(job_text).id
    record.add_reading(np.int64(job), "bore", "1", ".6254", client_id="a", repeat=np.int64(3))
    record.add_event(np.int64(job), "bore", "1", "dressing", np.float64(0.001))
    record.strike(np.int64(1), "slipped")
    assert record.since(np.int64(job), np.int64(0))[0].repeat == 3
    assert record.verify().holds


def test_both_ways_into_the_record_give_one_proof(tmp_path, folder):
    with open_record(tmp_path / "a.sqlite") as record:
        number, _, _ = kept(record, folder)
        record.add_reading(number, "bore", "9", ".62545", client_id="x")
        proof = record.verify()
    assert (proof.holds, proof.readings) == (True, 7)


def test_a_file_that_comes_in_parts_is_kept_as_one(record, folder):
    rows = [f"bore,{i},{j},0.625{40 + (i * 7 + j) % 9}" for i in range(1, 400) for j in (1, 2)]
    write(folder, "bores.csv", rows)
    job = load_job(folder)
    number = record.add_job(job.text).id
    parts = list(iter_readings(folder / "bores.csv", job, chunk=100))
    assert len(parts) > 3
    told = []
    bulk = record.add_readings(number, iter(parts), progress=lambda done, whole: told.append((done, whole)))
    assert (bulk.kept, bulk.first_id, bulk.last_id) == (798, 1, 798)
    assert told[-1] == (798, 0)
    whole = read_readings(folder / "bores.csv", job).readings
    columns = ["piece", "repeat", "typed", "value"]
    assert record.readings(number).readings[columns].values.tolist() == whole[columns].values.tolist()
    again = record.add_readings(number, iter_readings(folder / "bores.csv", job, chunk=70))
    assert (again.kept, again.there_already) == (0, 798)
    assert record.verify().holds
