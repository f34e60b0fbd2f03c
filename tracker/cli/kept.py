"""Options that the commands about the record share."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])


def record_option(command: Command) -> Command:
    """Give a command the options that name the record and ask for an answer for machines."""
    command = click.option("--json", "as_json", is_flag=True, help="Print the answer for machines.")(command)
    return click.option(
        "--record",
        metavar="URL",
        envvar="TENTHWISE_RECORD",
        help="The record: a SQLite file or a postgresql+psycopg URL; the user's own when not given.",
    )(command)


def record_url(given: str | None) -> str:
    """Return the record that was named, else the user's own."""
    from tracker.record import default_record_path

    return given or str(default_record_path())


def progress_line(what: str) -> Callable[[int, int], None] | None:
    """Return what shows progress on a terminal; None when nobody looks."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, whole: int) -> None:
        share = 1.0 if whole == 0 else done / whole
        click.echo(f"\r  {what}: {share:4.0%}", nl=done >= whole, err=True)

    return show
