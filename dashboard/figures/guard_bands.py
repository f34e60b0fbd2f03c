"""What the gauges leave of the tolerances: the limits, and the hatched room near them where no reading is sure."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.figures.band import brief
from dashboard.figures.drawing import Drawing, width_of
from dashboard.figures.numbers import Numbers
from tracker.decide.words import plural
from tracker.judge import FeatureCheck, GaugeCheck, plain_name

ROW = 128
TALL = 40
MOST_TICKS = 60


def guard_title(rows: Sequence[tuple[GaugeCheck, FeatureCheck]]) -> str:
    """Return what the gauges take of the tolerances."""
    said = [
        (item.share_of_tolerance, plain_name(item.feature)) for item, _ in rows if item.share_of_tolerance is not None
    ]
    if not said:
        return "What the gauges take of the tolerances cannot be said yet"
    worst, name = max(said)
    if worst > 1:
        return f"The doubt of a {name} reading is wider than its tolerance"
    if len(said) == 1:
        return f"The gauge takes {100 * worst:.0f} % of the tolerance of the {plural(name)}"
    least, best = min(said)
    most = f"{100 * worst:.0f} % on {plural(name)}"
    return f"The gauges take {100 * least:.0f} % of the tolerance on {plural(best)} and {most}"


def drawable(item: GaugeCheck, found: FeatureCheck) -> bool:
    """Return whether a feature has both limits and a gauge whose doubt is known."""
    return item.guarded is not None and found.lower is not None and found.upper is not None


def guard_bands(
    rows: Sequence[tuple[GaugeCheck, FeatureCheck]], numbers: Sequence[Numbers], width: float = 900
) -> Drawing:
    """Return each tolerance between its limits, with the room near them that a reading must keep clear of.

    Parameters
    ----------
    rows : sequence of (GaugeCheck, FeatureCheck)
        Those that are `drawable`.
    numbers : sequence of Numbers
        One a row.
    width : float

    Returns
    -------
    Drawing
    """
    drawing = Drawing(
        width,
        ROW * len(rows) - 14,
        guard_title(rows),
        "From limit to limit. What reads in the hatched room may be on either side of the limit (95 %)."
        " Below: a reading with its whisker; one tick is one step of the gauge.",
    )
    for index, ((item, found), write) in enumerate(zip(rows, numbers)):
        _row(drawing, item, found, write, index * ROW, width)
    return drawing


def _row(drawing: Drawing, item: GaugeCheck, found: FeatureCheck, numbers: Numbers, top: float, width: float) -> None:
    guarded = item.guarded
    assert guarded is not None and found.lower is not None and found.upper is not None
    words = numbers.short(found.lower), numbers.short(found.upper)
    left = max(width_of(words[0], "nb") / 2, 40) + 4
    right = width - left
    span = found.upper - found.lower
    scale = (right - left) / span
    band = top + 30
    middle = (left + right) / 2
    room = right - left - width_of("".join(words), "nb") - 16
    names = [f"{plain_name(item.feature)}, {item.gauge or 'no gauge stated'}", plain_name(item.feature)]
    shown = next((name for name in names if width_of(name, "wb") <= room), brief(names[1], int(room / 8)))
    drawing.text(middle, top + 18, shown, "wb", "middle")
    drawing.text(left, top + 18, words[0], "nb", "middle")
    drawing.text(right, top + 18, words[1], "nb", "middle")
    drawing.rect(left, band, right - left, TALL, "ground")
    reach = guarded.expanded_uncertainty * scale
    if guarded.can_accept:
        for start in (left, right - reach):
            drawing.hatched(start, band, reach, TALL, "greyline", "a reading here may be on either side of the limit")
        for edge in (left + reach, right - reach):
            drawing.line(edge, band, edge, band + TALL, "rule")
        low, high = guarded.accept_lower, guarded.accept_upper
        said = f"{numbers.size(low)} to {numbers.size(high)}" if low is not None and high is not None else ""
        if width_of(f"surely within {said}") < right - left - 2 * reach:
            drawing.text(middle, band + 26, f"surely within {said}", "w", "middle")
        elif width_of("surely within") < right - left - 2 * reach:
            drawing.text(middle, band + 26, "surely within", "w", "middle")
    else:
        drawing.hatched(left, band, right - left, TALL, "greyline", "no reading is surely within limits")
        said = (
            f"no reading is surely within, ± {numbers.off(guarded.expanded_uncertainty, signed=False)} {numbers.small}"
        )
        if width_of(said, "wb") + 16 > right - left:
            said = "none surely within"
        wide = width_of(said, "wb") + 8
        drawing.rect(middle - wide / 2, band + 8, wide, 24, "plate")
        drawing.text(middle, band + 26, said, "wb", "middle")
    drawing.limit(left, band - 4, band + TALL + 4)
    drawing.limit(right, band - 4, band + TALL + 4)
    _steps(drawing, found, left, right, scale, band + TALL + 12)
    at, y = guarded.expanded_uncertainty * scale, band + TALL + 30
    if at > middle - 2:
        drawing.line(2, y, width - 2, y, "ahead")
    else:
        drawing.whisker(middle - at, middle + at, y, foot=5)
    drawing.bead(middle, y, radius=5.5)
    said = f"± {numbers.off(guarded.expanded_uncertainty, signed=False)} {numbers.small}"
    if middle + at + 10 + width_of(said, "n") < width:
        drawing.text(middle + at + 10, y + 5, said, "n")


def _steps(drawing: Drawing, found: FeatureCheck, left: float, right: float, scale: float, y: float) -> None:
    assert found.lower is not None and found.upper is not None
    many = round((found.upper - found.lower) / found.step)
    drawing.line(left, y, right, y, "rule")
    if many > MOST_TICKS:
        drawing.text(left, y + 23, f"{many} steps", "w2")
        return
    for index in range(many + 1):
        x = left + index * found.step * scale
        if x <= right + 0.5:
            drawing.line(x, y, x, y + 7, "tick")
