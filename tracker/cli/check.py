"""``tenthwise check``: the main job."""

from __future__ import annotations

import datetime

import click

from tracker.cli.source import CANNOT_SAY, job_argument, open_source, print_json


@click.command(
    "check",
    short_help="the main job: will it go together, and what to do about it",
    epilog="Example: tenthwise check sample_readings/rest_buttons",
)
@job_argument
@click.option("--keep-suspects", is_flag=True, help="Count suspect readings as confirmed.")
@click.option("--strict", is_flag=True, help="Stop with status 2 when any reading is suspect or refused.")
@click.pass_context
def command(ctx: click.Context, job: str, record: str | None, as_json: bool, keep_suspects: bool, strict: bool) -> None:
    """Judge a job: will these batches go together, and what is to be done first.

    JOB is a folder with a job.toml and readings files beside it, or a job in the record.

    Exit status: 0 press as they come, 1 something is to be done first (pieces without a size are to be set aside
    too), 2 cannot say (do not press: a part would pass its strength within the gap limits), or bad input.
    """
    from tracker.judge import check, check_lines

    source = open_source(job, record, keep_suspects=keep_suspects)
    answer = check(source.job, source.readings, source.events, today=datetime.date.today())
    if as_json:
        whole, found = answer.to_dict(), source.readings.to_dict()
        whole["readings"] |= {key: found[key] for key in ("suspects", "refusals")}
        print_json(whole)
    else:
        for line in check_lines(answer, source.readings):
            click.echo(line)
    if strict and (answer.readings.suspect or answer.readings.refused):
        ctx.exit(CANNOT_SAY)
    ctx.exit(answer.verdict.exit_status)
