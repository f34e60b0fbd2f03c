"""Which assemblies to make: the choice of least cost, and of least cost within a risk."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tracker.decide.alternatives import paired
from tracker.decide.demands import Case, chance_of_all
from tracker.decide.edges import AS_IS, NOT_MADE, Edges, cheapest, edges
from tracker.decide.prices import Prices

HEAVIEST = 1e6
HALVINGS = 12
SAME_COST = 1e-5
"""Share of the cost up to which the pairing with the better margins is taken: a cent in a thousand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Assemblies chosen from the table, in which a spoiled one weighs ``weight`` times its cost."""

    table: Edges
    rows: np.ndarray
    columns: np.ndarray
    weight: float

    def words(self) -> list[tuple[str, ...]]:
        """Return what is done for each assembly, one word a demand."""
        return [self.table.ways[way] for way in self.table.way[self.rows, self.columns].tolist()]

    def chance_all(self, case: Case) -> float:
        """Return the chance that all assemblies are good; none when one is not made."""
        return 0.0 if any(words[0] == NOT_MADE for words in self.words()) else self.chance_made(case)

    def chance_made(self, case: Case) -> float:
        """Return the chance that all assemblies that are made are good."""
        made = np.array([words[0] != NOT_MADE for words in self.words()], dtype=bool)
        layers = zip(self.table.gap, self.table.gap_sd, case.demands)
        taken = self.rows[made], self.columns[made]
        return math.prod(chance_of_all(gap[taken], sd[taken], demand.aim) for gap, sd, demand in layers)

    def cost(self, price: Prices) -> np.ndarray:
        """Return the true cost of each assembly, the weight taken out."""
        taken = self.rows, self.columns
        unmade = self.table.way[taken] == self.table.ways.index((NOT_MADE,) * len(self.table.gap))
        lost = np.where(unmade, price.unmade_assembly, price.spoiled_assembly * (1 - self.table.chance[taken]))
        return np.asarray(self.table.cost[taken] - (self.weight - 1) * lost)


def choose(case: Case, weight: float) -> Choice:
    """Return the choice of least cost when an assembly spoiled or not made weighs that many times its cost."""
    price = replace(
        case.price,
        spoiled_assembly=weight * case.price.spoiled_assembly,
        unmade_assembly=weight * case.price.unmade_assembly,
    )
    table = edges(case, price)
    aims = [demand.aim for demand in case.demands]
    rows, columns = _paired_best(table, *cheapest(table, case.wanted, aims), case)
    return Choice(table=table, rows=rows, columns=columns, weight=weight)


def within_risk(case: Case, most_risk: float) -> Choice:
    """Return the cheapest of the plans found that keep the risk: a spoiled assembly weighs more until they do.

    If none does, the cheapest of all: to pay for safety that is not reached helps nobody.
    """

    def keeps(choice: Choice) -> bool:
        return 1.0 - choice.chance_all(case) <= most_risk

    low, high = 1.0, 1.0
    found = [choose(case, 1.0)]
    while not keeps(found[-1]) and high < HEAVIEST:
        low, high = high, high * 8
        found.append(choose(case, high))
    if not keeps(found[-1]):
        return found[0]
    for _ in range(HALVINGS if high > 1 else 0):
        middle = math.sqrt(low * high)
        found.append(choose(case, middle))
        low, high = (low, middle) if keeps(found[-1]) else (middle, high)
    return min((choice for choice in found if keeps(choice)), key=lambda choice: float(choice.cost(case.price).sum()))


def _paired_best(table: Edges, rows: np.ndarray, columns: np.ndarray, case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Return the same choice, pieces pressed as they are paired as `pair` does where that costs no more to speak of.

    So the plan and the pairing agree where cost leaves it open.
    """
    plain = table.ways.index((AS_IS,) * len(case.demands))
    as_is = np.flatnonzero(table.way[rows, columns] == plain)
    if as_is.size < 2:
        return rows, columns
    inner, outer = rows[as_is], np.sort(columns[as_is])  # ties are broken by the order of the pieces, here as there
    best = paired(case, inner, outer)
    if best.good < as_is.size:
        return rows, columns
    other = columns.copy()
    other[as_is[best.internal]] = outer[best.external]
    before, after = table.cost[rows, columns].sum(), table.cost[rows, other].sum()
    return (rows, other) if after <= before * (1 + SAME_COST) else (rows, columns)
