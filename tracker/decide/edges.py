"""Every way to make one assembly of an internal and an external piece: what it costs and how sure it is."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tracker.decide.demands import Aim, Case, Demand
from tracker.decide.prices import Prices
from tracker.fit.assignment import cheapest_assignment
from tracker.fit.checks import Floats

AS_IS, REWORK_EXTERNAL, REWORK_INTERNAL, NEW_EXTERNAL, NEW_INTERNAL, NEW_BOTH, NOT_MADE = (
    "press as is",
    "rework external",
    "rework internal",
    "new external",
    "new internal",
    "new both",
    "not made",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """The table of assemblies: rows are internal pieces then new ones, columns external pieces then new ones.

    ``cost`` is that of the cheapest way, with the cost of a spoiled assembly times its chance in it; ``way`` its
    index in ``ways``, which hold one word a demand; ``chance`` that all demands are met. ``gap``, ``gap_sd`` and
    ``size``, what the reworked or new piece is cut to (NaN: not cut), have one layer a demand in front.
    """

    ways: list[tuple[str, ...]]
    cost: Floats
    way: np.ndarray
    chance: Floats
    gap: Floats
    gap_sd: Floats
    size: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Offer:
    """One way to meet one demand, over a block of the table; a gap of NaN is not possible."""

    way: str
    work: float
    gap: Floats
    sd: Floats
    size: Floats
    chance: Floats


def edges(case: Case, price: Prices) -> Edges:
    """Return the table of all assemblies, with as many rows and columns for new pieces as assemblies are wanted."""
    m, n = case.shape
    demands, shape = case.demands, (m + case.wanted, n + case.wanted)
    table = Edges(
        ways=[(NOT_MADE,) * len(demands)],
        cost=np.full(shape, math.inf),
        way=np.zeros(shape, dtype=np.int64),
        chance=np.zeros(shape),
        gap=np.full((len(demands), *shape), math.nan),
        gap_sd=np.zeros((len(demands), *shape)),
        size=np.full((len(demands), *shape), math.nan),
    )
    pairs = (slice(0, m), slice(0, n))
    worth = case.price.spoiled_assembly
    for offers in itertools.product(*(_pair_offers(demand) for demand in demands)):
        _take(table, pairs, offers, price, sum(offer.work for offer in offers), worth)
    _offer_new(table, case, price)
    return table


def _pair_offers(demand: Demand) -> list[_Offer]:
    """Return the ways of one demand: as they are, the external piece ground down to suit, the internal one opened."""
    internal, external, aim = demand.internal, demand.external, demand.aim
    gap = internal.true[:, None] - external.true[None, :]
    offers = [
        _offer(AS_IS, 0.0, gap, np.hypot(internal.true_sd[:, None], external.true_sd[None, :]), math.nan, aim),
    ]
    for side, other, sign, way in (
        (external, internal, -1.0, REWORK_EXTERNAL),
        (internal, external, 1.0, REWORK_INTERNAL),
    ):
        cost = demand.rework.get(side.name)
        if cost is None or side.rework_sd is None:
            continue
        mates = other.true[:, None] if sign < 0 else other.true[None, :]
        mate_sd = other.true_sd[:, None] if sign < 0 else other.true_sd[None, :]
        read = side.read[None, :] if sign < 0 else side.read[:, None]
        size = side.cut_to(mates + sign * aim.gap, aim.increment)
        size, read, mate_sd, mates = np.broadcast_arrays(size, read, mate_sd, mates)
        slack = 1e-12 * np.abs(size)
        possible = sign * (size - read) >= np.maximum(aim.least_cut - slack, slack)  # only where material is left
        gap = np.where(possible, sign * (size - mates), math.nan)
        offers.append(_offer(way, cost, gap, np.hypot(mate_sd, side.rework_sd), size, aim))
    return offers


def _offer(way: str, work: float, gap: Floats, sd: Floats, size: Floats | float, aim: Aim) -> _Offer:
    possible = ~np.isnan(gap)
    return _Offer(
        way=way,
        work=work,
        gap=gap,
        sd=np.broadcast_to(sd, gap.shape),
        size=np.broadcast_to(np.asarray(size, dtype=np.float64), gap.shape),
        chance=np.where(possible, aim.chance(np.where(possible, gap, aim.gap), sd), 0.0),
    )


def _offer_new(table: Edges, case: Case, price: Prices) -> None:
    """Offer new pieces made to suit a measured mate, both made new, or the assembly left unmade."""
    m, n = case.shape
    rows, columns = table.cost.shape
    makes = {side: case.can_be_made(side) for side in ("internal", "external")}
    if makes["external"]:
        block = (slice(0, m), slice(n, columns))
        offers = [_new_mate(demand, NEW_EXTERNAL, (m, columns - n)) for demand in case.demands]
        _take(table, block, offers, price, price.remake["external"], case.price.spoiled_assembly)
    if makes["internal"]:
        block = (slice(m, rows), slice(0, n))
        offers = [_new_mate(demand, NEW_INTERNAL, (rows - m, n)) for demand in case.demands]
        _take(table, block, offers, price, price.remake["internal"], case.price.spoiled_assembly)
    corner = (slice(m, rows), slice(n, columns))
    table.cost[corner] = price.unmade_assembly
    if all(makes.values()):
        offers = [
            _offer(
                NEW_BOTH,
                0.0,
                np.full((rows - m, columns - n), demand.aim.gap),
                np.asarray(math.hypot(demand.internal.make_sd or 0.0, demand.external.make_sd or 0.0)),
                math.nan,
                demand.aim,
            )
            for demand in case.demands
        ]
        _take(table, corner, offers, price, sum(price.remake.values()), case.price.unmade_assembly)


def _new_mate(demand: Demand, way: str, shape: tuple[int, int]) -> _Offer:
    """Return a new piece cut to suit each measured mate, over its block of the table."""
    aim = demand.aim
    if way == NEW_EXTERNAL:
        mates, mate_sd, made = demand.internal.true[:, None], demand.internal.true_sd[:, None], demand.external
        size = made.cut_to(mates - aim.gap, aim.increment)
        gap = mates - size
    else:
        mates, mate_sd, made = demand.external.true[None, :], demand.external.true_sd[None, :], demand.internal
        size = made.cut_to(mates + aim.gap, aim.increment)
        gap = size - mates
    gap, sd, size = (np.broadcast_to(part, shape) for part in (gap, np.hypot(mate_sd, made.make_sd or 0.0), size))
    return _offer(way, 0.0, gap, sd, size, aim)


def _take(
    table: Edges, where: tuple[slice, slice], offers: Sequence[_Offer], price: Prices, work: float, worth: float
) -> None:
    """Take these ways, one a demand, wherever together they are cheaper than what the table holds.

    Only where an assembly is worth the try: its chance to be good times ``worth`` covers the work on it. Else it would
    be spoiled rather than left unmade wherever one spoiled costs less than one not made.
    """
    chance = np.prod([offer.chance for offer in offers], axis=0)
    possible = np.all([~np.isnan(offer.gap) for offer in offers], axis=0)
    possible &= chance * worth >= (price.press + work) * (1 - 1e-12)
    cost = np.where(possible, price.press + work + price.spoiled_assembly * (1 - chance), math.inf)
    cheaper = cost < table.cost[where]
    table.ways.append(tuple(offer.way for offer in offers))
    for array, values in ((table.cost, cost), (table.way, len(table.ways) - 1), (table.chance, chance)):
        array[where] = np.where(cheaper, values, array[where])
    for layer, offer in enumerate(offers):
        for array, layered in ((table.gap, offer.gap), (table.gap_sd, offer.sd), (table.size, offer.size)):
            array[layer][where] = np.where(cheaper, layered, array[layer][where])


def cheapest(table: Edges, wanted: int, aims: Sequence[Aim]) -> tuple[np.ndarray, np.ndarray]:
    """Return rows and columns of the ``wanted`` assemblies that cost least together.

    Exactly that many are taken: rows and columns that stay out are absorbed by as many columns and rows of no cost,
    which may not meet each other. Among equal costs gaps near the ones aimed at are preferred.
    """
    rows, columns = table.cost.shape
    scale = float(np.max(table.cost[np.isfinite(table.cost)]))
    never = 1e3 * (scale + 1.0) * (wanted + 1)
    off_aim = sum(_off_aim(gap, aim) for gap, aim in zip(table.gap, aims)) / len(aims)
    cost = np.where(np.isfinite(table.cost), table.cost + 1e-9 * (scale + 1.0) * off_aim, never)
    full = np.full((rows + columns - wanted, rows + columns - wanted), never)
    full[:rows, :columns] = cost
    full[:rows, columns:] = 0.0
    full[rows:, :columns] = 0.0
    taken_rows, taken_columns = cheapest_assignment(full)
    real = (taken_rows < rows) & (taken_columns < columns)
    return taken_rows[real], taken_columns[real]


def _off_aim(gap: np.ndarray, aim: Aim) -> np.ndarray:
    """Return 0 for gaps as aimed at, growing to 1 far from it: what decides between equal costs."""
    width = aim.high - aim.low if math.isfinite(aim.high - aim.low) else 1.0
    away = np.where(np.isnan(gap), width, gap - aim.gap) / (width or 1.0)
    return np.asarray(away * away / (1.0 + away * away))
