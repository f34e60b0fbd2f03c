"""The history of a record in use: as an export and its summary say, and only what is new is read again."""

import numpy as np
import pytest

from tracker.history import HistoryError, Standing, export_history, summarize_history
from tracker.record import measured, open_record

WAYS = ("part", "machine", "tool", "operator", "month", "job")


@pytest.fixture
def shop(job_text, tmp_path):
    """A record with two jobs, several batches each, one reading struck out, one go / no-go."""
    rng = np.random.default_rng(4)
    with open_record(tmp_path / "shop.sqlite") as record:
        for name in ("first", "second"):
            text = job_text.replace("Leak-test nest, rest buttons", name)
            job = record.add_job(text.replace('kind = "internal"', 'kind = "internal"\npart = "nest"')).id
            for batch in ("a", "b", "c"):
                for piece in ("10", "9", "2") if batch != "b" else ("left", "right", "7"):
                    for turn, place in enumerate(("top", "bottom", "top")):
                        value = f"{0.6253 + rng.normal(0, 0.0001):.5f}"
                        who, client = f"operator {'AB'[turn % 2]}", f"{name}{batch}{piece}{turn}"
                        record.add_reading(
                            job, "bore", piece, value, batch=batch, position=place, operator=who, client_id=client
                        )
        record.add_reading(1, "bore", "11", "goes .6250 / not .6252", batch="a", client_id="goes")
        record.strike(5, "gauge slipped")
        yield record


def assert_as_exported(record, standing, folder):
    """Compare by the record's own number of each batch; an export numbers them job by job."""
    export_history(record, folder)
    for by in WAYS:
        mine, theirs = standing.history(by), summarize_history(folder, by)
        rows = [
            {(row["record_batch"], row.get("operator")): row for row in map(found.row, range(len(found.batch)))}
            for found in (mine, theirs)
        ]
        assert rows[0].keys() == rows[1].keys()
        for key, row in rows[0].items():
            for name, value in row.items():
                if name == "begun":
                    assert str(value)[:19] == str(rows[1][key][name])[:19]
                elif name != "batch":
                    other = rows[1][key][name]
                    assert value == (pytest.approx(other, rel=1e-12) if isinstance(value, float) else other), name
        for one, other in zip(mine.groups, theirs.groups, strict=True):
            for name in ("value", "batches", "pieces", "readings", "drifting"):
                assert getattr(one, name) == getattr(other, name)
            assert one.bias == pytest.approx(other.bias, rel=1e-12)


@pytest.mark.parametrize("at_once", [500_000, 20, 1])
def test_the_numbers_are_those_of_an_export(shop, tmp_path, monkeypatch, at_once):
    monkeypatch.setattr(measured, "ROWS_AT_ONCE", at_once)
    assert_as_exported(shop, Standing(shop), tmp_path / "h")


def test_only_what_is_new_is_read_again_and_the_numbers_stay_those_of_an_export(shop, tmp_path, monkeypatch):
    standing = Standing(shop)
    before = standing.history("part")
    assert standing.history("part") is before, "nothing was added, and it was summed up anew"
    asked = []
    read = type(shop).measured
    monkeypatch.setattr(type(shop), "measured", lambda self, lot: asked.append(list(lot)) or read(self, lot))
    shop.add_reading(2, "bore", "3", "0.6251", batch="b", client_id="later")
    shop.strike(1, "wrong piece")
    shop.add_reading(2, "bore", "1", "0.6251", batch="d", client_id="a batch of its own")
    after = standing.history("part")
    assert sorted(number for lot in asked for number in lot) == [1, 5, 7]
    assert after.readings == before.readings + 1
    assert_as_exported(shop, standing, tmp_path / "h")


def test_a_batch_that_lost_all_its_readings_is_in_nothing(shop):
    standing = Standing(shop)
    standing.history("part")
    for entry in shop.since(2, 0):
        if entry.batch == "c":
            shop.strike(entry.id, "all of it")
    found = standing.history("part")
    assert len(found.batch) == 5
    assert found.groups[0].batches == 5


def test_an_empty_record_says_so(tmp_path):
    with open_record(tmp_path / "r.sqlite") as record, pytest.raises(HistoryError, match="holds no measured size"):
        Standing(record).history("part")
