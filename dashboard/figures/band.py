"""The graduated scale that every figure is held against: size from left to right, small to large."""

from __future__ import annotations

import math
from dataclasses import dataclass

from dashboard.figures.drawing import Drawing, width_of
from dashboard.figures.numbers import Numbers
from tracker.units import format_number

HEIGHT = 50
AIR = 20


@dataclass(frozen=True, slots=True)
class Band:
    """Where a size stands in a drawing.

    Attributes
    ----------
    low, high : float
        Sizes at the left and the right end.
    left, right : float
        Where these ends are, in pixels.
    base : float
        The size that deviations are told from.
    numbers : Numbers
    """

    low: float
    high: float
    left: float
    right: float
    base: float
    numbers: Numbers

    def x(self, size: float) -> float:
        """Return where a size stands, in pixels."""
        return self.left + (size - self.low) / (self.high - self.low) * (self.right - self.left)

    @property
    def pixels(self) -> float:
        """Pixels for one of the small unit."""
        return (self.right - self.left) / (self.high - self.low) * self.numbers.one

    def inside(self, size: float) -> bool:
        """Whether a size is on the scale."""
        return self.low <= size <= self.high

    def label_step(self) -> float:
        """Return how many of the small unit lie between two labels, so that labels do not touch."""
        furthest = max(abs(self.low - self.base), abs(self.high - self.base)) / self.numbers.one
        for power in range(-1, 9):
            for part in (1, 2, 5):
                step = float(part * 10**power) if power >= 0 else part / 10
                longest = format_number(furthest, 0 if step >= 1 else 1, signed=True)
                if step * self.pixels >= width_of(longest, "nb") + AIR:
                    return step
        return 1e9

    def draw(self, drawing: Drawing, top: float, *, marks: str = "both", sizes: bool = True) -> None:
        """Draw the scale with its ticks and labels.

        Parameters
        ----------
        drawing : Drawing
        top : float
            Its upper edge, in pixels.
        marks : str
            On which edges the ticks stand: ``above``, ``below`` or ``both``.
        sizes : bool
            Whether the full sizes are written below the deviations.
        """
        height = HEIGHT if sizes else 30
        drawing.rect(self.left, top, self.right - self.left, height, "band")
        edges = {"above": (1,), "below": (-1,), "both": (1, -1)}[marks]
        for way in edges:
            edge = top if way == 1 else top + height
            drawing.line(self.left, edge, self.right, edge, "tick")
        step = self.label_step()
        decimals = 0 if step >= 1 else 1
        parts = 2 if round(step / 10 ** math.floor(math.log10(step))) == 1 or step == 2 else 5
        first = math.ceil((self.low - self.base) / self.numbers.one / step * parts - 1e-9)
        last = math.floor((self.high - self.base) / self.numbers.one / step * parts + 1e-9)
        every = max(1, math.ceil((width_of(self.numbers.short(self.high), "n2") + 14) / (step * self.pixels)))
        for index in range(first, last + 1):
            off = index * step / parts
            x = self.x(self.base + off * self.numbers.one)
            whole = index % parts == 0
            for way in edges:
                edge = top if way == 1 else top + height
                drawing.line(x, edge, x, edge + way * (9 if whole else 5), "tick")
            words = format_number(off, decimals, signed=True, minus="−")
            half = width_of(words, "nb") / 2
            if whole and self.left + half - 3 <= x <= self.right - half + 3:
                drawing.text(x, top + (25 if sizes else 23), words, "nb", "middle")
                size = self.numbers.short(self.base + off * self.numbers.one)
                reach = width_of(size, "n2") / 2
                on = self.left + reach <= x <= self.right - reach
                if sizes and on and (index // parts) % every == 0:
                    drawing.text(x, top + 40, size, "n2", "middle")


def band_over(
    sizes: list[float], left: float, right: float, base: float, numbers: Numbers, *, air: float = 0.07
) -> Band:
    """Return a scale that holds all sizes with some air at both ends."""
    low, high = min(sizes), max(sizes)
    least = 4 * numbers.one
    if high - low < least:
        middle = (high + low) / 2
        low, high = middle - least / 2, middle + least / 2
    room = (high - low) * air
    return Band(low - room, high + room, left, right, base, numbers)


def brief(name: str, most: int = 9) -> str:
    """Return the name of a piece for a figure: its end where it is long, for there the number stands."""
    return name if len(name) <= most else f"…{name[1 - most :]}"


def limit_words(
    drawing: Drawing, band: Band, y: float, limits: list[tuple[float | None, str]], *, aim: float | None = None
) -> None:
    """Write limits beside their feet on one base line, moved apart where they would touch, never off the drawing."""
    wanted = []
    for size, word in limits:
        if size is None:
            continue
        room = int(drawing.width * 0.5 / width_of("x", "wb")) - 8
        words = f"{word if len(word) <= room else word[: room - 1] + '…'} {band.numbers.short(size)}".strip()
        wanted.append([band.x(size), words, width_of(words, "wb")])
    if aim is not None:
        words = f"aim {band.numbers.short(aim)}"
        wanted.append([band.x(aim), words, width_of(words, "w")])
    wanted.sort()
    spread_out(wanted, drawing.width, air=8)
    for x, words, _ in wanted:
        drawing.text(x, y, words, "w" if words.startswith("aim") else "wb", "middle")


def heads(drawing: Drawing, band: Band, y: float, named: list[tuple[float | None, str]], *, bold: bool = True) -> None:
    """Write a word and, under it, the size it stands for, over the places of these sizes, without touching."""
    items = []
    for size, word in named:
        if size is None:
            continue
        text = band.numbers.short(size)
        items.append([band.x(size), word, text, max(width_of(word, "w"), width_of(text, "nb"))])
    items.sort()
    spread_out(items, drawing.width)
    for x, word, text, _ in items:
        drawing.text(x, y, word, "w", "middle")
        drawing.text(x, y + 18, text, "nb" if bold else "n", "middle")


def spread_out(items: list[list], width: float, *, air: float = 10) -> None:  # type: ignore[type-arg]
    """Move labels, each [x, ..., its width], apart and into the drawing; they come sorted by x."""
    for index, item in enumerate(items):
        half = item[-1] / 2
        item[0] = min(max(item[0], half + 1), width - half - 1)
        if index:
            before = items[index - 1]
            item[0] = max(item[0], before[0] + before[-1] / 2 + half + air)
    for index in range(len(items) - 1, -1, -1):
        half = items[index][-1] / 2
        if index == len(items) - 1:
            most = width - half - 1
        else:
            after = items[index + 1]
            most = after[0] - after[-1] / 2 - half - air
        items[index][0] = min(items[index][0], most)
