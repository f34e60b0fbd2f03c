"""How many pieces to make so that enough of them are good."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.decide.words import count, share
from tracker.errors import NotEnoughData, TrackerError
from tracker.fit.batch_spread import normal_share, probability_nodes
from tracker.fit.checks import limits_of, sizes_of
from tracker.given import finite_number, share_of_one, whole_number
from tracker.given import number as number_of
from tracker.result import Result

MOST = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PiecesToMake(Result):
    """How many to make to have ``wanted`` good with the assurance.

    ``chance_enough`` is the chance that ``number`` pieces hold at least ``wanted`` good ones; ``chance_good`` the
    chance of a single piece; ``n`` the pieces it was learnt from (None: the chance was given).
    """

    number: int
    wanted: int
    assurance: float
    chance_good: float
    chance_enough: float
    n: int | None
    method: str

    def __str__(self) -> str:
        return (
            f"Make {count(self.number, 'piece')} to have {self.wanted} good with {share(self.chance_enough)} chance "
            f"(each is good with {share(self.chance_good)}; {self.method})."
        )


def pieces_to_make(
    wanted: int,
    chance: float | None = None,
    assurance: float = 0.95,
    *,
    sizes: Sequence[float] | np.ndarray | None = None,
    lower: float | None = None,
    upper: float | None = None,
    shift: float = 0.0,
) -> PiecesToMake:
    """Return how many pieces to make so that at least ``wanted`` are good with the given assurance.

    Parameters
    ----------
    wanted : int
        Good pieces needed.
    chance : float, optional
        Chance that a piece is good, where it is known.
    assurance : float
        Chance asked for.
    sizes : array_like, shape (n,), optional
        Measured pieces of the same process, instead of ``chance``; with ``lower`` and ``upper`` in their unit.
    shift : float
        How much larger the new pieces are made than the measured ones.

    Returns
    -------
    PiecesToMake

    Raises
    ------
    NotEnoughData
        Fewer than two sizes.
    TrackerError
        If even a hundred thousand pieces would not do.

    Notes
    -----
    Known chance: pieces are independent, the number of good ones is binomial. From sizes: normal pieces; mean and
    spread are known only as well as the n pieces tell, and all new pieces share what is not known of them, so the
    binomial is averaged over both (flat priors on the mean and the logarithm of the spread). That asks for more
    pieces than the binomial at the average chance.

    Examples
    --------
    >>> pieces_to_make(10, 0.9).number
    13
    """
    wanted = whole_number(wanted, "wanted, the good pieces asked for")
    if not 0 < number_of(assurance, "assurance") < 1:
        raise TrackerError(f"assurance is {assurance!r}; it lies between 0 and 1, for example 0.95")
    if chance is not None and sizes is None:
        weights, chances, n, method = np.ones(1), np.array([share_of_one(chance, "chance")]), None, "binomial"
    elif sizes is not None and chance is None:
        values = sizes_of(sizes, "sizes", 0)
        weights, chances = _chances(values, lower, upper, shift)
        n = int(values.size)
        method = f"averaged over what {count(n, 'piece')} leave open"
    else:
        raise TrackerError("give either the chance that a piece is good, or the sizes of measured pieces with limits")
    number = _least(wanted, weights, chances, assurance)
    return PiecesToMake(
        number=number,
        wanted=wanted,
        assurance=assurance,
        chance_good=float(weights @ chances),
        chance_enough=_enough(number, wanted, weights, chances),
        n=n,
        method=method,
    )


def _chances(
    sizes: np.ndarray, lower: float | None, upper: float | None, shift: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return weights and chances of a good piece over what mean and spread may be."""
    if sizes.size < 2:
        raise NotEnoughData(f"{count(int(sizes.size), 'piece')} cannot show a spread; measure at least two")
    probability, weight = probability_nodes()
    dof = sizes.size - 1
    variance = float(np.var(sizes, ddof=1)) * dof / special.chdtri(dof, 1 - probability)
    sd = np.sqrt(variance)[:, None]
    mean = (
        float(np.mean(sizes))
        + finite_number(shift, "shift")
        + sd / math.sqrt(sizes.size) * special.ndtri(probability)[None, :]
    )
    low, high = limits_of(lower, upper, "limits")
    good = normal_share(mean, np.broadcast_to(sd, mean.shape), low, high)
    weights = weight[:, None] * weight[None, :]
    return (weights / weights.sum()).ravel(), good.ravel()


def _enough(number: int, wanted: int, weights: np.ndarray, chances: np.ndarray) -> float:
    """Return the chance that at least ``wanted`` of ``number`` pieces are good."""
    if number < wanted:
        return 0.0
    if wanted == 0:
        return 1.0
    each = special.betainc(wanted, number - wanted + 1, chances)
    return float(min(weights @ each, 1.0))


def _least(wanted: int, weights: np.ndarray, chances: np.ndarray, assurance: float) -> int:
    high = wanted
    while _enough(high, wanted, weights, chances) < assurance:
        high *= 2
        if high > MOST:
            raise TrackerError(
                f"even {MOST} pieces would not hold {wanted} good ones with {share(assurance)} assurance: a piece is "
                f"good with {share(float(weights @ chances))} only. Shift the cut first"
            )
    low = wanted - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _enough(middle, wanted, weights, chances) >= assurance else (middle, high)
    return high
