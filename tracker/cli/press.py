"""``tenthwise press``: press force, holding force and stresses of a press fit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from tracker.cli.source import NO, YES, open_source, pick, print_json
from tracker.errors import NotEnoughData, OutsideModel

if TYPE_CHECKING:
    from tracker.fit.press_results import PressFit
    from tracker.fit.press_window import InterferenceWindow


@click.command(
    "press",
    short_help="press force, holding force and stresses of a press fit",
    epilog="Example: tenthwise press --diameter .625 --length .375 --interference .0006 --outer 2",
)
@click.argument("job", required=False, metavar="[JOB]")
@click.option("--record", metavar="URL", envvar="TENTHWISE_RECORD", help="Take the job from this record.")
@click.option("--fit", metavar="NAME", help="Which fit of the job; needed when it has several.")
@click.option("--any-order", is_flag=True, help="Every piece with every piece, whatever the verdict.")
@click.option("--diameter", metavar="LENGTH", help="Of the joint.")
@click.option("--length", metavar="LENGTH", help="Of the joint.")
@click.option("--interference", metavar="LENGTH", multiple=True, help="On the diameter; several times for a range.")
@click.option("--inner", metavar="LENGTH", help="Bore of the inner part; solid unless stated.")
@click.option("--outer", metavar="LENGTH", help="Outside of the outer part; a thick plate unless stated.")
@click.option("--friction", type=float, multiple=True, help="0.08 to 0.16 unless stated; twice for low and high.")
@click.option("--inner-material", metavar="NAME", help="steel unless stated.")
@click.option("--outer-material", metavar="NAME", help="steel unless stated.")
@click.option("--inner-rz", metavar="LENGTH", help="Roughness Rz of the inner part.")
@click.option("--outer-rz", metavar="LENGTH", help="Roughness Rz of the outer part.")
@click.option(
    "--clearance", metavar="LENGTH", help="For dropping in hot or cold; a thousandth of the diameter unless stated."
)
@click.option("--service", type=float, help="Temperature in service, degrees F (in) or C (mm).")
@click.option("--hold", type=float, help="Instead of an interference: the force to be held, lbf (in) or N (mm).")
@click.option("--shape", help="round, keyed or flat.")
@click.option("--unit", type=click.Choice(["in", "mm"]), default="in", show_default=True, help="Without a job.")
@click.option("--json", "as_json", is_flag=True, help="Print the answer for machines.")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    job: str | None,
    record: str | None,
    fit: str | None,
    any_order: bool,
    diameter: str | None,
    interference: tuple[str, ...],
    friction: tuple[float, ...],
    clearance: str | None,
    service: float | None,
    hold: float | None,
    unit: str,
    as_json: bool,
    **stated: Any,
) -> None:
    """Work out a press fit of round parts: force by depth, hold, stress, heat or cold, and which press is enough.

    JOB states it under press = { length, outer } of a fit, and the pairs that its verdict lets meet give the
    interference; options count in its place, or without a job.

    Exit status: 0 it presses and holds, also with a margin from 1 to under the 1.25 that is asked (the first line says
    so), 1 a part passes its strength or a pair is loose, when pressed or in service (with --hold: no interference holds
    that with a margin of 1.25), 2 cannot say, or bad input.
    """
    stated |= {
        "friction": None if not friction else friction[0] if len(friction) == 1 else (min(friction), max(friction)),
        "assembly_clearance": clearance,
        "service_temperature": service,
    }
    if hold is not None:
        window = _window(diameter, hold, unit, stated)
        print_json(window.to_dict()) if as_json else click.echo(str(window))
        ctx.exit(YES if window.possible else NO)
    over = ""
    if job is None:
        answer = _from_options(diameter, interference, unit, stated)
    else:
        answer, over = _from_job(job, record, fit, any_order, stated)
    if as_json:
        print_json(answer.to_dict())
    else:
        click.echo("\n".join(answer.said(over)))
    ctx.exit(YES if answer.sound else NO)


def _from_options(diameter: str | None, interference: tuple[str, ...], unit: str, stated: dict[str, Any]) -> PressFit:
    import numpy as np

    from tracker.job import Feature, Fit, Job
    from tracker.judge.joints import press_of
    from tracker.units import parse_length

    if diameter is None or not interference or stated["length"] is None:
        raise OutsideModel(
            "not enough is known of the press fit; give --diameter, --length and --interference,"
            " or a JOB that states it"
        )
    size = parse_length(diameter, unit)
    bore, plug = (Feature(name=name, kind=name, nominal=size) for name in ("internal", "external"))
    return press_of(
        Job(name="command line", unit=unit, features={"internal": bore, "external": plug}),
        Fit(name="press", internal="internal", external="external", gap_lower=None, gap_upper=None),
        -np.array([parse_length(item, unit) for item in interference]),
        **stated,
    )


def _window(diameter: str | None, hold: float, unit: str, stated: dict[str, Any]) -> InterferenceWindow:
    from tracker.fit.press_window import interference_window
    from tracker.units import parse_length

    if diameter is None or stated["length"] is None:
        raise OutsideModel("not enough is known of the joint; --hold goes with --diameter and --length, without a JOB")
    lengths = ("length", "inner", "outer", "inner_rz", "outer_rz", "assembly_clearance")
    known = {
        key: parse_length(value, unit) if key in lengths else value
        for key, value in stated.items()
        if value is not None and key != "service_temperature"
    }
    return interference_window(parse_length(diameter, unit), known.pop("length"), hold=hold, units=unit, **known)


def _from_job(
    job: str, record: str | None, fit: str | None, any_order: bool, stated: dict[str, Any]
) -> tuple[PressFit, str]:
    import dataclasses

    import numpy as np

    from tracker.judge import check
    from tracker.judge.joints import press_of
    from tracker.judge.meeting import ANY_ORDER

    source = open_source(job, record)
    name = pick(fit, list(source.job.fits), "fit")
    own = source.job.fits[name]
    which = dataclasses.replace(
        own, press={**own.press, **{key: item for key, item in stated.items() if item is not None}}
    )
    asked = dataclasses.replace(source.job, fits={**source.job.fits, name: which})
    answer = check(asked, source.readings, source.events)
    found = next(item for item in answer.fits if item.name == name)
    inner, outer = answer.feature(found.internal).sizes, answer.feature(found.external).sizes
    held_up = [item for item in (answer.feature(found.internal), answer.feature(found.external)) if item.one_sided]
    if held_up:
        raise NotEnoughData(f"{held_up[0].reasons['sizes']}; the interference needs the sizes of both sides")
    if inner is None or outer is None:
        raise NotEnoughData(f"{name} has readings of one side only at most; the interference needs both sides measured")
    if any_order:
        return press_of(asked, which, np.subtract.outer(inner.size, outer.size).ravel()), ANY_ORDER
    if found.press is not None:
        return found.press, found.press_over
    if "press" in found.reasons:
        raise OutsideModel(found.reasons["press"])
    if not which.press:
        press_of(asked, which, np.zeros(1))  # says what a job states
    raise NotEnoughData(
        f"no pair of {name} is within its limits; ask with --any-order for every piece with every piece"
    )
