"""The trays of a fit as a table: from which size to which, how many pieces, which gaps."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.figures.numbers import Numbers
from dashboard.parts.panels import panel
from dashboard.parts.tables import Column, table
from tracker.decide.words import count, plural
from tracker.fit import Classes
from tracker.judge import FitCheck, plain_name
from tracker.judge.text import chance_words


def trays_panel(fit: FitCheck, found: Classes, numbers: Numbers) -> html.Section:
    """Return the trays with what goes into each."""
    bore, shank = plain_name(fit.internal), plain_name(fit.external)

    def span(edges: Any, index: int) -> str:
        return f"{numbers.size(float(edges[index]))} to {numbers.size(float(edges[index + 1]))}"

    rows = [
        [
            label,
            span(found.edges_internal, index),
            str(int(found.count_internal[index])),
            span(found.edges_external, index),
            str(int(found.count_external[index])),
            f"{numbers.off(float(found.gap_lowest[index]))} to {numbers.off(float(found.gap_highest[index]))}",
            chance_words(float(found.share[index])),
        ]
        for index, label in enumerate(found.labels)
    ]
    heads = [
        Column("tray", strong=True),
        Column(f"{plural(bore)} from, to, {numbers.unit}", number=True),
        Column("pieces", number=True, wide=True),
        Column(f"{plural(shank)} from, to, {numbers.unit}", number=True),
        Column("pieces", number=True, wide=True),
        Column(f"gap, {numbers.small}", number=True, strong=True, wide=True),
        Column("of pairs good", number=True),
    ]
    return panel(
        f"Sort both sides into {count(len(rows), 'tray')} and press within a tray",
        table(heads, rows, label="trays"),
        how="A piece on an edge belongs to the tray above it. The gap is what the edges alone promise.",
    )
