"""``tenthwise batch``: spread, bias and capability of one feature."""

from __future__ import annotations

import click

from tracker.cli.source import CANNOT_SAY, NO, YES, job_argument, open_source, pick, print_json


@click.command(
    "batch",
    short_help="spread, bias and capability of one feature",
    epilog="Example: tenthwise batch sample_readings/rest_buttons --feature shank",
)
@job_argument
@click.option("--feature", metavar="NAME", help="Which feature; needed when the job has several.")
@click.pass_context
def command(ctx: click.Context, job: str, record: str | None, as_json: bool, feature: str | None) -> None:
    """Say how far off target a batch is, how much its pieces differ, and what that says about the next ones.

    Exit status: 0 every piece as measured is within its limits, 1 not every one, 2 cannot say, or bad input.
    """
    from tracker.judge import check, feature_lines

    source = open_source(job, record)
    answer = check(source.job, source.readings, source.events)
    found = answer.feature(pick(feature, [item.name for item in answer.features], "feature"))
    if as_json:
        print_json(found.to_dict())
    else:
        for line in feature_lines(answer, found):
            click.echo(line)
    if found.sizes is None or (found.lower is None and found.upper is None):
        ctx.exit(CANNOT_SAY)
    size, guessed = found.sizes.size, [piece in found.sizes.expected for piece in found.sizes.piece]
    low = found.lower is None or bool((size >= found.lower).all())
    high = found.upper is None or bool((size <= found.upper).all())
    if low and high and any(guessed):
        # The size of a piece known from one side only is what its batch leads to expect, not what was measured.
        least, most = found.sizes.low[guessed], found.sizes.high[guessed]
        low = found.lower is None or bool((least >= found.lower).all())
        high = found.upper is None or bool((most <= found.upper).all())
        ctx.exit(YES if low and high else CANNOT_SAY)
    ctx.exit(YES if low and high else NO)
