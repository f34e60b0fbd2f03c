"""The closure sheet: which pieces together make which sum, and whether it is within its limits."""

from __future__ import annotations

import datetime

from markupsafe import Markup

from dashboard.figures.numbers import Numbers, typeset
from dashboard.parts.answers import Answer
from dashboard.sheets.paper import Sheet, grid, on_paper, section, sign_off, stop, tag
from tracker.decide.words import count, listed
from tracker.judge import ClosureCheck, plain_name
from tracker.judge.put_together import PutTogether, put_together

KIND = "Closure sheet"


def closure_sheet(answer: Answer, *, by: str, when: datetime.datetime) -> Sheet:
    """Return the sheet of all closures of a job: which pieces together, their sums, and the limits.

    Raises
    ------
    TrackerError
        As `put_together`.
    """
    parts = [part for closure in answer.check.closures for part in _closure(answer, closure)]
    names: list[str] = []
    for terms in answer.job.closures.values():
        names += [name for name in terms.terms if name not in names]
    many = len(answer.check.closures)
    title = closures_said(answer)
    parts.append(sign_off("put together by", "date", "checked by", "date", broad="sums measured afterwards, remarks"))
    body = on_paper(answer, KIND, title, parts, features=names, by=by, when=when, dense=many == 1)
    return Sheet(name="closures", kind=KIND, title=title, job=answer.check.job, body=body)


def closures_said(answer: Answer) -> str:
    """Return what the closures of a job come to, in a sentence."""
    said = [f"{plain_name(item.name)}: {item.verdict.word}" for item in answer.check.closures]
    return f"{listed(said).capitalize()}."


def _closure(answer: Answer, closure: ClosureCheck) -> list[Markup]:
    numbers, name = Numbers(answer.unit, closure.step), plain_name(closure.name)
    head, verdict = f"{name.capitalize()}: {_asked(closure, numbers)}", closure.verdict
    if verdict.word in ("press as they come", "pair"):
        parts = [section(head, tag("p", typeset(verdict.reason)))]
    else:
        parts = [section(head), stop("Do not put together yet.", verdict.reason, verdict.action)]
    found = put_together(answer.job, answer.check, closure)
    if found is None or not found.found.sums.size:
        return parts
    return [*parts, _assemblies(found, numbers, name)]


def _asked(closure: ClosureCheck, numbers: Numbers) -> str:
    low, high = closure.lower, closure.upper
    if low is not None and high is not None:
        return f"{numbers.size(low)} to {numbers.size(high)} {numbers.unit} allowed"
    if low is not None:
        return f"at least {numbers.size(low)} {numbers.unit}"
    return "no limits are stated" if high is None else f"at most {numbers.size(high)} {numbers.unit}"


def _assemblies(made: PutTogether, numbers: Numbers, name: str) -> Markup:
    found = made.found
    heads = [("no.", "p-num")]
    for term in made.terms:
        heads += [(plain_name(term.name), "p-strong"), (f"size, {numbers.unit}", "p-num")]
    heads += [(f"sum, {numbers.unit}", "p-num"), (f"to the nearer limit, {numbers.small}", "p-num")]
    heads += [("within", ""), ("done", "p-tick")]
    rows = []
    for index, (total, margin) in enumerate(zip(found.sums.tolist(), found.margins.tolist())):
        cells: list[object] = [str(index + 1)]
        for place, term in enumerate(made.terms):
            piece = int(made.pieces[index][place])
            cells += [term.pieces[piece], numbers.size(float(term.sizes[piece]))]
        near = abs(margin) < made.reach
        within = "measure again" if near else "yes" if margin >= 0 else "no"
        flag = tag("span", within, look="" if within == "yes" else "p-flag")
        rows.append([*cells, numbers.size(total), numbers.off(margin), flag, tag("i")])
    give = numbers.off(made.reach, signed=False)
    how = (
        f"The sum is {_formula(made)}; it is known to {give} {numbers.small} either way (95 %, from the gauges)."
        f" Which goes with which: {found.method}."
    )
    table = grid(heads, rows, look="p-tight", label=f"which pieces together make {name}")
    left = [f"{plain_name(term.name)} {listed(names)}" for term, names in zip(made.terms, made.left_over) if names]
    return tag(
        "div",
        section(f"{count(found.good, 'sum').capitalize()} of {len(found.sums)} within limits", table, how=how),
        *([tag("p", typeset(f"Left over: {'; '.join(left)}."), look="p-after")] if left else []),
    )


def _formula(made: PutTogether) -> str:
    words = [
        f"{'plus' if term.factor > 0 else 'minus'} {_factor(term.factor)}{plain_name(term.name)}" for term in made.terms
    ]
    return " ".join(words).removeprefix("plus ")


def _factor(factor: float) -> str:
    return "" if abs(factor) == 1 else f"{abs(factor):g} times "
