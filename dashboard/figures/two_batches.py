"""Both batches of a fit on one scale, the plate hanging from above, the plugs standing below, the gap between."""

from __future__ import annotations

import numpy as np

from dashboard.figures.band import HEIGHT, Band, band_over, brief, limit_words
from dashboard.figures.drawing import Drawing, width_of
from dashboard.figures.numbers import Numbers
from tracker.decide.words import plural
from tracker.judge import FeatureCheck, FitCheck, plain_name

NUMBERED_FROM = 13.0
LANE, MORE = 84, 16
MOST_DRAWN = 300


def row_height(pieces: int) -> float:
    """Return the height of one piece's row: its number is written from 13 pixels on."""
    return min(19.0, max(3.0, 300 / max(pieces, 1)))


def batches_title(fit: FitCheck, inner: FeatureCheck, outer: FeatureCheck, numbers: Numbers) -> str:
    """Return what the two batches show together."""
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    held_up = [f"{plain_name(side.name)}s" for side in (inner, outer) if side.one_sided]
    if held_up:
        return f"Some {' and '.join(held_up)} are known from one side only"
    if inner.sizes is None or outer.sizes is None:
        return f"Only the {plural(shank if inner.sizes is None else bore)} are measured"
    gap = numbers.about(float(inner.sizes.size.mean() - outer.sizes.size.mean()))
    one = len(inner.sizes) == len(outer.sizes) == 1
    if outer.sizes.size.min() > inner.sizes.size.max():
        return (
            f"The {shank} is larger than the {bore}, by {gap}"
            if one
            else (f"Every {shank} is larger than every {bore}, by {gap} on average")
        )
    if outer.sizes.size.max() < inner.sizes.size.min():
        return (
            f"The {shank} is smaller than the {bore}, by {gap}"
            if one
            else (f"Every {shank} is smaller than every {bore}, by {gap} on average")
        )
    way = "more" if inner.sizes.size.mean() > outer.sizes.size.mean() else "less"
    return f"The batches overlap: {plural(bore)} measure {gap} {way} than {plural(shank)} on average"


def two_batches(
    fit: FitCheck, inner: FeatureCheck, outer: FeatureCheck, numbers: Numbers, width: float = 900
) -> Drawing:
    """Return both batches on one scale.

    Parameters
    ----------
    fit : FitCheck
    inner, outer : FeatureCheck
        The internal and the external side; one of them may have no sizes yet.
    numbers : Numbers
        Of the unit the results are in.
    width : float
        In pixels.

    Returns
    -------
    Drawing
    """
    found = [side for side in (inner, outer) if side.sizes is not None]
    known = [float(value) for side in found for value in (side.sizes.size.min(), side.sizes.size.max())]
    limits = [value for side in (inner, outer) for value in (side.lower, side.upper) if value is not None]
    base = numbers.base(inner.nominal)
    spans = [*known, *limits, inner.nominal]
    band = band_over([*spans, *_wanted_ends(fit, inner, spans)], 2, width - 2, base, numbers)
    counts = [0 if side.sizes is None else min(len(side.sizes), MOST_DRAWN) for side in (inner, outer)]
    heights = [max(count, 1) * row_height(count) + 12 for count in counts]
    top = 28.0
    lane = top + heights[0] + 8
    beside = _wanted_beside(band, fit, (inner, outer), width)
    more = 0 if beside else MORE
    scale = lane + LANE + more
    under = scale + HEIGHT
    drawing = Drawing(
        width,
        under + heights[1] + 30,
        batches_title(fit, inner, outer, numbers),
        f"{numbers.from_base(base).capitalize()}. Each edge is a piece"
        + (", its number stands in the open." if max(row_height(count) for count in counts) >= NUMBERED_FROM else ".")
        + (f" Of more than {MOST_DRAWN} pieces a side, so many are drawn." if max(counts) == MOST_DRAWN else ""),
    )
    _plate(drawing, band, inner, top)
    band.draw(drawing, scale)
    _plugs(drawing, band, outer, under)
    for side, high, low in ((inner, top - 4, top + heights[0]), (outer, under + 6, under + heights[1] + 8)):
        for value in (side.lower, side.upper):
            if value is not None:
                drawing.limit(band.x(value), high, low)
    limit_words(drawing, band, 15, [(inner.lower, plain_name(inner.name)), (inner.upper, "")])
    limit_words(drawing, band, drawing.height - 5, [(outer.lower, plain_name(outer.name)), (outer.upper, "")])
    if inner.sizes is not None and outer.sizes is not None:
        _gap(drawing, band, inner, outer, numbers, (lane, scale - 26 - more, top + heights[0], under))
        _wanted(drawing, band, fit, float(inner.sizes.size.mean()), numbers, scale)
    return drawing


def _drawn(sizes: np.ndarray) -> np.ndarray:
    """Return the pieces to draw, in order of size: all of them, or so many spread evenly over the order."""
    order = np.argsort(sizes, kind="stable")
    if len(order) <= MOST_DRAWN:
        return order
    return order[np.linspace(0, len(order) - 1, MOST_DRAWN).round().astype(int)]


def _wanted_ends(fit: FitCheck, inner: FeatureCheck, spans: list[float]) -> list[float]:
    """Return the sizes that the gap limits leave a plug in the mean bore, where they are not far off the rest."""
    if inner.sizes is None:
        return []
    bore, reach = float(inner.sizes.size.mean()), max(spans) - min(spans)
    ends = [bore - gap for gap in (fit.gap_lower, fit.gap_upper) if gap is not None]
    return [end for end in ends if min(spans) - reach / 2 <= end <= max(spans) + reach / 2]


def _no_sizes(side: FeatureCheck) -> str:
    name = plain_name(side.name)
    return f"{name}s known from one side only have no size" if side.one_sided else f"no {name} measured yet"


def _plate(drawing: Drawing, band: Band, side: FeatureCheck, top: float) -> None:
    """Draw the internal pieces, largest first: hatched to the right of each edge, where the material begins."""
    if side.sizes is None:
        drawing.text(band.left + 8, top + 20, _no_sizes(side), "w2")
        return
    height = row_height(min(len(side.sizes), MOST_DRAWN))
    for row, index in enumerate(_drawn(-side.sizes.size)):
        size, name = float(side.sizes.size[index]), side.sizes.piece[index]
        x, y = band.x(size), top + 6 + row * height
        drawing.hatched(
            x, y, band.right - x, height - (1 if height > 6 else 0), "boreline", _says(side, name, size, band)
        )
        drawing.line(x, y, x, y + height - (1 if height > 6 else 0), "bore")
        if height >= NUMBERED_FROM:
            _number(drawing, x - 7, y + height / 2 + 5, name, "end")


def _plugs(drawing: Drawing, band: Band, side: FeatureCheck, top: float) -> None:
    """Draw the external pieces, smallest first: solid to the left of each edge, where the material ends."""
    if side.sizes is None:
        drawing.text(band.left + 8, top + 28, _no_sizes(side), "w2")
        return
    height = row_height(min(len(side.sizes), MOST_DRAWN))
    for row, index in enumerate(_drawn(side.sizes.size)):
        size, name = float(side.sizes.size[index]), side.sizes.piece[index]
        x, y = band.x(size), top + 8 + row * height
        drawing.rect(
            band.left, y, x - band.left, height - (1 if height > 6 else 0), "shankfill", _says(side, name, size, band)
        )
        drawing.line(x, y, x, y + height - (1 if height > 6 else 0), "shank")
        if height >= NUMBERED_FROM:
            _number(drawing, x + 7, y + height / 2 + 5, name, "start")


def _number(drawing: Drawing, x: float, y: float, name: str, at: str) -> None:
    short = brief(name)
    reach = width_of(short, "n")
    if at == "end" and x - reach < 0:
        return
    if at == "start" and x + reach > drawing.width:
        return
    drawing.text(x, y, short, "n", at)


def _says(side: FeatureCheck, name: str, size: float, band: Band) -> str:
    numbers = band.numbers
    off = f"{numbers.off(size, band.base)} {numbers.small}"
    return f"{plain_name(side.name)} {name}: {numbers.size(size)} {numbers.unit}, {off}"


def _gap(
    drawing: Drawing,
    band: Band,
    inner: FeatureCheck,
    outer: FeatureCheck,
    numbers: Numbers,
    at: tuple[float, float, float, float],
) -> None:
    assert inner.sizes is not None
    assert outer.sizes is not None
    lane, scale, plate, plugs = at
    bore, shank = float(inner.sizes.size.mean()), float(outer.sizes.size.mean())
    first, last, y = band.x(bore), band.x(shank), scale - 14
    drawing.line(first, plate, first, y - 8, "lead")
    drawing.line(last, y + 8, last, plugs - HEIGHT, "lead")
    drawing.line(first, y, last, y, "gap")
    for x in (first, last):
        drawing.line(x, y - 8, x, y + 8, "whisker")
    words = f"mean gap {numbers.off(bore - shank)}"
    half = width_of(words, "wb") / 2
    middle = min(max((first + last) / 2, half + 2), drawing.width - half - 2)
    drawing.text(middle, y - 13, words, "wb", "middle")
    solid, hatched = f"solid: {plain_name(outer.name)}", f"hatched: {plain_name(inner.name)}"
    if middle - half > width_of(solid) + 16:
        drawing.text(band.left + 4, lane + 26, solid, "w2")
    if drawing.width - middle - half > width_of(hatched) + 16:
        drawing.text(band.right - 4, lane + 26, hatched, "w2", "end")


def _wanted(drawing: Drawing, band: Band, fit: FitCheck, bore: float, numbers: Numbers, scale: float) -> None:
    """Draw where a plug may end in the mean bore: from the loosest to the tightest gap allowed."""
    ends = [None if gap is None else bore - gap for gap in (fit.gap_upper, fit.gap_lower)]
    left, right = _wanted_bar(band, fit, bore)
    if right - left < 4:
        return
    y = scale - 13
    words = _wanted_words(fit, numbers)
    reach = width_of(words)
    if drawing.width - right > reach + 12:
        drawing.text(right + 10, y + 5, words, "w2")
    elif left > reach + 12:
        drawing.text(left - 10, y + 5, words, "w2", "end")
    else:  # over the bar, on a ground of its own: the leads of the gap run down there
        middle = min(max((left + right) / 2, reach / 2 + 4), drawing.width - reach / 2 - 4)
        drawing.rect(middle - reach / 2 - 3, y - 24, reach + 6, 17, "plate")
        drawing.text(middle, y - 11, words, "w2", "middle")
    drawing.line(left, y, right, y, "rule")
    for end in ends:
        if end is not None and band.inside(end):
            drawing.line(band.x(end), y - 7, band.x(end), y + 7, "whisker")


def _wanted_bar(band: Band, fit: FitCheck, bore: float) -> tuple[float, float]:
    """Return where the bar of the gaps wanted begins and ends, in pixels, cut off at the ends of the scale."""
    left = band.left if fit.gap_upper is None else band.x(bore - fit.gap_upper)
    right = band.right if fit.gap_lower is None else band.x(bore - fit.gap_lower)
    return max(left, band.left), min(right, band.right)


def _wanted_beside(band: Band, fit: FitCheck, sides: tuple[FeatureCheck, FeatureCheck], width: float) -> bool:
    """Return whether the words of the gaps wanted find room at an end of their bar, or there is no bar."""
    if sides[0].sizes is None or sides[1].sizes is None:
        return True
    left, right = _wanted_bar(band, fit, float(sides[0].sizes.size.mean()))
    return right - left < 4 or max(width - right, left) > width_of(_wanted_words(fit, band.numbers)) + 12


def _wanted_words(fit: FitCheck, numbers: Numbers) -> str:
    gaps = [numbers.off(gap) for gap in (fit.gap_lower, fit.gap_upper) if gap is not None]
    if len(gaps) == 2:
        return f"wanted {' to '.join(gaps)}"
    return f"wanted at least {gaps[0]}" if fit.gap_upper is None else f"wanted at most {gaps[0]}"
