"""How plain text is laid out: labels, tables, chances, and what is said of a plan."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from tracker.decide import Plan, Verdict
from tracker.decide.words import count, listed, number_word, share

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
    if verdict.action.startswith(work):
        work = "As above"
    elif verdict.word in ("press as they come", "sort") and not plan.reworked and not plan.remade:
        work = "No rework and no new pieces"
    words = f"{work}: {_good_words(plan)}, at a cost of {plan.cost:.4g}, the least of all choices."
    words += f" {plan.left_out}" if plan.left_out else ""
    assumed = [name.replace("_", " ") for name in plan.prices.assumed]
    return words + (f" Costs not stated were assumed: {listed(assumed)}." if assumed else "")


def _good_words(plan: Plan) -> str:
    """Return how many assemblies are expected good, and with which chance all are that the plan makes."""
    made, chance = plan.wanted - plan.not_made, chance_words(plan.chance_made)
    if plan.wanted == 1:
        return f"the assembly is good with {chance} chance" if made else "the assembly is not made"
    which = "all of them" if made == plan.wanted else f"all {number_word(made)} that are made"
    words = f"{plan.expected_good:.2f} of {plan.wanted} assemblies expected good"
    if made < 2:
        return f"{words}, {'one' if made else 'none'} made"
    return f"{words}, {which} with {chance} chance"


def unmade_words(plan: Plan) -> str:
    """Return what to add behind the assemblies that a plan makes: how many it leaves unmade; "" when none."""
    return f"; {count(plan.not_made, 'assembly', 'assemblies')} not made" if plan.not_made else ""


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
