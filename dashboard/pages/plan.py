"""What is the cheapest way to enough good assemblies: the ways side by side, the work, and what if."""

from __future__ import annotations

import re
from typing import Any

from dash import html

from dashboard.figures.numbers import typeset
from dashboard.figures.ways import PLANNED, Way, money, risk_words, ways_of, ways_picture
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.at_once import cut_words, plan_gap, plan_sides
from dashboard.parts.badge import GO
from dashboard.parts.panels import Page, chooser, columns, empty, panel, picture
from dashboard.parts.sentences import sentence
from dashboard.parts.tables import Column, table
from dashboard.parts.what_if import Idea, fit_if, ideas_of
from tracker.decide import Alternative, Plan
from tracker.decide.edges import AS_IS
from tracker.decide.words import count, number_word, share
from tracker.fit.press_cautions import ALWAYS
from tracker.judge import FitCheck, plain_name
from tracker.judge.words import plain_fault

QUESTION = "What is the cheapest way to enough good assemblies?"
PLAIN = ("press in any order", "pair", "sort into classes")
WORD_OF = {"press in any order": "press as they come", "pair": "pair", "sort into classes": "sort"}
AS_CHEAP, NEARLY = 1.005, 1.05
"""A plainer way counts as being as cheap as the plan up to the first; the way the verdict names, up to the second."""
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
    left = [picture("ways", here, ways_picture(ways, plan.wanted, asked)), _table(fit, plan, ways, chosen)]
    right = [_work(fit, plan, here)]
    return Page(
        question=QUESTION if not changed else f"{QUESTION} With other figures than the job's.",
        answer=_said(fit, plan, chosen, asked),
        reasons=[_reason(plan, chosen, asked)],
        word=_word(fit, plan, chosen, asked),
        choosers=choosers,
        body=[columns(left, right), _what_if(answer, fit, here), _pairs(answer, fit, plan)],
        job=answer.check.job,
        foot=_foot(fit, plan),
    )


def chosen_way(fit: FitCheck, plan: Plan, asked: float) -> Alternative:
    """Return the way the verdict names if it costs hardly more than the plan, the plainest as cheap, or the plan."""
    by_name = {item.name: item for item in plan.alternatives}
    best = by_name[PLANNED]
    for name in (*[way for way, word in WORD_OF.items() if word == fit.verdict.word], *PLAIN):
        item = by_name.get(name)
        most = best.cost * (NEARLY if WORD_OF[name] == fit.verdict.word else AS_CHEAP)
        if item is not None and item.cost <= most and (item.risk <= asked or item.risk <= best.risk):
            return item
    return best


def _word(fit: FitCheck, plan: Plan, chosen: Alternative, asked: float) -> str:
    if chosen.risk > asked:
        return fit.verdict.word if fit.verdict.word not in GO else "cannot say"
    if chosen.assemblies > chosen.pressed or (chosen.name == PLANNED and plan.remade):
        return "remake"
    if chosen.name == PLANNED and plan.reworked:
        return "rework"
    return WORD_OF.get(chosen.name, "pair")


def _said(fit: FitCheck, plan: Plan, chosen: Alternative, asked: float) -> str:
    if chosen.risk > asked:
        return f"No way is sure enough; the best of them risks {risk_words(chosen.risk)}."
    made = plan.remade if chosen.name == PLANNED else chosen.assemblies - chosen.pressed
    new = count(made, "piece") if made else ""
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
    return words


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


def _work(fit: FitCheck, plan: Plan, here: Address) -> html.Section:
    lines = [*plan.work, *[str(item.pieces) for item in plan.to_make if item.pieces.number > item.pieces.wanted]]
    steps = html.Ol([html.Li(typeset(sentence(line))) for line in lines], className="steps")
    said = [
        plain_fault(line.replace("; state make_sd", ""))
        for line in plan.remarks
        if not line.startswith("Assumed costs")
    ]
    notes = [html.P(typeset(_named(line, fit)), className="how") for line in said]
    if plan.not_made:
        notes.append(
            html.P(f"{count(plan.not_made, 'assembly', 'assemblies')} not made: nothing pays.", className="how")
        )
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


def _pairs(answer: Answer, fit: FitCheck, plan: Plan) -> html.Section:
    """Return the assemblies of the plan, one a line: what goes into what, and what is done before."""
    numbers = answer.numbers(fit.internal, fit.external)
    names, pieces = plan_sides(answer, fit)

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
        for pair in plan.pairs[:MOST_PAIRS]
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
    work = sum(pair.way != AS_IS for pair in plan.pairs)
    verb = "needs" if work == 1 else "need"
    title = (
        f"{count(work, 'assembly', 'assemblies').capitalize()} of {len(plan.pairs)} {verb} work first"
        if work
        else f"{count(len(plan.pairs), 'assembly', 'assemblies').capitalize()}, all from what is there"
    )
    more = "" if len(plan.pairs) <= MOST_PAIRS else f" The first {MOST_PAIRS} of {len(plan.pairs)}."
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
        words = words.replace(f"{side} pieces", f"{name}s").replace(f"{side} piece", name)
        words = re.sub(rf"\b{side}\b", name, words)
    return words.replace("spoiled_assembly", "spoiled assembly")
