"""``tenthwise export``: readings out of the record."""

from __future__ import annotations

from pathlib import Path

import click

from tracker.cli.kept import record_option, record_url
from tracker.cli.source import print_json
from tracker.plurals import noun


@click.command(
    "export",
    short_help="readings out of the record: CSV, XLSX, Parquet, JSON",
    epilog="Example: tenthwise export 1 readings.csv --record bench.sqlite",
)
@click.argument("job", metavar="JOB")
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--feature", metavar="NAME", help="Only readings of this feature.")
@click.option("--struck", is_flag=True, help="Struck-out readings too, with their reason (not to be logged again).")
@record_option
def command(job: str, file: Path, feature: str | None, struck: bool, record: str | None, as_json: bool) -> None:
    """Write the readings of JOB (its name or number in the record) to FILE.

    The ending of FILE says how: .csv, .xlsx, .parquet or .json. The column value is what was typed, size is what it
    came to after corrections. Text that a spreadsheet would run as a formula is made harmless.

    Exit status: 0 written, 2 not written.
    """
    from tracker.record import open_record

    with open_record(record_url(record), create=False) as kept:
        number = kept.find_job(job)
        count = kept.export(number, file, feature, struck=struck)
    if as_json:
        print_json({"job": number, "file": str(file), "readings": count})
    else:
        click.echo(f"{count} {noun(count, 'reading')} written to {file}")
