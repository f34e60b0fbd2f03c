"""``tenthwise gauge``: is the gauge good enough for this tolerance."""

from __future__ import annotations

import click

from tracker.cli.source import CANNOT_SAY, NO, YES, job_argument, open_source, pick, print_json


@click.command(
    "gauge",
    short_help="is the gauge good enough for this tolerance",
    epilog="Example: tenthwise gauge sample_readings/rest_buttons --feature bore",
)
@job_argument
@click.option("--feature", metavar="NAME", help="The feature it measures; all of them when not given.")
@click.pass_context
def command(ctx: click.Context, job: str, record: str | None, as_json: bool, feature: str | None) -> None:
    """Say whether a gauge can tell good from bad: its step, its repeats, its uncertainty against the tolerance.

    When two or more operators measured the same pieces, a study of them stands beside it.

    Exit status: 0 it serves, 1 it does not, 2 cannot say, or bad input.
    """
    from tracker.judge import check, gauge_lines, judge_gauge

    source = open_source(job, record)
    answer = check(source.job, source.readings, source.events)
    names = [item.name for item in answer.features]
    wanted = names if feature is None else [pick(feature, names, "feature")]
    found = [judge_gauge(source.job, answer.feature(name), source.readings.readings) for name in wanted]
    if as_json:
        print_json({"job": answer.job, "unit": answer.unit, "gauges": [item.to_dict() for item in found]})
    else:
        for index, item in enumerate(found):
            if index:
                click.echo("")
            for line in gauge_lines(answer, item):
                click.echo(line)
    said = [item.serves for item in found]
    ctx.exit(NO if False in said else CANNOT_SAY if None in said else YES)
