"""Every way to make one assembly of an internal and an external piece: what it costs and how sure it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tracker.decide.prices import Prices
from tracker.fit.assignment import cheapest_assignment
from tracker.fit.batch_spread import normal_share
from tracker.fit.checks import Floats
from tracker.fit.together import all_hold

AS_IS, REWORK_EXTERNAL, REWORK_INTERNAL, NEW_EXTERNAL, NEW_INTERNAL, NEW_BOTH, NOT_MADE = WAYS = (
    "press as is",
    "rework external",
    "rework internal",
    "new external",
    "new internal",
    "new both",
    "not made",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One measured side: sizes as read, true means and sds given the readings, and how new work comes out."""

    name: str
    read: Floats
    noise: Floats
    true: Floats
    true_sd: Floats
    rework_sd: float | None
    make_sd: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """The gap limits, the gap aimed at, what all gaps share, the step sizes are cut to, material to leave."""

    low: float
    high: float
    gap: float
    common: float
    increment: float | None
    least_cut: float

    def chance(self, gap: np.ndarray, sd: np.ndarray) -> Floats:
        """Return the chance that gaps of that mean and sd are within limits."""
        return normal_share(gap, np.hypot(sd, self.common), self.low, self.high)

    def cut_to(self, size: np.ndarray) -> np.ndarray:
        """Return the sizes rounded to the step that can be cut."""
        return size if self.increment is None else np.round(np.round(size / self.increment) * self.increment, 12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """The table of assemblies: rows are internal pieces then new ones, columns external pieces then new ones.

    ``cost`` is that of the cheapest way, with the cost of a spoiled assembly times its chance in it; ``way`` its
    index in `WAYS`; ``chance``, ``gap``, ``gap_sd`` of that way; ``size`` what the reworked or new piece is cut to
    (NaN: none).
    """

    cost: Floats
    way: np.ndarray
    chance: Floats
    gap: Floats
    gap_sd: Floats
    size: Floats


def edges(internal: Side, external: Side, aim: Aim, price: Prices, new: int) -> Edges:
    """Return the table of all assemblies with ``new`` rows and columns for pieces still to be made."""
    m, n = internal.read.size, external.read.size
    shape = (m + new, n + new)
    table = Edges(
        cost=np.full(shape, math.inf),
        way=np.full(shape, WAYS.index(NOT_MADE)),
        chance=np.zeros(shape),
        gap=np.full(shape, math.nan),
        gap_sd=np.zeros(shape),
        size=np.full(shape, math.nan),
    )
    pairs = (slice(0, m), slice(0, n))
    sd_in, sd_out = internal.true_sd[:, None], external.true_sd[None, :]
    gap = internal.true[:, None] - external.true[None, :]
    _offer(table, pairs, AS_IS, price, 0.0, gap, np.hypot(sd_in, sd_out), np.full(gap.shape, math.nan), aim)
    _offer_rework(table, pairs, internal, external, aim, price)
    _offer_new(table, m, n, internal, external, aim, price)
    return table


def _offer_rework(
    table: Edges, pairs: tuple[slice, slice], internal: Side, external: Side, aim: Aim, price: Prices
) -> None:
    """Offer the external piece ground down to suit, and the internal piece opened to suit, where material is left."""
    for side, other, sign, way in (
        (external, internal, -1.0, REWORK_EXTERNAL),
        (internal, external, 1.0, REWORK_INTERNAL),
    ):
        cost = price.rework.get(side.name)
        if cost is None or side.rework_sd is None:
            continue
        mates = other.true[:, None] if sign < 0 else other.true[None, :]
        mate_sd = other.true_sd[:, None] if sign < 0 else other.true_sd[None, :]
        read = side.read[None, :] if sign < 0 else side.read[:, None]
        size = aim.cut_to(mates + sign * aim.gap)
        size, read, mate_sd, mates = np.broadcast_arrays(size, read, mate_sd, mates)
        possible = sign * (size - read) >= aim.least_cut - 1e-12 * np.abs(size)
        gap = np.where(possible, sign * (size - mates), math.nan)
        _offer(table, pairs, way, price, cost, gap, np.hypot(mate_sd, side.rework_sd), size, aim)


def _offer_new(table: Edges, m: int, n: int, internal: Side, external: Side, aim: Aim, price: Prices) -> None:
    """Offer new pieces made to suit a measured mate, both made new, or the assembly left unmade."""
    new_external = price.remake.get("external") if external.make_sd is not None else None
    new_internal = price.remake.get("internal") if internal.make_sd is not None else None
    rows, columns = table.cost.shape
    if new_external is not None and external.make_sd is not None:
        size = aim.cut_to(internal.true - aim.gap)[:, None]
        gap, sd = internal.true[:, None] - size, np.hypot(internal.true_sd, external.make_sd)[:, None]
        shape = (m, columns - n)
        gap, sd, size = (np.broadcast_to(part, shape) for part in (gap, sd, size))
        _offer(table, (slice(0, m), slice(n, columns)), NEW_EXTERNAL, price, new_external, gap, sd, size, aim)
    if new_internal is not None and internal.make_sd is not None:
        size = aim.cut_to(external.true + aim.gap)[None, :]
        gap, sd = size - external.true[None, :], np.hypot(external.true_sd, internal.make_sd)[None, :]
        shape = (rows - m, n)
        gap, sd, size = (np.broadcast_to(part, shape) for part in (gap, sd, size))
        _offer(table, (slice(m, rows), slice(0, n)), NEW_INTERNAL, price, new_internal, gap, sd, size, aim)
    corner = (slice(m, rows), slice(n, columns))
    table.cost[corner] = price.spoiled_assembly
    if new_external is not None and new_internal is not None:
        sd_both = math.hypot(internal.make_sd or 0.0, external.make_sd or 0.0)
        shape = (rows - m, columns - n)
        size = np.full(shape, math.nan)
        gap, sd = np.full(shape, aim.gap), np.full(shape, sd_both)
        _offer(table, corner, NEW_BOTH, price, new_external + new_internal, gap, sd, size, aim)


def _offer(
    table: Edges,
    where: tuple[slice, slice],
    way: str,
    price: Prices,
    work: float,
    gap: np.ndarray,
    sd: np.ndarray,
    size: np.ndarray,
    aim: Aim,
) -> None:
    """Take this way wherever it is cheaper than what the table holds; a gap of NaN is not possible."""
    possible = ~np.isnan(gap)
    chance = np.where(possible, aim.chance(np.where(possible, gap, aim.gap), sd), 0.0)
    cost = np.where(possible, price.press + work + price.spoiled_assembly * (1 - chance), math.inf)
    cheaper = cost < table.cost[where]
    for array, values in (
        (table.cost, cost),
        (table.way, np.full(cost.shape, WAYS.index(way))),
        (table.chance, chance),
        (table.gap, gap),
        (table.gap_sd, sd),
        (table.size, size),
    ):
        array[where] = np.where(cheaper, values, array[where])


def cheapest(table: Edges, wanted: int, aim: Aim) -> tuple[np.ndarray, np.ndarray]:
    """Return rows and columns of the ``wanted`` assemblies that cost least together.

    Exactly that many are taken: rows and columns that stay out are absorbed by as many columns and rows of no cost,
    which may not meet each other. Among equal costs gaps near the one aimed at are preferred.
    """
    rows, columns = table.cost.shape
    scale = float(np.max(table.cost[np.isfinite(table.cost)]))
    never = 1e3 * (scale + 1.0) * (wanted + 1)
    cost = np.where(np.isfinite(table.cost), table.cost + 1e-9 * (scale + 1.0) * _off_aim(table, aim), never)
    full = np.full((rows + columns - wanted, rows + columns - wanted), never)
    full[:rows, :columns] = cost
    full[:rows, columns:] = 0.0
    full[rows:, :columns] = 0.0
    taken_rows, taken_columns = cheapest_assignment(full)
    real = (taken_rows < rows) & (taken_columns < columns)
    return taken_rows[real], taken_columns[real]


def _off_aim(table: Edges, aim: Aim) -> np.ndarray:
    """Return 0 for gaps as aimed at, growing to 1 far from it: what decides between equal costs."""
    width = aim.high - aim.low if math.isfinite(aim.high - aim.low) else 1.0
    away = np.where(np.isnan(table.gap), width, table.gap - aim.gap) / (width or 1.0)
    return np.asarray(away * away / (1.0 + away * away))


def chance_of_all(gap: np.ndarray, sd: np.ndarray, aim: Aim) -> float:
    """Return the chance that all these gaps are within the limits aimed at."""
    return all_hold(gap, sd, aim.low, aim.high, aim.common)
