"""What to cut the mating part to, given the pieces that are already there."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import special

from tracker.errors import TrackerError
from tracker.fit.batch_spread import given_readings, variance_nodes
from tracker.fit.checks import Floats, limits_of, not_negative, round_off, side_uncertainty, sizes_of
from tracker.given import finite_number, whole_number
from tracker.plurals import noun
from tracker.result import Result

POINTS = 401
AT_ONCE = 20_000  # chances held in memory at a time
LOSS = 0.01  # the window holds targets that lose at most this share of the best


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Target(Result):
    """The mean size to cut the other part to.

    Attributes
    ----------
    target : float
        Mean size with the least expected cost (with equal costs: the most good assemblies).
    expected_good : float
        Expected good assemblies, one for each measured mate.
    share_good, share_tight, share_loose : float
        Chances of one assembly at the target; they add up to 1.
    expected_cost : float
        Expected cost of one assembly at the target.
    window : (float, float)
        Targets within which at most 1 % of the best is lost.
    curve_target, curve_good, curve_cost : array
        Expected share of good assemblies and cost against the target.
    side : str
        Which part is cut: "external" or "internal".
    sd : float
        Spread of the part to be cut.
    n_mates : int
        Mates measured.
    method : str
        How it was found.
    """

    target: float
    expected_good: float
    share_good: float
    share_tight: float
    share_loose: float
    expected_cost: float
    window: tuple[float, float]
    curve_target: Floats
    curve_good: Floats
    curve_cost: Floats
    side: str
    sd: float
    n_mates: int
    method: str

    def __str__(self) -> str:
        return (
            f"Cut the {self.side} part to {self.target:.6g}: {self.expected_good:.1f} of {self.n_mates} "
            f"{noun(self.n_mates, 'assembly is', 'assemblies are')} expected good "
            f"({100 * self.share_tight:.1f} % too tight, "
            f"{100 * self.share_loose:.1f} % too loose). "
            f"Anywhere from {self.window[0]:.6g} to {self.window[1]:.6g} loses at most 1 %. "
            f"From {self.n_mates} {noun(self.n_mates, 'mate')} as measured; {self.method}."
        )


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class _Outcome:
    """Chances of too tight and too loose against the target."""

    mates: Floats
    spreads: Floats  # mates x nodes
    weight: Floats
    low: float
    high: float
    sign: float  # +1: the external part is cut, -1: the internal

    def tight_and_loose(self, targets: Floats) -> tuple[Floats, Floats]:
        """Return both chances, averaged over the mates, for each target."""
        tight, loose = np.empty(len(targets)), np.empty(len(targets))
        block = max(1, AT_ONCE // self.spreads.size)
        for start in range(0, len(targets), block):
            some = slice(start, start + block)
            deviation = (self.sign * (self.mates - targets[some, None]))[:, :, None]
            tight[some] = (special.ndtr((self.low - deviation) / self.spreads) @ self.weight).mean(axis=1)
            loose[some] = (special.ndtr((deviation - self.high) / self.spreads) @ self.weight).mean(axis=1)
        return tight, loose

    def slope(self, target: float, cost_tight: float, cost_loose: float) -> float:
        """Return the slope of the expected cost at one target, on a scale of its own (only the sign counts).

        The densities are taken relative to the largest one, so that limits many spreads away still say
        which of them is the nearer.
        """
        deviation = (self.sign * (self.mates - target))[:, None]
        at_low = -0.5 * np.square((self.low - deviation) / self.spreads) + math.log(cost_tight)
        at_high = -0.5 * np.square((deviation - self.high) / self.spreads) + math.log(cost_loose)
        top = max(float(at_low.max()), float(at_high.max()))
        pull = (np.exp(at_low - top) - np.exp(at_high - top)) / self.spreads
        return float(self.sign * (pull @ self.weight).sum())


def best_target(
    mates: npt.ArrayLike,
    sd: float,
    gap_lower: float | None,
    gap_upper: float | None,
    side: str = "external",
    cost_tight: float = 1.0,
    cost_loose: float = 1.0,
    *,
    uncertainty: Any = 0.0,
    common_uncertainty: float = 0.0,
    sd_pieces: int | None = None,
) -> Target:
    """Return the mean size to cut the mating part to, so that assemblies cost least.

    Parameters
    ----------
    mates : array of float, shape (n,)
        Measured sizes of the parts already there (bores, when plugs are cut); one is enough.
    sd : float
        Spread (standard deviation) of the part to be cut, above zero.
    gap_lower, gap_upper : float
        Limits of internal minus external size; both are needed.
    side : {"external", "internal"}
        Which part is cut.
    cost_tight, cost_loose : float, default 1
        What an assembly below the lower and above the upper gap limit costs (scrap, rework), above zero.
    uncertainty : float or array, default 0
        Standard uncertainty of one mate's size.
    common_uncertainty : float, default 0
        Standard uncertainty of the gap that all assemblies share.
    sd_pieces : int, optional
        Number of pieces `sd` was found from; by default it is taken as known.

    Returns
    -------
    Target

    Raises
    ------
    TrackerError
        An open limit (no best target exists), a spread or cost not above zero, an unknown side.
    NotEnoughData
        No mate.

    Notes
    -----
    Sizes of the part to be cut normal about the target; each assembly takes one of the measured mates,
    all equally likely. The best target is where the slope of the expected cost passes zero, the lowest of
    all such places. With unequal costs it moves away from the dear side. `window` is where
    1 - cost / (larger of both costs) stays above 99 % of its best value: with equal costs, where the
    share of good assemblies does.

    References
    ----------
    With one mate it is Springer's economic process mean with unequal costs (Industrial Quality Control
    8, 1951): tests/published/test_fit_targets.py, cases adj-target-asym-1 and -2.

    Examples
    --------
    >>> round(best_target([0.2510], 0.0001, -0.0015, -0.0005).target, 6)
    0.252
    """
    as_given = sizes_of(mates, "mates")
    measured = np.sort(as_given)
    low, high = limits_of(gap_lower, gap_upper)
    _check(low, high, side, sd, cost_tight, cost_loose)
    noise = side_uncertainty(uncertainty, len(measured))
    common = not_negative(common_uncertainty, "common_uncertainty")
    if not bool(np.all(noise == noise[0])):
        noise = noise[np.argsort(as_given, kind="stable")]
    true, true_sd = given_readings(measured, noise)
    variance, weight = _variances(sd, sd_pieces)
    outcome = _Outcome(
        mates=true,
        spreads=np.sqrt(variance + np.square(true_sd)[:, None] + common**2),
        weight=weight,
        low=low,
        high=high,
        sign=1.0 if side == "external" else -1.0,
    )
    near = round_off(measured)
    return _search(outcome, float(sd), side, cost_tight, cost_loose, len(measured), near, sd_pieces)


def _check(low: float, high: float, side: str, sd: float, cost_tight: float, cost_loose: float) -> None:
    if not (math.isfinite(low) and math.isfinite(high)):
        raise TrackerError(
            "gap limits: with one side open no target is best, further away is always safer; give both limits"
        )
    if side not in ("external", "internal"):
        raise TrackerError(f"side: found {side!r}; the part that is cut is 'external' or 'internal'")
    finite_number(sd, "sd", above=0)
    for name, cost in (("cost_tight", cost_tight), ("cost_loose", cost_loose)):
        finite_number(cost, name, above=0)


def _variances(sd: float, sd_pieces: int | None) -> tuple[Floats, Floats]:
    """Return what the variance of the part to be cut may be; a little wider for its own mean."""
    if sd_pieces is None:
        return np.array([sd**2]), np.ones(1)
    return variance_nodes(sd**2, whole_number(sd_pieces, "sd_pieces", 2) - 1.0, 0.0)


def _search(
    outcome: _Outcome,
    sd: float,
    side: str,
    cost_tight: float,
    cost_loose: float,
    count: int,
    near: float,
    sd_pieces: int | None,
) -> Target:
    """Return the best target: a grid over everything sensible, then the zero of the slope."""
    thin = outcome
    if count > POINTS:
        kept = ((np.arange(POINTS) + 0.5) * count / POINTS).astype(np.int64)
        thin = dataclasses.replace(outcome, mates=outcome.mates[kept], spreads=outcome.spreads[kept])
    ends = outcome.mates - outcome.sign * outcome.low, outcome.mates - outcome.sign * outcome.high
    grid = _grid(thin, min(map(np.min, ends)), max(map(np.max, ends)), abs(math.log(cost_tight / cost_loose)))
    tight, loose = thin.tight_and_loose(grid)
    cost = cost_tight * tight + cost_loose * loose
    target = _best_of(thin, grid, cost, cost_tight, cost_loose, near)
    at_tight, at_loose = (float(part[0]) for part in thin.tight_and_loose(np.array([target])))
    best_cost = cost_tight * at_tight + cost_loose * at_loose
    good = max(1.0 - at_tight - at_loose, 0.0)
    window = _window(thin, target, best_cost, cost_tight, cost_loose, grid)
    shown = np.round(np.linspace(0, len(grid) - 1, POINTS)).astype(np.int64)
    known = (
        "its spread taken as known"
        if sd_pieces is None
        else f"its spread known from {sd_pieces} {noun(sd_pieces, 'piece')}"
    )
    thinned = "" if thin is outcome else f", {POINTS} evenly spread mates standing for all"
    return Target(
        target=target,
        expected_good=count * good,
        share_good=good,
        share_tight=at_tight,
        share_loose=at_loose,
        expected_cost=best_cost,
        window=window,
        curve_target=grid[shown],
        curve_good=np.clip(1.0 - tight - loose, 0.0, 1.0)[shown],
        curve_cost=cost[shown],
        side=side,
        sd=sd,
        n_mates=count,
        method=f"least expected cost, the part to be cut normal, {known}{thinned}",
    )


def _grid(outcome: _Outcome, lowest: float, highest: float, log_ratio: float) -> Floats:
    """Return targets to look at: unequal costs can push the best one far beyond the limits when they are narrow."""
    variances = outcome.spreads**2 @ outcome.weight
    widest = math.sqrt(float(variances.max()))
    width = max(outcome.high - outcome.low, 1e-3 * widest)
    reach = 3.0 * widest + min(widest**2 * log_ratio / width, 12.0 * widest)
    finest = math.sqrt(float(variances.min())) / 2.0
    points = min(max(POINTS, math.ceil((highest - lowest + 2.0 * reach) / finest)), 50 * POINTS)
    return np.linspace(lowest - reach, highest + reach, points)


def _best_of(outcome: _Outcome, grid: Floats, cost: Floats, cost_tight: float, cost_loose: float, near: float) -> float:
    """Return the lowest minimum: each dip of the grid is closed in on by halving its slope."""
    dips = np.flatnonzero((cost[1:-1] <= cost[:-2]) & (cost[1:-1] <= cost[2:])) + 1
    if not len(dips):  # every target is as bad as the next: the cheaper end of all that was looked at
        return float(grid[int(np.argmin(cost))])
    promising = dips[cost[dips] <= cost[dips].min() + 0.02 * max(cost_tight, cost_loose)]
    found = []
    for run in np.split(promising, np.flatnonzero(np.diff(promising) > 1) + 1):
        left, right = float(grid[run[0] - 1]), float(grid[run[-1] + 1])
        while right - left > 4.0 * near + 1e-12 * (grid[-1] - grid[0]):
            middle = (left + right) / 2.0
            slope = outcome.slope(middle, cost_tight, cost_loose)
            if slope == 0.0:
                left = right = middle
            elif slope > 0:
                right = middle
            else:
                left = middle
        found.append((left + right) / 2.0)
    tight, loose = outcome.tight_and_loose(np.array(found))
    return found[int(np.argmin(cost_tight * tight + cost_loose * loose))]


def _window(
    outcome: _Outcome, target: float, best_cost: float, cost_tight: float, cost_loose: float, grid: Floats
) -> tuple[float, float]:
    """Return the stretch about the target in which at most 1 % of the best is lost."""
    dearest = max(cost_tight, cost_loose)
    allowed = dearest - (1.0 - LOSS) * (dearest - best_cost)

    def cost(at: float) -> float:
        tight, loose = outcome.tight_and_loose(np.array([at]))
        return float(cost_tight * tight[0] + cost_loose * loose[0])

    ends = []
    step = float(grid[1] - grid[0])
    for direction in (-1.0, 1.0):
        inside, outside = target, target + direction * step
        while cost(outside) <= allowed and grid[0] - step < outside < grid[-1] + step:
            inside, outside = outside, outside + direction * step
        for _ in range(50):
            middle = (inside + outside) / 2.0
            inside, outside = (middle, outside) if cost(middle) <= allowed else (inside, middle)
        ends.append(inside)
    return ends[0], ends[1]
