"""What is the cheapest way to enough good assemblies: the ways side by side, the work, and what if."""

from __future__ import annotations

import re
from typing import Any

from dash import html

from dashboard.figures.numbers import typeset
from dashboard.figures.ways import PLANNED, Way, money, risk_words, way_names, ways_of, ways_picture
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.at_once import cut_words, plan_gap, plan_sides
from dashboard.parts.badge import GO
from dashboard.parts.chosen_way import WORD_OF, chosen_way, word_of
from dashboard.parts.panels import Page, chooser, columns, empty, panel, picture
from dashboard.parts.sentences import first_sentence, fit_answer, sentence
from dashboard.parts.tables import Column, table
from dashboard.parts.trays import trays_panel
from dashboard.parts.what_if import Idea, fit_if, ideas_of
from tracker.decide import Alternative, Plan
from tracker.decide.edges import AS_IS, NOT_MADE
from tracker.decide.words import count, number_word, plural, share
from tracker.fit.press_cautions import ALWAYS
from tracker.judge import FitCheck, plain_name
from tracker.judge.words import plain_fault

QUESTION = "What is the cheapest way to enough good assemblies?"
MOST_PAIRS = 200


def page(answer: Answer, address: Address) -> Page:
    """Return the page of the plan of one fit."""
    own = answer.fit(address.fit)
    if own is None:
        return Page(
            question=QUESTION,
            answer="Cannot say: this job states no fit.",
            word="cannot say",
            job=answer.check.job,
            body=[empty("No fit is stated", answer.check.verdict.action)],
        )
    here = address.to(fit=own.name)
    options = [(plain_name(item.name), address.to(fit=item.name)) for item in answer.check.fits]
    choosers = [chooser("fit", options, plain_name(own.name))]
    fit = fit_if(answer, own, address.ideas)
    if fit.do_not_press:
        return Page(
            question=QUESTION,
            answer=fit_answer(fit),
            reasons=[fit.verdict.reason],
            word=fit.verdict.word,
            choosers=choosers,
            job=answer.check.job,
            body=[empty("No plan before this is settled", fit.verdict.action)],
        )
    if fit.plan is None:
        why = fit.reasons.get("plan") or fit.verdict.reason
        return Page(
            question=QUESTION,
            answer="Cannot say yet.",
            reasons=[why],
            word="cannot say",
            choosers=choosers,
            job=answer.check.job,
            body=[
                empty(
                    "What is missing",
                    "A plan weighs the pieces of both sides, so both must be measured.",
                    links=[("log readings", here.to(page="log").href)],
                )
            ],
        )
    plan = fit.plan
    asked = 1 - plan.assurance
    ways = ways_of(fit)
    chosen = chosen_way(fit, plan, asked)
    changed = [idea for idea in ideas_of(answer.job, fit, address.ideas) if idea.tried]
    drawn = ways_picture(ways, plan.wanted, asked, chosen=way_names(fit)[chosen.name])
    left = [picture("ways", here, drawn), _table(fit, plan, ways, chosen)]
    right = [_work(fit, plan, chosen, here)]
    listed = _listed(answer, fit, plan, chosen)
    said, reasons = _answer(fit, plan, chosen, asked)
    return Page(
        question=QUESTION if not changed else f"{QUESTION} With other figures than the job's.",
        answer=said,
        reasons=reasons,
        word=fit.verdict.word,
        choosers=choosers,
        body=[columns(left, right), _what_if(answer, fit, here), *([] if listed is None else [listed])],
        job=answer.check.job,
        foot=_foot(fit, plan),
    )


def _answer(fit: FitCheck, plan: Plan, chosen: Alternative, asked: float) -> tuple[str, list[str]]:
    """Return the answer and its reasons: the verdict of the fit leads, a way that differs stands beneath it."""
    said, why = _said(fit, plan, chosen, asked), _reason(plan, chosen, asked)
    if fit.verdict.word == "measure better":
        beneath = f"If it is not measured again: {said[:1].lower()}{said[1:]} {why}"
        return first_sentence(fit.verdict.action), [fit.verdict.reason, beneath]
    if chosen.risk <= asked and word_of(plan, chosen) == fit.verdict.word:
        return said, [why]
    if fit.verdict.word not in GO and chosen.risk > asked:
        return said, [why]
    return fit_answer(fit), [f"What it costs points another way: {said[:1].lower()}{said[1:]} {why}"]


def _said(fit: FitCheck, plan: Plan, chosen: Alternative, asked: float) -> str:
    if chosen.risk > asked:
        return f"No way is sure enough; the best of them risks {risk_words(chosen.risk)}."
    new = count(plan.remade, "piece") if plan.remade and chosen.name == PLANNED else ""
    again = count(plan.reworked, "piece") if plan.reworked and chosen.name == PLANNED else ""
    first = " and ".join(
        part
        for part in (f"make {new.replace('piece', 'new piece')}" if new else "", f"rework {again}" if again else "")
        if part
    )
    then = {
        "press in any order": "press in any order",
        "pair": "press in pairs",
        "sort into classes": "press from trays",
        PLANNED: "press as listed",
    }[chosen.name]
    words = f"{first}, then {then}" if first else then
    return f"{words[:1].upper()}{words[1:]}: it costs {money(chosen.cost)}."


def _reason(plan: Plan, chosen: Alternative, asked: float) -> str:
    others = [item for item in plan.alternatives if item.cost > chosen.cost * 1.02]
    dearest = max(others, key=lambda item: item.cost) if others else None
    words = (
        f"{chosen.expected_good:.1f} of {plan.wanted} are expected good, and the risk of spoiling one is"
        f" {risk_words(chosen.risk)}; {share(asked)} is allowed."
    )
    if dearest is not None:
        words += f" The dearest way costs {money(dearest.cost)}."
    return f"{words} {plan.left_out}" if plan.left_out and chosen.name == PLANNED else words


def _table(fit: FitCheck, plan: Plan, ways: list[Way], chosen: Alternative) -> html.Section:
    timed = any(item.minutes is not None for item in plan.alternatives)
    heads = [
        Column("way", strong=True),
        Column("cost", number=True, strong=True),
        *([Column("minutes", number=True)] if timed else []),
        Column(f"good of {plan.wanted}", number=True),
        Column("risk of spoiling one", number=True),
        Column("what it means", wide=True),
    ]
    rows, looks = [], []
    order = sorted(zip(plan.alternatives, ways), key=lambda pair: pair[0].cost)
    for item, way in order:
        flag: list[Any] = [html.Span("too much", className="flag"), " "] if not way.safe else []
        rows.append(
            [
                html.Span([way.name, html.Span(", chosen", className="quiet")] if item is chosen else way.name),
                money(item.cost),
                *([f"{item.minutes:.0f}" if item.minutes is not None else "not stated"] if timed else []),
                f"{item.expected_good:.1f}",
                html.Span([*flag, typeset(risk_words(item.risk))]),
                _named(item.words, fit),
            ]
        )
        looks.append("chosen" if item is chosen else "")
    good = sum(way.safe for way in ways)
    verb = "keeps" if good == 1 else "keep"
    title = (
        f"{number_word(good).capitalize()} of {number_word(len(ways))} ways {verb} the risk asked"
        if good
        else "No way keeps the risk asked"
    )
    return panel(
        title,
        table(heads, rows, label="ways to go on", looks=looks),
        how="Cost is the work, and each assembly spoiled or left unmade at its chance.",
    )


def _steps(fit: FitCheck, plan: Plan, chosen: Alternative) -> list[str]:
    """Return what to do, of the chosen way only."""
    if chosen.name == "press in any order":
        return [f"Press {count(chosen.pressed, 'assembly', 'assemblies')} in any order."]
    if chosen.name == "pair":
        return [f"Press {'all ' if chosen.pressed > 1 else ''}{count(chosen.pressed, 'pair')} as listed."]
    if chosen.name == "sort into classes":
        trays = f" into {count(len(fit.classes.labels), 'tray')} a side" if fit.classes is not None else ""
        return [f"Sort both batches{trays}.", "Press within a tray: there any goes into any."]
    return list(plan.work)


def _sheet_note(fit: FitCheck, chosen: Alternative, here: Address) -> str:
    """Return what to say beside the button where the sheet lists other pairs than this page."""
    if here.ideas:
        return "The sheet goes by the job's own figures, not by those tried here."
    if fit.verdict.word == "measure better":
        return "The sheet holds the pairs as measured until it is measured again, and says not to press yet."
    if WORD_OF.get(chosen.name, fit.verdict.word) != fit.verdict.word:
        return "The sheet goes by the verdict."
    return ""


def _work(fit: FitCheck, plan: Plan, chosen: Alternative, here: Address) -> html.Section:
    lines = _steps(fit, plan, chosen)
    steps = html.Ol([html.Li(typeset(sentence(line))) for line in lines], className="steps")
    said = [
        plain_fault(line.replace("; state make_sd", ""))
        for line in plan.remarks
        if not line.startswith("Assumed costs")
    ]
    notes = [html.P(typeset(_named(line, fit)), className="how") for line in said]
    if plan.not_made and chosen.name == PLANNED:
        notes.append(
            html.P(f"{count(plan.not_made, 'assembly', 'assemblies')} not made: nothing pays.", className="how")
        )
    beside = _sheet_note(fit, chosen, here)
    if beside:
        notes.append(html.P(beside, className="how"))
    title = f"{number_word(len(lines)).capitalize()} {'step' if len(lines) == 1 else 'steps'} of work"
    sheet = html.A("press bench sheet", href=here.to(page="sheets", sheet="bench", ideas=()).href, className="button")
    return panel(title, steps, *notes, *_cautions(fit), html.Div(sheet, className="buttons"))


def _cautions(fit: FitCheck) -> list[html.Div]:
    """Return the usual cautions where parts are pressed with force."""
    if fit.gap_lower is not None and fit.gap_lower >= 0:
        return []
    lines = [html.Li(typeset(line)) for line in ALWAYS]
    return [html.Div([html.H3("Before you press"), html.Ul(lines)], className="caution")]


def _what_if(answer: Answer, fit: FitCheck, here: Address) -> html.Section:
    ideas = ideas_of(answer.job, fit, here.ideas)
    rooms = [_idea(idea) for idea in ideas]
    tried = [idea for idea in ideas if idea.tried]
    title = "What if the costs were others" if not tried else f"{count(len(tried), 'figure').capitalize()} tried"
    back = [
        html.Div(html.A("back to the job's own", href=here.to(ideas=()).href, className="button"), className="buttons")
    ]
    return panel(
        title,
        html.Div(rooms, className="ideas"),
        *(back if tried else []),
        how="Nothing is kept: the address of this page holds what is tried, and can be sent.",
    )


def _idea(idea: Idea) -> html.Div:
    own = "the job does not say" if idea.own is None else f"the job says {idea.own:g} {idea.unit}".strip()
    state = "not done; a figure here tries it" if idea.value is None else own
    if idea.own is None and idea.value is not None and not idea.tried:
        state = "assumed"
    return html.Div(
        id=f"idea-{idea.name}",
        className="idea tried" if idea.tried else "idea",
        **{
            "data-idea": idea.name,
            "data-words": idea.words,
            "data-state": state,
            "data-unit": idea.unit,
            "data-value": "" if idea.value is None else f"{idea.value:g}",
            "data-low": f"{idea.low:g}",
            "data-high": f"{idea.high:g}",
            "data-step": f"{idea.step:g}",
        },
    )


def _listed(answer: Answer, fit: FitCheck, plan: Plan, chosen: Alternative) -> html.Section | None:
    """Return what the chosen way puts together: trays, the pairs as measured, or those of the plan."""
    if chosen.name == "press in any order":
        return None
    if chosen.name == "sort into classes" and fit.classes is not None:
        return trays_panel(fit, fit.classes, answer.numbers(fit.internal, fit.external))
    if chosen.name == "pair":
        return _as_measured(answer, fit)
    return _pairs(answer, fit, plan)


def _as_measured(answer: Answer, fit: FitCheck) -> html.Section:
    """Return the pairs that the bench sheet lists, pieces as they are."""
    numbers = answer.numbers(fit.internal, fit.external)
    rows = [
        [
            row.internal,
            row.external,
            numbers.off(row.gap),
            html.Span("measure again", className="flag") if row.near else "",
        ]
        for row in fit.pairs[:MOST_PAIRS]
    ]
    heads = [
        Column(plain_name(fit.internal), strong=True),
        Column(plain_name(fit.external), strong=True),
        Column(f"gap, {numbers.small}", number=True),
        Column("", wide=True),
    ]
    more = "" if len(fit.pairs) <= MOST_PAIRS else f" The first {MOST_PAIRS} of {len(fit.pairs)}."
    return panel(
        f"{count(len(fit.pairs), 'pair').capitalize()}, all from what is there",
        table(heads, rows, label="pairs to press"),
        how=f"The very pairs of Fit and of the bench sheet; gaps as the pieces read.{more}",
    )


def _pairs(answer: Answer, fit: FitCheck, plan: Plan) -> html.Section:
    """Return the assemblies of the plan, one a line: what goes into what, and what is done before."""
    numbers = answer.numbers(fit.internal, fit.external)
    names, pieces = plan_sides(answer, fit)
    made = [pair for pair in plan.pairs if pair.way != NOT_MADE]

    def piece(index: int | None, side: int) -> str:
        return "new" if index is None else pieces[side][index]

    rows = [
        [
            piece(pair.internal, 0),
            piece(pair.external, 1),
            html.Span(_named(pair.way, fit), className="" if pair.way == AS_IS else "flag"),
            cut_words(pair, numbers),
            "" if gap is None else numbers.off(gap),
            risk_words(1 - pair.chance),
        ]
        for pair in made[:MOST_PAIRS]
        for gap in [plan_gap(answer, fit, pair)]
    ]
    heads = [
        Column(names[0], strong=True),
        Column(names[1], strong=True),
        Column("what is done"),
        Column(f"cut to, {numbers.unit}", number=True),
        Column(f"gap, {numbers.small}", number=True),
        Column("risk", number=True, wide=True),
    ]
    work = sum(pair.way != AS_IS for pair in made)
    verb = "needs" if work == 1 else "need"
    title = (
        f"{count(work, 'assembly', 'assemblies').capitalize()} of {len(made)} {verb} work first"
        if work
        else f"{count(len(made), 'assembly', 'assemblies').capitalize()}, all from what is there"
    )
    more = "" if len(made) <= MOST_PAIRS else f" The first {MOST_PAIRS} of {len(made)}."
    return panel(
        title,
        table(heads, rows, label="assemblies of the plan"),
        how="The plan, assembly by assembly. A gap is the likeliest one: sizes are drawn toward the batch mean as"
        f" far as the gauge leaves them in doubt; on Fit they are as read.{more}",
    )


def _foot(fit: FitCheck, plan: Plan) -> str:
    inner, outer = plain_name(fit.internal), plain_name(fit.external)
    costs = _named(str(plan.prices), fit)
    return f"From {count(plan.n_internal, inner)} and {count(plan.n_external, outer)}; {plan.method}. {costs}"


def _named(words: str, fit: FitCheck) -> str:
    """Return words with the names of the parts in place of the sides."""
    for side, name in (("internal", plain_name(fit.internal)), ("external", plain_name(fit.external))):
        words = words.replace(f"{side} pieces", f"{plural(name)}").replace(f"{side} piece", name)
        words = re.sub(rf"\b{side}\b", name, words)
    return words.replace("spoiled_assembly", "spoiled assembly")
