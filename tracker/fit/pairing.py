"""Which piece goes with which: the exact best pairing of two measured batches."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from tracker.errors import TrackerError
from tracker.fit.batch_spread import given_readings, normal_share
from tracker.fit.checks import (
    Floats,
    Ints,
    limits_of,
    not_negative,
    per_closure,
    round_off,
    sizes_of,
    table_of,
    table_uncertainties,
    uncertainties,
)
from tracker.fit.leftovers import why_left_line, why_left_table
from tracker.fit.line_pairing import GapAim, by_row, pair_in_line
from tracker.fit.table_pairing import TableAim, pair_in_table
from tracker.fit.together import all_hold
from tracker.given import finite_number, numbers
from tracker.plurals import noun
from tracker.result import Result

SIDES = ("internal piece", "external piece")
COVERAGE = 1.959963984540054  # two-sided 95 % of a normal distribution


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Pairing(Result):
    """The best pairing of two measured batches; pairs that cannot be good are not made.

    Attributes
    ----------
    internal, external : array of int, shape (pairs,)
        Which internal piece goes with which external piece (indices as given), by internal index.
    gap : array, shape (pairs,) or (pairs, closures)
        Gap of each pair.
    good : int
        Number of pairs, all within limits as measured.
    worst_margin : float or None
        Least distance of a gap to its nearest limit; None without a pair, infinite without limits.
    left_internal, left_external : array of int
        Pieces left over.
    margin : array, shape (pairs,)
        Distance of each pair's gap to its nearest limit (the least of all closures).
    uncertainty : array, shape (pairs,) or (pairs, closures)
        Standard uncertainty of each gap, the common part in it.
    near : array of bool, shape (pairs,)
        The pair's margin is inside its 95 % uncertainty: measure again.
    why_left_internal, why_left_external : tuple of str
        In words, for each piece left over.
    chance_all : float or None
        Chance that all these pairs are within limits in truth; None without a pair.
    chance_each : array, shape (pairs,)
        The same for each pair.
    target : float or array
        The gap aimed at.
    sum_of_squares : float
        Of the differences between gap and target.
    n_internal, n_external : int
        Pieces measured a side.
    method : str
        How it was found.
    """

    internal: Ints
    external: Ints
    gap: Floats
    good: int
    worst_margin: float | None
    left_internal: Ints
    left_external: Ints
    margin: Floats
    uncertainty: Floats
    near: npt.NDArray[np.bool_]
    why_left_internal: tuple[str, ...]
    why_left_external: tuple[str, ...]
    chance_all: float | None
    chance_each: Floats
    target: float | Floats
    sum_of_squares: float
    n_internal: int
    n_external: int
    method: str

    def __str__(self) -> str:
        possible = min(self.n_internal, self.n_external)
        if not self.good:
            pieces = f"{self.n_internal} internal and {self.n_external} external {noun(self.n_external, 'piece')}"
            return f"No pair of {pieces} is within limits."
        text = f"{self.good} of {possible} {noun(possible, 'pair')} can be made within limits"
        if self.worst_margin is not None and math.isfinite(self.worst_margin):
            text += f", the worst {self.worst_margin:.6g} inside its limit"
        if self.chance_all is not None:
            text += f"; {100 * self.chance_all:.1f} % chance that all of them hold"
        close = int(self.near.sum())
        if close:
            text += f"; {close} nearer to a limit than the gauge can tell"
        left = len(self.left_internal), len(self.left_external)
        if any(left):
            text += f"; left over: {left[0]} internal, {left[1]} external"
        return f"{text}. From {self.n_internal} internal and {self.n_external} external pieces; {self.method}."


def pair(
    internal: npt.ArrayLike,
    external: npt.ArrayLike,
    gap_lower: Any,
    gap_upper: Any,
    target: Any = None,
    uncertainty: Any = 0.0,
    *,
    common_uncertainty: Any = 0.0,
    names: tuple[str, str] = SIDES,
    closures: Sequence[str] | None = None,
) -> Pairing:
    """Return the best pairing: most pairs within limits, then the best worst pair, then nearest to target.

    Parameters
    ----------
    internal, external : array of float, shape (m,) and (n,), or (m, closures) and (n, closures)
        Measured sizes in one unit; with several closures (round and flat, diameter and height) one
        column each, and a pair must meet all of them.
    gap_lower, gap_upper : float or None, or one each a closure
        Limits of internal minus external size; None is open.
    target : float, or one a closure, optional
        The gap wanted. By default the middle of the limits; where one is open the difference of the mean
        sizes, which makes the gaps as equal as they can be.
    uncertainty : float or (internal, external), default 0
        Standard uncertainty of one piece's size; of each side a number, one value a piece, one value a
        closure given as shape (1, closures), or a table of pieces x closures.
    common_uncertainty : float, or one a closure, default 0
        Standard uncertainty of the gap that all pairs share.
    names : (str, str)
        What the pieces are called in words ("bore", "plug").
    closures : sequence of str, optional
        With several closures, what they are called.

    Returns
    -------
    Pairing

    Raises
    ------
    TrackerError
        Limits the wrong way round, a shape that does not fit, a size that is not a number.
    NotEnoughData
        No piece on a side.

    Notes
    -----
    Exact in this order of aims: the number of pairs within limits; among those the largest worst margin
    (in the unit of the sizes, the least over all closures); among those the least sum of squares of gap
    minus target. Gaps that differ by less than rounding of the arithmetic count as equal. Equal pieces
    are taken by index. Pairs that cannot be good are not made: their pieces are left over.

    `chance_all` takes each true size from its reading and its batch (sizes of a batch, as measured, are
    spread by the gauge too), independent from piece to piece, and the common part for all pairs at once.

    References
    ----------
    Exactness against all pairings of small cases and against general solvers:
    tests/tracker/fit/test_pairing.py; a worked case in tests/published/test_fit_selective.py.

    Examples
    --------
    >>> print(pair([25.004, 25.009], [24.999, 24.986, 24.990], 0.014, 0.019))
    2 of 2 pairs can be made within limits, the worst 0 inside its limit; 100.0 % chance that all of them
    hold; left over: 0 internal, 1 external. From 2 internal and 3 external pieces; exact.
    """
    internal, external = numbers(internal, "internal"), numbers(external, "external")
    if internal.ndim == 2 or external.ndim == 2:
        return _pair_table(
            internal, external, gap_lower, gap_upper, target, uncertainty, common_uncertainty, names, closures
        )
    inside = sizes_of(internal, "internal")
    outside = sizes_of(external, "external")
    low, high = limits_of(gap_lower, gap_upper)
    aim = GapAim(
        low=low, high=high, target=_target(target, low, high, inside, outside), near=round_off(inside, outside)
    )
    order_in, order_out = _order(inside), _order(outside)
    found = pair_in_line(inside[order_in], outside[order_out], aim)
    rows, columns = by_row(order_in[found[0]], order_out[found[1]])
    noise = uncertainties(uncertainty, len(inside), len(outside))
    common = not_negative(common_uncertainty, "common_uncertainty")
    gap = inside[rows] - outside[columns]
    margin = aim.margin(gap)
    each, together = _chances([(inside, outside, noise, low, high, common, aim.near)], rows, columns)
    left = _left(rows, len(inside)), _left(columns, len(outside))
    words = why_left_line(inside, outside, left, low, high, aim.near, names)
    spread = np.sqrt(noise[0][rows] ** 2 + noise[1][columns] ** 2 + common**2)
    return _pairing(
        rows, columns, gap, margin, spread, COVERAGE * spread > margin, left, words, each, together, aim.target,
        (len(inside), len(outside)), "exact",
    )  # fmt: skip


def _pair_table(
    internal: npt.ArrayLike,
    external: npt.ArrayLike,
    gap_lower: Any,
    gap_upper: Any,
    target: Any,
    uncertainty: Any,
    common_uncertainty: Any,
    names: tuple[str, str],
    called: Sequence[str] | None,
) -> Pairing:
    closures = np.shape(internal)[-1]
    called = [f"closure {number + 1}" for number in range(closures)] if called is None else called
    if len(called) != closures:
        raise TrackerError(f"closures: found {len(called)} names for {closures} closures; give one each")
    inside = table_of(internal, "internal", closures)
    outside = table_of(external, "external", closures)
    lows, highs = per_closure(gap_lower, closures, "gap_lower"), per_closure(gap_upper, closures, "gap_upper")
    limits = [limits_of(low, high, f"gap limits of closure {k}") for k, (low, high) in enumerate(zip(lows, highs))]
    wanted = per_closure(target, closures, "target")
    common = [not_negative(one, "common_uncertainty") for one in per_closure(common_uncertainty, closures, "common")]
    targets = np.array(
        [_target(wanted[k], *limits[k], inside[:, k], outside[:, k]) for k in range(closures)], dtype=np.float64
    )
    aim = TableAim(
        low=np.array([low for low, _ in limits]),
        high=np.array([high for _, high in limits]),
        target=targets,
        near=round_off(inside, outside),
    )
    rows, columns = by_row(*pair_in_table(inside, outside, aim))
    noise = table_uncertainties(uncertainty, inside.shape, outside.shape)
    gap = inside[rows] - outside[columns]
    margins = aim.margins(gap)
    parts = [
        (inside[:, k], outside[:, k], (noise[0][:, k], noise[1][:, k]), *limits[k], common[k], aim.near)
        for k in range(closures)
    ]
    each, together = _chances(parts, rows, columns)
    left = _left(rows, len(inside)), _left(columns, len(outside))
    words = why_left_table(inside, outside, left, aim.low, aim.high, aim.near, names, called)
    spread = np.sqrt(noise[0][rows] ** 2 + noise[1][columns] ** 2 + np.square(common))
    return _pairing(
        rows, columns, gap, margins.min(axis=1), spread, np.any(COVERAGE * spread > margins, axis=1), left, words,
        each, together, targets, (len(inside), len(outside)), f"exact, {closures} closures together",
    )  # fmt: skip


def _pairing(
    rows: Ints,
    columns: Ints,
    gap: Floats,
    margin: Floats,
    spread: Floats,
    near: npt.NDArray[np.bool_],
    left: tuple[Ints, Ints],
    words: tuple[tuple[str, ...], tuple[str, ...]],
    each: Floats,
    together: float | None,
    target: float | Floats,
    counts: tuple[int, int],
    method: str,
) -> Pairing:
    return Pairing(
        internal=rows,
        external=columns,
        gap=gap,
        good=len(rows),
        worst_margin=max(float(margin.min()), 0.0) if len(rows) else None,
        left_internal=left[0],
        left_external=left[1],
        margin=np.maximum(margin, 0.0),
        uncertainty=spread,
        near=near & (np.atleast_2d(spread.T).max(axis=0) > 0) if len(rows) else np.zeros(0, dtype=bool),
        why_left_internal=words[0],
        why_left_external=words[1],
        chance_all=together,
        chance_each=each,
        target=target,
        sum_of_squares=float(np.square(gap - target).sum()),
        n_internal=counts[0],
        n_external=counts[1],
        method=method,
    )


def _target(target: float | None, low: float, high: float, inside: Floats, outside: Floats) -> float:
    if target is not None:
        return finite_number(target, "target")
    if math.isfinite(low) and math.isfinite(high):
        return (low + high) / 2.0
    return math.fsum(inside) / len(inside) - math.fsum(outside) / len(outside)


def _order(sizes: Floats) -> Ints:
    """Return the positions of ascending sizes, of equal ones in the order given."""
    order: Ints = np.argsort(sizes)
    ranked = sizes[order]
    return np.argsort(sizes, kind="stable") if np.any(ranked[1:] == ranked[:-1]) else order


def _left(taken: Ints, pieces: int) -> Ints:
    free = np.ones(pieces, dtype=bool)
    free[taken] = False
    return np.flatnonzero(free)


def _chances(parts: list[Any], rows: Ints, columns: Ints) -> tuple[Floats, float | None]:
    """Return the chance that each pair holds, and that all do (None without a pair)."""
    each = np.ones(len(rows))
    together = 1.0
    for inside, outside, noise, low, high, common, near in parts:
        true_in, sd_in = given_readings(inside, noise[0])
        true_out, sd_out = given_readings(outside, noise[1])
        gap = true_in[rows] - true_out[columns]
        spread = np.sqrt(sd_in[rows] ** 2 + sd_out[columns] ** 2)
        each = each * normal_share(gap, np.hypot(spread, common), low, high, near)
        together *= all_hold(gap, spread, low, high, common, near)
    return each, (together if len(rows) else None)
