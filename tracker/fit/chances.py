"""Will any two of them go together: the chance for pieces yet to be made, and for those measured."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import special

from tracker.fit.batch_spread import GapSpread, gap_spread, normal_share, probability_nodes, side_spread
from tracker.fit.checks import Floats, generator, limits_of, not_negative, round_off, sizes_of, uncertainties
from tracker.fit.measured_pairs import chance_of_pair, share_of_pairs, whole_order
from tracker.given import whole_number
from tracker.plurals import noun
from tracker.result import Result


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Chance(Result):
    """Chance that internal and external pieces go together in any order.

    Two questions, kept apart. **Pieces from the same process, not made yet**: `pair`, `all`,
    `expected_good`, `too_tight`, `too_loose` (predictive). **The measured pieces themselves**, met at
    random: `measured_share` (as they read), `pair_measured`, `all_measured` (with the gauge in it).

    Attributes
    ----------
    pair : float
        Chance that one pair is within the gap limits.
    all : float
        Chance that all of `pairs` pairs are.
    expected_good, too_tight, too_loose : float
        Expected numbers among `pairs` pairs; they add up to `pairs`.
    measured_share : float
        Share of all m x n measured pairs that are within limits, as they read; exact.
    measured_tight, measured_loose : float
        The shares below the lower and above the upper gap limit.
    pair_measured : float
        Chance that two of the measured pieces, met at random, are within limits in truth.
    all_measured : float
        Chance that the measured pieces, put together in a random order, are all within limits in truth
        (every piece of the shorter side used, or `pairs` of them when fewer are asked for).
    all_measured_error : float
        Standard error of `all_measured` where it was simulated, else 0.
    pairs, n_internal, n_external : int
        Number of pairs the answer is for, and pieces measured a side.
    gap_mean, gap_sd : float
        Mean gap, and standard deviation of the gap of a random pair without the gauge's noise.
    gap_lower, gap_upper : float
        The limits; infinite when open.
    method, method_measured : str
        How the two answers were found.
    """

    pair: float
    all: float
    expected_good: float
    too_tight: float
    too_loose: float
    measured_share: float
    measured_tight: float
    measured_loose: float
    pair_measured: float
    all_measured: float
    all_measured_error: float
    pairs: int
    n_internal: int
    n_external: int
    gap_mean: float
    gap_sd: float
    gap_lower: float
    gap_upper: float
    method: str
    method_measured: str

    def __str__(self) -> str:
        return (
            f"In any order: {percent(self.pair)} chance that a pair goes together, {percent(self.all)} that all "
            f"{self.pairs} do; of {self.pairs} {noun(self.pairs, 'pair')} {self.expected_good:.1f} good, "
            f"{self.too_tight:.1f} too tight, "
            f"{self.too_loose:.1f} too loose are expected. The measured pieces: {percent(self.measured_share)} of "
            f"their pairs are within limits as they read, {percent(self.all_measured)} chance that a whole random "
            f"order is. From {self.n_internal} internal and {self.n_external} external "
            f"{noun(self.n_external, 'piece')}; {self.method}."
        )


def percent(value: float) -> str:
    """Return a chance as a person reads it: never 0 % or 100 % unless it is."""
    percent = 100.0 * value
    if 0 < percent < 0.1:
        return "under 0.1 %"
    if 99.9 < percent < 100:
        return "over 99.9 %"
    return f"{percent:.1f} %" if percent < 10 or percent > 90 else f"{percent:.0f} %"


def chance_any(
    internal: npt.ArrayLike,
    external: npt.ArrayLike,
    gap_lower: float | None,
    gap_upper: float | None,
    uncertainty: Any = 0.0,
    *,
    common_uncertainty: float = 0.0,
    pairs: int | None = None,
    rng: np.random.Generator | int | None = None,
) -> Chance:
    """Return the chance that pieces go together whichever comes to hand.

    Parameters
    ----------
    internal, external : array of float, shape (m,) and (n,)
        One measured size a piece, in one unit; at least two pieces a side.
    gap_lower, gap_upper : float or None
        Limits of internal minus external size; None is open.
    uncertainty : float or (internal, external), default 0
        Standard uncertainty of one piece's size, independent from piece to piece; of each side a number
        or one value a piece.
    common_uncertainty : float, default 0
        Standard uncertainty of the gap that all pairs share (calibration of the gauges, temperature).
    pairs : int, optional
        Number of pairs asked about; by default as many as the shorter side has pieces.
    rng : numpy.random.Generator or seed, optional
        For the simulated part (`all_measured`); by default a fixed seed, so that the same pieces always
        give the same answer.

    Returns
    -------
    Chance

    Raises
    ------
    NotEnoughData
        Fewer than two pieces on a side.
    TrackerError
        Limits the wrong way round, a size that is not a number, a negative uncertainty.

    Notes
    -----
    `pair` and `all` are predictive: both sides normal, mean and spread of the gap known only as well as
    the measured pieces tell, the gauge's noise taken out of the spread, the common part shared by all
    pairs. They are averages of the normal chance over what mean and spread may be; without gauge noise
    `pair` is a predictive t with the degrees of freedom of Welch and Satterthwaite. No opinion about where
    the gap lies goes in: where poor fits are known to be rare, low chances are on the cautious side. Not
    normal (two tools mixed, a cut-off tail, wear): the chance is off in the tails; look at
    `measured_share`, which assumes nothing, beside it.

    References
    ----------
    Geisser, Predictive Inference: An Introduction (1993), predictive distribution of a normal (from
    memory); checked against the t distribution in tests/tracker/fit/test_chances.py. Honesty
    against simulation: tests/calibration/fit_chance.py.

    Examples
    --------
    >>> holes = [0.6250, 0.6251, 0.6252, 0.6251]
    >>> plugs = [0.6257, 0.6256, 0.6258, 0.6257]
    >>> chance_any(holes, plugs, -0.0009, -0.0003).measured_share
    1.0
    """
    as_given = sizes_of(internal, "internal", 2), sizes_of(external, "external", 2)
    inside, outside = np.sort(as_given[0]), np.sort(as_given[1])
    low, high = limits_of(gap_lower, gap_upper)
    common = not_negative(common_uncertainty, "common_uncertainty")
    noise = _in_order(*as_given, uncertainties(uncertainty, len(inside), len(outside)))
    count = min(len(inside), len(outside)) if pairs is None else whole_number(pairs, "pairs")
    sides = side_spread(inside, noise[0]), side_spread(outside, noise[1])
    spread = gap_spread(*sides, common)
    good, tight, every = predictive(spread, low, high, count, round_off(inside, outside))
    share = share_of_pairs(inside, outside, low, high)
    quiet = not (np.any(noise[0] > 0) or np.any(noise[1] > 0) or common > 0)
    order = whole_order(inside, outside, low, high, noise, common, generator(rng), count)
    return Chance(
        pair=good,
        all=every,
        expected_good=count * good,
        too_tight=count * tight,
        too_loose=count * max(1.0 - good - tight, 0.0),
        measured_share=share.good,
        measured_tight=share.tight,
        measured_loose=share.loose,
        pair_measured=share.good if quiet else chance_of_pair(inside, outside, low, high, noise, common),
        all_measured=order.chance,
        all_measured_error=order.error,
        pairs=count,
        n_internal=len(inside),
        n_external=len(outside),
        gap_mean=sides[0].mean - sides[1].mean,
        gap_sd=math.sqrt(sum(max(side.sd**2 - side.noise, 0.0) for side in sides)),
        gap_lower=low,
        gap_upper=high,
        method="predictive for pieces not made yet, both sides normal, spread and gauge uncertainty in it",
        method_measured=order.method,
    )


def _in_order(internal: Floats, external: Floats, noise: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """Return the uncertainties in the order of ascending sizes."""
    ordered = []
    for sizes, each in ((internal, noise[0]), (external, noise[1])):
        same = bool(np.all(each == each[0]))
        ordered.append(each if same else each[np.lexsort((each, sizes))])
    return ordered[0], ordered[1]


def predictive(gap: GapSpread, low: float, high: float, pairs: int, near: float = 0.0) -> tuple[float, float, float]:
    """Return the predictive chances (pair good, pair too tight, all `pairs` good).

    Parameters
    ----------
    gap : GapSpread
        What the gap of a pair may be.
    low, high : float
        Gap limits; infinite when open.
    pairs : int
        Pairs made, independent given means and spreads.
    near : float
        Gaps closer than this are the same.
    """
    total = np.sqrt(gap.spread + gap.of_mean)
    good = _average(gap.weight, normal_share(gap.mean, total, low, high, near))
    tight = 0.0
    if math.isfinite(low):
        tight = _average(gap.weight, normal_share(gap.mean, total, -math.inf, low, near))
    tight = min(tight, 1.0 - good)
    if pairs == 1:
        return good, tight, good
    probability, share = probability_nodes(64)
    shifted = gap.mean + np.sqrt(gap.of_mean)[:, None] * special.ndtri(probability)
    each = normal_share(shifted, np.sqrt(gap.spread)[:, None], low, high, near)
    every = _average(gap.weight[:, None] * share, each**pairs)
    return good, tight, min(every, good)


def _average(weight: Floats, values: Floats) -> float:
    return float(min(max((weight * values).sum() / weight.sum(), 0.0), 1.0))
