"""``tenthwise seat``: will the shoulder sit flat, will the corner go home."""

from __future__ import annotations

import click

from tracker.cli.source import NO, YES, open_source, pick, print_json
from tracker.errors import OutsideModel


@click.command(
    "seat",
    short_help="will the shoulder sit flat",
    epilog="Example: tenthwise seat --fillet .015 --relief .010 --feeler .004",
)
@click.argument("job", required=False, metavar="[JOB]")
@click.option("--record", metavar="URL", envvar="TENTHWISE_RECORD", help="Take the job from this record.")
@click.option("--fit", metavar="NAME", help="Which fit of the job; needed when it has several.")
@click.option("--fillet", metavar="LENGTH", help="Radius under the shoulder (in plan: in the pocket's corner).")
@click.option("--relief", metavar="LENGTH", help="Edge break of the hole (in plan: the plug's corner); 0 is sharp.")
@click.option("--gap", metavar="LENGTH", help="Gap on one side; 0 unless stated, as in a press fit.")
@click.option(
    "--relief-kind", type=click.Choice(["chamfer", "radius"]), help="What the relief is; chamfer unless stated."
)
@click.option("--angle", type=float, help="Of the chamfer from the face, degrees; 45 unless stated.")
@click.option("--allowed", metavar="LENGTH", help="Stand-off that does no harm.")
@click.option("--feeler", metavar="LENGTH", help="Thickest leaf that goes under.")
@click.option("--feeler-stops", metavar="LENGTH", help="Thinnest leaf that does not.")
@click.option("--in-plan", is_flag=True, default=None, help="A plug's corner in the corner of a pocket.")
@click.option("--unit", type=click.Choice(["in", "mm"]), default="in", show_default=True, help="Without a job.")
@click.option("--json", "as_json", is_flag=True, help="Print the answer for machines.")
@click.pass_context
def command(
    ctx: click.Context,
    job: str | None,
    record: str | None,
    fit: str | None,
    fillet: str | None,
    relief: str | None,
    gap: str | None,
    relief_kind: str | None,
    angle: float | None,
    allowed: str | None,
    feeler: str | None,
    feeler_stops: str | None,
    in_plan: bool | None,
    unit: str,
    as_json: bool,
) -> None:
    """Say whether a shoulder sits flat on the face around a hole, and what edge break it needs.

    JOB states it under seat = { fillet, relief } of a fit; options count in its place, or without a job.

    Exit status: 0 it sits, 1 it is held off, 2 cannot say, or bad input.
    """
    from tracker.job import Feature, Fit, Job
    from tracker.judge.joints import seat_of

    if job is not None:
        source = open_source(job, record).job
        which = source.fits[pick(fit, list(source.fits), "fit")]
    else:
        if fillet is None or relief is None:
            raise OutsideModel("not enough is known of the seat; give --fillet and --relief, or a JOB that states them")
        hole, plug = (Feature(name=name, kind=name, nominal=1.0) for name in ("internal", "external"))
        source = Job(name="command line", unit=unit, features={"internal": hole, "external": plug})
        which = Fit(name="seat", internal="internal", external="external", gap_lower=None, gap_upper=None)
    leaves = None if feeler is None and feeler_stops is None else (feeler, feeler_stops)
    answer = seat_of(
        source,
        which,
        fillet=fillet,
        relief=relief,
        gap=gap,
        relief_kind=relief_kind,
        angle=angle,
        allowed=allowed,
        feeler=leaves,
        in_plan=in_plan,
    )
    if as_json:
        print_json(answer.to_dict())
    else:
        click.echo(str(answer))
    ctx.exit(YES if answer.seats and answer.explained is not False else NO)
