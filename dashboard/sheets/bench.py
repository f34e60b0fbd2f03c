"""The press bench sheet: which plug goes into which bore, with what force, and what to take care of."""

from __future__ import annotations

import datetime

from markupsafe import Markup

from dashboard.figures.numbers import Numbers, typeset
from dashboard.figures.rungs import gap_rung, reach_of
from dashboard.parts.answers import Answer
from dashboard.parts.at_once import key_of, others
from dashboard.parts.badge import form_of
from dashboard.parts.sentences import fit_answer, sentence
from dashboard.sheets.bench_lists import (
    first_work,
    force_of,
    is_planned,
    is_sorted,
    planned_table,
    press_told,
    set_aside,
    tray_table,
)
from dashboard.sheets.paper import Sheet, cautions, grid, on_paper, section, sign_off, stop, tag, vector
from tracker.decide.words import count, first_up, listed, set_aside_words
from tracker.fit.press_cautions import ALWAYS, JOINING
from tracker.judge import FitCheck, plain_name

KIND = "Press bench sheet"
STOP = "Stop when the force climbs: something is crooked, scored or larger than measured."
"""For a joint of which no force is computed; else the press fit brings its own caution with the figure."""


def bench_sheet(answer: Answer, fit: FitCheck, *, by: str, when: datetime.datetime) -> Sheet:
    """Return the press bench sheet of one fit."""
    numbers = answer.numbers(fit.internal, fit.external)
    force = fit.gap_lower is None or fit.gap_lower < 0
    title = fit_answer(fit)
    parts = []
    if fit.do_not_press:
        yields = fit.press.yielding if fit.press else ()
        settle = "A part yields: do not press before this is settled."
        parts.append(stop(settle, fit.verdict.reason, fit.verdict.action, *yields))
    elif form_of(fit.verdict.word) == "go" or fit.verdict.word == "sort":
        parts.append(tag("p", typeset(_way(fit)), look="p-do"))
    else:
        parts.append(
            stop("Do not press yet." if force else "Do not assemble yet.", fit.verdict.reason, _meanwhile(fit))
        )
    if force and not fit.do_not_press:
        parts += _force(answer, fit)
    if is_planned(fit):
        parts += [first_work(fit), planned_table(answer, fit, numbers)]
    elif is_sorted(fit):
        parts.append(tray_table(answer, fit, numbers))
    elif fit.pairs:
        parts.append(_pairs(answer, fit, numbers))
    left = set_aside(answer, fit)
    if left is not None:
        parts.append(left)
    seat = _seat(answer, fit)
    if seat:
        parts.append(tag("p", tag("b", "Shoulder. "), seat, look="p-after"))
    if force:
        lines = fit.press.cautions if fit.press else (*ALWAYS, STOP, *JOINING)
        parts.append(cautions(lines, "Before you press"))
    parts.append(
        sign_off(
            "pressed by", "date", "checked by", "date", broad="what was found, force past the figure, parts set aside"
        )
    )
    body = on_paper(answer, KIND, title, parts, features=(fit.internal, fit.external), by=by, when=when, dense=True)
    return Sheet(name="bench", kind=KIND, title=title, job=answer.check.job, body=body, pressing=force)


def _way(fit: FitCheck) -> str:
    return f"{_which(fit)}{set_aside_words(fit.verdict.unread)}"


def _which(fit: FitCheck) -> str:
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    if fit.verdict.word == "press as they come":
        return f"Any {shank} into any {bore}. The pairs below are the best ones; they need not be kept."
    if fit.verdict.word == "sort":
        return f"Take the {shank} and the {bore} from trays of the same letter. Within a tray any goes into any."
    return f"Each {shank} goes only into the {bore} beside it."


def _meanwhile(fit: FitCheck) -> str:
    if is_planned(fit) and fit.plan is not None:
        done = {"reworked": fit.plan.reworked, "new": fit.plan.remade}
        which = " and the ".join(kind for kind, pieces in done.items() if pieces)
        verb = "piece is" if sum(done.values()) == 1 else "pieces are"
        return f"First the work below. Not before the {which} {verb} measured, then as listed here."
    if not fit.pairs:
        return ""
    verb = "reads" if len(fit.pairs) == 1 else "read"
    return f"{count(len(fit.pairs), 'pair').capitalize()} below {verb} within limits now."


def _force(answer: Answer, fit: FitCheck) -> list[Markup]:
    """Return the force over every pair that may meet, or why there is none."""
    press = fit.press
    if press is None:
        return [section("Force: cannot say", tag("p", typeset(_no_force(answer, fit))))]
    span = press.ranges["push_force"]
    unit = press.units["force"]
    most = span.text(unit).rpartition(" to ")[2]
    wanted = {"press": "", "holds": "holds", "margin": "margin", "heat outer to": "or heat the outer part to"}
    lines = [f"{wanted[name]} {text}".strip() for name, text in press.lines() if name in wanted]
    how = f"{first_up('; '.join(lines))}. Over {fit.press_over}; elastic, friction least certain."
    return [section(f"Force {span.text(unit)} at full depth. Stop past {most}", tag("p", typeset(how), look="p-how"))]


def _no_force(answer: Answer, fit: FitCheck) -> str:
    if not answer.job.fits[fit.name].press:
        return "The job does not state the press (how long the joint is), so no force is computed."
    if "press" in fit.reasons:
        return sentence(fit.reasons["press"])
    return "No pair is within limits, so no force is computed."


def _pairs(answer: Answer, fit: FitCheck, numbers: Numbers) -> Markup:
    press = press_told(fit)
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
                *([force_of(answer, fit, [row.gap])] if press else []),
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


def _seat(answer: Answer, fit: FitCheck) -> str:
    if not answer.job.fits[fit.name].seat:
        return ""
    return str(fit.seat) if fit.seat is not None else f"Cannot say: {fit.reasons.get('seat', 'it is not worked out')}"
