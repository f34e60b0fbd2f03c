"""Tables: sizes with light leading digits beside their deviation, and rungs between two rails."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dash import html

from dashboard.figures.numbers import Numbers, shared_digits


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its head, and whether it holds numbers, is left out on a phone or a tablet, or never breaks."""

    head: Any
    number: bool = False
    wide: bool = False
    strong: bool = False
    tight: bool = False
    roomy: bool = False

    @property
    def looks(self) -> str:
        """Its class names."""
        return " ".join(
            name
            for name, on in (
                ("number", self.number),
                ("wide", self.wide),
                ("strong", self.strong),
                ("tight", self.tight),
                ("roomy", self.roomy),
            )
            if on
        )


def table(
    columns: Sequence[Column], rows: Sequence[Sequence[Any]], *, label: str, looks: Sequence[str] = ()
) -> html.Div:
    """Return a table; a cell may be text, a component, or a finished ``Td``.

    Parameters
    ----------
    columns : sequence of Column
    rows : sequence of sequences
        One cell a column.
    label : str
        What the table holds, for who hears it.
    looks : sequence of str
        A class name a row, where wanted.
    """
    heads = [
        column.head if isinstance(column.head, html.Th) else html.Th(column.head, className=column.looks, scope="col")
        for column in columns
    ]
    body = []
    for index, row in enumerate(rows):
        ends = [*(["first"] if index == 0 else []), *(["last"] if index == len(rows) - 1 else [])]
        cells = [
            cell if isinstance(cell, html.Td) else html.Td(cell, className=column.looks)
            for column, cell in zip(columns, row)
        ]
        body.append(html.Tr(cells, className=" ".join([*ends, *(looks[index : index + 1])])))
    grid = html.Table([html.Thead(html.Tr(heads)), html.Tbody(body)], **{"aria-label": label})
    return html.Div(grid, className="table-room", tabIndex="0", role="region", **{"aria-label": label})


def sizes_cells(values: Sequence[float], numbers: Numbers) -> list[html.Span]:
    """Return sizes written out, the digits that all share light."""
    texts = [numbers.size(value) for value in values]
    shared = shared_digits(texts)
    return [split_size(text, shared) for text in texts]


def split_size(text: str, shared: int) -> html.Span:
    """Return a size with its first digits light and the rest heavy."""
    return html.Span([html.Span(text[:shared], className="lead"), html.Span(text[shared:], className="tail")])


def give(value: str, half: str) -> html.Span:
    """Return a number with its give: ``1.5 ± 0.6``."""
    return html.Span([html.Span(value, className="tail"), html.Span(f" ± {half}", className="give")])


@dataclass(frozen=True, slots=True, kw_only=True)
class Rails:
    """Two limits as rails, in the unit of the gaps; one may be open.

    ``low`` and ``high`` are what the ends of the rung's room stand for; ``sway`` is half the 95 % interval of what all
    gaps share in doubt: it moves them together, so it is drawn once, as a band about the rails.
    """

    lower: float | None
    upper: float | None
    aim: float | None
    low: float
    high: float
    sway: float = 0.0

    def at(self, gap: float) -> float:
        """Return where a gap stands, in percent of the room, held inside it."""
        return min(max(100 * (gap - self.low) / (self.high - self.low), 0.0), 100.0)


def rails_for(
    lower: float | None,
    upper: float | None,
    aim: float | None,
    gaps: Sequence[tuple[float, float]],
    *,
    sway: float = 0.0,
) -> Rails:
    """Return rails with room for all gaps and their reach: (gap, half width) each, and for the sway of the rails."""
    ends = [value + way * sway for value in (lower, upper) if value is not None for way in (-1, 1)]
    ends += [gap - half for gap, half in gaps] + [gap + half for gap, half in gaps]
    low, high = min(ends), max(ends)
    air = (high - low) * 0.06 or abs(high) * 0.01 or 1.0
    if lower is not None and upper is not None:
        air = max(air, (upper - lower) * 0.12)
    return Rails(lower=lower, upper=upper, aim=aim, low=low - air, high=high + air, sway=sway)


def rung_head(rails: Rails, numbers: Numbers) -> html.Th:
    """Return the head over the rungs: the limits and the aim, each over its place."""
    named = [("tightest", rails.lower), ("loosest", rails.upper)]
    if rails.aim is not None and all(
        value is None or abs(rails.at(value) - rails.at(rails.aim)) > 22 for _, value in named
    ):
        named.insert(1, ("aim", rails.aim))
    parts = [
        html.Span([word, html.B(numbers.off(value))], style={"left": f"{rails.at(value):.2f}%"})
        for word, value in named
        if value is not None
    ]
    return html.Th(parts, className="rung-head", scope="col")


def rung(rails: Rails, gap: float, half: float, form: str, says: str) -> html.Td:
    """Return one pair as a rung: its gap a bead between the rails, its 95 % interval a whisker.

    Parameters
    ----------
    rails : Rails
    gap, half : float
        The gap and half its interval.
    form : str
        ``full`` within, ``half`` near a limit, ``struck`` outside.
    says : str
        The same in words.
    """
    ends = [rails.at(value) for value in (rails.lower, rails.upper) if value is not None]
    left = ends[0] if rails.lower is not None else 0.0
    right = ends[-1] if rails.upper is not None else 100.0
    low, high = rails.at(gap - half), rails.at(gap + half)

    def piece(name: str, start: float, end: float | None = None) -> html.Span:
        style = {"left": f"{start:.2f}%"} | ({} if end is None else {"width": f"{end - start:.2f}%"})
        return html.Span(className=name, style=style)

    parts = [
        piece("between", left, right),
        *[
            piece("sway", rails.at(value - rails.sway), rails.at(value + rails.sway))
            for value in (rails.lower, rails.upper)
            if value is not None and rails.sway > 0
        ],
        piece("bar", left, right),
        *([] if rails.aim is None else [piece("aim", rails.at(rails.aim))]),
        *[piece("rail", end) for end in ends],
        *([piece("reach", low, high)] if half > 0 else []),
        piece(f"bead {form}", rails.at(gap)),
    ]
    return html.Td(html.Div([*parts, html.Span(says, className="unseen")], className="rung-room"), className="rung")
