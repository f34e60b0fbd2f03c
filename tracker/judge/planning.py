"""The plan of an assembly: what the job says of costs, spreads and limits, put to `tracker.decide.plan`."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from tracker.decide import Plan, plan
from tracker.decide.plan_cases import OPEN, SizeLimits
from tracker.decide.prices import SIDES
from tracker.decide.words import listed
from tracker.fit.checks import limits_of
from tracker.judge.cuts import NextCut
from tracker.judge.dimensions import Table, dimension
from tracker.judge.parts import Assembly
from tracker.judge.words import Scale

if TYPE_CHECKING:
    from tracker.job import Job

WORTH_ASKING = 0.5
"""Assemblies more that must be expected good before a plan leaves the drawing (our choice, no source)."""


def plan_of(
    job: Job,
    assembly: Assembly,
    tables: tuple[Table, Table],
    common: np.ndarray,
    cuts: Mapping[str, NextCut],
    names: tuple[str, str],
    scale: Scale,
) -> Plan:
    """Return the cheapest plan of an assembly, no piece cut beyond the limits of its drawing.

    Where that makes half an assembly less than cutting beyond them would, the plan leaves the drawing and says so.
    Arguments as `tracker.judge.joined.join` has them; raises as `tracker.decide.plan` does.
    """
    inner, outer = tables
    demands = assembly.demands
    own = [cuts.get(demand.name) if demand.is_fit else None for demand in demands]
    dimensions = [(dimension(demand, "inner"), dimension(demand, "outer")) for demand in demands]
    cut_next = next((cut.side for cut in own if cut is not None), None)
    tool = None if cut_next is None else job.features[cut_next].machine.tool
    single = len(demands) == 1

    def each(values: list[Any]) -> Any:
        return values[0] if single else values

    worked_out = partial(
        plan,
        inner.size[:, 0] if single else inner.size,
        outer.size[:, 0] if single else outer.size,
        each([demand.lower for demand in demands]),
        each([demand.upper for demand in demands]),
        _costs(job, assembly, tables, cut_next),
        target=each([demand.target for demand in demands]),
        uncertainty=(
            inner.uncertainty[:, 0] if single else inner.uncertainty,
            outer.uncertainty[:, 0] if single else outer.uncertainty,
        ),
        common_uncertainty=each(common.tolist()),
        make_sd=_make_sd(assembly, own),
        increment=each([None if cut is None else job.features[cut.side].machine.increment for cut in own]),
        step=scale.step,
        assurance=job.assurance,
        most_risk=1 - job.assurance,
        names=names,
        dimensions=None if single else [(a[0], b[0]) for a, b in dimensions],
        factors=[(a[1], b[1]) for a, b in dimensions],
        reworkable=_reworkable(assembly),
        labels=(inner.piece, outer.piece),
        rework_word="regrind" if tool == "wheel" else "rework",
        say=scale.say,
    )
    drawn = _drawing(job, assembly)
    kept = worked_out(
        keep=[(_in_column(one[0], a[1]), _in_column(one[1], b[1])) for one, (a, b) in zip(drawn, dimensions)]
    )
    if kept.chance_all >= job.assurance or drawn == [(OPEN, OPEN)] * len(demands):
        return kept
    free = worked_out()
    if free.expected_good < kept.expected_good + WORTH_ASKING:
        return kept
    return dataclasses.replace(free, work=(*free.work, *_asks(free, drawn, names, scale)))


def _drawing(job: Job, assembly: Assembly) -> list[tuple[SizeLimits, SizeLimits]]:
    """Return for each demand the limits of size of its two dimensions; a sum of several features has none."""

    def limits(terms: Mapping[str, float]) -> SizeLimits:
        if len(terms) != 1:
            return OPEN
        feature = job.features[next(iter(terms))]
        return feature.lower, feature.upper

    return [(limits(demand.inner), limits(demand.outer)) for demand in assembly.demands]


def _in_column(limits: SizeLimits, factor: float) -> SizeLimits:
    """Return limits of size as limits of what the dimension brings to its column."""
    ends = [None if limit is None else factor * limit for limit in limits]
    return (ends[0], ends[1]) if factor > 0 else (ends[1], ends[0])


def _asks(
    planned: Plan, drawn: Sequence[tuple[SizeLimits, SizeLimits]], names: tuple[str, str], scale: Scale
) -> list[str]:
    """Return a sentence for each dimension that the plan cuts beyond its drawing."""
    beyond: dict[tuple[str, SizeLimits], set[float]] = {}
    for pair in planned.pairs:
        for cut in pair.cuts:
            side = SIDES.index(cut.side)
            limits = drawn[cut.gap][side]
            low, high = limits_of(*limits)
            if not low - scale.step / 10 <= cut.size <= high + scale.step / 10:
                beyond.setdefault((cut.what or names[side], limits), set()).add(cut.size)
    found = []
    for (what, (lower, upper)), sizes in beyond.items():
        ends = [f"{word} {scale.size(limit)}" for word, limit in (("from", lower), ("to", upper)) if limit is not None]
        sizes_said = listed(dict.fromkeys(scale.size(size) for size in sorted(sizes)))
        found.append(
            f"Ask before cutting: {sizes_said} is beyond the drawing of the {what} ({' '.join(ends)} {scale.unit}), and"
            " within it nothing suits."
        )
    return found


def _make_sd(assembly: Assembly, cuts: Sequence[NextCut | None]) -> dict[str, Any] | None:
    """Return the spread of pieces made next: that of the process between events, which an event does not widen."""
    found: dict[str, list[float | None]] = {side: [None] * len(cuts) for side in ("internal", "external")}
    for k, (demand, cut) in enumerate(zip(assembly.demands, cuts)):
        if cut is not None and cut.shift is not None and cut.shift.sd > 0:
            found["internal" if cut.side in demand.inner else "external"][k] = cut.shift.sd
    known = {side: values for side, values in found.items() if any(value is not None for value in values)}
    return known or None


def _costs(job: Job, assembly: Assembly, tables: tuple[Table, Table], cut_next: str | None) -> dict[str, Any]:
    """Return the job's costs by side, as `plan` takes them.

    What was not stated is left out; but when no cost of remaking is, the side that is cut to suit is the one remade.
    A part is remade at the dearest of its features.
    """
    sides = dict(zip(("internal", "external"), tables))
    costs: dict[str, Any] = {}
    if job.costs.press is not None:
        costs["press"] = job.costs.press
    if job.costs.spoiled_assembly is not None:
        costs["spoiled_assembly"] = job.costs.spoiled_assembly
    if job.costs.rework or "rework" in job.costs.stated:
        costs["rework"] = {side: _rework(job, assembly, side) for side in sides}
    if job.costs.remake or "remake" in job.costs.stated:
        costs["remake"] = {
            side: max((job.costs.remake[name] for name in table.features if name in job.costs.remake), default=None)
            for side, table in sides.items()
        }
    else:
        side = "external" if cut_next is None or cut_next in tables[1].features else "internal"
        costs["remake"] = (side,)
    return costs


def _rework(job: Job, assembly: Assembly, side: str) -> list[float | None]:
    """Return for each demand what it costs to rework its feature of a side; None where nothing is stated."""
    terms = [demand.inner if side == "internal" else demand.outer for demand in assembly.demands]
    return [job.costs.rework.get(next(iter(one), "")) for one in terms]


def _reworkable(assembly: Assembly) -> list[tuple[bool, bool]]:
    """Return which dimensions can be reworked: a fit's own, unless another demand rests on it too.

    To which side a length can still be cut the job does not say.
    """
    uses = [name for demand in assembly.demands for name in (*demand.inner, *demand.outer)]

    def able(is_fit: bool, terms: Mapping[str, float]) -> bool:
        return is_fit and all(uses.count(name) == 1 for name in terms)

    return [(able(demand.is_fit, demand.inner), able(demand.is_fit, demand.outer)) for demand in assembly.demands]
