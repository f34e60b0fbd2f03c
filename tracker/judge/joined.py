"""An assembly judged: who goes with whom by every fit and closure the pair must meet, what it takes, the verdict."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from tracker.decide import Plan, Verdict, verdict
from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import Chance, Classes, Pairing, chance_any, pair
from tracker.fit.checks import limits_of
from tracker.fit.together import any_order_holds, random_pair_holds
from tracker.judge.answers import AssemblyCheck, AssemblyPair, FeatureCheck, LeftOver, Unsized
from tracker.judge.cuts import NextCut
from tracker.judge.dimensions import Table, tables_of
from tracker.judge.features import attempt
from tracker.judge.parts import Assembly
from tracker.judge.planning import plan_of
from tracker.judge.trays import sorted_into
from tracker.judge.unsized import left_without_size, said_of
from tracker.judge.words import Scale, left_words, plain_name

if TYPE_CHECKING:
    from tracker.fit.press_results import PressFit
    from tracker.job import Job

COVERAGE = 1.959963984540054
"""Standard normal deviate of a two-sided 95 % interval."""

TRAYS = (3, 2)
"""Trays a side that are tried, the first that the gauge and the sizes can tell apart."""

NEVER_SURE = 1 - 1e-9
"""The most that a chance computed from readings is said to be; the least is as far from nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """The press of a fit, or why it cannot be told, and over which pairs that is."""

    press: PressFit | None
    over: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """An assembly judged; ``chance`` and ``trays`` only where there is one gap, and that a fit's.

    ``pressed`` are the presses of its fits, by their names.
    """

    assembly: Assembly
    tables: tuple[Table, Table]
    names: tuple[str, str]
    pairing: Pairing
    chance: Chance | None
    chance_any: float | None
    pair_any: float | None
    trays: Classes | None
    plan: Plan | None
    verdict: Verdict
    unsized: tuple[LeftOver, ...] = ()
    reasons: Mapping[str, str]
    pressed: Mapping[str, Pressed] = field(default_factory=dict)

    @property
    def several(self) -> bool:
        """Whether a pair must meet more than one fit or closure."""
        return len(self.assembly.demands) > 1

    def column(self, name: str, *, is_fit: bool) -> int:
        """Return which gap of the pairing a fit or closure is."""
        wanted = (name, is_fit)
        return next(k for k, demand in enumerate(self.assembly.demands) if (demand.name, demand.is_fit) == wanted)

    def gaps(self, values: Any) -> np.ndarray:
        """Return gaps or uncertainties of the pairing as a table of pairs x demands, whatever their number."""
        return np.asarray(values, dtype=np.float64).reshape(self.pairing.good, len(self.assembly.demands))

    def left_over(self) -> tuple[LeftOver, ...]:
        """Return the pieces without a mate, and why; those that lack a reading, or have no size, at the end."""
        found: list[LeftOver] = []
        for table, left, why in (
            (self.tables[0], self.pairing.left_internal, self.pairing.why_left_internal),
            (self.tables[1], self.pairing.left_external, self.pairing.why_left_external),
        ):
            found += [
                LeftOver(feature=table.features[0], piece=table.piece[int(index)], why=words)
                for index, words in zip(left, why)
            ]
        return (*found, *self.tables[0].missing, *self.tables[1].missing, *self.unsized)


def join(
    job: Job,
    assembly: Assembly,
    features: Mapping[str, FeatureCheck],
    cuts: Mapping[str, NextCut],
    unsized: Mapping[str, Unsized],
) -> Joined:
    """Return an assembly judged.

    Parameters
    ----------
    job, assembly : Job, Assembly
    features : mapping of str to FeatureCheck
        Judged already; every feature of the assembly is measured.
    cuts : mapping of str to NextCut
        By the name of the fit.
    unsized : mapping of str to Unsized
        By feature, what of the batch has no size.

    Raises
    ------
    NotEnoughData
        If no piece of a side has readings of all its features.
    """
    inner, outer = tables_of(assembly, features)
    for table in (inner, outer):
        if not len(table):
            together = " and ".join(plain_name(name) for name in table.features)
            raise NotEnoughData(f"no piece has readings of {together} both; measure them on the same pieces")
    scale = Scale(job.unit, min(features[name].step for name in (*inner.features, *outer.features)))
    names = _names(job, assembly, (inner, outer))
    common = np.hypot(inner.common, outer.common)
    reasons: dict[str, str] = {}
    one = _one_gap(assembly, inner, outer)
    pairing = _pairing(assembly, inner, outer, common, names)
    chance = pair_any = None
    if one is not None:
        chance = attempt(reasons, "chance", lambda: _chance(one, common, names))
        chance_all = None if chance is None else chance.all_measured
    else:
        pair_any, chance_all = _any_order(assembly, inner, outer, common)
    trays = attempt(reasons, "classes", lambda: _trays(assembly, one, common, scale))
    planned = attempt(reasons, "plan", lambda: plan_of(job, assembly, (inner, outer), common, cuts, names, scale))
    return Joined(
        assembly=assembly,
        tables=(inner, outer),
        names=names,
        pairing=pairing,
        chance=chance,
        chance_any=chance_all,
        pair_any=pair_any,
        trays=trays,
        plan=planned,
        verdict=_verdict(
            job,
            assembly,
            (inner, outer),
            common,
            pairing,
            chance_all,
            trays,
            planned,
            cuts,
            names,
            scale,
            _set_aside((inner, outer), unsized),
        ),
        unsized=(*_without_size(inner, unsized), *_without_size(outer, unsized)),
        reasons=reasons,
    )


def _without_size(table: Table, unsized: Mapping[str, Unsized]) -> list[LeftOver]:
    """Return the pieces of a part that have no size at all; those that lack one of several are its ``missing``."""
    return left_without_size(unsized, table.features, (*table.piece, *(item.piece for item in table.missing)))


def _set_aside(tables: tuple[Table, Table], unsized: Mapping[str, Unsized]) -> str:
    """Return what has no size, pieces that lack the reading of one of several features among it."""
    words = []
    for table in tables:
        named = {piece for name in table.features if name in unsized for piece in unsized[name].pieces}
        by_reason: dict[str, list[str]] = {}
        for item in table.missing:
            if item.piece not in named:
                by_reason.setdefault(item.why, []).append(item.piece)
        words += [left_words(table.features[0], pieces, why) for why, pieces in by_reason.items()]
    every = [name for table in tables for name in table.features]
    return "; ".join(item for item in (said_of(unsized, every), *words) if item)


@dataclass(frozen=True, slots=True)
class _OneGap:
    """The arguments of a single gap, as the fit room takes them."""

    internal: np.ndarray
    external: np.ndarray
    lower: float | None
    upper: float | None
    uncertainty: tuple[np.ndarray, np.ndarray]


def _one_gap(assembly: Assembly, inner: Table, outer: Table) -> _OneGap | None:
    if len(assembly.demands) > 1:
        return None
    noise = inner.uncertainty[:, 0], outer.uncertainty[:, 0]
    demand = assembly.demands[0]
    return _OneGap(inner.size[:, 0], outer.size[:, 0], demand.lower, demand.upper, noise)


def _names(job: Job, assembly: Assembly, tables: tuple[Table, Table]) -> tuple[str, str]:
    """Return what a piece of each side is called: the feature of a lone fit, else the part if the job names it."""
    lone = len(assembly.demands) == 1 and assembly.demands[0].is_fit
    inner, outer = (
        plain_name(table.features[0] if lone else job.features[table.features[0]].part or table.features[0])
        for table in tables
    )
    return inner, outer


def _pairing(
    assembly: Assembly, inner: Table, outer: Table, common: np.ndarray, names: tuple[str, str], widened: Any = 0.0
) -> Pairing:
    """Return the best pairing by every demand, the limits widened by so much (one each)."""
    wide = np.broadcast_to(np.asarray(widened, dtype=np.float64), common.shape)
    lows = [
        None if demand.lower is None else demand.lower - extra for demand, extra in zip(assembly.demands, wide.tolist())
    ]
    highs = [
        None if demand.upper is None else demand.upper + extra for demand, extra in zip(assembly.demands, wide.tolist())
    ]
    aims = [_aim(demand.lower, demand.upper, demand.target) for demand in assembly.demands]
    one = _one_gap(assembly, inner, outer)
    if one is not None:
        return pair(
            one.internal,
            one.external,
            lows[0],
            highs[0],
            aims[0],
            one.uncertainty,
            common_uncertainty=float(common[0]),
            names=names,
        )
    return pair(
        inner.size,
        outer.size,
        lows,
        highs,
        aims,
        (inner.uncertainty, outer.uncertainty),
        common_uncertainty=common.tolist(),
        names=names,
        closures=[plain_name(demand.label) for demand in assembly.demands],
    )


def _aim(lower: float | None, upper: float | None, target: float | None) -> float | None:
    if target is not None or lower is None or upper is None:
        return target
    return (lower + upper) / 2


def _chance(one: _OneGap, common: np.ndarray, names: tuple[str, str]) -> Chance:
    if min(len(one.internal), len(one.external)) < 2:
        only = names[0] if len(one.internal) < 2 else names[1]
        raise NotEnoughData(f"only one {only} is measured; how pieces differ shows from two of each side on")
    return chance_any(
        one.internal, one.external, one.lower, one.upper, one.uncertainty, common_uncertainty=float(common[0])
    )


def _any_order(assembly: Assembly, inner: Table, outer: Table, common: np.ndarray) -> tuple[float | None, float | None]:
    """Return the chance that a pair met at random meets everything, and that a whole random order does."""
    if min(len(inner), len(outer)) < 2:
        return None, None
    limits = [limits_of(demand.lower, demand.upper) for demand in assembly.demands]
    given = inner.size, outer.size, (inner.uncertainty, outer.uncertainty), limits, common.tolist()
    return random_pair_holds(*given), any_order_holds(*given)


def _trays(assembly: Assembly, one: _OneGap | None, common: np.ndarray, scale: Scale) -> Classes:
    if one is None:
        raise TrackerError(f"trays are sorted by one gap, and these pairs must meet {assembly.name}")
    refused: TrackerError | None = None
    for number in TRAYS:
        try:
            return sorted_into(
                number,
                one.internal,
                one.external,
                one.lower,
                one.upper,
                step=scale.step,
                uncertainty=one.uncertainty,
                common_uncertainty=float(common[0]),
            )
        except TrackerError as error:
            refused = refused or error
    raise TrackerError(str(refused))


def _verdict(
    job: Job,
    assembly: Assembly,
    tables: tuple[Table, Table],
    common: np.ndarray,
    pairing: Pairing,
    chance_all: float | None,
    trays: Classes | None,
    planned: Plan | None,
    cuts: Mapping[str, NextCut],
    names: tuple[str, str],
    scale: Scale,
    unread: str,
) -> Verdict:
    inner, outer = tables
    doubt = np.sqrt(np.mean(inner.uncertainty**2, axis=0) + np.mean(outer.uncertainty**2, axis=0) + common**2)
    width = np.array([_width(demand.lower, demand.upper) for demand in assembly.demands])
    tightest = int(np.argmin(width / np.maximum(doubt, 1e-300)))
    lone = cuts.get(assembly.demands[0].name) if len(assembly.demands) == 1 else None
    found = verdict(
        internal=len(inner),
        external=len(outer),
        chance_all=_never_sure(chance_all),
        pairs_good=pairing.good,
        chance_pairs=_never_sure(pairing.chance_all),
        pairs_good_most=_pairing(assembly, inner, outer, common, names, COVERAGE * doubt).good,
        near=int(np.count_nonzero(pairing.near)),
        class_good=None if trays is None else trays.expected_good,
        class_count=None if trays is None else len(trays.labels),
        reworked=None if planned is None else planned.reworked,
        remade=None if planned is None else planned.remade,
        chance_planned=None if planned is None else _never_sure(planned.chance_made),
        unmade=0 if planned is None else planned.not_made,
        unread=unread,
        work="" if planned is None else " ".join(planned.work),
        assurance=job.assurance,
        gap_tolerance=None if math.isinf(width[tightest]) else float(width[tightest]),
        gap_uncertainty=float(doubt[tightest]),
        gap_common=float(common[tightest]),
        gap_operators=math.hypot(inner.operators[tightest], outer.operators[tightest]),
        worst_margin=pairing.worst_margin,
        target=None if lone is None else lone.cut_to,
        names=names,
        say=scale.say,
    )
    if len(assembly.demands) == 1:
        return found
    reason = f"{assembly.name} at once: {found.reason[0].lower()}{found.reason[1:]}"
    return dataclasses.replace(found, reason=reason[0].upper() + reason[1:])


def _never_sure(chance: float | None) -> float | None:
    """Return a chance computed from readings, neither all nor nothing."""
    return None if chance is None else min(max(chance, 1 - NEVER_SURE), NEVER_SURE)


def _width(lower: float | None, upper: float | None) -> float:
    return math.inf if lower is None or upper is None else upper - lower


def own_pairing(joined: Joined, name: str, *, is_fit: bool) -> Pairing:
    """Return the pairing as one fit or closure sees it: its own gaps and margins, the pairs those of the assembly."""
    if not joined.several:
        return joined.pairing
    found, column = joined.pairing, joined.column(name, is_fit=is_fit)
    demand = joined.assembly.demands[column]
    gap = joined.gaps(found.gap)[:, column]
    spread = joined.gaps(found.uncertainty)[:, column]
    low, high = limits_of(demand.lower, demand.upper)
    margin = np.maximum(np.minimum(gap - low, high - gap), 0.0)
    target = float(np.atleast_1d(found.target)[column])
    return dataclasses.replace(
        found,
        gap=gap,
        uncertainty=spread,
        margin=margin,
        worst_margin=float(margin.min()) if len(gap) else None,
        near=(COVERAGE * spread > margin) & (spread > 0),
        target=target,
        sum_of_squares=float(np.square(gap - target).sum()),
    )


def assembly_check(joined: Joined) -> AssemblyCheck:
    """Return what `Check` holds of an assembly in which a pair must meet several fits or closures."""
    pairing, (inner, outer) = joined.pairing, joined.tables
    gaps, spread = joined.gaps(pairing.gap), joined.gaps(pairing.uncertainty)
    demands = joined.assembly.demands
    names = [demand.label for demand in demands]
    pairs = tuple(
        AssemblyPair(
            internal=inner.piece[int(i)],
            external=outer.piece[int(j)],
            gaps=dict(zip(names, gaps[row].tolist())),
            uncertainty=dict(zip(names, spread[row].tolist())),
            margin=float(pairing.margin[row]),
            near=bool(pairing.near[row]),
        )
        for row, (i, j) in enumerate(zip(pairing.internal, pairing.external))
    )
    return AssemblyCheck(
        name=joined.assembly.name,
        internal=joined.names[0],
        external=joined.names[1],
        fits=tuple(demand.name for demand in demands if demand.is_fit),
        closures=tuple(demand.name for demand in demands if not demand.is_fit),
        verdict=joined.verdict,
        chance_any=joined.chance_any,
        pair_any=joined.pair_any,
        chance_pairs=pairing.chance_all,
        wanted=min(len(inner), len(outer)),
        pieces=(inner.piece, outer.piece),
        pairs=pairs,
        left_over=joined.left_over(),
        plan=joined.plan,
        reasons={key: words for key, words in joined.reasons.items() if key != "classes"},
    )
