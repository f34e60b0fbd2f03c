"""What is on the bench: every job with the verdict of each of its fits and sums of lengths."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard.figures.numbers import typeset
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer, Answers
from dashboard.parts.badge import badge
from dashboard.parts.panels import Page, empty
from dashboard.parts.sentences import jobs_answer
from dashboard.parts.tables import Rails, rails_for
from tracker.decide import Verdict
from tracker.decide.words import count
from tracker.errors import TrackerError
from tracker.judge import ClosureCheck, FitCheck, plain_name
from tracker.record import JobInfo


def page(answers: Answers, address: Address) -> Page:
    """Return the list of jobs, newest first."""
    infos = answers.record.jobs()
    judged: list[tuple[JobInfo, Answer | str]] = []
    for info in infos:
        try:
            judged.append((info, answers.of(info.id, address.unit)))
        except TrackerError as error:
            judged.append((info, str(error)))
    asked = [answer for _, answer in judged if isinstance(answer, str) or answer.check.fits or answer.check.closures]
    words = ["cannot say" if isinstance(answer, str) else answer.check.verdict.word for answer in asked]
    body: list[Any] = [html.Div([_job(info, answer, address) for info, answer in judged], className="job-list")]
    if not judged:
        body = [
            empty(
                "The record is empty",
                "Begin with what the drawing says, in a form; or drop in a folder with a job.toml and its readings.",
                "From a command line: tenthwise log FOLDER. The sample jobs come with: tenthwise demo.",
                links=[("new job", Address(page="new").href), ("drop in a folder", Address(page="bring").href)],
            )
        ]
    total = sum(info.readings for info in infos)
    reason = (
        f"{count(len(infos), 'job').capitalize()} in the record with {total:,} readings. Each line is a fit with its"
        " verdict, and every gap between the tightest and the loosest allowed."
        if infos
        else "A job is one order: its features, fits, gauges and batches."
    )
    return Page(
        question="What is on the bench?",
        answer=jobs_answer(words, len(judged) - len(asked)),
        reasons=[reason],
        choosers=[_doors(address)] if infos else [],
        body=body,
        foot=answers.record.name,
    )


def _doors(address: Address) -> html.Div:
    there = Address(unit=address.unit)
    return html.Div(
        [
            html.A("new job", href=there.to(page="new").href, className="button strong"),
            html.A("drop in a folder", href=there.to(page="bring").href, className="button"),
        ],
        className="doors",
    )


def _job(info: JobInfo, answer: Answer | str, address: Address) -> html.Section:
    to = Address(page="fit", job=info.id, unit=address.unit)
    parts = [f"{info.readings:,} readings of {count(info.pieces, 'piece')}"]
    if info.waiting:
        parts.append(f"{count(info.waiting, 'suspect')} waiting")
    if info.struck:
        parts.append(f"{info.struck} struck out")
    if info.revision > 1:
        parts.append(f"revision {info.revision}")
    if info.last_reading:
        parts.append(f"last {info.last_reading[:10]}")
    head = html.Div(
        [
            html.Div([html.H2(html.A(info.name, href=to.href)), html.P(", ".join(parts), className="how")]),
            html.Div(
                [
                    html.A(
                        "change",
                        href=to.to(page="job").href,
                        className="button",
                        **{"aria-label": f"change {info.name}, or take its readings out"},
                    ),
                    html.A(
                        "log",
                        href=to.to(page="log").href,
                        className="button",
                        **{"aria-label": f"log readings of {info.name}"},
                    ),
                ],
                className="doors",
            ),
        ],
        className="job-row",
    )
    if isinstance(answer, str):
        rows: list[Any] = [html.Div([badge("cannot say", small=True), html.P(typeset(answer))], className="fit-row")]
    else:
        rows = [_line(fit.name, fit.verdict, _gaps(fit), to.to(fit=fit.name)) for fit in answer.check.fits]
        rows += [_line(item.name, item.verdict, _sums(item), to) for item in answer.check.closures]
        rows = rows or [_no_fit(answer, to)]
    return html.Section([head, *rows], className="panel")


def _no_fit(answer: Answer, to: Address) -> html.Div:
    """Return the line of a job that asks for no fit and no sum: its batches are what there is to see."""
    parts = count(len(answer.check.features), "feature")
    words = f"No fit is stated: {parts} by themselves." if len(answer.check.features) > 1 else "No fit is stated."
    return html.Div(
        [
            html.P(typeset(words), className="quiet"),
            html.Div(
                [
                    html.A("batch", href=to.to(page="batch").href, className="button"),
                    html.A("history", href=to.to(page="history", job=None).href, className="button"),
                ],
                className="doors",
            ),
        ],
        className="no-fit",
    )


def _rails(rails: Rails, values: Sequence[float], says: str) -> html.Div:
    """Return all gaps or sums of a pairing between their two limits, small to large."""
    ends = [rails.at(value) for value in (rails.lower, rails.upper) if value is not None]
    left = ends[0] if rails.lower is not None else 0.0
    right = ends[-1] if rails.upper is not None else 100.0
    places = sorted({round(rails.at(value), 1) for value in values})
    parts: list[Any] = [html.Span(className="between", style={"left": f"{left:.2f}%", "width": f"{right - left:.2f}%"})]
    parts += [html.Span(className="bar"), *[html.Span(className="rail", style={"left": f"{end:.2f}%"}) for end in ends]]
    parts += [html.I(style={"left": f"{place}%", "top": "50%"}) for place in places]
    if rails.aim is not None:
        parts.append(html.Em(style={"left": f"{rails.at(rails.aim):.2f}%"}))
    return html.Div(parts, className="gaps", title=says)


def _no_pair() -> html.Div:
    return html.Div(html.Span("no pair yet", className="quiet"), className="gaps")


def _gaps(fit: FitCheck) -> html.Div:
    if not fit.pairs:
        return _no_pair()
    gaps = [row.gap for row in fit.pairs]
    rails = rails_for(fit.gap_lower, fit.gap_upper, fit.target, [(gap, 0.0) for gap in gaps])
    return _rails(rails, gaps, f"{len(gaps)} gaps between the tightest and the loosest allowed")


def _sums(closure: ClosureCheck) -> html.Div:
    totals = [row.total for row in closure.pairs]
    if not totals or (closure.lower is None and closure.upper is None):
        return _no_pair()
    rails = rails_for(closure.lower, closure.upper, None, [(total, 0.0) for total in totals])
    return _rails(rails, totals, f"{len(totals)} sums between their limits")


def _line(name: str, verdict: Verdict, drawn: html.Div, here: Address) -> html.Div:
    return html.Div(
        [
            badge(verdict.word, small=True),
            html.Div([html.H3(plain_name(name)), html.P(typeset(verdict.reason), className="quiet")]),
            drawn,
            html.A("open", href=here.href, className="button", **{"aria-label": f"open {plain_name(name)}"}),
        ],
        className="fit-row",
    )
