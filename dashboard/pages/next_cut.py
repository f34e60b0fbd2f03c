"""How much the next cut should change: shift, offset as the machine wants it, or leave it alone."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.figures.leave_alone import leave_alone
from dashboard.figures.next_twenty import next_twenty
from dashboard.figures.numbers import LONG_WORD, MINUS, Numbers, typeset
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.cut import Cut, cut_of, entered_on
from dashboard.parts.panels import Page, chooser, columns, empty, panel, picture
from dashboard.parts.sentences import shift_answer
from dashboard.parts.tables import Column, table
from dashboard.parts.touched import touched_button
from tracker.decide import Shift
from tracker.decide.words import count, first_up, plural
from tracker.judge import FitCheck, PlannedCut, plain_name
from tracker.judge.text import chance_words
from tracker.judge.words import machine_words
from tracker.units import convert, decimals_of, format_number


def page(answer: Answer, address: Address) -> Page:
    """Return the page of the next cut of one part."""
    cut = cut_of(answer, address)
    options = [(plain_name(item.name), address.to(feature=item.name, fit="")) for item in answer.check.features]
    if cut is None:
        return Page(
            question="How much should the next cut change?",
            answer="Cannot say: this job has no feature.",
            word="cannot say",
            job=answer.check.job,
        )
    name = plain_name(cut.found.name)
    choosers = [chooser("part", options, name), _for_which(answer, address, cut)]
    if cut.shift is None:
        return _cannot(answer, address, cut, choosers)
    numbers, shift = answer.numbers(cut.found.name), cut.shift
    here = address.to(feature=cut.found.name, fit="" if cut.fit is None else cut.fit.name)
    drawn = next_twenty(cut.found, shift, cut.lower, cut.upper, numbers, mated=cut.fit is not None)
    rows = [(plain_name(cut.found.name), shift)]
    rows += [
        (plain_name(item.name), item.shift)
        for item in answer.check.features
        if item.shift is not None and item.name != cut.found.name
    ]
    left = [picture("next-twenty", here, drawn)]
    planned = () if cut.fit is None else cut.fit.planned_cuts
    right = [
        *(_enter_first(answer, cut, item, numbers) for item in planned),
        _enter(answer, cut, shift, after=bool(planned)),
    ]
    clear = picture("leave-alone", here, leave_alone(rows, answer.numbers()))
    come_about = _come_about(answer, cut, shift, numbers)
    # Two panels to enter are as tall as the first picture: the second then stands beside the table.
    body = (
        [columns(left, right), columns([come_about], [clear])]
        if planned
        else [columns(left, [*right, clear]), come_about]
    )
    return Page(
        question=f"How much should the next {plural(name)} change?",
        answer=shift_answer(cut.found.name, shift, numbers),
        reasons=[shift.reason, *(item.words for item in planned)],
        word="leave it alone" if shift.leave_alone else "shift",
        choosers=choosers,
        body=body,
        job=answer.check.job,
    )


def _for_which(answer: Answer, address: Address, cut: Cut) -> Any:
    fits = [fit for fit in answer.check.fits if fit.cut_next == cut.found.name]
    options = [(plain_name(fit.name), address.to(feature=cut.found.name, fit=fit.name)) for fit in fits]
    return chooser("to suit", options, "" if cut.fit is None else plain_name(cut.fit.name))


def _cannot(answer: Answer, address: Address, cut: Cut, choosers: list[Any]) -> Page:
    name = plain_name(cut.found.name)
    why = cut.found.reasons.get("shift") or cut.found.reasons.get("sizes") or f"no {name} is measured"
    fits = [fit for fit in answer.check.fits if fit.cut_next == cut.found.name and fit.cut_to is not None]
    numbers, measured = answer.numbers(cut.found.name), cut.found.sizes is not None
    body: list[Any] = []
    if fits:
        aim, target = f"{numbers.size(fits[0].cut_to or 0.0)} {numbers.unit}", fits[0].best_target
        words = [first_up(fits[0].unmade_words)]
        if target is not None:
            window = (
                f"Anywhere from {numbers.size(target.window[0])} to {numbers.size(target.window[1])}"
                " loses at most 1 % of the good assemblies"
            )
            share_good = chance_words(target.share_good)
            mates = count(target.n_mates, "mate")
            words.append(
                f"{window}; {share_good} are expected good with the {mates} measured." if measured else f"{window}."
            )
        body.append(
            panel(
                f"{'Aim the next' if measured else 'Cut the first'} {plural(name)} {'at' if measured else 'to'} {aim}",
                *(html.P(typeset(text), className="reason") for text in words if text),
            )
        )
    body.append(
        empty("What is missing", why, links=[("log readings", address.to(page="log", feature=cut.found.name).href)])
    )
    said = "Cannot say yet."
    if fits:
        said = f"Cannot say by how much; aim the next {plural(name)} at {aim}."
        if not measured:
            said = f"Cut the first {plural(name)} to {aim}."
    return Page(
        question=f"How much should the next {plural(name)} change?",
        answer=said,
        reasons=[why],
        word="cannot say",
        choosers=choosers,
        body=body,
        job=answer.check.job,
    )


def machine_number(answer: Answer, cut: Cut, value: float) -> str:
    """Return a length as the machine takes it: in the job's own unit, in whole steps of the machine."""
    own = convert(value, answer.unit, answer.own_unit)
    step = answer.job.features[cut.found.name].machine.increment
    least, finest = (4, 5) if answer.own_unit == "in" else (3, 4)
    decimals = finest if step is None else max(least, decimals_of(convert(step, answer.unit, answer.own_unit)))
    return format_number(own, decimals, signed=True, minus=MINUS)


def _how_entered(answer: Answer, cut: Cut) -> str:
    """Say on what, in what unit, which way and in what steps the machine takes a number."""
    machine = answer.job.features[cut.found.name].machine
    step = (
        ""
        if machine.increment is None
        else f"; it steps in {machine_number(answer, cut, machine.increment).lstrip('+')}"
    )
    on = entered_on(answer.job.features[cut.found.name])
    return f"On the {on}, {LONG_WORD[answer.own_unit]}; plus makes the part {machine.plus_makes}{step}."


def _enter_first(answer: Answer, cut: Cut, planned: PlannedCut, numbers: Numbers) -> html.Section:
    """Return what is entered for the new pieces of the plan: they are cut before any other batch."""
    name = plain_name(cut.found.name)
    return panel(
        f"First, {count(planned.pieces, f'new {name}')} of the plan",
        html.P(machine_number(answer, cut, planned.offset), className="big"),
        html.P(
            typeset(
                f"to come out at {numbers.size(planned.size)} {numbers.unit}, counted from how the machine stands now."
                if planned.offset
                else f"The machine stands right for {numbers.size(planned.size)} {numbers.unit}: enter nothing."
            )
        ),
        how=_how_entered(answer, cut),
    )


def _enter(answer: Answer, cut: Cut, shift: Shift, after: bool = False) -> html.Section:
    """Return what is entered for the next batch; ``after`` the new pieces of a plan, where one makes them."""
    machine = answer.job.features[cut.found.name].machine
    how = _how_entered(answer, cut)
    words = machine_words(machine)
    usual = [html.P(typeset(words), className="how")] if words else []
    if shift.leave_alone or shift.offset is None:
        return panel(
            "For a batch after them, nothing" if after else "Enter nothing",
            html.P(machine_number(answer, cut, 0.0), className="big"),
            html.P(
                typeset(
                    f"Anything within {answer.numbers(cut.found.name).off(shift.noise, signed=False)}"
                    f" {answer.numbers(cut.found.name).small} of the aim is noise here."
                    " Measure the next pieces and look again."
                )
            ),
            *usual,
            how=how,
        )
    return panel(
        "For a batch after them" if after else "Enter at the machine",
        html.P(machine_number(answer, cut, shift.offset), className="big"),
        html.P(
            f"{'counted from how the machine stands now too' if after else 'on top of what is entered now'}."
            " Take the next piece out and measure it before going on."
        ),
        html.Div(
            touched_button(
                answer,
                cut.found,
                "offset_change",
                "note that it is entered",
                amount=convert(shift.change, answer.unit, answer.own_unit),
                strong=True,
            ),
            className="buttons",
        ),
        *usual,
        how=how,
    )


def _sides(fit: FitCheck) -> str:
    return f"{plain_name(fit.internal)} minus {plain_name(fit.external)}"


def _come_about(answer: Answer, cut: Cut, shift: Shift, numbers: Numbers) -> html.Section:
    """Return how the shift comes about, line by line."""
    name, base = plain_name(cut.found.name), numbers.base(cut.found.nominal)
    mean = shift.target + shift.bias.estimate
    since = f" since the last {shift.last_event}" if shift.last_event else ""
    rows: list[list[Any]] = [
        [
            f"mean of the {plural(name)}",
            numbers.size(mean),
            numbers.off(mean, base),
            f"{count(shift.n, 'piece')}{since}",
        ],
    ]
    if cut.fit is not None:
        other = cut.fit.internal if cut.found.name == cut.fit.external else cut.fit.external
        mates = answer.check.feature(other).sizes
        if mates is not None:
            middle = float(mates.size.mean())
            rows.append(
                [
                    f"mean of the {plural(plain_name(other))}",
                    numbers.size(middle),
                    numbers.off(middle, base),
                    count(len(mates), "piece"),
                ]
            )
        if cut.fit.target is not None:
            rows.append(["gap wanted", numbers.size(cut.fit.target), numbers.off(cut.fit.target), _sides(cut.fit)])
    rows.append(
        [
            "size aimed at",
            numbers.size(shift.target),
            numbers.off(shift.target, base),
            "most good assemblies" if cut.fit is not None else "target of the part",
        ]
    )
    if shift.wear_off:
        rows.append(
            [
                "for wear until the next look",
                numbers.size(shift.wear_off, signed=True),
                numbers.off(shift.wear_off),
                "half of it is aimed off",
            ]
        )
    if shift.aim_off:
        rows.append(
            [
                "to the side that costs less",
                numbers.size(shift.aim_off, signed=True),
                numbers.off(shift.aim_off),
                "an error there costs less",
            ]
        )
    low, high = shift.shift.low, shift.shift.high
    stepped = answer.job.features[cut.found.name].machine.increment is not None
    entered = (
        "left alone"
        if shift.leave_alone
        else "whole machine steps"
        if stepped
        else "as wanted; no machine step is stated"
    )
    rows += [
        [
            "shift wanted",
            numbers.size(shift.shift.estimate, signed=True),
            numbers.off(shift.shift.estimate),
            f"95 %: between {numbers.off(low)} and {numbers.off(high)}",
        ],
        [
            "noise",
            numbers.size(shift.noise),
            numbers.off(shift.noise, signed=False),
            "its direction is not sure up to here",
        ],
        [
            "shift to enter",
            numbers.size(shift.change, signed=True),
            numbers.off(shift.change),
            entered,
        ],
    ]
    if shift.within_before is not None and shift.within_after is not None:
        rows.append(
            [
                f"next pieces that {shift.within}",
                "",
                "",
                f"{chance_words(shift.within_before)} as it is, {chance_words(shift.within_after)} after",
            ]
        )
    heads = [
        Column(""),
        Column(f"size, {numbers.unit}", number=True, wide=True),
        Column(numbers.small, number=True, strong=True),
        Column("where from"),
    ]
    title = "Why it is left alone" if shift.leave_alone else "How the shift comes about"
    return panel(
        title,
        table(heads, rows, label="how the shift comes about"),
        how=f"{numbers.from_base(base).capitalize()}; differences as they are.",
    )
