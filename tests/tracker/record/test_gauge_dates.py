"""The register of gauges has the last word on when a gauge is due, and an overdue one marks its readings."""

import datetime

from tracker.judge import check
from tracker.record import open_record

JOB = """
[job]
name = "Nest, register"
unit = "mm"
[features.bore]
kind = "internal"
nominal = 10
gauge = "bore gauge"
[features.pin]
kind = "external"
nominal = 10
gauge = "micrometer"
[fits.pin_in_bore]
internal = "bore"
external = "pin"
gap = [0.0, 0.1]
[gauges.micrometer]
resolution = 0.001
due = 2026-01-01
"""
TODAY = datetime.date(2026, 11, 1)


def marks(record, job):
    frame = record.readings(job).readings
    return dict(zip(frame["feature"] + frame["piece"], frame["suspect"]))


def test_the_register_says_when_a_gauge_is_due_and_an_overdue_one_marks_its_readings(tmp_path):
    taken = datetime.datetime(2026, 11, 1, 9, 0)
    with open_record(tmp_path / "bench.sqlite") as record:
        job = record.add_job(JOB).id
        record.add_reading(job, "pin", "1", "9.991", client_id="one", time=taken)
        record.add_gauge("micrometer", unit="in", due=datetime.date(2027, 6, 1), by="operator A")
        record.add_gauge("bore gauge", unit="in", resolution=0.0001, due=datetime.date(2026, 6, 1), by="operator A")
        found = record.job(job)
        assert found.gauges["micrometer"].due == datetime.date(2027, 6, 1)
        assert found.gauges["micrometer"].resolution == 0.001
        assert abs(found.gauges["bore gauge"].resolution - 0.00254) < 1e-12
        record.add_reading(job, "pin", "2", "9.992", client_id="two", time=taken)
        record.add_reading(job, "bore", "1", "10.02", client_id="three", time=taken)
        past = "gauge past its calibration date"
        assert marks(record, job) == {"pin1": past, "pin2": "", "bore1": past}
        words = check(found, record.readings(job), [], today=TODAY).remarks
        assert any("1 reading of bore counts but is marked" in word for word in words)


def test_a_job_without_registered_gauges_is_as_it_was(tmp_path):
    with open_record(tmp_path / "bench.sqlite") as record:
        job = record.add_job(JOB).id
        assert record.job(job).gauges["micrometer"].due == datetime.date(2026, 1, 1)
        assert "bore gauge" not in record.job(job).gauges
