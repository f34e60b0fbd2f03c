"""The cheapest plan for two measured batches: press, rework or remake each piece."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.decide.alternatives import Alternative, Case, alternatives
from tracker.decide.choices import Choice, choose, within_risk
from tracker.decide.edges import (
    AS_IS,
    NEW_BOTH,
    NEW_EXTERNAL,
    NEW_INTERNAL,
    NOT_MADE,
    WAYS,
    Aim,
    Side,
)
from tracker.decide.prices import SIDES, Prices, prices
from tracker.decide.remaking import PiecesToMake, pieces_to_make
from tracker.decide.words import Say, count, plain_length, share
from tracker.decide.work import Shop
from tracker.errors import NotEnoughData, TrackerError
from tracker.fit.batch_spread import given_readings
from tracker.fit.checks import Floats, limits_of, not_negative, sizes_of, uncertainties
from tracker.result import Result

MOST_PIECES = 3000
NEW_PIECES = {NEW_EXTERNAL: 1, NEW_INTERNAL: 1, NEW_BOTH: 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class ToMake(Result):
    """How many new pieces of a side to make so that enough of them are good."""

    side: str
    pieces: PiecesToMake

    def __str__(self) -> str:
        return f"{self.side}: {self.pieces}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPair(Result):
    """One assembly of the plan.

    ``internal`` and ``external`` are indices as given (None: a new piece, or none); ``way`` is what is done; ``size``
    what the reworked or new piece is cut to (None: nothing is cut, or both are new); ``gap`` the gap expected.
    """

    internal: int | None
    external: int | None
    way: str
    size: float | None
    gap: float | None
    chance: float
    cost: float

    def __str__(self) -> str:
        return f"{self.way}: internal {self.internal}, external {self.external}, good with {share(self.chance)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan(Result):
    """The cheapest plan, and the plain alternatives beside it.

    Attributes
    ----------
    internal_actions, external_actions : tuple of str
        For each piece: ``press as is``, ``rework`` or ``leave over``.
    pairs : tuple of PlanPair
        The assemblies wanted, one each.
    cost : float
        Work, and the cost of a spoiled assembly times its chance.
    expected_good : float
        Assemblies expected good.
    chance_all : float
        Chance that all assemblies wanted are good.
    reworked, remade, not_made : int
        Pieces reworked, new pieces made, assemblies left unmade because nothing pays.
    minutes : float or None
        Time of the work, where times were given.
    work : tuple of str
        What to do, in the shop's words.
    to_make : tuple of ToMake
        How many new pieces to make of each kind so that enough are good with the assurance.
    alternatives : tuple of Alternative
        Press in any order, pair, sort into classes, remake one side, and this plan.
    prices : Prices
        The costs used, and which of them were assumed.
    """

    internal_actions: tuple[str, ...]
    external_actions: tuple[str, ...]
    pairs: tuple[PlanPair, ...]
    cost: float
    expected_good: float
    chance_all: float
    reworked: int
    remade: int
    not_made: int
    minutes: float | None
    work: tuple[str, ...]
    to_make: tuple[ToMake, ...]
    alternatives: tuple[Alternative, ...]
    prices: Prices
    wanted: int
    n_internal: int
    n_external: int
    assurance: float
    remarks: tuple[str, ...]
    method: str

    def __str__(self) -> str:
        return (
            f"{' '.join(self.work)} {self.expected_good:.2f} of {self.wanted} assemblies expected good, all of them "
            f"with {share(self.chance_all)} chance, at a cost of {self.cost:.4g}. From {self.n_internal} internal and "
            f"{self.n_external} external pieces; {self.method}."
        )


def plan(
    internal: Sequence[float] | np.ndarray,
    external: Sequence[float] | np.ndarray,
    gap_lower: float | None,
    gap_upper: float | None,
    costs: Mapping[str, Any] | None = None,
    *,
    wanted: int | None = None,
    target: float | None = None,
    uncertainty: Any = 0.0,
    common_uncertainty: float = 0.0,
    rework_sd: Mapping[str, float] | None = None,
    make_sd: Mapping[str, float] | None = None,
    increment: float | None = None,
    least_cut: float = 0.0,
    times: Mapping[str, Any] | None = None,
    assurance: float = 0.95,
    most_risk: float | None = None,
    compare: bool = True,
    names: tuple[str, str] = ("internal piece", "external piece"),
    labels: tuple[Sequence[object], Sequence[object]] | None = None,
    rework_word: str = "rework",
    say: Say = plain_length,
) -> Plan:
    """Return the cheapest plan for the measured pieces, and the plain alternatives beside it.

    Parameters
    ----------
    internal, external : array_like, shape (m,) and (n,)
        Measured sizes, one length unit.
    gap_lower, gap_upper : float or None
        Limits of internal minus external size; None is open.
    costs : mapping, optional
        ``press``, ``rework`` and ``remake`` (mappings from ``internal`` and ``external``), ``spoiled_assembly``, in
        one currency.
        Not stated: pressing 1, rework 4, remake 10, spoiled a pressing and a remade piece of each side. A side that
        a stated ``rework`` or ``remake`` leaves out cannot be reworked or remade.
    wanted : int, optional
        Assemblies wanted; as many as the shorter side has pieces when not given.
    target : float, optional
        The gap that rework and new pieces aim at; the middle of the limits when not given.
    uncertainty : float or (internal, external)
        Standard uncertainty of one piece's size; of each side a number or one value a piece.
    common_uncertainty : float
        Standard uncertainty of the gap that all pairs share.
    rework_sd, make_sd : mapping, optional
        How far reworked and new pieces come out from what they are cut to, as a standard deviation, for ``internal``
        and ``external``; that of the measured batch, the gauge's noise taken out, when not given.
    increment : float, optional
        Step that sizes are cut to.
    least_cut : float
        Least that a rework can take off.
    times : mapping, optional
        As ``costs``, in minutes.
    assurance : float
        For the number of new pieces to make.
    most_risk : float, optional
        Largest chance of spoiling at least one assembly that is accepted; not given: cost alone decides.
    compare : bool
        Whether the plain alternatives are worked out too; without them the answer comes several times faster.
    names, labels : optional
        What the pieces are called, and their own numbers; 1, 2, 3... when not given.
    rework_word : str
        What rework is called: regrind, ream, turn.
    say : callable
        Writes a length for the sentences.

    Returns
    -------
    Plan

    Raises
    ------
    NotEnoughData
        A side without a piece, or an open limit and no target.
    TrackerError
        Costs that make no sense, limits the wrong way round, more than a few thousand pieces.

    Notes
    -----
    One assignment: each internal with each external piece as they are, with the external one ground down to suit or
    the internal one opened to suit (only where material is left), each piece with a new mate made to suit it, both
    new, or not made (at the cost of a spoiled assembly). The cost of an edge is the work on it plus the cost of a
    spoiled assembly times the chance that the true gap is outside its limits; for each pair of pieces the cheapest
    way is taken, and the total is least over all choices. What all gaps share (calibration) enters the chance of
    each, and ``chance_all`` handles it as shared. With ``most_risk`` a spoiled assembly weighs more than it costs, as
    little more as keeps the risk; a cheaper plan within the risk may exist between two weights, never a safer one for
    the same cost. A rework or a new piece that comes out wrong is taken to be
    pressed all the same; measured before pressing, it costs less than said here.

    References
    ----------
    Optimal against brute force on small cases: tests/tracker/decide/test_plans.py.

    Examples
    --------
    >>> answer = plan([0.6250, 0.6252], [0.6256, 0.6262], -0.0009, -0.0003, {"rework": {"external": 4}},
    ...               rework_sd={"external": 0.00005}, increment=0.0001, names=("bore", "plug"), rework_word="regrind")
    >>> answer.work
    ('Regrind plug 2 to 0.6258.', 'Press all two pairs as listed.')
    """
    inside, outside = sizes_of(internal, "internal"), sizes_of(external, "external")
    number = min(inside.size, outside.size) if wanted is None else int(wanted)
    _check(inside.size, outside.size, number, assurance, most_risk)
    low, high = limits_of(gap_lower, gap_upper)
    aim = Aim(
        low=low,
        high=high,
        gap=_aim_gap(low, high, target),
        common=not_negative(common_uncertainty, "common_uncertainty"),
        increment=increment,
        least_cut=not_negative(least_cut, "least_cut"),
    )
    noise = uncertainties(uncertainty, inside.size, outside.size)
    case = Case(
        internal=_side("internal", inside, noise[0], rework_sd, make_sd),
        external=_side("external", outside, noise[1], rework_sd, make_sd),
        aim=aim,
        price=prices(costs),
        minutes=None if times is None else prices(times),
        wanted=number,
    )
    choice = choose(case, 1.0) if most_risk is None else within_risk(case, most_risk)
    pairs = tuple(_plan_pair(choice, int(i), int(j), case) for i, j in zip(choice.rows, choice.columns))
    shop = Shop(names=names, labels=_labels(labels, inside.size, outside.size), rework_word=rework_word, say=say)
    every = choice.chance_all(aim)
    to_make = _to_make(pairs, assurance)
    own = _as_alternative(pairs, every, case.minutes)
    others, remarks = alternatives(case) if compare else ((), ())
    return Plan(
        internal_actions=_actions([(item.internal, item.way, "rework internal") for item in pairs], inside.size),
        external_actions=_actions([(item.external, item.way, "rework external") for item in pairs], outside.size),
        pairs=pairs,
        cost=own.cost,
        expected_good=own.expected_good,
        chance_all=every,
        reworked=sum(item.way.startswith("rework") for item in pairs),
        remade=sum(NEW_PIECES.get(item.way, 0) for item in pairs),
        not_made=number - own.assemblies,
        minutes=own.minutes,
        work=_work(pairs, shop, to_make),
        to_make=to_make,
        alternatives=(*others, own),
        prices=case.price,
        wanted=number,
        n_internal=int(inside.size),
        n_external=int(outside.size),
        assurance=assurance,
        remarks=(*_remarks(case, most_risk, every), *remarks),
        method="least total cost over all choices (one assignment)",
    )


def _aim_gap(low: float, high: float, target: float | None) -> float:
    if target is not None:
        return float(target)
    if math.isinf(low) or math.isinf(high):
        raise NotEnoughData(
            "a gap limit is open and no target gap is given, so it is not known what to cut to; give target"
        )
    return (low + high) / 2


def _side(
    name: str,
    sizes: Floats,
    noise: Floats,
    rework_sd: Mapping[str, float] | None,
    make_sd: Mapping[str, float] | None,
) -> Side:
    true, true_sd = given_readings(sizes, noise)
    batch = None
    if sizes.size >= 2:
        batch = math.sqrt(max(float(np.var(sizes, ddof=1)) - float(np.mean(noise**2)), 0.0))
    made = (make_sd or {}).get(name, batch)
    reworked = (rework_sd or {}).get(name, made)
    for word, value in (("make_sd", made), ("rework_sd", reworked)):
        if value is not None:
            not_negative(value, f"{word}[{name!r}]")
    return Side(
        name=name,
        read=sizes,
        noise=np.asarray(noise, dtype=float),
        true=np.asarray(true, dtype=float),
        true_sd=np.asarray(true_sd, dtype=float),
        rework_sd=reworked,
        make_sd=made,
    )


def _plan_pair(choice: Choice, row: int, column: int, case: Case) -> PlanPair:
    table = choice.table
    way = WAYS[int(table.way[row, column])]
    size, gap = float(table.size[row, column]), float(table.gap[row, column])
    chance = float(table.chance[row, column])
    weight = (choice.weight - 1) * case.price.spoiled_assembly
    return PlanPair(
        internal=row if row < case.internal.read.size else None,
        external=column if column < case.external.read.size else None,
        way=way,
        size=None if math.isnan(size) else size,
        gap=None if math.isnan(gap) else gap,
        chance=chance,
        cost=float(table.cost[row, column]) - weight * (1 - chance),
    )


def _as_alternative(pairs: Sequence[PlanPair], every: float, minutes: Prices | None) -> Alternative:
    made = [item for item in pairs if item.way != NOT_MADE]
    reworked = sum(item.way.startswith("rework") for item in made)
    new = sum(NEW_PIECES.get(item.way, 0) for item in made)
    return Alternative(
        name="cheapest plan",
        assemblies=len(made),
        expected_good=float(sum(item.chance for item in made)),
        cost=float(sum(item.cost for item in pairs)),
        minutes=None if minutes is None else float(sum(_time(item.way, minutes) for item in made)),
        pressed=sum(item.internal is not None and item.external is not None for item in made),
        pressed_good=float(sum(item.chance for item in made if None not in (item.internal, item.external))),
        risk=1.0 - every if len(made) == len(pairs) else 1.0 - math.prod(item.chance for item in made),
        target=None,
        words=f"{count(reworked, 'piece')} reworked, {count(new, 'new piece')}",
    )


def _time(way: str, minutes: Prices) -> float:
    time = minutes.press
    for side in SIDES:
        if way == f"rework {side}":
            time += minutes.rework.get(side, 0.0)
        if way in (f"new {side}", NEW_BOTH):
            time += minutes.remake.get(side, 0.0)
    return time


def _actions(done: Sequence[tuple[int | None, str, str]], pieces: int) -> tuple[str, ...]:
    """Return what happens to each piece of a side: pressed as it is, reworked, or left over."""
    actions = ["leave over"] * pieces
    for piece, way, rework in done:
        if piece is not None:
            actions[piece] = "rework" if way == rework else AS_IS
    return tuple(actions)


def _work(pairs: Sequence[PlanPair], shop: Shop, to_make: Sequence[ToMake]) -> tuple[str, ...]:
    lines: list[str] = []
    for number, side in enumerate(SIDES):
        reworked = [
            (item.internal if side == "internal" else item.external, item.size)
            for item in pairs
            if item.way == f"rework {side}"
        ]
        lines += shop.rework(
            number, [(piece, size) for piece, size in reworked if piece is not None and size is not None]
        )
        lines += shop.make(
            number,
            [
                (item.external if side == "internal" else item.internal, item.size)
                for item in pairs
                if item.way == f"new {side}"
            ],
        )
    lines += shop.both(sum(item.way == NEW_BOTH for item in pairs))
    for item in to_make:
        lines += shop.spare(SIDES.index(item.side), item.pieces.number, item.pieces.wanted, item.pieces.assurance)
    pressed = sum(item.way != NOT_MADE for item in pairs)
    lines += shop.press(pressed, is_all=pressed == len(pairs))
    lines += shop.not_made(len(pairs) - pressed)
    return tuple(lines)


def _to_make(pairs: Sequence[PlanPair], assurance: float) -> tuple[ToMake, ...]:
    """Return how many new pieces of each side to make; each counts as good at the least of their chances."""
    result = []
    for side in SIDES:
        new = [item for item in pairs if item.way in (f"new {side}", NEW_BOTH)]
        if new:
            chance = min(item.chance for item in new)
            result.append(ToMake(side=side, pieces=pieces_to_make(len(new), chance, assurance)))
    return tuple(result)


def _remarks(case: Case, most_risk: float | None, every: float) -> list[str]:
    remarks = [
        f"One {side.name} piece cannot show a spread, so reworking and remaking that side is left out; state make_sd."
        for side in (case.internal, case.external)
        if side.make_sd is None
    ]
    if most_risk is not None and 1.0 - every > most_risk:
        remarks.append(
            f"No plan keeps the risk of spoiling one within {share(most_risk)}; this is the cheapest, at a risk of "
            f"{share(1.0 - every)}. A better gauge, or a finer rework, would be needed."
        )
    if case.price.assumed:
        remarks.append(f"Assumed costs: {case.price}")
    return remarks


def _labels(
    labels: tuple[Sequence[object], Sequence[object]] | None, m: int, n: int
) -> tuple[Sequence[object], Sequence[object]]:
    if labels is None:
        return tuple(range(1, m + 1)), tuple(range(1, n + 1))
    for name, given, pieces in zip(SIDES, labels, (m, n)):
        if len(given) != pieces:
            raise TrackerError(f"labels name {len(given)} {name} pieces and there are {pieces}; give one each")
    return labels


def _check(m: int, n: int, wanted: int, assurance: float, most_risk: float | None) -> None:
    if m + n + 2 * wanted > MOST_PIECES:
        raise TrackerError(
            f"{m} and {n} pieces for {wanted} assemblies are too many for one plan (together, the assemblies counted "
            f"twice, at most {MOST_PIECES}); plan tray by tray"
        )
    if wanted < 1:
        raise TrackerError(f"wanted is {wanted}; ask for at least one assembly")
    if not 0 < assurance < 1:
        raise TrackerError(f"assurance is {assurance!r}; it lies between 0 and 1, for example 0.95")
    if most_risk is not None and not 0 <= most_risk <= 1:
        raise TrackerError(f"most_risk is {most_risk!r}; it is a chance between 0 and 1")
