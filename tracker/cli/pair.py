"""``tenthwise pair``: which piece goes into which."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from tracker.cli.source import CANNOT_SAY, NO, YES, job_argument, open_source, pick, print_json

if TYPE_CHECKING:
    from tracker.decide import Verdict
    from tracker.judge import AssemblyCheck, Check, ClosureCheck, FitCheck

CLOSURE_KEYS = ("name", "lower", "upper", "pairs", "made", "made_how", "left_over", "reasons")
FIT_KEYS = ("name", "internal", "external", "pairing", "pairs", "left_over", "reasons")


@click.command(
    "pair",
    short_help="which piece goes into which",
    epilog="Example: tenthwise pair sample_readings/rest_buttons",
)
@job_argument
@click.option("--fit", metavar="NAME", help="Which fit, or which closure; needed when nothing joins them.")
@click.pass_context
def command(ctx: click.Context, job: str, record: str | None, as_json: bool, fit: str | None) -> None:
    """Pair the measured pieces: most pairs within limits, then the most room for the worst one, then nearest the aim.

    Fits and closures on the same pieces are met at once.

    Exit status: 0 every piece of the shorter side is paired and the pairs hold as sure as the job asks, 1 not so,
    pieces without a size are to be set aside, or a part would pass its strength when pressed, 2 cannot say, or bad
    input.
    """
    from tracker.judge import check

    source = open_source(job, record)
    answer = check(source.job, source.readings, source.events)
    if fit is None and len(answer.assemblies) == 1 and _joins_all(answer):
        ctx.exit(_assembly(answer, answer.assemblies[0], as_json=as_json))
    fits = {item.name: item for item in answer.fits}
    closures = {item.name: item for item in answer.closures if item.name not in fits}
    of_closures = fit in closures or (closures and not fits)
    name = pick(fit, list(closures), "closure") if of_closures else pick(fit, list(fits), "fit")
    ctx.exit(
        _fit(answer, fits[name], as_json=as_json) if name in fits else _closure(answer, closures[name], as_json=as_json)
    )


def _joins_all(answer: Check) -> bool:
    """Return whether every fit and closure of the job is met at once."""
    together = [item.assembly for item in answer.fits] + [item.assembly for item in answer.closures]
    return all(name is not None for name in together)


def _status(pairs: int, wanted: int, chance: float | None, verdict: Verdict) -> int:
    return YES if pairs == wanted and (chance or 0.0) >= verdict.assurance and not verdict.unread else NO


def _fit(answer: Check, found: FitCheck, *, as_json: bool) -> int:
    from tracker.judge import pair_lines

    if as_json:
        whole = found.to_dict()
        print_json({key: whole[key] for key in FIT_KEYS})
    else:
        for line in pair_lines(answer, found):
            click.echo(line)
    pairing = found.pairing
    if pairing is None:
        return CANNOT_SAY
    if found.do_not_press:
        return NO
    wanted = min(pairing.n_internal, pairing.n_external)
    return _status(pairing.good, wanted, pairing.chance_all, found.verdict)


def _assembly(answer: Check, found: AssemblyCheck, *, as_json: bool) -> int:
    from tracker.judge import assembly_pair_lines

    if as_json:
        whole = found.to_dict()
        print_json({key: value for key, value in whole.items() if key not in ("plan", "verdict")})
    else:
        for line in assembly_pair_lines(answer, found):
            click.echo(line)
    if found.do_not_press:
        return NO
    return _status(len(found.pairs), found.wanted, found.chance_pairs, found.verdict)


def _closure(answer: Check, found: ClosureCheck, *, as_json: bool) -> int:
    from tracker.judge import closure_pair_lines

    if as_json:
        whole = found.to_dict()
        print_json({key: whole[key] for key in CLOSURE_KEYS})
    else:
        for line in closure_pair_lines(answer, found):
            click.echo(line)
    if found.chance_pairs is None and not found.made:
        return CANNOT_SAY
    good = sum(row.within for row in found.made) if found.made else len(found.pairs)
    wanted = len(found.made) or found.verdict.wanted
    return _status(good, wanted, found.chance_pairs, found.verdict)
