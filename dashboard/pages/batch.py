"""How a batch lies: pieces with their readings, spread and bias, capability with intervals, components."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from dashboard.figures.numbers import MINUS, Numbers, typeset
from dashboard.figures.pieces import pieces
from dashboard.figures.shares import shares
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.panels import Page, chooser, columns, empty, panel, picture
from dashboard.parts.pictures import MOST_LISTED, ahead_of, values_of
from dashboard.parts.sentences import batch_answer, sentence
from dashboard.parts.tables import Column, Rails, give, sizes_cells, table
from tracker.decide.words import count, plural
from tracker.judge import FeatureCheck, Scale, plain_name
from tracker.judge.capability_words import beyond_words, shared_words
from tracker.result import Interval
from tracker.units import format_number


def page(answer: Answer, address: Address) -> Page:
    """Return the page of one batch."""
    found = answer.feature(address.feature)
    if found is None:
        return Page(
            question="How does the batch lie?",
            answer="Cannot say: this job has no feature.",
            word="cannot say",
            job=answer.check.job,
        )
    name, numbers = plain_name(found.name), answer.numbers(found.name)
    options = [(plain_name(item.name), address.to(feature=item.name)) for item in answer.check.features]
    base = Page(
        question=f"How do the {plural(name)} lie?",
        answer=batch_answer(found, numbers),
        choosers=[chooser("part", options, name)],
        job=answer.check.job,
    )
    if found.sizes is None:
        why = found.reasons.get("sizes", f"no {name} has a reading")
        link = address.to(page="log", feature=found.name).href
        head, what = f"No {name} is measured yet", f"log the first {name}"
        if found.one_sided:
            head, what = "Readings are missing", "log the readings that are missing"
        body: list[Any] = [empty(head, sentence(why), links=[(what, link)])]
        return _with(base, body, [])
    values = values_of(answer, found.name)
    here = address.to(feature=found.name)
    parts = _parts(found, here, numbers)
    left = [picture("pieces", here, pieces(found, values, numbers, ahead=ahead_of(found))), *([parts] if parts else [])]
    right = [part for part in (_capability(found, Scale(answer.unit, found.step)), _cannot(found)) if part is not None]
    return _with(base, [columns(left, right), _table(found, values, numbers)], _reasons(found, numbers))


def _with(page: Page, body: Sequence[Any], reasons: Sequence[str]) -> Page:
    import dataclasses

    return dataclasses.replace(page, body=body, reasons=reasons)


def _between(interval: Interval, numbers: Numbers, *, signed: bool) -> str:
    ends = [
        f"{word} {numbers.off(end, signed=signed)}"
        for word, end in (("at least", interval.low), ("at most", interval.high))
        if math.isfinite(end)
    ]
    if len(ends) == 2:
        low, high = numbers.off(interval.low, signed=signed), numbers.off(interval.high, signed=signed)
        return f"between {low} and {high}"
    return ends[0] if ends else "how far off that may be does not show"


def _reasons(found: FeatureCheck, numbers: Numbers) -> list[str]:
    assert found.sizes is not None
    summary = found.summary
    rule = f"Size by {found.sizes.rule.replace('_', ' ')} of {count(int(found.sizes.readings.sum()), 'reading')}"
    if found.sizes.remark:
        rule += f"; {found.sizes.remark}"
    if summary is None:
        return [sentence(found.reasons.get("summary", "")), f"{rule}."]
    words = []
    if summary.bias is not None:
        words.append(
            f"Off target by {numbers.off(summary.bias.estimate)} {numbers.small}"
            f" ({_between(summary.bias, numbers, signed=True)})"
        )
    words.append(
        f"spread {numbers.off(summary.sd.estimate, signed=False)} ({_between(summary.sd, numbers, signed=False)})"
    )
    if found.bounds is not None:
        mean, sd = found.bounds.mean, found.bounds.sd
        rule += (
            f". From the bounds themselves: mean {numbers.size(mean.estimate)} {numbers.unit}, spread"
            f" {numbers.off(sd.estimate, signed=False)} ({_between(sd, numbers, signed=False)})"
        )
    return [f"{'; '.join(words)}, 95 %. {sentence(summary.remark)}".strip(), f"{rule}."]


def _capability(found: FeatureCheck, scale: Scale) -> html.Section | None:
    good = found.capability
    if good is None:
        return None
    named = [("Ppk", good.ppk), ("Pp", good.pp), ("Cpk", good.cpk), ("Cp", good.cp), ("Cpm", good.cpm)]
    rows = [(word, value) for word, value in named if value is not None]
    high = max(2.0, *(min(value.high, 3.5) for _, value in rows))
    low = min(0.0, *(max(value.low, -1.0) for _, value in rows))
    rails = Rails(lower=good.asked, upper=None, aim=None, low=low, high=high)
    body = [[word, _two(value.estimate), _index(rails, value, good.asked)] for word, value in rows]
    shown = good.ppk.low >= good.asked
    if shown:
        title = f"Ppk is at least {_two(good.ppk.low)}: {good.asked:.2f} is shown"
    elif good.ppk.high < good.asked:
        title = f"Ppk is at most {_two(good.ppk.high)}: {good.asked:.2f} is not reached"
    else:
        ends = f"{_two(good.ppk.low)} or {_two(good.ppk.high)}"
        title = f"Ppk may be {ends}: {good.n} pieces do not show {good.asked:.2f}"
    lines = [sentence(beyond_words(found))]
    if good.remark:  # how many pieces would show it stands in it
        lines.append(sentence(good.remark))
    if shared := shared_words(found, scale):
        lines.append(sentence(shared))
    heads = [Column("", strong=True), Column("found", number=True, strong=True), Column(_index_head(rails, good.asked))]
    return panel(
        title,
        table(heads, body, label="capability"),
        html.Ul([html.Li(typeset(line)) for line in lines], className="notes"),
        how=f"The whisker is 95 %, the rail is {good.asked:.2f}.",
    )


def _two(value: float) -> str:
    """Return a capability with two decimals; what rounds to nothing has no sign."""
    return format_number(value, 2, minus=MINUS)


def _index_head(rails: Rails, asked: float) -> html.Th:
    words = [(0.0, "0"), (asked, f"{asked:.2f}"), (2.0, "2")]
    parts = [
        html.Span(html.B(word), style={"left": f"{rails.at(value):.2f}%"})
        for value, word in words
        if rails.low <= value <= rails.high
    ]
    return html.Th(parts, className="rung-head narrow", scope="col", **{"aria-label": "interval"})


def _index(rails: Rails, value: Interval, asked: float) -> html.Td:
    low, high, middle = rails.at(value.low), rails.at(value.high), rails.at(value.estimate)
    form = "full" if value.low >= asked else "struck" if value.high < asked else "half"
    says = f"between {_two(value.low)} and {_two(value.high)}"
    parts = [
        html.Span(className="bar", style={"left": "0%", "width": "100%"}),
        html.Span(className="rail", style={"left": f"{rails.at(asked):.2f}%"}),
        html.Span(className="reach", style={"left": f"{low:.2f}%", "width": f"{high - low:.2f}%"}),
        html.Span(className=f"bead {form}", style={"left": f"{middle:.2f}%"}),
        html.Span(says, className="unseen"),
    ]
    return html.Td(html.Div(parts, className="rung-room"), className="rung narrow")


def _parts(found: FeatureCheck, here: Address, numbers: Numbers) -> html.Section | None:
    return None if found.components is None else picture("shares", here, shares(found, numbers))


def _cannot(found: FeatureCheck) -> html.Section | None:
    told = {"summary", "capability", "components", "normality", "bounds"}
    items = [html.Li([html.B(f"{what}: "), typeset(why)]) for what, why in found.reasons.items() if what in told]
    told_there = found.capability is not None and "normal" in found.capability.remark
    remarks = [] if found.normality is None or told_there else [html.Li([typeset(sentence(found.normality.remark))])]
    if not items and not remarks:
        return None
    return panel(
        "What cannot be said yet" if items else "What the shape says", html.Ul([*items, *remarks], className="notes")
    )


def _typed(found: FeatureCheck, index: int, own: Sequence[str], base: float, numbers: Numbers) -> str:
    """Return the readings of a piece in a cell: deviations, or the bounds that pins left."""
    assert found.sizes is not None
    if own or not found.sizes.go_no_go:
        return " ".join(own[:8]) + (" …" if len(own) > 8 else "")
    low, high = float(found.sizes.low[index]), float(found.sizes.high[index])
    if math.isinf(low) or math.isinf(high):
        return f"under {numbers.off(high, base)}" if math.isinf(low) else f"over {numbers.off(low, base)}"
    return f"{numbers.off(low, base)} to {numbers.off(high, base)}"


def _table(found: FeatureCheck, values: Mapping[str, Sequence[float]], numbers: Numbers) -> html.Section:
    assert found.sizes is not None
    sizes, base = found.sizes, numbers.base(found.nominal)
    many = min(len(sizes), MOST_LISTED)
    cells = sizes_cells([float(value) for value in sizes.size[:many]], numbers)
    rows = []
    for index in range(many):
        piece, size = sizes.piece[index], float(sizes.size[index])
        half = 1.96 * float(sizes.uncertainty[index])
        own = [numbers.off(value, base) for value in values.get(piece, ())]
        out = (found.lower is not None and size < found.lower) or (found.upper is not None and size > found.upper)
        side = "too small" if out and found.lower is not None and size < found.lower else "too large" if out else ""
        rows.append(
            [
                piece,
                cells[index],
                give(numbers.off(size, base), numbers.off(half, signed=False)),
                numbers.off(size - found.target),
                _typed(found, index, own, base, numbers),
                numbers.off(float(sizes.within_range[index]), signed=False) if int(sizes.readings[index]) > 1 else "",
                html.Span(side, className="flag") if side else "",
            ]
        )
    heads = [
        Column(plain_name(found.name), strong=True),
        Column(f"size, {numbers.unit}", number=True),
        Column(numbers.small, number=True, strong=True),
        Column("off the aim", number=True, wide=True),
        Column(f"readings, {numbers.small}", number=True, wide=True),
        Column("range", number=True, wide=True),
        Column(""),
    ]
    more = "" if many == len(sizes) else f" The first {many} of {len(sizes)} pieces."
    return panel(
        "Piece by piece",
        table(heads, rows, label=f"{plural(plain_name(found.name))}"),
        how=f"{numbers.from_base(base).capitalize()}; ± is 95 % for the piece alone.{more}",
    )
