"""One fit judged: two measured batches meet in one question, will they go together."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from tracker.decide import Shift, Verdict, plan, verdict
from tracker.decide.prices import REMAKE
from tracker.decide.words import share
from tracker.errors import NotEnoughData
from tracker.fit import Chance, Closure, Pairing, Target, best_target, chance_any, classes, closure, pair
from tracker.judge.answers import FeatureCheck, FitCheck, LeftOver, PairRow
from tracker.judge.features import Happening, attempt, combined, marks_of, shift_of
from tracker.judge.joints import press_of, seat_of
from tracker.judge.words import Scale, plain_name
from tracker.spread import Sizes

if TYPE_CHECKING:
    from tracker.job import Feature, Fit, Job

COVERAGE = 1.959963984540054
"""Standard normal deviate of a two-sided 95 % interval."""

TRAYS = 3

NEVER_SURE = 1 - 1e-9
"""The most that a chance computed from readings is said to be."""


def judge_fit(
    job: Job,
    fit: Fit,
    features: Mapping[str, FeatureCheck],
    events: Sequence[Happening],
) -> FitCheck:
    """Return the answer for one fit.

    Parameters
    ----------
    job, fit : Job, Fit
    features : mapping of str to FeatureCheck
        Both sides, judged already.
    events : sequence of Happening

    Returns
    -------
    FitCheck
    """
    inner, outer = features[fit.internal], features[fit.external]
    scale = Scale(job.unit, min(inner.step, outer.step))
    names = (plain_name(fit.internal), plain_name(fit.external))
    reasons: dict[str, str] = {}
    if inner.sizes is None or outer.sizes is None:
        return _one_sided(job, fit, inner, outer, scale, names)
    a, b = inner.sizes, outer.sizes
    uncertainty = (a.uncertainty, b.uncertainty)
    common = combined(a.common_uncertainty, b.common_uncertainty)

    def any_order() -> Chance:
        if min(len(a), len(b)) < 2:
            only = names[0] if len(a) < 2 else names[1]
            raise NotEnoughData(f"only one {only} is measured; how pieces differ shows from two of each side on")
        return chance_any(a.size, b.size, fit.gap_lower, fit.gap_upper, uncertainty, common_uncertainty=common)

    chance = attempt(reasons, "chance", any_order)
    pairing = pair(
        a.size, b.size, fit.gap_lower, fit.gap_upper, fit.aim, uncertainty, common_uncertainty=common, names=names
    )
    trays = attempt(
        reasons, "classes", lambda: classes(a.size, b.size, fit.gap_lower, fit.gap_upper, TRAYS, step=scale.step)
    )
    if "classes" in reasons:  # the word of the shop for it, and no name of an argument
        reasons["classes"] = reasons["classes"].removeprefix("count: ").replace("classes", "trays")
    cut_next = _cut_next(job, fit)
    target, cut_to, shift = _next_cut(job, fit, inner, outer, cut_next, events, scale, reasons)
    costs = _costs(job, fit)
    planned = attempt(
        reasons,
        "plan",
        lambda: plan(
            a.size,
            b.size,
            fit.gap_lower,
            fit.gap_upper,
            costs,
            target=fit.target,
            uncertainty=uncertainty,
            common_uncertainty=common,
            make_sd=_make_sd(fit, cut_next, shift),
            increment=job.features[cut_next].machine.increment,
            assurance=job.assurance,
            most_risk=1 - job.assurance,
            names=names,
            labels=(a.piece, b.piece),
            rework_word="regrind" if job.features[cut_next].machine.tool == "wheel" else "rework",
            say=scale.say,
        ),
    )
    word = verdict(
        internal=len(a),
        external=len(b),
        chance_all=None if chance is None else min(chance.all_measured, NEVER_SURE),
        pairs_good=pairing.good,
        chance_pairs=None if pairing.chance_all is None else min(pairing.chance_all, NEVER_SURE),
        pairs_good_most=_good_at_most(fit, a, b, common),
        near=int(np.count_nonzero(pairing.near)),
        class_good=None if trays is None else trays.expected_good,
        class_count=None if trays is None else TRAYS,
        reworked=None if planned is None else planned.reworked,
        remade=None if planned is None else planned.remade,
        work="" if planned is None else " ".join(planned.work),
        assurance=job.assurance,
        gap_tolerance=None if fit.gap_lower is None or fit.gap_upper is None else fit.gap_upper - fit.gap_lower,
        gap_uncertainty=_gap_uncertainty(a, b, common),
        gap_common=common,
        worst_margin=pairing.worst_margin,
        target=cut_to,
        names=names,
        say=scale.say,
    )
    return FitCheck(
        name=fit.name,
        internal=fit.internal,
        external=fit.external,
        gap_lower=fit.gap_lower,
        gap_upper=fit.gap_upper,
        target=fit.aim,
        mean_gap=float(a.size.mean() - b.size.mean()),
        verdict=word,
        chance=chance,
        from_drawing=None,
        pairing=pairing,
        pairs=_pair_rows(pairing, a, b),
        left_over=_left_over(fit, pairing, a, b),
        classes=trays,
        best_target=target,
        cut_next=cut_next,
        cut_to=cut_to,
        shift=shift,
        plan=planned,
        press=attempt(reasons, "press", lambda: press_of(job, fit, pairing.gap))
        if fit.press and pairing.good
        else None,
        seat=attempt(reasons, "seat", lambda: seat_of(job, fit)) if fit.seat else None,
        reasons=reasons,
    )


def _one_sided(
    job: Job, fit: Fit, inner: FeatureCheck, outer: FeatureCheck, scale: Scale, names: tuple[str, str]
) -> FitCheck:
    """Return the answer when a side has no readings: the target for the part not made yet."""
    reasons: dict[str, str] = {}
    measured, missing = (inner, outer) if outer.sizes is None else (outer, inner)
    target, cut_to = None, None
    found = measured.sizes
    if found is not None:
        target = attempt(reasons, "best_target", lambda: _target(job, fit, found, None, missing.name))
        cut_to = _cut_to(fit, found, target, missing.name)
    for item in (inner, outer):
        if item.sizes is None:
            reasons[item.name] = item.reasons.get("sizes", f"{item.name} has no readings")
    drawn = attempt(reasons, "from_drawing", lambda: _from_drawing(job, fit, inner, outer))
    word = verdict(
        internal=0 if inner.sizes is None else len(inner.sizes),
        external=0 if outer.sizes is None else len(outer.sizes),
        assurance=job.assurance,
        target=cut_to,
        drawing="" if drawn is None else drawing_words(drawn),
        names=names,
        say=scale.say,
    )
    return FitCheck(
        name=fit.name,
        internal=fit.internal,
        external=fit.external,
        gap_lower=fit.gap_lower,
        gap_upper=fit.gap_upper,
        target=fit.aim,
        mean_gap=None,
        verdict=word,
        chance=None,
        from_drawing=drawn,
        pairing=None,
        pairs=(),
        left_over=(),
        classes=None,
        best_target=target,
        cut_next=missing.name if measured.sizes is not None else None,
        cut_to=cut_to,
        shift=None,
        plan=None,
        reasons=reasons,
    )


def _from_drawing(job: Job, fit: Fit, inner: FeatureCheck, outer: FeatureCheck) -> Closure:
    """Return the gap with the drawing's limits in place of what is not measured, spread over six sd (rule of thumb)."""
    terms: dict[str, tuple[float, object]] = {}
    for factor, item in ((1.0, inner), (-1.0, outer)):
        feature = job.features[item.name]
        if item.sizes is not None and len(item.sizes) > 1:
            terms[item.name] = (factor, item.sizes.size)
        elif feature.lower is None or feature.upper is None:
            raise NotEnoughData(f"{item.name} has no limits of size to reckon with; give lower and upper in job.toml")
        else:
            terms[item.name] = (factor, ((feature.lower + feature.upper) / 2, feature.lower, feature.upper))
    return closure(terms, fit.gap_lower, fit.gap_upper)


def drawing_words(drawn: Closure) -> str:
    """Return what the drawing says of a fit, with the assumption it rests on."""
    return (
        f"With the drawing for what is not measured (sizes about the middle of their limits, which are six standard"
        f" deviations apart: a rule of thumb) a pair is good with {share(drawn.chance)} chance."
    )


def _cut_next(job: Job, fit: Fit) -> str:
    """Return the side that is cut to suit the other: the external one, unless only the internal can be remade."""
    remake = job.costs.remake
    if fit.internal in remake and fit.external not in remake:
        return fit.internal
    return fit.external


def _next_cut(
    job: Job,
    fit: Fit,
    inner: FeatureCheck,
    outer: FeatureCheck,
    cut_next: str,
    events: Sequence[Happening],
    scale: Scale,
    reasons: dict[str, str],
) -> tuple[Target | None, float | None, Shift | None]:
    """Return the best target, the size the mating part is to be cut to, and the shift that brings it there."""
    own, mates = (outer, inner) if cut_next == fit.external else (inner, outer)
    if own.sizes is None or mates.sizes is None:
        raise NotEnoughData("both sides must be measured before the next cut can be judged")
    own_sizes, mate_sizes = own.sizes, mates.sizes
    target = attempt(reasons, "best_target", lambda: _target(job, fit, mate_sizes, own_sizes, cut_next))
    cut_to = _cut_to(fit, mate_sizes, target, cut_next)
    if cut_to is None:
        return target, None, None
    low, high = size_limits(fit, float(mate_sizes.size.mean()), cut_next)
    mate_sd = float(mate_sizes.size.std(ddof=1)) if len(mate_sizes) > 1 else 0.0
    shift = attempt(
        reasons,
        "shift",
        lambda: shift_of(
            job.features[cut_next],
            own_sizes,
            marks_of(cut_next, events, own_sizes),
            scale,
            target=cut_to,
            lower=low,
            upper=high,
            target_uncertainty=combined(mate_sd / math.sqrt(len(mate_sizes)), mate_sizes.common_uncertainty),
        ),
    )
    return target, cut_to, shift


def _cut_to(fit: Fit, mates: Sizes, target: Target | None, side: str) -> float | None:
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


def _target(job: Job, fit: Fit, mates: Sizes, own: Sizes | None, side: str) -> Target:
    several = own is not None and len(own) > 1
    return best_target(
        mates.size,
        _spread_of(job.features[side], own),
        fit.gap_lower,
        fit.gap_upper,
        side="external" if side == fit.external else "internal",
        uncertainty=mates.uncertainty,
        common_uncertainty=mates.common_uncertainty,
        sd_pieces=len(own) if several and own is not None else None,
    )


def _spread_of(feature: Feature, own: Sizes | None) -> float:
    """Return the spread to expect of a part: as measured, else a sixth of its tolerance (common practice)."""
    if own is not None and len(own) > 1:
        measured = float(own.size.std(ddof=1))
        return max(measured, 1e-12 * abs(feature.nominal))
    if feature.lower is None or feature.upper is None:
        raise NotEnoughData(
            f"the spread of {feature.name} is not known: measure two pieces, or give lower and upper in job.toml"
        )
    return (feature.upper - feature.lower) / 6


def _make_sd(fit: Fit, cut_next: str, shift: Shift | None) -> dict[str, float] | None:
    """Return the spread of pieces made next: that of the process between events, which an event does not widen."""
    if shift is None or shift.sd <= 0:
        return None
    return {"external" if cut_next == fit.external else "internal": shift.sd}


def _typical(found: Sizes) -> float:
    """Return one standard uncertainty for all pieces: the root mean square."""
    return float(np.sqrt(np.mean(np.square(found.uncertainty))))


def _gap_uncertainty(a: Sizes, b: Sizes, common: float) -> float:
    return combined(_typical(a), _typical(b), common)


def _good_at_most(fit: Fit, a: Sizes, b: Sizes, common: float) -> int:
    """Return how many pairs could be good if the limits were wider by the gauge's 95 % uncertainty."""
    widened = COVERAGE * _gap_uncertainty(a, b, common)
    low = None if fit.gap_lower is None else fit.gap_lower - widened
    high = None if fit.gap_upper is None else fit.gap_upper + widened
    return pair(a.size, b.size, low, high, fit.aim).good


def _costs(job: Job, fit: Fit) -> dict[str, object]:
    """Return the job's costs by side, as `plan` takes them.

    What was not stated is left out; but when no cost of remaking is, the side that is cut to suit is the one remade.
    """
    sides = {"internal": fit.internal, "external": fit.external}
    costs: dict[str, object] = {}
    if job.costs.press is not None:
        costs["press"] = job.costs.press
    if job.costs.spoiled_assembly is not None:
        costs["spoiled_assembly"] = job.costs.spoiled_assembly
    for kind in ("rework", "remake"):
        stated = getattr(job.costs, kind)
        by_side = {side: stated[name] for side, name in sides.items() if name in stated}
        if by_side or stated:
            costs[kind] = by_side
    if not job.costs.remake:
        costs["remake"] = {"external" if _cut_next(job, fit) == fit.external else "internal": REMAKE}
    return costs


def _pair_rows(pairing: Pairing, a: Sizes, b: Sizes) -> tuple[PairRow, ...]:
    spread = np.atleast_1d(pairing.uncertainty)
    return tuple(
        PairRow(
            internal=a.piece[int(i)],
            external=b.piece[int(j)],
            internal_size=float(a.size[int(i)]),
            external_size=float(b.size[int(j)]),
            gap=float(pairing.gap[row]),
            margin=float(pairing.margin[row]),
            uncertainty=float(spread[row]),
            near=bool(pairing.near[row]),
        )
        for row, (i, j) in enumerate(zip(pairing.internal, pairing.external))
    )


def _left_over(fit: Fit, pairing: Pairing, a: Sizes, b: Sizes) -> tuple[LeftOver, ...]:
    found = []
    for feature, sizes, left, why in (
        (fit.internal, a, pairing.left_internal, pairing.why_left_internal),
        (fit.external, b, pairing.left_external, pairing.why_left_external),
    ):
        found += [
            LeftOver(feature=feature, piece=sizes.piece[int(index)], why=words) for index, words in zip(left, why)
        ]
    return tuple(found)


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """Return the verdict that holds the whole job up the most; the first of several."""
    order = ("cannot say", "measure better", "remake", "rework", "sort", "pair", "press as they come")
    return min(verdicts, key=lambda item: order.index(item.word))
