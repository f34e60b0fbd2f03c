"""Size against the order of making, as a tape running down the page, cut wherever somebody touched the machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from textwrap import wrap

import numpy as np

from dashboard.figures.band import HEIGHT, Band, band_over, brief, heads
from dashboard.figures.drawing import ADVANCE, Drawing, width_of
from dashboard.figures.numbers import Numbers
from tracker.decide.words import count, plural
from tracker.drift import Signal, WearLine
from tracker.judge import FeatureCheck, plain_name, wear_verdict
from tracker.judge.words import signal_words

CUT = 44
NOTES_FROM = 620
MOST_AHEAD = 40
MOST_DRAWN = 400
MOST_SIGNALS = 6
NOTE_LETTERS = 26
LINE, GAP = 19.0, 6.0


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
    creep = numbers.off(abs(wear.slope.estimate), signed=False, decimals=numbers.fine(wear.slope.estimate))
    if wear_verdict(wear) != "wear seen":
        return f"Size may creep {way}, {creep} {numbers.small} a piece; {count(wear.n, 'piece')} cannot tell"
    if len(runs) > 1:
        jumps = [run.jump for run in wear.runs if run.jump is not None]
        sure = [jump for jump in jumps if jump.low > 0 or jump.high < 0]
        if sure:
            back = "up" if sure[-1].estimate > 0 else "down"
            jump = f"jumps {back} {numbers.about(sure[-1].estimate)} at the {runs[-1].event}"
            return f"Size creeps {way}, {jump}, and creeps again"
    return f"Size creeps {way}, {creep} {numbers.small} a piece"


def tape(
    found: FeatureCheck, numbers: Numbers, width: float = 900, *, tool: str = "tool", signals: Sequence[Signal] = ()
) -> Drawing:
    """Return the tape of one feature.

    Parameters
    ----------
    found : FeatureCheck
        With sizes; its wear line where there is one.
    numbers : Numbers
    width : float
    tool : str
        What wears, in the shop's word.
    signals : sequence of Signal
        What stands out; each is bracketed at the side, with what is seen in words.

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
    wide = width >= NOTES_FROM
    marked = [item for item in signals if item.last >= begin][:MOST_SIGNALS]
    notes = 220.0 if wide else 34.0 if marked else 0.0
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
        f"{plural(name).capitalize()} run down the tape as they were made"
        + ("; it is cut where somebody touched the machine" if len(runs) > 1 else "")
        + (f". The last {MOST_DRAWN} of {len(sizes):,}" if begin > 1 else "")
        + f". {numbers.from_base(base).capitalize()}.",
    )
    heads(drawing, band, 16, [(found.lower, "lower"), (found.upper, "upper")])
    band.draw(drawing, 46, marks="below")
    y = top
    margin = Margin(drawing, band.right + 18)
    places: dict[int, float] = {}
    for index, run in enumerate(runs):
        if index:
            _cut(drawing, band, found, run, index + len(every) - len(runs), y, numbers)
            y += CUT - 12
        tall = (run.last - run.first + 1) * row + 12
        drawing.rect(band.left, y, band.right - band.left, tall, "ground")
        _line(drawing, band, wear, run, y + 6, row)
        for piece in range(run.first, run.last + 1):
            places[piece] = y + 6 + (piece - run.first) * row
            _piece(drawing, band, found, piece, places[piece], row)
        for value in ends:
            drawing.line(band.x(value), y, band.x(value), y + tall, "limit")
        if wide:
            at = index + len(every) - len(runs)
            margin.note(y + LINE, _note(wear, at, len(every), numbers))
        y += tall
    below = _brackets(drawing, band, found, marked, places, row, margin if wide else None)
    free = margin.write()
    if fresh:
        drawing.text(band.left, y + 17, f"{fresh} after {sizes.piece[-1]}", "wb")
        drawing.text(band.right, y + 17, "nothing measured since", "w", "end")
        drawing.line(band.left - 10, y + 24, band.right + 8, y + 24, "cut")
    if ahead and wear is not None:
        _not_made(drawing, band, found, wear, (ahead, safe), y + 10, row, ends, free if wide else None)
    y = drawing.height + 8
    for number, line in below:
        if number:
            drawing.text(2, y + 14, number, "nb")
        drawing.text(24, y + 14, line, "w")
        y += LINE
    return replace(drawing, height=max(y - 4 if below else drawing.height, free + 4))


@dataclass(slots=True)
class Margin:
    """Notes beside a tape, each at its place or as near below it as the notes before leave room."""

    drawing: Drawing
    x: float
    notes: list[tuple[float, list[tuple[str, str]]]] = field(default_factory=list)

    def note(self, middle: float, lines: list[tuple[str, str]]) -> None:
        """Keep a note of (words, look) a line, to stand with its middle there."""
        if lines:
            self.notes.append((middle - LINE * len(lines) / 2, lines))

    def write(self) -> float:
        """Write the notes kept; return where there is room below them."""
        free = 0.0
        for top, lines in sorted(self.notes, key=lambda note: note[0]):
            y = max(top, free)
            for index, (words, look) in enumerate(lines):
                self.drawing.text(self.x, y + LINE * index + 14, words, look)
            free = y + LINE * len(lines) + GAP
        return free


def _brackets(
    drawing: Drawing,
    band: Band,
    found: FeatureCheck,
    signals: Sequence[Signal],
    places: Mapping[int, float],
    row: float,
    margin: Margin | None,
) -> list[tuple[str, str]]:
    """Draw a bracket at the side a signal; return the lines to stand below where the side has no room for words."""
    assert found.sizes is not None
    below: list[tuple[str, str]] = []
    beside = Margin(drawing, band.right + 20)
    reached = -1.0
    for number, signal in enumerate(signals, start=1):
        top = places[max(signal.first, min(places))] + 1
        bottom = places[signal.last] + max(row - 1, 5)
        x = band.right + (9 if top < reached else 4)
        reached = max(reached, bottom)
        drawing.path(f"M{x:.1f} {top:.1f}h6V{bottom:.1f}h-6", "whisker")
        words = signal_words(signal, found.name, found.sizes.piece)
        if margin is not None:
            margin.note((top + bottom) / 2, [(line, "w") for line in wrap(words, NOTE_LETTERS)])
            continue
        beside.note((top + bottom) / 2, [(str(number), "nb")])
        lines = wrap(words, int((drawing.width - 26) / ADVANCE["w"]))
        below += [(str(number) if not index else "", line) for index, line in enumerate(lines)]
    beside.write()
    return below


def _ahead(wear: WearLine | None) -> tuple[int, int]:
    """Return how many pieces not made yet are drawn, and how many of them are safe."""
    if wear is None or wear_verdict(wear) != "wear seen" or wear.pieces_left is None:
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


def _note(wear: WearLine | None, index: int, runs: int, numbers: Numbers) -> list[tuple[str, str]]:
    """Return what stands beside a run: which it is and how fast it creeps."""
    last = index == runs - 1
    lines = [("now" if last and runs > 1 else ("as begun" if runs > 1 else "all of them"), "wb")]
    if wear is None or index >= len(wear.runs):
        return lines
    slope = wear.slope if last and wear.seen else wear.runs[index].slope
    if slope is not None:
        half = (slope.high - slope.low) / 2
        fine = numbers.fine(half)
        within = numbers.off(half, signed=False, decimals=fine)
        lines.append((f"{numbers.off(slope.estimate, decimals=fine)} ± {within} a piece", "n"))
    return lines


def _not_made(
    drawing: Drawing,
    band: Band,
    found: FeatureCheck,
    wear: WearLine,
    ahead: tuple[int, int],
    top: float,
    row: float,
    ends: list[float],
    free: float | None,
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
    if free is None:
        return
    margin = Margin(drawing, band.right + 18)
    x = margin.x
    if safe:
        margin.note(max(top + min(sure / 2, 13), free + LINE / 2), [(f"{safe} more, {share} each", "wb")])
    margin.note(max(top + sure + 32, free + LINE), [("after that one may fall", "w"), ("outside", "w")])
    lowest = margin.write()
    if limit is not None and left is not None and left < rows:
        y = top + 6 + (left + 0.5) * row
        if y > lowest:
            drawing.line(band.x(limit) + 8, y, x - 6, y, "lead")
            drawing.text(x, y + 5, f"after {left}: the middle is there", "wb")
