"""The next cut: by how much to shift it, which way at the machine, and when to leave it alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tracker.decide.levels import Event, Level, find_level, level_of_bounds, quantile, with_setup
from tracker.decide.shift_terms import Terms, aim_off, economic_aim, entered
from tracker.decide.shift_words import NEARER, enter_of, is_out, reason_of
from tracker.decide.words import Say, count, plain_length
from tracker.errors import TrackerError
from tracker.given import number, numbers
from tracker.result import Interval, Result
from tracker.spread import IntervalFit, Sizes

__all__ = ["Shift", "economic_aim", "next_shift"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift(Result):
    """How to change the next cut; lengths across the part (diameter, width) unless it says machine.

    Attributes
    ----------
    shift : Interval
        How much larger the part should get (negative: smaller), before rounding to the machine's step; it is
        given when the advice is to leave it alone too.
    change : float
        What is actually done to the part: 0 when left alone, else the shift in whole steps of the machine.
    offset : float or None
        The same as entered at the machine, with its sign; None when left alone.
    bias : Interval
        Mean size of the run minus target, as measured (with wear: at the last piece).
    noise : float
        A wanted shift up to this size, either way, is noise: its direction is not sure enough.
    leave_alone : bool
        Whether the answer is to touch nothing.
    because : str
        ``shift``, ``noise``, ``under one step`` or ``not worth it``: what decided.
    reason : str
        One sentence with the figures.
    enter : str
        What to do at the machine, in words.
    within_before, within_after : float or None
        Chance that a coming piece lies within the limits, untouched and after ``change`` (None: no limits).
    within : str
        What the pieces within those limits do, in words: ``lie within limits``, or ``suit a bore of mean size``.
    gain : float or None
        What the change is expected to save over ``pieces_ahead``, in the unit of the costs (None: no limits).
    aim_off : float
        Part of the shift that is aimed to the side where an error costs less.
    wear_off : float
        Part of the shift that meets the wear from the last piece to the middle of the pieces to come.
    shrink : float
        Share of the bias that is taken to be real: 1 when nothing is known of set-ups.
    sd : float
        Standard deviation of sizes as measured; ``dof`` its degrees of freedom (None: stated as known).
    n, n_all : int
        Pieces since the last event, and all that the spread was taken from.
    """

    shift: Interval
    change: float
    offset: float | None
    bias: Interval
    noise: float
    leave_alone: bool
    because: str
    reason: str
    enter: str
    within_before: float | None
    within_after: float | None
    within: str
    gain: float | None
    aim_off: float
    wear_off: float
    slope: float
    shrink: float
    sd: float
    dof: float | None
    n: int
    n_all: int
    pieces_ahead: int
    target: float
    last_event: str | None
    method: str

    def __str__(self) -> str:
        return f"{self.enter} {self.reason}"


def next_shift(
    sizes: Sequence[float] | np.ndarray | Sizes | IntervalFit,
    target: float,
    lower: float | None = None,
    upper: float | None = None,
    order: Sequence[float] | np.ndarray | None = None,
    events: Sequence[Event] = (),
    setup_sd: float | None = None,
    increment: float | None = None,
    diameter: bool = True,
    *,
    plus_makes: str = "larger",
    sd: float | None = None,
    uncertainty: float | Sequence[float] | np.ndarray = 0.0,
    common_uncertainty: float = 0.0,
    target_uncertainty: float = 0.0,
    cost_under: float = 1.0,
    cost_over: float = 1.0,
    touch_cost: float = 0.0,
    wear: float | None = None,
    pieces_ahead: int | None = None,
    confidence: float = 0.95,
    within: str = "lie within limits",
    across: str = "diameter",
    leans: str = "",
    say: Say = plain_length,
    say_offset: Say | None = None,
) -> Shift:
    """Return by how much to shift the next cut, or that it is best left alone.

    Parameters
    ----------
    sizes : array_like of shape (n,), Sizes or IntervalFit
        Sizes of the pieces across the part (diameter, width, length), one length unit; `Sizes` bring their
        uncertainties with them. Bounds (goes / does not go) count as such, from `Sizes` or an `IntervalFit`.
    target : float
        The size aimed at now.
    lower, upper : float, optional
        Limits of size; with them the share within limits is said, and the gain is weighed.
    order : array_like, shape (n,), optional
        Which piece in the making each was; 1..n when not given.
    events : sequence of (after_piece, name) or (after_piece, name, amount)
        What touched the size, after how many pieces had been made. Only pieces since the last event count for the
        level, unless the amount by which it made the part larger is known: then earlier pieces are carried over.
    setup_sd : float, optional
        How far a set-up lands from its aim, as a standard deviation. Not given: nothing is known of it.
    increment : float, optional
        Smallest step of the machine, in machine terms.
    diameter : bool
        Whether the machine counts on the diameter (full width); else on the radius (one side).
    plus_makes : str
        ``larger`` or ``smaller``: what a plus offset does to the part.
    sd : float, optional
        Spread of pieces known from earlier batches; needed when there is one piece only.
    uncertainty : float or array_like
        Standard uncertainty of one size from the gauge, independent from piece to piece.
    common_uncertainty, target_uncertainty : float
        Standard uncertainty that all sizes share (calibration, temperature), and that of the target (taken from mates).
    cost_under, cost_over : float
        What a piece under the lower and over the upper limit costs. If they differ, the aim goes to the
        cheaper side. State them here or in the target, not in both.
    touch_cost : float
        What touching the machine costs, in the same unit; needs a limit to be weighed.
    wear : float, optional
        Change of size a piece. Not given: found in the pieces if it shows (p < 0.0027); 0: there is none.
    pieces_ahead : int, optional
        Pieces until the next look: half the wear over them is aimed off, and a gain is counted over them. Only the
        next piece when not given.
    confidence : float
        Of the intervals (two-sided), and of the direction of the shift before anything is touched.
    within : str
        What pieces within the limits do, in words, when they are not the part's own.
    across : str
        What a machine that counts the whole change counts on, in words.
    leans : str
        ``larger`` or ``smaller``: to which side the target leans already because a miss costs less there.
    say : callable
        Writes a length for the sentences.
    say_offset : callable, optional
        Writes the number that is entered at the machine, without its sign; ``say`` when not given.

    Returns
    -------
    Shift

    Raises
    ------
    NotEnoughData
        If no piece was made since the last event, or the spread is neither shown nor stated.
    TrackerError
        If limits, costs or machine terms make no sense.

    Notes
    -----
    The shift undoes the mean deviation of the n pieces since the last event, times tau^2 / (tau^2 + s^2/n) where
    the sd tau of set-up errors is known; all of it where nothing is known (Grubbs 1954; correcting by 1/n of the
    n-th deviation comes to the same when the corrections are given as events with their amounts). It is left
    alone while the direction of the shift is not ``confidence`` sure (a bias within noise: on target it is then
    touched in 2 (1 - confidence) of all cases, 10 % at 0.95), unless the mean itself lies beyond a limit; when it
    is under half a step of the machine; and when the expected saving over the pieces to come is under
    ``touch_cost``. Pieces are taken as normal and independent about their level or line; with strong drift from
    piece to piece the level is out of date and the shift comes late.
    The side that costs less is aimed at by sigma^2 ln(cost_under / cost_over) / (upper - lower), which is
    where the expected cost is least for a normal spread; without limits the uncertainty of the level is hedged, at
    its cost_under / (cost_under + cost_over) quantile; with one limit there is no second side to weigh it against.

    References
    ----------
    Grubbs, "An optimum procedure for setting machines or adjusting processes", Industrial Quality Control 1954;
    Springer, Industrial Quality Control 1951 (both from memory). Held in tests/published/test_decide_adjustment.py;
    how often it touches a process on target, and the loss, in tests/calibration/decide_shift.py.

    Examples
    --------
    >>> answer = next_shift([0.62562, 0.62557, 0.62565, 0.62559, 0.62561, 0.62558], 0.6253, increment=0.0001)
    >>> answer.offset
    -0.0003
    """
    number(target, "target")
    _numbers(
        lower=lower,
        upper=upper,
        setup_sd=setup_sd,
        increment=increment,
        sd=sd,
        common_uncertainty=common_uncertainty,
        target_uncertainty=target_uncertainty,
        cost_under=cost_under,
        cost_over=cost_over,
        touch_cost=touch_cost,
        wear=wear,
        pieces_ahead=pieces_ahead,
        confidence=confidence,
    )
    _check(lower, upper, sd, setup_sd, (cost_under, cost_over, touch_cost), confidence, pieces_ahead)
    _finite(target=target, lower=lower, upper=upper, increment=increment, wear=wear)
    _each_once(order)
    _not_negative(common_uncertainty=common_uncertainty, target_uncertainty=target_uncertainty)
    if isinstance(sizes, Sizes):
        uncertainty = sizes.uncertainty if np.all(np.asarray(uncertainty) == 0) else uncertainty
        common_uncertainty = common_uncertainty or sizes.common_uncertainty
    gauge = _root_mean_square(uncertainty)
    common = common_uncertainty**2 + target_uncertainty**2
    if isinstance(sizes, IntervalFit) or (isinstance(sizes, Sizes) and sizes.go_no_go):
        gauge = 0.0  # what the steps of the pins leave open is in the fit
        seen = level_of_bounds(sizes, float(target), events, sd=sd, wear=wear, common_variance=common)
    else:
        values = sizes.size if isinstance(sizes, Sizes) else sizes
        seen = find_level(
            values, float(target), order, events, sd=sd, wear=wear, uncertainty=gauge, common_variance=common
        )
    level = seen if setup_sd is None else with_setup(seen, setup_sd)
    ahead = 1 if pieces_ahead is None else int(pieces_ahead)
    terms = Terms(
        level=level,
        target=float(target),
        true_sd=math.sqrt(max(level.scatter**2 - gauge**2, 0.0)),
        lower=lower,
        upper=upper,
        under=cost_under,
        over=cost_over,
        touch=touch_cost,
        ahead=level.last_order + np.arange(1, ahead + 1, dtype=float),
        increment=increment,
        diameter=diameter,
        plus_makes=plus_makes,
        within=within,
        across=across,
        leans=leans,
        settled=setup_sd == 0,
        say=say,
        say_offset=say if say_offset is None else say_offset,
    )
    aimed = aim_off(terms)
    wanted = _interval(aimed - float(level.at(terms.middle)), terms.middle_sd, level.dof, confidence)
    last = seen.last_order
    bias = _interval(float(seen.at(last)), math.sqrt(float(seen.variance_at(last))), seen.dof, confidence)
    offset = entered(wanted.estimate, terms)
    change = terms.change(offset)
    noise = quantile(level.dof, 2 * confidence - 1) * terms.middle_sd if confidence > 0.5 else 0.0
    because = _because(wanted, noise, change, bias, terms)
    left = because != "shift"
    return Shift(
        shift=wanted,
        change=0.0 if left else change,
        offset=None if left else offset,
        bias=bias,
        noise=noise,
        leave_alone=left,
        because=because,
        reason=reason_of(because, wanted, noise, change, bias, terms, aimed),
        enter="Leave it alone." if left else enter_of(offset, change, terms),
        within_before=terms.outcome(0.0)[1] if terms.limited else None,
        within_after=terms.outcome(0.0 if left else change)[1] if terms.limited else None,
        within=within,
        gain=terms.saved(change),
        aim_off=aimed,
        wear_off=level.slope * (last - terms.middle) + 0.0,
        slope=level.slope,
        shrink=_shrink(seen, setup_sd),
        sd=level.scatter,
        dof=None if math.isinf(level.dof) else level.dof,
        n=level.n,
        n_all=level.n_all,
        pieces_ahead=ahead,
        target=float(target),
        last_event=level.last_event,
        method=_method(seen, setup_sd, sd),
    )


def _because(wanted: Interval, noise: float, change: float, bias: Interval, terms: Terms) -> str:
    """Return what decides: shift, noise, under one step, or not worth it."""
    if abs(wanted.estimate) <= noise and not is_out(terms.target + bias.estimate, terms):
        return "noise"
    if change == 0:
        return "under one step"
    saved = terms.saved(change)
    if saved is not None and (saved <= terms.touch if terms.touch > 0 else _is_loss(saved, terms)):
        return "not worth it"
    return "shift"


def _is_loss(saved: float, terms: Terms) -> bool:
    """Return whether the change costs more than it saves; a target that leans has weighed that already."""
    return not terms.leans and saved < -NEARER * terms.ahead.size * max(terms.under, terms.over)


def _interval(estimate: float, standard: float, dof: float, confidence: float) -> Interval:
    half = quantile(dof, confidence) * standard
    return Interval(estimate, estimate - half, estimate + half, confidence)


def _shrink(seen: Level, setup_sd: float | None) -> float:
    if setup_sd is None:
        return 1.0
    return setup_sd**2 / (setup_sd**2 + float(seen.covariance[0, 0])) if setup_sd > 0 else 0.0


def _method(seen: Level, setup_sd: float | None, sd: float | None) -> str:
    known = "nothing known of set-ups, the whole bias is undone" if setup_sd is None else "shrunk by the set-up error"
    since = " since the last event" if seen.last_event else ""
    spread = "spread stated" if sd is not None else f"spread from {count(seen.n_all, 'piece')}"
    return f"mean of {count(seen.n, 'piece')}{since}, {known}; {spread}; wear {seen.wear_from}"


def _root_mean_square(uncertainty: float | Sequence[float] | np.ndarray) -> float:
    values = np.atleast_1d(numbers(uncertainty, "uncertainty"))
    if values.size == 0 or not np.all(np.isfinite(values)) or np.any(values < 0):
        raise TrackerError(f"uncertainty is {uncertainty!r}; give standard uncertainties of zero or more")
    return float(np.sqrt(np.mean(values**2)))


def _numbers(**given: float | None) -> None:
    """Refuse what is no number at all, text for example; None was not given."""
    for name, value in given.items():
        if value is not None:
            number(value, name)


def _finite(**lengths: float | None) -> None:
    """Refuse a length that is no finite number; None was not given."""
    for name, value in lengths.items():
        if value is not None and not math.isfinite(value):
            raise TrackerError(f"{name} is {value!r}; give a finite length")


def _each_once(order: Sequence[float] | np.ndarray | None) -> None:
    given = numbers([] if order is None else order, "order").ravel()
    if np.unique(given).size < given.size:
        twice = next(value for value in given.tolist() if np.count_nonzero(given == value) > 1)
        raise TrackerError(f"order has {twice:g} more than once; no two pieces are made at the same place")


def _not_negative(**uncertainties: float) -> None:
    for name, value in uncertainties.items():
        if not 0 <= value < math.inf:
            raise TrackerError(f"{name} is {value!r}; give a standard uncertainty of zero or more")


def _check(
    lower: float | None,
    upper: float | None,
    sd: float | None,
    setup_sd: float | None,
    costs: tuple[float, float, float],
    confidence: float,
    pieces_ahead: int | None,
) -> None:
    if lower is not None and upper is not None and lower >= upper:
        raise TrackerError(f"the lower limit {lower:g} is not below the upper limit {upper:g}; exchange them")
    if sd is not None and not (sd > 0 and math.isfinite(sd)):
        raise TrackerError(f"the stated spread (sd) is {sd!r}; give a length above zero, or leave it out")
    if setup_sd is not None and not (setup_sd >= 0 and math.isfinite(setup_sd)):
        raise TrackerError(f"setup_sd is {setup_sd!r}; give zero or more, or leave it out when nothing is known")
    under, over, touch = costs
    if not (0 < under < math.inf and 0 < over < math.inf and 0 <= touch < math.inf):
        raise TrackerError(
            f"costs are {under:g} under, {over:g} over and {touch:g} to touch; the first two must be above zero, the "
            f"third zero or more"
        )
    if touch > 0 and lower is None and upper is None:
        raise TrackerError("touch_cost can only be weighed against pieces out of limits; give lower or upper")
    if not 0 < confidence < 1:
        raise TrackerError(f"confidence is {confidence!r}; it is a share between 0 and 1, for example 0.95")
    if pieces_ahead is not None and not 1 <= pieces_ahead < math.inf:
        raise TrackerError(f"pieces_ahead is {pieces_ahead!r}; give at least one piece, or leave it out")
