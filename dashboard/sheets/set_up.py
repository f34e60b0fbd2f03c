"""The set-up note: what is entered at the machine before the next cut, or that nothing is."""

from __future__ import annotations

import datetime

from markupsafe import Markup

from dashboard.figures.leave_alone import leave_alone
from dashboard.figures.numbers import LONG_WORD, Numbers, typeset
from dashboard.pages.next_cut import machine_number
from dashboard.parts.answers import Answer
from dashboard.parts.cut import Cut, entered_on
from dashboard.parts.sentences import shift_answer
from dashboard.sheets.paper import CONTENT_WIDTH, Sheet, cautions, figure, grid, on_paper, section, sign_off, stop, tag
from tracker.decide import Shift
from tracker.decide.words import count, first_up, plural, share
from tracker.judge import FitCheck, plain_name
from tracker.judge.words import machine_words

KIND = "Set-up note"
CAUTIONS = (
    "Change an offset only as the machine's own instructions and local codes allow; a qualified person decides.",
    "Stop the spindle and wait until it stands still before a part is measured, cleared of chips, or touched.",
    "Wear eye protection; keep the guards closed while anything turns.",
    "A part warm from the cut reads large: let it come to 20 °C (68 °F) before it is measured.",
)
"""Usual care at a machine tool (common practice, no source; 20 °C is the reference temperature of ISO 1)."""


def set_up_note(answer: Answer, cut: Cut, *, by: str, when: datetime.datetime) -> Sheet:
    """Return the set-up note of one part."""
    name, numbers = plain_name(cut.found.name), answer.numbers(cut.found.name)
    machine = answer.job.features[cut.found.name].machine
    if cut.shift is None:
        why = cut.found.reasons.get("shift") or cut.found.reasons.get("sizes") or f"no {name} is measured"
        first = _unmade(answer, cut)
        title = "Cannot say yet."
        if first is not None:
            title = f"Cut the first {plural(name)} to {numbers.size(first.cut_to or 0.0)} {numbers.unit}."
        parts = [stop("Nothing to enter.", why, *_first_cut(answer, cut, numbers))]
    else:
        shift = cut.shift
        title = shift_answer(cut.found.name, shift, numbers)
        step = (
            "no smallest step is stated"
            if machine.increment is None
            else f"its smallest step is {machine_number(answer, cut, machine.increment).lstrip('+')}"
        )
        still = shift.leave_alone or shift.offset is None
        number = machine_number(answer, cut, 0.0 if shift.offset is None else shift.offset)
        on = entered_on(answer.job.features[cut.found.name])
        how = f"{on}, {LONG_WORD[answer.own_unit]}; plus makes the part {machine.plus_makes}; {step}."
        parts = [
            section(
                "Enter nothing" if still else f"Enter on the {on}, on top of what is entered now",
                tag("p", number, look="p-big"),
                how=f"Machine offset on the {how}",
            ),
            *([tag("p", typeset(words), look="p-how")] if (words := machine_words(machine)) else []),
            tag("p", typeset(shift.reason), look="p-do"),
            *(
                tag("p", typeset(planned.words), look="p-do")
                for planned in (() if cut.fit is None else cut.fit.planned_cuts)
            ),
            _how_it_comes(cut, shift, numbers),
            figure(leave_alone([(name, shift)], numbers, CONTENT_WIDTH)),
        ]
    parts.append(cautions(CAUTIONS, "At the machine"))
    parts.append(
        sign_off(
            "entered by", "date", "first piece after it measures", "measured by", broad="old offset, new offset, tool"
        )
    )
    body = on_paper(answer, KIND, title, parts, features=(cut.found.name,), by=by, when=when, dense=True)
    return Sheet(name="set-up", kind=KIND, title=title, job=answer.check.job, body=body)


def _unmade(answer: Answer, cut: Cut) -> FitCheck | None:
    """Return the fit that says what to cut a part to of which none is made yet."""
    fits = (fit for fit in answer.check.fits if fit.cut_next == cut.found.name and fit.unmade is not None)
    return next(fits, None)


def _first_cut(answer: Answer, cut: Cut, numbers: Numbers) -> list[str]:
    first = _unmade(answer, cut)
    if first is not None:
        return [first_up(first.unmade_words)]
    for fit in answer.check.fits:
        if fit.cut_next == cut.found.name and fit.best_target is not None:
            target = fit.best_target
            return [
                f"Aim the next ones at {numbers.size(target.target)} {numbers.unit}: {share(target.share_good)} are"
                f" expected good with the {count(target.n_mates, 'mate')} measured."
            ]
    return []


def _how_it_comes(cut: Cut, shift: Shift, numbers: Numbers) -> Markup:
    low, high = shift.shift.low, shift.shift.high
    since = f" since the last {shift.last_event}" if shift.last_event else ""
    rows = [
        [f"mean of {count(shift.n, 'piece')}{since}", numbers.size(shift.target + shift.bias.estimate), "", ""],
        ["size aimed at", numbers.size(shift.target), "", "to suit the mates" if cut.fit else "target of the part"],
        [
            "shift wanted",
            numbers.size(shift.shift.estimate, signed=True),
            numbers.off(shift.shift.estimate),
            f"95 %: between {numbers.off(low)} and {numbers.off(high)} {numbers.small}",
        ],
        ["noise, either way", numbers.size(shift.noise), numbers.off(shift.noise, signed=False), "direction not sure"],
        ["change of the part", numbers.size(shift.change, signed=True), numbers.off(shift.change), "entered as above"],
    ]
    if shift.within_before is not None and shift.within_after is not None:
        words = f"{share(shift.within_before)} as it is, {share(shift.within_after)} after"
        rows.append([f"next pieces that {shift.within}", "", "", words])
    heads = [("", ""), (f"size, {numbers.unit}", "p-num"), (numbers.small, "p-num"), ("", "")]
    cells = [[typeset(cell) for cell in row] for row in rows]
    return section("How it comes about", grid(heads, cells, label="how the shift comes about"))
