"""The batch report: what was measured, what it says, and every size, for the file."""

from __future__ import annotations

import datetime
from math import isfinite
from typing import Any

from markupsafe import Markup

from dashboard.figures.numbers import Numbers, typeset
from dashboard.figures.pieces import pieces
from dashboard.figures.tape import tape
from dashboard.figures.two_batches import two_batches
from dashboard.parts.answers import Answer
from dashboard.parts.pictures import ahead_of, signals_of, values_of
from dashboard.parts.sentences import batch_answer, fit_answer, sentence
from dashboard.sheets.paper import CONTENT_WIDTH, Sheet, figure, grid, on_paper, section, sign_off, tag
from tracker.decide.words import count, plural, share
from tracker.judge import ClosureCheck, FeatureCheck, FitCheck, Scale, plain_name, wear_verdict
from tracker.judge.capability_words import beyond_words, shared_words
from tracker.record import LogEntry
from tracker.result import Interval

KIND = "Batch report"
ACROSS = 3


def batch_report(answer: Answer, *, by: str, when: datetime.datetime, feature: str = "") -> Sheet:
    """Return the report of a job's batch, of one feature where one is named."""
    features = [item for item in answer.check.features if feature in ("", item.name)]
    fits = [fit for fit in answer.check.fits if feature in ("", fit.internal, fit.external)]
    if fits:
        title = " ".join(dict.fromkeys(fit_answer(fit) for fit in fits))
    else:
        title = " ".join(batch_answer(item, answer.numbers(item.name)) for item in features) or "Nothing is measured."
    parts: list[Markup] = []
    for fit in fits:
        parts.append(_fit(answer, fit))
    for item in features:
        parts.append(_feature(answer, item))
    if not feature:
        parts += [_sum(item) for item in answer.check.closures]
    parts += _fates(answer, [item.name for item in features])
    remarks = [*answer.check.remarks, *answer.check.understood]
    if remarks:
        parts.append(section("Remarks", tag("ul", *[tag("li", typeset(line)) for line in remarks], look="p-notes")))
    parts.append(sign_off("inspected by", "date", "signed off by", "date"))
    names = [item.name for item in features]
    body = on_paper(answer, KIND, title, parts, features=names, by=by, when=when)
    return Sheet(name="report", kind=KIND, title=title, job=answer.check.job, body=body)


def _fit(answer: Answer, fit: FitCheck) -> Markup:
    numbers = answer.numbers(fit.internal, fit.external)
    inner, outer = answer.check.feature(fit.internal), answer.check.feature(fit.external)
    low = "open" if fit.gap_lower is None else numbers.size(fit.gap_lower, signed=True)
    high = "open" if fit.gap_upper is None else numbers.size(fit.gap_upper, signed=True)
    rows = [
        ["gap allowed", f"{low} to {high} {numbers.unit}, {plain_name(fit.internal)} minus {plain_name(fit.external)}"],
        [
            "mean gap",
            "cannot say" if fit.mean_gap is None else f"{numbers.size(fit.mean_gap, signed=True)} {numbers.unit}",
        ],
    ]
    if fit.chance is not None:
        rows.append(["any pair, these pieces", f"good with {share(fit.chance.pair_measured)}"])
        rows.append(["all in any order", share(fit.chance.all_measured)])
    if fit.pairing is not None and fit.pairing.chance_all is not None:
        rows.append([f"all {fit.pairing.good} pairs, paired", share(fit.pairing.chance_all)])
    rows += [[plain_name(what), why] for what, why in fit.reasons.items()]
    drawn = figure(two_batches(fit, inner, outer, numbers, CONTENT_WIDTH)) if inner.sizes or outer.sizes else Markup("")
    return section(
        f"{plain_name(fit.name).capitalize()}: {fit.verdict.word}",
        tag("p", typeset(f"{fit.verdict.reason} {fit.verdict.action}")),
        _facts(rows, f"figures of {plain_name(fit.name)}"),
        drawn,
    )


def _feature(answer: Answer, found: FeatureCheck) -> Markup:
    numbers, name = answer.numbers(found.name), plain_name(found.name)
    if found.sizes is None:
        return section(
            f"{name.capitalize()}: cannot say", tag("p", sentence(found.reasons.get("sizes", "not measured")))
        )
    rows = [
        *_limits(found, numbers),
        *_spread(found, numbers),
        *_capable(found, Scale(answer.unit, found.step)),
        *_parts(found, numbers),
    ]
    if found.wear is not None:
        rows.append(["wear", wear_verdict(found.wear)])
    rows += [[plain_name(what), why] for what, why in found.reasons.items() if what not in ("sizes",)]
    tool = answer.job.features[found.name].machine.tool
    drawn = [pieces(found, values_of(answer, found.name), numbers, CONTENT_WIDTH, ahead=ahead_of(found))]
    if found.wear is not None and found.wear.seen:
        drawn.append(tape(found, numbers, CONTENT_WIDTH, tool=tool, signals=signals_of(found)))
    return section(
        batch_answer(found, numbers).removesuffix("."),
        _facts(rows, f"figures of the {plural(name)}"),
        *[figure(item) for item in drawn],
        _sizes(found, numbers, name),
    )


def _sum(found: ClosureCheck) -> Markup:
    name = plain_name(found.name)
    return section(
        f"{name.capitalize()}: {found.verdict.word}",
        tag("p", typeset(f"{found.verdict.reason} {found.verdict.action}")),
    )


def _fates(answer: Answer, features: list[str]) -> list[Markup]:
    """Return what was struck out, confirmed and corrected, with reason, who and when."""
    told = [entry for entry in answer.judged() if entry.feature in features]
    struck = [entry for entry in told if entry.struck]
    kept = [entry for entry in told if not entry.struck]
    parts = []
    where = [("part", ""), ("piece", "p-strong"), ("reading", ""), ("typed", "")]
    if struck:
        rows = [
            [*_where(item), item.struck_reason or "", item.struck_by or "", _day(item.struck_at)] for item in struck
        ]
        table = grid([*where, ("why", ""), ("by", ""), ("when", "")], rows, look="p-tight", label="readings struck out")
        how = "They count no longer and stay in the record as they were typed; times are UTC."
        parts.append(section(f"{count(len(struck), 'reading').capitalize()} struck out", table, how=how))
    if kept:
        rows = [
            [*_where(item), item.suspect.replace("_", " "), item.confirmed_by or "", _day(item.confirmed_at)]
            for item in kept
        ]
        table = grid([*where, ("asked for", ""), ("by", ""), ("when", "")], rows, look="p-tight", label="confirmed")
        how = "They were asked about, somebody said that they are right, and they count; times are UTC."
        parts.append(section(f"{count(len(kept), 'suspect reading').capitalize()} confirmed", table, how=how))
    changed = _corrections(answer, features)
    if changed:
        heads = [("part", ""), ("what was added before a reading counts", ""), ("readings", "p-num")]
        parts.append(section("Corrections", grid(heads, changed, look="p-tight", label="corrections")))
    return parts


def _where(item: LogEntry) -> list[str]:
    place = f"{item.position}, {item.repeat}" if item.position else str(item.repeat)
    typed = item.typed if item.unit in item.typed else f"{item.typed} {item.unit}"
    return [plain_name(item.feature), item.piece, place, typed]


def _day(moment: str | None) -> str:
    return (moment or "")[:16].replace("T", " ")


def _corrections(answer: Answer, features: list[str]) -> list[list[str]]:
    frame = answer.readings.readings
    own = frame[frame["feature"].isin(features) & (frame["applied"] != "")]
    many = own.groupby(["feature", "applied"], sort=False).size()
    return [[plain_name(str(name)), typeset(str(words)), f"{number:,}"] for (name, words), number in many.items()]


def _facts(rows: list[list[str]], label: str) -> Markup:
    cells = [[typeset(first), typeset(second)] for first, second in rows]
    return grid([("what", ""), ("found, with its 95 % interval", "")], cells, look="p-tight", label=label)


def _limits(found: FeatureCheck, numbers: Numbers) -> list[list[str]]:
    low = "open" if found.lower is None else numbers.size(found.lower)
    high = "open" if found.upper is None else numbers.size(found.upper)
    limits = "none stated" if low == high == "open" else f"{low} to {high} {numbers.unit}"
    return [["limits of size", f"{limits}; target {numbers.size(found.target)} {numbers.unit}"]]


def _with(interval: Interval, write: Any) -> str:
    ends = [
        f"{word} {write(end)}"
        for word, end in (("at least", interval.low), ("at most", interval.high))
        if isfinite(end)
    ]
    if len(ends) == 2:
        return f"{write(interval.estimate)}, between {write(interval.low)} and {write(interval.high)}"
    return f"{write(interval.estimate)}, {ends[0] if ends else 'how far off does not show'}"


def _spread(found: FeatureCheck, numbers: Numbers) -> list[list[str]]:
    if found.summary is None or found.sizes is None:
        return []
    summary = found.summary
    rule = found.sizes.rule.replace("_", " ")
    rows = [
        [
            "pieces and readings",
            f"{count(summary.n, 'piece')}, {count(int(found.sizes.readings.sum()), 'reading')}; size by {rule}",
        ],
        ["mean", f"{_with(summary.mean, numbers.size)} {numbers.unit}"],
        ["smallest and largest", f"{numbers.size(summary.minimum)} and {numbers.size(summary.maximum)} {numbers.unit}"],
        [
            "spread (sd)",
            f"{_with(summary.sd, lambda value: numbers.off(value, signed=False, decimals=2))} {numbers.small}",
        ],
    ]
    if summary.bias is not None:
        rows.append(["off target", f"{_with(summary.bias, numbers.off)} {numbers.small}"])
    return rows


def _capable(found: FeatureCheck, scale: Scale) -> list[list[str]]:
    good = found.capability
    if good is None:
        return []
    named = (("Cp", good.cp), ("Cpk", good.cpk), ("Pp", good.pp), ("Ppk", good.ppk))
    rows = [[name, _with(value, lambda figure: f"{figure:.2f}")] for name, value in named if value is not None]
    rows.append(["beyond the limits", beyond_words(found).removeprefix("expected beyond the limits ")])
    shared = shared_words(found, scale)
    return [*rows, ["what all sizes share", shared]] if shared else rows


def _parts(found: FeatureCheck, numbers: Numbers) -> list[list[str]]:
    parts = found.components
    if parts is None:
        return []
    named = (
        ("sd between pieces", parts.between_sd),
        ("sd of form within a piece", parts.form_sd),
        ("sd of repeated readings", parts.repeatability_sd),
    )
    return [
        [name, f"{_with(value, lambda each: numbers.off(each, signed=False, decimals=2))} {numbers.small}"]
        for name, value in named
        if value is not None
    ]


def _sizes(found: FeatureCheck, numbers: Numbers, name: str) -> Markup:
    assert found.sizes is not None
    sizes, base = found.sizes, numbers.base(found.nominal)
    cells = [
        (piece, numbers.size(float(size)), numbers.off(float(size), base), str(int(number)))
        for piece, size, number in zip(sizes.piece, sizes.size, sizes.readings)
    ]
    cells += [("",) * 4] * (-len(cells) % ACROSS)
    rows = [[part for cell in cells[at : at + ACROSS] for part in cell] for at in range(0, len(cells), ACROSS)]
    heads = [
        ("no.", "p-strong"),
        (f"size, {numbers.unit}", "p-num"),
        (numbers.small, "p-num"),
        ("read", "p-num"),
    ] * ACROSS
    how = f"{numbers.from_base(base).capitalize()}; read: how many readings the size rests on."
    return section(f"Every {name}", grid(heads, rows, look="p-tight p-across", label=f"every {name}"), how=how)
