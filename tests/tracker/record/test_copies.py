"""Copies: taken online, verified, put back only when they hold; the same on both databases."""

import shutil
import sqlite3

import pytest

from tracker.errors import RecordDamaged, RecordError
from tracker.record import open_record, restore


@pytest.fixture
def job(record, job_text):
    job = record.add_job(job_text, "bench 1").id
    for i in range(14):
        record.add_reading(job, "bore", str(i // 2), f".6254{i % 7}", client_id=f"r{i}", position="top")
    record.strike(3, "gauge slipped", "bench 2")
    record.add_event(job, "bore", "4", "tool_change")
    return job


def test_a_copy_of_either_database_is_the_record_with_the_same_chain(record, job, tmp_path):
    copy = record.backup(tmp_path / "copy.sqlite")
    proof = record.verify()
    assert (copy.readings, copy.links, copy.digest) == (14, proof.links, proof.digest)
    with open_record(copy.path, create=False) as opened:
        assert opened.verify().holds
        assert opened.readings(job).readings.equals(record.readings(job).readings)


def test_restored_into_a_new_place_it_goes_on(record, job, tmp_path):
    record.backup(tmp_path / "copy.sqlite")
    restore(tmp_path / "copy.sqlite", tmp_path / "new" / "record.sqlite")
    with open_record(tmp_path / "new" / "record.sqlite", create=False) as opened:
        opened.add_reading(job, "bore", "20", ".6254", client_id="later")
        assert opened.verify().readings == 15
        assert opened.verify().holds


@pytest.mark.postgres
def test_restored_into_a_server(postgres_server, tmp_path, job_text):
    with open_record(tmp_path / "a.sqlite") as file:
        job = file.add_job(job_text).id
        file.add_reading(job, "bore", "1", ".6254", client_id="a")
        copy = file.backup(tmp_path / "copy.sqlite")
    url = postgres_server.new_database()
    restore(tmp_path / "copy.sqlite", url)
    with open_record(url, create=False) as server:
        assert server.verify().digest == copy.digest
        server.add_reading(job, "bore", "1", ".6254", client_id="b")
        assert server.verify().holds
    with pytest.raises(RecordError, match="holds a record already"):
        restore(tmp_path / "copy.sqlite", url)


def test_restored_over_a_record_that_another_has_open(tmp_path, job_text):
    with open_record(tmp_path / "record.sqlite") as record:
        job = record.add_job(job_text).id
        record.add_reading(job, "bore", "1", ".6254", client_id="a")
        record.backup(tmp_path / "copy.sqlite")
        record.add_reading(job, "bore", "1", ".6255", client_id="b")
        restore(tmp_path / "copy.sqlite", tmp_path / "record.sqlite")
        assert record.readings(job).readings["typed"].tolist() == [".6254"]
        record.add_reading(job, "bore", "1", ".6256", client_id="c")
    with open_record(tmp_path / "record.sqlite") as again:
        assert again.readings(job).readings["typed"].tolist() == [".6254", ".6256"]
        assert again.verify().holds
    aside = list(tmp_path.glob("record.sqlite.before-restore-*"))
    assert len(aside) == 1
    with open_record(aside[0]) as before:
        assert before.readings(job).readings["typed"].tolist() == [".6254", ".6255"]


def test_a_damaged_copy_is_refused_and_nothing_is_changed(tmp_path, job_text):
    with open_record(tmp_path / "record.sqlite") as record:
        job = record.add_job(job_text).id
        for i in range(20):
            record.add_reading(job, "bore", str(i), ".6254", client_id=str(i), note="n" * 2000)
        record.backup(tmp_path / "copy.sqlite")
    before = (tmp_path / "record.sqlite").read_bytes()
    whole = (tmp_path / "copy.sqlite").read_bytes()
    for name, bytes_ in {
        "truncated": whole[: len(whole) // 2],
        "text": b"not a database at all" * 100,
        "torn": whole[:20000] + bytes(4096) + whole[24096:],
    }.items():
        (tmp_path / name).write_bytes(bytes_)
        with pytest.raises(RecordDamaged):
            restore(tmp_path / name, tmp_path / "record.sqlite")
    assert (tmp_path / "record.sqlite").read_bytes() == before


def test_a_tampered_copy_is_refused(tmp_path, job_text):
    with open_record(tmp_path / "record.sqlite") as record:
        job = record.add_job(job_text).id
        record.add_reading(job, "bore", "1", ".6254", client_id="a")
        record.backup(tmp_path / "copy.sqlite")
    with sqlite3.connect(tmp_path / "copy.sqlite") as file:
        file.execute("DROP TRIGGER keep_readings_update")
        file.execute("UPDATE readings SET value = 0.6255")
    file.close()
    with pytest.raises(RecordDamaged, match="row 1 of readings was altered"):
        restore(tmp_path / "copy.sqlite", tmp_path / "record.sqlite")


def test_a_damaged_record_is_put_aside_and_the_copy_put_in_its_place(tmp_path, job_text):
    path = tmp_path / "record.sqlite"
    with open_record(path) as record:
        job = record.add_job(job_text).id
        record.add_reading(job, "bore", "1", ".6254", client_id="a")
        record.backup(tmp_path / "copy.sqlite")
    shutil.copy(path, tmp_path / "kept")
    path.write_bytes(b"\xff" * 8192)
    with pytest.raises(RecordDamaged, match="put a copy back"):
        open_record(path)
    restore(tmp_path / "copy.sqlite", path)
    with open_record(path) as record:
        assert record.readings(job).readings["typed"].tolist() == [".6254"]
    assert [item.read_bytes() for item in tmp_path.glob("*.before-restore-*")] == [b"\xff" * 8192]


def test_a_copy_never_overwrites(record, job, tmp_path):
    (tmp_path / "there").write_text("mine")
    with pytest.raises(RecordError, match="is there already"):
        record.backup(tmp_path / "there")
    assert (tmp_path / "there").read_text() == "mine"
    with pytest.raises(RecordError, match="no folder"):
        record.backup(tmp_path / "nowhere" / "copy")
    with pytest.raises(RecordError, match="no copy at"):
        restore(tmp_path / "missing", tmp_path / "x")
