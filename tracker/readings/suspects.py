"""Readings that look mistyped: asked about, kept when confirmed, marked for good."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from tracker.readings.digits import likely_digits
from tracker.readings.imports import groups_of, text_array
from tracker.units import MM_PER, convert, format_number

if TYPE_CHECKING:
    from tracker.job import Feature, Job

WRONG_UNIT = "wrong unit"
DIGIT = "dropped or swapped digit"
FAR = "far from the others"
FAR_FROM_NOMINAL = "far from the nominal"
OUT_OF_RANGE = "outside the gauge's range"
PAST_DUE = "gauge past its calibration date"
ALL_EQUAL = "same value for every repeat"
HELD = (WRONG_UNIT, DIGIT, FAR, FAR_FROM_NOMINAL, OUT_OF_RANGE)
"""Kinds that hold a reading back until someone confirms it; the others only mark it."""

# Common practice, no source; what they give is measured in tests/tracker/readings/test_suspects.py.
FALSE_ALARM = 0.01  # chance that a good batch has one held back as far from the others
FALSE_ALARM_SHORT = 0.02  # the same for a reading typed with fewer digits than all the others
CORE_WIDTH = 4.0  # readings within so many robust sd of the median are the ones the others are held against
LEAST_STEPS = 3.0  # nothing nearer than this many steps to the middle is far
UNIT_RATIO_SLACK = 0.03
FAR_SHARE = 0.10  # of the nominal
LONG_UNIT = {"in": "inches", "mm": "millimetres"}
EQUAL_EVIDENCE = 14  # repeats beyond the first, all equal, before that is marked

Floats = np.ndarray[Any, np.dtype[np.float64]]


@dataclass(slots=True)
class Doubt:
    """What is asked about one reading."""

    kind: str
    question: str
    suggestion: str = ""


def find_suspects(
    frame: pd.DataFrame,
    job: Job | None,
    *,
    confirmed: np.ndarray[Any, Any] | None = None,
    keep: bool = False,
    today: datetime.date | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Split a readings frame into those that count and those to ask about.

    Parameters
    ----------
    frame : pandas.DataFrame
        Of the readings contract.
    job : Job or None
        Gives nominals, limits, gauge ranges and calibration dates.
    confirmed : array of bool, optional
        Rows that someone has confirmed: they count, and stay marked.
    keep : bool
        Whether all count as confirmed.
    today : datetime.date, optional
        For readings without a time: the day a gauge's calibration is judged against.

    Returns
    -------
    readings, suspects : pandas.DataFrame
        The first in the shape of the contract, ``suspect`` filled where marked; the second with ``question`` and
        ``suggestion`` too.

    Notes
    -----
    Far from the others: the readings within four robust standard deviations (median absolute deviation) of the
    median are the core; any other reading is held against mean and standard deviation of the core pieces with
    Student's t, at a level divided by the number of readings and of ways to leave that many pieces out (union bound),
    so that a good normal batch has a false alarm at most about once in 100; rounding adds a twelfth of a step
    squared to the variance. A drifting batch is wide, so that its ends are not far; two thirds of a batch mistyped
    alike cannot be seen, except against the nominal. False for sizes with heavy tails: then more is asked.
    """
    doubts: dict[int, Doubt] = {}
    marks: dict[int, list[str]] = {}
    if len(frame):
        _by_nominal_and_unit(frame, job, doubts)
        _by_the_others(frame, job, doubts)
        _by_range(frame, job, doubts)
        _past_due(frame, job, today, marks)
        _all_equal(frame, marks)
    if not doubts and not marks:
        return frame, frame.iloc[:0].assign(question=text_array([]), suggestion=text_array([]))
    words = np.array(frame["suspect"].to_numpy(dtype=object), copy=True)
    for row in sorted({*doubts, *marks}):
        kinds = ([doubts[row].kind] if row in doubts else []) + marks.get(row, [])
        words[row] = "; ".join(kinds)
    marked = frame.assign(suspect=text_array(words))
    held = np.zeros(len(frame), dtype=bool)
    if not keep and doubts:
        held[list(doubts)] = True
        if confirmed is not None:
            held &= ~confirmed
    rows = np.flatnonzero(held).tolist()
    suspects = marked[held].reset_index(drop=True)
    suspects = suspects.assign(
        question=text_array([doubts[row].question for row in rows]),
        suggestion=text_array([doubts[row].suggestion for row in rows]),
    )
    return marked[~held].reset_index(drop=True), suspects


def _by_nominal_and_unit(frame: pd.DataFrame, job: Job | None, doubts: dict[int, Doubt]) -> None:
    """Hold what is 25.4 times off or far from the nominal: against the job, else against the batch's middle."""
    value = _middle(frame)
    for (_, name), rows in groups_of(frame, ["batch", "feature"]):
        sizes = value[rows]
        known = np.isfinite(sizes)
        feature = None if job is None else job.features.get(name)
        if feature is not None and feature.nominal > 0:
            reference = feature.nominal
            far = np.abs(sizes - reference) > _nominal_reach(feature)
        elif known.sum() >= 3:
            reference = float(np.median(sizes[known]))
            far = np.abs(sizes - reference) > 0.5 * abs(reference)
        else:
            continue
        unit = "in" if job is None else job.unit
        for row, size in zip(rows[far & known], sizes[far & known]):
            doubt = _unit_doubt(frame, int(row), float(size), reference, unit)
            if doubt is not None:
                doubts[int(row)] = doubt
            elif feature is not None:
                digits = likely_digits(
                    _cell(frame, "typed", row), float(size), reference, _nominal_reach(feature) / 5, None
                )
                doubts[int(row)] = Doubt(
                    DIGIT if digits else FAR_FROM_NOMINAL,
                    f"{_what(frame, int(row))} is {_cell(frame, 'typed', int(row)).strip()}, far from the nominal"
                    f" {reference:.9g} {unit}" + (f": was it {digits}?" if digits else ": is it right?"),
                    digits,
                )


def _nominal_reach(feature: Feature) -> float:
    width = 0.0 if feature.lower is None or feature.upper is None else 5 * (feature.upper - feature.lower)
    return max(FAR_SHARE * feature.nominal, width)


def _unit_doubt(frame: pd.DataFrame, row: int, size: float, reference: float, unit: str) -> Doubt | None:
    ratio = size / reference if reference else 0.0
    factor = float(MM_PER["in"])
    for off, right in ((factor, "mm"), (1 / factor, "in")):
        if abs(ratio / off - 1) <= UNIT_RATIO_SLACK:
            typed = _cell(frame, "typed", row).strip()
            was = _cell(frame, "unit", row)
            meant = convert(size, unit, "mm") / off
            shown = convert(meant, "mm", unit)
            bare = typed.rstrip('"″” abcdefghijklmnopqrstuvwxyzµμABCDEFGHIJKLMNOPQRSTUVWXYZ.').strip()
            return Doubt(
                WRONG_UNIT,
                f"{_what(frame, row)} is {typed} read as {was}: that is 25.4 times off; in {LONG_UNIT[right]} it is"
                f" {shown:.6g} {unit}: is the unit wrong?",
                f"{bare or typed} {right}",
            )
    return None


def _by_the_others(frame: pd.DataFrame, job: Job | None, doubts: dict[int, Doubt]) -> None:
    value = frame["value"].to_numpy()
    usable = np.isfinite(value)
    if doubts:
        usable[list(doubts)] = False
    index = np.flatnonzero(usable)
    if index.size < 3:
        return
    group = _codes(frame, ["batch", "feature"])[index]
    unit = "in" if job is None else job.unit
    for rows, centre, reach in _groups_with_far(value[index], group):
        members = index[rows]
        for row, mean, sd in _far_of_group(frame, value, members, centre, reach):
            typed = _cell(frame, "typed", row).strip()
            usual = _usual_decimals(frame, members)
            digits = ""
            if _cell(frame, "kind", row) == "absolute":
                digits = likely_digits(typed, float(value[row]), mean, max(3 * sd, _step(frame, value, members)), usual)
            places = max(usual or 0, 4 if unit == "in" else 3)
            doubts[int(row)] = Doubt(
                DIGIT if digits else FAR,
                f"{_what(frame, row)} is {typed}; the others are about {format_number(mean, places)} {unit}"
                + (f": was it {digits}?" if digits else ": is it right?"),
                digits,
            )


def _groups_with_far(value: Floats, group: np.ndarray[Any, Any]) -> list[tuple[np.ndarray[Any, Any], float, float]]:
    """Return, for every group with a reading outside its core: its rows, its median and the core's half width."""
    order, start, stop = _sorted_groups(value, group)
    ranked, code = value[order], group[order]
    centre = _medians(ranked, start, stop)
    number = np.repeat(np.arange(start.size), stop - start)
    away = np.abs(ranked - centre[number])
    inner = np.lexsort((away, code))
    reach = CORE_WIDTH * 1.4826 * _medians(away[inner], start, stop)
    far = away > reach[number]
    return [
        (np.sort(order[start[i] : stop[i]]), float(centre[i]), float(reach[i]))
        for i in np.unique(number[far])
        if stop[i] - start[i] >= 3
    ]


def _sorted_groups(value: Floats, group: np.ndarray[Any, Any]) -> tuple[np.ndarray[Any, Any], ...]:
    order = np.lexsort((value, group))
    code = group[order]
    start = np.flatnonzero(np.r_[True, code[1:] != code[:-1]])
    return order, start, np.r_[start[1:], code.size]


def _medians(ranked: Floats, start: np.ndarray[Any, Any], stop: np.ndarray[Any, Any]) -> Floats:
    count = stop - start
    middle: Floats = (ranked[start + (count - 1) // 2] + ranked[start + count // 2]) / 2
    return middle


def _far_of_group(
    frame: pd.DataFrame, value: Floats, members: np.ndarray[Any, Any], centre: float, reach: float
) -> list[tuple[int, float, float]]:
    """Return the readings of one group that are far from the others, with the others' mean and sd."""
    from scipy.special import comb, stdtr

    step = _step(frame, value, members)
    away = np.abs(value[members] - centre)
    core = away <= reach
    core |= away <= step
    if core.all():
        return []
    label, named = pd.factorize(frame["piece"].iloc[members], sort=True)
    pieces = len(named)
    if pieces < 3:
        label, pieces = np.arange(members.size), members.size
    in_core = np.bincount(label[core], minlength=pieces) > 0
    core_pieces = int(in_core.sum())
    left_out = pieces - core_pieces
    partly = int((in_core & (np.bincount(label[~core], minlength=pieces) > 0)).sum())
    if core_pieces < 2:
        return []
    mean, sd = _core_spread(value[members][core], label[core])
    spread = float(np.sqrt(sd**2 + step**2 / 12))
    scale = spread * np.sqrt(1 + 1 / core_pieces)
    ways = members.size * comb(pieces, max(left_out + partly, 1))
    decimals = _decimals(frame, members)
    unanimous = np.unique(decimals[core])
    found = []
    for at in np.flatnonzero(~core):
        distance = abs(value[members][at] - mean)
        short = unanimous.size == 1 and 0 <= decimals[at] < unanimous[0]
        level = FALSE_ALARM_SHORT / members.size if short else FALSE_ALARM / ways
        if distance >= LEAST_STEPS * step and scale > 0:
            chance = 2 * stdtr(core_pieces - 1, -distance / scale)
            if chance < level:
                found.append((int(members[at]), mean, spread))
    return found


def _core_spread(value: Floats, label: np.ndarray[Any, Any]) -> tuple[float, float]:
    """Return the mean of the piece means and the sd of a reading about it, between and within pieces."""
    _, code = np.unique(label, return_inverse=True)
    count = np.bincount(code)
    means = np.bincount(code, value) / count
    centre = float(means.mean())
    squares = np.bincount(code, (value - centre) ** 2) / count
    return centre, float(np.sqrt(squares.sum() / max(count.size - 1, 1)))


def _step(frame: pd.DataFrame, value: Floats, members: np.ndarray[Any, Any]) -> float:
    """Return the step of a group: as the frame says it (the finest), else the least difference there is."""
    steps = frame["step"].iloc[members].to_numpy()
    steps = steps[steps > 0]
    if steps.size:
        return float(np.median(steps))
    differences = np.diff(np.unique(value[members]))
    return float(differences.min()) if differences.size else 0.0


def _by_range(frame: pd.DataFrame, job: Job | None, doubts: dict[int, Doubt]) -> None:
    if job is None:
        return
    for (name,), rows in groups_of(frame, ["gauge"]):
        gauge = job.gauges.get(name)
        if gauge is None or (gauge.low is None and gauge.high is None):
            continue
        low = -np.inf if gauge.low is None else gauge.low
        high = np.inf if gauge.high is None else gauge.high
        shown = _shown_by_gauge(frame, job, rows)
        for row in rows[(shown < low) | (shown > high)]:
            if int(row) in doubts:
                continue
            doubts[int(row)] = Doubt(
                OUT_OF_RANGE,
                f"{_what(frame, int(row))} is {_cell(frame, 'typed', int(row)).strip()}, but {name} reads from"
                f" {low:.6g} to {high:.6g} {job.unit}: is the value or the gauge wrong?",
            )


def _shown_by_gauge(frame: pd.DataFrame, job: Job, rows: np.ndarray[Any, Any]) -> Floats:
    """Return what the gauge itself showed: the size, or the deviation of a comparator; NaN for goes / does not go."""
    shown: Floats = np.array(frame["value"].to_numpy()[rows], copy=True)
    kinds = frame["kind"].to_numpy()[rows]
    for at in np.flatnonzero(kinds == "comparator"):
        words = _cell(frame, "applied", rows[at]).split("; ")[0].split()
        if len(words) == 4 and words[0] == "master":
            shown[at] = float(words[3])
    return shown


def _past_due(frame: pd.DataFrame, job: Job | None, today: datetime.date | None, marks: dict[int, list[str]]) -> None:
    if job is None or not any(gauge.due for gauge in job.gauges.values()):
        return
    time = frame["time"].to_numpy().astype("datetime64[D]")
    if today is not None:
        time = np.where(np.isnat(time), np.datetime64(today, "D"), time)
    for (name,), rows in groups_of(frame, ["gauge"]):
        gauge = job.gauges.get(name)
        if gauge is not None and gauge.due is not None:
            for row in rows[time[rows] > np.datetime64(gauge.due, "D")]:
                marks.setdefault(int(row), []).append(PAST_DUE)


def _all_equal(frame: pd.DataFrame, marks: dict[int, list[str]]) -> None:
    """Mark a batch in which every repeat equals the first, when that is too much to be the gauge's rounding alone."""
    value = frame["value"].to_numpy()
    index = np.flatnonzero(np.isfinite(value))
    if index.size <= EQUAL_EVIDENCE:
        return
    place = _codes(frame, ["batch", "feature", "piece", "position"])[index]
    order, start, stop = _sorted_groups(value[index], place)
    ranked = value[index][order]
    batch = _codes(frame, ["batch", "feature"])[index][order][start]
    repeats = stop - start
    differs = (ranked[stop - 1] != ranked[start]) & (repeats > 1)
    count = int(batch.max()) + 1
    evidence = np.bincount(batch, repeats - 1, minlength=count)
    unequal = np.bincount(batch, differs, minlength=count)
    for code in np.flatnonzero((evidence >= EQUAL_EVIDENCE) & (unequal == 0)):
        for i in np.flatnonzero((batch == code) & (repeats > 1)):
            for row in index[order[start[i] : stop[i]]]:
                marks.setdefault(int(row), []).append(ALL_EQUAL)


def _cell(frame: pd.DataFrame, name: str, row: int) -> str:
    return str(frame[name].iat[row])


def _codes(frame: pd.DataFrame, names: list[str]) -> np.ndarray[Any, Any]:
    return np.asarray(frame.groupby(names, sort=False).ngroup().to_numpy())


def _middle(frame: pd.DataFrame) -> Floats:
    """Return each reading's size; for goes / does not go the end that is known, or the middle of both."""
    value: Floats = np.array(frame["value"].to_numpy(), copy=True)
    going = np.isnan(value)
    if going.any():
        low, high = frame["low"].to_numpy()[going], frame["high"].to_numpy()[going]
        low, high = np.where(np.isfinite(low), low, high), np.where(np.isfinite(high), high, low)
        value[going] = (low + high) / 2
    return value


def _decimals(frame: pd.DataFrame, members: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Return the digits typed after the point, -1 where the value is no plain decimal."""
    code, texts = pd.factorize(frame["typed"].iloc[members])
    found = []
    for text in texts:
        number = text.strip().split()[0].rstrip('"″”') if text.strip() else ""
        _, point, digits = number.replace(",", ".").partition(".")
        found.append(len(digits) if point and digits.isdigit() else -1)
    places: np.ndarray[Any, Any] = np.array(found)[code]
    return places


def _usual_decimals(frame: pd.DataFrame, members: np.ndarray[Any, Any]) -> int | None:
    places = _decimals(frame, members)
    places = places[places >= 0]
    return int(np.bincount(places).argmax()) if places.size else None


def _what(frame: pd.DataFrame, row: int) -> str:
    """Name a reading: feature, piece, position, repeat."""
    batch, position = _cell(frame, "batch", row), _cell(frame, "position", row)
    words = [_cell(frame, "feature", row), f"piece {_cell(frame, 'piece', row)}"]
    if position:
        words.append(str(position))
    words.append(f"repeat {_cell(frame, 'repeat', row)}")
    return (f"batch {batch}, " if batch else "") + " ".join(words)
