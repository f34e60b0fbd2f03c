"""What a verdict rests on, checked: counts, chances and lengths."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tracker.decide.demands import Aim, chance_of_all
from tracker.decide.words import Say, share
from tracker.errors import TrackerError
from tracker.given import finite_number, number, share_of_one

MOST = 1_000_000
COUNTS = ("internal", "external", "wanted", "near", "sort_from")
COUNTS_OR_NONE = ("pairs_good", "pairs_good_most", "class_count", "reworked", "remade")
CHANCES_OR_NONE = ("chance_all", "chance_pairs", "chance_planned")


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """All that the verdict may rest on; see `tracker.decide.verdict`."""

    internal: int
    external: int
    wanted: int
    chance_all: float | None
    pairs_good: int | None
    chance_pairs: float | None
    pairs_good_most: int | None
    near: int
    class_good: float | None
    class_count: int | None
    reworked: int | None
    remade: int | None
    chance_planned: float | None
    unmade: int
    work: str
    unread: str
    assurance: float
    gap_tolerance: float | None
    gap_uncertainty: float | None
    gap_common: float
    gap_operators: float
    worst_margin: float | None
    gauge_fault: str
    target: float | None
    drawing: str
    names: tuple[str, str]
    sort_from: int
    say: Say

    def said(self, chance: float | None) -> str:
        """Return a chance as it is said beside the assurance asked."""
        return share(chance or 0.0, beside=self.assurance)

    @property
    def enough(self) -> bool:
        """Whether there are as many pieces a side as assemblies wanted."""
        return min(self.internal, self.external) >= self.wanted

    @property
    def best_possible(self) -> float:
        """Chance that all assemblies are good if every gap read dead in the middle of its limits."""
        if not self.gap_uncertainty or self.gap_tolerance is None or math.isinf(self.gap_tolerance):
            return 1.0
        half, own = self.gap_tolerance / 2, math.sqrt(max(self.gap_uncertainty**2 - self.gap_common**2, 0.0))
        middle = Aim(low=-half, high=half, gap=0.0, common=self.gap_common, increment=None, least_cut=0.0)
        wanted = max(self.wanted, 1)
        return chance_of_all(np.zeros(wanted), np.full(wanted, own), middle)

    @property
    def classes_hold(self) -> bool:
        """Whether trays give all good with the assurance: a mean of spoiled ones under it bounds the chance of any."""
        return self.class_good is not None and self.wanted - self.class_good <= 1 - self.assurance + 1e-12

    @property
    def pairs_hold(self) -> bool:
        """Whether the best pairing gives all good with the assurance."""
        all_made = self.pairs_good is not None and self.pairs_good >= self.wanted
        return all_made and self.chance_pairs is not None and self.chance_pairs >= self.assurance


def checked(facts: Facts) -> Facts:
    """Return the facts with every count as a whole number, after refusing what makes no sense.

    Raises
    ------
    TrackerError
        A count below zero, a chance not between 0 and 1, more pairs than pieces, a length that is none.
    """
    given = [name for name in (*COUNTS, *COUNTS_OR_NONE) if name in COUNTS or getattr(facts, name) is not None]
    counts: dict[str, Any] = {name: _count(getattr(facts, name), name) for name in given}
    facts = replace(facts, **counts)
    if facts.wanted < 1 and facts.internal and facts.external:
        raise TrackerError("no assembly is wanted; give wanted of one or more, or leave it out")
    _check_pairs(facts)
    for name in CHANCES_OR_NONE:
        if getattr(facts, name) is not None:
            share_of_one(getattr(facts, name), name)
    if not 0 < number(facts.assurance, "assurance") < 1:
        raise TrackerError(f"assurance is {facts.assurance!r}; it lies between 0 and 1, for example 0.95")
    for name in ("gap_uncertainty", "gap_common", "gap_operators"):
        value = getattr(facts, name)
        if value is None and name == "gap_uncertainty":
            continue
        if finite_number(value, name) < 0:
            raise TrackerError(f"{name} is {value!r}; give zero or more")
    if facts.gap_tolerance is not None and not number(facts.gap_tolerance, "gap_tolerance") >= 0:
        raise TrackerError(
            f"gap_tolerance is {facts.gap_tolerance!r}; give zero or more, or None where one side is open"
        )
    if facts.worst_margin is not None and math.isnan(number(facts.worst_margin, "worst_margin")):
        raise TrackerError("worst_margin is not a number; give a length, or leave it out")
    if facts.target is not None:
        finite_number(facts.target, "target")
    return facts


def _check_pairs(facts: Facts) -> None:
    """Refuse more pairs, or more good assemblies, than there are pieces to make them of."""
    most = min(facts.internal, facts.external)
    for name in ("pairs_good", "pairs_good_most", "class_good"):
        value = getattr(facts, name)
        if value is None:
            continue
        if not 0 <= number(value, name) <= most + 1e-9 * max(most, 1):
            raise TrackerError(
                f"{name} is {value!r}; {facts.internal} internal and {facts.external} external pieces make from 0 to "
                f"{most} pairs"
            )


def _count(value: object, name: str) -> int:
    found = number(value, name)
    if not (0 <= found <= MOST and found == int(found)):
        raise TrackerError(f"{name} is {value!r}; a count is zero or more, whole, and at most {MOST:,}")
    return int(found)
