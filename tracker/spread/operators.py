"""What operators add to readings: how far each reads from the others, and what of it stays in a piece's size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.result import Result
from tracker.spread.arguments import Array, IntArray, count

POOL_ABOVE = 0.25
"""p-value above which an interaction of operators and pieces is taken for noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatorSpread(Result):
    """What operators who read the same places differ by, in the unit of the readings.

    Attributes
    ----------
    operators : tuple of str
    level : tuple of float
        How far each operator reads from the mean of all of them, pieces taken out.
    operator_sd, interaction_sd : float
        Between operators, and operators differing by piece beyond that (0 where it shows no sign).
    repeatability_sd : float
        Same operator, same place of the same piece.
    dof : int
        Degrees of freedom of ``repeatability_sd``.
    p_value : float
        Chance of operators this far apart had all read alike.
    share : ndarray, shape (pieces, operators)
        Share of each operator in the size of each piece.
    places : int
        Places (pieces, or positions on them) that two operators or more read.
    """

    operators: tuple[str, ...]
    level: tuple[float, ...]
    operator_sd: float
    interaction_sd: float
    repeatability_sd: float
    dof: int
    p_value: float
    share: Array
    places: int

    def __str__(self) -> str:
        return (
            f"{count(len(self.operators), 'operator')} on {count(self.places, 'place')}: sd between operators"
            f" {self.operator_sd:.4g}, by piece {self.interaction_sd:.4g}, repeatability {self.repeatability_sd:.4g}"
        )

    @property
    def apart(self) -> float:
        """The largest level minus the smallest."""
        return max(self.level) - min(self.level)

    @property
    def common(self) -> float:
        """Standard uncertainty that operators leave in all sizes alike, however often each piece was read."""
        return self.operator_sd * float(np.sqrt(np.sum(self.share.mean(axis=0) ** 2)))

    @property
    def own(self) -> Array:
        """Standard uncertainty that operators leave in the size of each piece beyond ``common``, shape (pieces,)."""
        uneven = np.sum((self.share - self.share.mean(axis=0)) ** 2, axis=1)
        return np.asarray(
            np.sqrt(self.operator_sd**2 * uneven + self.interaction_sd**2 * np.sum(self.share**2, axis=1))
        )


def operator_spread(
    value: Array, piece: IntArray, position: IntArray, operator: IntArray, names: Sequence[str]
) -> OperatorSpread | None:
    """Return what operators differ by, or None where the readings cannot say.

    Parameters
    ----------
    value : ndarray, shape (n,)
        Finite readings.
    piece, position, operator : ndarray of int, shape (n,)
        Numbers from 0; a place is a position on a piece.
    names : sequence of str
        Names of the operators by their numbers.

    Returns
    -------
    OperatorSpread or None
        None where no place was read by two operators, or nothing is left to tell their noise by.

    Notes
    -----
    Means of places and operators as an additive model with operators, their interaction with places, and repeats as
    random effects; mean squares of the (unweighted) cell means, each operator held against the others on the places
    that they share. For a balanced crossed study these are the usual estimates of the analysis of variance, the
    interaction pooled with repeats when its p-value is above 0.25. A negative variance counts as 0.

    A size is the mean of what its operators read, with the shares w of ``share``. Its error from operators b is
    sum w b. What the mean shares make of it moves all sizes of the batch together; no number of repeats lessens it.
    Two operators tell their spread on one degree of freedom: half the distance of two is the uncertainty of their
    mean, and not more is known.

    References
    ----------
    Searle, Casella, McCulloch, Variance Components (1992), 5.3 (fitting constants; from memory); JCGM 100:2008,
    5.2 (correlated inputs). Tests: ``tests/tracker/spread/test_operators.py``.
    """
    if value.size == 0:
        return None
    used, operator = np.unique(operator, return_inverse=True)
    k, pieces, positions = used.size, int(piece.max()) + 1, int(position.max()) + 1
    if k < 2:
        return None
    cell, of = np.unique((piece * positions + position) * k + operator, return_inverse=True)
    n = np.bincount(of)
    away = value - value[0]
    mean = np.bincount(of, away) / n
    squares = float(np.sum((away - mean[of]) ** 2))
    place, who = np.unique(cell // k, return_inverse=True)[1], cell % k
    read_by = np.bincount(place)
    shared = read_by[place] > 1
    if not shared.any():
        return None
    share = _shares(n, place, who, cell // k // positions, read_by, (pieces, k))
    place, who, mean = np.unique(place[shared], return_inverse=True)[1], who[shared], mean[shared]
    level, between, weight, rank, rest = _levels(mean, place, who, k)
    repeats = float(n[shared].size / np.sum(1.0 / n[shared]))
    error_dof, rest_dof = int(value.size - n.size), int(mean.size - (place.max() + 1) - rank)
    if error_dof + rest_dof < 1:
        return None
    noise, by_piece, dof = _noise(squares, error_dof, rest * repeats, rest_dof, repeats)
    # A cell mean scatters about place and operator by this much; repeats stand for a study without the rest.
    scatter, scatter_dof = (by_piece + noise / repeats, rest_dof) if by_piece > 0 else (noise / repeats, dof)
    variance = max((between - rank * scatter) / weight, 0.0)
    ratio = math.inf if scatter == 0 else between / rank / scatter
    p_value = float(special.fdtrc(rank, scatter_dof, ratio)) if math.isfinite(ratio) else float(between == 0)
    return OperatorSpread(
        operators=tuple(str(names[index]) for index in used.tolist()),
        level=tuple(level.tolist()),
        operator_sd=math.sqrt(variance),
        interaction_sd=math.sqrt(by_piece),
        repeatability_sd=math.sqrt(noise),
        dof=dof,
        p_value=p_value,
        share=share,
        places=int(place.max()) + 1,
    )


def _shares(
    n: IntArray, place: IntArray, who: IntArray, piece: IntArray, read_by: IntArray, shape: tuple[int, int]
) -> Array:
    """Return each operator's share in each piece with a reading: readings at a place, places of a piece alike."""
    at_place = n / np.bincount(place, n)[place]
    whole = np.bincount(piece * shape[1] + who, at_place, shape[0] * shape[1]).reshape(shape)
    total = whole.sum(axis=1, keepdims=True)
    return np.asarray(whole[total[:, 0] > 0] / total[total[:, 0] > 0])


def _levels(mean: Array, place: IntArray, who: IntArray, k: int) -> tuple[Array, float, float, int, float]:
    """Return the levels of operators, their sum of squares, its weight and rank, and what is left of the squares.

    Least squares on cell means with a constant for each place, which is taken out first. The expected sum of squares
    is weight x variance between operators + rank x variance of a cell mean.
    """
    read_by = np.bincount(place)
    about = mean - (np.bincount(place, mean) / read_by)[place]
    matrix = np.zeros((k, k))
    # The share of every pair of operators in the places that both read, place by place.
    by_operator = [np.flatnonzero(who == one) for one in range(k)]
    for one in range(k):
        weight = np.zeros(read_by.size)
        weight[place[by_operator[one]]] = 1.0 / read_by[place[by_operator[one]]]
        matrix[one, one] += by_operator[one].size
        for other in range(k):
            matrix[one, other] -= float(weight[place[by_operator[other]]].sum())
    right = np.bincount(who, about, k)
    level = np.linalg.pinv(matrix, hermitian=True) @ right
    rank = int(np.linalg.matrix_rank(matrix, hermitian=True))
    between = float(level @ right)
    rest = about - level[who] + (np.bincount(place, level[who]) / read_by)[place]
    tiny = 16 * np.finfo(float).eps * float(np.max(np.abs(mean), initial=0.0))
    rest = np.where(np.abs(rest) <= tiny, 0.0, rest)
    return level - level.mean(), between, float(np.trace(matrix)), rank, float(rest @ rest)


def _noise(squares: float, error_dof: int, rest: float, rest_dof: int, repeats: float) -> tuple[float, float, int]:
    """Return the variances of repeats and of the interaction, and the degrees of freedom of the first."""
    if error_dof == 0:
        return rest / rest_dof, 0.0, rest_dof
    error = squares / error_dof
    if rest_dof == 0:
        return error, 0.0, error_dof
    ratio = math.inf if error == 0 and rest > 0 else (rest / rest_dof / error if error > 0 else 0.0)
    p_value = 0.0 if math.isinf(ratio) else float(special.fdtrc(rest_dof, error_dof, ratio))
    if p_value > POOL_ABOVE:
        return (squares + rest) / (error_dof + rest_dof), 0.0, error_dof + rest_dof
    return error, max((rest / rest_dof - error) / repeats, 0.0), error_dof
