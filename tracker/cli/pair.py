"""``tenthwise pair``: which piece goes into which."""

from __future__ import annotations

import click

from tracker.cli.source import CANNOT_SAY, NO, YES, job_argument, open_source, pick, print_json


@click.command(
    "pair",
    short_help="which piece goes into which",
    epilog="Example: tenthwise pair sample_readings/rest_buttons",
)
@job_argument
@click.option("--fit", metavar="NAME", help="Which fit; needed when the job has several.")
@click.pass_context
def command(ctx: click.Context, job: str, record: str | None, as_json: bool, fit: str | None) -> None:
    """Pair the measured pieces: most pairs within limits, then the most room for the worst one, then nearest the aim.

    Exit status: 0 every piece of the shorter side is paired and the pairs hold as sure as the job asks, 1 not so,
    2 cannot say, or bad input.
    """
    from tracker.judge import check, pair_lines

    source = open_source(job, record)
    answer = check(source.job, source.readings, source.events)
    name = pick(fit, list(source.job.fits), "fit")
    found = next(item for item in answer.fits if item.name == name)
    if as_json:
        whole = found.to_dict()
        print_json(
            {key: whole[key] for key in ("name", "internal", "external", "pairing", "pairs", "left_over", "reasons")}
        )
    else:
        for line in pair_lines(answer, found):
            click.echo(line)
    pairing = found.pairing
    if pairing is None:
        ctx.exit(CANNOT_SAY)
    every = pairing.good == min(pairing.n_internal, pairing.n_external)
    ctx.exit(YES if every and (pairing.chance_all or 0.0) >= answer.assurance else NO)
