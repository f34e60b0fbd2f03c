"""The ways to go on, as what they cost against the assemblies expected good."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from dashboard.figures.band import brief
from dashboard.figures.beside import Mark, Spot, beside
from dashboard.figures.drawing import Drawing, width_of
from tracker.decide.words import plural, share
from tracker.judge import FitCheck, plain_name

LINE = 19
LONGEST = 16
BAND = 34
TOP = 34
NEAR = 17
PLANNED = "cheapest plan"
"""The name of the plan among its alternatives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way as it is drawn: its names, its place, and whether its risk is within what is asked."""

    name: str
    cost: float
    good: float
    risk: float
    safe: bool


def way_names(fit: FitCheck) -> dict[str, str]:
    """Return what the ways are called, with the names of the parts."""
    inner, outer = (brief(plural(plain_name(name)), LONGEST) for name in (fit.internal, fit.external))
    return {
        "press in any order": "any order",
        "pair": "paired",
        "sort into classes": "in trays",
        "remake every external piece": f"all {outer} new",
        "remake every internal piece": f"all {inner} new",
        PLANNED: "the plan",
    }


def ways_of(fit: FitCheck) -> list[Way]:
    """Return the ways of the plan of a fit, each under its name on the page; none where there is no plan."""
    if fit.plan is None:
        return []
    names, asked = way_names(fit), 1 - fit.plan.assurance
    return [
        Way(
            name=names.get(item.name, item.name),
            cost=item.cost,
            good=item.expected_good,
            risk=item.risk,
            safe=item.risk <= asked,
        )
        for item in fit.plan.alternatives
    ]


def ways_title(ways: Sequence[Way], wanted: int, chosen: str = "") -> str:
    """Return what the chosen way costs and gives; without one the cheapest of those safe enough, or that none is.

    ``chosen`` is the name of the way that the page goes by, so that picture and page name one way.
    """
    safe = [way for way in ways if way.safe]
    if not safe:
        least = min(ways, key=lambda way: way.risk)
        return f"No way is sure enough; {least.name} risks least, {risk_words(least.risk)}"
    best = min(safe, key=lambda way: way.cost)
    same = [way for way in safe if way.cost <= best.cost * 1.005]
    way = next((way for way in safe if way.name == chosen), same[0])
    return f"{way.name[:1].upper()}{way.name[1:]} costs {money(way.cost)} and gives {way.good:.1f} of {wanted} good"


def risk_words(risk: float) -> str:
    """Return a risk in words; none is so small that it is nothing, none so large that nothing else can be.

    Examples
    --------
    >>> risk_words(0.0), risk_words(0.07), risk_words(1.0)
    ('under 0.1 %', '7 %', 'over 99.9 %')
    """
    return share(min(max(risk, 1e-6), 1 - 1e-6))


def risks_words(risks: Sequence[float]) -> str:
    """Return the risks of several ways in words: one where they read alike, else from the least to the most."""
    least, most = risk_words(min(risks)), risk_words(max(risks))
    return most if least == most else f"{least.removesuffix(' %')} to {most}"


def money(value: float) -> str:
    """Return a cost with no more digits than it deserves.

    Examples
    --------
    >>> money(34.05), money(7.5), money(931.46)
    ('34', '7.5', '931')
    """
    return f"{value:,.0f}" if value >= 20 or abs(value - round(value)) < 0.05 else f"{value:,.1f}"


def ways_picture(ways: Sequence[Way], wanted: int, asked: float, width: float = 900, *, chosen: str = "") -> Drawing:
    """Return the ways with cost from left to right and assemblies expected good from below upward.

    A full bead is a way whose risk of spoiling one is within what is asked; an open, struck one is not.

    Parameters
    ----------
    ways : sequence of Way
    wanted : int
        Assemblies wanted: the limit at the top.
    asked : float
        The largest risk wanted.
    width : float
    chosen : str
        As `ways_title` takes it.

    Returns
    -------
    Drawing
    """
    left, right = 46.0, width - 10
    groups = _groups(ways, left, right, wanted)
    height = 300.0 if width >= 600 else 330.0
    floor = height - BAND - 24
    drawing = Drawing(
        width,
        height,
        ways_title(ways, wanted, chosen),
        f"Up: assemblies expected good of {wanted}. To the right: cost. A full bead keeps the risk of spoiling one"
        f" within {share(asked)}; a struck one does not.",
    )
    lowest = _lowest(ways, wanted)
    highest = max(way.cost for way in ways) * 1.08 or 1.0

    def x(cost: float) -> float:
        return left + 10 + cost / highest * (right - left - 20)

    def y(good: float) -> float:
        return floor - 12 - (good - lowest) / (wanted - lowest) * (floor - TOP - 12)

    drawing.rect(left, TOP - 12, right - left, floor - TOP + 12, "ground")
    for good in _rungs(lowest, wanted):
        drawing.line(left, y(good), right, y(good), "hair")
        drawing.text(left - 8, y(good) + 5, f"{good:g}", "n", "end")
    drawing.line(left, y(wanted), right, y(wanted), "limit")
    drawing.text(right, y(wanted) - 10, f"all {wanted} good", "wb", "end")
    _cost_scale(drawing, left, right, floor, highest, x)
    marks = [_mark(group, x(group[0].cost), y(group[0].good)) for group in groups]
    spots = beside(marks, (left + 2, TOP + 3, right - 2, floor - 2))
    for spot in spots:
        if spot.lead is not None:
            (from_x, from_y), (to_x, to_y) = spot.lead
            drawing.line(from_x, from_y, to_x, to_y, "lead")
    for group, mark, spot in zip(groups, marks, spots):
        _bead(drawing, group, mark, spot)
    return drawing


def _lowest(ways: Sequence[Way], wanted: int) -> float:
    least = min(way.good for way in ways)
    return max(0.0, math.floor(min(least, wanted - 1) - 0.12 * (wanted - least)))


def _rungs(lowest: float, wanted: int) -> list[float]:
    step = max(1, round((wanted - lowest) / 5))
    return [float(value) for value in range(math.ceil(lowest), wanted + 1) if (wanted - value) % step == 0]


def _groups(ways: Sequence[Way], left: float, right: float, wanted: int) -> list[list[Way]]:
    """Return ways that stand on one another as one group."""
    most = max(way.cost for way in ways) or 1.0
    lowest = _lowest(ways, wanted)
    groups: list[list[Way]] = []
    for way in sorted(ways, key=lambda each: each.cost):
        for group in groups:
            across = abs(group[0].cost - way.cost) / most * (right - left)
            up = abs(group[0].good - way.good) / (wanted - lowest) * 220
            if math.hypot(across, up) < NEAR and group[0].safe == way.safe:
                group.append(way)
                break
        else:
            groups.append([way])
    return groups


def _cost_scale(
    drawing: Drawing, left: float, right: float, floor: float, highest: float, x: Callable[[float], float]
) -> None:
    drawing.rect(left, floor, right - left, BAND, "band")
    drawing.line(left, floor, right, floor, "tick")
    step = _round_step(highest / max((right - left) / 92, 2))
    value = 0.0
    while value <= highest:
        at = x(value)
        words = f"{value:,.0f}" if step >= 1 else f"{value:g}"
        drawing.line(at, floor, at, floor + 9, "tick")
        if at + width_of(words, "nb") / 2 < right:
            drawing.text(at, floor + 26, words, "nb", "middle")
        value += step
    drawing.text(right, floor + BAND + 18, "cost, in the job's own currency or minutes", "w2", "end")


def _round_step(least: float) -> float:
    power = 10.0 ** math.floor(math.log10(least))
    return next(part * power for part in (1, 2, 5, 10) if part * power >= least)


def _lines(group: Sequence[Way]) -> list[tuple[str, str]]:
    """Return what stands beside a bead, line by line, each with its look."""
    return [*[(way.name, "wb") for way in group], (f"risk {risks_words([way.risk for way in group])}", "w2")]


def _mark(group: Sequence[Way], x: float, y: float) -> Mark:
    lines = _lines(group)
    return Mark(x=x, y=y, wide=max(width_of(line, look) for line, look in lines), tall=LINE * len(lines))


def _bead(drawing: Drawing, group: Sequence[Way], mark: Mark, spot: Spot) -> None:
    first, lines = group[0], _lines(group)
    names = ", ".join(way.name for way in group)
    says = f"{names}: cost {money(first.cost)}, {first.good:.1f} good, {lines[-1][0]}"
    drawing.bead(mark.x, mark.y, form="full" if first.safe else "struck", says=says)
    for index, (line, look) in enumerate(lines):
        drawing.text(spot.x, spot.box[1] + 14 + LINE * index, line, look, spot.at)
