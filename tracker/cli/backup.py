"""``tenthwise backup``: a verified copy of the record."""

from __future__ import annotations

from pathlib import Path

import click

from tracker.cli.kept import progress_line, record_option, record_url
from tracker.cli.source import print_json


@click.command(
    "backup",
    short_help="copy the record while it is in use, and verify the copy",
    epilog="Example: tenthwise backup monday.sqlite --record bench.sqlite",
)
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
@record_option
def command(file: Path, record: str | None, as_json: bool) -> None:
    """Copy the record into FILE while it is in use, and verify the copy.

    The copy is one SQLite file, of a record on PostgreSQL too. FILE must not be there yet. Keep the end of the chain
    that is printed: it shows later whether a record was rewritten as a whole.

    Exit status: 0 copied and verified, 2 not copied.
    """
    from tracker.record import open_record

    with open_record(record_url(record), create=False) as kept:
        copy = kept.backup(file, progress=progress_line("copied"))
    if as_json:
        print_json(copy.to_dict())
    else:
        click.echo(str(copy))
