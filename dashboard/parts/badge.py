"""The badge beside an answer: a glyph and a word; its form says what kind of answer it is without any colour."""

from __future__ import annotations

from typing import Any

from dash import html

GO = ("press as they come", "pair", "leave it alone", "keep going")
WORK = ("sort", "rework", "shift")
STOP = ("remake", "measure better", "change the tool", "cannot say")


def form_of(word: str) -> str:
    """Return ``go``, ``work`` (something to do first) or ``stop``."""
    return "go" if word in GO else "work" if word in WORK else "stop"


def glyph(name: str) -> html.Span:
    """Return a drawn sign in the colour of the words around it."""
    return html.Span(
        className="glyph", style={"maskImage": f"url(/assets/glyphs/{name}.svg)"}, **{"aria-hidden": "true"}
    )


def badge(word: str, *, small: bool = False, said: str = "") -> html.Div:
    """Return the badge of a verdict; ``said`` is written in place of the word, such as change the insert."""
    looks = f"badge {form_of(word)}" + (" small" if small else "")
    parts: list[Any] = [glyph(word.replace(" ", "-")), html.Span(said or word)]
    return html.Div(parts, className=looks)
