"""The press bench sheet: which plug goes into which bore, with what force, and what to take care of."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import numpy as np
from markupsafe import Markup

from dashboard.figures.numbers import Numbers, typeset
from dashboard.figures.rungs import gap_rung, reach_of
from dashboard.parts.answers import Answer
from dashboard.parts.at_once import key_of, others
from dashboard.parts.badge import form_of
from dashboard.parts.sentences import fit_answer
from dashboard.sheets.paper import Sheet, cautions, grid, on_paper, section, sign_off, stop, tag, vector
from tracker.decide.words import count, first_up, listed
from tracker.errors import TrackerError
from tracker.fit.press_cautions import ALWAYS, JOINING
from tracker.judge import FitCheck, PairRow, plain_name
from tracker.judge.joints import press_of, seat_of

if TYPE_CHECKING:
    from tracker.fit.press_results import PressFit

KIND = "Press bench sheet"
STOP = "Stop when the force climbs: something is crooked, scored or larger than measured."
"""For a joint of which no force is computed; else the press fit brings its own caution with the figure."""


def bench_sheet(answer: Answer, fit: FitCheck, *, by: str, when: datetime.datetime) -> Sheet:
    """Return the press bench sheet of one fit."""
    numbers = answer.numbers(fit.internal, fit.external)
    press, trouble = _press(answer, fit)
    force = fit.gap_lower is None or fit.gap_lower < 0
    title = fit_answer(fit)
    parts = []
    if form_of(fit.verdict.word) == "go" or fit.verdict.word == "sort":
        parts.append(tag("p", typeset(_way(fit)), look="p-do"))
    else:
        parts.append(
            stop("Do not press yet." if force else "Do not assemble yet.", fit.verdict.reason, _meanwhile(fit))
        )
    if force:
        parts.append(_force(press, trouble))
    if fit.pairs:
        parts.append(_pairs(answer, fit, numbers, press))
    left = _left(fit)
    if left:
        parts.append(left)
    seat = _seat(answer, fit)
    if seat:
        parts.append(tag("p", tag("b", "Shoulder. "), seat, look="p-after"))
    if force:
        lines = press.cautions if press else (*ALWAYS, STOP, *JOINING)
        parts.append(cautions(lines, "Before you press"))
    parts.append(
        sign_off(
            "pressed by", "date", "checked by", "date", broad="what was found, force past the figure, parts set aside"
        )
    )
    body = on_paper(answer, KIND, title, parts, features=(fit.internal, fit.external), by=by, when=when, dense=True)
    return Sheet(name="bench", kind=KIND, title=title, job=answer.check.job, body=body, pressing=force)


def _way(fit: FitCheck) -> str:
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    if fit.verdict.word == "press as they come":
        return f"Any {shank} into any {bore}. The pairs below are the best ones; they need not be kept."
    if fit.verdict.word == "sort":
        return f"Take the {shank} and the {bore} from trays of the same letter. Within a tray any goes into any."
    return f"Each {shank} goes only into the {bore} beside it."


def _meanwhile(fit: FitCheck) -> str:
    if not fit.pairs:
        return ""
    verb = "reads" if len(fit.pairs) == 1 else "read"
    return f"{count(len(fit.pairs), 'pair').capitalize()} below {verb} within limits now."


def _press(answer: Answer, fit: FitCheck) -> tuple[PressFit | None, str]:
    stated = answer.job.fits[fit.name]
    if not stated.press:
        return None, "The job does not state the press (how long the joint is), so no force is computed."
    if not fit.pairs:
        return None, "No pair is within limits, so no force is computed."
    try:
        return press_of(answer.job, stated, np.array([row.gap for row in fit.pairs])), ""
    except TrackerError as error:
        return None, str(error)


def _force(press: PressFit | None, trouble: str) -> Markup:
    if press is None:
        return section("Force: cannot say", tag("p", typeset(trouble)))
    span = press.ranges["push_force"]
    unit = press.units["force"]
    most = span.text(unit).rpartition(" to ")[2]
    wanted = {"press": "", "holds": "holds", "margin": "margin", "heat outer to": "or heat the outer part to"}
    lines = [f"{wanted[name]} {text}".strip() for name, text in press.lines() if name in wanted]
    return section(
        f"Force {span.text(unit)} at full depth. Stop past {most}",
        tag(
            "p",
            typeset(
                first_up("; ".join(lines)) + ". Elastic figures for the pairs below; friction is the least certain."
            ),
            look="p-how",
        ),
    )


def _pairs(answer: Answer, fit: FitCheck, numbers: Numbers, press: PressFit | None) -> Markup:
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    reach = reach_of(fit)
    item, besides = others(answer, fit) or (None, [])
    heads = [
        (bore, "p-strong"),
        (f"size, {numbers.unit}", "p-num"),
        (shank, "p-strong"),
        (f"size, {numbers.unit}", "p-num"),
        (f"gap, {numbers.small}", "p-num"),
        ("between its limits", ""),
        *((asked.head(numbers), "p-num") for asked in besides),
        *([(f"force, {press.units['force']}", "p-num")] if press else []),
        ("done", "p-tick"),
        ("force seen" if press else "remark", "p-line"),
    ]
    rows = []
    for index, row in enumerate(fit.pairs):
        too = [] if item is None else [item.pairs[index].gaps[key_of(item, asked)] for asked in besides]
        rows.append(
            [
                row.internal,
                numbers.size(row.internal_size),
                row.external,
                numbers.size(row.external_size),
                numbers.off(row.gap),
                tag("span", "measure again", look="p-flag") if row.near else vector(gap_rung(fit, row, reach, numbers)),
                *(numbers.off(asked.off(gap)) for asked, gap in zip(besides, too)),
                *([_force_of(answer, fit, row)] if press else []),
                tag("i"),
                tag("i"),
            ]
        )
    near = sum(row.near for row in fit.pairs)
    title = f"{count(len(fit.pairs), 'pair').capitalize()} within limits" + (
        f", {near} too near to be sure" if near else ""
    )
    low = "open" if fit.gap_lower is None else numbers.off(fit.gap_lower)
    high = "open" if fit.gap_upper is None else numbers.off(fit.gap_upper)
    how = f"Gap allowed {low} to {high} {numbers.small}, {bore} minus {shank}; the whisker is 95 %."
    if besides:
        how += f" The pairs meet {listed([plain_name(asked.name) for asked in besides])} too: do not change them."
    return section(title, grid(heads, rows, label=f"which {shank} goes into which {bore}"), how=how)


def _force_of(answer: Answer, fit: FitCheck, row: PairRow) -> str:
    try:
        one = press_of(answer.job, answer.job.fits[fit.name], np.array([row.gap]))
    except TrackerError:
        return "cannot say"
    return one.ranges["push_force"].text(one.units["force"]).removesuffix(one.units["force"]).strip()


def _left(fit: FitCheck) -> Markup | None:
    if not fit.left_over:
        return None
    groups: dict[tuple[str, str], list[str]] = {}
    for item in fit.left_over:
        groups.setdefault((item.feature, item.why), []).append(item.piece)
    lines = [f"{plain_name(feature)} {listed(pieces)}: {why}" for (feature, why), pieces in groups.items()]
    return section(
        f"{count(len(fit.left_over), 'piece').capitalize()} set aside, not to be pressed",
        tag("ul", *[tag("li", typeset(line)) for line in lines], look="p-notes"),
    )


def _seat(answer: Answer, fit: FitCheck) -> str:
    stated = answer.job.fits[fit.name]
    if not stated.seat:
        return ""
    try:
        return str(seat_of(answer.job, stated))
    except TrackerError as error:
        return f"Cannot say: {error}"
