"""How long a chart runs before it signals: average run lengths, steady or after a shift of the mean."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.drift.signals import (
    ALL_SIGNALS,
    BEYOND_3,
    EIGHT_BEYOND_1,
    EIGHT_ONE_SIDE,
    FIFTEEN_WITHIN_1,
    FOUR_OF_FIVE,
    HANDBOOK_SIGNALS,
    TWO_OF_THREE,
    check_names,
    find_signals,
    signal_chance,
)
from tracker.errors import OutsideModel, TrackerError
from tracker.plurals import noun
from tracker.result import Interval, Result
from tracker.spread.arguments import above_zero, finite_number, no_less_than_zero, whole_number

ZONED = (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_ONE_SIDE, FIFTEEN_WITHIN_1, EIGHT_BEYOND_1)
EDGES = np.array([-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0])
NODES = 120

State = tuple[tuple[int, ...], tuple[int, ...], int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class FalseAlarms(Result):
    """How often a chosen set of signals shows although nothing has changed.

    Attributes
    ----------
    run_length : float or Interval
        Average number of points to the first signal of the set (an Interval when simulated).
    alone : dict of str to float
        For each signal its chance over one window.
    looked_for : tuple of str
    shift : float
        Shift of the mean in sds (0: steady, so every signal is false).
    n : int or None
        Runs simulated (None: exact).
    method : str
    """

    run_length: float | Interval
    alone: dict[str, float]
    looked_for: tuple[str, ...]
    shift: float
    n: int | None
    method: str

    def __str__(self) -> str:
        """Say how many points pass to the first signal."""
        length = self.run_length.estimate if isinstance(self.run_length, Interval) else self.run_length
        what = "a steady process gives a false signal" if self.shift == 0 else f"a shift of {self.shift:g} sd shows"
        signals = f"{len(self.looked_for)} {noun(len(self.looked_for), 'signal')}"
        return f"On average {what} after {length:.1f} points ({signals} watched; {self.method})."


def false_alarms(
    signals: Iterable[str] = HANDBOOK_SIGNALS,
    shift: float = 0.0,
    rng: np.random.Generator | None = None,
    runs: int = 2000,
) -> FalseAlarms:
    """Return how long a chart of single values runs before one of the signals shows.

    Parameters
    ----------
    signals : iterable of str
        The set that is watched.
    shift : float
        Shift of the mean, in sds.
    rng : numpy.random.Generator, optional
        Needed when the set holds a rising, falling or alternating signal: these depend on more than zones,
        so the run length is simulated. Without them it is exact.
    runs : int
        Runs to simulate.

    Returns
    -------
    FalseAlarms

    Raises
    ------
    OutsideModel
        When the set must be simulated and no ``rng`` was given.

    Notes
    -----
    Independent normal sizes and known limits. Exact: a Markov chain over what must be remembered of the last
    points (which of them lay in which zone). Limits estimated from few pieces make true run lengths vary widely.

    References
    ----------
    C. W. Champ & W. H. Woodall, Technometrics 29 (1987) 393-399 (from memory); their table in
    tests/published/test_drift_run_length.py.

    Examples
    --------
    >>> round(false_alarms(["one point beyond 3 sigma"]).run_length, 1)
    370.4
    """
    names = check_names(signals)
    shift, runs = finite_number(shift, "shift"), whole_number(runs, "runs", 2)
    if not names:
        raise TrackerError(f"no signal was chosen; take from: {'; '.join(ALL_SIGNALS)}")
    alone = {name: signal_chance(name) for name in names}
    if all(name in ZONED for name in names):
        length = zone_run_length(names, shift)
        return FalseAlarms(
            run_length=length, alone=alone, looked_for=names, shift=shift, n=None, method="exact, Markov chain"
        )
    if rng is None:
        raise OutsideModel(
            "rising, falling and alternating signals have no exact run length here; give rng to simulate it, "
            "or leave them out"
        )
    lengths = simulated_lengths(names, shift, rng, runs)
    mean, se = float(np.mean(lengths)), float(np.std(lengths, ddof=1) / math.sqrt(runs))
    z = float(special.ndtri(0.975))
    return FalseAlarms(
        run_length=Interval(mean, mean - z * se, mean + z * se, 0.95),
        alone=alone,
        looked_for=names,
        shift=shift,
        n=runs,
        method=f"{runs} simulated runs",
    )


def zone_run_length(names: tuple[str, ...], shift: float = 0.0) -> float:
    """Return the exact average run length of signals that depend on zones alone.

    The states are found by walking from the fresh start; what can no longer take part in a signal is forgotten,
    which keeps them few.
    """
    from scipy.sparse import csr_matrix, identity
    from scipy.sparse.linalg import spsolve

    cumulative = np.concatenate([[0.0], special.ndtr(EDGES - shift), [1.0]])
    chance = np.diff(cumulative)
    start: State = ((), (), 0, 0, 0)
    index = {start: 0}
    queue = [start]
    rows, columns, weights = [], [], []
    for state in queue:
        for zone in range(8):
            after = _step(state, zone, names)
            if after is None:
                continue
            if after not in index:
                index[after] = len(queue)
                queue.append(after)
            rows.append(index[state])
            columns.append(index[after])
            weights.append(chance[zone])
    size = len(queue)
    stay = csr_matrix((weights, (rows, columns)), shape=(size, size))
    return float(spsolve((identity(size, format="csr") - stay).tocsc(), np.ones(size))[0])


def _step(state: State, zone: int, names: tuple[str, ...]) -> State | None:
    """Return the state after a point in a zone (0: under -3 … 7: over 3), None when a signal shows."""
    two, four, side, within, beyond = state
    upper = zone >= 4
    sign = 1 if upper else -1
    sigma = zone - 4 if upper else 3 - zone
    if BEYOND_3 in names and sigma == 3:
        return None
    if TWO_OF_THREE in names:
        mark = sign if sigma >= 2 else 0
        if mark and two.count(mark) >= 1:
            return None
        two = _trim((*two, mark)[-2:])
    if FOUR_OF_FIVE in names:
        mark = sign if sigma >= 1 else 0
        if mark and four.count(mark) >= 3:
            return None
        four = _useful((*four, mark)[-4:])
    if EIGHT_ONE_SIDE in names:
        side = side + sign if side * sign > 0 else sign
        if abs(side) >= 8:
            return None
    if FIFTEEN_WITHIN_1 in names:
        within = within + 1 if sigma == 0 else 0
        if within >= 15:
            return None
    if EIGHT_BEYOND_1 in names:
        beyond = beyond + 1 if sigma >= 1 else 0
        if beyond >= 8:
            return None
    return two, four, side, within, beyond


def _trim(marks: tuple[int, ...]) -> tuple[int, ...]:
    """Forget leading points that lay in no zone of interest."""
    while marks and marks[0] == 0:
        marks = marks[1:]
    return marks


def _useful(marks: tuple[int, ...]) -> tuple[int, ...]:
    """Forget the points that can take part in no "four of five" any more."""
    kept = list(marks)
    for at, mark in enumerate(marks):
        # The window that starts at this point ends four later; the points still to come may all be like it.
        later = marks[at:]
        free = 5 - len(later)
        if mark and later.count(mark) + free < 4:
            kept[at] = 0
    return _trim(tuple(kept))


def simulated_lengths(names: tuple[str, ...], shift: float, rng: np.random.Generator, runs: int) -> np.ndarray:
    """Return simulated run lengths."""
    lengths = np.empty(runs)
    for run in range(runs):
        z = rng.standard_normal(256) + shift
        while (end := _first_signal(z, names)) is None:
            z = np.concatenate([z, rng.standard_normal(z.size) + shift])
        lengths[run] = end
    return lengths


def _first_signal(z: np.ndarray, names: tuple[str, ...]) -> int | None:
    """Return the number of the point at which the first signal is complete."""
    ends = [_completed(signal.name, signal.first, z) for signal in find_signals(z, names)]
    return min(ends) if ends else None


_LENGTH = {
    BEYOND_3: 1,
    EIGHT_ONE_SIDE: 8,
    FIFTEEN_WITHIN_1: 15,
    EIGHT_BEYOND_1: 8,
    "six in a row rising": 6,
    "six in a row falling": 6,
    "fourteen alternating": 14,
}


def _completed(name: str, first: int, z: np.ndarray) -> int:
    """Return the point at which a signal that begins at ``first`` is complete."""
    if name in _LENGTH:
        return first + _LENGTH[name] - 1
    need, level = (2, 2.0) if name == TWO_OF_THREE else (4, 1.0)
    sign = 1 if z[first - 1] > 0 else -1
    inside = np.flatnonzero(sign * z[first - 1 :] > level) + first
    window = 3 if need == 2 else 5
    for at in range(need - 1, inside.size):
        if inside[at] - inside[at - need + 1] < window:
            return int(inside[at])
    raise AssertionError("a stretch that was found is never complete")


def shewhart_run_length(shift: float = 0.0, width: float = 3.0) -> float:
    """Return the average run length of limits at ``width`` sds alone; infinite where they are never passed."""
    shift, width = finite_number(shift, "shift"), no_less_than_zero(width, "width")
    beyond = float(special.ndtr(-width - shift) + special.ndtr(-width + shift))
    return 1 / beyond if beyond > 0 else math.inf


def cusum_run_length(slack: float = 0.5, decision: float = 5.0, shift: float = 0.0, head_start: float = 0.0) -> float:
    """Return the average run length of the two-sided tabular cumulative sum, all in sds.

    Notes
    -----
    Integral equation of each one-sided sum (an atom at zero, Gauss-Legendre points above it); without a head
    start the two sides add as rates (exact when 2 * slack is not under the head start).

    References
    ----------
    Lucas & Crosier, Technometrics 24 (1982); Page (1954) (from memory): tests/published/test_drift_run_length.py.
    """
    slack, decision = no_less_than_zero(slack, "slack"), above_zero(decision, "decision")
    shift, head_start = finite_number(shift, "shift"), no_less_than_zero(head_start, "head_start")
    up, up_zero = _one_sided(slack, decision, shift, head_start)
    down, down_zero = _one_sided(slack, decision, -shift, head_start)
    return (up * down_zero + down * up_zero - up_zero * down_zero) / (up_zero + down_zero)


def _one_sided(slack: float, decision: float, shift: float, start: float) -> tuple[float, float]:
    """Return the average run length of one sum from ``start`` and from zero."""
    point, weight = np.polynomial.legendre.leggauss(NODES)
    at = decision * (point + 1) / 2
    weight = weight * decision / 2
    drift = shift - slack

    def row(u: np.ndarray) -> np.ndarray:
        density = np.exp(-0.5 * (at[None, :] - u[:, None] - drift) ** 2) / math.sqrt(2 * math.pi)
        return np.column_stack([special.ndtr(-u - drift), density * weight])

    places = np.concatenate([[0.0], at])
    lengths = _solved(row(places))
    return float(1 + (row(np.array([start])) @ lengths)[0]), float(lengths[0])


def _solved(step: np.ndarray) -> np.ndarray:
    try:
        return np.linalg.solve(np.eye(len(step)) - step, np.ones(len(step)))
    except np.linalg.LinAlgError:
        raise OutsideModel("no signal ever comes at such numbers: the run length has no end") from None


def ewma_run_length(weight: float = 0.2, width: float = 3.0, shift: float = 0.0) -> float:
    """Return the average run length of the weighted-average chart with its final limits, from the centre.

    References
    ----------
    S. V. Crowder, Technometrics 29 (1987); Lucas & Saccucci (1990) (from memory):
    tests/published/test_drift_run_length.py.
    """
    shift, width = finite_number(shift, "shift"), above_zero(width, "width")
    if not 0 < finite_number(weight, "weight") <= 1:
        raise TrackerError(f"weight is {weight!r}; give the weight of the newest piece, above 0 and at most 1")
    point, quadrature = np.polynomial.legendre.leggauss(NODES)
    limit = width * math.sqrt(weight / (2 - weight))
    at = limit * point

    def row(u: np.ndarray) -> np.ndarray:
        z = (at[None, :] - (1 - weight) * u[:, None]) / weight - shift
        return np.exp(-0.5 * z * z) / math.sqrt(2 * math.pi) / weight * quadrature * limit

    lengths = _solved(row(at))
    return float(1 + (row(np.array([0.0])) @ lengths)[0])
