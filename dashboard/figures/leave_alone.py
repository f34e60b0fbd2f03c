"""The shift wanted of each part, against the band in which touching the machine only adds to the spread."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from dashboard.figures.band import Band
from dashboard.figures.drawing import ADVANCE, Drawing
from dashboard.figures.numbers import Numbers
from tracker.decide import Shift
from tracker.decide.words import listed, plural

ROW, LINE = 66, 18


def alone_title(rows: Sequence[tuple[str, Shift]]) -> str:
    """Return which parts are to be shifted and which are to be left alone."""
    alone = [f"{plural(name)}" for name, shift in rows if shift.leave_alone]
    moved = [f"{plural(name)}" for name, shift in rows if not shift.leave_alone]
    if not moved:
        return f"Leave the {listed(alone)} alone"
    if not alone:
        return f"The {listed(moved)} are clear of noise"
    return f"The {listed(moved)} are clear of noise; leave the {listed(alone)} alone"


def leave_alone(rows: Sequence[tuple[str, Shift]], numbers: Numbers, width: float = 368) -> Drawing:
    """Return the shifts wanted, one row a part: a bead with its interval, over the hatched band of noise.

    Parameters
    ----------
    rows : sequence of (name, Shift)
    numbers : Numbers
    width : float

    Returns
    -------
    Drawing
    """
    reach = max(
        max(abs(value) for value in (shift.shift.low, shift.shift.high, shift.noise, 2 * numbers.one))
        for _, shift in rows
        if shift.shift is not None
    )
    band = Band(-reach * 1.1, reach * 1.1, 2, width - 2, 0.0, numbers)
    letters = max(int((width - 4) / ADVANCE["wb"]), 8)
    names = [wrap(f"{name}s", letters) for name, _ in rows]
    drawing = Drawing(
        width,
        24 + ROW * len(rows) + LINE * sum(len(lines) - 1 for lines in names) + 38,
        alone_title(rows),
        f"Shift wanted, {numbers.small}. Within the hatched band touching it costs more than it gains.",
    )
    drawing.text(band.x(0), 14, "leave it alone", "w", "middle")
    below = 0.0
    for index, (name, shift) in enumerate(rows):
        for number, line in enumerate(names[index]):
            drawing.text(band.left, 34 + index * ROW + below + LINE * number, line, "wb")
        below += LINE * (len(names[index]) - 1)
        top = 42 + index * ROW + below
        left, right = band.x(-shift.noise), band.x(shift.noise)
        drawing.hatched(left, top, right - left, ROW - 26, "greyline")
        for x in (left, right):
            drawing.line(x, top, x, top + ROW - 26, "rule")
        y = top + (ROW - 26) / 2
        drawing.line(band.left, y, band.right, y, "row")
        low, high = max(band.x(shift.shift.low), band.left), min(band.x(shift.shift.high), band.right)
        drawing.whisker(low, high, y, foot=6)
        drawing.bead(band.x(shift.shift.estimate), y, radius=6.5, says=f"{name}: {numbers.off(shift.shift.estimate)}")
    band.draw(drawing, drawing.height - 32, marks="above", sizes=False)
    return drawing
