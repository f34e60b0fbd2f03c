"""The next twenty pieces, as the machine stands and after the shift: each dot is one piece in twenty."""

from __future__ import annotations

from collections import Counter

import numpy as np
from scipy import special

from dashboard.figures.band import HEIGHT, Band, band_over, heads
from dashboard.figures.drawing import Drawing, width_of
from dashboard.figures.numbers import Numbers
from tracker.decide import Shift
from tracker.decide.words import number_word
from tracker.judge import FeatureCheck, plain_name

DOTS = 20
TALLEST = 120
DIAMETERS = (34, 30, 27, 24, 22, 20, 18, 17, 15, 13, 11, 9)


def predicted_sizes(shift: Shift, moved: float = 0.0, dots: int = DOTS) -> np.ndarray:
    """Return the middles of equally likely parts of what the next piece may measure.

    Notes
    -----
    The predictive t distribution: the mean of the run is known to sd / sqrt(n) only, and the sd with ``dof`` degrees
    of freedom. Wear to come is not in it; the shift itself is.
    """
    chances = (np.arange(dots) + 0.5) / dots
    reach = special.ndtri(chances) if shift.dof is None else special.stdtrit(shift.dof, chances)
    middle = shift.target + shift.bias.estimate + moved
    return np.asarray(middle + shift.sd * np.sqrt(1 + 1 / shift.n) * reach)


def outside(sizes: np.ndarray, lower: float | None, upper: float | None) -> tuple[int, int]:
    """Return how many sizes are under the lower and over the upper limit."""
    under = 0 if lower is None else int((sizes < lower).sum())
    over = 0 if upper is None else int((sizes > upper).sum())
    return under, over


def side_words(kind: str, *, mated: bool) -> tuple[str, str]:
    """Return what is wrong with a piece under the lower and over the upper limit."""
    if not mated:
        return "too small", "too large"
    return ("too loose", "too tight") if kind == "external" else ("too tight", "too loose")


def _fails(count: tuple[int, int], words: tuple[str, str]) -> str:
    said = [f"{number_word(number)} {word}" for number, word in zip(count, words) if number]
    return " and ".join(said) or "none"


def next_title(
    shift: Shift, before: tuple[int, int], after: tuple[int, int], words: tuple[str, str], *, open_limits: bool
) -> str:
    """Return what the next twenty show."""
    if open_limits:
        return "No limits are stated, so none of the next twenty can be too large or small"
    first, then = _fails(before, words), _fails(after, words)
    if shift.leave_alone:
        return (
            "Left alone, the next twenty would all hold"
            if first == "none"
            else f"Of the next twenty, {first} as it stands"
        )
    if first == then == "none":
        return "The next twenty would hold as it stands; after the shift they sit about the aim"
    return f"Of the next twenty, {first} as it stands; after the shift, {then}"


def next_twenty(
    found: FeatureCheck,
    shift: Shift,
    lower: float | None,
    upper: float | None,
    numbers: Numbers,
    width: float = 900,
    *,
    mated: bool = True,
) -> Drawing:
    """Return the next twenty pieces before and after a shift.

    Parameters
    ----------
    found : FeatureCheck
        The part that is cut.
    shift : Shift
    lower, upper : float or None
        Limits of size that the coming pieces are held against.
    numbers : Numbers
    width : float
    mated : bool
        Whether the limits are those that measured mates leave, else the part's own.

    Returns
    -------
    Drawing
    """
    before = predicted_sizes(shift)
    after = before + shift.change
    words = side_words(found.kind, mated=mated)
    name = plain_name(found.name)
    base = numbers.base(found.nominal)
    ends = [value for value in (lower, upper) if value is not None]
    wanted = shift.target
    band = band_over([*before, *after, *ends, wanted], 2, width - 2, base, numbers, air=0.09)
    dot = _dot(band, before, after, lower, width)
    piles = [_piled(band, sizes, lower, dot) for sizes in (before, after)]
    least = 96 if width <= 500 else 220 if shift.leave_alone else 132
    rooms = [max(max(Counter(column for column, _, _ in pile).values()) * dot + 34, least) for pile in piles]
    rows = [(piles[0], rooms[0], "as the machine stands" if width > 500 else "as it stands", before)]
    if not shift.leave_alone:
        rows.append((piles[1], rooms[1], "after the shift" if width > 500 else "after", after))
    gap = 78
    top = 46.0
    height = top + sum(room + HEIGHT for _, room, _, _ in rows) + (gap if len(rows) == 2 else 0) + 4
    drawing = Drawing(
        width,
        height,
        next_title(shift, outside(before, lower, upper), outside(after, lower, upper), words, open_limits=not ends),
        f"One dot is one {name} in twenty, predicted; struck dots "
        + ("do not hold in a middle mate. " if mated else "are outside the limits. ")
        + f"{numbers.from_base(base).capitalize()}.",
    )
    lower_word, upper_word = (f"{words[0].removeprefix('too ')} below", f"{words[1].removeprefix('too ')} above")
    heads(drawing, band, 16, [(lower, lower_word), (wanted, "aim"), (upper, upper_word)])
    y = top
    floors = []
    for pile, room, label, sizes in rows:
        floor = y + room
        _field(drawing, band, lower, upper, y, floor)
        drawing.line(band.x(wanted), y + 2, band.x(wanted), floor, "aim")
        _label(drawing, band, label, (lower, upper), y + 20, sizes)
        _dots(drawing, pile, (lower, upper), floor, dot, found.kind)
        for limit in ends:
            drawing.limit(band.x(limit), y, floor - 1)
        band.draw(drawing, floor, marks="above")
        floors.append(floor)
        y = floor + HEIGHT + gap
    if len(rows) == 2:
        _arrow(drawing, band, shift, numbers, floors[0] + HEIGHT)
    return drawing


def _dot(band: Band, before: np.ndarray, after: np.ndarray, lower: float | None, width: float) -> float:
    """Return the diameter of a dot in pixels: as large as leaves no pile too tall."""
    dot = DIAMETERS[-1]
    for dot in DIAMETERS:
        if dot > (30 if width > 500 else 17):
            continue
        highest = max(
            max(Counter(column for column, _, _ in _piled(band, sizes, lower, dot)).values())
            for sizes in (before, after)
        )
        if highest * dot <= TALLEST:
            return float(dot)
    return float(dot)


def _piled(band: Band, sizes: np.ndarray, lower: float | None, dot: float) -> list[tuple[int, float, float]]:
    """Return (pile, x, size) of each dot; piles begin at the lower limit, so that none straddles it."""
    start = band.x(lower) if lower is not None else band.x(float(sizes.mean())) - dot / 2
    found = []
    for size in sizes:
        column = int(np.floor((band.x(float(size)) - start) / dot))
        found.append((column, start + (column + 0.5) * dot, float(size)))
    return found


def _dots(
    drawing: Drawing,
    pile: list[tuple[int, float, float]],
    limits: tuple[float | None, float | None],
    floor: float,
    dot: float,
    kind: str,
) -> None:
    lower, upper = limits
    heights: Counter[int] = Counter()
    look = {"internal": "boredot", "external": "shankdot"}.get(kind, "lengthdot")
    for column, x, size in pile:
        y = floor - dot * (heights[column] + 0.5) - 1
        heights[column] += 1
        if (lower is not None and size < lower) or (upper is not None and size > upper):
            drawing.bead(x, y, radius=dot / 2 - 0.5, form="struck")
        else:
            drawing.circle(x, y, dot / 2 - 1, look)


def _field(drawing: Drawing, band: Band, lower: float | None, upper: float | None, top: float, floor: float) -> None:
    left = band.left if lower is None else band.x(lower)
    right = band.right if upper is None else band.x(upper)
    if lower is not None or upper is not None:
        drawing.rect(left, top, right - left, floor - top, "ground")


def _label(
    drawing: Drawing,
    band: Band,
    label: str,
    limits: tuple[float | None, float | None],
    y: float,
    sizes: np.ndarray,
) -> None:
    """Write what the row shows: between the limits where there are fewer dots, outside where that is narrow."""
    low, high = (None if limit is None else band.x(limit) for limit in limits)
    left, right = low if low is not None else band.left, high if high is not None else band.right
    reach = width_of(label, "wb") + 24
    middle = band.x(float(sizes.mean()))
    if max(middle - left, right - middle) > reach:
        at_left = middle - left > right - middle
    else:
        left, right = (band.left, left) if left - band.left > band.right - right else (right, band.right)
        at_left = True
    drawing.text(left + 12 if at_left else right - 12, y, label, "wb", "start" if at_left else "end")


def _arrow(drawing: Drawing, band: Band, shift: Shift, numbers: Numbers, top: float) -> None:
    """Draw the shift from mean to new mean, the number before it, and how sure the wanted shift is under it."""
    start = shift.target + shift.bias.estimate
    y = top + 28
    first, last = band.x(start), band.x(start + shift.change)
    drawing.line(first, top + 4, first, y - 6, "lead")
    drawing.arrow(first, last, y)
    words = f"shift {numbers.off(shift.change)}"
    reach = width_of(words, "wb")
    behind = first - 14 if shift.change > 0 else first + 14
    if reach + 2 < behind < drawing.width - reach - 2 or (shift.change > 0 and behind > reach):
        drawing.text(behind, y + 5, words, "wb", "end" if shift.change > 0 else "start")
    else:
        drawing.text(
            last + (14 if shift.change > 0 else -14), y + 5, words, "wb", "start" if shift.change > 0 else "end"
        )
    low, high = (band.x(start + value) for value in (shift.shift.low, shift.shift.high))
    low, high = max(low, band.left), min(high, band.right)
    drawing.whisker(low, high, y + 27, foot=6)
    drawing.bead(min(max(band.x(start + shift.shift.estimate), band.left), band.right), y + 27, radius=5)
    said = f"wanted {numbers.off(shift.shift.low)} to {numbers.off(shift.shift.high)}"
    wide = width_of(said, "n2")
    if high + 12 + wide < drawing.width:
        drawing.text(high + 12, y + 32, said, "n2")
    elif low - 12 - wide > 0:
        drawing.text(low - 12, y + 32, said, "n2", "end")
