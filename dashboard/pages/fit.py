"""Will it go together: both batches and the gap between, the ways to put them together, the pairs."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from dash import html

from dashboard.figures.numbers import Numbers, typeset
from dashboard.figures.two_batches import two_batches
from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.at_once import assembly_of, at_once_panel, cut_words, plan_gap, plan_sides
from dashboard.parts.badge import glyph
from dashboard.parts.panels import Page, chooser, columns, empty, facts, panel, picture
from dashboard.parts.sentences import fit_answer, sentence
from dashboard.parts.tables import Column, give, rails_for, rung, rung_head, sizes_cells, table
from dashboard.parts.trays import trays_panel
from dashboard.sheets.closures import closures_said
from tracker.decide import Plan
from tracker.decide.words import count, first_up, number_word, plural
from tracker.fit.press_results import HEAT_AND_COLD, PressFit
from tracker.judge import AssemblyCheck, FeatureCheck, FitCheck, PairRow, plain_name
from tracker.judge.text import chance_words

COVERAGE = 1.96
MOST_PAIRS = 200
MOST_BEADS = 24
WHAT = {"classes": "trays", "best_target": "the size to aim at", "shift": "the next cut", "chance": "the chances"}


def page(answer: Answer, address: Address) -> Page:
    """Return the page of one fit."""
    fit = answer.fit(address.fit)
    if fit is None and answer.check.closures:
        return _only_sums(answer, address)
    if fit is None:
        return Page(
            question="Will it go together?",
            answer="Cannot say: this job states no fit.",
            word="cannot say",
            reasons=[answer.check.verdict.reason],
            job=answer.check.job,
            body=[empty("No fit is stated", answer.check.verdict.action)],
        )
    inner, outer = answer.check.feature(fit.internal), answer.check.feature(fit.external)
    numbers = answer.numbers(fit.internal, fit.external)
    here = address.to(fit=fit.name)
    options = [(plain_name(item.name), address.to(fit=item.name)) for item in answer.check.fits]
    left: list[Any] = [picture("batches", here, two_batches(fit, inner, outer, numbers))]
    right = [part for part in (_ways(fit, assembly_of(answer, fit)), _missing(fit)) if part is not None]
    joint = _joint(answer, fit)
    body: list[Any] = [columns(left, right)]
    if fit.verdict.word == "sort" and fit.classes is not None:
        body.append(trays_panel(fit, fit.classes, numbers))
    if fit.pairs:
        body.append(_pairs(fit, inner.nominal, _common(inner, outer), numbers))
    besides = at_once_panel(answer, fit)
    if besides is not None:
        body.append(besides)
    if fit.plan is not None and fit.verdict.word in ("rework", "remake"):
        body.append(_plan(answer, fit, fit.plan, numbers))
    if fit.left_over:
        body.append(_left_over(fit))
    if joint is not None:
        body.append(joint)
    if answer.check.closures:
        body.append(_sums(answer, address))
    return Page(
        question=f"Will the {plural(plain_name(fit.external))} go into the {plural(plain_name(fit.internal))}?",
        answer=fit_answer(fit),
        reasons=[fit.verdict.reason, _do(fit), *([first_up(fit.unmade_words)] if fit.unmade_words else [])],
        word=fit.verdict.word,
        choosers=[chooser("fit", options, plain_name(fit.name))],
        body=body,
        job=answer.check.job,
        foot=_foot(answer),
    )


def _only_sums(answer: Answer, address: Address) -> Page:
    """Return the page of a job that states sums of lengths and no fit."""
    first = answer.check.closures[0]
    return Page(
        question="Will it go together?",
        answer=closures_said(answer),
        reasons=[first.verdict.reason, first.verdict.action],
        word=first.verdict.word,
        body=[_sums(answer, address)],
        job=answer.check.job,
        foot=_foot(answer),
    )


def _sums(answer: Answer, address: Address) -> html.Section:
    """Return the sums of lengths that the job asks for, each with its limits, what it comes to and what to do."""
    rows = []
    for item in answer.check.closures:
        numbers, found = Numbers(answer.unit, item.step), item.result
        ends = ["open" if end is None else numbers.size(end) for end in (item.lower, item.upper)]
        low, high = (None, None) if found is None else (found.worst_case.low, found.worst_case.high)
        rows.append(
            [
                plain_name(item.name),
                f"{ends[0]} to {ends[1]}",
                "" if low is None or high is None else f"{numbers.size(low)} to {numbers.size(high)}",
                item.verdict.word,
                typeset(f"{item.verdict.reason} {item.verdict.action}"),
            ]
        )
    heads = [
        Column("sum", strong=True),
        Column(f"limits, {answer.unit}", number=True, wide=True),
        Column(f"with these pieces, {answer.unit}", number=True, wide=True),
        Column("verdict", strong=True),
        Column("why, and what to do"),
    ]
    sheet = html.A("which pieces together", href=address.to(page="sheets", sheet="closures").href, className="button")
    many = count(len(rows), "sum")
    return panel(
        f"{many.capitalize()} of lengths {'is' if len(rows) == 1 else 'are'} asked for",
        table(heads, rows, label="sums of lengths"),
        html.Div(sheet, className="buttons"),
        how="Whichever pieces meet; the drawing's limits stand in for what is not measured.",
    )


def _do(fit: FitCheck) -> str:
    return fit.verdict.action if fit.verdict.word not in ("remake", "rework") else _rest(fit.verdict.action)


def _rest(action: str) -> str:
    """Return all but the first sentence, which the answer says already."""
    return action.partition(". ")[2]


def _foot(answer: Answer) -> str:
    readings = answer.check.readings
    words = f"{readings.good} readings count"
    if readings.suspect:
        words += f", {readings.suspect} are held back until they are answered on Log"
    return f"{words}. Fingerprint of the readings {readings.fingerprint[:16]}."


def _ways(fit: FitCheck, assembly: AssemblyCheck | None) -> html.Section | None:
    """Return the ways to put the pieces together, each with what it is expected to give."""
    if fit.chance is None or fit.pairing is None:
        return None
    wanted = min(fit.chance.n_internal, fit.chance.n_external)
    paired = float(np.sum(fit.pairing.chance_each)) if fit.pairing.good else 0.0
    short = wanted - fit.pairing.good
    sure = 0.0 if short else float(fit.pairing.chance_all or 0.0)
    ways = [
        (
            "pair",
            "Paired",
            paired,
            f"{count(short, 'piece')} left without a mate" if short else f"all {wanted} hold: {chance_words(sure)}",
        )
    ]
    if fit.classes is not None:
        ways.append(
            (
                "sort",
                count(len(fit.classes.labels), "tray").capitalize(),
                fit.classes.expected_good,
                "taken at random within a tray",
            )
        )
    one, every = fit.chance.pair_measured, fit.chance.all_measured
    if assembly is not None and assembly.pair_any is not None and assembly.chance_any is not None:
        wanted, one, every = assembly.wanted, assembly.pair_any, assembly.chance_any
    more = f"all {wanted} hold: {chance_words(every)}"
    ways.append(("press as they come", "Any order", wanted * one, more))
    best = {"press as they come": "press as they come", "pair": "pair", "sort": "sort"}.get(fit.verdict.word)
    cards = [
        _way(word.replace(" ", "-"), name, good, wanted, more, chosen=word == best) for word, name, good, more in ways
    ]
    each = f"{fit.verdict.assurance:.0%}".replace("%", " %")
    return panel(
        _ways_title(fit, wanted, paired),
        html.Div(cards, className="ways"),
        html.P(typeset(f"What would change it: {fit.verdict.what_would_change_it}"), className="how"),
        how=f"Assemblies expected good of {wanted}, the gauge's doubt in it; {each} is asked that all hold.",
    )


def _ways_title(fit: FitCheck, wanted: int, paired: float) -> str:
    word = fit.verdict.word
    if word == "press as they come":
        return "Any order is sure enough"
    if word == "pair":
        return "Only pairing is sure enough"
    if word == "sort":
        return "Trays are sure enough"
    if fit.do_not_press:
        return "By the gap limits alone: what they ask for, a part does not stand"
    return f"As they are, no way makes all {number_word(wanted)} hold"


def _way(sign: str, name: str, good: float, wanted: int, more: str, *, chosen: bool) -> html.Div:
    many = min(wanted, MOST_BEADS)
    misses = round((wanted - good) / wanted * many)
    beads = [html.I(className="miss" if index >= many - misses else "") for index in range(many)]
    return html.Div(
        [
            glyph(sign),
            html.H3(name),
            html.Span([f"{good:.1f}", html.Small(f" of {wanted}")], className="much"),
            html.P(typeset(more), className="more"),
            html.Div(beads, className="beads", **{"aria-hidden": "true"}),
        ],
        className="way chosen" if chosen else "way",
    )


def _joint(answer: Answer, fit: FitCheck) -> html.Section | None:
    """Return the press and the seat, where the job states them."""
    stated = answer.job.fits[fit.name]
    if not stated.press and not stated.seat:
        return None
    press, seat = fit.press, fit.seat
    rows: list[tuple[str, Any]] = []
    title = ""
    if press is not None:
        title = f"Press: {press.ranges['push_force'].text(press.units['force'])}"
        if press.yielding:
            title = "Do not press: a part yields"
        wanted = ("press", "pressure", "holds", "margin", *HEAT_AND_COLD[:2], "in service")
        rows += [(name, typeset(text)) for name, text in press.lines() if name in wanted]
    if seat is not None:
        said = f"stands off {seat.stand_off:.4g} {seat.unit}{', as allowed' if seat.seats else ''}"
        said = said if seat.stand_off else "seats flat"
        rows.append(("shoulder", said))
        title = title or f"The shoulder {said}"
    figures: list[Any] = [facts(rows)] if rows else []
    figures += [
        html.P(typeset(sentence(fit.reasons[key])), className="how") for key in ("press", "seat") if key in fit.reasons
    ]
    over = f"Over {fit.press_over}: elastic figures; friction is the least certain." if press is not None else ""
    return panel(
        title or "Press and seat",
        html.Div([html.Div(figures), *([] if press is None else [_before_pressing(press)])], className="two"),
        how=over,
    )


def _before_pressing(press: PressFit) -> html.Div:
    """Return the cautions: that a part yields and the usual ones open, the rest folded."""
    first, rest = press.first_cautions, press.cautions[len(press.first_cautions) :]
    folded = html.Details(
        [html.Summary("Heat, cold and thin margins"), html.Ul([html.Li(typeset(text)) for text in rest])]
    )
    shown = [html.Li(html.B(typeset(text)) if text in press.yielding else typeset(text)) for text in first]
    parts: list[Any] = [
        html.H3("Do not press before this is settled" if press.yielding else "Before you press"),
        html.Ul(shown),
    ]
    return html.Div([*parts, *([folded] if rest else [])], className="caution")


def _missing(fit: FitCheck) -> html.Section | None:
    """Return what could not be computed, and why."""
    shown = {what: why for what, why in fit.reasons.items() if what != "classes" or fit.assembly is None}
    if not shown:
        return None
    items = [html.Li([html.B(f"{WHAT.get(what, plain_name(what))}: "), typeset(why)]) for what, why in shown.items()]
    return panel("What cannot be said yet", html.Ul(items, className="notes"))


def _half(row: PairRow) -> float:
    return COVERAGE * row.uncertainty


def _pairs(fit: FitCheck, nominal: float, common: float, numbers: Numbers) -> html.Section:
    rows = fit.pairs[:MOST_PAIRS]
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    gaps = [(row.gap, _own(row, common)) for row in rows]
    sway = COVERAGE * common
    rails = rails_for(fit.gap_lower, fit.gap_upper, fit.target, gaps, sway=sway)
    inner = sizes_cells([row.internal_size for row in rows], numbers)
    outer = sizes_cells([row.external_size for row in rows], numbers)
    base = numbers.base(nominal)
    heads = [
        Column(bore, strong=True),
        Column(f"size, {numbers.unit}", number=True, wide=True),
        Column(numbers.small, number=True, wide=True, strong=True, roomy=True),
        Column(shank, strong=True),
        Column(f"size, {numbers.unit}", number=True, wide=True),
        Column(numbers.small, number=True, wide=True, strong=True, roomy=True),
        Column(f"gap, {numbers.small}", number=True, strong=True),
        Column(rung_head(rails, numbers)),
        Column("room to the nearer limit", number=True, wide=True),
        Column("", wide=True),
    ]
    body = [
        [
            row.internal,
            inner[index],
            numbers.off(row.internal_size, base),
            row.external,
            outer[index],
            numbers.off(row.external_size, base),
            numbers.off(row.gap),
            rung(rails, row.gap, _own(row, common), _form(row, fit), _says(row, numbers)),
            give(numbers.off(row.margin, signed=False), numbers.off(_half(row), signed=False)),
            html.Span("measure again", className="flag") if row.near else "",
        ]
        for index, row in enumerate(rows)
    ]
    more = "" if len(fit.pairs) <= MOST_PAIRS else f" The first {MOST_PAIRS} of {len(fit.pairs)} pairs."
    return panel(
        _pairs_title(fit),
        table(heads, body, label=f"which {shank} goes into which {bore}"),
        how=_how_read(numbers, base, sway) + more,
    )


def _own(row: PairRow, common: float) -> float:
    """Return half the 95 % interval of one gap, without what all of them share."""
    return COVERAGE * math.sqrt(max(row.uncertainty**2 - common**2, 0.0))


def _common(inner: FeatureCheck, outer: FeatureCheck) -> float:
    """Return the standard uncertainty that all gaps share: calibration and temperature of both sides."""
    return math.hypot(*(0.0 if side.sizes is None else side.sizes.common_uncertainty for side in (inner, outer)))


def _how_read(numbers: Numbers, base: float, sway: float) -> str:
    words = f"One rung a pair; {numbers.from_base(base)}."
    if numbers.off(sway, signed=False) == numbers.off(0.0, signed=False):
        return f"{words} The whisker is 95 %; half filled: it passes the limit."
    return (
        f"{words} The whisker is what each pair may be off by itself, the band at a limit what all pairs share"
        f" (calibration, temperature: ±{numbers.off(sway, signed=False)}, it moves them together), both 95 %;"
        " half filled: the two together pass the limit."
    )


def _form(row: PairRow, fit: FitCheck) -> str:
    under = fit.gap_lower is not None and row.gap < fit.gap_lower
    over = fit.gap_upper is not None and row.gap > fit.gap_upper
    return "struck" if under or over else "half" if row.near else "full"


def _says(row: PairRow, numbers: Numbers) -> str:
    return f"gap {numbers.off(row.gap)} ± {numbers.off(_half(row), signed=False)} {numbers.small}"


def _pairs_title(fit: FitCheck) -> str:
    near = [row for row in fit.pairs if row.near]
    clear = len(fit.pairs) - len(near)
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    if not near:
        return (
            f"All {count(clear, 'pair').removeprefix('one ')} are clear of both limits"
            if clear > 1
            else "The pair is clear of both limits"
        )
    said = count(clear, "pair").capitalize() + (" is" if clear == 1 else " are") + " clear of both limits"
    if len(near) == 1:
        return f"{said}; {bore} {near[0].internal} with {shank} {near[0].external} is too near to be sure"
    return f"{said}; {count(len(near), 'pair')} are too near to be sure"


def _plan(answer: Answer, fit: FitCheck, found: Plan, numbers: Numbers) -> html.Section:
    """Return the pairs that need work first; all pairs of the plan where it presses other pieces than those above."""
    (bore, shank), (inner_names, outer_names) = plan_sides(answer, fit)
    assembly = assembly_of(answer, fit)
    pairs = fit.pairs if assembly is None else assembly.pairs
    named = [
        (
            item,
            "" if item.internal is None else inner_names[item.internal],
            "" if item.external is None else outer_names[item.external],
        )
        for item in found.pairs
    ]
    as_is = [(bore_name, shank_name) for item, bore_name, shank_name in named if item.way == "press as is"]
    same = all(
        {names[side] for names in as_is} == {(row.internal, row.external)[side] for row in pairs} for side in (0, 1)
    )
    says = {
        "rework external": f"rework the {shank} to",
        "rework internal": f"rework the {bore} to",
        "new external": f"new {shank}, cut to",
        "new internal": f"new {bore}, cut to",
    }
    rows = []
    for item, bore_name, shank_name in named:
        if item.way == "press as is" and same:
            continue  # the pairs above are of these very pieces
        gap = plan_gap(answer, fit, item)
        rows.append(
            [
                bore_name or "new",
                shank_name or "new",
                says.get(item.way, item.way),
                cut_words(item, numbers),
                "" if gap is None else numbers.off(gap),
                chance_words(item.chance),
            ]
        )
    heads = [
        Column(bore, strong=True),
        Column(shank, strong=True),
        Column("what is done"),
        Column(f"size, {numbers.unit}", number=True, strong=True),
        Column(f"gap, {numbers.small}", number=True, wide=True),
        Column("good with", number=True),
    ]
    many = count(len(rows), "more pair").capitalize()
    title = f"{many} {'comes' if len(rows) == 1 else 'come'} with the cheapest plan"
    return panel(
        title if same else "The cheapest plan pairs them so",
        table(heads, rows, label="the pairs that need work first"),
        how=f"{found.expected_good:.1f} of {found.wanted} are expected good, all of them with"
        f" {chance_words(found.chance_all)}.",
    )


def _left_over(fit: FitCheck) -> html.Section:
    rows = [[plain_name(item.feature), item.piece, typeset(item.why)] for item in fit.left_over]
    many = count(len(rows), "piece").capitalize()
    return panel(
        f"{many} {'is' if len(rows) == 1 else 'are'} left over",
        table([Column("part"), Column("number", strong=True), Column("why")], rows, label="pieces without a mate"),
    )
