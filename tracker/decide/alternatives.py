"""The plain ways beside the plan: any order, pairs, trays, remake a whole side; what each would bring and cost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tracker.decide.edges import Aim, Side, chance_of_all
from tracker.decide.prices import Prices
from tracker.decide.words import count, share
from tracker.fit import chance_any, pair
from tracker.result import Result


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
    cost : float
        Work, spoiled assemblies at their chance, and those left unmade at the cost of a spoiled one.
    minutes : float or None
        Time of the work, where times were given.
    risk : float
        Chance that at least one assembly is spoiled.
    words : str
        What it means in pieces.
    """

    name: str
    assemblies: int
    expected_good: float
    cost: float
    minutes: float | None
    risk: float
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
    return tuple(_ways(case)), ()


def _ways(case: Case) -> Iterator[Alternative]:
    yield _any_order(case)
    yield _as_paired(case)


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
        gap = inside.true[:, None] - outside.true[None, :]
        each = every = float(np.mean(case.aim.chance(gap, np.hypot(inside.true_sd[:, None], outside.true_sd[None, :]))))
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


def _sum(case: Case, name: str, pressed: int, good: float, every: float, words: str) -> Alternative:
    """Return the alternative with what is short of the assemblies wanted made up by new pieces."""
    short = case.wanted - pressed
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
        cost=cost,
        minutes=minutes,
        risk=min(max(1.0 - every, 0.0), 1.0),
        words=words,
    )
