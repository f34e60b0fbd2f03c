"""The plain ways beside the plan: any order, pairs, trays, remake a whole side; what each would bring and cost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from tracker.decide.edges import Aim, Side, chance_of_all
from tracker.decide.prices import Prices
from tracker.decide.words import count, share
from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import best_target, chance_any, classes, pair
from tracker.fit.checks import Floats
from tracker.result import Result

MOST_TRAYS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative(Result):
    """One way to go on with the measured batch.

    Attributes
    ----------
    name : str
        Which way.
    assemblies : int
        Assemblies it makes; what is short of those wanted is made up by new pieces, where they can be made.
    expected_good : float
        Of these, expected good.
    pressed, pressed_good : int and float
        Assemblies of pieces that are there, and how many of those are expected good.
    cost : float
        Work, spoiled assemblies at their chance, and those left unmade at the cost of a spoiled one.
    minutes : float or None
        Time of the work, where times were given.
    risk : float
        Chance that at least one assembly is spoiled.
    target : float or None
        Size that a remade side is cut to (None: nothing is remade as a whole).
    words : str
        What it means in pieces.
    """

    name: str
    assemblies: int
    expected_good: float
    pressed: int
    pressed_good: float
    cost: float
    minutes: float | None
    risk: float
    target: float | None
    words: str

    def __str__(self) -> str:
        return (
            f"{self.name}: {self.expected_good:.2f} of {count(self.assemblies, 'assembly', 'assemblies')} good, cost "
            f"{self.cost:.4g}, {share(self.risk)} risk of spoiling one"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What the alternatives are worked out from: both sides, the aim, costs and times, assemblies wanted."""

    internal: Side
    external: Side
    aim: Aim
    price: Prices
    minutes: Prices | None
    wanted: int

    @property
    def pressed(self) -> int:
        """Pairs that can be made of the pieces there are."""
        return min(self.internal.read.size, self.external.read.size, self.wanted)

    @property
    def limits(self) -> tuple[float | None, float | None]:
        """The gap limits as the fit room takes them, None where open."""
        low, high = self.aim.low, self.aim.high
        return (low if np.isfinite(low) else None, high if np.isfinite(high) else None)

    @property
    def noise(self) -> tuple[np.ndarray, np.ndarray]:
        """Standard uncertainty of each piece's size, both sides."""
        return self.internal.noise, self.external.noise

    def chances(self, rows: np.ndarray, columns: np.ndarray) -> Floats:
        """Return the chance to be good of each of these internal with each of these external pieces as they are."""
        gap = self.internal.true[rows][:, None] - self.external.true[columns][None, :]
        sd = np.hypot(self.internal.true_sd[rows][:, None], self.external.true_sd[columns][None, :])
        return self.aim.chance(gap, sd)

    def new_mate(self) -> tuple[str, float] | None:
        """Return the cheapest side to make a new piece on, to suit a piece there is, and its chance to be good."""
        offers = []
        for side, other in ((self.internal, self.external), (self.external, self.internal)):
            work = self.price.remake.get(side.name)
            if work is not None and side.make_sd is not None:
                sd = np.hypot(np.sqrt(np.mean(other.true_sd**2)), side.make_sd)
                good = float(self.aim.chance(np.array([self.aim.gap]), np.array([sd]))[0])
                offers.append((work + self.price.spoiled_assembly * (1 - good), side.name, good))
        return min(offers)[1:] if offers else None


def alternatives(case: Case) -> tuple[tuple[Alternative, ...], tuple[str, ...]]:
    """Return the plain ways, and remarks on those that cannot be worked out."""
    ways, remarks = [_any_order(case), _as_paired(case)], []
    offers: list[tuple[str, Callable[[], Alternative]]] = [("sorting", lambda: _in_trays(case))]
    for side, mates in ((case.external, case.internal), (case.internal, case.external)):
        if side.name in case.price.remake and side.make_sd:
            offers.append((f"remaking every {side.name} piece", partial(_all_new, case, side, mates)))
    for name, way in offers:
        try:
            ways.append(way())
        except TrackerError as error:
            remarks.append(f"What {name} would bring cannot be said: {error}")
    return tuple(ways), tuple(remarks)


def _any_order(case: Case) -> Alternative:
    inside, outside = case.internal, case.external
    if min(inside.read.size, outside.read.size) >= 2:
        met = chance_any(
            inside.read,
            outside.read,
            *case.limits,
            uncertainty=case.noise,
            common_uncertainty=case.aim.common,
            pairs=case.pressed,
        )
        each, every = met.pair_measured, met.all_measured
    else:
        each = every = float(np.mean(case.chances(np.arange(inside.read.size), np.arange(outside.read.size))))
    return _sum(case, "press in any order", case.pressed, case.pressed * each, every, "whichever comes to hand")


def _as_paired(case: Case) -> Alternative:
    best = pair(
        case.internal.read,
        case.external.read,
        *case.limits,
        target=case.aim.gap,
        uncertainty=case.noise,
        common_uncertainty=case.aim.common,
    )
    best_first = np.argsort(-best.chance_each, kind="stable")[: case.wanted]
    rows, columns = best.internal[best_first], best.external[best_first]
    gap = case.internal.true[rows] - case.external.true[columns]
    sd = np.hypot(case.internal.true_sd[rows], case.external.true_sd[columns])
    every = chance_of_all(gap, sd, case.aim)
    good = float(np.sum(best.chance_each[best_first]))
    return _sum(case, "pair", len(rows), good, every, f"{count(len(rows), 'pair')} within limits")


def _in_trays(case: Case) -> Alternative:
    """Return sorting into the number of trays, two to four, that costs least."""
    most = min(MOST_TRAYS, len(np.unique(case.internal.read)), len(np.unique(case.external.read)))
    if most < 2:
        raise NotEnoughData("one size on a side cannot be sorted")
    return min((_sorted_into(case, number) for number in range(2, most + 1)), key=lambda way: way.cost)


def _sorted_into(case: Case, number: int) -> Alternative:
    found = classes(case.internal.read, case.external.read, *case.limits, number)
    good, pressed = 0.0, 0
    each = []
    for tray in range(number):
        rows, columns = np.flatnonzero(found.class_internal == tray), np.flatnonzero(found.class_external == tray)
        pairs = min(rows.size, columns.size, case.wanted - pressed)
        if pairs:
            chance = float(np.mean(case.chances(rows, columns)))
            pressed += pairs
            good += pairs * chance
            each += [chance] * pairs
    every = float(np.prod(each))
    words = f"{number} trays a side, taken at random within a tray"
    return _sum(case, "sort into classes", pressed, good, every, words)


def _all_new(case: Case, side: Side, mates: Side) -> Alternative:
    """Return remaking a whole side, cut to the target that suits the mates as measured."""
    sd = side.make_sd or 0.0
    aim = best_target(mates.read, sd, *case.limits, side=side.name, uncertainty=mates.noise)
    size = float(case.aim.cut_to(np.array([aim.target]))[0])
    gap = (mates.true - size) if side.name == "external" else (size - mates.true)
    spread = np.hypot(mates.true_sd, sd)
    each = case.aim.chance(gap, spread)
    made = min(case.wanted, mates.read.size)
    good = made * float(np.mean(each))
    every = chance_of_all(gap, spread, case.aim) if made == mates.read.size else float(np.mean(each)) ** made
    words = f"{count(made, f'new {side.name} piece')}, all cut to one size"
    pressed = _sum(case, f"remake every {side.name} piece", made, good, every, words)
    minutes = pressed.minutes
    if minutes is not None and case.minutes is not None:
        minutes += made * case.minutes.remake.get(side.name, 0.0)
    return replace(pressed, cost=pressed.cost + made * case.price.remake[side.name], minutes=minutes, target=size)


def _sum(case: Case, name: str, pressed: int, good: float, every: float, words: str) -> Alternative:
    """Return the alternative with what is short of the assemblies wanted made up by new pieces."""
    short, from_pieces = case.wanted - pressed, good
    cost = pressed * case.price.press + case.price.spoiled_assembly * (pressed - good)
    minutes = None if case.minutes is None else pressed * case.minutes.press
    mate = case.new_mate() if short else None
    made = pressed
    if mate is not None:
        side, chance = mate
        made += short
        good += short * chance
        every *= chance**short
        cost += short * (case.price.press + case.price.remake[side] + case.price.spoiled_assembly * (1 - chance))
        if minutes is not None and case.minutes is not None:
            minutes += short * (case.minutes.press + case.minutes.remake.get(side, 0.0))
        words += f", {count(short, f'new {side} piece')}"
    elif short:
        cost += short * case.price.spoiled_assembly
        words += f", {count(short, 'assembly', 'assemblies')} not made"
    return Alternative(
        name=name,
        assemblies=made,
        expected_good=good,
        pressed=pressed,
        pressed_good=from_pieces,
        cost=cost,
        minutes=minutes,
        risk=min(max(1.0 - every, 0.0), 1.0),
        target=None,
        words=words,
    )
