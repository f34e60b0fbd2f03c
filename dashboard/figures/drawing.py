"""A drawing: lines, plates and words at exact places, written out as SVG for a page, a file or a sheet."""

from __future__ import annotations

import base64
import re
from dataclasses import dataclass, field
from functools import cache
from html import escape
from pathlib import Path

from dashboard.theme import FIGURE_FONT, TEXT_FONT, colours

RULES = {
    "ground": "fill: {ground}",
    "plate": "fill: {plate}",
    "band": "fill: {scale}",
    "tick": "stroke: {edge}; stroke-width: 1.5",
    "rule": "stroke: {edge}; stroke-width: 1.5; fill: none",
    "hair": "stroke: {line}; stroke-width: 1; fill: none",
    "row": "stroke: {edge}; stroke-width: 1.5; stroke-dasharray: 1 5; stroke-linecap: round",
    "limit": "stroke: {ink}; stroke-width: 4; fill: none",
    "aim": "stroke: {ink}; stroke-width: 1.8; stroke-dasharray: 1 5; stroke-linecap: round",
    "lead": "stroke: {ink}; stroke-width: 1.6; stroke-dasharray: 1 4; stroke-linecap: round",
    "line": "stroke: {ink}; stroke-width: 2.2; fill: none",
    "ahead": "stroke: {ink}; stroke-width: 2.2; stroke-dasharray: 7 5; fill: none",
    "cut": "stroke: {ink}; stroke-width: 2; stroke-dasharray: 10 4 2 4; fill: none",
    "gap": "stroke: {ink}; stroke-width: 6; fill: none",
    "shift": "stroke: {ink}; stroke-width: 5; fill: none",
    "solid": "fill: {ink}",
    "open": "fill: {plate}; stroke: {ink}; stroke-width: 2.2",
    "box": "fill: none; stroke: {ink}; stroke-width: 2.2",
    "dashed": "fill: none; stroke: {edge}; stroke-width: 1.5; stroke-dasharray: 6 5",
    "whisker": "stroke: {ink}; stroke-width: 2.2; fill: none",
    "reading": "stroke: {ink}; stroke-width: 2.4",
    "struck": "stroke: {ink2}; stroke-width: 2; fill: none",
    "bore": "stroke: {bore}; stroke-width: 3.5",
    "shank": "stroke: {shank}; stroke-width: 3.5",
    "length": "stroke: {ink}; stroke-width: 3.5",
    "shankfill": "fill: {shankfill}",
    "lengthfill": "fill: {scale}",
    "boreline": "stroke: {borefill}; stroke-width: 1.6",
    "greyline": "stroke: {edge}; stroke-width: 1; opacity: 0.65",
    "boredot": "fill: {bore}",
    "shankdot": "fill: {shank}",
    "lengthdot": "fill: {ink}",
    "spread": "fill: {scale}",
    "mark": "stroke: {mark}; stroke-width: 2.2; fill: none",
    "w": "fill: {ink}; font-family: '" + TEXT_FONT + "', sans-serif; font-size: 15px",
    "wb": "fill: {ink}; font-family: '" + TEXT_FONT + "', sans-serif; font-size: 15px; font-weight: 700",
    "w2": "fill: {ink2}; font-family: '" + TEXT_FONT + "', sans-serif; font-size: 15px",
    "wm": "fill: {mark}; font-family: '" + TEXT_FONT + "', sans-serif; font-size: 15px; font-weight: 700",
    "n": "fill: {ink}; font-family: '" + FIGURE_FONT + "', monospace; font-size: 14px",
    "nb": "fill: {ink}; font-family: '" + FIGURE_FONT + "', monospace; font-size: 15px; font-weight: 700",
    "n2": "fill: {ink2}; font-family: '" + FIGURE_FONT + "', monospace; font-size: 13px",
}
"""How each kind of mark looks; the names in braces are colours of the theme."""

FONT_FILES = {
    TEXT_FONT: "atkinson-hyperlegible-next-latin-wght-normal.woff2",
    FIGURE_FONT: "atkinson-hyperlegible-mono-latin-wght-normal.woff2",
}
ADVANCE = {"n": 8.9, "nb": 9.5, "n2": 8.3, "w": 7.6, "wb": 8.0, "w2": 7.6, "wm": 8.0}
"""Width of a character in pixels: of the figure font exactly, of the text font at most."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A figure being drawn, in pixels from its upper left corner.

    Attributes
    ----------
    width, height : float
    title : str
        The finding, as a sentence with the number that matters.
    how : str
        How to read it, and the unit.
    """

    width: float
    height: float
    title: str
    how: str
    parts: list[str] = field(default_factory=list)
    hatches: dict[str, str] = field(default_factory=dict)

    def line(self, x1: float, y1: float, x2: float, y2: float, look: str) -> None:
        """Draw a straight line."""
        self.parts.append(f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" class="{look}"/>')

    def rect(self, x: float, y: float, width: float, height: float, look: str, says: str = "") -> None:
        """Draw a rectangle; ``says`` is shown when it is pointed at."""
        box = f'x="{x:.1f}" y="{y:.1f}" width="{max(width, 0):.1f}" height="{max(height, 0):.1f}"'
        self.parts.append(_element("rect", f'{box} class="{look}"', says))

    def hatched(self, x: float, y: float, width: float, height: float, look: str, says: str = "") -> None:
        """Draw a rectangle hatched at 45 degrees with lines of a look."""
        name = self._hatch(look)
        box = f'x="{x:.1f}" y="{y:.1f}" width="{max(width, 0):.1f}" height="{max(height, 0):.1f}"'
        self.parts.append(_element("rect", f'{box} fill="url(#{name})"', says))

    def circle(self, x: float, y: float, radius: float, look: str, says: str = "") -> None:
        """Draw a circle."""
        self.parts.append(_element("circle", f'cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" class="{look}"', says))

    def path(self, points: str, look: str) -> None:
        """Draw a path in the letters of SVG."""
        self.parts.append(f'<path d="{points}" class="{look}"/>')

    def outline(self, points: list[tuple[float, float]], look: str, *, close: bool = False) -> None:
        """Draw straight lines from point to point."""
        self.path("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + ("Z" if close else ""), look)

    def text(self, x: float, y: float, words: str, look: str = "w", at: str = "start") -> None:
        """Write words on a base line; ``at`` is which part of them stands at x: start, middle or end."""
        anchor = "" if at == "start" else f' text-anchor="{at}"'
        self.parts.append(f'<text x="{x:.1f}" y="{y:.1f}" class="{look}"{anchor}>{escape(words)}</text>')

    # -- the grammar of figures

    def limit(self, x: float, top: float, bottom: float) -> None:
        """Draw a limit: the heaviest line, with feet at both ends."""
        self.line(x, top, x, bottom, "limit")
        self.line(x - 6, top, x + 6, top, "limit")
        self.line(x - 6, bottom, x + 6, bottom, "limit")

    def bead(self, x: float, y: float, *, radius: float = 7.5, form: str = "full", says: str = "") -> None:
        """Draw an estimate: ``full`` within, ``half`` near a limit, ``struck`` outside."""
        if form == "full":
            self.circle(x, y, radius, "solid", says)
            return
        self.circle(x, y, radius - 1, "open", says)
        if form == "half":
            self.path(f"M{x:.1f} {y - radius:.1f}A{radius} {radius} 0 0 0 {x:.1f} {y + radius:.1f}Z", "solid")
        else:
            reach = (radius - 1) * 0.72
            self.line(x - reach, y + reach, x + reach, y - reach, "line")

    def whisker(self, low: float, high: float, y: float, *, foot: float = 7) -> None:
        """Draw an interval with its ends."""
        self.line(low, y, high, y, "whisker")
        self.line(low, y - foot, low, y + foot, "whisker")
        self.line(high, y - foot, high, y + foot, "whisker")

    def arrow(self, start: float, end: float, y: float) -> None:
        """Draw a shift: from a bead to where it points."""
        way = 1 if end >= start else -1
        self.circle(start, y, 5, "solid")
        head = min(14, abs(end - start))
        self.line(start, y, end - way * head, y, "shift")
        self.outline([(end, y), (end - way * head, y - 9), (end - way * head, y + 9)], "solid", close=True)

    # -- out

    def _hatch(self, look: str) -> str:
        name = f"hatch-{look}-{_key(self.title + self.how)}-{self.width:.0f}"
        step = 7
        self.hatches[name] = (
            f'<pattern id="{name}" width="{step}" height="{step}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="{step}" class="{look}"/></pattern>'
        )
        return name

    def svg(self, theme: str | None = None) -> str:
        """Return the drawing as SVG.

        Parameters
        ----------
        theme : str, optional
            ``light`` or ``dark`` for a file that stands by itself, colours and fonts in it; without it the drawing
            takes the colours of the page around it.
        """
        body = f"<defs>{''.join(self.hatches.values())}</defs>{''.join(self.parts)}"
        size = f'width="{self.width:.0f}" height="{self.height:.0f}" viewBox="0 0 {self.width:.0f} {self.height:.0f}"'
        head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} class="drawing" role="img"'
        label = escape(f"{self.title}. {self.how}", quote=True)
        if theme is None:
            return f'{head} aria-label="{label}">{body}</svg>'
        ink = colours(theme)
        ground = f'<rect width="100%" height="100%" fill="{ink["plate"]}"/>'
        return (
            f"{head}><title>{escape(self.title)}</title><desc>{escape(self.how)}</desc>"
            f"<style>{faces()}{rules(ink)}</style>{ground}{body}</svg>"
        )

    def _repr_svg_(self) -> str:
        """Let a notebook show the drawing."""
        return self.svg("light")

    @property
    def file_name(self) -> str:
        """The finding as the name of a file, without its ending."""
        return re.sub(r"[^a-z0-9]+", "-", self.title.replace("−", "minus ").lower()).strip("-")[:100] or "figure"


def rules(ink: dict[str, str] | None = None) -> str:
    """Return the looks as CSS: with the colours given, or with the page's variables."""
    from dashboard.theme import COLOURS

    used = ink if ink is not None else {name: f"var(--{name})" for name in COLOURS}
    scope = "" if ink is not None else ".drawing "
    return "".join(f"{scope}.{name} {{ {rule.format(**used)} }}\n" for name, rule in RULES.items())


def width_of(words: str, look: str = "w") -> float:
    """Return how wide words are in pixels, rather too wide than too narrow."""
    return len(words) * ADVANCE[look]


def _element(kind: str, attributes: str, says: str) -> str:
    return f"<{kind} {attributes}><title>{escape(says)}</title></{kind}>" if says else f"<{kind} {attributes}/>"


def _key(text: str) -> str:
    import zlib

    return f"{zlib.crc32(text.encode()):08x}"


@cache
def faces() -> str:
    """Return the letters as data, for a file that stands by itself."""
    folder = Path(__file__).parents[1] / "assets" / "fonts"
    faces = []
    for family, name in FONT_FILES.items():
        data = base64.b64encode((folder / name).read_bytes()).decode()
        faces.append(
            f"@font-face {{ font-family: '{family}'; font-weight: 200 800; src: url(data:font/woff2;base64,{data}) }}\n"
        )
    return "".join(faces)
