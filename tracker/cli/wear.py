"""``tenthwise wear``: is the tool wearing, and how many pieces are left."""

from __future__ import annotations

import click

from tracker.cli.source import CANNOT_SAY, NO, YES, job_argument, open_source, pick, print_json


@click.command(
    "wear",
    short_help="is the tool wearing, and how many pieces are left",
    epilog="Example: tenthwise wear sample_readings/coupling_pins --feature pin",
)
@job_argument
@click.option("--feature", metavar="NAME", help="Which feature; needed when the job has several.")
@click.pass_context
def command(ctx: click.Context, job: str, record: str | None, as_json: bool, feature: str | None) -> None:
    """Say whether size moves with part number between events, what each event did, and how many pieces are left.

    Where size surely jumps and no event says why, neither wear nor pieces left can be told until the event is logged.

    Exit status: 0 no wear is sure, 1 wear seen, 2 cannot say, or bad input.
    """
    from tracker.judge import check, wear_lines, wear_verdict
    from tracker.judge.single_text import why_not
    from tracker.judge.text import SOMETHING_CHANGED

    source = open_source(job, record)
    answer = check(source.job, source.readings, source.events)
    found = answer.feature(pick(feature, [item.name for item in answer.features], "feature"))
    if found.wear is None:
        click.echo(f"cannot say: {why_not(found, 'wear')}", err=True)
        ctx.exit(CANNOT_SAY)
    if as_json:
        print_json({"feature": found.name, **found.wear.to_dict()})
    else:
        for line in wear_lines(answer, found):
            click.echo(line)
    word = wear_verdict(found.wear)
    ctx.exit(CANNOT_SAY if word == SOMETHING_CHANGED else NO if word == "wear seen" else YES)
