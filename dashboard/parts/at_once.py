"""Pieces that must meet several fits and closures at once: each pair with every gap and sum between its limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dash import html

from dashboard.figures.numbers import Numbers
from dashboard.parts.answers import Answer
from dashboard.parts.panels import panel
from dashboard.parts.tables import Column, rails_for, rung, rung_head, table
from tracker.decide.plan_results import PlanPair
from tracker.decide.words import count
from tracker.judge import AssemblyCheck, FitCheck, plain_name

COVERAGE = 1.96
MOST_PAIRS = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One thing a pair must meet: its limits, and the base its values are written from (0 for a gap)."""

    name: str
    lower: float | None
    upper: float | None
    aim: float | None
    base: float
    is_fit: bool

    def off(self, value: float) -> float:
        """Return a gap, or a sum as its deviation from the base."""
        return value - self.base

    def head(self, numbers: Numbers) -> str:
        """Return what stands over its values."""
        given = f" from {numbers.size(self.base)}" if self.base else ""
        return f"{plain_name(self.name)}, {numbers.small}{given}"


def assembly_of(answer: Answer, fit: FitCheck) -> AssemblyCheck | None:
    """Return the assembly that a fit is in, when its pairs must meet something else too."""
    if fit.assembly is None:
        return None
    return next((item for item in answer.check.assemblies if fit.name in item.fits), None)


def asked_of(answer: Answer, item: AssemblyCheck) -> list[Asked]:
    """Return all that a pair of the assembly must meet, in the order of its gaps."""
    fits = {fit.name: fit for fit in answer.check.fits}
    closures = {closure.name: closure for closure in answer.check.closures}
    found = []
    for name in item.fits:
        fit = fits[name]
        found.append(Asked(name=name, lower=fit.gap_lower, upper=fit.gap_upper, aim=fit.target, base=0.0, is_fit=True))
    for name in item.closures:
        low, high = closures[name].lower, closures[name].upper
        middle = (low + high) / 2 if low is not None and high is not None else None
        base = middle if middle is not None else (low if low is not None else high or 0.0)
        found.append(Asked(name=name, lower=low, upper=high, aim=middle, base=base, is_fit=False))
    return found


def key_of(item: AssemblyCheck, asked: Asked) -> str:
    """Return the key of this fit or closure in the gaps of a pair; one name may stand for a fit and a closure."""
    keys = item.pairs[0].gaps
    return asked.name if asked.name in keys else f"{asked.name} ({'fit' if asked.is_fit else 'closure'})"


def plan_sides(answer: Answer, fit: FitCheck) -> tuple[tuple[str, str], tuple[Sequence[str], Sequence[str]]]:
    """Return what the pieces of the two sides of a fit's plan are called, and their labels by index."""
    item = assembly_of(answer, fit)
    if item is not None:
        return (item.internal, item.external), item.pieces
    found = [answer.check.feature(name).sizes for name in (fit.internal, fit.external)]
    inner, outer = (() if sizes is None else sizes.piece for sizes in found)
    return (plain_name(fit.internal), plain_name(fit.external)), (inner, outer)


def plan_gap(answer: Answer, fit: FitCheck, pair: PlanPair) -> float | None:
    """Return the gap that this fit is expected to have in an assembly of the plan; None when nothing is expected."""
    item = assembly_of(answer, fit)
    if item is None:
        return pair.gap
    return pair.gaps[item.fits.index(fit.name)] if pair.gaps else None


def cut_words(pair: PlanPair, numbers: Numbers) -> str:
    """Return what a reworked or new piece is cut to; each dimension by name where there are several."""
    if pair.size is not None and not any(cut.what for cut in pair.cuts):
        return numbers.size(pair.size)
    return ", ".join(f"{cut.what} {numbers.size(cut.size)}" for cut in pair.cuts)


def others(answer: Answer, fit: FitCheck) -> tuple[AssemblyCheck, list[Asked]] | None:
    """Return the assembly of a fit and what its pairs must meet besides it; None when that is nothing."""
    item = assembly_of(answer, fit)
    if item is None or not item.pairs:
        return None
    rest = [asked for asked in asked_of(answer, item) if not (asked.is_fit and asked.name == fit.name)]
    return item, rest


def at_once_panel(answer: Answer, fit: FitCheck) -> html.Section | None:
    """Return every pair of a fit with what it must meet besides, each between its limits; None when that is nothing."""
    found = others(answer, fit)
    if found is None:
        return None
    item, rest = found
    numbers = answer.numbers(fit.internal, fit.external)
    rows = item.pairs[:MOST_PAIRS]
    heads: list[Column] = [Column(item.internal, strong=True), Column(item.external, strong=True)]
    cells: list[list[object]] = [[row.internal, row.external] for row in rows]
    for asked in rest:
        key = key_of(item, asked)
        gaps = [(asked.off(row.gaps[key]), COVERAGE * row.uncertainty[key]) for row in rows]
        low, high = (None if limit is None else asked.off(limit) for limit in (asked.lower, asked.upper))
        rails = rails_for(low, high, None if asked.aim is None else asked.off(asked.aim), gaps)
        heads += [
            Column(asked.head(numbers), number=True, strong=True),
            Column(rung_head(rails, numbers)),
        ]
        for line, (gap, half) in zip(cells, gaps):
            form = "half" if _near(gap, half, low, high) else "full"
            says = f"{plain_name(asked.name)} {numbers.off(gap)} ± {numbers.off(half, signed=False)} {numbers.small}"
            line += [numbers.off(gap), rung(rails, gap, half, form, says)]
    more = "" if len(item.pairs) <= MOST_PAIRS else f" The first {MOST_PAIRS} of {len(item.pairs)} pairs."
    return panel(
        _title(rest, len(item.pairs)),
        table(heads, cells, label=f"what each {item.external} must meet besides in its {item.internal}"),
        how=f"The same pairs, one rung each; the whisker is 95 %, half filled: it passes the limit.{more}",
    )


def _near(gap: float, half: float, low: float | None, high: float | None) -> bool:
    return (low is not None and gap - half < low) or (high is not None and gap + half > high)


def _title(rest: Sequence[Asked], pairs: int) -> str:
    names = " and ".join(plain_name(asked.name) for asked in rest)
    if pairs == 1:
        return f"The pair meets {names} too"
    return f"These {count(pairs, 'pair')} meet {names} too"
