"""``tenthwise limits``: limits of size for a class, a fit, a pin or a screw."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from tracker.cli.source import NO, YES, print_json
from tracker.errors import LimitsError

if TYPE_CHECKING:
    from tracker.fit.drawing import DrawnChance
    from tracker.limits import ClearanceHole, FitLimits, Limits, ShopSize

    Found = Limits | FitLimits | ClearanceHole | ShopSize

_ANSI = re.compile(r"(?P<size>.*?)\s*(?P<name>(?:RC|LC|LT|LN|FN)\s*\d{1,2})", re.IGNORECASE)
_ISO_FIT = re.compile(r".*[A-Za-z]\s*\d{1,2}\s*/\s*[A-Za-z].*")

HELP = """Look up limits of size.

\b
WHAT is one of
  25H7   25H7/p6   1/2 in H7/p6    ISO 286 class or fit (mm unless said)
  0.625 FN2                        ANSI B4.1 fit (inches)
  dowel 1/4      dowel 6 mm        hardened dowel pin and its hole
  screw M6       screw 1/2         clearance hole of a cap screw
  slip 0.25      press 0.25        hole by the shop's rule of thumb

With --spread (and --gap, --pairs) the chance of a fit is said from the drawing alone: 25H7/p6 --spread 4um --pairs 12

\b
Exit status: 0 found (and the size is within), 1 the size is not within, 2 cannot say, or bad input.
"""


@click.command(
    "limits",
    help=HELP,
    short_help="limits of size for a class, a fit or a pin",
    epilog="Example: tenthwise limits 25H7/p6",
)
@click.argument("text", nargs=-1, required=True, metavar="WHAT")
@click.option("--nominal", metavar="LENGTH", help="The nominal size, when WHAT is the class alone.")
@click.option(
    "--unit",
    type=click.Choice(["in", "mm"]),
    help="Unit of a size that names none, and of the answer (ANSI B4.1 answers in inches).",
)
@click.option("--series", default="standard", show_default=True, help="Of a dowel pin: standard or oversize.")
@click.option("--size", metavar="LENGTH", help="Also say whether this size is within the limits.")
@click.option(
    "--spread",
    multiple=True,
    metavar="LENGTH",
    help="Of a fit: say the chance with this standard deviation of both sides; given twice, of the internal, then of"
    " the external one.",
)
@click.option(
    "--gap", nargs=2, metavar="LOWER UPPER", help="Gap limits for that chance; those of the fit when not given."
)
@click.option("--pairs", type=click.IntRange(1), help="Pairs that chance is asked for; one when not given.")
@click.option("--json", "as_json", is_flag=True, help="Print the answer for machines.")
@click.pass_context
def command(
    ctx: click.Context,
    text: tuple[str, ...],
    nominal: str | None,
    unit: str | None,
    series: str,
    size: str | None,
    spread: tuple[str, ...],
    gap: tuple[str, str] | None,
    pairs: int | None,
    as_json: bool,
) -> None:
    """Look up limits of size; see `HELP`."""
    from tracker.limits import FitLimits

    found = _look_up(" ".join(text).strip(), nominal, unit, series)
    inside = None if size is None else _inside(found, size)
    drawn = _drawn(found, spread, gap, pairs or 1) if spread or gap or pairs else None
    if as_json:
        more = {} if inside is None else {"within": inside}
        print_json(found.to_dict() | more | ({} if drawn is None else {"drawn": drawn.to_dict()}))
    else:
        click.echo(str(found))
        if drawn is not None:
            click.echo(drawn.said(found.internal.unit if isinstance(found, FitLimits) else ""))
        if inside is not None:
            click.echo(f"{size} is {'within' if inside else 'not within'} these limits")
    ctx.exit(NO if inside is False else YES)


def _look_up(text: str, nominal: str | None, unit: str | None, series: str) -> Found:
    from tracker.limits import clearance_hole, dowel_fit, dowel_pin, fit_iso, limits_ansi, limits_iso, shop_hole
    from tracker.units import parse_length, read_length

    first, _, rest = text.partition(" ")
    word = first.casefold()
    if word == "screw":
        _sized(rest, word, "M6")
        return clearance_hole(rest)
    if word == "dowel":
        _sized(rest, word, "1/4")
        try:
            return dowel_fit(rest, series, unit=unit or "in")
        except LimitsError:
            return dowel_pin(rest, series, unit=unit or "in")  # a pin for which no hole is suggested
    if word in ("slip", "press"):
        _sized(rest or nominal, word, "0.25")
        used = unit or ("mm" if read_length(rest or nominal or "", "in").unit == "mm" else "in")
        return shop_hole(parse_length(rest or nominal or "", used), word, unit=used)
    ansi = _ANSI.fullmatch(text)
    if ansi is not None:
        if not ansi["size"] and nominal is None:
            raise LimitsError(f"{text} has no size; write it before the class: 0.625 {text}")
        return limits_ansi(parse_length(_in_unit(ansi["size"] or nominal or "", unit), "in"), ansi["name"])
    look = fit_iso if _ISO_FIT.fullmatch(text) else limits_iso
    if nominal is None:
        return look(text, unit=unit)
    used = unit or ("mm" if read_length(nominal, "mm").unit == "mm" else "in")
    return look(text, parse_length(nominal, used), unit=used)


def _drawn(found: Found, spread: tuple[str, ...], gap: tuple[str, str] | None, pairs: int) -> DrawnChance:
    """Return the chance of a fit from its limits of size and a stated spread, nothing measured yet."""
    from tracker.fit.drawing import chance_drawn
    from tracker.limits import FitLimits
    from tracker.units import parse_length

    if not isinstance(found, FitLimits):
        raise LimitsError("--spread, --gap and --pairs go with a fit, such as 25H7/p6, not with the limits of one size")
    if len(spread) > 2:
        raise LimitsError(f"--spread is given {len(spread)} times; accepted is once, or twice: internal, then external")
    unit = found.internal.unit
    sds: list[float | None] = [parse_length(text, unit) for text in spread] or [None]
    for text, sd in zip(spread, sds):
        if sd is not None and sd < 0:
            raise LimitsError(f"--spread is {text}; accepted is a standard deviation from zero up")
    low, high = (found.gap_lower, found.gap_upper) if gap is None else (parse_length(text, unit) for text in gap)
    if low is not None and high is not None and low >= high:
        raise LimitsError(f"--gap is {' '.join(gap or ())}: the lower limit is not under the upper limit; swap them")
    return chance_drawn(
        (found.internal.lower, found.internal.upper),
        (found.external.lower, found.external.upper),
        low,
        high,
        internal_sd=sds[0],
        external_sd=sds[-1],
        pairs=pairs,
    )


def _sized(rest: str | None, word: str, such: str) -> None:
    if not rest:
        raise LimitsError(f"{word} has no size; write it after the word: {word} {such}")


def _in_unit(text: str, unit: str | None) -> str:
    """Return a size with its unit written out where the option names it and the text does not."""
    from tracker.units import read_length

    return text if unit is None or read_length(text, unit).unit_written else f"{text} {unit}"


def _inside(found: Found, size: str) -> bool:
    from tracker.limits import Limits
    from tracker.units import parse_length

    if not isinstance(found, Limits):
        raise LimitsError("--size goes with the limits of one size, such as 25H7, not with a fit or a hole of a chart")
    return found.lower <= parse_length(size, found.unit) <= found.upper
