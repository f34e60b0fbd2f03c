"""Users, who is signed in, and tokens: kept as rows that stay, on SQLite and PostgreSQL alike."""

import contextlib
import datetime
import sqlite3

import pytest
from argon2 import extract_parameters
from argon2.low_level import Type
from sqlalchemy import create_engine, text
from sqlalchemy.exc import DBAPIError

from tracker.errors import PeopleError
from tracker.record import ROLES, may, open_record, passwords, restore

WORDS = "four words at the bench"
OTHER = "another four plain words"
SHIFT = datetime.timedelta(hours=12)


def rows(record, query):
    engine = create_engine(record.url)
    with engine.connect() as connection:
        found = connection.execute(text(query)).all()
    engine.dispose()
    return [tuple(row) for row in found]


def test_roles_each_include_what_stands_before():
    for place, role in enumerate(ROLES):
        assert [may(role, needed) for needed in ROLES] == [True] * (place + 1) + [False] * (3 - place)


def test_a_user_is_known_by_name_and_password(record):
    made = record.add_user(" lead  toolmaker ", "administers", WORDS, by="command line")
    assert (made.name, made.role, made.disabled, made.by) == ("lead toolmaker", "administers", False, "command line")
    assert record.user_with("lead toolmaker", WORDS) == made
    assert record.user_with("Lead Toolmaker", WORDS) == made
    for name, password in (("lead toolmaker", OTHER), ("lead toolmaker", ""), ("bench 2", WORDS), ("", WORDS)):
        assert record.user_with(name, password) is None
    assert record.users() == [made]


def test_only_a_hash_is_kept_made_as_the_standard_says(record):
    """RFC 9106, section 4, second recommended option: Argon2id, t = 3, m = 64 MiB, p = 4, salt 128, tag 256 bits."""
    record.add_user("operator A", "logs", WORDS)
    record.add_user("operator B", "logs", WORDS)
    first, second = (row[0] for row in rows(record, "SELECT password FROM users ORDER BY id"))
    assert first != second
    assert WORDS not in first
    found = extract_parameters(first)
    assert (found.type, found.time_cost, found.memory_cost, found.parallelism) == (Type.ID, 3, 65536, 4)
    assert (found.salt_len, found.hash_len) == (16, 32)


@pytest.mark.parametrize(
    ("name", "role", "password"),
    [
        ("", "logs", WORDS),
        ("x" * 61, "logs", WORDS),
        ("a\x07b", "logs", WORDS),
        ("press cell (token)", "logs", WORDS),
        ("operator C", "owns", WORDS),
        ("operator C", "logs", "short"),
        ("operator C", "logs", "x" * 201),
        ("operator C", "logs", "aaaabbbbaaaabbbb"),
        ("operator C and bench", "logs", "Operator C And Bench"),
        ("OPERATOR A", "logs", WORDS),
    ],
)
def test_what_is_no_user_is_refused_and_nothing_is_kept(record, name, role, password):
    record.add_user("operator A", "logs", WORDS)
    with pytest.raises(PeopleError) as said:
        record.add_user(name, role, password)
    assert password == "" or password not in str(said.value)
    assert len(record.users()) == 1


def test_every_change_is_a_row_and_the_last_holds(record):
    record.add_user("lead", "administers", WORDS)
    record.add_user("operator A", "reads", WORDS, by="lead")
    record.change_user("operator A", role="signs off", by="lead")
    record.change_user("operator A", password=OTHER, by="operator A")
    record.change_user("operator A", disabled=True, by="lead")
    assert record.user_with("operator A", OTHER) is None
    found = record.change_user("operator A", disabled=False, by="lead")
    assert (found.role, found.disabled) == ("signs off", False)
    assert record.user_with("operator A", OTHER) == found
    assert record.user_with("operator A", WORDS) is None
    kept = rows(record, "SELECT role, disabled, kept_by FROM users WHERE name = 'operator A' ORDER BY id")
    assert kept == [
        ("reads", 0, "lead"),
        ("signs off", 0, "lead"),
        ("signs off", 0, "operator A"),
        ("signs off", 1, "lead"),
        ("signs off", 0, "lead"),
    ]
    record.change_user("operator A", role="signs off")
    assert len(rows(record, "SELECT id FROM users WHERE name = 'operator A'")) == 5
    assert record.verify().holds


def test_the_last_administrator_stays(record):
    record.add_user("lead", "administers", WORDS)
    record.add_user("second lead", "administers", WORDS)
    record.change_user("second lead", disabled=True)
    for change in ({"disabled": True}, {"role": "logs"}):
        with pytest.raises(PeopleError, match="last one who administers"):
            record.change_user("lead", **change)
    record.change_user("second lead", disabled=False)
    assert record.change_user("lead", role="logs").role == "logs"


def test_rows_of_people_cannot_be_changed_and_a_forged_one_shows(record):
    record.add_user("lead", "administers", WORDS)
    record.add_token("press cell", "logs")
    engine = create_engine(record.url)
    for statement in ("UPDATE users SET role = 'reads'", "DELETE FROM users", "UPDATE tokens SET revoked = 1"):
        with pytest.raises(DBAPIError, match="only ever added"), engine.begin() as connection:
            connection.execute(text(statement))
    forged = "INSERT INTO users SELECT 99, 'stranger', 'administers', password, 0, 'lead', kept_at FROM users"
    with engine.begin() as connection:
        connection.execute(text(forged))
    engine.dispose()
    proof = record.verify()
    assert not proof.holds
    assert "users" in proof.words


def test_a_session_stands_for_a_user_until_it_ends(record):
    now = datetime.datetime(2026, 9, 7, 6, 0, tzinfo=datetime.UTC)
    user = record.add_user("operator A", "logs", WORDS)
    secret = record.begin_session("operator A", SHIFT, now=now)
    other = record.begin_session("operator A", SHIFT, now=now)
    assert secret != other
    assert rows(record, "SELECT count(*) FROM sessions") == [(2,)]
    assert secret not in str(rows(record, "SELECT * FROM sessions"))
    assert record.session_user(secret, now=now + SHIFT * 0.99) == user
    assert record.session_user(secret, now=now + SHIFT) is None
    for none in ("", "x", secret[:-1], secret + "x", "\ud800"):
        assert record.session_user(none, now=now) is None
    record.end_session(secret)
    assert record.session_user(secret, now=now) is None
    assert record.session_user(other, now=now) == user


def test_role_password_and_disabling_reach_a_session_at_once(record):
    record.add_user("lead", "administers", WORDS)
    record.add_user("operator A", "logs", WORDS)
    secret = record.begin_session("operator A", SHIFT)
    record.change_user("operator A", role="reads")
    assert record.session_user(secret).role == "reads"
    record.change_user("operator A", password=OTHER)
    assert record.session_user(secret) is None
    secret = record.begin_session("operator A", SHIFT)
    record.change_user("operator A", disabled=True)
    assert record.session_user(secret) is None
    record.change_user("operator A", disabled=False)
    assert record.session_user(secret) is None
    record.change_user("operator A", disabled=True)
    with pytest.raises(PeopleError):
        record.begin_session("operator A", SHIFT)


def test_sessions_stay_few(record):
    now = datetime.datetime(2026, 9, 7, 6, 0, tzinfo=datetime.UTC)
    record.add_user("operator A", "logs", WORDS)
    minute = datetime.timedelta(minutes=1)
    secrets = [record.begin_session("operator A", SHIFT, now=now + minute * turn) for turn in range(25)]
    assert rows(record, "SELECT count(*) FROM sessions") == [(20,)]
    assert record.session_user(secrets[-1], now=now + minute * 30) is not None
    assert record.session_user(secrets[0], now=now + minute * 30) is None
    record.begin_session("operator A", SHIFT, now=now + SHIFT * 2)
    assert rows(record, "SELECT count(*) FROM sessions") == [(1,)]


def test_a_token_works_until_it_is_revoked_and_says_when_it_was_seen(record):
    made, secret = record.add_token("press cell", "logs", by="lead")
    assert (made.role, made.revoked, made.used) == ("logs", False, "")
    assert secret not in str(rows(record, "SELECT * FROM tokens"))
    moment = datetime.datetime(2026, 9, 7, 6, 30, tzinfo=datetime.UTC)
    assert record.token_of(secret, now=moment).name == "press cell"
    assert record.token_of(secret, now=moment + SHIFT) is not None
    assert record.tokens()[0].used.startswith("2026-09-07T06:30")
    for none in ("", "tw-x", secret[:-1], secret + "x"):
        assert record.token_of(none) is None
    assert record.revoke_token("press cell", by="lead").revoked
    assert record.token_of(secret) is None
    assert record.revoke_token("press cell").revoked
    assert rows(record, "SELECT count(*) FROM tokens") == [(2,)]
    assert record.verify().holds


@pytest.mark.parametrize(("name", "role"), [("press cell", "administers"), ("press cell", "signs off"), ("", "logs")])
def test_what_is_no_token_is_refused(record, name, role):
    with pytest.raises(PeopleError):
        record.add_token(name, role)
    record.add_token("saw", "reads")
    record.revoke_token("saw")
    with pytest.raises(PeopleError, match="is, or was"):
        record.add_token("Saw", "reads")
    with pytest.raises(PeopleError, match="no token"):
        record.revoke_token("nobody's")


def test_a_sign_off_names_who_and_what_and_is_kept_once(record, job_text):
    job = record.add_job(job_text).id
    with pytest.raises(PeopleError, match="sign in"):
        record.sign_off(job, "bench", "button_in_plate", "f1", "pair")
    first = record.sign_off(job, "bench", "button_in_plate", "f1", "pair", by="inspector")
    assert record.sign_off(job, "bench", "button_in_plate", "f1", "pair", by="inspector") == first
    assert first.latest
    record.revise_job(job, job_text.replace("0.6257", "0.6258"))
    second = record.sign_off(job, "bench", "button_in_plate", "f1", "pair", by="inspector")
    assert [(item.revision, item.latest) for item in record.sign_offs(job)] == [(2, True), (1, False)]
    assert second.id != first.id
    assert record.verify().holds


def test_people_are_in_every_copy_and_nobody_is_signed_in_after_it_is_put_back(record, tmp_path):
    user = record.add_user("operator A", "logs", WORDS)
    token, _ = record.add_token("press cell", "logs")
    secret = record.begin_session("operator A", SHIFT)
    record.backup(tmp_path / "copy.sqlite")
    restore(tmp_path / "copy.sqlite", tmp_path / "back.sqlite")
    with open_record(tmp_path / "back.sqlite") as back:
        assert back.users() == [user]
        assert back.tokens() == [token]
        assert back.user_with("operator A", WORDS) == user
        assert back.session_user(secret) is None
        assert back.verify().holds
    with contextlib.closing(sqlite3.connect(tmp_path / "back.sqlite")) as file:
        assert file.execute("SELECT count(*) FROM sessions").fetchone() == (0,)


def test_a_name_that_nobody_has_takes_as_long(monkeypatch):
    asked = []

    class Hasher:
        def verify(self, kept, _):
            asked.append(kept)
            return True

    monkeypatch.setattr(passwords, "hasher", Hasher)
    monkeypatch.setattr(passwords, "_nobodys", lambda: "nobody's")
    assert passwords.matches("kept", WORDS)
    assert not passwords.matches(None, WORDS)
    assert asked == ["kept", "nobody's"]
