"""What pages are laid out with: the answer, panels, pictures, choosers, states with nothing to show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from dash import html

from dashboard.figures.drawing import Drawing
from dashboard.figures.numbers import typeset
from dashboard.parts.address import Address
from dashboard.parts.badge import badge
from dashboard.parts.sentences import sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What a page says: its question, its answer in one sentence, and what stands below.

    Attributes
    ----------
    question, answer : str
    reasons : sequence of str
        Why; the first in full ink. Each is written as a sentence, whatever room of the tracker it comes from.
    word : str
        The verdict of the badge; "" for none. ``said`` is written in its place.
    choosers : sequence
        Links to the same page for another fit or feature.
    body : sequence
        Panels.
    job : str
        Name of the job, "" on pages of no job.
    """

    question: str
    answer: str
    reasons: Sequence[str] = ()
    word: str = ""
    said: str = ""
    choosers: Sequence[Any] = ()
    body: Sequence[Any] = field(default_factory=tuple)
    job: str = ""
    foot: str = ""


def answer_block(page: Page) -> html.Header:
    """Return the badge, the question, the answer and its reasons."""
    words = [
        html.P(page.question, className="question"),
        *([html.H1(typeset(page.answer))] if page.answer else []),
        *[html.P(typeset(sentence(reason)), className="reason") for reason in page.reasons if reason],
    ]
    return html.Header(
        [*([badge(page.word, said=page.said)] if page.word else []), html.Div(words, className="answer-words")],
        className="answer",
    )


def panel(title: str, *content: Any, how: str = "", label: str = "") -> html.Section:
    """Return a panel under a heading that states the finding."""
    head = [html.H2(typeset(title))] + ([html.P(typeset(how), className="how")] if how else [])
    return html.Section([*head, *content], className="panel", **({"aria-label": label} if label else {}))


def picture(name: str, address: Address, drawn: Drawing) -> html.Section:
    """Return a panel with a picture: its finding, how to read it, the drawing, and its two files.

    Parameters
    ----------
    name : str
        Of the picture, as `dashboard.parts.pictures` knows it.
    address : Address
        With job, and fit or feature.
    drawn : Drawing
        At any width; its title, its reading line and its height are used.
    """
    source = f"/pictures/{name}.svg{address.query}"
    file = f"{source}&file=light"
    tools = html.Div(
        [
            html.A("SVG", href=file, download=f"{drawn.file_name}.svg", **{"aria-label": "save this picture as SVG"}),
            html.A(
                "PNG", href=file, **{"data-png": f"{drawn.file_name}.png", "aria-label": "save this picture as PNG"}
            ),
        ],
        className="tools",
    )
    room = html.Div(className="picture", **{"data-picture": source, "data-name": name})
    head = [html.H2(typeset(drawn.title)), html.P(typeset(drawn.how), className="how")]
    return html.Section([*head, room, tools], className="panel")


def columns(left: Sequence[Any], right: Sequence[Any]) -> html.Div:
    """Return two columns: what was found, and what to do."""
    return html.Div(
        [html.Div(list(left), className="column"), html.Div(list(right), className="column")], className="columns"
    )


def chooser(label: str, options: Sequence[tuple[str, Address]], chosen: str) -> html.Nav | None:
    """Return links to the same page for another fit or feature; None where there is nothing to choose."""
    if len(options) < 2:
        return None
    links = [_link(words, address, words == chosen) for words, address in options]
    return html.Nav([html.Span(label, className="quiet"), *links], className="chooser", **{"aria-label": label})


def _link(words: str, address: Address, chosen: bool) -> html.A:
    return html.A(words, href=address.href, **({"aria-current": "true"} if chosen else {}))


def empty(title: str, *words: str, links: Sequence[tuple[str, str]] = ()) -> html.Section:
    """Return a panel that says what is missing and what to do next."""
    buttons = [
        html.A(text, href=href, className="button strong" if not index else "button")
        for index, (text, href) in enumerate(links)
    ]
    return html.Section(
        [
            html.H2(title),
            *[html.P(typeset(sentence(text))) for text in words],
            *([html.Div(buttons, className="buttons")] if buttons else []),
        ],
        className="panel empty",
    )


def facts(rows: Sequence[tuple[str, Any]]) -> html.Dl:
    """Return names and values, one a line."""
    return html.Dl([part for name, value in rows for part in (html.Dt(name), html.Dd(value))], className="facts")
