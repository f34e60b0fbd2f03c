"""Size against the order of making, as a tape running down the page, cut wherever somebody touched the machine."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from dashboard.figures.band import HEIGHT, Band, band_over, brief, heads
from dashboard.figures.drawing import Drawing, width_of
from dashboard.figures.numbers import Numbers
from tracker.decide.words import count
from tracker.drift import WearLine
from tracker.judge import FeatureCheck, plain_name

CUT = 44
NOTES_FROM = 620
MOST_AHEAD = 40
MOST_DRAWN = 400


@dataclass(frozen=True, slots=True)
class Stretch:
    """A run between two events: pieces ``first`` to ``last`` (counted from 1), and what began it."""

    first: int
    last: int
    event: str


def stretches(found: FeatureCheck) -> list[Stretch]:
    """Return the runs between events, empty ones left out."""
    assert found.sizes is not None
    pieces = len(found.sizes)
    marks = sorted({after: event for after, event in found.events if 0 < after < pieces}.items())
    begin = next((event for after, event in found.events if after == 0), "")
    starts = [(0, begin), *marks]
    ends = [after for after, _ in marks] + [pieces]
    return [Stretch(start + 1, end, event) for (start, event), end in zip(starts, ends)]


def fresh_event(found: FeatureCheck) -> str:
    """Return what was done to the machine after the last piece, "" where nothing was."""
    pieces = 0 if found.sizes is None else len(found.sizes)
    return next((event for after, event in reversed(found.events) if pieces and after >= pieces), "")


def tape_title(found: FeatureCheck, numbers: Numbers) -> str:
    """Return what the tape shows: which way size creeps, and whether the events moved it."""
    wear, name = found.wear, plain_name(found.name)
    runs = stretches(found)
    if wear is None:
        return f"{count(len(found.sizes or ()), 'piece').capitalize()} in the order they were made"
    if not wear.seen:
        return f"Size does not creep from {name} to {name}, as far as {count(wear.n, 'piece')} can tell"
    way = "up" if wear.slope.estimate > 0 else "down"
    if len(runs) > 1:
        jumps = [run.jump for run in wear.runs if run.jump is not None]
        sure = [jump for jump in jumps if jump.low > 0 or jump.high < 0]
        if sure:
            back = "up" if sure[-1].estimate > 0 else "down"
            jump = f"jumps {back} {numbers.about(sure[-1].estimate)} at the {runs[-1].event}"
            return f"Size creeps {way}, {jump}, and creeps again"
    return (
        f"Size creeps {way}, {numbers.off(abs(wear.slope.estimate), signed=False, decimals=2)} {numbers.small} a piece"
    )


def tape(found: FeatureCheck, numbers: Numbers, width: float = 900, *, tool: str = "tool") -> Drawing:
    """Return the tape of one feature.

    Parameters
    ----------
    found : FeatureCheck
        With sizes; its wear line where there is one.
    numbers : Numbers
    width : float
    tool : str
        What wears, in the shop's word.

    Returns
    -------
    Drawing
    """
    assert found.sizes is not None
    sizes, wear, name = found.sizes, found.wear, plain_name(found.name)
    every = stretches(found)
    begin = max(len(sizes) - MOST_DRAWN, 0) + 1
    runs = [replace(run, first=max(run.first, begin)) for run in every if run.last >= begin]
    drawn = len(sizes) - begin + 1
    base = numbers.base(found.nominal)
    ends = [value for value in (found.lower, found.upper) if value is not None]
    notes = 220.0 if width >= NOTES_FROM else 0.0
    fresh = fresh_event(found)
    ahead, safe = (0, 0) if fresh else _ahead(wear)
    row = min(15.0, max(2.5, 560 / (drawn + ahead)))
    spans = [float(sizes.size.min()), float(sizes.size.max()), *ends]
    if wear is not None and wear.seen:
        spans += [float(value) for value in (wear.band.low.min(), wear.band.high.max())]
    band = band_over(spans, 40, width - notes - 2, base, numbers, air=0.05)
    top = 46.0 + HEIGHT + 6
    height = top + drawn * row + 12 * len(runs) + (CUT - 12) * (len(runs) - 1)
    height += (ahead * row + 26) if ahead else CUT if fresh else 8
    drawing = Drawing(
        width,
        height,
        tape_title(found, numbers),
        f"{name.capitalize()}s run down the tape as they were made"
        + ("; it is cut where somebody touched the machine" if len(runs) > 1 else "")
        + (f". The last {MOST_DRAWN} of {len(sizes):,}" if begin > 1 else "")
        + f". {numbers.from_base(base).capitalize()}.",
    )
    heads(drawing, band, 16, [(found.lower, "lower"), (found.upper, "upper")])
    band.draw(drawing, 46, marks="below")
    y = top
    for index, run in enumerate(runs):
        if index:
            _cut(drawing, band, found, run, index + len(every) - len(runs), y, numbers)
            y += CUT - 12
        tall = (run.last - run.first + 1) * row + 12
        drawing.rect(band.left, y, band.right - band.left, tall, "ground")
        _line(drawing, band, wear, run, y + 6, row)
        for piece in range(run.first, run.last + 1):
            _piece(drawing, band, found, piece, y + 6 + (piece - run.first) * row, row)
        for value in ends:
            drawing.line(band.x(value), y, band.x(value), y + tall, "limit")
        if notes:
            at = index + len(every) - len(runs)
            _note(drawing, band, wear, run, at, len(every), y + tall / 2, numbers, tool)
        y += tall
    if fresh:
        drawing.text(band.left, y + 17, f"{fresh} after {sizes.piece[-1]}", "wb")
        drawing.text(band.right, y + 17, "nothing measured since", "w", "end")
        drawing.line(band.left - 10, y + 24, band.right + 8, y + 24, "cut")
    if ahead and wear is not None:
        _not_made(drawing, band, found, wear, (ahead, safe), y + 10, row, ends, bool(notes))
    return drawing


def _ahead(wear: WearLine | None) -> tuple[int, int]:
    """Return how many pieces not made yet are drawn, and how many of them are safe."""
    if wear is None or not wear.seen or wear.pieces_left is None:
        return 0, 0
    safe = wear.pieces_left_safe or 0
    most = max(8, min(MOST_AHEAD, wear.n))
    return min(max(wear.pieces_left + 2, safe + 4), most), min(safe, most)


def _piece(drawing: Drawing, band: Band, found: FeatureCheck, piece: int, y: float, row: float) -> None:
    assert found.sizes is not None
    size, name = float(found.sizes.size[piece - 1]), found.sizes.piece[piece - 1]
    x, tall = band.x(size), max(row - 2, 2)
    says = f"{plain_name(found.name)} {name}: {band.numbers.size(size)} {band.numbers.unit}"
    if found.kind == "internal":
        drawing.hatched(x, y, 16, tall, "boreline", says)
        drawing.line(x, y, x, y + tall, "bore")
    elif found.kind == "external":
        drawing.rect(x - 16, y, 16, tall, "shankfill", says)
        drawing.line(x, y, x, y + tall, "shank")
    else:
        drawing.line(x, y, x, y + tall, "length")
    step = 1 if row >= 15 else 5 if row >= 3.4 else 20
    if piece == 1 or piece % step == 0:
        drawing.text(band.left - 8, y + tall / 2 + 4.5, brief(name, 4), "n2", "end")


def _line(drawing: Drawing, band: Band, wear: WearLine | None, run: Stretch, top: float, row: float) -> None:
    if wear is None:
        return
    here = (wear.band.order >= run.first) & (wear.band.order <= run.last)
    if not here.any():
        return
    at = [top + (float(order) - run.first + 0.5) * row for order in wear.band.order[here]]
    low, high, middle = (array[here] for array in (wear.band.low, wear.band.high, wear.band.line))

    def inside(value: float) -> float:
        return min(max(band.x(float(value)), band.left), band.right)

    if wear.seen:
        edge = [(inside(value), y) for value, y in zip(low, at)] + [(inside(value), y) for value, y in zip(high, at)][
            ::-1
        ]
        drawing.outline(edge, "spread", close=True)
    drawing.outline([(inside(value), y) for value, y in zip(middle, at)], "line" if wear.seen else "lead")


def _cut(
    drawing: Drawing, band: Band, found: FeatureCheck, run: Stretch, index: int, y: float, numbers: Numbers
) -> None:
    assert found.sizes is not None
    after = found.sizes.piece[run.first - 2]
    drawing.text(band.left, y + 15, f"{run.event} after {after}", "wb")
    drawing.line(band.left - 10, y + 22, band.right + 8, y + 22, "cut")
    jump = None
    if found.wear is not None and index < len(found.wear.runs):
        jump = found.wear.runs[index].jump
    if jump is None:
        return
    clear = jump.low > 0 or jump.high < 0
    words = (
        f"size jumped {numbers.off(jump.estimate)}" if clear else f"jump {numbers.off(jump.estimate)}: nothing to see"
    )
    if width_of(words) + width_of(f"{run.event} after {after}", "wb") + 20 > band.right - band.left:
        words = f"jump {numbers.off(jump.estimate)}"
    drawing.text(band.right, y + 15, words, "w", "end")


def _note(
    drawing: Drawing,
    band: Band,
    wear: WearLine | None,
    run: Stretch,
    index: int,
    runs: int,
    y: float,
    numbers: Numbers,
    tool: str,
) -> None:
    """Write beside a run which it is and how fast it creeps."""
    x = band.right + 18
    last = index == runs - 1
    head = "now" if last and runs > 1 else ("as begun" if runs > 1 else "all of them")
    drawing.text(x, y - 2, head, "wb")
    if wear is None or index >= len(wear.runs):
        return
    slope = wear.slope if last and wear.seen else wear.runs[index].slope
    if slope is not None:
        half = (slope.high - slope.low) / 2
        drawing.text(
            x,
            y + 17,
            f"{numbers.off(slope.estimate, decimals=2)} ± {numbers.off(half, signed=False, decimals=2)} a piece",
            "n",
        )


def _not_made(
    drawing: Drawing,
    band: Band,
    found: FeatureCheck,
    wear: WearLine,
    ahead: tuple[int, int],
    top: float,
    row: float,
    ends: list[float],
    notes: bool,
) -> None:
    """Draw the pieces to come: boxed as far as each is sure, dashed and hatched beyond."""
    assert found.sizes is not None
    rows, safe = ahead
    whole, sure = rows * row + 12, (safe * row + 6) if safe else 0.0
    wide = band.right - band.left
    drawing.hatched(band.left, top + sure, wide, whole - sure, "greyline")
    first = float(wear.order[-1]) + 1
    order = np.arange(first, first + rows)
    come = wear.predict(order)
    at = [top + 6 + (index + 0.5) * row for index in range(rows)]

    def inside(value: float) -> float:
        return min(max(band.x(float(value)), band.left), band.right)

    edge = [(inside(value), y) for value, y in zip(come.low, at)] + [
        (inside(value), y) for value, y in zip(come.high, at)
    ][::-1]
    drawing.outline(edge, "spread", close=True)
    drawing.rect(band.left, top + sure, wide, whole - sure, "dashed")
    drawing.outline([(inside(value), y) for value, y in zip(come.line, at) if band.inside(float(value))], "ahead")
    for value in ends:
        drawing.line(band.x(value), top, band.x(value), top + whole, "limit")
    if safe:
        drawing.rect(band.left, top, wide, sure, "box")
    limit = found.lower if wear.slope.estimate < 0 else found.upper
    left = wear.pieces_left
    if limit is not None and left is not None and left < rows:
        y = top + 6 + (left + 0.5) * row
        drawing.circle(band.x(limit), y, 6, "open")
    share = f"{wear.confidence:.0%}".replace("%", " %")
    if not notes:
        return
    x = band.right + 18
    if safe:
        drawing.text(x, top + min(sure / 2 + 5, 18), f"{safe} more, {share} each", "wb")
    drawing.text(x, max(top + sure + 18, top + 40), "after that one may fall", "w")
    drawing.text(x, max(top + sure + 37, top + 59), "outside", "w")
    if limit is not None and left is not None and left < rows:
        y = top + 6 + (left + 0.5) * row
        if y > top + sure + 60:
            drawing.line(band.x(limit) + 8, y, x - 6, y, "lead")
            drawing.text(x, y + 5, f"after {left}: the middle is there", "wb")
