"""``tenthwise restore``: a copy put back in place of the record."""

from __future__ import annotations

from pathlib import Path

import click

from tracker.cli.kept import progress_line, record_option, record_url
from tracker.cli.source import print_json


@click.command(
    "restore",
    short_help="put a verified copy back in place of the record",
    epilog="Example: tenthwise restore monday.sqlite --record bench.sqlite",
)
@click.argument("copy", metavar="COPY", type=click.Path(path_type=Path))
@record_option
def command(copy: Path, record: str | None, as_json: bool) -> None:
    """Put COPY, which backup wrote, in place of the record.

    A damaged copy is refused and nothing is changed. A record file that is there is kept beside it under
    .before-restore-; a database on a server must be new. Start programs that have the record open again afterwards.

    Exit status: 0 put back, 2 refused.
    """
    from tracker.record import restore

    done = restore(copy, record_url(record), progress=progress_line("put back"))
    if as_json:
        print_json(done.to_dict())
    else:
        click.echo(f"put back: {done}")
