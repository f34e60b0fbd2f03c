"""Is the tool wearing: the tape of pieces as they were made, cut at events, and how many are left."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.figures.numbers import Numbers, typeset
from dashboard.figures.tape import MOST_SIGNALS, fresh_event, tape
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.panels import Page, chooser, columns, empty, panel, picture
from dashboard.parts.pictures import signals_of, watched_of
from dashboard.parts.sentences import sentence, wear_answer
from dashboard.parts.steady import steady_words
from dashboard.parts.tables import Column, sizes_cells, table
from dashboard.parts.touched import touched_button
from tracker.decide.words import count, plural
from tracker.decide.words import share as share_words
from tracker.drift import HANDBOOK_SIGNALS, Signal
from tracker.errors import NotEnoughData
from tracker.judge import FeatureCheck, plain_name, wear_verdict
from tracker.judge.text import wear_words
from tracker.judge.words import Scale, signal_words

SOON = 10


def page(answer: Answer, address: Address) -> Page:
    """Return the page of one feature's wear."""
    found = answer.feature(address.feature)
    if found is None:
        return Page(
            question="Is the tool wearing?",
            answer="Cannot say: this job has no feature.",
            word="cannot say",
            job=answer.check.job,
        )
    feature = answer.job.features[found.name]
    numbers, name, tool = answer.numbers(found.name), plain_name(found.name), feature.machine.tool
    options = [(plain_name(item.name), address.to(feature=item.name)) for item in answer.check.features]
    here = address.to(feature=found.name)
    body: list[Any] = []
    if found.sizes is not None:
        left = _anew(found, tool) if fresh_event(found) else _left(found, numbers, tool)
        right = [part for part in (left, _touched(answer, found, tool), _stands_out(found)) if part is not None]
        body.append(columns([picture("tape", here, tape(found, numbers, tool=tool, signals=signals_of(found)))], right))
    if found.wear is not None:
        body.append(_runs(found, numbers))
        reasons = [sentence(wear_words(found, Scale(answer.unit, found.step))), _also(found)]
    else:
        why = found.reasons.get("wear") or found.reasons.get("sizes") or f"no {name} is measured"
        reasons = [sentence(why)]
        if found.sizes is None:
            body.append(
                empty(
                    "Readings are missing" if found.one_sided else f"No {name} is measured",
                    "Log the pieces in the order they come off the machine.",
                    links=[("log readings", address.to(page="log", feature=found.name).href)],
                )
            )
    word, fresh = _word(found), fresh_event(found)
    said = {"change the tool": f"change the {tool}", "measure better": "measure more"}
    return Page(
        question=f"Is the {tool} wearing?",
        answer=f"Nothing is measured since the {fresh}." if fresh else wear_answer(found, feature),
        reasons=reasons,
        word=word,
        said=said.get(word, ""),
        choosers=[chooser("part", options, name)],
        body=body,
        job=answer.check.job,
    )


def _also(found: FeatureCheck) -> str:
    """Return what stands out beside wear, "" where nothing does."""
    signals = signals_of(found)
    if not signals or found.sizes is None:
        return ""
    more = f", and {count(len(signals) - 1, 'more signal')}" if len(signals) > 1 else ""
    return f"Look at {signal_words(signals[0], found.name, found.sizes.piece)}{more}."


def _word(found: FeatureCheck) -> str:
    wear = found.wear
    if fresh_event(found):
        return "keep going"
    if wear is None or (wear.departure is not None and wear.departure.after is not None):
        return "cannot say"
    verdict = wear_verdict(wear)
    if verdict == "perhaps wear":
        return "measure better"
    if verdict == "wear seen" and wear.pieces_left_safe is not None and wear.pieces_left_safe <= SOON:
        return "change the tool"
    return "keep going"


def _anew(found: FeatureCheck, tool: str) -> html.Section:
    name = plain_name(found.name)
    words = f"What the tape shows was made before it. From the next {name} on the {tool} is judged anew."
    return panel(f"Measure the next {plural(name)}", html.P(words))


def _touched(answer: Answer, found: FeatureCheck, tool: str) -> html.Section:
    """Return the buttons that cut the tape."""
    first = ("dressing", "wheel dressed now") if tool == "wheel" else ("tool_change", f"{tool} changed now")
    buttons = [
        touched_button(answer, found, first[0], first[1], strong=True),
        touched_button(answer, found, "offset_change", "offset changed now"),
        touched_button(answer, found, "setup", "set up anew"),
    ]
    return panel(
        "Somebody touched the machine",
        html.Div(buttons, className="buttons tall"),
        how="Log it here, and the tape is cut after the last piece.",
    )


def _left(found: FeatureCheck, numbers: Numbers, tool: str) -> html.Section | None:
    wear, name = found.wear, plain_name(found.name)
    if wear is None:
        return None
    if not wear.seen and wear.departure is None:
        hidden = numbers.off(wear.hidden, signed=False, decimals=numbers.fine(wear.hidden))
        return panel(
            f"Nothing says the {tool} is near its end",
            html.P(
                typeset(
                    f"A creep of up to {hidden} {numbers.small} a piece"
                    f" could hide in {count(wear.n, 'piece')} with this spread."
                )
            ),
        )
    if wear_verdict(wear) == "perhaps wear":
        chance = share_words(wear.p_value)
        return panel(
            f"Too early to count the {name}s left on this {tool}",
            html.P(typeset(f"Without any wear, a slope like this comes in {chance} of batches.")),
        )
    share = f"{wear.confidence:.0%}".replace("%", " %")
    lines: list[Any] = []
    if wear.pieces_left_safe is not None:
        lines.append(
            html.Div(
                [
                    html.Span(str(wear.pieces_left_safe), className="big"),
                    html.Span(f"are safe to make, {share} or more for each"),
                ],
                className="big-line",
            )
        )
    limit = found.lower if wear.slope.estimate < 0 else found.upper
    if wear.pieces_left is not None and limit is not None:
        lines.append(
            html.Div(
                [
                    html.Span(str(wear.pieces_left), className="next"),
                    html.Span(f"until the middle of the {plural(name)} is at {numbers.short(limit)}"),
                ],
                className="big-line second",
            )
        )
    if wear.reason:
        lines.append(html.P(typeset(wear.reason), className="how"))
    return panel(f"{plural(name).capitalize()} left on this {tool}", *lines)


def _stands_out(found: FeatureCheck) -> html.Section | None:
    name = plain_name(found.name)

    def split(signal: Signal) -> tuple[str, str]:
        assert found.sizes is not None
        where, _, what = signal_words(signal, found.name, found.sizes.piece).rpartition(": ")
        return where, what

    try:
        watched = watched_of(found)
    except NotEnoughData as error:
        return panel("Signals cannot be looked for yet", html.P(typeset(sentence(str(error))), className="how"))
    how = (
        f"Looked for in the distances of {plural(name)} from {watched.about}, in order of making:"
        f" {'; '.join(HANDBOOK_SIGNALS)}. None reaches across an event."
    )
    signals = watched.signals
    if not signals:
        return panel("Nothing stands out", how=how)
    items = [html.Li([html.B(where), ": ", typeset(what)]) for where, what in map(split, signals[:MOST_SIGNALS])]
    return panel(
        f"{count(len(signals), 'signal').capitalize()} to look at",
        html.Ul(items, className="notes"),
        how=f"{how} {steady_words(found, watched)}",
    )


def _runs(found: FeatureCheck, numbers: Numbers) -> html.Section:
    wear = found.wear
    assert wear is not None
    assert found.sizes is not None
    names, base = found.sizes.piece, numbers.base(found.nominal)
    lasts = sizes_cells([run.last_on_line for run in wear.runs], numbers)

    def span(first: float, last: float) -> str:
        ends = [names[min(max(int(value), 1), len(names)) - 1] for value in (first, last)]
        return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"

    widths = [run.slope.high - run.slope.low for run in wear.runs if run.slope is not None]
    fine = max((numbers.fine(width / 2) for width in widths), default=2)
    rows = []
    for run, last in zip(wear.runs, lasts):
        slope, jump = run.slope, run.jump
        rows.append(
            [
                span(run.first, run.last),
                run.event or "the start",
                "" if jump is None else numbers.off(jump.estimate),
                run.reason or "too few" if slope is None else numbers.off(slope.estimate, decimals=fine),
                ""
                if slope is None
                else f"{numbers.off(slope.low, decimals=fine)} to {numbers.off(slope.high, decimals=fine)}",
                "too few" if run.sd is None else numbers.off(run.sd, signed=False, decimals=2),
                last,
                numbers.off(run.last_on_line, base),
            ]
        )
    heads = [
        Column(f"{plural(plain_name(found.name))}", tight=True),
        Column("begins with"),
        Column(f"jump, {numbers.small}", number=True, strong=True),
        Column("creep a piece", number=True, strong=True),
        Column("95 % interval", number=True, wide=True),
        Column("spread about the line", number=True, wide=True),
        Column(f"last on the line, {numbers.unit}", number=True, wide=True),
        Column(numbers.small, number=True, wide=True, strong=True),
    ]
    return panel(
        "Run by run" if len(rows) > 1 else "The run",
        table(heads, rows, label="runs between events"),
        how=f"All in {numbers.small}; the last columns from {numbers.short(base)} {numbers.unit}."
        f" The line: {wear.method}; {wear.slope_from}.",
    )
