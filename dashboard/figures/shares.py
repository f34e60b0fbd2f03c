"""What the spread of a batch is made of: pieces that differ, form within a piece, and the gauge."""

from __future__ import annotations

from dashboard.figures.drawing import Drawing, width_of
from dashboard.figures.numbers import Numbers
from tracker.judge import FeatureCheck, plain_name
from tracker.result import Interval

ROW = 62


def parts_of(found: FeatureCheck) -> list[tuple[str, Interval]]:
    """Return the components as (what, standard deviation with its interval)."""
    parts = found.components
    assert parts is not None
    rows = [("between pieces", parts.between_sd)]
    if parts.form_sd is not None:
        rows.append(("form within a piece", parts.form_sd))
    if parts.repeatability_sd is not None:
        rows.append(("the gauge", parts.repeatability_sd))
    elif parts.form_sd is None:
        rows.append(("within a piece", parts.within_sd))
    return rows


def shares_title(found: FeatureCheck) -> str:
    """Return which component is the largest, with its share of the variance."""
    rows = parts_of(found)
    total = sum(interval.estimate**2 for _, interval in rows)
    if total == 0:
        return "The readings do not differ at all"
    word, largest = max(rows, key=lambda row: row[1].estimate)
    share = round(100 * largest.estimate**2 / total)
    said = {
        "between pieces": "Pieces that differ",
        "form within a piece": "Form within a piece",
        "the gauge": "The gauge",
        "within a piece": "What happens within a piece",
    }[word]
    return f"{said} {'make' if word == 'between pieces' else 'makes'} {share} % of the variance"


def shares(found: FeatureCheck, numbers: Numbers, width: float = 368) -> Drawing:
    """Return the components as bars from zero with their 95 % intervals; standard deviations in the small unit."""
    rows = parts_of(found)
    longest = max(min(interval.high, 4 * max(interval.estimate, numbers.one / 10)) for _, interval in rows)
    figure = width_of("00.00", "nb") + 8
    pixels = (width - figure - 6) / longest
    drawing = Drawing(
        width,
        ROW * len(rows) + 8,
        shares_title(found),
        f"Standard deviations of {plain_name(found.name)} readings, {numbers.small}; the whisker is 95 %.",
    )
    for index, (word, interval) in enumerate(rows):
        y = index * ROW + 34
        drawing.text(0, y - 14, word, "w")
        drawing.rect(0, y - 5, interval.estimate * pixels, 16, "band")
        drawing.line(0, y - 8, 0, y + 14, "rule")
        low, high = interval.low * pixels, min(interval.high * pixels, width - figure - 4)
        drawing.whisker(low, high, y + 3, foot=6)
        drawing.bead(interval.estimate * pixels, y + 3, radius=6)
        drawing.text(width - 1, y + 8, numbers.off(interval.estimate, signed=False, decimals=2), "nb", "end")
    return drawing
