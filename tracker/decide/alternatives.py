"""The plain ways beside the plan: any order, pairs, trays, remake a whole side; what each would bring and cost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from tracker.decide.demands import Case, Demand, chance_of_all
from tracker.decide.prices import SIDES
from tracker.decide.words import count, share
from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import Pairing, best_target, chance_any, classes, pair
from tracker.fit.together import any_order_holds
from tracker.plurals import noun
from tracker.result import Result

TRAYS = (3, 2)
"""Trays a side that are tried, the first that the gauge and the sizes can tell apart: as the fit itself is sorted."""


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


def alternatives(case: Case) -> tuple[tuple[Alternative, ...], tuple[str, ...]]:
    """Return the plain ways, and remarks on those that cannot be worked out."""
    ways, remarks = [_any_order(case), _as_paired(case)], []
    offers: list[tuple[str, Callable[[], Alternative]]] = [("sorting", lambda: _in_trays(case))]
    for side, mates in (("external", "internal"), ("internal", "external")):
        if case.can_be_made(side) and all(getattr(demand, side).make_sd for demand in case.demands):
            offers.append((f"remaking every {side} piece", partial(_all_new, case, side, mates)))
    for name, way in offers:
        try:
            ways.append(way())
        except TrackerError as error:
            remarks.append(f"What {name} would bring cannot be said: {error}")
    return tuple(ways), tuple(remarks)


def paired(case: Case, rows: np.ndarray, columns: np.ndarray) -> Pairing:
    """Return the best pairing of these pieces, by every demand."""
    demands = case.demands
    first = demands[0]
    if len(demands) == 1:
        return pair(
            first.internal.read[rows],
            first.external.read[columns],
            *first.limits,
            target=first.aim.gap,
            uncertainty=(first.noise[0][rows], first.noise[1][columns]),
            common_uncertainty=first.aim.common,
        )
    return pair(
        np.column_stack([demand.internal.read[rows] for demand in demands]),
        np.column_stack([demand.external.read[columns] for demand in demands]),
        [demand.limits[0] for demand in demands],
        [demand.limits[1] for demand in demands],
        [demand.aim.gap for demand in demands],
        uncertainty=(
            np.column_stack([demand.noise[0][rows] for demand in demands]),
            np.column_stack([demand.noise[1][columns] for demand in demands]),
        ),
        common_uncertainty=[demand.aim.common for demand in demands],
    )


def _any_order(case: Case) -> Alternative:
    m, n = case.shape
    first = case.demands[0]
    if min(m, n) >= 2 and len(case.demands) == 1:
        met = chance_any(
            first.internal.read,
            first.external.read,
            *first.limits,
            uncertainty=first.noise,
            common_uncertainty=first.aim.common,
            pairs=case.pressed,
        )
        each, every = met.pair_measured, met.all_measured
    else:
        each = float(np.mean(case.chances(np.arange(m), np.arange(n))))
        every = any_order_holds(
            np.column_stack([demand.internal.read for demand in case.demands]),
            np.column_stack([demand.external.read for demand in case.demands]),
            (
                np.column_stack([demand.noise[0] for demand in case.demands]),
                np.column_stack([demand.noise[1] for demand in case.demands]),
            ),
            [(demand.aim.low, demand.aim.high) for demand in case.demands],
            [demand.aim.common for demand in case.demands],
            pairs=case.pressed,
        )
    return _sum(case, "press in any order", case.pressed, case.pressed * each, every, "whichever comes to hand")


def _as_paired(case: Case) -> Alternative:
    best = paired(case, *(np.arange(pieces) for pieces in case.shape))
    best_first = np.argsort(-best.chance_each, kind="stable")[: case.wanted]
    rows, columns = best.internal[best_first], best.external[best_first]
    good = float(np.sum(best.chance_each[best_first]))
    words = f"{count(len(rows), 'pair')} within limits"
    return _sum(case, "pair", len(rows), good, case.every_chance(rows, columns), words)


def _in_trays(case: Case) -> Alternative:
    """Return sorting into trays, as many as the fit itself is sorted into."""
    if len(case.demands) > 1:
        raise NotEnoughData("trays are sorted by one gap, and these pieces must meet several at once")
    refused: TrackerError | None = None
    for number in TRAYS:
        try:
            return _sorted_into(case, case.demands[0], number)
        except TrackerError as error:
            refused = refused or error
    raise refused or NotEnoughData("these sizes cannot be sorted")


def _sorted_into(case: Case, demand: Demand, number: int) -> Alternative:
    found = classes(
        demand.internal.read,
        demand.external.read,
        *demand.limits,
        number,
        step=case.step,
        uncertainty=demand.noise,
        common_uncertainty=demand.aim.common,
    )
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
    used = len(found.labels)  # fewer than asked where more give less
    words = f"{used} {noun(used, 'tray')} a side, taken at random within a tray"
    return _sum(case, "sort into classes", pressed, good, every, words)


def _all_new(case: Case, side: str, mates: str) -> Alternative:
    """Return remaking a whole side, each dimension cut to the target that suits the mates as measured."""
    each, every, sizes = np.ones(()), 1.0, []
    made = min(case.wanted, case.shape[SIDES.index(mates)])
    for demand in case.demands:
        new, others = getattr(demand, side), getattr(demand, mates)
        sd = new.make_sd or 0.0
        aim = best_target(others.read, sd, *demand.limits, side=side, uncertainty=others.noise)
        size = float(new.cut_to(np.array([aim.target]), demand.aim.increment)[0])
        gap = (others.true - size) if side == "external" else (size - others.true)
        spread = np.hypot(others.true_sd, sd)
        chance = demand.aim.chance(gap, spread)
        each = each * chance
        all_used = made == others.read.size
        every *= chance_of_all(gap, spread, demand.aim) if all_used else float(np.mean(chance)) ** made
        sizes.append(size)
    good = made * float(np.mean(each))
    words = f"{count(made, f'new {side} piece')}, all cut to one size"
    pressed = _sum(case, f"remake every {side} piece", made, good, every, words)
    minutes = pressed.minutes
    if minutes is not None and case.minutes is not None:
        minutes += made * case.minutes.remake.get(side, 0.0)
    cost = pressed.cost + made * case.price.remake[side]
    return replace(pressed, cost=cost, minutes=minutes, target=sizes[0] if len(sizes) == 1 else None)


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
        cost += short * case.price.unmade_assembly
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
