"""Masters, budgets, yes/no studies and single readings near a limit: coverage, and honesty of chances."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from _rows import row

from tracker.gauge import (
    bias_study,
    chance_within,
    conformance,
    go_no_go_study,
    linearity_study,
    uncertainty_budget,
)

PIECES = (5, 8, 12, 30)


def covers(interval, truth):
    """Return whether an interval holds the truth."""
    return interval.low <= truth <= interval.high


def rows(rng: np.random.Generator, size: int) -> Iterator[dict]:
    """Yield the rows; a quarter of ``size`` studies each where every one goes through the public function."""
    few = max(size // 4, 100)
    for n in PIECES:
        yield from masters(rng, n, few)
    yield from linearity(rng, few)
    yield from budgets(rng, few)
    yield from honesty(rng, max(size, 4000) * 10)
    yield from proven(rng, few)
    yield from yes_no(rng, few)


def masters(rng, n, tries):
    """Yield bias, Cg and Cgk."""
    hits = {"bias": [], "cg": [], "cgk": []}
    for _ in range(tries):
        study = bias_study(rng.normal(0.5, 1.0, n), 0.0, tolerance=50.0)
        hits["bias"].append(covers(study.bias, 0.5))
        hits["cg"].append(covers(study.cg, 0.2 * 50 / 6))
        hits["cgk"].append(covers(study.cgk, (5 - 0.5) / 3))
    for name, found in hits.items():
        yield row(f"master: interval of {name}", f"n = {n}", found)


def linearity(rng, tries):
    """Yield slope and bias in the middle over five masters read five times."""
    reference = np.repeat([2.0, 4.0, 6.0, 8.0, 10.0], 5)
    slope, middle = [], []
    for _ in range(tries):
        study = linearity_study(reference * 1.02 - 0.1 + rng.normal(0, 0.1, 25), reference)
        slope.append(covers(study.slope, 0.02))
        middle.append(covers(study.bias_at_middle, 0.02))
    yield row("linearity: interval of the slope", "5 masters, 5 readings", slope)
    yield row("linearity: interval of the bias in the middle", "5 masters, 5 readings", middle)


def budgets(rng, tries):
    """Yield the coverage of value ± expanded uncertainty where the rows' sds are estimated from few readings."""
    for dofs in ((4, 9), (2, 2), (3, 30)):
        sds = (1.0, 0.7)
        hits = []
        for _ in range(tries):
            found = [s * math.sqrt(rng.chisquare(d) / d) for s, d in zip(sds, dofs)]
            estimates = rng.normal(0, sds)
            budget = uncertainty_budget([(e, u, 1.0, d) for e, u, d in zip(estimates, found, dofs)])
            hits.append(abs(budget.value) <= budget.expanded)
        note = "Welch-Satterthwaite, degrees of freedom cut to whole numbers: on the safe side"
        yield row("budget: value ± expanded uncertainty", f"degrees of freedom {dofs}", hits, 0.94, 0.98, note=note)


def honesty(rng, tries):
    """Yield predicted chance of conforming against what happened, by tenths, the process known."""
    true = rng.normal(0.0, 1.0, tries)
    read = true + rng.normal(0.0, 0.5, tries)
    share = 1 / (1 + 0.25)
    said, _, _ = chance_within(share * read, math.sqrt(share) * 0.5, -1.0, 1.0)
    inside = np.abs(true) <= 1.0
    order = np.argsort(said, kind="stable")
    for tenth, members in enumerate(np.array_split(order, 10), start=1):
        mean = float(said[members].mean())
        yield row(
            "conformance: chance of being within, process known",
            f"tenth {tenth} of the chances",
            inside[members],
            max(mean - 0.02, 0.0),
            min(mean + 0.02, 1.0),
            said=mean,
        )


def proven(rng, tries):
    """Yield how often a decision is wrong for the worst true size: exactly on the limit."""
    wrong = [conformance(rng.normal(), 1.0, lower=0.0, upper=40.0).decision == "conforming" for _ in range(tries)]
    yield row("conformance: called conforming", "true size on the limit", wrong, 0.04, 0.06, said=0.05)


def yes_no(rng, tries):
    """Yield the exact interval of false acceptance and the interval of kappa."""
    for pieces in (10, 20, 30, 50):
        accept, kappa = [], []
        good = np.arange(pieces) % 2 == 0
        piece, operator = np.tile(np.arange(pieces), 2), np.repeat(["A", "B"], pieces)
        truth = np.tile(good, 2)
        # Two operators who each err with chance 0.1: they agree with 0.82, by chance 0.5.
        for _ in range(tries):
            passed = np.where(rng.random(2 * pieces) < 0.1, ~truth, truth)
            study = go_no_go_study(passed, piece, operator, truth)
            accept.append(covers(study.false_accept, 0.1))
            if study.pairs[0].kappa is not None:
                kappa.append(covers(study.pairs[0].kappa, 0.64))
        note = "exact: at least what was asked"
        setting = f"{pieces} judgements of bad pieces"
        yield row("go/no-go: interval of false acceptance", setting, accept, 0.95, 0.995, note=note)
        note = "steps of whole pieces; the result says so"
        yield row("go/no-go: interval of kappa", f"{pieces} pieces", kappa, 0.91, 0.985, note=note)
