"""``tenthwise history``: many batches, out of the record and summed up."""

from __future__ import annotations

from pathlib import Path

import click

from tracker.cli.kept import progress_line, record_option, record_url
from tracker.cli.source import print_json

WAYS = ("part", "feature", "machine", "tool", "operator", "gauge", "month", "job")
LOOK = 1


@click.group(
    "history",
    short_help="many batches: which part, machine or tool drifts, and since when",
    epilog="Example: tenthwise history summary history --by machine",
)
def command() -> None:
    """Years of batches: write them out of the record once, then sum them up on one machine or on many.

    First `tenthwise history export`, then `tenthwise history summary`; each has its own --help, and takes --json.
    """


@command.command(
    "export",
    short_help="batches of a record as partitioned Parquet",
    epilog="Example: tenthwise history export --record bench.sqlite --out history",
)
@click.option(
    "--out", required=True, metavar="FOLDER", type=click.Path(path_type=Path), help="Where to; not there yet."
)
@record_option
def export(out: Path, record: str | None, as_json: bool) -> None:
    """Write all batches of the record to FOLDER as Parquet files, for `tenthwise history summary`.

    Readings that count are written, with the limits each batch was begun under. FOLDER appears when all is written.

    Exit status: 0 written, 2 not written.
    """
    from tracker.history import export_history
    from tracker.record import open_record

    with open_record(record_url(record), create=False) as kept:
        done = export_history(kept, out, progress=progress_line("writing"))
    if as_json:
        print_json(done.to_dict())
    else:
        click.echo(str(done))


@command.command(
    "summary",
    short_help="size, spread, capability, drift and gauges of every batch",
    epilog="Example: tenthwise history summary history --by machine",
)
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
@click.option("--by", type=click.Choice(WAYS), help="Group the batches; without it the batches to look at first.")
@click.option("--workers", metavar="N", type=click.IntRange(min=1), help="So many processes on this machine.")
@click.option("--cluster", metavar="ADDRESS", help="The scheduler of a cluster that sees FOLDER under the same path.")
@click.option("--keep-going", is_flag=True, help="Leave out what is damaged, and the batches that lost readings to it.")
@click.option("--most", metavar="N", default=20, type=click.IntRange(min=1), help="Show so many batches (20).")
@click.option("--json", "as_json", is_flag=True, help="Print the answer for machines, every batch.")
def summary(
    folder: Path,
    by: str | None,
    workers: int | None,
    cluster: str | None,
    keep_going: bool,
    most: int,
    as_json: bool,
) -> None:
    """Sum up every feature of every batch in FOLDER, as `tenthwise history export` wrote it.

    A flag of drift asks for a look: a trend along the order of making, a piece far off, or a batch whose mean is far
    from those of its like. The numbers are the same however many processes work on it.

    Exit status: 0 nothing is flagged, 1 something is flagged or was left out, 2 cannot say.
    """
    from tracker.history import HistoryError, summarize_history
    from tracker.history.text import history_text

    if workers is not None and cluster is not None:
        raise HistoryError("--workers and --cluster are given; accepted is one of them")
    found = summarize_history(
        folder, by, workers=workers, address=cluster, keep_going=keep_going, progress=progress_line("summing up")
    )
    if as_json:
        print_json(found.to_dict())
    else:
        click.echo(history_text(found, most))
    if found.damaged or bool(found.flags.any.any()):
        click.get_current_context().exit(LOOK)
