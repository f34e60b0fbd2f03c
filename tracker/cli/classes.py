"""``tenthwise classes``: sort both sides into trays."""

from __future__ import annotations

import click

from tracker.cli.source import CANNOT_SAY, NO, YES, job_argument, open_source, pick, print_json


@click.command(
    "classes",
    short_help="sort both sides into trays",
    epilog="Example: tenthwise classes sample_readings/coupling_pins --count 3",
)
@job_argument
@click.option("--fit", metavar="NAME", help="Which fit; needed when the job has several.")
@click.option("--count", type=click.IntRange(1, 50), default=3, show_default=True, help="How many trays a side.")
@click.option(
    "--method",
    type=click.Choice(["best", "width", "count"]),
    default="best",
    show_default=True,
    help="Tray limits: best for these pieces, of equal width, or with equally many pieces.",
)
@click.pass_context
def command(
    ctx: click.Context, job: str, record: str | None, as_json: bool, fit: str | None, count: int, method: str
) -> None:
    """Sort both sides into trays that go together tray by tray (selective assembly).

    Exit status: 0 so many are expected good that all are as sure as the job asks, 1 not so, or a part would pass its
    strength when pressed, 2 cannot say, or bad input.
    """
    from tracker.judge import Scale, check, tray_lines, trays_of

    source = open_source(job, record)
    answer = check(source.job, source.readings, source.events)
    name = pick(fit, list(source.job.fits), "fit")
    found = next(item for item in answer.fits if item.name == name)
    inner, outer = answer.feature(found.internal), answer.feature(found.external)
    trays = trays_of(answer, found, count, method)
    scale = Scale(answer.unit, min(inner.step, outer.step))
    if as_json:
        print_json({"fit": found.name, **trays.to_dict()})
    else:
        for line in tray_lines(found, trays, scale):
            click.echo(line)
    wanted = min(trays.n_internal, trays.n_external)
    if not wanted:
        ctx.exit(CANNOT_SAY)
    if found.do_not_press:
        ctx.exit(NO)
    ctx.exit(YES if wanted - trays.expected_good <= 1 - answer.assurance else NO)
