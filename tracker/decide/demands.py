"""What an assembly must meet: one gap or several, with both measured sides, the aim, and what rework costs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracker.decide.prices import Prices
from tracker.fit.batch_spread import normal_share
from tracker.fit.checks import Floats
from tracker.fit.together import all_hold


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One measured side: sizes as read, true means and sds given the readings, and how new work comes out.

    ``least`` and ``most`` are the limits of size that what is cut has to keep, infinite where there is none.
    """

    name: str
    read: Floats
    noise: Floats
    true: Floats
    true_sd: Floats
    rework_sd: float | None
    make_sd: float | None
    least: float = -math.inf
    most: float = math.inf

    def cut_to(self, size: np.ndarray, increment: float | None) -> np.ndarray:
        """Return the sizes rounded to the step that can be cut, and none beyond this side's limits of size."""
        if increment is None:
            return np.asarray(np.clip(size, self.least, self.most))
        slack = 1e-9  # of a step: a limit that is a whole step but for its last bit is one
        least = math.ceil(self.least / increment - slack) if math.isfinite(self.least) else -math.inf
        most = math.floor(self.most / increment + slack) if math.isfinite(self.most) else math.inf
        return np.asarray(np.round(np.clip(np.round(size / increment), least, max(least, most)) * increment, 12))


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """The gap limits, the gap aimed at, what all gaps share, the step sizes are cut to, material to leave.

    Gaps closer than ``near`` are the same to the arithmetic: one on a limit is within it.
    """

    low: float
    high: float
    gap: float
    common: float
    increment: float | None
    least_cut: float
    near: float = 0.0

    def chance(self, gap: np.ndarray, sd: np.ndarray) -> Floats:
        """Return the chance that gaps of that mean and sd are within limits."""
        return normal_share(gap, np.hypot(sd, self.common), self.low, self.high, self.near)


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """One gap that every assembly must meet; ``rework`` and ``minutes`` hold the sides that can be reworked for it."""

    internal: Side
    external: Side
    aim: Aim
    rework: dict[str, float]
    minutes: dict[str, float]

    @property
    def limits(self) -> tuple[float | None, float | None]:
        """The gap limits as the fit room takes them, None where open."""
        low, high = self.aim.low, self.aim.high
        return (low if np.isfinite(low) else None, high if np.isfinite(high) else None)

    @property
    def noise(self) -> tuple[np.ndarray, np.ndarray]:
        """Standard uncertainty of each piece's size, both sides."""
        return self.internal.noise, self.external.noise

    def gaps(self, rows: np.ndarray, columns: np.ndarray) -> tuple[Floats, Floats]:
        """Return mean and sd of the true gap of these internal with these external pieces; indices broadcast."""
        gap = self.internal.true[rows] - self.external.true[columns]
        return gap, np.hypot(self.internal.true_sd[rows], self.external.true_sd[columns])


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What a plan is worked out from: the demands, costs and times, assemblies wanted, the step of the gauge."""

    demands: tuple[Demand, ...]
    price: Prices
    minutes: Prices | None
    wanted: int
    step: Any = None

    @property
    def shape(self) -> tuple[int, int]:
        """Pieces of the internal and of the external part."""
        return self.demands[0].internal.read.size, self.demands[0].external.read.size

    @property
    def pressed(self) -> int:
        """Pairs that can be made of the pieces there are."""
        return min(*self.shape, self.wanted)

    def can_be_made(self, side: str) -> bool:
        """Return whether a new piece of that side can be made: at a price, with a known spread in every dimension."""
        spreads = [getattr(demand, side).make_sd for demand in self.demands]
        return side in self.price.remake and all(sd is not None for sd in spreads)

    def chances(self, rows: np.ndarray, columns: np.ndarray) -> Floats:
        """Return the chance to be good of each of these internal with each of these external pieces as they are."""
        found = np.ones((len(rows), len(columns)))
        for demand in self.demands:
            found = found * demand.aim.chance(*demand.gaps(rows[:, None], columns[None, :]))
        return found

    def every_chance(self, rows: np.ndarray, columns: np.ndarray) -> float:
        """Return the chance that all of these pairs are good as they are."""
        return math.prod(chance_of_all(*demand.gaps(rows, columns), demand.aim) for demand in self.demands)

    def new_mate(self) -> tuple[str, float] | None:
        """Return the cheapest side to make a new piece on, to suit a piece there is, and its chance to be good."""
        offers = []
        for name, other in (("internal", "external"), ("external", "internal")):
            if self.can_be_made(name):
                good = 1.0
                for demand in self.demands:
                    mate_sd = np.sqrt(np.mean(getattr(demand, other).true_sd ** 2))
                    sd = np.hypot(mate_sd, getattr(demand, name).make_sd)
                    good *= float(demand.aim.chance(np.array([demand.aim.gap]), np.array([sd]))[0])
                offers.append((self.price.remake[name] + self.price.spoiled_assembly * (1 - good), name, good))
        return min(offers)[1:] if offers else None


def chance_of_all(gap: np.ndarray, sd: np.ndarray, aim: Aim) -> float:
    """Return the chance that all these gaps are within the limits aimed at."""
    return all_hold(gap, sd, aim.low, aim.high, aim.common, aim.near)
