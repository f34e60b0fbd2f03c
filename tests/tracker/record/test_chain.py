"""The chain shows what was altered, removed or inserted, and names the row; rows cannot be changed by accident."""

import shutil

import numpy as np
import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.exc import DBAPIError

from tracker.record import open_record
from tracker.record.chain import mark, marks_of
from tracker.record.coded import Coded
from tracker.record.schema import CHAINED, chain


@pytest.fixture(scope="module", params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def pattern(request, tmp_path_factory, job_text):
    """A filled record, made once and copied for each test."""
    if request.param == "sqlite":
        url = f"sqlite:///{tmp_path_factory.mktemp('pattern') / 'record.sqlite'}"
    else:
        url = request.getfixturevalue("postgres_server").new_database()
    with open_record(url) as record:
        job = record.add_job(job_text, "bench 1").id
        for i in range(9):
            record.add_reading(job, "bore", str(i), f".6254{i}", client_id=f"r{i}", operator="operator A")
        record.strike(3, "gauge slipped", "bench 2")
        record.add_event(job, "bore", "4", "tool_change", client_id="e1")
    return url


@pytest.fixture
def filled(pattern, request, tmp_path):
    if pattern.startswith("sqlite"):
        return f"sqlite:///{shutil.copy(pattern.removeprefix('sqlite:///'), tmp_path)}"
    return request.getfixturevalue("postgres_server").new_database(like=pattern)


def tamper(url, *statements):
    engine = create_engine(url)
    with engine.begin() as connection:
        if connection.dialect.name == "sqlite":
            names = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars().all()
            bodies = connection.execute(text("SELECT sql FROM sqlite_master WHERE type = 'trigger'")).scalars().all()
            for name in names:
                connection.execute(text(f"DROP TRIGGER {name}"))
        else:
            connection.execute(text("SET session_replication_role = replica"))
        for statement in statements:
            connection.execute(text(statement))
        if connection.dialect.name == "sqlite":
            for body in bodies:
                connection.exec_driver_sql(body)
    engine.dispose()


CASES = {
    "a value": ("UPDATE readings SET value = 0.6266 WHERE id = 4", "readings", 4, "altered"),
    "what was typed": ("UPDATE readings SET typed = '.6255' WHERE id = 1", "readings", 1, "altered"),
    "the smallest change of a float": (
        "UPDATE readings SET mm = mm + 1e-15 WHERE id = 7",
        "readings",
        7,
        "altered",
    ),
    "who kept it": ("UPDATE readings SET kept_by = 'somebody' WHERE id = 9", "readings", 9, "altered"),
    "a row in the middle removed": ("DELETE FROM readings WHERE id = 5", "readings", 5, "removed"),
    "the last row removed": ("DELETE FROM readings WHERE id = 9", "readings", 9, "removed"),
    "a row inserted": (
        "INSERT INTO readings SELECT 10, batch_id, revision_id, import_id, piece, position, repeat, kind, typed, unit,"
        " exact, value, low, high, step, mm, applied, gauge, operator, note, time, temperature, suspect, held,"
        " question, suggestion, file, \"row\", 'new', kept_by, kept_at FROM readings WHERE id = 2",
        "readings",
        10,
        "inserted",
    ),
    "a strike-out removed": ("DELETE FROM strike_outs", "strike_outs", 1, "removed"),
    "a reason altered": ("UPDATE strike_outs SET reason = 'none'", "strike_outs", 1, "altered"),
    "limits of a job altered": ("UPDATE job_revisions SET text = text || ' '", "job_revisions", 1, "altered"),
    "an event moved": ("UPDATE events SET after_piece = '6'", "events", 1, "altered"),
    "a link removed": ("DELETE FROM chain WHERE id = 4", "chain", 4, "removed"),
    "a mark altered": ("UPDATE chain SET digest = marks WHERE id = 5", "readings", None, "altered"),
}


@pytest.mark.parametrize("statement, table, row, words", CASES.values(), ids=CASES.keys())
def test_verify_names_what_was_done(filled, statement, table, row, words):
    tamper(filled, statement)
    with open_record(filled, create=False) as record:
        proof = record.verify()
    assert not proof.holds
    assert proof.table == table
    assert words in proof.words
    if row is not None:
        assert proof.row == row


def test_an_untouched_record_holds(filled):
    with open_record(filled, create=False) as record:
        proof = record.verify()
    assert proof.holds
    assert (proof.readings, proof.links, len(proof.digest)) == (9, 14, 64)


TABLES = [table.name for table in (*CHAINED, chain)]


@pytest.mark.parametrize("act", ["UPDATE {} SET id = id", "DELETE FROM {}"])
@pytest.mark.parametrize("table", TABLES)
def test_rows_cannot_be_changed_or_removed(filled, table, act):
    engine = create_engine(filled)
    empty = ("imports", "confirmations", "baselines", "gauges", "users", "tokens", "sign_offs")
    if table in empty and engine.dialect.name == "sqlite":
        with engine.connect() as connection:
            query = f"SELECT count(*) FROM sqlite_master WHERE tbl_name = '{table}' AND type = 'trigger'"
            assert (
                connection.execute(text(query)).scalar() == 2
            )  # SQLite's triggers fire by row, and these tables are empty here
    else:
        with pytest.raises(DBAPIError, match="only ever added"), engine.begin() as connection:
            connection.execute(text(act.format(table)))
    engine.dispose()


def test_removed_guards_are_noticed(filled):
    engine = create_engine(filled)
    with engine.begin() as connection:
        name = "keep_readings_update" if engine.dialect.name == "sqlite" else "keep_readings ON readings"
        connection.execute(text(f"DROP TRIGGER {name}"))
    engine.dispose()
    with open_record(filled, create=False) as record:
        proof = record.verify()
    assert (proof.holds, proof.table) == (False, "readings")
    assert "triggers" in proof.words


def test_marks_of_columns_are_the_marks_of_rows():
    rows = [
        (1, "a", 0.0, None, "x", -0.0, 3.5, 7),
        (2, "a", -0.0, None, "", 0.0, 3.5, 7),
        (3, "b", 1e-300, 2.5, "µ\n", 0.0, 3.5, 7),
        *[(i, "b", 0.1, None, "é", 0.0, 3.5, 7) for i in range(4, 40)],
    ]
    columns = list(zip(*rows))
    each = [Coded(np.arange(len(rows)), list(column)) for column in columns]
    assert marks_of(each) == [mark(row, 7) for row in rows]
    names = [Coded.of(np.array(columns[at], dtype=object)) if at in (1, 4) else each[at] for at in range(8)]
    assert marks_of(names) == marks_of(each)


@pytest.mark.postgres
def test_both_databases_make_the_same_chain(tmp_path, postgres_server, job_text):
    import datetime

    now = datetime.datetime(2026, 9, 14, 8, 30, tzinfo=datetime.UTC)
    digests = []
    for url in (f"sqlite:///{tmp_path / 'a.sqlite'}", postgres_server.new_database()):
        with open_record(url) as record:
            job = record.add_job(job_text, "bench 1", now=now).id
            record.add_reading(job, "bore", "1", "15.88 mm", client_id="a", now=now)
            record.strike(1, "slipped", now=now)
            digests.append(record.verify().digest)
    assert digests[0] == digests[1]
