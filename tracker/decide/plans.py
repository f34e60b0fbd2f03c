"""The cheapest plan for two measured batches: press, rework or remake each piece."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy.typing as npt

from tracker.decide.alternatives import Alternative, alternatives
from tracker.decide.choices import Choice, choose, within_risk
from tracker.decide.demands import Case
from tracker.decide.edges import AS_IS, NEW_BOTH, NOT_MADE
from tracker.decide.plan_cases import SizeLimits, case_of, labels_of
from tracker.decide.plan_results import NEW_PIECES, REWORK_BOTH, REWORKED, Cut, Plan, PlanPair, ToMake
from tracker.decide.prices import SIDES, Prices
from tracker.decide.remaking import pieces_to_make
from tracker.decide.words import Say, count, plain_length, share
from tracker.decide.work import Shop
from tracker.errors import TrackerError
from tracker.given import number as number_of
from tracker.given import share_of_one

MOST_PIECES = 3000


def plan(
    internal: npt.ArrayLike,
    external: npt.ArrayLike,
    gap_lower: Any,
    gap_upper: Any,
    costs: Mapping[str, Any] | None = None,
    *,
    wanted: int | None = None,
    target: Any = None,
    uncertainty: Any = 0.0,
    common_uncertainty: Any = 0.0,
    rework_sd: Mapping[str, Any] | None = None,
    make_sd: Mapping[str, Any] | None = None,
    increment: Any = None,
    least_cut: Any = 0.0,
    step: Any = None,
    times: Mapping[str, Any] | None = None,
    assurance: float = 0.95,
    most_risk: float | None = None,
    compare: bool = True,
    names: tuple[str, str] = ("internal piece", "external piece"),
    dimensions: Sequence[tuple[str, str]] | None = None,
    factors: Sequence[tuple[float, float]] | None = None,
    reworkable: Sequence[tuple[bool, bool]] | None = None,
    keep: Sequence[tuple[SizeLimits, SizeLimits]] | None = None,
    labels: tuple[Sequence[object], Sequence[object]] | None = None,
    rework_word: str = "rework",
    say: Say = plain_length,
) -> Plan:
    """Return the cheapest plan for the measured pieces, and the plain alternatives beside it.

    Parameters
    ----------
    internal, external : array_like, shape (m,) and (n,), or (m, gaps) and (n, gaps)
        Measured sizes, one length unit; with several gaps (round and flat, diameter and height) one column each, and
        an assembly must meet all of them.
    gap_lower, gap_upper : float or None, or one each a gap
        Limits of internal minus external size; None is open.
    costs : mapping, optional
        ``press``, ``rework`` and ``remake`` (mappings from ``internal`` and ``external``), ``spoiled_assembly`` and
        ``unmade_assembly`` (one wanted and not made), in one currency.
        Not stated: pressing 1, rework 4, remake 10, spoiled a pressing and a remade piece of each side; not made as
        much as a stated spoiled one, else twice a whole new one (our choice, no source). A side that a stated
        ``rework`` or ``remake`` leaves out cannot be reworked or remade. With several gaps a side's rework may be one
        cost each, None where that dimension cannot be reworked.
    wanted : int, optional
        Assemblies wanted; as many as the shorter side has pieces when not given.
    target : float, or one a gap, optional
        The gap that rework and new pieces aim at; the middle of the limits when not given.
    uncertainty : float or (internal, external)
        Standard uncertainty of one piece's size; of each side a number or one value a piece (as `tracker.pair`).
    common_uncertainty : float, or one a gap
        Standard uncertainty of the gap that all pairs share.
    rework_sd, make_sd : mapping, optional
        How far reworked and new pieces come out from what they are cut to, as a standard deviation, for ``internal``
        and ``external`` (with several gaps one each). When not given, that of the measured batch, the gauge's noise
        taken out, but no less than that noise: nothing is brought nearer to a size than it can be read.
    increment : float, or one a gap, optional
        Step that sizes are cut to.
    least_cut : float, or one a gap
        Least that a rework can take off.
    step : float or (internal, external), optional
        What the gauge can read: trays are cut on whole steps.
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
    dimensions : sequence of (str, str), optional
        With several gaps: what the two dimensions behind each are called ("bore", "shank").
    factors : sequence of (float, float), optional
        With several gaps: how often, and with which sign, the dimensions stand in the columns; 1 when not given. What
        is cut is said in the dimension's own terms.
    reworkable : sequence of (bool, bool), optional
        With several gaps: which of the two dimensions behind each can be reworked at all; both when not given.
    keep : sequence of ((lower, upper), (lower, upper)), one a gap, optional
        Limits of size that reworked and new pieces have to keep, of the internal and of the external piece, in terms of
        the columns; None is open. What would suit best is cut to the nearest size within them.
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
    new, or not made (at the cost of one not made). The cost of an edge is the work on it plus the cost of a
    spoiled assembly times the chance that the true gap is outside its limits; for each pair of pieces the cheapest
    way is taken, and the total is least over all choices. A way is left out where its chance to be good times the cost
    of a spoiled assembly (both new: of one not made) does not cover the work: no piece is spoiled only not to be left
    over. What all gaps share (calibration) enters the chance of each, and ``chance_all`` handles it as shared. With
    ``most_risk`` an assembly spoiled or not made weighs more than it costs, as little more as keeps the risk; a cheaper
    plan within the risk may exist between two weights, never a safer one for the same cost. A rework or a new piece
    that comes out wrong is taken to be pressed all the same; measured before pressing, it costs less than said here.

    References
    ----------
    Optimal against brute force on small cases: tests/tracker/decide/test_plans.py.

    Examples
    --------
    >>> answer = plan([0.6250, 0.6252], [0.6256, 0.6262], -0.0009, -0.0003, {"rework": {"external": 4}},
    ...               rework_sd={"external": 0.00005}, increment=0.0001, names=("bore", "plug"), rework_word="regrind")
    >>> answer.work
    ('Regrind plug 2 to 0.6258.', 'Press all two pairs as the plan lists them.')
    """
    case = case_of(
        internal,
        external,
        gap_lower,
        gap_upper,
        costs,
        wanted=wanted,
        target=target,
        uncertainty=uncertainty,
        common_uncertainty=common_uncertainty,
        rework_sd=rework_sd,
        make_sd=make_sd,
        increment=increment,
        least_cut=least_cut,
        step=step,
        times=times,
        reworkable=reworkable,
        keep=keep,
    )
    (m, n), number = case.shape, case.wanted
    _check(m, n, number, assurance, most_risk)
    choice = choose(case, 1.0) if most_risk is None else within_risk(case, most_risk)
    pairs = _pairs(choice, case, factors or [(1.0, 1.0)] * len(case.demands), dimensions)
    named = [names] * len(case.demands) if dimensions is None else list(dimensions)
    shops = [
        Shop(names=one, labels=labels_of(labels, m, n), rework_word=rework_word, say=say) for one in (names, *named)
    ]
    every, made = choice.chance_all(case), choice.chance_made(case)
    to_make = _to_make(pairs, assurance, names, case.price)
    own = _as_alternative(pairs, made, case)
    others, remarks = alternatives(case) if compare else ((), ())
    return Plan(
        internal_actions=_actions([(item.internal, item) for item in pairs], "internal", m),
        external_actions=_actions([(item.external, item) for item in pairs], "external", n),
        pairs=pairs,
        cost=own.cost,
        expected_good=own.expected_good,
        chance_all=every,
        chance_made=made,
        reworked=sum(REWORKED.get(item.way, 0) for item in pairs),
        remade=sum(NEW_PIECES.get(item.way, 0) for item in pairs),
        not_made=number - own.assemblies,
        minutes=own.minutes,
        work=_work(pairs, shops[0], shops[1:], to_make, _why_unmade(case)),
        to_make=to_make,
        alternatives=(*others, own),
        prices=case.price,
        wanted=number,
        n_internal=m,
        n_external=n,
        assurance=assurance,
        remarks=(*_remarks(case, most_risk, every, pairs), *remarks),
        method="least total cost over all choices (one assignment)",
    )


def _pairs(
    choice: Choice,
    case: Case,
    factors: Sequence[tuple[float, float]],
    dimensions: Sequence[tuple[str, str]] | None,
) -> tuple[PlanPair, ...]:
    """Return the assemblies of a choice, each with what is done, cut and expected."""
    m, n = case.shape
    table, costs = choice.table, choice.cost(case.price).tolist()
    found = []
    for words, row, column, cost in zip(choice.words(), choice.rows.tolist(), choice.columns.tolist(), costs):
        gaps = tuple(table.gap[:, row, column].tolist())
        sizes = table.size[:, row, column].tolist()
        cuts = tuple(
            Cut(
                gap=layer,
                side=side,
                size=size / factors[layer][SIDES.index(side)],
                what="" if dimensions is None else dimensions[layer][SIDES.index(side)],
            )
            for layer, (side, size) in enumerate(zip((word.split()[-1] for word in words), sizes))
            if not math.isnan(size)
        )
        chance = float(table.chance[row, column])
        found.append(
            PlanPair(
                internal=row if row < m else None,
                external=column if column < n else None,
                way=_way(words),
                size=cuts[0].size if len(cuts) == 1 else None,
                gap=gaps[0] if len(gaps) == 1 and not math.isnan(gaps[0]) else None,
                chance=chance,
                cost=cost,
                cuts=cuts,
                gaps=() if math.isnan(gaps[0]) else gaps,
            )
        )
    return tuple(found)


def _way(words: tuple[str, ...]) -> str:
    """Return one word for what is done for every demand."""
    reworked = {word for word in words if word != AS_IS}
    return AS_IS if not reworked else reworked.pop() if len(reworked) == 1 else REWORK_BOTH


def _as_alternative(pairs: Sequence[PlanPair], all_made: float, case: Case) -> Alternative:
    made = [item for item in pairs if item.way != NOT_MADE]
    reworked = sum(REWORKED.get(item.way, 0) for item in made)
    new = sum(NEW_PIECES.get(item.way, 0) for item in made)
    return Alternative(
        name="cheapest plan",
        assemblies=len(made),
        expected_good=float(sum(item.chance for item in made)),
        cost=float(sum(item.cost for item in pairs)),
        minutes=None if case.minutes is None else float(sum(_time(item, case, case.minutes) for item in made)),
        pressed=sum(item.internal is not None and item.external is not None for item in made),
        pressed_good=float(sum(item.chance for item in made if None not in (item.internal, item.external))),
        risk=1.0 - all_made,
        target=None,
        words=f"{count(reworked, 'piece')} reworked, {count(new, 'new piece')}",
    )


def _time(item: PlanPair, case: Case, minutes: Prices) -> float:
    time = minutes.press
    if item.way in REWORKED:
        time += sum(case.demands[cut.gap].minutes.get(cut.side, 0.0) for cut in item.cuts)
    for side in SIDES:
        if item.way in (f"new {side}", NEW_BOTH):
            time += minutes.remake.get(side, 0.0)
    return time


def _actions(done: Sequence[tuple[int | None, PlanPair]], side: str, pieces: int) -> tuple[str, ...]:
    """Return what happens to each piece of a side: pressed as it is, reworked, or left over."""
    actions = ["leave over"] * pieces
    for piece, item in done:
        if piece is not None:
            cut = item.way in REWORKED and any(one.side == side for one in item.cuts)
            actions[piece] = "rework" if cut else AS_IS
    return tuple(actions)


def _why_unmade(case: Case) -> str:
    """Return why an assembly would be left unmade: the costs that decide, and where they come from."""
    if not all(case.can_be_made(side) for side in SIDES):
        return "nothing that can be done pays"
    price = case.price
    source = f" ({price.unmade_from})" if price.unmade_from else ""
    return f"nothing that can be done pays where one not made counts as {price.unmade_assembly:g}{source}"


def _work(
    pairs: Sequence[PlanPair], shop: Shop, shops: Sequence[Shop], to_make: Sequence[ToMake], why_unmade: str
) -> tuple[str, ...]:
    lines: list[str] = []
    for number, side in enumerate(SIDES):
        for layer, own in enumerate(shops):
            cuts = [
                (item.internal if side == "internal" else item.external, cut.size)
                for item in pairs
                if item.way in REWORKED
                for cut in item.cuts
                if cut.gap == layer and cut.side == side
            ]
            lines += own.rework(number, [(piece, size) for piece, size in cuts if piece is not None])
        new = [
            (item.external if side == "internal" else item.internal, tuple(cut.size for cut in item.cuts))
            for item in pairs
            if item.way == f"new {side}"
        ]
        lines += shop.make(number, [(mate, sizes) for mate, sizes in new if mate is not None], shops)
    lines += shop.both(sum(item.way == NEW_BOTH for item in pairs))
    for item in to_make:
        lines += shop.spare(SIDES.index(item.side), item.pieces.number, item.pieces.wanted, item.pieces.assurance)
    pressed = sum(item.way != NOT_MADE for item in pairs)
    is_worked = any(item.way not in (AS_IS, NOT_MADE) for item in pairs)
    lines += shop.press(pressed, is_all=pressed == len(pairs), is_worked=is_worked)
    lines += shop.not_made(len(pairs) - pressed, why_unmade)
    return tuple(lines)


def _to_make(pairs: Sequence[PlanPair], assurance: float, names: tuple[str, str], price: Prices) -> tuple[ToMake, ...]:
    """Return how many new pieces of each side to make; each counts as good at the least of their chances."""
    result = []
    for side, name in zip(SIDES, names):
        new = [item for item in pairs if item.way in (f"new {side}", NEW_BOTH)]
        if new:
            chance = min(item.chance for item in new)
            pieces = pieces_to_make(len(new), chance, assurance)
            result.append(ToMake(side=side, pieces=pieces, name=name, cost=price.remake[side]))
    return tuple(result)


def _remarks(case: Case, most_risk: float | None, every: float, pairs: Sequence[PlanPair]) -> list[str]:
    remarks = [
        f"One {side} piece cannot show a spread, so reworking and remaking that side is left out; state make_sd."
        for side in SIDES
        if any(getattr(demand, side).make_sd is None for demand in case.demands)
    ]
    if most_risk is not None and 1.0 - every > most_risk:
        remarks.append(
            f"No plan keeps the risk of spoiling one within {share(most_risk)}; this is the cheapest, at a risk of "
            f"{share(1.0 - every)}. A better gauge, or a finer rework, would be needed."
        )
    if case.price.unmade_from.startswith("assumed") and any(item.way == NEW_BOTH for item in pairs):
        remarks.append(
            f"Whole new pairs are made because an assembly not made counts as {case.price.unmade_assembly:g} "
            f"({case.price.unmade_from}). Where spoiled_assembly is stated, one not made counts as much."
        )
    if case.price.assumed:
        remarks.append(f"Assumed costs: {case.price}")
    return remarks


def _check(m: int, n: int, wanted: int, assurance: float, most_risk: float | None) -> None:
    if m + n + 2 * wanted > MOST_PIECES:
        raise TrackerError(
            f"{m} and {n} pieces for {wanted} assemblies are too many for one plan (together, the assemblies counted "
            f"twice, at most {MOST_PIECES}); plan tray by tray"
        )
    if wanted < 1:
        raise TrackerError(f"wanted is {wanted}; ask for at least one assembly")
    if not 0 < number_of(assurance, "assurance") < 1:
        raise TrackerError(f"assurance is {assurance!r}; it lies between 0 and 1, for example 0.95")
    if most_risk is not None:
        share_of_one(most_risk, "most_risk")
