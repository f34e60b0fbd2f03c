"""Can the gauges tell good from bad: step, repeats and doubt of each, against the tolerance it must divide."""

from __future__ import annotations

import datetime
import json
from typing import Any

from dash import html

from dashboard.figures.guard_bands import guard_bands
from dashboard.figures.numbers import Numbers, typeset
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.gauging import drawn_rows, gauges_of, overdue
from dashboard.parts.panels import Page, empty, facts, panel, picture
from dashboard.parts.sentences import sentence
from dashboard.parts.tables import Column, table
from dashboard.people.door import allowed
from dashboard.people.rights import SIGNS_OFF
from tracker.decide.words import count, listed, plural
from tracker.judge import FeatureCheck, GaugeCheck, plain_name
from tracker.result import Interval

QUESTION = "Can the gauges tell good from bad?"
SOON_DAYS = 30
UNIT_NAMES = {"in": "inches", "mm": "millimetres"}
WHAT = {"repeats": "repeated readings", "study": "study of operators", "accept": "limits to accept by"}


def page(answer: Answer, address: Address) -> Page:
    """Return the page of the gauges of a job."""
    found = gauges_of(answer)
    if not found:
        return Page(
            question=QUESTION,
            answer="Cannot say: this job has no feature.",
            word="cannot say",
            job=answer.check.job,
            body=[empty("Add a feature", "Give the job a [features.NAME] with its kind, its nominal and its gauge.")],
        )
    today = datetime.date.today()
    late = overdue(answer, today)
    body: list[Any] = []
    rows = drawn_rows(found)
    if rows:
        drawn = guard_bands(rows, [answer.numbers(item.feature) for item, _ in rows])
        body.append(picture("guard-bands", address, drawn))
    body.append(_table(answer, found, today))
    body += [_study(answer, item) for item, _ in found if item.study is not None]
    body.append(_register(answer, today))
    if allowed(SIGNS_OFF):
        body.append(_entry(answer))
    missing = _missing(found)
    if missing is not None:
        body.append(missing)
    worst = max(found, key=lambda pair: pair[0].judged_share or 0.0)[0]
    reason = sentence(f"{plural(plain_name(worst.feature)).capitalize()}: {worst.reason}")
    return Page(
        question=QUESTION,
        answer=gauge_answer([item for item, _ in found], late),
        reasons=[reason],
        word=_word([item for item, _ in found], late),
        said="they serve" if _word([item for item, _ in found], late) == "leave it alone" else "",
        body=body,
        job=answer.check.job,
        foot="Serves: six standard uncertainties take at most a tenth of the tolerance; up to three tenths it may serve"
        " (common practice).",
    )


def gauge_answer(found: list[GaugeCheck], late: list[str]) -> str:
    """Return whether the gauges serve, in one sentence."""
    bad = [plain_name(item.feature) for item in found if item.serves is False]
    good = [plain_name(item.feature) for item in found if item.serves]
    if late:
        return f"Not to be trusted: the {listed(late)} {'is' if len(late) == 1 else 'are'} past calibration."
    if bad and not good:
        return f"No: near a limit good and bad {listed(map(plural, bad))} read alike."
    if bad:
        return f"For the {listed(map(plural, good))} yes, for the {listed(map(plural, bad))} no."
    if not good:
        return "Cannot say yet."
    tight = [item for item in found if item.judged_share is not None and item.judged_share > 0.1]
    if tight:
        return "Yes, with care near the limits."
    return "Yes, with room to spare."


def _word(found: list[GaugeCheck], late: list[str]) -> str:
    if late or any(item.serves is False for item in found):
        return "measure better"
    return "leave it alone" if any(item.serves for item in found) else "cannot say"


def _with(interval: Interval | None, numbers: Numbers) -> str:
    if interval is None:
        return "cannot say"
    return numbers.off(interval.estimate, signed=False, decimals=2)


def _table(answer: Answer, found: list[tuple[GaugeCheck, FeatureCheck]], today: datetime.date) -> html.Section:
    numbers = answer.numbers()
    heads = [
        Column("part", strong=True),
        Column("gauge"),
        Column(f"one step, {numbers.small}", number=True, wide=True),
        Column(f"repeats (sd), {numbers.small}", number=True, wide=True),
        Column(f"doubt of a size (u), {numbers.small}", number=True, wide=True),
        Column("6 u of the tolerance", number=True, strong=True),
        Column(f"accept what reads, {numbers.unit}", number=True, wide=True),
        Column("", tight=True),
    ]
    rows = []
    for item, _ in found:
        own = answer.numbers(item.feature)
        used = "cannot say" if item.share_of_tolerance is None else typeset(f"{100 * item.share_of_tolerance:.0f} %")
        doubt = "cannot say" if item.uncertainty is None else own.off(item.uncertainty, signed=False, decimals=2)
        rows.append(
            [
                plain_name(item.feature),
                item.gauge or "none stated",
                own.off(item.step, signed=False, decimals=2).rstrip("0").rstrip("."),
                _with(item.repeatability, own),
                doubt,
                used,
                accept_words(item, own),
                _flag(item),
            ]
        )
    bad = list(dict.fromkeys(item.gauge or "gauge" for item, _ in found if item.serves is False))
    title = f"Cannot do what is asked: {listed(bad)}" if bad else "What each gauge can do"
    return panel(
        title,
        table(heads, rows, label="gauges against tolerances"),
        how="u is the standard uncertainty of one piece's size: repeats, step, operators, calibration. What reads"
        " inside the limits to accept is within limits with 95 % or more.",
    )


def accept_words(item: GaugeCheck, numbers: Numbers) -> str:
    """Return the sizes that may be accepted as they read."""
    if item.guarded is None:
        return "cannot say"
    low, high = item.guarded.accept_lower, item.guarded.accept_upper
    if not item.guarded.can_accept:
        return "none"
    if low is None or high is None:
        return f"from {numbers.size(low)}" if low is not None else f"to {numbers.size(high or 0.0)}"
    return f"{numbers.size(low)} to {numbers.size(high)}"


def _flag(item: GaugeCheck) -> Any:
    if item.serves is None:
        return "cannot say"
    if item.serves:
        return "serves" if (item.judged_share or 0) <= 0.1 else "may serve"
    return html.Span("does not serve", className="flag")


def _register(answer: Answer, today: datetime.date) -> html.Section:
    rows = []
    for name, gauge in answer.job.gauges.items():
        used = [plain_name(feature.name) for feature in answer.job.features.values() if feature.gauge == name]
        numbers = Numbers(answer.unit, gauge.resolution or 0.0001)
        reach = "not stated" if gauge.low is None or gauge.high is None else f"{gauge.low:g} to {gauge.high:g}"
        rows.append(
            [
                gauge.name,
                listed(f"{plural(each)}" for each in used) if used else "nothing here",
                "not stated" if gauge.resolution is None else numbers.off(gauge.resolution, signed=False),
                reach,
                numbers.off(gauge.calibration, signed=False, decimals=2) if gauge.calibration else "not stated",
                _due(gauge.due, today),
            ]
        )
    numbers = answer.numbers()
    heads = [
        Column("gauge", strong=True),
        Column("measures"),
        Column(f"one step, {numbers.small}", number=True, wide=True),
        Column(f"range, {numbers.unit}", number=True, wide=True),
        Column(f"calibration (u), {numbers.small}", number=True, wide=True),
        Column("next calibration"),
    ]
    if not rows:
        return empty(
            "No gauge is in the register",
            'State them in the job: [gauges."bore gauge"] with resolution, calibration and due.',
        )
    late = overdue(answer, today)
    stated = sum(gauge.due is not None for gauge in answer.job.gauges.values())
    title = (
        f"The {listed(late)} {'is' if len(late) == 1 else 'are'} past calibration"
        if late
        else f"{count(len(rows), 'gauge').capitalize()} in the register, none past calibration"
        if stated == len(rows)
        else f"{count(len(rows) - stated, 'gauge').capitalize()} without a calibration date"
    )
    return panel(
        title, table(heads, rows, label="register of gauges"), how="As the job states them; dates as entered last."
    )


def _entry(answer: Answer) -> html.Section:
    """Return the room of the form that ``assets/gauge-form.js`` draws, so that what is typed outlives a redraw."""
    names = json.dumps(list(answer.job.gauges))
    room = html.Div(
        id="gauge-form", key=f"form {answer.own_unit}", **{"data-names": names, "data-unit": answer.own_unit}
    )
    head = [
        html.H2("A gauge was calibrated"),
        html.P(
            f"Lengths in {UNIT_NAMES[answer.own_unit]} unless they say otherwise, u as a standard uncertainty; what is"
            " left empty stays as it was. The next calibration holds from here on; other figures that the job states"
            " itself go before these.",
            className="how",
        ),
    ]
    return html.Section([*head, room], className="panel", key="gauge-entry")


def _due(due: datetime.date | None, today: datetime.date) -> Any:
    if due is None:
        return "not stated"
    left = (due - today).days
    if left < 0:
        return html.Span([due.isoformat(), " ", html.Span("past", className="flag")])
    return f"{due.isoformat()}, in {count(left, 'day')}" if left <= SOON_DAYS else due.isoformat()


def _study(answer: Answer, item: GaugeCheck) -> html.Section:
    """Return the study of operators on one feature."""
    study, numbers = item.study, answer.numbers(item.feature)
    assert study is not None

    def row(words: str, interval: Interval | None, share: str) -> list[Any] | None:
        if interval is None:
            return None
        low = numbers.off(interval.low, signed=False, decimals=2)
        high = numbers.off(interval.high, signed=False, decimals=2)
        part = study.shares.get(share)
        return [
            words,
            numbers.off(interval.estimate, signed=False, decimals=2),
            f"{low} to {high}",
            "" if part is None else typeset(f"{100 * part:.0f} %"),
        ]

    rows = [
        row("same operator, same piece", study.repeatability_sd, "repeatability"),
        row("between operators", study.operator_sd, "operator"),
        row("operators that differ by piece", study.interaction_sd, "interaction"),
        row("the gauge in all", study.gauge_sd, "gauge"),
        row("between pieces", study.piece_sd, "piece"),
        row("everything together", study.total_sd, "total"),
    ]
    heads = [
        Column("what differs", strong=True),
        Column(f"sd, {numbers.small}", number=True),
        Column("95 %", number=True, wide=True),
        Column("of all that is seen", number=True),
    ]
    name = plain_name(item.feature)
    classes = study.distinct_categories
    told = "cannot be told" if classes is None else count(classes, "size class", "size classes")
    used = "cannot say" if study.share_of_tolerance is None else typeset(f"{100 * study.share_of_tolerance:.0f} %")
    more = facts(
        [
            ("6 sd of the gauge, of the tolerance", used),
            ("size classes it can tell apart", "none" if classes == 0 else told),
            ("so by this study alone it", study.verdict),
            ("readings", f"{count(study.pieces, 'place')}, {count(study.operators, 'operator')}, {study.n} readings"),
            ("method", study.method),
        ]
    )
    notes = html.Ul([html.Li(typeset(line)) for line in study.remarks], className="notes")
    return panel(
        f"{count(study.operators, 'operator').capitalize()} on {plural(name)}: {100 * study.share_of_total:.0f} % of"
        " what is seen is the gauge",
        html.Div(
            [
                table(heads, [each for each in rows if each is not None], label=f"study of operators, {name}"),
                html.Div([more, notes]),
            ],
            className="two",
        ),
        how="Standard deviations, and their share of the whole; shares of sd do not add up to 100 %.",
    )


def _missing(found: list[tuple[GaugeCheck, FeatureCheck]]) -> html.Section | None:
    groups: dict[str, list[str]] = {}
    for item, _ in found:
        for what, why in item.reasons.items():
            groups.setdefault(f"{WHAT.get(what, plain_name(what))}: {why}", []).append(plain_name(item.feature))
    if not groups:
        return None
    lines = [
        html.Li([html.B(f"{listed(f'{plural(name)}' for name in names).capitalize()}, "), typeset(words)])
        for words, names in groups.items()
    ]
    return panel("What cannot be said yet", html.Ul(lines, className="notes"))
