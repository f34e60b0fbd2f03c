"""One pair as a rung: its gap a bead between two limits, its interval a whisker."""

from __future__ import annotations

from dashboard.figures.drawing import Drawing
from dashboard.figures.numbers import Numbers
from tracker.judge import FitCheck, PairRow

COVERAGE = 1.96
HEIGHT = 15.0


def reach_of(fit: FitCheck) -> tuple[float, float]:
    """Return the least and the largest gap that the rungs of a fit must show."""
    ends = [value for value in (fit.gap_lower, fit.gap_upper) if value is not None]
    for row in fit.pairs:
        ends += [row.gap - COVERAGE * row.uncertainty, row.gap + COVERAGE * row.uncertainty]
    low, high = min(ends), max(ends)
    air = (high - low) * 0.06 or 1.0
    return low - air, high + air


def gap_rung(fit: FitCheck, row: PairRow, reach: tuple[float, float], numbers: Numbers, width: float = 132) -> Drawing:
    """Return the rung of one pair; limits are heavy uprights, a missing one is not drawn."""
    half = COVERAGE * row.uncertainty
    said = f"gap {numbers.off(row.gap)} ± {numbers.off(half, signed=False)} {numbers.small}"
    drawing = Drawing(width, HEIGHT, said, "A rung between the limits of the gap; the whisker is 95 %.")

    def x(gap: float) -> float:
        return 3 + (gap - reach[0]) / (reach[1] - reach[0]) * (width - 6)

    middle = HEIGHT / 2
    drawing.line(3, middle, width - 3, middle, "hair")
    for limit in (fit.gap_lower, fit.gap_upper):
        if limit is not None:
            drawing.line(x(limit), 1, x(limit), HEIGHT - 1, "limit")
    if fit.target is not None:
        drawing.line(x(fit.target), middle - 5, x(fit.target), middle + 5, "tick")
    if half > 0:
        drawing.whisker(x(row.gap - half), x(row.gap + half), middle, foot=4)
    out = (fit.gap_lower is not None and row.gap < fit.gap_lower) or (
        fit.gap_upper is not None and row.gap > fit.gap_upper
    )
    drawing.bead(x(row.gap), middle, radius=4.2, form="struck" if out else "half" if row.near else "full")
    return drawing
