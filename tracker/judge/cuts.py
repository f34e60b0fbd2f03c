"""The next cut of a fit: which side is cut to suit the other, to what size, and the shift that brings it there."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tracker.decide import Plan, Shift
from tracker.decide.machine import in_steps, machine_offset
from tracker.decide.plan_results import NEW_PIECES
from tracker.decide.words import plural
from tracker.errors import NotEnoughData
from tracker.fit import Target, best_target
from tracker.judge.answers import FeatureCheck, PlannedCut
from tracker.judge.features import attempt, combined, known_marks, settled, shift_of
from tracker.judge.misses import misses_of
from tracker.judge.words import Scale, plain_name

if TYPE_CHECKING:
    from tracker.job import Feature, Fit, Job
    from tracker.spread import Sizes


@dataclass(frozen=True, slots=True, kw_only=True)
class NextCut:
    """The side (a feature) that is cut next, what it is cut to, and the shift; ``reasons`` for what cannot be said."""

    side: str
    target: Target | None
    cut_to: float | None
    shift: Shift | None
    reasons: Mapping[str, str]


def next_cut(job: Job, fit: Fit, features: Mapping[str, FeatureCheck]) -> NextCut:
    """Return the best target, the size the mating part is to be cut to, and the shift that brings it there.

    Parameters
    ----------
    job, fit : Job, Fit
    features : mapping of str to FeatureCheck
        Judged already; both sides measured.

    Raises
    ------
    NotEnoughData
        If a side is not measured.
    """
    reasons: dict[str, str] = {}
    inner, outer = features[fit.internal], features[fit.external]
    scale = Scale(job.unit, min(inner.step, outer.step))
    side = side_to_cut(job, fit)
    own, mates = (outer, inner) if side == fit.external else (inner, outer)
    if own.sizes is None or mates.sizes is None:
        raise NotEnoughData("both sides must be measured before the next cut can be judged")
    own_sizes, mate_sizes = own.sizes, mates.sizes
    target = attempt(reasons, "best_target", lambda: target_of(job, fit, mate_sizes, own_sizes, side))
    cut_to = cut_to_suit(fit, mate_sizes, target, side)
    if cut_to is None:
        return NextCut(side=side, target=target, cut_to=None, shift=None, reasons=reasons)
    low, high = size_limits(fit, float(mate_sizes.size.mean()), side)
    mate_sd = float(mate_sizes.size.std(ddof=1)) if len(mate_sizes) > 1 else 0.0
    shift = attempt(
        reasons,
        "shift",
        lambda: shift_of(
            job,
            job.features[side],
            settled(own_sizes, own.wear, scale),
            known_marks(own.marks),
            scale,
            target=cut_to,
            lower=low,
            upper=high,
            costs_in_target=fit.target is None,
            within=f"suit {a_mate(mates.name)} of mean size",
            target_uncertainty=combined(mate_sd / math.sqrt(len(mate_sizes)), mate_sizes.common_uncertainty),
        ),
    )
    return NextCut(side=side, target=target, cut_to=cut_to, shift=shift, reasons=reasons)


def planned_cuts(
    feature: Feature, shift: Shift | None, plan: Plan | None, gap: int, side: str, scale: Scale
) -> tuple[PlannedCut, ...]:
    """Return the new pieces of a plan as they are cut at the machine, one for each size.

    Parameters
    ----------
    feature : Feature
        What is cut.
    shift : Shift or None
        Of that feature: from it the size that the next piece would come out at.
    plan : Plan or None
    gap, side : int and str
        Where the feature stands in the plan: the number of the gap, and ``internal`` or ``external``.
    scale : Scale
    """
    if shift is None or plan is None:
        return ()
    sizes = Counter(
        cut.size
        for pair in plan.pairs
        if pair.way in NEW_PIECES
        for cut in pair.cuts
        if (cut.gap, cut.side) == (gap, side)
    )
    machine, found = feature.machine, []
    whole = machine.offset_on == "diameter" or feature.kind == "length"
    across = "length" if feature.kind == "length" else "diameter" if whole else "radius"
    for size, pieces in sorted(sizes.items()):
        change = size - (shift.target + shift.bias.estimate + shift.slope)
        offset = machine_offset(change, diameter=whole, plus_makes=machine.plus_makes)
        offset = offset if machine.increment is None else in_steps(offset, machine.increment)
        new = f"the new {plain_name(feature.name) if pieces == 1 else plural(plain_name(feature.name))} of the plan"
        words = f"For {new}, to {scale.size(size)} {scale.unit}: "
        number = f"{'+' if offset > 0 else '-'}{scale.entered(abs(offset), machine.increment)} {scale.unit}"
        words += f"enter {number} on the {across}, from how it stands now." if offset else "as the machine stands now."
        found.append(PlannedCut(pieces=pieces, size=size, change=change, offset=offset, words=words))
    return tuple(found)


def a_mate(name: str) -> str:
    """Return a feature's name with its article."""
    word = plain_name(name)
    return f"{'an' if word[:1].lower() in 'aeiou' else 'a'} {word}"


def beyond_drawing(feature: Feature, cut_to: float | None, scale: Scale, mates: str) -> str | None:
    """Return a remark when the size that suits the mates lies outside the part's own limits on the drawing."""
    if cut_to is None:
        return None
    for limit, side in ((feature.lower, "under the lower"), (feature.upper, "over the upper")):
        away = 0.0 if limit is None else (limit - cut_to if side.startswith("under") else cut_to - limit)
        if limit is not None and away > scale.step / 10:
            return (
                f"{plain_name(feature.name)}: the size that suits the {plain_name(mates)} as measured,"
                f" {scale.size(cut_to)} {scale.unit}, is {scale.say(away)} {side} limit of its drawing"
                f" ({scale.size(limit)}); ask before cutting outside the drawing"
            )
    return None


def side_to_cut(job: Job, fit: Fit) -> str:
    """Return the side that is cut to suit the other: the external one, unless only the internal can be remade."""
    remake = job.costs.remake
    if fit.internal in remake and fit.external not in remake:
        return fit.internal
    return fit.external


def cut_to_suit(fit: Fit, mates: Sizes, target: Target | None, side: str) -> float | None:
    """Return the size that suits the mates: by the gap the job aims at, else the best target."""
    if fit.target is not None:
        gap = -fit.target if side == fit.external else fit.target
        return float(mates.size.mean()) + gap
    return None if target is None else target.target


def size_limits(fit: Fit, mate: float, side: str) -> tuple[float | None, float | None]:
    """Return the limits of size that the gap limits leave a part when its mate has the size ``mate``."""
    if side == fit.external:
        return (
            None if fit.gap_upper is None else mate - fit.gap_upper,
            None if fit.gap_lower is None else mate - fit.gap_lower,
        )
    return (
        None if fit.gap_lower is None else mate + fit.gap_lower,
        None if fit.gap_upper is None else mate + fit.gap_upper,
    )


def target_of(job: Job, fit: Fit, mates: Sizes, own: Sizes | None, side: str) -> Target:
    """Return the best target of a part for its measured mates; ``own`` are its sizes so far, None before any."""
    several = own is not None and len(own) > 1
    misses = misses_of(job, job.features[side])
    spread = _spread_of(job.features[side], own)

    def best(under: float, over: float) -> Target:
        tight, loose = (over, under) if side == fit.external else (under, over)
        return best_target(
            mates.size,
            spread,
            fit.gap_lower,
            fit.gap_upper,
            side="external" if side == fit.external else "internal",
            cost_tight=tight,
            cost_loose=loose,
            uncertainty=mates.uncertainty,
            common_uncertainty=mates.common_uncertainty,
            sd_pieces=len(own) if several and own is not None else None,
        )

    found = best(misses.under, misses.over)
    if not (misses.again and misses.leans):
        return found
    # What is cut once more may miss once more: a miss costs that too, on either side (see cost_until_good).
    more = float(np.min(found.curve_cost / np.maximum(found.curve_good, 1e-9)))
    return best(misses.under + more, misses.over + more)


def _spread_of(feature: Feature, own: Sizes | None) -> float:
    """Return the spread to expect of a part: measured, stated, else a sixth of its tolerance (common practice)."""
    if own is not None and len(own) > 1:
        measured = float(own.size.std(ddof=1))
        return max(measured, 1e-12 * abs(feature.nominal))
    stated = spread_stated(feature)
    if stated is None:
        raise NotEnoughData(
            f"the spread of {feature.name} is not known: measure two pieces, or give spread, or lower and upper, in"
            " job.toml"
        )
    return stated


def spread_stated(feature: Feature) -> float | None:
    """Return the spread that the job states, else a sixth of the tolerance (common practice); None without either."""
    if feature.spread is not None or feature.lower is None or feature.upper is None:
        return feature.spread
    return (feature.upper - feature.lower) / 6
