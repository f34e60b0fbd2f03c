"""``tenthwise users``: who may do what in the record, and which programs may."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tracker.cli.kept import record_option, record_url
from tracker.cli.source import print_json
from tracker.errors import PeopleError

if TYPE_CHECKING:
    from tracker.record import Record

ROLES = ("reads", "logs", "signs off", "administers")
HERE = "command line"


@click.group(
    "users",
    short_help="who may do what, with passwords and tokens",
    epilog="Example: tenthwise users list --record bench.sqlite",
)
def command() -> None:
    """Say who may do what in the record.

    Each role may do all that stands before it: reads (looks and prints), logs (readings, strike-outs, events),
    signs off (jobs, sheets, gauges), administers (people and tokens). A password is asked for at the prompt, or read as
    one line from standard input; it is never an argument, where others could see it. --json prints the answer for
    machines.
    """


def _named(made: Callable[..., Any]) -> Callable[..., Any]:
    made = click.option("--by", metavar="NAME", default=HERE, show_default=True, help="Who does it.")(made)
    return click.argument("name", metavar="NAME")(record_option(made))


def _opened(url: str | None, *, create: bool = False) -> Record:
    from tracker.record import open_record

    return open_record(record_url(url), create=create)


def _say(found: Any, as_json: bool, words: str = "") -> None:
    if as_json:
        print_json(found.to_dict())
    else:
        click.echo(words or str(found))


def asked_password(name: str) -> str:
    """Return a password typed twice at the prompt, or the first line of standard input.

    Raises
    ------
    PeopleError
        If there is none.
    """
    if sys.stdin.isatty():
        return str(click.prompt(f"password of {name}", hide_input=True, confirmation_prompt=True, err=True))
    line = sys.stdin.readline().rstrip("\r\n")
    if not line:
        raise PeopleError("there is no password; type it at the prompt, or give it as one line on standard input")
    return line


@command.command(
    "list", short_help="the users and tokens", epilog="Example: tenthwise users list --record bench.sqlite"
)
@record_option
def list_users(record: str | None, as_json: bool) -> None:
    """List the users and the tokens, the disabled and revoked ones too."""
    with _opened(record) as kept:
        users, tokens = kept.users(), kept.tokens()
    if as_json:
        print_json({"users": [user.to_dict() for user in users], "tokens": [token.to_dict() for token in tokens]})
        return
    for user in users:
        click.echo(str(user))
    for token in tokens:
        click.echo(f"token {token}")
    if not users:
        click.echo("there are no users; begin with: tenthwise users add NAME --role administers")


@command.command(
    "add", short_help="a new user", epilog="Example: tenthwise users add 'operator B' --role logs --record bench.sqlite"
)
@_named
@click.option("--role", type=click.Choice(ROLES), required=True, help="What the user may do.")
def add(name: str, role: str, by: str, record: str | None, as_json: bool) -> None:
    """Add a user. The first one must be one who administers."""
    with _opened(record, create=True) as kept:
        if role != ROLES[-1] and not kept.users():
            raise PeopleError(f"the first user must be one who {ROLES[-1]}; add that one first")
        _say(kept.add_user(name, role, asked_password(name), by=by), as_json)
        told = open_to_others(kept)
    if told:
        click.echo(told, err=True)


def open_to_others(record: Record) -> str:
    """Return a caution where other users of this machine may read the file of a record, "" where they may not."""
    path = Path(str(record.url.database))
    if os.name != "posix" or record.url.get_backend_name() != "sqlite" or not path.stat().st_mode & 0o077:
        return ""
    return (
        f"caution: other users of this machine may read {path}, and the hashes of passwords stand in it; where only the"
        f" server reads it: chmod 600 '{path}'"
    )


@command.command(
    "role",
    short_help="another role",
    epilog="Example: tenthwise users role 'operator A' 'signs off' --record bench.sqlite",
)
@_named
@click.argument("role", metavar="ROLE", type=click.Choice(ROLES))
def change_role(name: str, role: str, by: str, record: str | None, as_json: bool) -> None:
    """Give a user another role: reads, logs, "signs off" or administers. It holds at once."""
    with _opened(record) as kept:
        _say(kept.change_user(name, role=role, by=by), as_json)


@command.command(
    "password",
    short_help="another password",
    epilog="Example: tenthwise users password 'operator A' --record bench.sqlite",
)
@_named
def change_password(name: str, by: str, record: str | None, as_json: bool) -> None:
    """Give a user another password; whoever is signed in with the old one is signed out."""
    with _opened(record) as kept:
        found = kept.change_user(name, password=asked_password(name), by=by)
        _say(found, as_json, f"{found.name} has a new password")


@command.command(
    "disable",
    short_help="no longer let a user in",
    epilog="Example: tenthwise users disable 'operator A' --record bench.sqlite",
)
@_named
def disable(name: str, by: str, record: str | None, as_json: bool) -> None:
    """No longer let a user in, at once. What the user kept stays in the record under that name."""
    with _opened(record) as kept:
        _say(kept.change_user(name, disabled=True, by=by), as_json)


@command.command(
    "enable",
    short_help="let a user in again",
    epilog="Example: tenthwise users enable 'operator A' --record bench.sqlite",
)
@_named
def enable(name: str, by: str, record: str | None, as_json: bool) -> None:
    """Let a disabled user in again."""
    with _opened(record) as kept:
        _say(kept.change_user(name, disabled=False, by=by), as_json)


@command.command(
    "token",
    short_help="a token for a gauge or a program",
    epilog="Example: tenthwise users token 'cell 2' --record bench.sqlite",
)
@_named
@click.option("--role", type=click.Choice(ROLES[:2]), default="logs", show_default=True, help="What it may do.")
def token(name: str, role: str, by: str, record: str | None, as_json: bool) -> None:
    """Make a token with which a program may log or read over HTTP, and show it once.

    Only its hash is kept: a token that was lost is revoked, and another one made.
    """
    with _opened(record) as kept:
        found, secret = kept.add_token(name, role, by=by)
    if as_json:
        print_json(found.to_dict() | {"token": secret})
    else:
        click.echo(f"token {found}", err=True)
        click.echo(secret)


@command.command(
    "revoke",
    short_help="end a token, for good",
    epilog="Example: tenthwise users revoke 'press cell' --record bench.sqlite",
)
@_named
def revoke(name: str, by: str, record: str | None, as_json: bool) -> None:
    """End a token at once, and for good."""
    with _opened(record) as kept:
        _say(kept.revoke_token(name, by=by), as_json)
