"""``tenthwise users``: the first administrator is made here, and no password is ever an argument."""

import json
import os

import pytest
from click.testing import CliRunner

from tracker.cli.entrance import tenthwise
from tracker.record import open_record

WORDS = "four words at the bench"


@pytest.fixture
def run(tmp_path):
    def go(*arguments, typed=""):
        return CliRunner().invoke(
            tenthwise, ["users", *arguments, "--record", str(tmp_path / "bench.sqlite")], input=typed
        )

    return go


def test_the_first_user_administers_and_the_rest_follow(run, tmp_path):
    refused = run("add", "operator A", "--role", "logs", typed=WORDS)
    assert refused.exit_code == 2
    assert "must be one who administers" in refused.output
    assert run("add", "lead", "--role", "administers", typed=f"{WORDS}\n").stdout == "lead: administers\n"
    assert run("add", "operator A", "--role", "logs", typed=WORDS).exit_code == 0
    assert run("role", "operator A", "signs off", "--by", "lead").output == "operator A: signs off\n"
    assert run("disable", "operator A").output == "operator A: signs off, disabled\n"
    assert run("enable", "operator A").exit_code == 0
    assert run("password", "operator A", typed="another four plain words").exit_code == 0
    with open_record(tmp_path / "bench.sqlite") as record:
        assert record.user_with("lead", WORDS).by == "command line"
        assert record.user_with("operator A", WORDS) is None
        assert record.user_with("operator A", "another four plain words").role == "signs off"


def test_what_cannot_be_done_is_said_with_status_2(run):
    run("add", "lead", "--role", "administers", typed=WORDS)
    for arguments, typed, words in (
        (("disable", "lead"), "", "last one who administers"),
        (("role", "nobody", "logs"), "", "there is no user 'nobody'"),
        (("add", "operator A", "--role", "logs"), "", "there is no password"),
        (("add", "operator A", "--role", "logs"), "short\n", "accepted are 12 to 200"),
        (("add", "operator A", "--role", "owns"), WORDS, "administers"),
        (("revoke", "press cell"), "", "there is no token"),
    ):
        done = run(*arguments, typed=typed)
        assert done.exit_code == 2, arguments
        assert words in done.output


def test_no_password_is_an_argument_or_an_option():
    for name, made in tenthwise.get_command(None, "users").commands.items():
        names = {option for part in made.params for option in (part.name, *part.opts)}
        assert not any("password" in str(part) for part in names), name


def test_a_token_is_shown_once_and_works_until_revoked(run, tmp_path):
    run("add", "lead", "--role", "administers", typed=WORDS)
    secret = run("token", "press cell").stdout.strip()
    assert secret.startswith("tw-")
    with open_record(tmp_path / "bench.sqlite") as record:
        assert record.token_of(secret).role == "logs"
    listed = json.loads(run("list", "--json").stdout)
    assert [user["name"] for user in listed["users"]] == ["lead"]
    assert [(token["name"], token["revoked"]) for token in listed["tokens"]] == [("press cell", False)]
    assert secret not in json.dumps(listed)
    assert "password" not in json.dumps(listed)
    assert run("revoke", "press cell").output == "press cell: logs, revoked\n"
    with open_record(tmp_path / "bench.sqlite") as record:
        assert record.token_of(secret) is None


def test_the_roles_of_the_command_are_those_of_the_record():
    from tracker.cli.users import ROLES
    from tracker.record import ROLES as KEPT

    assert ROLES == KEPT


@pytest.mark.skipif(os.name != "posix", reason="file modes of POSIX")
def test_a_record_that_others_may_read_is_said(run, tmp_path):
    assert "chmod 600" in run("add", "lead", "--role", "administers", typed=WORDS).stderr
    (tmp_path / "bench.sqlite").chmod(0o600)
    assert run("add", "operator A", "--role", "logs", typed=WORDS).stderr == ""
