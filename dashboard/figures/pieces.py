"""One batch: every piece with its readings against the limits, then where they lie together and the next one would."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from dashboard.figures.band import HEIGHT, Band, band_over, brief, heads
from dashboard.figures.drawing import Drawing, width_of
from dashboard.figures.numbers import Numbers
from tracker.decide.words import count, number_word
from tracker.judge import FeatureCheck, plain_name
from tracker.spread import Prediction

MOST_ROWS = 80
MOST_DOTS = 400
LANE = 40


def pieces_title(found: FeatureCheck, numbers: Numbers) -> str:
    """Return how the pieces lie against limits and aim."""
    assert found.sizes is not None
    size = found.sizes.size
    many = count(len(size), "piece").capitalize()
    under = [] if found.lower is None else [value for value in size if value < found.lower]
    over = [] if found.upper is None else [value for value in size if value > found.upper]
    bias = float(size.mean()) - found.target
    average = " on average" if len(size) > 1 else ""
    side = f"{numbers.about(bias)} {'over' if bias > 0 else 'under'} the aim{average}"
    if abs(bias) < numbers.one / 20:
        side = f"on the aim{average}"
    if found.lower is None and found.upper is None:
        return f"{many} measured, {side}"
    out = [f"{number_word(len(group))} {word}" for group, word in ((under, "too small"), (over, "too large")) if group]
    return f"{many}: {' and '.join(out) or ('within limits' if len(size) == 1 else 'all within limits')}, {side}"


def pieces(
    found: FeatureCheck,
    readings: Mapping[str, Sequence[float]],
    numbers: Numbers,
    width: float = 900,
    *,
    ahead: Prediction | None = None,
) -> Drawing:
    """Return a batch, piece by piece and together.

    Parameters
    ----------
    found : FeatureCheck
        With sizes.
    readings : mapping of piece to its readings
    numbers : Numbers
    width : float
    ahead : Prediction, optional
        Where the next piece would lie.

    Returns
    -------
    Drawing
    """
    assert found.sizes is not None
    sizes = found.sizes
    base = numbers.base(found.nominal)
    ends = [value for value in (found.lower, found.upper) if value is not None]
    spans = [] if ahead is None else [ahead.low, ahead.high]
    every = [value for group in readings.values() for value in group] if len(sizes) <= MOST_ROWS else []
    names = width_of("0" * min(max(len(name) for name in sizes.piece), 9), "n") + 12
    band = band_over([*map(float, sizes.size), *every, *ends, *spans, found.target], names, width - 2, base, numbers)
    shown = list(range(len(sizes))) if len(sizes) <= MOST_ROWS else []
    row = min(24.0, max(7.0, 460 / max(len(shown), 1)))
    top = 48.0
    scale = top + row * len(shown) + (12 if shown else 0)
    each = -(-len(sizes) // MOST_DOTS)
    pile, dot = _pile(band, np.sort(sizes.size)[each // 2 :: each])
    below = scale + HEIGHT
    lanes = LANE * ((found.summary is not None) + (ahead is not None))
    drawing = Drawing(
        width,
        below + max(Counter(column for column, _ in pile).values()) * dot + 16 + lanes,
        pieces_title(found, numbers),
        f"{numbers.from_base(base).capitalize()}. "
        + (
            "A row is a piece, in order of making; strokes are its readings, the edge is the size they make. "
            if shown
            else ""
        )
        + f"Below, one dot is {count(each, 'piece')}.",
    )
    limits_bottom = drawing.height - 6
    if ends:
        left = band.left if found.lower is None else band.x(found.lower)
        right = band.right if found.upper is None else band.x(found.upper)
        drawing.rect(left, top - 2, right - left, scale - top + 2, "ground")
        drawing.rect(left, below, right - left, limits_bottom - below, "ground")
    heads(drawing, band, 16, [(found.lower, "lower"), (found.target, "aim"), (found.upper, "upper")])
    for index in shown:
        _row(drawing, band, found, index, readings.get(sizes.piece[index], ()), top + index * row, row)
    band.draw(drawing, scale)
    for segment in ((top - 4, scale), (below, limits_bottom)):
        drawing.line(band.x(found.target), segment[0], band.x(found.target), segment[1], "aim")
        for value in ends:
            drawing.limit(band.x(value), *segment)
    look = {"internal": "boredot", "external": "shankdot"}.get(found.kind, "lengthdot")
    heights: Counter[int] = Counter()
    for column, x in pile:
        drawing.circle(x, below + 4 + dot * (heights[column] + 0.5), dot / 2 - 0.8, look)
        heights[column] += 1
    _lanes(drawing, band, found, ahead, drawing.height - lanes, numbers)
    return drawing


def _row(
    drawing: Drawing, band: Band, found: FeatureCheck, index: int, values: Sequence[float], top: float, row: float
) -> None:
    assert found.sizes is not None
    size, name = float(found.sizes.size[index]), found.sizes.piece[index]
    low, high = float(found.sizes.low[index]), float(found.sizes.high[index])
    x, tall = band.x(size), row - (4 if row > 12 else 1)
    says = f"{plain_name(found.name)} {name}: {band.numbers.size(size)} {band.numbers.unit}"
    if row >= 13 or index % 5 == 0:
        drawing.text(band.left - 8, top + tall / 2 + 5, brief(name), "n", "end")
    if high > low and found.sizes.go_no_go:
        _bounds(drawing, band, low, high, top + tall / 2)
        return
    if found.kind == "internal":
        drawing.hatched(x, top, band.right - x, tall, "boreline", says)
        drawing.line(x, top, x, top + tall, "bore")
    elif found.kind == "external":
        drawing.rect(band.left, top, x - band.left, tall, "shankfill", says)
        drawing.line(x, top, x, top + tall, "shank")
    else:
        drawing.rect(band.left, top, x - band.left, tall, "lengthfill", says)
        drawing.line(x, top, x, top + tall, "length")
    if row < 13:
        return
    third = tall / max(len(values), 3)
    for order, value in enumerate(values):
        at = top + order * third
        drawing.line(band.x(value), at + 0.5, band.x(value), at + third - 0.5, "reading")


def _bounds(drawing: Drawing, band: Band, low: float, high: float, y: float) -> None:
    """Draw a goes / does not go result: a bar between what is known, open where nothing is."""
    left, right = max(low, band.low), min(high, band.high)
    drawing.line(band.x(left), y, band.x(right), y, "whisker")
    for end, known in ((left, np.isfinite(low)), (right, np.isfinite(high))):
        if known:
            drawing.line(band.x(end), y - 6, band.x(end), y + 6, "whisker")


def _pile(band: Band, sizes: np.ndarray) -> tuple[list[tuple[int, float]], float]:
    """Return (pile, x) of each dot, and the diameter that leaves no pile over nine where that can be."""
    dot = 16.0
    found: list[tuple[int, float]] = []
    for dot in (16.0, 14.0, 12.0, 10.0, 8.0, 6.0, 4.0):
        columns = [int(np.floor((band.x(float(size)) - band.left) / dot)) for size in sizes]
        found = [(column, band.left + (column + 0.5) * dot) for column in columns]
        if max(Counter(columns).values()) <= 9:
            break
    return found, dot


def _lanes(
    drawing: Drawing, band: Band, found: FeatureCheck, ahead: Prediction | None, top: float, numbers: Numbers
) -> None:
    rows = []
    if found.summary is not None:
        mean = found.summary.mean
        rows.append((mean.low, mean.high, mean.estimate, "mean"))
    if ahead is not None:
        rows.append((ahead.low, ahead.high, None, "the next piece, 19 in 20"))
    for index, (low, high, middle, word) in enumerate(rows):
        y = top + 22 + index * LANE
        known = np.isfinite(low) and np.isfinite(high)
        left, right = max(band.x(low), band.left), min(band.x(high), band.right)
        if known:
            drawing.whisker(left, right, y)
        elif middle is not None:
            left = right = band.x(middle)
        if middle is not None:
            drawing.bead(band.x(middle), y)
            word = f"mean {numbers.off(middle, band.base)}"
            if known:
                word += f" ± {numbers.off((high - low) / 2, signed=False)}"
        reach = width_of(word)
        lines = [band.x(value) for value in (found.lower, found.upper) if value is not None]
        beside = [(right + 12, right + 12 + reach, "start"), (left - 12 - reach, left - 12, "end")]
        free = [
            (start if at == "start" else end, at)
            for start, end, at in beside
            if start > 0 and end < drawing.width and not any(start - 6 < line < end + 6 for line in lines)
        ]
        if free:
            drawing.text(free[0][0], y + 5, word, "w", free[0][1])
        else:
            middle = min(max((left + right) / 2, reach / 2 + 2), drawing.width - reach / 2 - 2)
            if len(lines) == 2 and lines[1] - lines[0] > reach + 12:
                middle = min(max(middle, lines[0] + reach / 2 + 6), lines[1] - reach / 2 - 6)
            drawing.rect(middle - reach / 2, y - 24, reach, 18, "ground" if lines else "plate")
            drawing.text(middle, y - 10, word, "w", "middle")
