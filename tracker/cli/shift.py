"""``tenthwise shift``: how much to change the next cut."""

from __future__ import annotations

import click

from tracker.cli.source import CANNOT_SAY, NO, YES, job_argument, open_source, pick, print_json


@click.command(
    "shift",
    short_help="how much to change the next cut",
    epilog="Example: tenthwise shift sample_readings/rest_buttons --feature shank",
)
@job_argument
@click.option("--feature", metavar="NAME", help="Which feature is cut next; needed when the job has several.")
@click.option("--own-target", is_flag=True, help="Aim at the drawing's target, not at what the measured mates want.")
@click.pass_context
def command(
    ctx: click.Context, job: str, record: str | None, as_json: bool, feature: str | None, own_target: bool
) -> None:
    """Say by how much to shift the next cut, in part and machine terms, or to leave it alone.

    The part that is cut to suit measured mates aims at what they want; every other feature at its own target.

    Exit status: 0 leave it alone, 1 shift, 2 cannot say, or bad input.
    """
    from tracker.judge import check, plain_name, shift_lines
    from tracker.judge.single_text import why_not

    source = open_source(job, record)
    answer = check(source.job, source.readings, source.events)
    suited = {fit.cut_next: fit.shift for fit in answer.fits if fit.shift is not None}
    names = [item.name for item in answer.features]
    if feature is None and len(suited) == 1:
        feature = next(iter(suited))
    found = answer.feature(pick(feature, names, "feature"))
    shift = found.shift if own_target else suited.get(found.name) or found.shift
    if shift is None:
        fits = [fit for fit in answer.fits if fit.cut_next == found.name]
        of_fit = next((fit.reasons["shift"] for fit in fits if "shift" in fit.reasons), None)
        of_its_own = own_target or of_fit is None or "events" in found.reasons
        click.echo(f"cannot say: {why_not(found, 'shift') if of_its_own else of_fit}", err=True)
        for fit in fits:
            if fit.unmade_words:
                click.echo(f"{plain_name(fit.name)}: {fit.unmade_words}", err=True)
        ctx.exit(CANNOT_SAY)
    if as_json:
        print_json({"feature": found.name, **shift.to_dict()})
    else:
        for line in shift_lines(answer, found, shift):
            click.echo(line)
    ctx.exit(YES if shift.leave_alone else NO)
