"""How plain text is laid out: labels, tables, chances, and what is said of a plan."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from tracker.decide import Plan, Verdict
from tracker.decide.words import listed, share

LONG_UNIT = {"in": "inches", "mm": "millimetres"}
WIDTH = 96
LABEL = 12
MOST_ROWS = 20
ALMOST_NEVER = 1e-9


def chance_words(value: float) -> str:
    """Return a chance in percent; one that is computed from readings is never all or nothing."""
    return share(min(max(value, ALMOST_NEVER), 1 - ALMOST_NEVER))


def plan_words(verdict: Verdict, plan: Plan) -> str:
    """Return what the plan costs and gives; its work only when the verdict has not said it."""
    work = " ".join(plan.work).rstrip(".")
    if work == verdict.action.rstrip("."):
        work = "As above"
    elif verdict.word in ("press as they come", "sort") and not plan.reworked and not plan.remade:
        work = "No rework and no new pieces"
    words = (
        f"{work}: {plan.expected_good:.2f} of {plan.wanted} {'assembly' if plan.wanted == 1 else 'assemblies'} expected"
        f" good, all of them with {chance_words(plan.chance_all)} chance, at a cost of {plan.cost:.4g}, the least of"
        " all choices."
    )
    assumed = [name.replace("_", " ") for name in plan.prices.assumed]
    return words + (f" Costs not stated were assumed: {listed(assumed)}." if assumed else "")


def before_work(plan: Plan | None) -> str:
    """Return what to add below the pairs as measured when a plan changes pieces first: its own list stands below."""
    worked = plan is not None and (plan.reworked or plan.remade)
    return "; pieces as they are: once any is reworked or new, pair as the plan lists them" if worked else ""


def set_aside_lines(verdict: Verdict) -> Iterator[str]:
    """Yield what has no size and goes with nothing until it is measured."""
    if verdict.unread:
        yield from labelled("set aside", f"what has no size: {verdict.unread}")


def table(rows: Sequence[Sequence[str]], heads: Sequence[str], *, note: str = "") -> Iterator[str]:
    """Yield an aligned table, heads first; numbers stand to the right."""
    widths = [max(len(head), *(len(row[i]) for row in rows)) for i, head in enumerate(heads)]
    yield "  " + "  ".join(head.rjust(width) for head, width in zip(heads, widths)).rstrip()
    for row in rows:
        yield "  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths)).rstrip()
    if note:
        yield f"  ({note})"


def labelled(label: str, text: str) -> Iterator[str]:
    """Yield a text wrapped beside its label."""
    lines: Iterable[str] = textwrap.wrap(text, WIDTH - LABEL - 2, break_long_words=False) or [""]
    for index, line in enumerate(lines):
        yield f"  {label if index == 0 else '':<{LABEL}} {line}".rstrip()
