"""A record on either engine goes out as a history, and comes to the same numbers."""

import pytest

from tracker.history import Standing, export_history, summarize_history
from tracker.spread import sizes, summarize

pytest.importorskip("pyarrow")


def test_a_record_goes_out_as_a_history(record, job_text, tmp_path):
    job = record.add_job(job_text).id
    for batch, first in (("a", 0), ("b", 3)):
        for piece in range(6):
            for repeat in range(2):
                text = f".625{first + (piece * 7 + repeat) % 5}{piece}"
                record.add_reading(job, "bore", str(piece), text, batch=batch, client_id=f"{batch}{piece}{repeat}")
    record.strike(1, "gauge slipped", "bench 2")
    done = export_history(record, tmp_path / "history")
    found = summarize_history(tmp_path / "history")
    assert (done.batches, done.readings, found.readings) == (2, 23, 23)
    for at, batch in enumerate(("a", "b")):
        wanted = summarize(sizes(record.readings(job, "bore", batch=batch).readings, record.job(job).features["bore"]))
        row = found.row(at)
        assert (row["label"], row["pieces"]) == (batch, wanted.n)
        assert row["mean"] == pytest.approx(wanted.mean.estimate, rel=1e-12)
        assert row["sd"] == pytest.approx(wanted.sd.estimate, rel=1e-9)


def test_the_history_of_a_record_in_use_follows_it(record, job_text):
    job = record.add_job(job_text).id
    standing = Standing(record)
    for turn in range(3):
        for piece in ("1", "2", "3"):
            record.add_reading(job, "bore", piece, f".625{turn}{piece}", batch="a", client_id=f"{turn}{piece}")
        if turn:
            record.strike(turn, "gauge slipped", "bench 2")
        found = standing.history("part")
        mine = record.readings(job, "bore", batch="a").readings
        wanted = summarize(sizes(mine, record.job(job).features["bore"]))
        assert (found.readings, int(found.spread.n[0])) == (len(mine), wanted.n)
        assert found.row(0)["mean"] == pytest.approx(wanted.mean.estimate, rel=1e-12)
        assert found.row(0)["sd"] == pytest.approx(wanted.sd.estimate, rel=1e-9)
