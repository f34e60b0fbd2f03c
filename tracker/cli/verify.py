"""``tenthwise verify``: whether the record holds together."""

from __future__ import annotations

import click

from tracker.cli.kept import record_option, record_url
from tracker.cli.source import NO, YES, print_json


@click.command(
    "verify",
    short_help="does the record hold together, row by row",
    epilog="Example: tenthwise verify --record bench.sqlite",
)
@record_option
@click.pass_context
def command(ctx: click.Context, record: str | None, as_json: bool) -> None:
    """Walk every row of the record; name the first that was altered, removed or inserted.

    Exit status: 0 every row holds, 1 one does not, 2 the record cannot be read.
    """
    from tracker.record import open_record

    with open_record(record_url(record), create=False) as kept:
        proof = kept.verify()
    if as_json:
        print_json(proof.to_dict())
    else:
        click.echo(str(proof))
    ctx.exit(YES if proof.holds else NO)
