"""A piece known from one side only (it goes, and no more is known): what the others of its batch say of its size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import OneSideOnly
from tracker.plurals import plural
from tracker.spread.arguments import Array, count, decimals_alike, listed
from tracker.spread.censored import IntervalFit, interval_fit

LEAST_BETWEEN = 5
"""Pieces known from both sides from which on they may speak for one that is not (as wear is looked for from 5
on; our choice, no source)."""

LEAST_DOF = 2.0
"""Worth of the spread in degrees of freedom, above which a piece's variance beyond a bound is finite."""

LEAST_SHARE = 0.02
"""Share of such pieces that must be expected beyond the bound: farther out the tail of a normal is a guess (our
choice, no source)."""

MOST_NAMED = 8
"""Pieces that a sentence names one by one."""


def expected_sizes(low: Array, high: Array, open_side: Any, said: str) -> tuple[Array, Array]:
    """Return size and standard uncertainty of the pieces with an open side, as the batch leads to expect them.

    Parameters
    ----------
    low, high : ndarray, shape (n,)
        Bounds of all pieces of the batch, equal where a size was read, one of them infinite where a side is open.
    open_side : ndarray of bool, shape (n,)
        Which pieces to answer for.
    said : str
        What is known of them, in words, for the message.

    Returns
    -------
    (size, uncertainty) : ndarrays, one entry for each of those pieces

    Raises
    ------
    OneSideOnly
        If the others do not bound them: fewer than five are known from both sides, or fewer than those that are not;
        their bounds leave mean or spread open; or a bound lies so far out that less than a fiftieth of such pieces is
        expected beyond it, by those known from both sides alone (a piece far out would widen the fit that judges it).

    Notes
    -----
    A normal is fitted to the bounds of all pieces. The piece's size is then distributed as the next piece of the batch
    would be (Student's t: mean and spread are known only as well as the pieces tell), cut at its bound; the answer is
    the mean and the standard deviation of that. It supposes that a side was left open by chance: a piece of which
    only the go gauge was tried because the other was out of reach is no such piece, and the last condition above is
    there for it.

    References
    ----------
    Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 2 (1995), chapter 28 (Student's t; from memory,
    the moments above a bound worked out by hand). Test against numerical integration:
    ``tests/tracker/spread/test_one_sided.py``.
    """
    between = int(np.count_nonzero(~open_side))
    alone = int(np.count_nonzero(open_side))
    if between < LEAST_BETWEEN:
        others = f"{count(between, 'piece')} known from both sides {'is' if between == 1 else 'are'} too few to bound"
        raise OneSideOnly(
            said if not between else f"{said}, and {others} {_it(alone)}; {LEAST_BETWEEN} such pieces may"
        )
    if between < alone:
        raise OneSideOnly(f"{said}, and no more than {count(between, 'piece')} of the batch are known from both sides")
    above = np.isinf(high[open_side])
    bound = np.where(above, low[open_side], high[open_side])
    sign = np.where(above, 1.0, -1.0)
    centre, scale, dof = _next_piece(interval_fit(low[~open_side], high[~open_side]), said, alone)
    if (special.stdtr(dof, -sign * (bound - centre) / scale) < LEAST_SHARE).any():
        raise OneSideOnly(
            f"{said}, and the other pieces do not bound {_it(alone)}: hardly one of this batch is expected so far out"
        )
    centre, scale, dof = _next_piece(interval_fit(low, high), said, alone)
    mean, sd = cut_off_t(sign * (bound - centre) / scale, dof)
    return centre + sign * scale * mean, scale * sd


def cut_off_t(start: Array, dof: float) -> tuple[Array, Array]:
    """Return mean and standard deviation of what of Student's t lies above ``start``.

    Parameters
    ----------
    start : ndarray
    dof : float
        Above 2.
    """
    share = special.stdtr(dof, -start)
    log_top = special.gammaln((dof + 1) / 2) - special.gammaln(dof / 2) - 0.5 * math.log(dof * math.pi)
    density = np.exp(log_top - (dof + 1) / 2 * np.log1p(start * start / dof))
    mean = (dof + start * start) / (dof - 1) * density / share
    wider = special.stdtr(dof - 2, -start * math.sqrt((dof - 2) / dof))
    square = dof * ((dof - 1) / (dof - 2) * wider / share - 1)
    return mean, np.sqrt(np.maximum(square - mean * mean, 0.0))


def _next_piece(fit: IntervalFit, said: str, alone: int) -> tuple[float, float, float]:
    """Return centre, scale and degrees of freedom of the t distribution of one more piece.

    Raises
    ------
    OneSideOnly
        If the fit leaves them open.
    """
    if fit.mean is None or fit.sd is None or fit.dof is None or fit.mean_pieces is None or fit.dof <= LEAST_DOF:
        why = fit.reason or "they tell the spread too badly"
        raise OneSideOnly(f"{said}, and the other pieces do not bound {_it(alone)}: {why}")
    spread = fit.sd.estimate * math.sqrt(fit.n / (fit.n - 1))  # the fitted sd has the divisor n
    return fit.mean.estimate, spread * math.sqrt(1 + 1 / fit.mean_pieces), fit.dof


def one_sided_words(
    feature: str, kind: str | None, pieces: Sequence[str], low: Array, high: Array, decimals: int | None = None
) -> str:
    """Return what is known of pieces with an open side, those known alike in one clause.

    ``decimals`` are those of the batch; without them as many as these bounds take.

    Examples
    --------
    >>> one_sided_words("hole", "internal", ["1"], np.array([6.002]), np.array([np.inf]))
    'hole 1 is known from one side only: it goes 6.002; a not-go reading is missing'
    """
    alike: dict[str, list[str]] = {}
    digits = decimals_alike(low, high) if decimals is None else decimals
    for piece, bottom, top in zip(pieces, low.tolist(), high.tolist(), strict=True):
        # A pin goes into a hole that is larger; a ring goes over a pin that is smaller.
        goes = math.isinf(bottom) if kind == "external" else math.isinf(top)
        bound = top if math.isinf(bottom) else bottom
        alike.setdefault(f"{'goes' if goes else 'not'} {bound:.{digits}f}", []).append(piece)
    clauses, name = [], feature.replace("_", " ")
    for known, own in alike.items():
        word, bound = known.split(" ")
        one = len(own) == 1
        verb = ("goes" if one else "go") if word == "goes" else ("does not go" if one else "do not go")
        missing = "not-go" if word == "goes" else "go"
        readings = f"a {missing} reading is" if one else f"{missing} readings are"
        clauses.append(
            f"{name if one else plural(name)} {some_of(own)} {'is' if one else 'are'} known from one side only:"
            f" {'it' if one else 'they'} {verb} {bound}; {readings} missing"
        )
    return "; ".join(clauses)


def some_of(pieces: Sequence[str]) -> str:
    """Return the names of pieces, of many the first and how many more there are.

    Examples
    --------
    >>> some_of(["1", "2"]), some_of([str(number) for number in range(1, 31)])
    ('1 and 2', '1, 2, 3, 4, 5, 6 and 24 more')
    """
    if len(pieces) <= MOST_NAMED:
        return listed(pieces)
    first = pieces[: MOST_NAMED - 2]
    return listed([*first, f"{len(pieces) - len(first)} more"])


def _it(many: int) -> str:
    return "it" if many == 1 else "them"
